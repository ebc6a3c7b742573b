"""Morse, teleprinter, PSK31 and multi-tone signals against documents, closed forms and scipy."""

from itertools import pairwise

import numpy as np
import pytest
import scipy.linalg
import scipy.signal

from solidcopy.impairments.added.carrier import Carrier
from solidcopy.impairments.added.clicks import ClickBand, hard_keyed
from solidcopy.impairments.added.morse import MorseKeying, edge_times
from solidcopy.impairments.added.multi_tone import MultiTone, shaped_symbols
from solidcopy.impairments.added.psk31 import Psk31, reversing_amplitude
from solidcopy.impairments.added.teleprinter import Teleprinter
from solidcopy.impairments.added.walsh_blocks import scrambling, tones_of, walsh_signs
from solidcopy.impairments.impairment import Scene
from solidcopy.modes.plain_text import ita2
from solidcopy.modes.plain_text.varicode import CODE, bits_of

PLACE = {"audio_hz": 1500.0, "signal_to_interference_db": 0.0}


def generator(seed=4):
    return np.random.Generator(np.random.PCG64DXSM(seed))


def scene(rate_hz=8_000, duration_s=60.0):
    return Scene(rate_hz, round(rate_hz * duration_s), 1500.0, 50.0)


def occupied_width_hz(frequency_hz, density):
    """RR No. 1.153: outside it 0.5 % of the power on each side (from memory)."""
    below = np.cumsum(density) / density.sum()
    ends = np.interp([0.005, 0.995], below, frequency_hz)
    return ends[1] - ends[0]


def spectrum_of(samples, rate_hz=8_000, n_segment=16_384):
    """scipy's Welch estimate."""
    return scipy.signal.welch(samples, rate_hz, window="hann", nperseg=n_segment, detrend=False)


def hann_transform(frequency_hz, symbol_s):
    """Transform of (1 + cos(pi t / T)) / 2 over -T..T (textbook): T sinc(2 f T) / (1 - (2fT)^2)."""
    into = 2.0 * frequency_hz * symbol_s
    near = np.abs(np.abs(into) - 1.0) < 1e-6
    safe = np.where(near, 0.5, into)
    return symbol_s * np.where(near, 0.5, np.sinc(safe) / (1.0 - safe**2))


# -- Morse ----------------------------------------------------------------------------------


@pytest.mark.authority
@pytest.mark.parametrize("speed_wpm", [12.0, 20.0, 37.0])
@pytest.mark.parametrize("edge_ms", [0.0, 5.0])
def test_dots_dashes_and_gaps_in_the_sound(speed_wpm, edge_ms):
    """ITU-R M.1677-1 (FACTS F1): dash 3, gaps 1, 3 and 7 dots of 1.2 s / speed; read from the
    envelope (scipy's Hilbert transform) at half its height."""
    rate_hz = 48_000
    keying = MorseKeying(text="AN E", speed_wpm=speed_wpm, edge_ms=edge_ms)
    made = Carrier(**PLACE, keying=keying).synthesise(scene(rate_hz, 12.0), generator())
    envelope = np.abs(scipy.signal.hilbert(made.samples))[2_400:-2_400]
    above = (envelope > 0.5).astype(int)
    lengths_s = np.diff(np.flatnonzero(np.diff(above))) / rate_hz
    units = lengths_s * speed_wpm / 1.2
    assert units == pytest.approx(np.round(units), abs=0.02)
    sent = np.round(units).astype(int).tolist()
    # A = dot dash, N = dash dot, E = dot, from the first dot of A on, over and over.
    period = [1, 1, 3, 3, 3, 1, 1, 7, 1, 7]
    first_up = sent if above[np.flatnonzero(np.diff(above))[0] + 1] else sent[1:]
    turns = [period[k:] + period[:k] for k in range(0, 10, 2)]
    assert any(first_up[:10] == turn for turn in turns)


@pytest.mark.derived
def test_lines_of_hard_keying_are_those_of_a_rectangle():
    """PARIS at 20 wpm repeats every 3 s: the envelope's line n is the sum of the edges,
    +-exp(-j 2 pi n t / 3 s) / (j 2 pi n); within the passband of the clicks and nowhere beyond."""
    rate_hz, carrier_hz, period_s = 12_000, 1500.0, 3.0
    units, _ = edge_times("PARIS")
    edges_s = np.concatenate([units * 0.06 + period_s * k for k in range(-2, 4)]) - 0.011
    band = ClickBand().band_about(carrier_hz, sample_rate_hz=rate_hz)
    envelope = hard_keyed(
        edges_s, band, carrier_hz=carrier_hz, n_samples=3 * rate_hz, sample_rate_hz=rate_hz
    )
    lines = np.fft.fft(envelope) / envelope.size
    n = np.rint(np.fft.fftfreq(envelope.size, 1 / rate_hz) * period_s)
    distance_hz = n / period_s
    one_round_s = units * 0.06 - 0.011
    signs = np.where(np.arange(one_round_s.size) % 2 == 0, 1.0, -1.0)
    inside = (distance_hz > -1190.0) & (distance_hz < 1290.0) & (n != 0)
    turned = np.exp(-2j * np.pi * np.outer(n[inside], one_round_s) / period_s)
    expected = turned @ signs / (2j * np.pi * n[inside])
    assert np.abs(lines[inside] - expected).max() < 2e-3 * np.abs(expected).max()
    assert np.abs(lines[inside] - expected).max() < 0.1 * np.abs(expected).mean()
    outside = (distance_hz < -1410.0) | (distance_hz > 1510.0)
    assert np.abs(lines[outside]).max() < 1e-3 * np.abs(expected).mean()


@pytest.mark.derived
def test_clicks_of_hard_keying_fall_by_6_db_an_octave():
    """The power of a jump's spectrum goes as 1 / f^2: a quarter in the next octave's density,
    from several times the keying speed (21 Bd) on."""
    keying = MorseKeying(text="random", speed_wpm=25.0, edge_ms=0.0)
    rate_hz, carrier_hz = 12_000, 3000.0
    band = ClickBand(low_hz=200.0, high_hz=5800.0).band_about(carrier_hz, sample_rate_hz=rate_hz)
    envelope = hard_keyed(
        keying.edges_s(duration_s=120.0, generator=generator()),
        band,
        carrier_hz=carrier_hz,
        n_samples=120 * rate_hz,
        sample_rate_hz=rate_hz,
    )
    frequency_hz, density = scipy.signal.welch(
        envelope, rate_hz, nperseg=8_192, detrend=False, return_onesided=False
    )
    ends_hz = 150.0 * 2.0 ** np.arange(5)
    levels = [
        density[(np.abs(frequency_hz) >= low) & (np.abs(frequency_hz) < high)].mean()
        for low, high in pairwise(ends_hz)
    ]
    slopes_db = 10.0 * np.log10(np.array(levels[1:]) / levels[:-1])
    assert slopes_db == pytest.approx(-6.02, abs=0.35)
    # n edges a second, each of density 1 / (2 pi f)^2, at random against each other.
    edges_per_s = keying.edges_s(duration_s=120.0, generator=generator())
    rate_per_s = np.count_nonzero((edges_per_s > 0.0) & (edges_per_s < 120.0)) / 120.0
    high = (np.abs(frequency_hz) > 600.0) & (np.abs(frequency_hz) < 2400.0)
    flat = density[high] * (2.0 * np.pi * frequency_hz[high]) ** 2
    assert flat.mean() == pytest.approx(rate_per_s, rel=0.03)


# -- teleprinter ----------------------------------------------------------------------------


@pytest.mark.authority
def test_combinations_of_itu_t_s1():
    """FACTS F2: letters, shifts, CR, LF, blank and null are a permutation of 0 to 31 (verified);
    of its values (from memory) some as there; "RY" alternates: R and Y are each other's
    complement, 01010 and 10101 in the order of sending."""
    values = [*ita2.LETTERS.values(), *ita2.EITHER.values(), ita2.TO_LETTERS, ita2.TO_FIGURES, 0]
    assert sorted(values) == list(range(32))
    assert {letter: ita2.LETTERS[letter] for letter in "AEHQTZ"} == {
        "A": 3, "E": 1, "H": 0x14, "Q": 0x17, "T": 0x10, "Z": 0x11,
    }  # fmt: skip
    r, y = ita2.elements_of(ita2.combinations_of("RY")[1:]).astype(int)
    assert r.tolist() == [0, 1, 0, 1, 0]
    assert (r + y).tolist() == [1] * 5
    # Each figure has a letter of its own.
    assert len(set(ita2.FIGURES.values())) == len(ita2.FIGURES)


@pytest.mark.authority
def test_digits_lie_on_the_upper_row():
    """Common knowledge of that trade's keyboards: Q to P of the upper row carry 1 to 9 and 0."""
    assert "".join(ita2.FIGURES[digit] for digit in "1234567890") == "QWERTYUIOP"


@pytest.mark.authority
def test_a_character_lasts_165_ms():
    """FACTS F2: 22.0 ms an element, 7.5 of them: 165 ms, 6.06 characters a second."""
    printer = Teleprinter(**PLACE)
    is_mark, lengths_s = printer.elements("E" * 10)
    assert lengths_s[0] * 1000.0 == pytest.approx(22.0, abs=0.005)
    character_s = lengths_s.sum() / 11  # with "letters" before them
    assert character_s * 1000.0 == pytest.approx(165.0, abs=0.03)
    assert 1.0 / character_s == pytest.approx(6.06, abs=0.005)
    starts, stops = is_mark.reshape(-1, 7)[:, 0], is_mark.reshape(-1, 7)[:, -1]
    assert not starts.any()  # start = space, stop = mark (FACTS F2, from memory)
    assert stops.all()


def printed(samples, rate_hz, *, middle_hz, speed_bd, stop_elements):
    """A receiver of its own: frequency by scipy's Hilbert transform, start-stop by its rules."""
    phase = np.unwrap(np.angle(scipy.signal.hilbert(samples)))
    half = round(0.25 * rate_hz / speed_bd)
    frequency_hz = (phase[2 * half :] - phase[: -2 * half]) * rate_hz / (4.0 * np.pi * half)
    is_mark = np.concatenate([np.ones(half), frequency_hz < middle_hz, np.ones(half)]) > 0.5
    element = rate_hz / speed_bd
    values, now = [], 0
    while True:
        start = now + int(np.argmin(is_mark[now:]))
        if is_mark[start]:
            return values
        middles = np.rint(start + element * (np.arange(7) + 0.5)).astype(int)
        if middles[-1] >= is_mark.size:
            return values
        read = is_mark[middles]
        if read[0] or not read[6]:
            now = start + 1
            continue
        values.append(int(read[1:6] @ (1 << np.arange(5))))
        now = int(start + element * (6 + 0.8 * stop_elements))


@pytest.mark.authority
@pytest.mark.parametrize(
    ("speed_bd", "shift_hz", "stop_elements"),
    [(45.45, 170.0, 1.5), (50.0, 425.0, 1.0), (75.0, 850.0, 2.0)],
)
@pytest.mark.parametrize("rate_hz", [8_000, 12_000, 48_000])
def test_a_start_stop_receiver_prints_the_text(speed_bd, shift_hz, stop_elements, rate_hz):
    """ITU-T S.1 by FACTS F2: start, five elements with the lowest first, stop; two cases."""
    text = "THE QUICK BROWN FOX DE Q1ABC 73 599"
    printer = Teleprinter(
        **PLACE, speed_bd=speed_bd, shift_hz=shift_hz, stop_elements=stop_elements, text=text
    )
    made = printer.synthesise(scene(rate_hz, 20.0), generator())
    values = printed(
        made.samples, rate_hz, middle_hz=1500.0, speed_bd=speed_bd, stop_elements=stop_elements
    )
    letters = {value: letter for letter, value in {**ita2.LETTERS, **ita2.EITHER}.items()}
    figures = {ita2.LETTERS[letter]: figure for figure, letter in ita2.FIGURES.items()}
    page, shift = "", letters
    for value in values:
        if value in (ita2.TO_LETTERS, ita2.TO_FIGURES):
            shift = letters if value == ita2.TO_LETTERS else figures
        else:
            page += shift.get(value, letters.get(value, "_"))
    assert f" {text} " in page


@pytest.mark.authority
def test_tones_at_2125_and_2295_hz():
    """FACTS F2: mark 2125, space 2295 Hz in the audio; peaks of scipy's Welch estimate."""
    printer = Teleprinter(audio_hz=2210.0, signal_to_interference_db=0.0)
    samples = printer.synthesise(scene(duration_s=120.0), generator()).samples
    frequency_hz, density = spectrum_of(samples, n_segment=2_048)
    lower = frequency_hz < 2210.0
    peaks = [frequency_hz[part][np.argmax(density[part])] for part in (lower, ~lower)]
    assert peaks == pytest.approx([2125.0, 2295.0], abs=6.0)
    steps = np.abs(np.diff(printer.baseband(scene(), generator())))
    # Continuous phase: no step is longer than that of a tone.
    assert steps.max() <= 2.0 * np.sin(np.pi * 85.0 / 8_000) + 1e-9


@pytest.mark.authority
@pytest.mark.parametrize(("speed_bd", "shift_hz"), [(45.45, 170.0), (50.0, 425.0), (75.0, 850.0)])
def test_width_is_within_the_necessary_bandwidth(speed_bd, shift_hz):
    """ITU-R SM.1138 (from memory): 2 M + 2 D K with M = speed / 2, D = half the shift and K
    typically 1.2; its example of 100 Bd and D = 85 Hz gives 304 Hz. Nearly filled."""
    assert 2.0 * 50.0 + 2.0 * 85.0 * 1.2 == 304.0
    printer = Teleprinter(**PLACE, speed_bd=speed_bd, shift_hz=shift_hz)
    frequency_hz, density = spectrum_of(printer.synthesise(scene(), generator()).samples)
    width_hz = occupied_width_hz(frequency_hz, density)
    necessary_hz = speed_bd + 1.2 * shift_hz
    assert 0.85 * necessary_hz < width_hz < 1.05 * necessary_hz


# -- PSK31 ----------------------------------------------------------------------------------


@pytest.mark.authority
def test_alphabet_keeps_its_rule_and_is_the_known_set():
    """FACTS F3: begins and ends with 1, no "00" inside, 128 distinct; all 88 of length up to 9
    and the 40 numerically lowest of length 10; blank 1, e 11, t 101."""
    codes = list(CODE.values())
    assert len(CODE) == len(set(codes)) == 128
    assert all(code[0] == code[-1] == "1" and "00" not in code for code in codes)

    def possible(length):
        numbers = (f"{number:b}" for number in range(1 << (length - 1), 1 << length))
        return [one for one in numbers if one.endswith("1") and "00" not in one]

    short = [code for length in range(1, 10) for code in possible(length)]
    assert len(short) == 88
    assert set(codes) == {*short, *possible(10)[:40]}
    assert (CODE[" "], CODE["e"], CODE["t"]) == ("1", "11", "101")
    # With its gap no code begins another.
    assert not any(
        one != other and (other + "00").startswith(one + "00") for one in codes for other in codes
    )


@pytest.mark.authority
def test_common_letters_are_short():
    """The alphabet is made for English: its letters by frequency (Lewand's table, from memory)
    e t a o i n have at most four bits, q j x z at least eight."""
    assert max(len(CODE[letter]) for letter in "etaoin") <= 4
    assert min(len(CODE[letter]) for letter in "qjxz") >= 8


@pytest.mark.authority
def test_continuous_reversals_are_two_tones():
    """FACTS F3: at +-15.625 Hz, 31.25 Hz apart, and nothing else."""
    slot = scene(8_000, 8.192)  # 256 symbols of 256 samples
    amplitude = reversing_amplitude(np.zeros(300, dtype=bool), slot, start_symbols=0.3)
    lines = np.abs(np.fft.fft(amplitude)) / amplitude.size
    frequency_hz = np.fft.fftfreq(amplitude.size, 1 / 8_000)
    assert frequency_hz[lines > 1e-9].tolist() == [15.625, -15.625]
    assert lines.max() == pytest.approx(0.5)


@pytest.mark.authority
def test_width_of_random_data_is_44_hz_and_peaks_are_1_25_db():
    """FACTS F3 (derived there): 99 % in 44 Hz; peak envelope over mean power 1.25 dB."""
    bits = generator().integers(2, size=20_000).astype(bool)
    amplitude = reversing_amplitude(bits, scene(1_000, 600.0), start_symbols=0.5)
    frequency_hz, density = scipy.signal.welch(
        amplitude.astype(complex), 1_000, nperseg=4_096, detrend=False, return_onesided=False
    )
    order = np.argsort(frequency_hz)
    width_hz = occupied_width_hz(frequency_hz[order], density[order])
    assert width_hz == pytest.approx(44.0, abs=1.0)
    assert -10.0 * np.log10(np.mean(amplitude**2)) == pytest.approx(1.25, abs=0.03)
    # The whole spectrum is that of one pulse: |P(f)|^2 / T.
    expected = hann_transform(frequency_hz, 1 / 31.25) ** 2 * 31.25
    near = np.abs(frequency_hz) < 25.0
    assert density[near] == pytest.approx(expected[near], rel=0.35)
    assert density[near].sum() == pytest.approx(expected[near].sum(), rel=0.01)


@pytest.mark.authority
@pytest.mark.parametrize("rate_hz", [8_000, 12_000, 48_000])
def test_a_differential_receiver_reads_the_text(rate_hz):
    """FACTS F3: 31.25 Bd, 0 = reversal, 1 = none, "00" between characters. A receiver of its
    own: the Hilbert transform's phase at the middles of symbols, where the envelope is largest."""
    text = "CQ de Q1ABC, the sea is calm."
    made = Psk31(**PLACE, text=text).synthesise(scene(rate_hz, 30.0), generator())
    time_s = np.arange(made.samples.size) / rate_hz
    turned = scipy.signal.hilbert(made.samples) * np.exp(-2j * np.pi * 1500.0 * time_s)
    symbol = rate_hz / 31.25
    phases = np.arange(0.0, symbol, symbol / 64)
    grids = [np.arange(phase, turned.size - 1, symbol).astype(int) for phase in phases]
    grid = max(grids, key=lambda one: np.mean(np.abs(turned[one])))
    is_same = (turned[grid[1:]] * turned[grid[:-1]].conj()).real > 0.0
    bits = "".join("1" if one else "0" for one in is_same)
    characters = {code: character for character, code in CODE.items()}
    read = "".join(characters.get(word, "_") for word in bits.split("00") if word)
    assert f" {text} " in read


@pytest.mark.derived
def test_bits_of_a_text_hold_every_gap():
    assert "".join("01"[bit] for bit in bits_of("te t").astype(int)) == "10100" + "1100" + "100" + (
        "10100"
    )


# -- multi-tone -----------------------------------------------------------------------------


@pytest.mark.authority
def test_functions_are_rows_of_the_hadamard_matrix():
    """scipy.linalg.hadamard(64) (FACTS F5): 64 orthogonal rows; the seventh bit turns them over."""
    matrix = scipy.linalg.hadamard(64)
    signs = 1 - 2 * walsh_signs(np.arange(128)).astype(int)
    assert np.array_equal(signs[:64], matrix)
    assert np.array_equal(signs[64:], -matrix)
    assert np.array_equal(signs[:64] @ signs[:64].T, 64 * np.eye(64, dtype=int))


@pytest.mark.authority
def test_default_is_32_tones_31_25_hz_apart_and_5_characters_in_2_s():
    """FACTS F5 (found): 32 tones in 1000 Hz, spacing and rate 31.25; 2 s for 5 characters."""
    signal = MultiTone(**PLACE)
    assert signal.spacing_hz == 31.25
    assert signal.n_bits == 5
    block_s = 64 / signal.spacing_hz
    assert block_s == pytest.approx(2.0, abs=0.05)


@pytest.mark.derived
@pytest.mark.parametrize("n_tones", [2, 4, 8, 16, 32, 64])
@pytest.mark.parametrize("width_hz", [250.0, 2000.0])
def test_tones_are_orthogonal_over_their_length(n_tones, width_hz):
    """Shaped symbols of length 2 T, spaced 1 / T: products of different tones vanish."""
    n_symbol = 512
    place = 1.0 + np.arange(-n_symbol, n_symbol) / n_symbol  # about the middle of the second
    tones = np.arange(n_tones) - (n_tones - 1) / 2.0
    pulse = 0.5 + 0.5 * np.cos(np.pi * (place - 1.0))
    shaped = pulse * np.exp(2j * np.pi * np.outer(tones, place - 1.0))
    plain = np.exp(2j * np.pi * np.outer(tones, place - 1.0))
    products = np.abs(shaped @ plain.conj().T) / n_symbol
    assert products == pytest.approx(np.eye(n_tones), abs=1e-9)
    signal = MultiTone(**PLACE, n_tones=n_tones, width_hz=width_hz)
    assert signal.spacing_hz * n_tones == width_hz


@pytest.mark.derived
def test_equal_symbols_whose_phases_fit_are_a_steady_tone():
    """Rising and falling raised cosines add to 1."""
    place = np.linspace(0.0, 3.999, 1_000)
    made = shaped_symbols(np.full(5, 1.5), 0.1 + 1.5 * np.arange(5), place)
    assert np.abs(made - np.exp(2j * np.pi * (0.1 + 1.5 * place))).max() < 1e-12


def read_tones(samples, signal, rate_hz):
    """Tones by correlation at every 1/16 of a symbol; the clearest timing wins."""
    time_s = np.arange(samples.size) / rate_hz
    turned = scipy.signal.hilbert(samples) * np.exp(-2j * np.pi * 1500.0 * time_s)
    symbol = rate_hz / signal.spacing_hz
    span = np.arange(-round(symbol), round(symbol))
    pulse = 0.5 + 0.5 * np.cos(np.pi * span / symbol)
    tones = np.arange(signal.n_tones) - (signal.n_tones - 1) / 2.0
    filters = pulse * np.exp(-2j * np.pi * np.outer(tones, span / symbol))
    best, clearest = None, -1.0
    for phase in np.arange(0.0, symbol, symbol / 16):
        middles = np.arange(phase + symbol, samples.size - symbol - 1, symbol)
        pieces = turned[np.rint(middles).astype(int)[:, None] + span]
        heights = np.abs(pieces @ filters.T)
        clear = np.mean(heights.max(axis=1))
        if clear > clearest:
            best, clearest = heights.argmax(axis=1), clear
    return best


@pytest.mark.authority
@pytest.mark.parametrize(
    ("n_tones", "width_hz", "rate_hz"),
    [(2, 250.0, 8_000), (8, 250.0, 12_000), (32, 1000.0, 8_000), (64, 2000.0, 12_000)],
)
def test_a_hadamard_receiver_reads_the_text(n_tones, width_hz, rate_hz):
    """The block of FACTS F5, read by scipy.linalg.hadamard: for every place of the block's
    beginning the largest of 128 correlations; the right place reads the text."""
    text = "The sea is calm tonight de Q1ABC"
    signal = MultiTone(**PLACE, n_tones=n_tones, width_hz=width_hz, text=text)
    duration_s = (len(text) + 1) / signal.n_bits * 64 / signal.spacing_hz * 1.3 + 8.0
    made = signal.synthesise(scene(rate_hz, min(duration_s, 30.0)), generator())
    tones = read_tones(made.samples, signal, rate_hz)
    bits = (tones ^ (tones >> 1))[:, None] >> np.arange(signal.n_bits) & 1  # Gray, undone
    matrix = scipy.linalg.hadamard(64)
    mask = scrambling(signal.n_bits)
    found, largest = "", 0.0
    for start in range(64):
        read, height = "", 0.0
        n_blocks = (tones.size - start) // 64
        for block in range(n_blocks):
            part = bits[start + 64 * block : start + 64 * (block + 1)]
            for number in range(signal.n_bits):
                column = part[np.arange(64), (number - np.arange(64)) % signal.n_bits]
                products = matrix @ (1 - 2 * (column ^ mask[number]))
                place = int(np.argmax(np.abs(products)))
                read += chr(place + (64 if products[place] < 0 else 0))
                height += abs(products[place])
        if height / max(n_blocks, 1) > largest:
            found, largest = read, height / max(n_blocks, 1)
    assert largest > 0.95 * 64 * signal.n_bits
    spoken = found.replace(" ", "")
    circle = (text + " ").replace(" ", "") * 3
    assert len(spoken) >= 4
    assert spoken in circle


@pytest.mark.derived
def test_neighbouring_tones_differ_in_one_bit():
    tones = np.arange(64)
    codes = tones ^ (tones >> 1)
    assert all(int(code).bit_count() == 1 for code in codes[1:] ^ codes[:-1])
    sent = tones_of(np.full((1, 6), 5))
    assert sent.min() >= 0
    assert sent.max() < 64


@pytest.mark.derived
@pytest.mark.parametrize(("n_tones", "width_hz"), [(2, 250.0), (8, 500.0), (32, 1000.0)])
def test_width_is_that_of_its_tones(n_tones, width_hz):
    """Quarter turns at random leave no symbol correlated with the next: the density is the sum of
    |P(f - f_k)|^2 over the tones; its 99 % width against the measured one."""
    signal = MultiTone(**PLACE, n_tones=n_tones, width_hz=width_hz)
    samples = signal.synthesise(scene(duration_s=240.0), generator()).samples
    frequency_hz, density = spectrum_of(samples, n_segment=8_192)
    tones_hz = 1500.0 + signal.spacing_hz * (np.arange(n_tones) - (n_tones - 1) / 2.0)
    distance_hz = frequency_hz[:, None] - tones_hz
    expected = np.sum(hann_transform(distance_hz, 1.0 / signal.spacing_hz) ** 2, axis=1)
    expected_hz = occupied_width_hz(frequency_hz, expected)
    assert occupied_width_hz(frequency_hz, density) == pytest.approx(expected_hz, rel=0.02)
    assert expected_hz == pytest.approx(width_hz, abs=signal.spacing_hz)
