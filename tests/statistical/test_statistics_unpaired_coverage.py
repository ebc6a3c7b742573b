"""How often the interval of a difference of unpaired curves holds the truth."""

import numpy as np
import pytest
from scipy.stats import binom, norm

from solidcopy.statistics.comparison import Penalty, penalty
from solidcopy.statistics.sides import Side, apart

VALUES = np.arange(-24.0, -15.5, 1.0)


def campaign(midpoint: float, scale: float, n_trials: int, generator: np.random.Generator) -> Side:
    flags = {}
    for value in VALUES:
        decoded = generator.uniform(size=n_trials) < norm.cdf((value - midpoint) / scale)
        flags[float(value)] = (decoded, np.ones(n_trials, np.bool_))
    return Side(flags, "dB")


def held(n_campaigns: int, n_a: int, n_b: int, p: float) -> tuple[int, int]:
    """Intervals that hold the truth, and intervals given."""
    generator = np.random.default_rng(20261125)
    truth = 1.3 + (1.0 - 0.8) * norm.ppf(p)
    n_held, n_given = 0, 0
    for _ in range(n_campaigns):
        a = campaign(-20.4, 0.8, n_a, generator)
        b = campaign(-19.1, 1.0, n_b, generator)
        found = penalty(apart(a, b), p=p)
        if isinstance(found, Penalty):
            n_given += 1
            n_held += found.interval.holds(truth)
    return n_held, n_given


def limits(n_given: int) -> tuple[float, float]:
    """Nominal 95 %: counts outside happen once in 1000 if coverage lies between 93.5 and 96 %."""
    return float(binom.ppf(0.0005, n_given, 0.935)), float(binom.ppf(0.9995, n_given, 0.96))


@pytest.mark.derived
def test_unpaired_intervals_hold_the_truth() -> None:
    n_held, n_given = held(80, 50, 70, 0.5)
    low, high = limits(n_given)
    assert n_given >= 78 and low <= n_held <= high


@pytest.mark.sweep
@pytest.mark.derived
@pytest.mark.parametrize(("n_a", "n_b", "p"), [(50, 50, 0.5), (40, 120, 0.9)])
def test_unpaired_intervals_hold_the_truth_in_many_campaigns(n_a: int, n_b: int, p: float) -> None:
    n_held, n_given = held(1000, n_a, n_b, p)
    low, high = limits(n_given)
    print(f"held {n_held} of {n_given} at n = {n_a} and {n_b}, p = {p:g}")
    assert n_given >= 980 and low <= n_held <= high
