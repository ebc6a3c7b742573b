"""Planned numbers of trials against statsmodels' power functions, scipy and simulated campaigns."""

import math

import numpy as np
import pytest
from scipy import special, stats
from statsmodels.stats.power import NormalIndPower

from solidcopy.statistics.evidence import Interval
from solidcopy.statistics.pairs import mcnemar_exact
from solidcopy.statistics.pairs_planning import Unlike, mcnemar_power, pairs_for_power
from solidcopy.statistics.planning import (
    AssumedCurve,
    detecting_error,
    placed_trials_for,
    trials_for,
    trials_for_half_width,
    trials_to_find,
    wanted_error,
)
from solidcopy.statistics.points import Points
from solidcopy.statistics.threshold import Threshold, read_threshold

VALUES = np.arange(-24.0, -17.9, 1.0)


@pytest.mark.authority
@pytest.mark.parametrize("power", [0.8, 0.9, 0.99])
@pytest.mark.parametrize("risk", [0.01, 0.05])
def test_trials_for_a_difference(power, risk):
    # statsmodels NormalIndPower (one sample: ratio 0) also counts differences found on the wrong
    # side, which at these powers is nothing.
    one_trial, difference = 0.7, 0.5
    solver = NormalIndPower(ddof=0)
    n = solver.solve_power(effect_size=difference / one_trial, power=power, alpha=risk, ratio=0)
    planned = trials_for(one_trial, detecting_error(difference, power=power, risk=risk))
    assert planned == int(np.ceil(n))
    # A duel of 40 trials with the interval of that standard error plans the same number in all.
    z = special.ndtri(1.0 - risk / 2.0)
    half = float(z) * one_trial / np.sqrt(40)
    interval = Interval(0.3 - half, 0.3 + half, 1.0 - risk, "any")
    more = trials_to_find(interval, 40, difference, power=power)
    assert more == max(0, planned - 40)


@pytest.mark.authority
@pytest.mark.parametrize(("n", "p_only_a", "p_only_b"), [(60, 0.2, 0.05), (200, 0.06, 0.02)])
def test_power_of_the_exact_test_by_writing_out_all_counts(n, p_only_a, p_only_b):
    # scipy's multinomial over every pair of counts.
    expected = 0.0
    for a in range(n + 1):
        for b in range(n + 1 - a):
            if a > b and mcnemar_exact(a, b) <= 0.05:
                expected += stats.multinomial.pmf(
                    [a, b, n - a - b], n, [p_only_a, p_only_b, 1.0 - p_only_a - p_only_b]
                )
    assert mcnemar_power(n, Unlike(p_only_a, p_only_b)) == pytest.approx(expected, abs=1e-6)


@pytest.mark.authority
def test_pairs_for_power_near_the_normal_formula():
    # statsmodels' normal power of the net wins: mean a − b, variance a + b − (a − b)².
    unlike = Unlike(0.10, 0.06)
    net = unlike.p_only_a - unlike.p_only_b
    effect = net / np.sqrt(unlike.share - net**2)
    n = NormalIndPower(ddof=0).solve_power(effect_size=effect, power=0.9, alpha=0.05, ratio=0)
    found = pairs_for_power(unlike, power=0.9)
    # The exact test needs a few more, as its counts are whole.
    assert n < found < 1.06 * n
    assert mcnemar_power(found, unlike) >= 0.9
    assert pairs_for_power(Unlike(0.1, 0.1), power=0.9) is None


@pytest.mark.derived
@pytest.mark.parametrize(
    ("scale", "p", "lapse"), [(0.8, 0.5, 0.0), (0.8, 0.9, 0.0), (0.8, 0.5, 0.03)]
)
def test_planned_half_widths_are_those_of_simulated_campaigns(scale, p, lapse):
    generator = np.random.default_rng(411)
    values = np.arange(-25.0, -16.9, 1.0)
    wanted = 0.2
    n = trials_for(AssumedCurve(-21.0, scale, lapse).anywhere(values, p), wanted_error(wanted))
    widths = []
    for _ in range(24):
        midpoint = -21.5 + generator.uniform(0.0, 1.0)
        k = generator.binomial(n, (1.0 - lapse) * special.ndtr((values - midpoint) / scale))
        found = read_threshold(Points(values, k, np.full(values.size, n)), p=p)
        assert isinstance(found, Threshold)
        widths.append(found.interval.half_width)
    assert np.mean(widths) == pytest.approx(wanted, rel=0.08)


@pytest.mark.authority
def test_the_rule_of_spearman_and_karber_agrees_on_a_fine_axis():
    # FACTS E5: n = (d s / √π) (z / h)²; the axis holds the whole rise.
    values = np.arange(-27.0, -14.9, 0.5)
    planned = trials_for(AssumedCurve(-21.0, 0.8).anywhere(values, 0.5), wanted_error(0.1))
    assert planned == pytest.approx(trials_for_half_width(0.8, 0.5, 0.1), rel=0.02)


@pytest.mark.derived
def test_a_curve_off_the_axis_has_no_number():
    assert trials_for(AssumedCurve(0.0, 0.3).standard_error(VALUES, 0.5), 0.1) is None
    assert trials_for(AssumedCurve(-21.0, 0.8, 0.2).standard_error(VALUES, 0.9), 0.1) is None
    assert placed_trials_for(math.inf, 0.1, worth=1.3) is None
    assert math.isinf(AssumedCurve(-21.0, 0.8, 0.2).placed_error(0.9))
    for numbers in ((0.0, 0.9, 0.05), (1.0, 0.4, 0.05), (1.0, 0.9, 0.0)):
        with pytest.raises(ValueError, match="impossible"):
            detecting_error(numbers[0], power=numbers[1], risk=numbers[2])


@pytest.mark.derived
def test_placed_trials_follow_the_best_place():
    # One trial at the threshold of a known normal curve: √(π/2) times its scale.
    assert AssumedCurve(3.0, 0.8).placed_error(0.5) == pytest.approx(0.8 * np.sqrt(np.pi / 2.0))


MEASURED = (
    # scale in dB, lapse, share, mean trials of 400 adaptively placed campaigns: ±0.1 dB over an
    # unknown 12 dB in steps of 0.5 dB (tests/statistical/test_placement_sweep.py).
    (0.3, 0.0, 0.5, 175),
    (0.5, 0.0, 0.5, 240),
    (0.8, 0.0, 0.5, 551),
    (0.8, 0.0, 0.9, 1098),
    (0.8, 0.03, 0.5, 583),
    (0.8, 0.03, 0.9, 1846),
    (1.2, 0.0, 0.5, 1171),
    (1.2, 0.0, 0.9, 2382),
    (2.0, 0.0, 0.5, 3198),
)


@pytest.mark.derived
@pytest.mark.parametrize(("scale", "lapse", "p", "measured"), MEASURED)
def test_placed_trials_are_those_of_simulated_campaigns(scale, lapse, p, measured):
    curve = AssumedCurve(-21.0, scale, lapse)
    worth = curve.placed_worth(p)
    planned = placed_trials_for(curve.placed_error(p), wanted_error(0.1), worth=worth)
    assert planned == pytest.approx(measured, rel=0.04)


@pytest.mark.derived
def test_placement_never_ends_before_the_scale_is_known():
    # 161 to 205 trials in 60 simulated campaigns each, scales of 0.3 to 2 dB, ±0.2 to 1 dB.
    curve = AssumedCurve(-21.0, 0.8)
    planned = placed_trials_for(curve.placed_error(0.5), wanted_error(0.5), worth=1.32)
    assert planned == pytest.approx(171, rel=0.06)


@pytest.mark.derived
def test_unlike_trials_by_simulation():
    generator = np.random.default_rng(412)
    a, b = AssumedCurve(-21.0), AssumedCurve(-20.5)
    # Outcomes with a common luck: their correlation is measured first, then handed in.
    n = 40_000
    luck = np.sqrt(0.7) * generator.normal(size=n)
    own = np.sqrt(0.3) * generator.normal(size=(2, VALUES.size, n))
    decoded = [
        (luck + own[side]) * 0.8 < (VALUES - curve.midpoint)[:, None]
        for side, curve in enumerate((a, b))
    ]
    off = [d - c.probability(VALUES)[:, None] for d, c in zip(decoded, (a, b), strict=True)]
    spread = [c.probability(VALUES) * (1.0 - c.probability(VALUES)) for c in (a, b)]
    correlation = (off[0] * off[1]).mean(axis=1).sum() / np.sqrt(spread[0] * spread[1]).sum()
    found = Unlike.of(a, b, VALUES, float(correlation))
    assert found.p_only_a == pytest.approx((decoded[0] & ~decoded[1]).mean(), abs=0.008)
    assert found.p_only_b == pytest.approx((decoded[1] & ~decoded[0]).mean(), abs=0.008)
    assert found.share_a > 0.8
