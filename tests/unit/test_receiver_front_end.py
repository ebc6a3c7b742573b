"""The grid of cells and the carriers taken out of it, on signals of known power."""

import numpy as np
import pytest

from solidcopy.modes.registry import mode_named
from solidcopy.receivers.builtin.carriers import find_lines, without_carriers
from solidcopy.receivers.builtin.front_end import LongSpectrum, cell_grid, long_spectrum
from solidcopy.signals.power import mean_power

FACTS = mode_named("ft8").facts
RATE_HZ = 12_000
N = 15 * RATE_HZ
TIME_S = np.arange(N) / RATE_HZ


def noise(seed, sigma=0.1):
    return sigma * np.random.default_rng(seed).standard_normal(N)


def spectrum_of(samples):
    return long_spectrum(np.asarray(samples, np.float32), FACTS)


def grid_of(samples):
    return cell_grid(spectrum_of(samples), FACTS, low_hz=200.0, high_hz=2900.0)


@pytest.mark.derived
def test_white_noise_has_mean_one_and_the_floor_of_its_density():
    cells = grid_of(noise(1))
    # 375 rows a quarter of a symbol apart and 882 columns half a tone apart hold about 40 000
    # independent cells: the mean deviates by 0.5 %, the floor's median by less than 3 %.
    assert cells.powers.mean() == pytest.approx(1.0, abs=0.02)
    density = 0.1**2 / (RATE_HZ / 2)
    assert cells.floor.mean() == pytest.approx(density / (2 * FACTS.symbol_s), rel=0.03)
    assert (cells.levels == 1.0).all()


@pytest.mark.derived
def test_a_tone_shows_its_own_power():
    amplitude = 0.5
    samples = noise(2)
    samples[60_000:80_000] += amplitude * np.cos(2 * np.pi * 1500.0 * TIME_S[60_000:80_000])
    cells = grid_of(samples)
    rows = np.arange(130, 160)  # 5.2 to 6.4 s: the tone lasts from 5.0 to 6.67 s
    column = round((1500.0 - cells.first_hz) / cells.column_hz)
    powers = cells.powers[rows, column] * cells.floor[column]
    # The window reaches an eighth of a symbol into either neighbour, and the tone goes on there:
    # its sum is n, its energy 0.75 n + 2 * 0.25 n * 3/8 = 0.9375 n. Es/N0 is 12 000, so a cell
    # deviates by 1.3 % and the mean of about seven independent ones by 0.5 %.
    assert powers.mean() == pytest.approx(amplitude**2 / 4 / 0.9375, rel=0.02)


@pytest.mark.derived
def test_noise_that_is_louder_for_a_while_is_followed():
    samples = noise(3)
    samples[72_000:84_000] *= 4.0
    cells = grid_of(samples)
    middles_s = np.arange(cells.levels.size) * cells.row_s + FACTS.symbol_s / 2
    loud = (middles_s > 6.15) & (middles_s < 6.85)
    assert cells.levels[loud] == pytest.approx(16.0, rel=0.3)
    assert (cells.levels[(middles_s < 5.85) | (middles_s > 7.15)] == 1.0).all()


def test_no_grid_from_silence():
    assert grid_of(np.zeros(N)) is None


@pytest.mark.derived
def test_lines_are_found_where_carriers_are_and_nowhere_else():
    samples = noise(4)
    assert find_lines_of(samples).size == 0
    for audio_hz in (700.3, 1234.5):
        samples += 0.02 * np.cos(2 * np.pi * audio_hz * TIME_S)
    found = np.sort(find_lines_of(samples)) / 16.0
    np.testing.assert_allclose(found, [700.3, 1234.5], atol=1.0 / 16.0)


def find_lines_of(samples):
    spectrum = spectrum_of(samples)
    return find_lines(spectrum.bins, spectrum.bin_hz, low_hz=150.0, high_hz=3000.0)


@pytest.mark.derived
@pytest.mark.parametrize("audio_hz", [1500.0, 1500.03, 987.65])
def test_a_carrier_is_taken_out_and_the_rest_stays(audio_hz):
    quiet = noise(5, sigma=1e-3)
    carrier = 0.3 * np.cos(2 * np.pi * audio_hz * TIME_S + 0.7)
    left = band_power(taken_out(spectrum_of(quiet + carrier)))
    # The carrier comes down by 60 dB, and of the noise no more than the averaging's 1 Hz goes
    # with it. (Analytic samples have half the power of real ones.)
    before = band_power(spectrum_of(quiet))
    assert 0.99 * before < left < before + 1e-6 * mean_power(carrier) / 2


def taken_out(spectrum):
    return without_carriers(spectrum, low_hz=150.0, high_hz=3000.0)


def band_power(spectrum: LongSpectrum):
    """Mean power of 200 to 2900 Hz between 0.5 and 14.5 s.

    What the carrier's sudden start and end leave far from its frequency lies outside that time.
    """
    low, high = round(200 / spectrum.bin_hz), round(2900 / spectrum.bin_hz)
    band = np.zeros(spectrum.bins.size, np.complex128)
    band[low:high] = spectrum.bins[low:high]
    samples = np.fft.ifft(band, norm="forward")
    per_second = samples.size // 16
    return float(np.mean(np.abs(samples[per_second // 2 : 29 * per_second // 2]) ** 2))


@pytest.mark.derived
@pytest.mark.parametrize("amplitude", [0.01, 0.3])
def test_a_transmission_is_no_carrier(amplitude):
    mode = mode_named("ft8")
    rng = np.random.default_rng(6)
    for text in ("CQ Q1ABC FN42", mode.draw_message(rng).text, "000000000000000000"):
        tones = mode.encode(mode.pack(text))
        signal = mode.modulate(tones, sample_rate_hz=RATE_HZ, audio_hz=1100.0).real
        samples = noise(7, sigma=0.01)
        samples[6_000 : 6_000 + signal.size] += amplitude * signal
        spectrum = spectrum_of(samples)
        assert taken_out(spectrum) is spectrum
