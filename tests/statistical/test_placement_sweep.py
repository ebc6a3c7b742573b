"""Trials that adaptive placement saves against an even grid over 12 dB, at the same precision."""

import numpy as np
import pytest
from all_cores import generator_of, on_all_cores
from simulated_campaigns import LAPSING, STEEP, USUAL, Drawn, Truth, precision, run_even, run_placed

N_CAMPAIGNS = 400
"""Of each row; the only size of the sweep."""
HALF_WIDTH = 0.1
EVEN_STEP = 5
"""Trials a point between two looks of the even grid: finer than a campaign's, in its favour."""
N_PIECE = 10
ROWS = (
    (STEEP, 0.5),
    (Truth("0.5 dB", scale=0.5), 0.5),
    (USUAL, 0.5),
    (USUAL, 0.9),
    (LAPSING, 0.5),
    (LAPSING, 0.9),
    (Truth("1.2 dB", scale=1.2), 0.5),
)


def trials_needed(piece):
    """(n_campaigns, 2): trials of the even grid and of adaptive placement, for the same curves."""
    row, number, n_campaigns = piece
    truth, p = ROWS[row]
    generator, needed = generator_of(8, row, number), []
    for _ in range(n_campaigns):
        drawn = Drawn(truth, generator)
        rule = precision(HALF_WIDTH, p)
        even = run_even(drawn, rule, step=EVEN_STEP)
        needed.append([int(points.n_scored.sum()) for points in (even, run_placed(drawn, rule))])
    return np.array(needed)


def ratio_of_means(needed):
    """Even over placed, and its 95 % spread by drawing campaigns again."""
    generator = np.random.default_rng(9)
    again = generator.integers(0, len(needed), (1000, len(needed)))
    means = needed[again].mean(axis=1)
    ratio = needed[:, 0].mean() / needed[:, 1].mean()
    return ratio, *np.percentile(means[:, 0] / means[:, 1], [2.5, 97.5])


@pytest.mark.sweep
def test_adaptive_placement_saves_trials():
    size = min(N_PIECE, N_CAMPAIGNS)
    pieces = [(row, i, size) for row in range(len(ROWS)) for i in range(N_CAMPAIGNS // size)]
    found = {row: [] for row in range(len(ROWS))}
    for piece, needed in on_all_cores(trials_needed, pieces):
        found[piece[0]].append(needed)
    print(f"\nTrials to ±{HALF_WIDTH} dB over an unknown 12 dB, {N_CAMPAIGNS} curves a row\n")
    print("| curve, share | even grid | adaptive (5 to 95 %) | ratio (95 %) |\n|---|---|---|---|")
    for row, (truth, p) in enumerate(ROWS):
        needed = np.concatenate(found[row])
        ratio, low, high = ratio_of_means(needed)
        first, last = np.percentile(needed[:, 1], [5, 95])
        print(
            f"| {truth.name}, {100 * p:g} % | {needed[:, 0].mean():.0f} | "
            f"{needed[:, 1].mean():.0f} ({first:.0f} to {last:.0f}) | "
            f"{ratio:.2f} ({low:.2f} to {high:.2f}) |"
        )
        if truth == USUAL:
            assert low > 3.0


def test_a_few_curves_of_a_receiver():
    needed = trials_needed((ROWS.index((USUAL, 0.5)), 0, 6))
    assert needed[:, 0].mean() > 2.5 * needed[:, 1].mean()
