"""How often a duel's interval holds the truth, and how often it cries wolf. Seeded simulation.

The cases of `make test` are small; `make validate` runs the same at full size on all cores.
"""

from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import pytest
from scipy import stats
from swept_curves import carried_out

from solidcopy.campaigns.engine import usable_cores
from solidcopy.statistics.comparison import PairedPoint, PairedTrials, Penalty, Verdict
from solidcopy.statistics.duel import (
    paired_counts,
    threshold_difference,
)
from solidcopy.statistics.planning import POWER, trials_to_find

N_SEEDS = 200
"""Duels of each simulated case in `make validate`."""
N_BANK = 400
"""Real trials at each axis value, from which duels of one receiver with itself are drawn."""
VALUES_DB = np.arange(-25.0, -17.5)


@dataclass(frozen=True)
class Case:
    """Two simulated receivers.

    Args:
        shift_db: what B truly needs more.
        n: trials at each axis value.
        shared: share of the luck that is common to a pair.
    """

    shift_db: float
    n: int = 60
    scale_db: float = 0.8
    shared: float = 0.0


def campaign(case: Case, seed: int) -> PairedTrials:
    """The place of the curve between the axis values is drawn as well."""
    generator = np.random.default_rng(seed)
    threshold_db = -21.5 + generator.uniform(-0.5, 0.5)
    run, points = np.full(case.n, True), []
    for value in VALUES_DB:
        own = np.sqrt(1.0 - case.shared) * generator.normal(size=(2, case.n))
        luck = case.scale_db * (np.sqrt(case.shared) * generator.normal(size=case.n) + own)
        a = luck[0] < value - threshold_db
        b = luck[1] < value - threshold_db - case.shift_db
        points.append(PairedPoint(float(value), a, b, run, run))
    return PairedTrials(tuple(points), "dB")


def judged(case: Case, seed: int) -> tuple[bool, str, int]:
    """Whether the interval holds the truth, the verdict, and unlike pairs."""
    trials = campaign(case, seed)
    found = threshold_difference(trials)
    assert isinstance(found, Penalty), found
    n_unlike = paired_counts(trials).n_unlike
    return found.interval.holds(case.shift_db), found.verdict.value, n_unlike


def judged_many(case: Case, seeds: range) -> list[tuple[bool, str, int]]:
    """On all cores."""
    with ProcessPoolExecutor(usable_cores()) as pool:
        return list(pool.map(judged, [case] * len(seeds), seeds, chunksize=5))


FEW_UNLIKE = [
    Case(0.0, shared=0.9999),
    Case(0.05, shared=0.9999),
    Case(0.0, shared=0.99),
    Case(0.1, shared=0.999),
    Case(0.0, n=20, shared=0.99),
    Case(0.0, scale_db=0.4, shared=0.995),
]
"""Receivers so alike that hardly a trial tells them apart."""


@pytest.mark.derived
def test_intervals_of_much_alike_receivers_hold_the_truth():
    """The joined profile intervals alone held 0.05 dB in 83 % of 120 campaigns."""
    held = [judged(case, seed)[0] for case in FEW_UNLIKE[:2] for seed in range(20)]
    assert sum(held) >= stats.binom.ppf(0.001, len(held), 0.95)


@pytest.mark.sweep
@pytest.mark.derived
@pytest.mark.parametrize("case", FEW_UNLIKE)
def test_coverage_of_much_alike_receivers(case):
    found = judged_many(case, range(N_SEEDS))
    held = sum(item[0] for item in found)
    print(f"{case}: {held} of {N_SEEDS}, unlike pairs {np.mean([item[2] for item in found]):.1f}")
    assert held >= stats.binom.ppf(0.005, N_SEEDS, 0.95)


@pytest.mark.sweep
@pytest.mark.derived
@pytest.mark.parametrize("shared", [0.0, 0.5, 0.9])
def test_a_receiver_against_its_equal_shows_no_difference(shared):
    """Both have the same true curve and chance of their own. What is asked is 95 %; the exact test
    behind the verdict is a little stricter than that."""
    found = judged_many(Case(0.0, shared=shared), range(N_SEEDS))
    n_quiet = sum(verdict == Verdict.NOT_SHOWN for _, verdict, _ in found)
    print(f"luck shared {shared}: no difference shown in {n_quiet} of {N_SEEDS}")
    assert n_quiet >= 0.95 * N_SEEDS


@pytest.mark.sweep
@pytest.mark.derived
def test_a_real_receiver_against_itself_shows_no_difference(tmp_path: Path) -> None:
    """On the same trials all answers are alike; on different ones they differ by luck alone."""
    with carried_out(
        tmp_path,
        root_seed=29,
        axis={"start": -24.0, "stop": -18.0, "step": 1.0},
        stop={"trials_per_point": N_BANK, "nothing_sent": 0},
        receivers=[{"kind": "builtin", "effort": "belief-propagation"}],
    ) as journal:
        bank = journal.paired((0, 0), (0, 0))
    generator = np.random.default_rng(30)
    verdicts = {"the same trials": 0, "different trials": 0}
    for _ in range(N_SEEDS):
        same, apart = [], []
        for point in bank.points:
            drawn = generator.permutation(N_BANK)[:120]
            a, b = point.decoded_a[drawn[:60]], point.decoded_a[drawn[60:]]
            run = np.full(60, True)
            same.append(PairedPoint(point.value, a, a, run, run))
            apart.append(PairedPoint(point.value, a, b, run, run))
        for name, points in (("the same trials", same), ("different trials", apart)):
            found = threshold_difference(replace(bank, points=tuple(points)))
            assert isinstance(found, Penalty), found
            verdicts[name] += found.verdict is Verdict.NOT_SHOWN
    print(f"no difference shown, of {N_SEEDS}: {verdicts}")
    assert verdicts["the same trials"] == N_SEEDS
    assert verdicts["different trials"] >= 0.95 * N_SEEDS


@pytest.mark.sweep
@pytest.mark.derived
@pytest.mark.parametrize("shared", [0.0, 0.7])
def test_a_planned_duel_finds_what_it_was_planned_for(shared):
    """Trials planned from small pilots to find 0.5 dB in four duels of five do so."""
    pilot, wanted_db = Case(0.5, n=12, shared=shared), 0.5
    totals = []
    for seed in range(20):
        trials = campaign(pilot, 10_000 + seed)
        found = threshold_difference(trials)
        assert isinstance(found, Penalty), found
        n_pairs = trials.n_pairs
        totals.append(n_pairs + trials_to_find(found.interval, n_pairs, wanted_db))
    n = round(float(np.median(totals)) / VALUES_DB.size)
    found = judged_many(replace(pilot, n=n), range(20_000, 20_000 + N_SEEDS))
    share = sum(verdict == Verdict.B_NEEDS_MORE for _, verdict, _ in found) / N_SEEDS
    print(f"luck shared {shared}: {n} trials a point, found in {100 * share:.0f} %")
    # The pilots' forecast of n scatters by some 10 %, which moves the share by about 0.05.
    assert abs(share - POWER) < 0.05 + 3.0 * np.sqrt(POWER * (1.0 - POWER) / N_SEEDS)
