"""How often intervals of reported levels hold the truth."""

import numpy as np
import pytest
from scipy.stats import binom

from solidcopy.statistics.evidence import NoEvidence
from solidcopy.statistics.report_line import ReportLine, excess_of, fit_report_line
from solidcopy.statistics.reported import Mean, Reports, mean_of, median_of, power_mean_of

N_CAMPAIGNS = 600
SCATTER_DB = 1.5
LIMITS = binom.ppf([0.0005, 0.9995], N_CAMPAIGNS, [0.93, 0.97])
"""A coverage of 93 to 97 % stays inside 999 times of 1000; nominal is 95 %."""


def is_near_nominal(n_held: int) -> bool:
    return bool(LIMITS[0] <= n_held <= LIMITS[1])


@pytest.mark.derived
def test_intervals_of_means_and_medians_hold_the_truth() -> None:
    generator = np.random.default_rng(1)
    held = {"mean": 0, "powers": 0, "median": 0}
    # Mean of the powers of a normal scatter in dB: half its variance in natural units above.
    powers_db = SCATTER_DB**2 * np.log(10.0) / 20.0
    for _ in range(N_CAMPAIGNS):
        values, groups = SCATTER_DB * generator.standard_normal(60), np.arange(60)
        mean, powers = mean_of(values, groups), power_mean_of(values, groups)
        median = median_of(values, groups)
        assert isinstance(mean, Mean) and isinstance(powers, Mean)
        assert not isinstance(median, NoEvidence)
        held["mean"] += mean.interval.holds(0.0)
        held["powers"] += powers.interval.holds(float(powers_db))
        held["median"] += median[1].holds(0.0)
    assert is_near_nominal(held["mean"]), held
    assert is_near_nominal(held["powers"]), held
    # Between order statistics it is at least nominal; of 60 exactly 97.3 % (binomial, 22 to 39).
    assert held["median"] >= LIMITS[0], held


@pytest.mark.derived
def test_intervals_over_groups_hold_the_truth() -> None:
    generator, n_held = np.random.default_rng(2), 0
    for _ in range(N_CAMPAIGNS):
        groups = np.repeat(np.arange(15), 4)
        values = generator.standard_normal(60) + np.repeat(generator.standard_normal(15), 4)
        found = mean_of(values, groups)
        assert isinstance(found, Mean)
        n_held += found.interval.holds(0.0)
    assert is_near_nominal(n_held), n_held


@pytest.mark.derived
def test_intervals_of_a_line_and_of_an_excess_hold_the_truth() -> None:
    # Below the line, reports are missing by pure chance: then nothing is too high.
    generator = np.random.default_rng(3)
    held = {"offset": 0, "slope": 0, "excess": 0}
    for _ in range(N_CAMPAIGNS):
        points = []
        for value in (-22.0, -20.0, -18.0, -16.0, -14.0):
            scatter_db = 1.0 + 0.1 * abs(value + 14.0)  # more of it where the signal is weaker
            reported = 0.4 + value + scatter_db * generator.standard_normal(50)
            flags = generator.uniform(size=50) < (0.5 if value == -22.0 else 1.0)
            truth = np.full(50, value)
            points.append(Reports(value, np.arange(50), truth, flags, reported))
        line = fit_report_line(points)
        assert isinstance(line, ReportLine)
        excess = excess_of(points[0], line)
        assert not isinstance(excess, NoEvidence)
        held["offset"] += line.offset.interval.holds(0.4)
        held["slope"] += line.slope.interval.holds(1.0)
        held["excess"] += excess.value.interval.holds(0.0)
    assert is_near_nominal(held["offset"]) and is_near_nominal(held["slope"]), held
    # The smaller of two numbers of degrees of freedom makes this interval a little long.
    assert held["excess"] >= LIMITS[0], held
