"""Features of noise against scipy, closed forms and the facts they rest on."""

import math

import numpy as np
import pytest
import scipy.integrate
import scipy.signal
import scipy.stats

from noise_examples import recording, sources
from solidcopy import units
from solidcopy.noise.features.amplitudes import N_BLOCKS, collect, summarise_amplitudes
from solidcopy.noise.features.floor import lowest_mean, lowest_mean_error, measure_floor_curve
from solidcopy.noise.features.impulses import find_thresholds, upcrossing_ratio
from solidcopy.noise.features.measure import measure_features
from solidcopy.noise.features.spectrum import independent_averages, measure_spectrum

RATE_HZ = 12_000


def generator(seed=7):
    return np.random.Generator(np.random.PCG64DXSM(seed))


@pytest.mark.authority
def test_spectrum_equals_welch_of_scipy():
    samples = generator().standard_normal(60_000) + 0.3
    ours = measure_spectrum(samples, sample_rate_hz=RATE_HZ, segment_s=0.5, mean=0.3)
    frequencies_hz, densities = scipy.signal.welch(
        samples - 0.3, RATE_HZ, "hann", nperseg=6000, noverlap=3000, detrend=False
    )
    assert np.allclose(ours.frequencies_hz, frequencies_hz)
    assert np.allclose(ours.densities, densities, rtol=1e-10)
    assert np.allclose(ours.chunk_densities.shape, (4, 3001))


@pytest.mark.derived
def test_spectrum_adds_up_to_the_power_and_reads_a_sine():
    samples = generator().standard_normal(600_000)
    spectrum = measure_spectrum(samples, sample_rate_hz=RATE_HZ, segment_s=1.0)
    # Parseval, but for the ends of the recording: 1e-3 is four standard deviations of noise there.
    assert spectrum.power_between(0.0, 6000.0) == pytest.approx(float(samples.var()), rel=1e-2)
    # 0 dBFS is a sine that touches full scale: power 1/2, wherever it lies between bins.
    for frequency_hz in (1000.0, 1000.37):
        sine = np.cos(2.0 * math.pi * frequency_hz / RATE_HZ * np.arange(120_000))
        spectrum = measure_spectrum(sine, sample_rate_hz=RATE_HZ, segment_s=1.0)
        power = spectrum.power_between(frequency_hz - 5.0, frequency_hz + 5.0)
        assert units.dbfs_from_power(power) == pytest.approx(0.0, abs=0.01)


@pytest.mark.derived
def test_interval_of_the_spectrum_covers():
    """95 % of the bins of white noise of density 1 / 6000 lie where they should."""
    samples = generator().standard_normal(180_000)
    spectrum = measure_spectrum(samples, sample_rate_hz=RATE_HZ, segment_s=1.0)
    low_db, high_db = spectrum.interval_db()
    truth_db = units.dbfs_from_power(1.0 / 6000.0)
    readings_db = spectrum.densities_dbfs_per_hz()[3:-3]
    is_covered = (readings_db + low_db < truth_db) & (truth_db < readings_db + high_db)
    # 6000 bins of which 1.94 share one independent reading: 0.95 ± 0.004.
    assert is_covered.mean() == pytest.approx(0.95, abs=0.016)


@pytest.mark.derived
def test_averages_are_worth_what_their_scatter_says():
    samples = generator().standard_normal(1_200_000)
    spectrum = measure_spectrum(samples, sample_rate_hz=RATE_HZ, segment_s=2.0)
    bins = spectrum.densities[3:-3]
    # 12 000 bins: the variance is known to about 2 %.
    assert (bins.mean() / bins.std()) ** 2 == pytest.approx(independent_averages(99), rel=0.07)


@pytest.mark.authority
def test_weakest_fifth_against_quantiles_of_scipy():
    """SM.1753 (FACTS C3): the highest 80 % are discarded; exponential powers, as of scipy."""
    quantile = scipy.stats.expon.ppf(0.2)
    mean = scipy.stats.expon.expect(lambda x: x, lb=0.0, ub=quantile) / 0.2
    assert lowest_mean(100_000, 20_000) == pytest.approx(mean, rel=1e-4)
    drawn = np.sort(scipy.stats.expon.rvs(size=(4000, 200), random_state=generator()), axis=1)
    weakest = drawn[:, :40].mean(axis=1)
    assert weakest.mean() == pytest.approx(lowest_mean(200, 40), rel=0.01)
    assert weakest.std() / weakest.mean() == pytest.approx(lowest_mean_error(200, 0.2), rel=0.05)


@pytest.mark.derived
@pytest.mark.parametrize("rate_hz", [8000, 48_000])
def test_floor_of_gaussian_noise_is_its_density(rate_hz):
    samples = recording(30.0, rate_hz=rate_hz).samples
    curve = measure_floor_curve(samples, sample_rate_hz=rate_hz)
    truth = 0.02**2 / (rate_hz / 2.0)
    inside = curve.densities[3:-3]
    error = curve.relative_error * math.sqrt(1.5 / inside.size)
    assert inside.mean() == pytest.approx(truth, rel=4.0 * error)
    assert inside.std() / inside.mean() == pytest.approx(curve.relative_error, rel=0.15)


@pytest.mark.authority
def test_crossings_of_a_flat_band():
    """Rice's rate, sqrt(pi / 3) B r exp(-r^2) (from memory), counted on complex noise."""
    n_values, oversampling, band_hz = 2_000_000, 8, 1000.0
    lines = np.zeros(n_values, dtype=np.complex128)
    n_inside = n_values // oversampling
    parts = generator().standard_normal((2, n_inside))
    lines[:n_inside] = parts[0] + 1j * parts[1]
    powers = np.square(np.abs(np.fft.ifft(lines)))
    powers /= powers.mean()
    duration_s = n_inside / band_hz
    for wanted in (5.0, 1.0):
        ratio = upcrossing_ratio(band_hz / math.sqrt(12.0), wanted)
        closed = math.sqrt(math.pi / 3.0) * band_hz * math.sqrt(ratio) * math.exp(-ratio)
        assert closed == pytest.approx(wanted, rel=1e-6)
        is_over = powers > ratio
        n_seen = int(np.count_nonzero(is_over[1:] & ~is_over[:-1]))
        expected = wanted * duration_s
        # Crossings come in twos where the envelope ripples: twice a random count's spread.
        assert n_seen == pytest.approx(expected, abs=8.0 * math.sqrt(expected))


@pytest.mark.authority
@pytest.mark.parametrize(
    ("a", "gamma", "deviation_db", "kurtosis"),
    [(10.0, 0.1, 1.14, 0.25), (1.0, 0.01, 2.89, 2.94), (0.1, 0.1, 5.98, 24.8)],
)
def test_class_a_noise(a, gamma, deviation_db, kurtosis):
    """Voltage deviation and excess kurtosis of FACTS D1's table."""
    n_values = 2_000_000
    draws = generator()
    variances = (draws.poisson(a, n_values) / a + gamma) / (1.0 + gamma)
    powers = variances * draws.exponential(1.0, n_values)
    blocks = np.arange(n_values) * N_BLOCKS // n_values
    found = summarise_amplitudes(
        [collect(powers, blocks, n_span=n_values)], band_hz=(0.0, 1.0), n_independent=n_values
    )
    deviation, excess = found.voltage_deviation_db, found.excess_kurtosis
    assert deviation.value == pytest.approx(
        deviation_db, abs=4.0 * deviation.standard_error + 0.005
    )
    assert excess.value == pytest.approx(kurtosis, abs=4.0 * excess.standard_error + 0.05)


@pytest.mark.authority
def test_gaussian_noise_has_rayleigh_amplitudes():
    """FACTS C3: Vd 1.049 dB; P(envelope > v) = exp(-(v / vrms)^2)."""
    found = measure_features(recording(60.0)).amplitudes
    deviation = found.voltage_deviation_db
    assert deviation.value == pytest.approx(1.049, abs=4.0 * deviation.standard_error)
    assert deviation.standard_error < 0.005
    mean_db = found.level_dbfs.value + 3.0103  # the envelope's square has twice the power
    for p, level_dbfs, error_db in zip(
        found.exceeded.p_exceeded,
        found.exceeded.levels_dbfs,
        found.exceeded.standard_errors_db,
        strict=True,
    ):
        # An envelope of 1 reads 0 dBFS, a power of 1/2 too.
        expected_db = mean_db - 3.0103 + units.db_from_ratio(-math.log(p))
        assert level_dbfs == pytest.approx(expected_db, abs=4.5 * error_db + 0.11)


@pytest.mark.authority
@pytest.mark.parametrize(
    ("engine_rpm", "n_cylinders", "per_s"), [(3000.0, 4, 100.0), (1850.0, 6, 92.5)]
)
def test_rate_of_an_engine(engine_rpm, n_cylinders, per_s):
    """FACTS D4: rpm times cylinders over 120 a second for four strokes."""
    engine = sources({"kind": "ignition", "engine_rpm": engine_rpm, "n_cylinders": n_cylinders})
    family = measure_features(recording(20.0, (engine, 0.0))).rhythm.families[0]
    assert family.rate_hz.value == pytest.approx(per_s, abs=0.005)
    assert family.multiples[:3] == (1, 2, 3)


@pytest.mark.derived
def test_thresholds_rise_with_bandwidth_and_fall_with_averaging():
    narrow = find_thresholds(envelope_rate_hz=5000.0, effective_hz=2000.0, rms_spread_hz=700.0)
    wide = find_thresholds(envelope_rate_hz=50_000.0, effective_hz=20_000.0, rms_spread_hz=7000.0)
    assert wide.ratios[0] > narrow.ratios[0] > narrow.ratios[1] > narrow.ratios[2]
