"""How fast a campaign grows and where, seen from one look at its journal to the next."""

import time
from collections import deque
from collections.abc import Callable, Sequence

from solidcopy.campaigns.progress import RATE_OVER_S, Progress
from solidcopy.reports.wording import counted, plain, quoted

AT_WORK_S = 6.0
"""A point that grew within this time is being worked at."""
MOST_NAMED = 2

Point = tuple[str, float]
"""Name of a condition (of a map: of all its values) and axis value."""


class Growth:
    """Memory of the last half minute of looks. Used by one thread at a time."""

    def __init__(self, clock: Callable[[], float] = time.monotonic) -> None:
        """`clock`: seconds, never back."""
        self._clock = clock
        self._looks: deque[tuple[float, int]] = deque()
        self._counts: dict[Point, int] = {}
        self._grown_s: dict[Point, float] = {}

    def forget(self) -> None:
        """Nothing is running: the next run begins anew."""
        self._looks.clear()
        self._counts.clear()
        self._grown_s.clear()

    def look(self, progress: Progress) -> None:
        """Take in the counts as they are now."""
        now_s = self._clock()
        if len(self._looks) == 1 and self._looks[0][1] == progress.n_done:
            self._looks.clear()  # starting the workers does not count
        self._looks.append((now_s, progress.n_done))
        while len(self._looks) > 2 and self._looks[1][0] < now_s - RATE_OVER_S:
            self._looks.popleft()
        counts = _counts(progress)
        for point, n in counts.items():
            if n > self._counts.get(point, n):
                self._grown_s[point] = now_s
        self._counts = counts

    @property
    def rate_per_s(self) -> float | None:
        """Outcomes per second; None until something was measured."""
        if len(self._looks) < 2:
            return None
        (first_s, n_first), (last_s, n_last) = self._looks[0], self._looks[-1]
        return (n_last - n_first) / (last_s - first_s) if n_last > n_first else None

    def words(self, unit: str) -> str:
        """Where it grew just now: "“quiet” at −22 and −20 dB"; empty if nowhere yet."""
        now_s = self._clock()
        recent: dict[str, list[float]] = {}
        for (name, value), grown_s in sorted(self._grown_s.items()):
            if now_s - grown_s < AT_WORK_S:
                recent.setdefault(name, []).append(value)
        said = [
            f"{quoted(name)} at {_values(values)} {unit}".rstrip()
            for name, values in list(recent.items())[:MOST_NAMED]
        ]
        n_more = len(recent) - len(said)
        return "; ".join([*said, *([f"{counted(n_more, 'further condition')}"] if n_more else [])])


def _counts(progress: Progress) -> dict[Point, int]:
    counts: dict[Point, int] = {}
    for curve in progress.curves:
        for point in curve.points:
            key = curve.map_of or curve.condition_name, point.axis_value
            counts[key] = counts.get(key, 0) + point.n_scored
    return counts


def _values(values: Sequence[float]) -> str:
    if len(values) == 1:
        return plain(values[0])
    return f"{plain(values[0])} to {plain(values[-1])}"
