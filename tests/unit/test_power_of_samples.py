"""Mean, peak, crest and band power of samples."""

import itertools
import math

import numpy as np
import pytest

from solidcopy import units
from solidcopy.errors import CalibrationError
from solidcopy.signals import power
from solidcopy.signals.tone import tone
from solidcopy.signals.waveform import Waveform


def noise(n_samples, seed=1):
    return np.random.Generator(np.random.PCG64DXSM(seed)).standard_normal(n_samples)


@pytest.mark.authority
def test_full_scale_sine_reads_0_dbfs_with_a_crest_of_301_db():
    """Crest factor of a sine: sqrt(2), 3.01 dB (FACTS D5; NEEDS 2, row 2: textbook)."""
    sine = tone(frequency_hz=1000.0, phase_rad=0.3, n_samples=12_000, sample_rate_hz=48_000)
    assert units.dbfs_from_power(power.mean_power(sine)) == pytest.approx(0.0, abs=1e-9)
    assert power.crest_db(sine) == pytest.approx(3.0103, abs=0.01)


@pytest.mark.authority
def test_peaks_of_gaussian_noise():
    """FACTS G2 (verified): in 180 000 samples 11.4 beyond 4 sigma, 1.22 beyond 4.5; median of
    the largest 4.62 sigma."""
    slots = [noise(180_000, seed) for seed in range(100)]
    beyond_4 = sum(int(np.count_nonzero(np.abs(slot) > 4.0)) for slot in slots)
    beyond_45 = sum(int(np.count_nonzero(np.abs(slot) > 4.5)) for slot in slots)
    # Poisson counts: four standard deviations either way.
    assert beyond_4 == pytest.approx(1140, abs=4 * math.sqrt(1140))
    assert beyond_45 == pytest.approx(122, abs=4 * math.sqrt(122))
    assert np.median([power.peak(slot) for slot in slots]) == pytest.approx(4.62, abs=0.1)


def test_silence_has_no_power_and_no_crest():
    assert power.mean_power(np.zeros(10)) == 0.0
    assert power.crest_db(np.zeros(10)) == 0.0
    assert power.mean_power(np.zeros(0)) == power.peak(np.zeros(0)) == 0.0


def test_mean_is_taken_in_float64():
    """A running float32 sum of 20 million equal squares stops growing (NEEDS 3.1)."""
    assert power.mean_power(np.full(20_000_000, 0.1, dtype=np.float32)) == pytest.approx(
        float(np.float32(0.1)) ** 2, rel=1e-12
    )


@pytest.mark.derived
def test_band_powers_add_up_and_to_the_mean():
    samples = noise(10_007)  # a prime: padded to a fast length
    spectrum = power.power_spectrum(samples, sample_rate_hz=8_000)
    edges_hz = [0.0, 123.4, 1000.0, 4000.0]
    parts = [spectrum.band_power(*pair) for pair in itertools.pairwise(edges_hz)]
    assert sum(parts) == pytest.approx(power.mean_power(samples), rel=1e-12)


@pytest.mark.derived
def test_edge_bins_count_by_their_share():
    """White in every bin by construction: the band power is the bandwidth, to any edge."""
    impulse = np.zeros(1000)
    impulse[0] = math.sqrt(1000.0)  # mean power 1, flat from 0 to half the rate
    spectrum = power.power_spectrum(impulse, sample_rate_hz=2_000)
    for low_hz, high_hz in ((0.0, 1000.0), (200.3, 417.9), (0.4, 999.7), (500.0, 520.5)):
        # Half a bin at either end of the axis holds half the power: within 1e-3 of the whole.
        assert spectrum.band_power(low_hz, high_hz) == pytest.approx(
            (high_hz - low_hz) / 1000.0, abs=1.1e-3
        )
    assert spectrum.band_power(200.3, 417.9) == pytest.approx(0.2176, rel=1e-6)


def test_too_narrow_a_band_is_an_error():
    waveform = Waveform(np.ones(8_000, dtype=np.float32), 8_000)
    with pytest.raises(CalibrationError, match="fewer than 8 spectrum bins"):
        power.measure_band_power(waveform, low_hz=100.0, high_hz=105.0)
    with pytest.raises(ValueError, match="no band"):
        power.measure_band_power(waveform, low_hz=100.0, high_hz=5000.0)


def test_tone_is_found_in_its_band_only():
    sine = tone(frequency_hz=700.0, phase_rad=0.0, n_samples=8_000, sample_rate_hz=8_000)
    waveform = Waveform((0.1 * sine).astype(np.float32), 8_000)
    inside = power.measure_band_power(waveform, low_hz=600.0, high_hz=800.0)
    assert inside == pytest.approx(-20.0, abs=1e-4)
    assert power.measure_band_power(waveform, low_hz=900.0, high_hz=1100.0) < -120.0


def test_clipped_samples_are_those_beyond_full_scale():
    assert power.count_clipped(np.array([1.0, -1.0, 1.001, -1.5, 0.2])) == 2


def test_quick_tone_is_the_cosine():
    quick = tone(frequency_hz=1234.567, phase_rad=2.1, n_samples=180_000, sample_rate_hz=12_000)
    plain = np.cos(2.0 * np.pi * 1234.567 / 12_000 * np.arange(180_000) + 2.1)
    assert np.abs(quick - plain).max() < 1e-9
