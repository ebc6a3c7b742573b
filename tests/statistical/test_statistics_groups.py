"""Where trials share their luck in groups: do intervals, differences and tests still keep to 95 %?

Made-up campaigns of groups of ten. `make validate` runs the same at `N_SWEPT` campaigns a cell.
"""

import numpy as np
import pytest

from solidcopy.statistics.clusters import clustering_of, clustering_of_rare
from solidcopy.statistics.comparison import Penalty, penalty
from solidcopy.statistics.interval import clopper_pearson, wilson
from solidcopy.statistics.pairs import (
    PairedPoint,
    PairedTrials,
    equal_shares_p,
    mcnemar_exact,
    sign_flip,
)

N_SWEPT = 1_000
TOGETHER = 10
VALUES = np.arange(-27.0, 2.0, 1.5)


def rare_events(law, n_groups, generator):
    """Some groups are bad, and most events fall into those: flags of every axis value."""
    p_bad, p_event, n_values = law
    scored = np.full(n_groups * TOGETHER, True)
    for _ in range(n_values):
        is_bad = np.repeat(generator.random(n_groups) < p_bad, TOGETHER)
        yield is_bad & (generator.random(scored.size) < p_event), scored


RARE = {
    "independent": (1.0, 0.02, 12),
    "bad groups": (0.1, 0.5, 12),
    "few bad groups": (0.01, 0.8, 12),
    "all alike": (0.05, 1.0, 12),
    "one value": (0.1, 0.5, 1),
}


def rare_coverage(law, n_groups, n_campaigns, generator):
    """Shares of campaigns whose interval holds the true rate: with groups, and without."""
    held = np.zeros(2)
    for _ in range(n_campaigns):
        rows = list(rare_events(law, n_groups, generator))
        k, n = (sum(int(row[part].sum()) for row in rows) for part in (0, 1))
        for way, found in enumerate((clustering_of_rare(rows, TOGETHER), None)):
            held[way] += clopper_pearson(k, n, clustering=found).holds(law[0] * law[1])
    return held / n_campaigns


def test_intervals_of_rare_events_in_groups():
    generator = np.random.default_rng(301)
    for name, law in RARE.items():
        grouped, alone = rare_coverage(law, 20, 200, generator)
        assert grouped > 0.90, name  # 95 % of 200: standard deviation 1.5 %
        if name in ("bad groups", "all alike"):
            assert alone < 0.85


@pytest.mark.sweep
@pytest.mark.parametrize("n_groups", [5, 10, 20, 50])
@pytest.mark.parametrize("name", RARE)
def test_intervals_of_rare_events_over_a_grid(name, n_groups):
    generator = np.random.default_rng(302)
    grouped, alone = rare_coverage(RARE[name], n_groups, N_SWEPT, generator)
    print(f"{name}, {n_groups} groups at a value: {grouped:.3f} with, {alone:.3f} without groups")
    assert grouped > 0.92


WAYS = ("two receivers", "two fadings", "one side in groups")


def two_sides(way, n_groups, shift_db, generator):
    """Side b needs `shift_db` more. Ways: two receivers behind one fading; two fadings of their
    own; fading drawn anew for every trial of side a, beside groups on side b."""
    points = []
    for value in VALUES:
        fading = np.repeat(generator.exponential(size=(n_groups, 2)), TOGETHER, axis=0)
        fading_db = 10.0 * np.log10(fading)
        if way == "two receivers":
            fading_db[:, 1] = fading_db[:, 0]
        if way == "one side in groups":
            fading_db[:, 0] = 10.0 * np.log10(generator.exponential(size=len(fading)))
        common = generator.standard_normal((len(fading), 1))
        own = generator.standard_normal((len(fading), 2))
        snr_db = value + fading_db + 0.6 * common + 0.5 * own
        decoded = snr_db > -16.0 + np.array([0.0, shift_db])
        run = np.full(len(fading), True)
        points.append(PairedPoint(float(value), decoded[:, 0], decoded[:, 1], run, run))
    together = (1 if way == "one side in groups" else TOGETHER, TOGETHER)
    return PairedTrials(tuple(points), "dB", together)


def penalty_coverage(way, n_groups, n_campaigns, generator):
    """Coverage of the difference of two 50 % points of equal curves, and its mean correlation."""
    held, correlations = 0, []
    for _ in range(n_campaigns):
        found = penalty(two_sides(way, n_groups, 1.0, generator), form="outage")
        assert isinstance(found, Penalty)
        held += found.interval.holds(1.0)
        correlations.append(found.correlation)
    return held / n_campaigns, float(np.mean(correlations))


@pytest.mark.parametrize(("way", "least"), [("two receivers", 0.8), ("two fadings", -0.2)])
def test_differences_of_grouped_sides(way, least):
    held, correlation = penalty_coverage(way, 12, 60, np.random.default_rng(303))
    assert held > 0.86  # 95 % of 60: standard deviation 2.8 %
    assert least < correlation < least + 0.35


@pytest.mark.sweep
@pytest.mark.parametrize("n_groups", [5, 10, 20])
@pytest.mark.parametrize("way", WAYS)
def test_differences_of_grouped_sides_over_a_grid(way, n_groups):
    held, correlation = penalty_coverage(way, n_groups, N_SWEPT, np.random.default_rng(304))
    print(f"{way}, {n_groups} groups: {held:.3f}, correlation {correlation:.2f}")
    assert 0.92 < held <= 1.0


def false_alarms(way, n_groups, n_campaigns, generator):
    """How often sides of equal merit differ at 5 %: with regard to groups, and without."""
    alarms = np.zeros(2)
    for _ in range(n_campaigns):
        paired = two_sides(way, n_groups, 0.0, generator)
        n_a, n_b = (sum(getattr(p, f"n_only_{s}") for p in paired.points) for s in "ab")
        alarms += np.array([equal_shares_p(paired), mcnemar_exact(n_a, n_b)]) < 0.05
    return alarms / n_campaigns


def test_alarms_of_grouped_sides_at_single_axis_values():
    generator, alarms, n = np.random.default_rng(307), np.zeros(2), 0
    for _ in range(150):
        paired = two_sides("two fadings", 12, 0.0, generator)
        for point in paired.points:
            one = PairedTrials((point,), paired.unit, paired.n_together)
            by_groups = sign_flip(one.net_by_group())
            alone = mcnemar_exact(point.n_only_a, point.n_only_b)
            alarms += np.array([by_groups, alone]) < 0.05
            n += 1
    assert alarms[0] / n < 0.05 + 3.0 * np.sqrt(0.05 * 0.95 / n)
    assert alarms[1] / n > 0.1


def test_alarms_of_grouped_sides():
    grouped, alone = false_alarms("two fadings", 12, 200, np.random.default_rng(305))
    assert grouped < 0.10  # 5 % of 200: standard deviation 1.5 %
    assert alone > 0.2


@pytest.mark.sweep
@pytest.mark.parametrize("n_groups", [5, 10, 20])
@pytest.mark.parametrize("way", WAYS)
def test_alarms_of_grouped_sides_over_a_grid(way, n_groups):
    grouped, alone = false_alarms(way, n_groups, N_SWEPT, np.random.default_rng(306))
    print(f"{way}, {n_groups} groups: {grouped:.3f} with, {alone:.3f} without regard to groups")
    assert grouped < 0.075


def wilson_coverage(p_alike, n_groups, n_campaigns, generator):
    """Share of points whose interval holds the truth, the middle of a curve and its shoulder."""
    held, shares = np.zeros(2), np.linspace(0.1, 0.9, 12)
    scored = np.full(n_groups * TOGETHER, True)
    for _ in range(n_campaigns):
        luck = generator.random((shares.size, scored.size))
        shared = np.repeat(generator.random((shares.size, n_groups)), TOGETHER, axis=1)
        luck = np.where(generator.random(luck.shape) < p_alike, shared, luck)
        rows = [(draws < p, scored) for draws, p in zip(luck, shares, strict=True)]
        for way, found in enumerate((clustering_of(rows, TOGETHER), None)):
            held[way] += np.mean(
                [
                    wilson(int(decoded.sum()), scored.size, clustering=found).holds(p)
                    for (decoded, _), p in zip(rows, shares, strict=True)
                ]
            )
    return held / n_campaigns


def test_shares_of_grouped_points():
    grouped, alone = wilson_coverage(0.8, 12, 60, np.random.default_rng(307))
    assert 0.93 < grouped < 0.98  # 95 % of 720 intervals: standard deviation 0.8 %
    assert alone < 0.8
