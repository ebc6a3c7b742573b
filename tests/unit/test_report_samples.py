"""Pictures of a trial: the measures behind them, on signals whose answer is known."""

import math

import numpy as np
import pytest

from solidcopy import units
from solidcopy.reports.samples import (
    amplitudes,
    if_impulsive,
    rayleigh_place,
    spectrogram,
    spectrum,
)
from solidcopy.signals.waveform import Waveform

RATE_HZ = 12_000


def waveform(samples: np.ndarray) -> Waveform:
    return Waveform(samples.astype(np.float32), RATE_HZ)


def noise(seed: int = 1, sigma: float = 0.05) -> np.ndarray:
    return sigma * np.random.default_rng(seed).standard_normal(15 * RATE_HZ)


@pytest.mark.authority
def test_gaussian_noise_is_the_straight_line_of_rayleigh_paper() -> None:
    found = amplitudes(waveform(noise()))
    assert found is not None
    # FACTS C3: P(envelope > v) = exp(−(v/rms)²), so 10 lg(−ln P) = 20 lg(v/rms). 37 500
    # independent values: at P = 0.01 a share is known to 5 %, its level to 0.05 dB.
    for p in (0.5, 0.1, 0.01):
        level = np.interp(-p, -found.p_exceeded, found.level_db)
        assert level == pytest.approx(rayleigh_place(p), abs=0.15)


@pytest.mark.derived
def test_a_steady_carrier_has_one_amplitude() -> None:
    time_s = np.arange(15 * RATE_HZ) / RATE_HZ
    found = amplitudes(waveform(0.5 * np.cos(2 * np.pi * 1000.0 * time_s)))
    assert found is not None
    middle = found.level_db[(found.p_exceeded < 0.95) & (found.p_exceeded > 0.05)]
    assert np.abs(middle).max() < 0.01


@pytest.mark.derived
def test_rare_impulses_rise_above_the_line() -> None:
    samples = noise()
    samples[:: RATE_HZ // 2] += 5.0
    found = amplitudes(waveform(samples))
    assert found is not None
    rarest = found.level_db[-1] - rayleigh_place(float(found.p_exceeded[-1]))
    assert rarest > 5.0


@pytest.mark.derived
def test_only_amplitudes_above_those_of_noise_are_shown() -> None:
    """Neither noise, whatever its seed, nor a carrier in it; clicks, and a buzz of pulses."""
    time_s = np.arange(15 * RATE_HZ) / RATE_HZ
    carrier = 0.3 * np.cos(2 * np.pi * 1000.0 * time_s)
    for seed in range(20):
        for samples in (noise(seed), noise(seed) + carrier):
            assert if_impulsive(amplitudes(waveform(samples))) is None
    clicks = noise()
    clicks[:: RATE_HZ // 2] += 5.0
    buzz = noise() + 2.0 * (np.arange(time_s.size) % (RATE_HZ // 100) == 0)
    for samples in (clicks, buzz):
        assert if_impulsive(amplitudes(waveform(samples))) is not None


@pytest.mark.derived
def test_silence_has_no_amplitudes() -> None:
    assert amplitudes(waveform(np.zeros(15 * RATE_HZ))) is None


@pytest.mark.derived
def test_the_spectrum_of_white_noise_is_its_density() -> None:
    hz, density_db = spectrum(waveform(noise(sigma=0.05)))
    # σ² spread over fs/2; dBFS against a full-scale sine's 0.5.
    expected = units.dbfs_from_power(0.05**2 / (RATE_HZ / 2))
    assert hz[-1] <= 3000.0
    mean = units.db_from_ratio(float(np.mean(10.0 ** (density_db / 10.0))))
    assert mean == pytest.approx(expected, abs=0.1)


@pytest.mark.derived
def test_the_spectrogram_shows_a_tone_where_it_is() -> None:
    time_s = np.arange(15 * RATE_HZ) / RATE_HZ
    tone = 0.2 * np.cos(2 * np.pi * 1500.0 * time_s) * (time_s < 7.5)
    picture = spectrogram(waveform(noise(sigma=0.01) + tone))
    n_frequencies, n_times = picture.levels_db.shape
    row, column = np.unravel_index(picture.levels_db.argmax(), picture.levels_db.shape)
    # Tops of the rows and columns are numbered from the bottom and from the left.
    assert (row + 0.5) / n_frequencies * picture.highest_hz == pytest.approx(1500.0, abs=13.0)
    assert column / n_times < 0.5
    assert picture.highest_hz == pytest.approx(3000.0)
    assert math.isfinite(picture.levels_db.min())


@pytest.mark.derived
def test_silence_is_drawn_as_blank_paper() -> None:
    picture = spectrogram(waveform(np.zeros(15 * RATE_HZ)))
    assert (picture.levels_db == -60.0).all()
