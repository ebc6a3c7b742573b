"""Curves of a campaign as the page shows them: points, fitted lines with bands, thresholds."""

from dataclasses import dataclass

from solidcopy.actions.served import served
from solidcopy.actions.shown_estimate import (
    Scaled,
    ShownThreshold,
    counts_words,
    shown_threshold,
    three,
)
from solidcopy.reports.curve_figures import curve_name
from solidcopy.reports.facts import CampaignFacts
from solidcopy.reports.measured import CurveFacts, Line, PointFacts
from solidcopy.statistics.evidence import NoThreshold


@served
@dataclass(frozen=True, slots=True)
class ShownPoint:
    """Counts at one axis value."""

    axis_value: float
    """As in the journal; by it the trials are asked for."""
    x: float
    """The same on the scale that was asked for."""
    n_decoded: int
    n_missed: int
    n_failed: int
    """The receiver gave no answer; left out of the share."""
    n_false_decodes: int
    share: float | None
    """Decoded, of those answered; null before the first answer."""
    low: float | None
    """Lower end of the 95 % Wilson interval of the share."""
    high: float | None
    """Upper end."""
    words: str
    """Place, counts and share in one line."""


@served
@dataclass(frozen=True, slots=True)
class ShownLine:
    """A fitted curve and its band."""

    x: tuple[float, ...]
    p: tuple[float, ...]
    band_x: tuple[float, ...]
    p_low: tuple[float, ...]
    p_high: tuple[float, ...]
    form: str
    """Its shape in words."""


@served
@dataclass(frozen=True, slots=True)
class ShownCurve:
    """One condition heard by one receiver."""

    name: str
    """Condition, receiver or both, as far as there is a choice."""
    condition: str
    receiver: str
    points: tuple[ShownPoint, ...]
    line: ShownLine | None
    why_no_line: str
    """Empty if there is one."""
    thresholds: tuple[ShownThreshold, ...]
    """At 50 % and at 90 %."""


def shown_curve(facts: CampaignFacts, curve: CurveFacts, scaled: Scaled) -> ShownCurve:
    """A curve of the facts on a scale."""
    return ShownCurve(
        name=curve_name(facts, curve),
        condition=curve.condition,
        receiver=curve.receiver,
        points=tuple(_point(point, scaled) for point in curve.points),
        line=_line(curve.line, scaled) if isinstance(curve.line, Line) else None,
        why_no_line=curve.line.reason if isinstance(curve.line, NoThreshold) else "",
        thresholds=tuple(shown_threshold(t.p, t.at, scaled) for t in curve.thresholds),
    )


def _line(line: Line, scaled: Scaled) -> ShownLine:
    return ShownLine(
        x=scaled.values(line.axis_values),
        p=line.p,
        band_x=scaled.values(line.band_values),
        p_low=line.p_low,
        p_high=line.p_high,
        form=line.form,
    )


def _point(point: PointFacts, scaled: Scaled) -> ShownPoint:
    share, low, high = three(point.p_decoded)
    return ShownPoint(
        axis_value=point.axis_value,
        x=scaled.value(point.axis_value),
        n_decoded=point.n_decoded,
        n_missed=point.n_missed,
        n_failed=point.n_failed,
        n_false_decodes=point.n_false_decodes,
        share=share,
        low=low,
        high=high,
        words=f"{scaled.words(point.axis_value)}: {counts_words(point)}",
    )
