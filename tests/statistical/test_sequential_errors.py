"""Equal sides against each other, looked at after every block: how often is one called better?

Counts are those of whole simulated campaigns, by the campaign's own rule of looks.
"""

from dataclasses import dataclass

import numpy as np
import pytest
from all_cores import generator_of, on_all_cores
from scipy import stats
from simulated_campaigns import (
    LAPSING,
    STEEP,
    USUAL,
    Pairing,
    Truth,
    paired_trials,
    run_until_decided,
)

from solidcopy.statistics.pairs import PairedPoint, PairedTrials, mcnemar_exact
from solidcopy.statistics.sequential import Lead

N_CAMPAIGNS = 1000
"""Of each row; the only size of the sweep."""
RISK = 0.05
N_PIECE = 50


@dataclass(frozen=True)
class Equals:
    """Two sides of which neither is better."""

    name: str
    truth: Truth
    shared: float
    n_together: int = 1
    other_scale: float | None = None
    """Of side b, which then decodes more at low values and less at high ones."""


ROWS = (
    Equals("as a receiver, 80 % of the luck shared", USUAL, 0.8),
    Equals("as a receiver, no luck shared", USUAL, 0.0),
    Equals("steep, 80 % shared", STEEP, 0.8),
    Equals("lapse 3 %, 50 % shared", LAPSING, 0.5),
    Equals("groups of 5 with one luck each, 50 % shared", USUAL, 0.5, n_together=5),
    Equals("same threshold, other scale (0.8 and 1.6 dB)", USUAL, 0.5, other_scale=1.6),
)


@dataclass(frozen=True)
class Piece:
    row: Equals
    number: int
    n_campaigns: int


def trials_of(row, generator):
    pairing = Pairing(0.0, row.shared, row.n_together)
    trials, midpoint = paired_trials(row.truth, pairing, n=400, generator=generator)
    if row.other_scale is None:
        return trials
    # Side b of another campaign with the other scale, and a threshold in the same place.
    other = Truth("other", scale=row.other_scale)
    points = []
    for point in trials.points:
        share = float(other.share(np.array(point.value - midpoint)))
        decoded_b = generator.random(point.decoded_a.size) < share
        run = point.scored_a
        points.append(PairedPoint(point.value, point.decoded_a, decoded_b, run, run))
    return PairedTrials(tuple(points))


def n_called_better(piece):
    """Campaigns of a piece in which a side was called better."""
    generator = generator_of(7, ROWS.index(piece.row), piece.number)
    leads = [
        run_until_decided(trials_of(piece.row, generator), risk=RISK)[1]
        for _ in range(piece.n_campaigns)
    ]
    return sum(lead is not Lead.OPEN for lead in leads)


def counted(n_campaigns):
    found = dict.fromkeys(ROWS, 0)
    size = min(N_PIECE, n_campaigns)
    pieces = [Piece(row, i, size) for row in ROWS for i in range(n_campaigns // size)]
    for piece, n in on_all_cores(n_called_better, pieces):
        found[piece.row] += n
    return found


@pytest.mark.sweep
def test_equal_sides_are_hardly_ever_told_apart():
    found = counted(N_CAMPAIGNS)
    print(
        f"\nEqual sides called different, of {N_CAMPAIGNS} campaigns, at most 400 trials a point\n"
    )
    print("| sides | called different | stated: at most |\n|---|---|---|")
    for row, n in found.items():
        print(f"| {row.name} | {100 * n / N_CAMPAIGNS:.1f} % | {100 * RISK:g} % |")
    # What a true share of 5 % would pass once in a thousand.
    most = stats.binom.ppf(0.999, N_CAMPAIGNS, RISK)
    assert all(n <= most for n in found.values())


def test_equal_sides_in_a_few_campaigns():
    n = 50
    for row in (ROWS[0], ROWS[4]):
        assert n_called_better(Piece(row, 0, n)) <= stats.binom.ppf(0.999, n, RISK)


def test_looking_again_and_again_by_the_ordinary_test_would_not_do():
    """Why the ordinary test is not used: the same looks, the exact test at 5 % each time."""
    generator, n_wrong = np.random.default_rng(405), 0
    for _ in range(200):
        wins = np.cumsum(generator.random(400) < 0.5)
        n_wrong += any(
            mcnemar_exact(int(wins[n - 1]), int(n - wins[n - 1])) <= RISK
            for n in range(20, 401, 20)
        )
    assert n_wrong > 200 * 2 * RISK
