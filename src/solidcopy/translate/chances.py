"""The chance that a message, or a whole contact, gets through in so many slots: as drawn curves of
the SNR (or of another axis on which more is easier), from trials that stand alone or in runs."""

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Protocol

import numpy as np

from solidcopy.statistics.curve import fit_curve
from solidcopy.statistics.evidence import NoEvidence, NoThreshold
from solidcopy.statistics.model import MAX_LAPSE
from solidcopy.statistics.points import Points
from solidcopy.statistics.shapes import Array, Form
from solidcopy.translate.curve_draws import CurveDraws, draw_curves
from solidcopy.translate.repeats import exchange_within, slots_of_attempts, within_attempts
from solidcopy.translate.runs import Runs

Chance = Callable[[Array], Array]
"""Axis values (n_draws, m), row i on curve i, to chances (n_draws, m)."""


class Chances(Protocol):
    """What a curve says of repeats."""

    @property
    def n_draws(self) -> int:
        """Rows of axis values that are asked for."""

    @property
    def tested(self) -> tuple[float, float]:
        """Lowest and highest axis value with trials."""

    def attempts(self, n_attempts: int) -> Chance | NoEvidence:
        """That one of so many attempts in a row gets through."""

    def exchange(self, n_messages: int, n_slots: int) -> Chance | NoEvidence:
        """That a whole exchange is over within so many slots."""


@dataclass(frozen=True, slots=True, eq=False)
class AloneChances:
    """Each attempt meets luck of its own, given the axis value."""

    draws: CurveDraws

    @property
    def n_draws(self) -> int:
        """Of the curve."""
        return self.draws.n_draws

    @property
    def tested(self) -> tuple[float, float]:
        """Of the curve."""
        return self.draws.tested

    def attempts(self, n_attempts: int) -> Chance:
        """1 − (1 − p)^n."""
        return lambda x: within_attempts(self.draws.probability(x), n_attempts)

    def exchange(self, n_messages: int, n_slots: int) -> Chance:
        """By the chain of an exchange."""
        return lambda x: exchange_within([self.draws.probability(x)] * n_messages, n_slots)[-1]


@dataclass(frozen=True, slots=True, eq=False)
class RunChances:
    """Attempts of a run meet one stretch of fading: each question has a curve of its own, fitted to
    how often windows of the measured runs answered it. Its largest lapse is that of attempts that
    are each lost with the largest lapse of an ordinary curve, whatever the level.

    Args:
        runs: as measured.
        form: of the curve of one attempt; "faded" has any skewness.
        generator: of all draws.
        n_draws: curves of each question.
    """

    runs: Runs
    form: Form
    generator: np.random.Generator
    n_draws: int
    _known: dict[tuple[int, int], CurveDraws | NoEvidence] = field(default_factory=dict)

    @property
    def tested(self) -> tuple[float, float]:
        """Ends of the axis."""
        return min(self.runs.by_value), max(self.runs.by_value)

    def attempts(self, n_attempts: int) -> Chance | NoEvidence:
        """From windows of so many attempts."""
        n_slots = slots_of_attempts(n_attempts)
        lapse = MAX_LAPSE**n_attempts
        return self._curve((0, n_slots), lambda: self.runs.attempts(n_attempts), lapse)

    def exchange(self, n_messages: int, n_slots: int) -> Chance | NoEvidence:
        """From exchanges walked through the windows; the path serves both ways."""
        at_best = [np.array(1.0 - MAX_LAPSE)] * n_messages
        lapse = 1.0 - float(exchange_within(at_best, n_slots)[-1])
        question = (n_messages, n_slots)
        return self._curve(question, lambda: self.runs.exchange(n_messages, n_slots), lapse)

    def _curve(
        self, question: tuple[int, int], count: Callable[[], Points], lapse: float
    ) -> Chance | NoEvidence:
        if question not in self._known:
            self._known[question] = self._drawn(question[1], count, lapse)
        known = self._known[question]
        return known if isinstance(known, NoEvidence) else known.probability

    def _drawn(
        self, n_slots: int, count: Callable[[], Points], max_lapse: float
    ) -> CurveDraws | NoEvidence:
        n_together = self.runs.n_together
        if n_slots > n_together:
            return NoEvidence(
                f"the runs of this campaign hold {n_together} slots, not {n_slots}: plan "
                f"`trials_together = {n_slots}` or more"
            )
        curve = fit_curve(count(), self.form, max_lapse=max_lapse)
        if isinstance(curve, NoThreshold):
            return NoEvidence(curve.reason)
        return draw_curves(curve, self.generator, self.n_draws)
