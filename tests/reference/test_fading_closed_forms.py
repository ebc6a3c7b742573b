"""Rayleigh and Rice fading against closed forms and distributions of scipy.

Formulas: FACTS B2 and B3 (Gaussian spectrum, spread B = two standard deviations of the power
spectrum; Rice's theory of level crossings). Each test runs one long process, or many.
"""

import math

import numpy as np
import pytest
from scipy import stats

from solidcopy.impairments.path.fading_gain import MARGIN_S, Stretch, rayleigh_gain
from solidcopy.impairments.path.multipath import Tap, independent_fades, tap_gain

RATE_HZ = 1_024


def generator(seed):
    return np.random.Generator(np.random.PCG64DXSM(seed))


def long_run(*, seed=1):
    """12 000 s of a process with a spread of 1 Hz, 64 values a second."""
    return rayleigh_gain(1.0, Stretch(64, 0, 64 * 12_000, 12_000.0), generator(seed))


@pytest.mark.authority
@pytest.mark.parametrize(
    ("lag_s", "expected"), [(0.25, 0.7346), (0.45, 0.3679), (0.5, 0.2912), (1.0, 0.0072)]
)
def test_autocorrelation(lag_s, expected):
    """exp(-(pi B tau)²/2) for B = 1 Hz, FACTS B2; 1/e at 0.450/B.

    With the spectrum's formula in amplitude (the known slip, FACTS B2) it would be the square
    root: 0.857, 0.607, 0.540, 0.085.
    """
    gain = long_run()
    lag = round(lag_s * 64)
    lagged = np.vdot(gain[:-lag], gain[lag:]) / np.vdot(gain, gain).real
    exact = math.exp(-((math.pi * lag / 64) ** 2) / 2.0)
    assert exact == pytest.approx(expected, abs=0.012)  # 0.45 s is 28.8 samples
    # About 21 000 independent values: standard deviation 0.007.
    assert lagged == pytest.approx(exact, abs=0.025)


@pytest.mark.derived
@pytest.mark.parametrize("spread_hz", [0.01, 0.1, 1.0, 30.0])
def test_spread_is_two_standard_deviations_of_the_power_spectrum(spread_hz):
    """Second moment of the spectrum, by the lag-one phase turn: E|g'|² = (pi B)² E|g|²."""
    rate_hz = 12_000
    step = round(rate_hz / (64.0 * spread_hz))  # 64 values to each 1 / spread
    values = []
    for seed in range(300):
        pair = rayleigh_gain(spread_hz, Stretch(rate_hz, 500, step + 1, 15.0), generator(seed))
        values.append((abs(pair[-1] - pair[0]) ** 2, abs(pair[0]) ** 2))
    moved, power = np.mean(values, axis=0)
    expected = 2.0 * (1.0 - math.exp(-((math.pi * spread_hz * step / rate_hz) ** 2) / 2.0))
    assert moved / power == pytest.approx(expected, rel=0.25)


@pytest.mark.authority
@pytest.mark.parametrize(
    ("level", "crossings_per_s", "fade_s"),
    [
        (0.316, 0.507, 0.188),
        (0.5, 0.690, 0.3205),
        (0.7071, 0.760, 0.518),
        (1.0, 0.652, 0.969),
    ],
)
def test_level_crossings_and_fade_durations(level, crossings_per_s, fade_s):
    """FACTS B3, B = 1 Hz: sqrt(pi) B rho exp(-rho²) and (exp(rho²) - 1) / (sqrt(pi) B rho).

    Chance: about 6000 to 9000 crossings, so 1.5 %; a spread too small by sqrt(2) gives 29 % less.
    """
    envelope = np.abs(long_run(seed=3))
    below = envelope < level
    n_crossings = np.sum(~below[:-1] & below[1:])
    duration_s = envelope.size / 64
    assert n_crossings / duration_s == pytest.approx(crossings_per_s, rel=0.05)
    assert below.sum() / 64 / n_crossings == pytest.approx(fade_s, rel=0.05)


def independent_values(tap, *, n, seed=5):
    """Values of one long process five 1 / spread apart."""
    apart = round(5.0 * RATE_HZ / tap.spread_hz)
    stretch = Stretch(RATE_HZ, 0, n * apart, n * apart / RATE_HZ)
    return tap_gain(tap, stretch, generator(seed))[::apart]


@pytest.mark.authority
def test_rayleigh_envelope_and_even_phase():
    """scipy's Rayleigh distribution of unit mean power, and a uniform phase."""
    gain = independent_values(Tap(0.0, 20.0), n=3_000)
    assert np.mean(np.abs(gain) ** 2) == pytest.approx(1.0, abs=4.0 / math.sqrt(3_000))
    assert stats.kstest(np.abs(gain), stats.rayleigh(scale=math.sqrt(0.5)).cdf).pvalue > 0.01
    assert stats.kstest(np.angle(gain), stats.uniform(-math.pi, 2 * math.pi).cdf).pvalue > 0.01


@pytest.mark.authority
@pytest.mark.parametrize("rice_factor", [0.5, 2.0, 10.0])
def test_rice_envelope(rice_factor):
    """scipy's Rice distribution with that ratio of steady to fading power."""
    share = rice_factor / (1.0 + rice_factor)
    gain = independent_values(Tap(0.0, 20.0, steady_share=share), n=3_000, seed=6)
    scale = math.sqrt((1.0 - share) / 2.0)
    rice = stats.rice(math.sqrt(share) / scale, scale=scale)
    assert stats.kstest(np.abs(gain), rice.cdf).pvalue > 0.01


@pytest.mark.derived
def test_shift_turns_the_gain():
    """A shift of 3 Hz: the phase of the steady part runs through three turns a second."""
    tap = Tap(0.0, 0.01, shift_hz=3.0, steady_share=1.0)
    gain = tap_gain(tap, Stretch(1_200, 1_000, 1_201, 15.0), generator(1))
    assert gain[400] == pytest.approx(gain[0], abs=1e-9)
    assert gain[200] == pytest.approx(-gain[0], abs=1e-9)


@pytest.mark.derived
@pytest.mark.parametrize(("spread_hz", "duration_s"), [(0.1, 12.64), (1.0, 12.64), (0.5, 1000.0)])
def test_number_of_independent_fades(spread_hz, duration_s):
    """Closed form for one spread; sqrt(pi) B T for a long time, 1 for a short one."""
    a = math.pi * spread_hz
    root = math.sqrt(math.pi) / a
    form = duration_s * root * math.erf(a * duration_s) - (
        -math.expm1(-((a * duration_s) ** 2)) / a**2
    )
    n = independent_fades([Tap(0.0, spread_hz), Tap(0.002, spread_hz)], duration_s)
    assert n == pytest.approx(duration_s**2 / form, rel=1e-6)
    assert independent_fades([Tap(0.0, spread_hz)], 1e-4) == pytest.approx(1.0, abs=1e-6)


@pytest.mark.derived
def test_mean_power_scatters_as_that_many_fades():
    """Variance of the mean power over 4 s at B = 0.5 Hz with a shifted second path."""
    taps = [Tap(0.0, 0.5), Tap(0.0, 0.5, shift_hz=0.6)]
    draw = generator(9)
    stretch = Stretch(64, 0, 256, 4.0)
    powers = [
        np.mean(np.abs(sum(tap_gain(tap, stretch, draw) for tap in taps)) ** 2) / 2.0
        for _ in range(3_000)
    ]
    # A variance of 3000 values is known to about 4 %.
    assert 1.0 / np.var(powers) == pytest.approx(independent_fades(taps, 4.0), rel=0.14)


@pytest.mark.derived
@pytest.mark.parametrize("spread_hz", [0.11, 1.0, 29.0])
def test_interpolation_error(spread_hz):
    """Against the sum over the same draws without any interpolation: -100 dB and better."""
    rate_hz = 12_000
    n_per_step = 2 ** math.floor(math.log2(rate_hz / (6.0 * spread_hz)))
    noise_hz = rate_hz / n_per_step
    n_before = math.ceil(MARGIN_S * noise_hz) + math.ceil(1.4 * noise_hz / spread_hz) + 1
    n_inside = math.ceil(15.0 * noise_hz)
    draws = generator(2).standard_normal((2 * n_before + n_inside, 2)) @ [1.0, 1.0j]
    at_s = (np.arange(draws.size) - n_before) / noise_hz
    first, n = 40_000, 6 * n_per_step
    times_s = (first + np.arange(0, n, max(1, n // 800))) / rate_hz
    response = np.exp(-((math.pi * spread_hz * (times_s[:, None] - at_s)) ** 2))
    exact = response @ draws / np.sqrt(2.0 * np.sum(response**2, axis=1))
    made = rayleigh_gain(spread_hz, Stretch(rate_hz, first, n, 15.0), generator(2))
    got = made[:: max(1, n // 800)]
    error = np.linalg.norm(got - exact[: got.size]) / np.linalg.norm(exact)
    assert error < 1e-5
