"""The first trials of each point of a curve, read once and cut as often as a stop rule asks."""

from collections.abc import Callable, Mapping

from solidcopy.campaigns.stop import Asked, CurvePlaces, Refused, asked_of, refused_of
from solidcopy.statistics.clusters import Flags
from solidcopy.statistics.sides import Side
from solidcopy.trials.plan import Plan
from solidcopy.trials.together import n_together

Flagged = tuple[Flags, Flags]
"""Decoded and scored, (n_trials,) each, by trial index."""


class FirstTrials:
    """Outcomes by number of trials; of one moment, as each point is read once only."""

    def __init__(self, plan: Plan, unbroken: Callable[[CurvePlaces, float], Flagged]) -> None:
        """`unbroken`: all trials of a point up to the first one missing."""
        self._plan, self._unbroken = plan, unbroken
        self._read: dict[tuple[CurvePlaces, float], Flagged] = {}

    def __call__(self, curve: CurvePlaces, n_at: Mapping[float, int]) -> Side | None:
        """The first so many trials at each axis value; None if some are missing yet."""
        cut: dict[float, Flagged] = {}
        for value, n in n_at.items():
            point = (curve, value)
            if point not in self._read:
                self._read[point] = self._unbroken(*point)
            decoded, scored = self._read[point]
            if decoded.size < n:
                return None
            cut[value] = (decoded[:n], scored[:n])
        return Side(cut, n_together=n_together(self._plan.conditions[curve[0]]))


class TrialsAsked:
    """What a plan's stop rule asks for, worked out anew when the journal has changed."""

    def __init__(
        self,
        plan: Plan,
        unbroken: Callable[[CurvePlaces, float], Flagged],
        refused: Callable[[CurvePlaces], Refused | None],
    ) -> None:
        """`unbroken`: as of `FirstTrials`; `refused`: what the journal keeps of earlier looks."""
        self._plan, self._unbroken, self._kept = plan, unbroken, refused
        self._known: dict[tuple[CurvePlaces, int], Asked] = {}

    def asked(self, curve: CurvePlaces, version: int) -> Asked:
        """By what the journal holds in the state of that number."""
        key = (curve, version)
        if key not in self._known:
            first = FirstTrials(self._plan, self._unbroken)
            self._known[key] = asked_of(self._plan, curve, first, refused=self._kept(curve))
        return self._known[key]

    def refused(self, curve: CurvePlaces, version: int) -> Refused | None:
        """What is worth keeping of the looks behind `asked`."""
        asked = self.asked(curve, version)
        return refused_of(self._plan, curve, FirstTrials(self._plan, self._unbroken), asked)

    def counting(self, curve: CurvePlaces, version: int) -> dict[float, int]:
        """Most trials that count at each axis value: as asked.

        Where they are placed adaptively, all: what a search would have asked for with the numbers
        of another machine or version must not hide what was measured.
        """
        if self._plan.axis.placement == "adaptive":
            return dict.fromkeys(self._plan.axis.points(), self._plan.stop.limit_per_point)
        return self.asked(curve, version).n_at
