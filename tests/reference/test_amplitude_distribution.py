"""Envelopes and their figures against closed forms (FACTS C3, textbook) and scipy."""

import math

import numpy as np
import pytest
import scipy.signal
import scipy.stats

from solidcopy import units
from solidcopy.signals import amplitude_distribution as apd
from solidcopy.signals.filters import Band
from solidcopy.signals.tone import tone

RATE_HZ = 12_000
BAND = Band(200.0, 2700.0, skirt_hz=50.0)


def noise(n_samples=480_000, seed=3):
    return np.random.Generator(np.random.PCG64DXSM(seed)).standard_normal(n_samples)


@pytest.mark.authority
@pytest.mark.parametrize("n_samples", [1000, 1001])
def test_analytic_signal_equals_scipy(n_samples):
    samples = noise(n_samples)
    ours = apd.analytic_signal(samples, sample_rate_hz=RATE_HZ)
    assert np.abs(ours - scipy.signal.hilbert(samples)).max() < 1e-12
    assert np.abs(ours.real - samples).max() < 1e-12


@pytest.mark.authority
@pytest.mark.parametrize("band", [None, BAND])
def test_gaussian_noise(band):
    """FACTS C3: Vd = 20 lg(2/sqrt(pi)) = 1.049 dB, P(envelope > v) = exp(-(v/rms)^2)."""
    samples = noise()
    figures = apd.amplitude_figures(samples, sample_rate_hz=RATE_HZ, band=band)
    # 200 000 independent values or more: Vd known to 0.01 dB, kurtosis to 2 sqrt(6 / n).
    assert figures.voltage_deviation_db == pytest.approx(1.049, abs=0.02)
    assert figures.excess_kurtosis == pytest.approx(0.0, abs=0.05)
    values = apd.envelope(samples, sample_rate_hz=RATE_HZ, band=band)
    levels = np.array([0.3, 0.7, 1.0, 1.5, 2.0, 2.5]) * math.sqrt(float(np.mean(values**2)))
    expected = np.exp(-(np.array([0.3, 0.7, 1.0, 1.5, 2.0, 2.5]) ** 2))
    deviation = np.sqrt(expected * (1.0 - expected) / 80_000)
    assert np.all(np.abs(apd.p_exceeded(values, levels) - expected) < 4.0 * deviation)


@pytest.mark.authority
def test_constant_of_gaussian_noise():
    assert pytest.approx(1.049, abs=5e-4) == apd.GAUSSIAN_VOLTAGE_DEVIATION_DB  # FACTS C3


@pytest.mark.authority
def test_steady_carrier_has_no_voltage_deviation():
    """FACTS C3: 0 dB. A sine's fourth moment is 3/8 of amplitude^4: excess kurtosis -1.5."""
    samples = tone(frequency_hz=1000.0, phase_rad=0.4, n_samples=24_000, sample_rate_hz=RATE_HZ)
    figures = apd.amplitude_figures(samples, sample_rate_hz=RATE_HZ)
    assert figures.voltage_deviation_db == pytest.approx(0.0, abs=1e-9)
    assert figures.crest_db == pytest.approx(0.0, abs=1e-9)
    assert figures.excess_kurtosis == pytest.approx(-1.5, abs=1e-9)


@pytest.mark.authority
def test_carrier_in_noise_is_rice_distributed():
    """scipy.stats.rice, carrier 6 dB above the noise."""
    samples = noise()
    sine = tone(frequency_hz=1000.0, phase_rad=0.0, n_samples=samples.size, sample_rate_hz=RATE_HZ)
    amplitude = math.sqrt(2.0 * units.ratio_from_db(6.0))
    values = apd.envelope(samples + amplitude * sine, sample_rate_hz=RATE_HZ)
    law = scipy.stats.rice(amplitude)  # the noise has unit variance in each of two components
    levels = np.array([1.0, 2.0, 3.0, 4.0, 5.0])
    expected = law.sf(levels)
    deviation = np.sqrt(expected * (1.0 - expected) / (samples.size / 2))
    assert np.all(np.abs(apd.p_exceeded(values, levels) - expected) < 4.5 * deviation)
    expected_db = units.db_from_ratio(law.moment(2) / law.mean() ** 2)
    assert apd.voltage_deviation_db(values) == pytest.approx(expected_db, abs=0.01)


@pytest.mark.derived
def test_band_passes_its_middle_and_stops_beyond_its_feet():
    for frequency_hz, expected in ((1000.0, 1.0), (200.0, 0.5), (140.0, 0.0), (2760.0, 0.0)):
        samples = tone(
            frequency_hz=frequency_hz, phase_rad=0.0, n_samples=60_000, sample_rate_hz=RATE_HZ
        )
        values = apd.envelope(samples, sample_rate_hz=RATE_HZ, band=BAND)
        assert np.abs(values - expected).max() < 1e-9


@pytest.mark.derived
def test_gated_noise_has_the_voltage_deviation_of_its_share():
    """On for a share s of the time: mean square s, mean s sqrt(pi)/2, so Vd = 1.049 - 10 lg s."""
    gate = (np.arange(480_000) % 4800) < 480
    values = apd.envelope(noise() * gate, sample_rate_hz=RATE_HZ)
    inside = np.where(gate, values, 0.0)  # the Hilbert partner leaks a little beyond the edges
    assert apd.voltage_deviation_db(inside) == pytest.approx(11.049, abs=0.1)


def test_shares_and_levels_are_inverse():
    values = np.abs(noise(1000))
    levels = apd.exceeded_levels(values, np.array([0.9, 0.5, 0.1, 0.01]))
    assert apd.p_exceeded(values, levels) == pytest.approx([0.9, 0.5, 0.1, 0.01], abs=1e-3)
    assert apd.p_exceeded(values, np.array([-1.0, np.inf])).tolist() == [1.0, 0.0]


def test_silence_has_no_figures():
    figures = apd.amplitude_figures(np.zeros(100), sample_rate_hz=RATE_HZ)
    assert figures == apd.AmplitudeFigures(0.0, 0.0, 0.0)
