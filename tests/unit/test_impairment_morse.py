"""Keying by Morse signals: timing, edges, necessary bandwidth."""

import numpy as np
import pytest
import scipy.signal
from pydantic import ValidationError

from solidcopy.impairments.added.carrier import Carrier
from solidcopy.impairments.added.morse import CODE, MorseKeying, edge_times, keyed_amplitude
from solidcopy.impairments.impairment import Scene


def generator(seed=4):
    return np.random.Generator(np.random.PCG64DXSM(seed))


@pytest.mark.authority
def test_paris_lasts_50_units_and_codex_60():
    """FACTS F1: PARIS = 50 units including the word gap (verified), CODEX = 60."""
    assert edge_times("PARIS")[1] == 50
    assert edge_times("CODEX")[1] == 60


@pytest.mark.authority
@pytest.mark.parametrize(("speed_wpm", "dot_ms"), [(20.0, 60.0), (25.0, 48.0)])
def test_dot_lasts_1200_ms_over_the_speed(speed_wpm, dot_ms):
    """FACTS F1: dot = 1.2 / wpm s."""
    assert MorseKeying(speed_wpm=speed_wpm).dot_s * 1000.0 == pytest.approx(dot_ms)


@pytest.mark.authority
def test_dash_and_gaps_in_units_of_a_dot():
    """ITU-R M.1677-1 by FACTS F1: dash 3 dots; gaps 1 in a letter, 3 between letters, 7 words."""
    edges, period = edge_times("AN E")
    # A = dot dash, N = dash dot, E = dot: marks and gaps in turn.
    assert np.diff(edges).tolist() == [1, 1, 3, 3, 3, 1, 1, 7, 1]
    assert period - edges[-1] == 7


def test_no_two_characters_share_a_signal():
    assert len(set(CODE.values())) == len(CODE)


@pytest.mark.authority
def test_edges_are_5_ms_raised_cosines_on_their_times():
    """FACTS G4: 5 ms raised cosine is the usual click-free rise; 50 ms mark from 0.1 s."""
    rate_hz = 100_000
    amplitude = keyed_amplitude(
        np.array([0.1, 0.15]), edge_s=0.005, n_samples=rate_hz // 4, sample_rate_hz=rate_hz
    )
    time_s = np.arange(amplitude.size) / rate_hz
    assert amplitude[time_s < 0.0974].max() == 0.0
    assert np.ptp(amplitude[(time_s > 0.1026) & (time_s < 0.1474)]) < 1e-12
    assert amplitude[10_000] == pytest.approx(0.5, abs=1e-9)  # half amplitude on time
    assert amplitude[15_000] == pytest.approx(0.5, abs=1e-9)
    # A raised cosine rises from 10 to 90 % in 0.5903 of its length: acos(-0.8) - acos(0.8).
    rising = time_s < 0.125
    from_10 = time_s[rising][np.searchsorted(amplitude[rising], 0.1)]
    to_90 = time_s[rising][np.searchsorted(amplitude[rising], 0.9)]
    assert (to_90 - from_10) / 0.005 == pytest.approx(0.5903, abs=0.005)


def test_edge_already_rising_when_the_slot_begins():
    amplitude = keyed_amplitude(
        np.array([-0.001, 0.05]), edge_s=0.005, n_samples=8_000, sample_rate_hz=8_000
    )
    assert 0.5 < amplitude[0] < 1.0
    assert amplitude[100] == pytest.approx(1.0)
    assert abs(amplitude[-1]) < 1e-12


def keyed(speed_wpm, edge_ms, text="PARIS"):
    return Carrier(
        audio_hz=1000.0,
        signal_to_interference_db=0.0,
        keying=MorseKeying(text=text, speed_wpm=speed_wpm, edge_ms=edge_ms),
    )


@pytest.mark.derived
def test_spectrum_of_the_edges_is_that_of_half_a_sine():
    """The slope of a raised-cosine edge of length e is half a sine, whose transform is
    cos(pi f e) / (1 - (2 f e)^2): so the lines of two keyings of one text differ by that."""
    rate_hz, n_samples = 8_000, 24_000  # PARIS at 20 wpm repeats every 3 s
    lines = {
        edge_ms: np.fft.rfft(
            MorseKeying(text="PARIS", edge_ms=edge_ms).amplitude(
                n_samples=n_samples, sample_rate_hz=rate_hz, generator=generator()
            )
        )
        for edge_ms in (5.0, 2.0)
    }
    frequency_hz = np.fft.rfftfreq(n_samples, 1 / rate_hz)
    looked_at = (frequency_hz < 99.0) & (np.abs(lines[2.0]) > 1e-3 * np.abs(lines[2.0][0]))

    def edge(edge_s):
        into = frequency_hz[looked_at] * edge_s
        return np.cos(np.pi * into) / (1.0 - (2.0 * into) ** 2)

    ratio = lines[5.0][looked_at] / lines[2.0][looked_at]
    expected = edge(0.005) / edge(0.002)
    assert expected.min() < 0.85
    assert ratio.size > 30
    assert np.abs(ratio - expected).max() < 0.01


@pytest.mark.derived
def test_power_lies_close_to_the_carrier():
    """Necessary bandwidth at 20 wpm by FACTS F1: 16.7 Bd times 3 = 50 Hz. A square wave of
    8.33 Hz at half duty keeps 1/2 + 4/pi^2 (1 + 1/9) = 95 % within its third line."""
    scene = Scene(8_000, 480_000, 1500.0, 50.0)
    made = keyed(20.0, 5.0).synthesise(scene, generator())
    frequency_hz, density = scipy.signal.welch(
        made.samples, 8_000, window="blackmanharris", nperseg=16_384, detrend=False
    )
    distance_hz = np.abs(frequency_hz - 1000.0)
    assert density[distance_hz <= 25.0].sum() / density.sum() > 0.95
    # No clicks: 400 Hz away nothing within 5 Hz is stronger than -60 dB of the whole.
    far = density[distance_hz > 400.0].max() * 5.0 / (density.sum() * frequency_hz[1])
    assert far < 1e-6


def test_hard_edges_click_wider_than_soft_ones():
    scene = Scene(8_000, 120_000, 1500.0, 50.0)

    def beyond_300_hz(edge_ms):
        samples = keyed(20.0, edge_ms).synthesise(scene, generator()).samples
        spectrum = np.abs(np.fft.rfft(samples * np.hanning(samples.size))) ** 2
        frequency_hz = np.fft.rfftfreq(samples.size, 1 / 8_000)
        return spectrum[np.abs(frequency_hz - 1000.0) > 300.0].sum() / spectrum.sum()

    assert beyond_300_hz(1.0) > 30.0 * beyond_300_hz(5.0)


@pytest.mark.derived
def test_level_is_that_of_the_slot_and_the_share_on_gives_the_rest():
    """PARIS is down for 22 of 50 units (letters 4+... counted from the table)."""
    down = sum({".": 1, "-": 3}[mark] for letter in "PARIS" for mark in CODE[letter])
    scene = Scene(8_000, 8_000 * 30, 1500.0, 50.0)  # ten whole repetitions at 20 wpm
    made = keyed(20.0, 5.0).synthesise(scene, generator())
    n_marks = sum(len(CODE[letter]) for letter in "PARIS")
    # Each mark loses a quarter of an edge: two raised-cosine edges squared average 3/8.
    expected = (down * 0.06 - n_marks * 0.005 / 4.0) / (50 * 0.06)
    assert made.share_on == pytest.approx(expected, abs=1e-4)
    assert np.mean(made.samples**2) == pytest.approx(made.reference_power, rel=1e-3)


def test_start_in_the_text_is_drawn():
    scene = Scene(8_000, 8_000, 1500.0, 50.0)
    first, second = (
        keyed(20.0, 5.0).keying.amplitude(
            n_samples=8_000, sample_rate_hz=8_000, generator=generator(seed)
        )
        for seed in (1, 2)
    )
    assert scene.duration_s == 1.0
    assert not np.allclose(first, second)


@pytest.mark.parametrize(
    ("fields", "sentence"),
    [
        ({"text": "CQ Ü"}, 'no Morse signal for "Ü"'),
        ({"text": "   "}, "at least one letter"),
        ({"speed_wpm": 60.0, "edge_ms": 20.0001}, "less than or equal to 20"),
        ({"speed_wpm": 61.0}, "less than or equal to 60"),
    ],
)
def test_impossible_keying_is_refused(fields, sentence):
    with pytest.raises(ValidationError, match=sentence):
        MorseKeying(**fields)
