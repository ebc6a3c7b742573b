"""Curves and thresholds of a report, from counts."""

import math
from dataclasses import dataclass, replace

import numpy as np
from scipy import special

from solidcopy import units
from solidcopy.modes.mode import ModeFacts
from solidcopy.reports.facts import AxisFacts
from solidcopy.reports.measured import (
    CurveFacts,
    Estimate,
    Line,
    PointFacts,
    Quoted,
    ThresholdFacts,
)
from solidcopy.reports.wording import shares_as_percent
from solidcopy.statistics.clusters import Clustering
from solidcopy.statistics.curve import Curve
from solidcopy.statistics.evidence import Interval, NoEvidence, NoThreshold
from solidcopy.statistics.points import Points
from solidcopy.statistics.shapes import Form
from solidcopy.statistics.tally import Tally
from solidcopy.statistics.threshold import Reading, read_curve

SHARES = (0.5, 0.9)
"""Shares of messages whose thresholds are reported."""

CONFIDENCE = 0.95

FORM_WORDS = {
    "probit": "cumulative normal",
    "logit": "logistic",
    "outage": "outage of a fading signal",
    "faded": "blurred outage of a fading signal",
}
LIMITS_OF_BLUR: dict[float | None, Form] = {0.0: "outage", math.inf: "probit"}

N_LINE_POINTS = 201
N_RISE_POINTS = 15
N_SPARSE_POINTS = 17
RISE_WIDTHS = 1.7
"""Half the stretch around the midpoint in which a curve rises, in widths of 10 % to 90 %."""


NO_RISE = NoThreshold("the share does not simply rise along this axis: read the points themselves")
"""Along a frequency or a time the share may well fall and rise again."""


@dataclass(frozen=True, slots=True, eq=False)
class Counted:
    """The counts behind one curve, and what was read from them.

    Args:
        tallies: by axis value.
        reading: curve and thresholds at `SHARES`, of the mirrored axis where right is harder.
        is_drawn: whether the curve's band is wanted: it costs more than all the rest.
        clustering: where trials share their luck in groups.
    """

    tallies: dict[float, Tally]
    reading: Reading
    is_drawn: bool = True
    clustering: Clustering | None = None


def read(points: Points, axis: AxisFacts, form: Form) -> Reading:
    """Curve and thresholds at `SHARES`; of the mirrored axis where right is harder."""
    if axis.sense == "interference":
        points = points.mirrored()
    return read_curve(points, SHARES, confidence=CONFIDENCE, form=form)


def curve_facts(
    condition: str, receiver: str, counted: Counted, *, axis: AxisFacts, mode: ModeFacts
) -> CurveFacts:
    """Points, fitted line and thresholds of one condition heard by one receiver."""
    line = _line(counted, axis)
    thresholds = tuple(_threshold(counted, p, axis, mode) for p in SHARES)
    if axis.sense == "other" and isinstance(line, Line) and line.is_doubtful:
        line = NO_RISE
        thresholds = tuple(ThresholdFacts(p, NO_RISE, None) for p in SHARES)
    return CurveFacts(
        condition=condition,
        receiver=receiver,
        points=tuple(
            point_facts(*item, counted.clustering) for item in sorted(counted.tallies.items())
        ),
        line=line,
        thresholds=thresholds,
    )


def point_facts(axis_value: float, tally: Tally, clustering: Clustering | None) -> PointFacts:
    """Counts at one axis value with their interval."""
    share = tally.p_decoded()
    interval = tally.decode_interval(CONFIDENCE, clustering=clustering)
    return PointFacts(
        axis_value=axis_value,
        n_decoded=tally.n_decoded,
        n_missed=tally.n_missed,
        n_failed=tally.n_failed,
        n_false_decodes=tally.n_false_decodes,
        p_decoded=joined(share, interval),
    )


def joined(share: float | NoEvidence, interval: Interval | NoEvidence) -> Estimate | NoEvidence:
    """A share with its interval; both are missing for the same reason."""
    if isinstance(share, NoEvidence):
        return share
    assert isinstance(interval, Interval)
    return Estimate(share, interval)


def _line(counted: Counted, axis: AxisFacts) -> Line | NoThreshold:
    is_falling = axis.sense == "interference"
    curve = counted.reading.curve
    if isinstance(curve, NoThreshold):
        return _turned_reason(curve) if is_falling else in_percent(curve)
    ends = axis.values[0], axis.values[-1]
    margin = 0.02 * (ends[1] - ends[0])
    first, last = ends[0] - margin, ends[1] + margin
    xs = np.linspace(first, last, N_LINE_POINTS)
    sign = -1.0 if is_falling else 1.0
    # The band is costly: its points lie closely where the curve rises and sparsely elsewhere.
    rise = sign * (curve.midpoint + RISE_WIDTHS * curve.width * np.linspace(-1, 1, N_RISE_POINTS))
    sparse = np.linspace(first, last, N_SPARSE_POINTS)
    band_xs = np.unique(np.clip([*sparse, *rise], first, last))[: None if counted.is_drawn else 0]
    low, high = curve.band(sign * band_xs, CONFIDENCE) if band_xs.size else (band_xs, band_xs)
    return Line(
        axis_values=tuple(xs.tolist()),
        p=tuple(curve.probability(sign * xs).tolist()),
        band_values=tuple(band_xs.tolist()),
        p_low=tuple(np.clip(low, 0.0, 1.0).tolist()),
        p_high=tuple(np.clip(high, 0.0, 1.0).tolist()),
        form=FORM_WORDS[LIMITS_OF_BLUR.get(curve.model.blur, curve.form)],
        band_confidence=CONFIDENCE,
        band_method="profile likelihood, at each axis value for itself",
        p_fit=p_fit(curve),
    )


def _threshold(counted: Counted, p: float, axis: AxisFacts, mode: ModeFacts) -> ThresholdFacts:
    is_falling = axis.sense == "interference"
    found = counted.reading.thresholds[p]
    if isinstance(found, NoThreshold):
        why = _turned_reason(found) if is_falling else in_percent(found)
        return ThresholdFacts(p, why, None)
    at = Estimate(found.value, found.interval)
    if is_falling:
        at = turned(at)
    return ThresholdFacts(p, at, quoted_snr(at.value, mode) if axis.sense == "snr" else None)


def quoted_snr(snr_db: float, mode: ModeFacts) -> Quoted:
    """An SNR in 2500 Hz in the trade's other references."""
    return Quoted(
        snr_500_hz_db=units.snr_in_bandwidth(snr_db, to_bandwidth_hz=500.0),
        snr_3000_hz_db=units.snr_in_bandwidth(snr_db, to_bandwidth_hz=3000.0),
        c_n0_db_hz=units.snr_in_bandwidth(snr_db, to_bandwidth_hz=1.0),
        es_n0_db=units.es_n0_db(snr_db, symbol_s=mode.symbol_s),
    )


def p_fit(curve: Curve) -> float | None:
    """Chance of points lying as far from their curve as these, or farther; None if nothing is left
    to judge by.

    Chi-square tail of the deviance: rough where few trials are expected on a side, so only
    very small values count.
    """
    clustering = curve.points.clustering
    deviance = curve.deviance / (1.0 if clustering is None else clustering.inflation)
    return float(special.chdtrc(curve.n_degrees, deviance)) if curve.n_degrees else None


def turned(estimate: Estimate) -> Estimate:
    """The estimate on the mirrored axis."""
    interval = estimate.interval
    return Estimate(-estimate.value, replace(interval, low=-interval.high, high=-interval.low))


def in_percent(found: NoThreshold) -> NoThreshold:
    """The reason with its shares in per cent."""
    return replace(found, reason=shares_as_percent(found.reason))


def _turned_reason(found: NoThreshold) -> NoThreshold:
    """Sentences of a mirrored axis would name mirrored values, so they are said anew."""
    match found.bound:
        case "above":
            reason = "too few messages were decoded over the whole axis: add lower values"
            return NoThreshold(reason, "below", None if found.limit is None else -found.limit)
        case "below":
            reason = "too many messages were decoded over the whole axis: add higher values"
            return NoThreshold(reason, "above", None if found.limit is None else -found.limit)
        case _:
            return NoThreshold("the trials do not bound this point: add trials or axis values")
