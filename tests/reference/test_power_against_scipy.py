"""Powers, densities and skirts against scipy.signal's own spectrum estimates."""

import math

import numpy as np
import pytest
import scipy.signal

from solidcopy import units
from solidcopy.impairments.added.band_noise import BandNoise
from solidcopy.impairments.added.gaussian_noise import GaussianNoise
from solidcopy.impairments.impairment import Scene
from solidcopy.signals import filters, power
from solidcopy.signals.waveform import Waveform


def generator(seed=3):
    return np.random.Generator(np.random.PCG64DXSM(seed))


def scene(rate_hz, duration_s=15.0):
    return Scene(rate_hz, round(duration_s * rate_hz), 1500.0, 50.0)


@pytest.mark.authority
@pytest.mark.parametrize(
    ("rate_hz", "excess_db"),
    [(8_000, 2.041), (11_025, 3.434), (12_000, 3.802), (16_000, 5.051), (44_100, 9.455),
     (48_000, 9.823)],
)  # fmt: skip
def test_full_band_noise_against_that_in_2500_hz(rate_hz, excess_db):
    """FACTS G1 (verified there): full-band noise is stronger than 2500 Hz of it by so much."""
    made = GaussianNoise(snr_db=0.0).synthesise(scene(rate_hz), generator())
    full = power.mean_power(made.samples)
    assert units.db_from_ratio(1.0 / made.reference_power) == pytest.approx(excess_db, abs=5e-4)
    # By scipy: density integrated over 2500 Hz. Chance: 0.02 dB; 4 of these.
    frequency_hz, density = scipy.signal.welch(made.samples, rate_hz, nperseg=4096)
    inside = (frequency_hz >= 200.0) & (frequency_hz <= 2700.0)
    in_2500 = float(density[inside].mean()) * 2500.0
    assert units.db_from_ratio(full / in_2500) == pytest.approx(excess_db, abs=0.1)


@pytest.mark.authority
def test_band_power_against_a_periodogram():
    samples = generator().standard_normal(60_000).astype(np.float32)
    frequency_hz, density = scipy.signal.periodogram(
        samples.astype(np.float64), 12_000, detrend=False
    )
    bin_hz = frequency_hz[1]
    inside = (frequency_hz > 300.0 - bin_hz / 4) & (frequency_hz < 2800.0 - bin_hz / 4)
    theirs = units.dbfs_from_power(float(density[inside].sum()) * bin_hz)
    ours = power.measure_band_power(Waveform(samples, 12_000), low_hz=300.0, high_hz=2800.0)
    assert ours == pytest.approx(theirs, abs=0.002)  # one edge bin of 12 500


@pytest.mark.authority
def test_voltage_deviation_of_gaussian_noise():
    """FACTS C3 (verified): 20 lg(2 / sqrt(pi)) = 1.049 dB, not 0; envelope by scipy's Hilbert."""
    made = GaussianNoise(snr_db=0.0).synthesise(scene(12_000), generator())
    envelope = np.abs(scipy.signal.hilbert(made.samples))
    deviation_db = units.db_from_ratio(np.mean(envelope**2) / np.mean(envelope) ** 2)
    # 90 000 independent values: chance 0.01 dB.
    assert deviation_db == pytest.approx(1.049, abs=0.03)


@pytest.mark.authority
@pytest.mark.parametrize(
    ("rate_hz", "width_hz", "skirt_hz"), [(12_000, 500, 50), (48_000, 100, 20)]
)
def test_band_noise_density_has_the_stated_edges_and_skirts(rate_hz, width_hz, skirt_hz):
    noise = BandNoise(
        centre_hz=1500.0, width_hz=width_hz, skirt_hz=skirt_hz, signal_to_interference_db=0.0
    )
    made = noise.synthesise(scene(rate_hz), generator())
    frequency_hz, density = scipy.signal.welch(
        made.samples, rate_hz, window="blackmanharris", nperseg=rate_hz // 2, detrend=False
    )
    distance_hz = np.abs(frequency_hz - 1500.0)
    # The estimate's own window smears by 8 Hz (four bins).
    flat = density[distance_hz < width_hz / 2 - skirt_hz - 8.0].mean()
    edge = density[np.abs(distance_hz - width_hz / 2) < 2.5].mean()
    beyond = density[(distance_hz > width_hz / 2 + skirt_hz + 8.0)].max()
    assert units.db_from_ratio(edge / flat) == pytest.approx(-6.0, abs=1.2)
    assert units.db_from_ratio(beyond / flat) < -56.0  # 60 dB, less 4 for the scatter of a bin


@pytest.mark.authority
@pytest.mark.parametrize("rate_hz", [8_000, 48_000])
def test_filter_response_by_scipy(rate_hz):
    band = filters.Band(300.0, 900.0, skirt_hz=40.0)
    taps = filters.band_taps(band, sample_rate_hz=rate_hz)
    frequency_hz = np.array([0.0, 200.0, 260.0, 300.0, 341.0, 600.0, 859.0, 900.0, 940.0, 1500.0])
    _, response = scipy.signal.freqz(taps, worN=frequency_hz, fs=rate_hz)
    gain_db = 20.0 * np.log10(np.abs(response))
    assert np.abs(gain_db[[4, 5, 6]]).max() < 0.02
    assert gain_db[[3, 7]] == pytest.approx([-6.02, -6.02], abs=0.1)
    assert gain_db[[0, 1, 2, 8, 9]].max() < -59.0
    assert np.array_equal(taps, taps[::-1])  # linear phase


@pytest.mark.derived
def test_effective_bandwidth_of_a_nearly_rectangular_filter():
    band = filters.Band(1000.0, 2000.0, skirt_hz=5.0)
    taps = filters.band_taps(band, sample_rate_hz=12_000)
    figures = filters.noise_figures(taps, sample_rate_hz=12_000)
    assert figures.effective_bandwidth_hz == pytest.approx(1000.0, abs=5.0)
    assert figures.mean_power == pytest.approx(1000.0 / 6000.0, rel=0.01)
    assert figures.relative_spread(10.0) == pytest.approx(1.0 / math.sqrt(10_000.0), rel=0.01)
