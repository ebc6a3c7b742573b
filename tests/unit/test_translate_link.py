"""dB as watts, S-units and distance; a path's budget line by line; curves drawn by likelihood."""

import numpy as np
import pytest

from solidcopy.statistics.clusters import Clustering
from solidcopy.statistics.curve import Curve
from solidcopy.statistics.points import Points
from solidcopy.statistics.threshold import Threshold, read_curve
from solidcopy.translate.curve_draws import CurveDraws, draw_curves
from solidcopy.translate.link import Link, budget, free_space_loss_db
from solidcopy.translate.power import Ends, dbm_from_watts, translated


@pytest.mark.authority
@pytest.mark.parametrize(
    ("shift_db", "ratio"),
    # Rules of thumb of the trade (NEEDS 1.2): 1 dB = 26 %, 3 dB = double, 13 dB: 5 W -> 100 W.
    [(1.0, 1.26), (3.0, 2.0), (13.0, 20.0), (-3.0, 0.5)],
)
def test_power_of_a_difference(shift_db, ratio) -> None:
    found = translated(Ends(shift_db, shift_db - 0.5, shift_db + 0.5), 5.0)
    assert found.power_ratio.value == pytest.approx(ratio, rel=0.005)
    assert found.watts.value == pytest.approx(5.0 * ratio, rel=0.005)
    assert found.watts.low < found.watts.value < found.watts.high


@pytest.mark.authority
def test_s_units_and_distance() -> None:
    found = translated(Ends(6.0206, 6.0206, 6.0206), 1.0)
    assert found.s_units.value == pytest.approx(1.0, abs=0.004)  # nominally 6 dB (trade)
    # In free space 6 dB for each doubling of the distance (NEEDS 1.2).
    assert found.free_space_distance.value == pytest.approx(0.5, abs=1e-5)


def test_what_is_no_power_is_refused() -> None:
    with pytest.raises(ValueError, match="more than 0"):
        translated(Ends(1.0, 0.0, 2.0), 0.0)
    with pytest.raises(ValueError, match="low <= value"):
        Ends(1.0, 2.0, 3.0)


@pytest.mark.derived
def test_a_budget_worked_by_hand() -> None:
    """Our own example, worked by hand from the definitions (no handbook was at hand): 20 W, 1 dB of
    cable and a dipole at 7.1 MHz; 125 dB of path; a loop at 5 dB loss; residential median noise."""
    fa_db = 72.5 - 27.7 * 0.85126  # lg 7.1 = 0.85126: 48.920 dB
    link = Link(
        watts=20.0,
        transmit_loss_db=1.0,
        transmit_gain_dbi=2.15,
        path_loss_db=125.0,
        receive_gain_dbi=1.0,
        receive_loss_db=5.0,
        noise_figure_db=12.0,
    )
    found = budget(link, fa_db)
    assert found.transmitted_dbm == pytest.approx(43.010, abs=0.001)  # 10 lg 20 000
    assert found.radiated_dbm == pytest.approx(44.160, abs=0.001)  # - 1 + 2.15
    assert found.received_dbm == pytest.approx(-79.840, abs=0.001)  # - 125 + 1
    assert found.outer_noise_dbm == pytest.approx(-91.076, abs=0.002)  # -139.996 + 48.920
    # fa = 77 983, minus 1, plus 10^1.7 = 50.12: 78 032 -> 48.9227 dB; 0.003 dB above fa alone.
    assert found.total_noise_dbm == pytest.approx(-91.073, abs=0.002)
    assert found.snr_db == pytest.approx(11.233, abs=0.003)


@pytest.mark.derived
def test_where_the_receiver_itself_is_the_noise() -> None:
    # No outer noise but that of k T0 b itself: the receiver's noise figure is the whole.
    found = budget(Link(watts=1.0, path_loss_db=150.0, noise_figure_db=6.0), 0.0)
    assert found.total_noise_dbm == pytest.approx(-139.996 + 6.0, abs=0.002)
    # Loss before the receiver counts in full then.
    lossy = budget(
        Link(watts=1.0, path_loss_db=150.0, noise_figure_db=6.0, receive_loss_db=3.0), 0.0
    )
    assert found.snr_db - lossy.snr_db == pytest.approx(3.0)


@pytest.mark.authority
@pytest.mark.parametrize(("km", "mhz"), [(1.0, 1.0), (100.0, 14.0), (384_400.0, 144.0)])
def test_free_space_loss(km, mhz) -> None:
    # ITU-R P.525 (from memory): 32.4 + 20 lg f + 20 lg d, its constant rounded from 32.45.
    expected = 32.4 + 20.0 * np.log10(mhz) + 20.0 * np.log10(km)
    assert free_space_loss_db(km, mhz) == pytest.approx(expected, abs=0.06)
    assert dbm_from_watts(100.0) == pytest.approx(50.0)  # FACTS G7
    with pytest.raises(ValueError, match="more than 0"):
        free_space_loss_db(0.0, mhz)


def drawn(points: Points, form) -> tuple[CurveDraws, dict[float, Threshold]]:
    reading = read_curve(points, (0.5, 0.9), form=form)
    assert isinstance(reading.curve, Curve)
    return draw_curves(reading.curve, np.random.default_rng(4)), reading.thresholds


def thresholds_of(draws: CurveDraws, p: float) -> np.ndarray:
    """By bisection of each curve."""
    low, high = np.full((draws.n_draws, 1), -40.0), np.full((draws.n_draws, 1), 10.0)
    for _ in range(14):
        middle = (low + high) / 2.0
        is_below = draws.probability(middle) < p
        low, high = np.where(is_below, middle, low), np.where(is_below, high, middle)
    return low[:, 0]


@pytest.mark.derived
@pytest.mark.parametrize("form", ["probit", "faded"])
def test_drawn_curves_scatter_as_the_profile_likelihood_says(form) -> None:
    values = np.arange(-26.0, -9.0, 2.0)
    p = 1.0 / (1.0 + np.exp(-1.2 * (values + 18.3)))
    k = np.random.default_rng(3).binomial(60, p)
    points = Points(values, k, np.full(values.size, 60))
    draws, thresholds = drawn(points, form)
    for share, threshold in thresholds.items():
        low, middle, high = np.quantile(thresholds_of(draws, share), [0.025, 0.5, 0.975])
        width = threshold.interval.high - threshold.interval.low
        assert middle == pytest.approx(threshold.value, abs=0.25 * width)
        # Quantiles of 300 draws scatter by some 7 % of the width.
        assert high - low == pytest.approx(width, rel=0.3)


@pytest.mark.derived
def test_trials_in_groups_say_less() -> None:
    values = np.arange(-22.0, -15.0)
    counts = (np.array([0, 2, 8, 20, 31, 38, 40]), np.full(7, 40))
    alone, _ = drawn(Points(values, *counts), "probit")
    grouped, _ = drawn(Points(values, *counts, "dB", Clustering(4.0, 1e6)), "probit")
    ratio = thresholds_of(grouped, 0.5).std() / thresholds_of(alone, 0.5).std()
    assert ratio == pytest.approx(2.0, abs=0.35)  # the root of the inflation


@pytest.mark.derived
def test_a_perfect_step_leaves_its_whole_gap_open() -> None:
    counts = (np.array([0, 0, 40, 40]), np.full(4, 40))
    draws, _ = drawn(Points(np.array([-22.0, -21.0, -20.0, -19.0]), *counts), "probit")
    halves = thresholds_of(draws, 0.5)
    assert halves.min() < -20.9
    assert halves.max() > -20.1
