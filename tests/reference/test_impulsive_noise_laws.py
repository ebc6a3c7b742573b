"""Class A and Bernoulli-Gaussian noise against their closed forms.

Sources: FACTS D1 (restated class A; values derived there and confirmed by simulation), FACTS D2.
"""

import math

import numpy as np
import pytest
import scipy.stats

from solidcopy import units
from solidcopy.impairments.added.bernoulli_gaussian_noise import BernoulliGaussianNoise
from solidcopy.impairments.added.class_a_noise import ClassANoise, events_at_samples
from solidcopy.impairments.impairment import Scene
from solidcopy.kernels.two_states import two_state_chain
from solidcopy.signals import amplitude_distribution as apd
from solidcopy.signals import power
from solidcopy.trials.readings import NOISE_BAND_HZ


def generator(seed):
    return np.random.Generator(np.random.PCG64DXSM(seed))


def scene(rate_hz=12_000, duration_s=15.0):
    return Scene(rate_hz, round(duration_s * rate_hz), 1500.0, 50.0)


def unit_noise(member, rate_hz, n_slots):
    """Real samples of unit expected power."""
    rows = []
    for seed in range(n_slots):
        made = member.synthesise(scene(rate_hz), generator(seed))
        rows.append(made.samples / math.sqrt(made.reference_power * rate_hz / 5000.0))
    return np.concatenate(rows)


def envelope_in_states(member, rate_hz, n_slots):
    """Envelope of complex noise of the same law: two neighbours, nearly always in one state, are
    its two components."""
    samples = unit_noise(member, rate_hz, n_slots)
    return np.hypot(samples[0::2], samples[1::2]) / math.sqrt(2.0)


CLASS_A = {
    # A, gamma: Vd dB, excess kurtosis (FACTS D1)
    (10.0, 0.1): (1.14, 0.25),
    (1.0, 0.01): (2.89, 2.94),
    (0.35, 5e-4): (6.21, 8.56),
    (0.1, 0.1): (5.98, 24.8),
    (0.1, 0.01): (9.10, 29.4),
    (0.01, 0.1): (9.15, 248.0),
    (0.01, 0.01): (15.13, 294.0),
}


def class_a(index, ratio, event_ms):
    return ClassANoise(impulsive_index=index, gaussian_ratio=ratio, event_ms=event_ms, snr_db=0.0)


@pytest.mark.authority
@pytest.mark.parametrize(("index", "ratio"), CLASS_A)
@pytest.mark.parametrize("event_ms", [0.0, 5.0])
def test_class_a_kurtosis(index, ratio, event_ms):
    samples = unit_noise(class_a(index, ratio, event_ms), 12_000, 12)
    expected = CLASS_A[index, ratio][1]
    # Var of the fourth moment, from E x^8 = 105 E sigma^8 and the number of independent states.
    m = np.arange(60)
    chance = scipy.stats.poisson.pmf(m, index)
    sigma_2 = (m / index + ratio) / (1.0 + ratio)
    n_states = samples.size if event_ms == 0.0 else samples.size / (0.005 * 12_000)
    fourth = 3.0 * float(chance @ sigma_2**2)
    of_states = 9.0 * float(chance @ sigma_2**4) - fourth**2
    of_noise = 96.0 * float(chance @ sigma_2**4) / samples.size
    deviation = math.sqrt(of_states / n_states + of_noise)
    # The mean power of the sample moves the ratio too, but in step with the fourth moment.
    assert apd.excess_kurtosis(samples) == pytest.approx(expected, abs=0.03 + 4.0 * deviation)


@pytest.mark.authority
@pytest.mark.parametrize(("index", "ratio"), CLASS_A)
def test_class_a_voltage_deviation(index, ratio):
    values = envelope_in_states(class_a(index, ratio, 1.0), 48_000, 12)
    n_events = 12 * 15.0 * index / 1e-3
    assert apd.voltage_deviation_db(values) == pytest.approx(
        CLASS_A[index, ratio][0], abs=0.02 + 4.0 * 4.34 * min(1.0, 1.0 / math.sqrt(n_events))
    )


@pytest.mark.authority
def test_class_a_amplitude_distribution():
    """FACTS D1: A = 0.1, gamma = 0.1, P(e > v) at v = 0.5, 1, 2, 4, 6 rms; its last digit ± 2."""
    values = envelope_in_states(class_a(0.1, 0.1, 2.0), 48_000, 16)
    got = apd.p_exceeded(values, np.array([0.5, 1.0, 2.0, 4.0, 6.0]))
    published = np.array([0.1505, 0.0856, 0.0623, 0.0178, 0.00247])
    # 16 slots of 15 s hold 12 000 events: each share is known to a few times 1 / sqrt(events).
    assert got == pytest.approx(published, rel=0.06)


@pytest.mark.authority
@pytest.mark.parametrize("event_ms", [0.0, 0.03, 1.0, 40.0])
def test_number_of_events_at_one_instant_is_poisson(event_ms):
    """scipy.stats.poisson, one instant of each of 600 slots."""
    counts = [
        events_at_samples(0.8, event_ms / 1000.0, scene(8_000, 0.2), generator(seed))[777]
        for seed in range(600)
    ]
    observed = np.bincount(np.minimum(counts, 3), minlength=4)
    law = scipy.stats.poisson(0.8)
    expected = 600.0 * np.array([*law.pmf([0, 1, 2]), law.sf(2)])
    assert scipy.stats.chisquare(observed, expected).pvalue > 1e-4


@pytest.mark.derived
def test_events_have_their_length():
    """Rare events of 10 ms at 8000 per second: 80 samples each."""
    n_on = events_at_samples(0.005, 0.01, scene(8_000, 100.0), generator(2))
    edges = np.flatnonzero(np.diff(n_on))
    lengths = np.diff(edges)[n_on[edges[:-1] + 1] == 1]
    assert np.count_nonzero(np.abs(lengths - 80) <= 1) > 0.9 * lengths.size > 30


BERNOULLI = {
    # p, K: share of the power in impulses, Vd dB (FACTS D2)
    (0.01, 100.0): (0.503, 3.29),
    (0.1, 100.0): (0.917, 5.85),
    (0.01, 1000.0): (0.910, 9.14),
    (0.001, 1000.0): (0.50, 3.80),
}


def bernoulli(p, ratio, burst_ms):
    return BernoulliGaussianNoise(
        p_impulse=p,
        impulse_to_background_db=units.db_from_ratio(ratio),
        burst_ms=burst_ms,
        snr_db=0.0,
    )


@pytest.mark.authority
@pytest.mark.parametrize(("p", "ratio"), BERNOULLI)
def test_bernoulli_gaussian_voltage_deviation(p, ratio):
    values = envelope_in_states(bernoulli(p, ratio, 1.0), 48_000, 16)
    n_bursts = 16 * 15.0 * p / 1e-3
    assert apd.voltage_deviation_db(values) == pytest.approx(
        BERNOULLI[p, ratio][1], abs=0.02 + 4.0 * 4.34 * min(1.0, 1.0 / math.sqrt(n_bursts))
    )


@pytest.mark.authority
@pytest.mark.parametrize(("p", "ratio"), BERNOULLI)
def test_bernoulli_gaussian_share_of_power(p, ratio):
    """Power without the background: of 1, what impulses do not hold is (1 - p) / mean."""
    made = bernoulli(p, ratio, 0.0).synthesise(scene(), generator(1))
    variance = made.reference_power * 12_000 / 5000.0
    background = np.median(np.abs(made.samples)) ** 2 / scipy.stats.chi2(1).median() / variance
    impulse_share = 1.0 - (1.0 - p) * background
    # The median sees a sample more in p, of impulses that are nearly all above it.
    assert impulse_share == pytest.approx(BERNOULLI[p, ratio][0], abs=0.01 + 2.0 * p)


@pytest.mark.parametrize("compiled", [True, False])
def test_chain_of_two_states_equals_a_naive_one(compiled):
    draws = generator(4).random(3000)
    expected, before = [], None
    for draw in draws:
        chance = 0.2 if before is None else 0.9 if before else 0.05
        before = bool(draw < chance)
        expected.append(before)
    kernel = two_state_chain if compiled else two_state_chain.py_func
    assert kernel(draws, 0.2, 0.05, 0.9).tolist() == expected


@pytest.mark.derived
@pytest.mark.parametrize("rate_hz", [8_000, 48_000])
def test_bursts_have_their_mean_length_in_seconds(rate_hz):
    member = bernoulli(0.1, 1e6, 20.0)
    n_on, n_begun = 0, 0
    for seed in range(6):
        made = member.synthesise(scene(rate_hz), generator(seed))
        # A million times the power: nearly every sample of a burst stands out.
        loud = np.abs(made.samples) > 0.05 * np.abs(made.samples).std()
        is_on = np.convolve(loud, np.ones(9), mode="same") > 2.5
        n_on += np.count_nonzero(is_on)
        n_begun += np.count_nonzero(np.diff(is_on.astype(int)) == 1)
    # 450 bursts of exponential length: 5 % standard deviation; the window adds 4 samples or so.
    assert n_on / n_begun / rate_hz == pytest.approx(0.020, rel=0.22)


MEMBERS = [
    class_a(0.1, 0.1, 0.0),
    class_a(0.01, 0.01, 0.2),
    class_a(0.1, 0.01, 20.0),
    bernoulli(0.01, 100.0, 0.0),
    bernoulli(0.1, 100.0, 5.0),
]


@pytest.mark.derived
@pytest.mark.parametrize("member", MEMBERS)
@pytest.mark.parametrize("rate_hz", [8_000, 48_000])
def test_residual_spread_is_what_the_draws_leave(member, rate_hz):
    """Of the power in 2500 Hz over what the known states explain: unit variance, mean 0."""
    left = []
    for seed in range(60):
        made = member.synthesise(scene(rate_hz, 3.0), generator(seed))
        spectrum = power.power_spectrum(made.samples, sample_rate_hz=rate_hz)
        ratio = spectrum.band_power(*NOISE_BAND_HZ) / made.reference_power
        spread = units.ratio_from_db(made.drawn.residual_spread_db) - 1.0
        left.append((ratio / made.drawn.power_ratio - 1.0) / spread)
    assert abs(np.mean(left)) < 4.0 / math.sqrt(60)
    assert 0.65 < np.std(left) < 1.45
