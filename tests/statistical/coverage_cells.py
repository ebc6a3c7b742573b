"""The cells of the coverage table, and how a piece of one is worked out."""

from dataclasses import dataclass
from itertools import product
from typing import Literal

import numpy as np
import simulated_campaigns as sim
from all_cores import generator_of

Kind = Literal["threshold", "penalty", "duel", "decided", "precise", "placed"]
N_PER_POINT = (20, 50, 100, 400)
SHARES = (0.5, 0.9)
N_PIECE = 50
"""Campaigns of a piece of work; cells of thresholds are quick and are not cut."""

WORDS: dict[Kind, str] = {
    "threshold": "threshold, fixed number of trials",
    "penalty": "penalty of 0.5 dB, 80 % of the luck shared",
    "duel": "duel, 0.1 dB apart, 98 % of the luck shared",
    "decided": "duel, stopped once decided, looked at every 10 trials a point",
    "precise": "threshold, stopped once known to ±0.2 dB",
    "placed": "threshold, placed adaptively, stopped once known to ±0.1 dB",
}


@dataclass(frozen=True)
class Cell:
    """One number of the table."""

    kind: Kind
    truth: sim.Truth
    p: float
    n: int | None = None
    """Trials at a point; None where a rule decides."""
    shift: float = 0.5

    def row(self) -> tuple[str, str]:
        """Where in the table it stands."""
        name = self.truth.name
        if self.kind == "decided":
            name += f", {self.shift:g} dB apart"
        return WORDS[self.kind], f"{name}, {100 * self.p:g} %"


@dataclass(frozen=True)
class Piece:
    """Some campaigns of a cell."""

    cell: Cell
    number: int
    n_campaigns: int


@dataclass(frozen=True)
class Held:
    """How many intervals held the truth; campaigns without an interval are apart."""

    n_held: int = 0
    n_given: int = 0
    n_none: int = 0

    def __add__(self, other: "Held") -> "Held":
        return Held(
            self.n_held + other.n_held, self.n_given + other.n_given, self.n_none + other.n_none
        )


def all_cells() -> list[Cell]:
    """The whole table."""
    fixed = list(product(sim.TRUTHS, SHARES, N_PER_POINT))
    cells = [Cell(kind, truth, p, n) for kind in ("threshold", "penalty") for truth, p, n in fixed]
    cells += [
        Cell("duel", truth, p, n, 0.1) for truth, p, n in fixed if truth in (sim.STEEP, sim.USUAL)
    ]
    cells += [
        Cell("decided", sim.USUAL, p, shift=shift)
        for p, shift in product(SHARES, (0.0, 0.1, 0.3, 1.0))
    ]
    for kind in ("precise", "placed"):
        cells += [Cell(kind, truth, p) for truth, p in product(sim.TRUTHS, SHARES)]
    return cells


def pieces_of(cells: list[Cell], n_campaigns: int) -> list[Piece]:
    """The costly pieces first, so that the last core is not left alone with one."""
    pieces = []
    for cell in reversed(cells):
        size = n_campaigns if cell.kind == "threshold" else min(N_PIECE, n_campaigns)
        pieces += [Piece(cell, i, size) for i in range(n_campaigns // size)]
    return pieces


def work_out(piece: Piece) -> Held:
    """Simulate the campaigns of one piece."""
    cell = piece.cell
    generator = generator_of(all_cells().index(cell), piece.number)
    if cell.kind == "threshold":
        held = sim.thresholds_held(
            cell.truth, n=cell.n, p=cell.p, n_campaigns=piece.n_campaigns, generator=generator
        )
        return Held(int(held.sum()), held.size)
    found = [_one(cell, generator) for _ in range(piece.n_campaigns)]
    return Held(
        sum(held is True for held in found),
        sum(held is not None for held in found),
        sum(held is None for held in found),
    )


def _one(cell: Cell, generator: np.random.Generator) -> bool | None:
    match cell.kind:
        case "penalty":
            pairing = sim.Pairing(cell.shift, 0.8)
            return sim.penalty_held(cell.truth, pairing, n=cell.n, p=cell.p, generator=generator)
        case "duel":
            pairing = sim.Pairing(cell.shift, 0.98)
            return sim.duel_held(cell.truth, pairing, n=cell.n, p=cell.p, generator=generator)
        case "decided":
            pairing = sim.Pairing(cell.shift, 0.8)
            return sim.decided_held(cell.truth, pairing, p=cell.p, generator=generator)
        case "precise":
            return sim.even_held(cell.truth, half_width=0.2, p=cell.p, generator=generator)
        case "placed":
            return sim.placed_held(cell.truth, half_width=0.1, p=cell.p, generator=generator)
        case _:
            raise ValueError(cell.kind)
