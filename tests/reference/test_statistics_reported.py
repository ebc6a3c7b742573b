"""Means of reported levels against scipy and statsmodels, and the trap of the lucky few."""

import numpy as np
import pytest
import scipy.stats
import statsmodels.api as sm

from solidcopy.statistics.evidence import NoEvidence
from solidcopy.statistics.report_line import ReportLine, excess_of, fit_report_line
from solidcopy.statistics.reported import (
    FULL_SHARE,
    Mean,
    Reports,
    luck,
    mean_of,
    median_of,
    paired_difference,
    power_mean_of,
)

SCATTER_DB = 1.5
CUT_DB = -21.0
"""A receiver of the tests decodes a trial if what it would report exceeds this."""


def alone(n: int) -> np.ndarray:
    return np.arange(n)


def reports_at(
    truth_db: float,
    n: int,
    generator: np.random.Generator,
    *,
    cut_db: float = CUT_DB,
    offset_db: float = 0.0,
) -> Reports:
    """Reports with a normal scatter of which only those above the cut are made."""
    reported = truth_db + offset_db + SCATTER_DB * generator.standard_normal(n)
    return Reports(truth_db, np.arange(n), np.full(n, truth_db), reported > cut_db, reported)


def truncated_mean(truth_db: float) -> float:
    """Of a normal distribution cut off below CUT_DB. Outside reference: scipy.stats.truncnorm."""
    low = (CUT_DB - truth_db) / SCATTER_DB
    return float(scipy.stats.truncnorm.mean(low, np.inf, loc=truth_db, scale=SCATTER_DB))


@pytest.mark.authority
def test_a_mean_has_students_interval() -> None:
    values = np.random.default_rng(1).normal(-15.0, 2.0, 37)
    found = mean_of(values, alone(37))
    assert isinstance(found, Mean)
    # Outside reference: scipy's one-sample t test.
    expected = scipy.stats.ttest_1samp(values, 0.0).confidence_interval(0.95)
    assert found.interval.low == pytest.approx(expected.low, abs=1e-12)
    assert found.interval.high == pytest.approx(expected.high, abs=1e-12)


@pytest.mark.authority
def test_groups_have_the_cluster_robust_error() -> None:
    generator = np.random.default_rng(2)
    groups = np.repeat(np.arange(12), 5)
    values = generator.normal(size=60) + np.repeat(generator.normal(size=12), 5)
    found = mean_of(values, groups)
    assert isinstance(found, Mean) and found.n_degrees == 11
    # Outside reference: statsmodels' clustered covariance; its small-sample factor is
    # G/(G-1) (n-1)/(n-k), and k = 1 here leaves G/(G-1).
    fit = sm.OLS(values, np.ones(60)).fit(cov_type="cluster", cov_kwds={"groups": groups})
    assert found.standard_error == pytest.approx(float(fit.bse[0]), rel=1e-9)


@pytest.mark.authority
def test_a_median_lies_between_two_order_statistics() -> None:
    values = np.random.default_rng(3).normal(size=41)
    found = median_of(values, alone(41))
    assert not isinstance(found, NoEvidence)
    # Outside reference: scipy's quantile test, whose one-sided ends at 97.5 % make the interval.
    ends = [
        scipy.stats.quantile_test(values, q=0.0, p=0.5, alternative=side).confidence_interval(0.975)
        for side in ("greater", "less")
    ]
    assert found[0] == float(np.median(values))
    assert found[1].low == ends[0].low and found[1].high == ends[1].high


@pytest.mark.authority
def test_the_mean_of_powers_lies_above_the_mean_of_db_values() -> None:
    values = np.random.default_rng(4).normal(-15.0, 2.0, 40_000)
    of_db, of_powers = mean_of(values, alone(40_000)), power_mean_of(values, alone(40_000))
    assert isinstance(of_db, Mean) and isinstance(of_powers, Mean)
    # Outside reference: mean of scipy's log-normal distribution.
    shape = 2.0 * np.log(10.0) / 10.0
    scale = 10.0 ** (-15.0 / 10.0)
    expected = 10.0 * np.log10(scipy.stats.lognorm.mean(shape, scale=scale))
    assert of_powers.value == pytest.approx(expected, abs=3.0 * of_powers.standard_error)
    assert of_powers.value - of_db.value == pytest.approx(0.115 * 2.0**2, abs=0.05)


@pytest.mark.authority
@pytest.mark.parametrize("share", [0.01, 0.3, 0.5, 0.95, 1.0])
def test_luck_is_the_mean_of_a_truncated_normal(share: float) -> None:
    # Outside reference: scipy.stats.truncnorm.
    low = scipy.stats.norm.ppf(1.0 - share)
    assert luck(share) == pytest.approx(float(scipy.stats.truncnorm.mean(low, np.inf)), abs=1e-9)


@pytest.mark.authority
def test_three_db_more_signal_shows_as_less_in_the_mean_of_the_decoded() -> None:
    # "Truth +3.0 dB; mean of the decoded says less." The receiver's reports are true on average
    # (offset 0), and it decodes what it would report above the cut.
    generator = np.random.default_rng(5)
    weak, strong = (reports_at(truth, 20_000, generator) for truth in (-22.5, -19.5))
    means = [float(side.heard_db.mean()) for side in (weak, strong)]
    # Outside reference: scipy.stats.truncnorm.
    expected = truncated_mean(-19.5) - truncated_mean(-22.5)
    assert expected < 1.6
    assert means[1] - means[0] == pytest.approx(expected, abs=0.06)
    # The share that was reported tells of the trap: neither mean may be taken at its word.
    assert not weak.is_full and not strong.is_full


@pytest.mark.authority
def test_the_excess_is_that_of_the_truncated_normal() -> None:
    generator = np.random.default_rng(6)
    points = [reports_at(truth, 4000, generator) for truth in np.arange(-23.0, -9.5, 1.0)]
    line = fit_report_line(points)
    assert isinstance(line, ReportLine)
    assert all(p.share >= FULL_SHARE for p in points if p.value >= line.span[0])
    assert line.slope.value == pytest.approx(1.0, abs=0.02)
    assert line.scatter_db == pytest.approx(SCATTER_DB, rel=0.03)
    for point in points[:3]:
        found = excess_of(point, line)
        assert not isinstance(found, NoEvidence)
        # Outside reference: scipy.stats.truncnorm.
        expected = truncated_mean(point.value) - point.value
        assert found.limit_db == pytest.approx(expected, rel=0.06)
        assert found.value.value == pytest.approx(expected, abs=0.25)


@pytest.mark.authority
def test_a_line_is_that_of_least_squares_with_a_robust_covariance() -> None:
    generator = np.random.default_rng(7)
    points = []
    for value in (-10.0, -6.0, -2.0, 2.0):
        truth = value + 0.3 * generator.standard_normal(30)
        reported = 1.2 + 0.9 * truth + (1.0 + 0.1 * abs(value)) * generator.standard_normal(30)
        flags = np.ones(30, np.bool_)
        points.append(Reports(value, np.arange(30), truth, flags, reported, n_together=3))
    line = fit_report_line(points)
    assert isinstance(line, ReportLine)
    truth = np.concatenate([p.truth_db for p in points])
    reported = np.concatenate([p.reported_db for p in points])
    groups = np.concatenate([100 * i + p.index // 3 for i, p in enumerate(points)])
    # Outside reference: statsmodels.
    fit = sm.OLS(reported - truth, sm.add_constant(truth - truth.mean())).fit(
        cov_type="cluster", cov_kwds={"groups": groups}
    )
    assert line.offset.value == pytest.approx(float(fit.params[0]), abs=1e-10)
    assert line.slope.value - 1.0 == pytest.approx(float(fit.params[1]), abs=1e-10)
    assert line.covariance == pytest.approx(np.asarray(fit.cov_params()), rel=1e-9)


@pytest.mark.derived
def test_pairs_are_free_of_the_luck_that_both_sides_share() -> None:
    # The second receiver reads 0.7 dB high and decodes far more. Alone, its mean report is lower
    # than the other's, as it counts trials that the other lost; in pairs it is 0.7 dB higher.
    generator = np.random.default_rng(8)
    n, pairs = 4000, []
    for truth in (-22.0, -20.0, -14.0):
        common = truth + SCATTER_DB * generator.standard_normal(n)
        flags = common > CUT_DB, common > CUT_DB - 3.0
        first, second = (
            Reports(truth, np.arange(n), np.full(n, truth), flag, common + offset)
            for flag, offset in zip(flags, (0.0, 0.7), strict=True)
        )
        pairs.append((first, second))
    alone_db = pairs[0][1].heard_db.mean() - pairs[0][0].heard_db.mean()
    n_pairs, difference = paired_difference(pairs, is_full_only=False)
    assert alone_db < -0.5
    assert n_pairs == sum(first.n_reported for first, _ in pairs)
    assert isinstance(difference, Mean) and difference.value == pytest.approx(0.7, abs=1e-9)
    n_full, full = paired_difference(pairs, is_full_only=True)
    assert n_full == n and isinstance(full, Mean)


@pytest.mark.derived
def test_luck_of_one_receiver_alone_stays_in_pairs_and_goes_where_nearly_all_is_reported() -> None:
    # Scatter of its own in each receiver, and only the first one chooses: its luck stays.
    generator = np.random.default_rng(9)
    n = 20_000
    points = []
    for truth in (-22.0, -12.0):
        first = reports_at(truth, n, generator)
        second = reports_at(truth, n, generator, cut_db=-np.inf)
        points.append((first, second))
    _, all_pairs = paired_difference(points[:1], is_full_only=False)
    _, full = paired_difference(points, is_full_only=True)
    assert isinstance(all_pairs, Mean) and isinstance(full, Mean)
    assert all_pairs.value == pytest.approx(-(truncated_mean(-22.0) + 22.0), abs=0.08)
    assert full.value == pytest.approx(0.0, abs=4.0 * full.standard_error)


def test_a_handful_of_reports_is_no_mean() -> None:
    assert isinstance(mean_of(np.zeros(4), alone(4)), NoEvidence)
    assert isinstance(mean_of(np.zeros(40), np.zeros(40, np.int64)), NoEvidence)
    assert isinstance(median_of(np.zeros(5), alone(5)), NoEvidence)
    assert isinstance(median_of(np.zeros(40), np.arange(40) // 2), NoEvidence)


def test_no_line_without_a_range_of_full_reports() -> None:
    generator = np.random.default_rng(10)
    few = [reports_at(truth, 50, generator) for truth in (-23.0, -22.0, -21.0)]
    found = fit_report_line(few)
    assert isinstance(found, NoEvidence) and "95 %" in found.reason
    same = [reports_at(truth, 50, generator) for truth in (-10.0, -9.8, -9.5)]
    found = fit_report_line(same)
    assert isinstance(found, NoEvidence) and "no slope" in found.reason
