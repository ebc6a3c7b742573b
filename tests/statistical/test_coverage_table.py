"""Do 95 % intervals hold the truth 95 times in 100? The whole table, and a slice of it.

`pytest -m sweep -s tests/statistical/test_coverage_table.py` prints the table of N_CAMPAIGNS
simulated campaigns a cell, on all cores.
"""

import os
import time
from collections import defaultdict

import numpy as np
import pytest
from all_cores import on_all_cores
from coverage_cells import (
    N_PER_POINT,
    SHARES,
    WORDS,
    Cell,
    Held,
    all_cells,
    pieces_of,
    work_out,
)
from simulated_campaigns import LAPSING, USUAL

N_CAMPAIGNS = 2000
"""Of each cell; the only size of the sweep."""

LEAST, MOST = 0.925, 0.985
"""Coverage that a cell may have, but for the simulation's own scatter. Beyond MOST, intervals are
longer than needed."""
FEW_TRIALS_LEAST = 0.91
"""At 20 trials a point, which the how-to advises against."""


def scatter(n):
    """3.3 standard deviations (99.9 %) of a share near 95 % of n."""
    return 3.3 * np.sqrt(0.95 * 0.05 / n)


def worked_out(cells, n_campaigns):
    """Counts of each cell, on all cores."""
    found = defaultdict(Held)
    for piece, held in on_all_cores(work_out, pieces_of(cells, n_campaigns)):
        found[piece.cell] += held
    return found


def table_text(found):
    """The counts as a markdown table: a row for each curve and share, columns by trials a point."""
    rows = defaultdict(dict)
    for cell, held in found.items():
        share = f"{100.0 * held.n_held / max(held.n_given, 1):.1f}"
        if held.n_none:
            share += f" ({held.n_none} none)"
        rows[cell.row()][cell.n] = share
    lines = []
    for words in WORDS.values():
        own = {row[1]: cells for row, cells in rows.items() if row[0] == words}
        if not own:
            continue
        columns = N_PER_POINT if None not in next(iter(own.values())) else (None,)
        heads = ["measured" if n is None else f"{n}" for n in columns]
        lines += [f"\n95 % intervals that held the truth, %: {words}\n"]
        lines += [f"| curve, share | {' | '.join(heads)} |", "|---" * (len(heads) + 1) + "|"]
        lines += [
            f"| {name} | {' | '.join(cells.get(n, '') for n in columns)} |"
            for name, cells in own.items()
        ]
    return "\n".join(lines)


@pytest.mark.sweep
def test_the_whole_table():
    start = time.perf_counter()
    cells = all_cells()
    found = worked_out(cells, N_CAMPAIGNS)
    print(f"\n{N_CAMPAIGNS} campaigns a cell, {len(cells)} cells")
    print(table_text({cell: found[cell] for cell in cells}))
    print(f"\n{time.perf_counter() - start:.0f} s on {len(os.sched_getaffinity(0))} cores")
    for cell in cells:
        held = found[cell]
        assert held.n_given + held.n_none == N_CAMPAIGNS, cell
        least = FEW_TRIALS_LEAST if cell.n == 20 else LEAST
        assert held.n_held / held.n_given > least - scatter(held.n_given), cell
        # Wider than need be on purpose: curves steeper than the axis shows, and sides that answer
        # almost alike, of which few trials tell little.
        is_held_wide = cell.truth.scale < 0.5 or cell.kind in ("duel", "decided")
        if not is_held_wide:
            assert held.n_held / held.n_given < MOST + scatter(held.n_given), cell


def test_a_slice_of_the_table():
    """One cell of each kind, few campaigns: that the table is made as it says."""
    sizes = {
        "threshold": 400,
        "penalty": 40,
        "duel": 40,
        "decided": 30,
        "precise": 30,
        "placed": 24,
    }
    slice_cells = [
        next(
            cell
            for cell in all_cells()
            if cell.kind == kind and cell.truth == USUAL and cell.n in (100, None)
        )
        for kind in sizes
    ]
    total = Held()
    for cell in slice_cells:
        found = worked_out([cell], sizes[cell.kind])[cell]
        n = sizes[cell.kind]
        assert found.n_given + found.n_none == n
        assert found.n_none <= 0.1 * n
        assert found.n_held / found.n_given > 0.95 - scatter(n)
        total += found
    assert 0.91 < total.n_held / total.n_given < 0.985  # of 564: standard deviation 0.9 %
    assert f"| {USUAL.name}, 50 % |" in table_text({slice_cells[0]: Held(95, 100)})


def test_every_cell_is_there_once():
    cells = all_cells()
    assert len(set(cells)) == len(cells) == 32 + 32 + 16 + 8 + 8 + 8
    fixed = [cell for cell in cells if cell.kind == "penalty" and cell.truth == LAPSING]
    assert {(cell.p, cell.n) for cell in fixed} == {(p, n) for p in SHARES for n in N_PER_POINT}
    pieces = pieces_of(cells, 200)
    assert sum(piece.n_campaigns for piece in pieces) == 200 * len(cells)
    assert len({(piece.cell, piece.number) for piece in pieces}) == len(pieces)


def test_a_wrong_interval_would_be_noticed():
    """Intervals that hold in 89 % do not pass for 95 %: the bounds have power at this size."""
    held = np.random.default_rng(1).binomial(N_CAMPAIGNS, 0.89, 500)
    assert np.mean(held / N_CAMPAIGNS > LEAST - scatter(N_CAMPAIGNS)) < 0.02
    assert Cell("penalty", USUAL, 0.5, 50).row()[1].endswith("50 %")
