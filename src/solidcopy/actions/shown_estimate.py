"""Axis values and thresholds as the page shows them, on one of the axis' scales."""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import Literal

from solidcopy.actions.served import served
from solidcopy.reports.axis_scales import AxisScale
from solidcopy.reports.estimates import unsigned_estimate
from solidcopy.reports.map_tables import bounded
from solidcopy.reports.measured import Estimate, PointFacts
from solidcopy.reports.wording import counted, percent, plain, whole
from solidcopy.statistics.evidence import NoThreshold


@dataclass(frozen=True, slots=True)
class Scaled:
    """Reads axis values on a scale."""

    scale: AxisScale
    planned_unit: str

    def words(self, axis_value: float) -> str:
        """One value with its unit."""
        unit = self.planned_unit if self.scale.unit is None else self.scale.unit
        return f"{plain(round(self.value(axis_value), 3))} {unit}".rstrip()

    def value(self, axis_value: float) -> float:
        """One value."""
        return axis_value + self.scale.shift_db

    def values(self, axis_values: Iterable[float]) -> tuple[float, ...]:
        """Several."""
        return tuple(self.value(axis_value) for axis_value in axis_values)

    def at(self, found: Estimate | NoThreshold) -> Estimate | NoThreshold:
        """A threshold with its interval, or the bound that stands for it."""
        if isinstance(found, NoThreshold):
            return replace(found, limit=None if found.limit is None else self.value(found.limit))
        ends = found.interval
        moved = replace(ends, low=self.value(ends.low), high=self.value(ends.high))
        return Estimate(self.value(found.value), moved)


@served
@dataclass(frozen=True, slots=True)
class ShownThreshold:
    """Axis value at which a share of the messages gets through, on the scale asked for."""

    p: float
    """The share."""
    x: float | None
    """Null where it cannot be given."""
    low: float | None
    """Lower end of its 95 % interval."""
    high: float | None
    """Upper end."""
    bound: Literal["above", "below"] | None
    """Where it lies beyond the tested values: on which side of `limit`."""
    limit: float | None
    words: str
    """Value and interval with as many digits as they deserve; or the bound."""
    why_none: str
    """Empty if there is a value."""


def shown_threshold(p: float, found: Estimate | NoThreshold, scaled: Scaled) -> ShownThreshold:
    """A threshold of the facts on a scale."""
    at = scaled.at(found)
    if isinstance(at, NoThreshold):
        return ShownThreshold(p, None, None, None, at.bound, at.limit, bounded(at), at.reason)
    ends = at.interval
    return ShownThreshold(p, at.value, ends.low, ends.high, None, None, unsigned_estimate(at), "")


def counts_words(point: PointFacts) -> str:
    """Counts and share of a point in one line."""
    failed = f"; {counted(point.n_failed, 'trial')} failed" if point.n_failed else ""
    if not isinstance(point.p_decoded, Estimate):
        return f"nothing answered yet{failed}"
    share, ends = point.p_decoded.value, point.p_decoded.interval
    interval = f"{percent(ends.low).removesuffix(' %')} to {percent(ends.high)}"
    return (
        f"{whole(point.n_decoded)} of {whole(point.n_answered)} decoded, {percent(share)} "
        f"({interval}){failed}"
    )


def three(found: object) -> tuple[float | None, float | None, float | None]:
    """Value and ends of the interval of an Estimate; three times None of anything else."""
    if not isinstance(found, Estimate):
        return None, None, None
    return found.value, found.interval.low, found.interval.high
