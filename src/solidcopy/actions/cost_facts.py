"""What a recorded noise costs, as plain values."""

from dataclasses import dataclass
from typing import Any

from solidcopy.actions.cost_figures import Difference
from solidcopy.noise.features.figure import CannotTell, Reading
from solidcopy.reports.measured import Estimate
from solidcopy.statistics.evidence import NoThreshold
from solidcopy.statistics.threshold import Threshold


@dataclass(frozen=True, slots=True)
class RemedyFigure:
    """What one remedy gives back."""

    name: str
    change: Difference
    """Signal needed more than without it; negative: it helps."""


@dataclass(frozen=True, slots=True)
class HeardCost:
    """The cost as one receiver shows it."""

    receiver: str
    threshold: Threshold | NoThreshold
    """SNR in 2500 Hz, of the recording's mean power, at which half get through."""
    cost: Difference
    """Against Gaussian noise of equal mean power between 200 and 2700 Hz."""
    over_own_floor: Estimate | None
    """Against the recording's own floor; None where the floor is not known or there is no cost."""
    remedies: tuple[RemedyFigure, ...]
    is_doubtful: bool
    """Whether the points in the recording hardly follow a curve."""


def reading_dict(reading: Reading) -> dict[str, Any]:
    """A figure for a program."""
    if isinstance(reading, CannotTell):
        return {"reason": reading.reason}
    low, high = reading.interval
    return {"value": reading.value, "low": low, "high": high}


def _estimate_dict(found: Estimate | NoThreshold | None) -> dict[str, Any] | None:
    if found is None:
        return None
    if isinstance(found, NoThreshold):
        return {"reason": found.reason, "bound": found.bound, "limit": found.limit}
    interval = found.interval
    return {
        "value": found.value,
        "low": interval.low,
        "high": interval.high,
        "confidence": interval.confidence,
        "method": interval.method,
    }


def heard_dict(heard: HeardCost) -> dict[str, Any]:
    """One receiver's figures for a program."""
    at = heard.threshold
    return {
        "receiver": heard.receiver,
        "threshold_snr_2500_hz_db": _estimate_dict(
            Estimate(at.value, at.interval) if isinstance(at, Threshold) else at
        ),
        "cost_db": _estimate_dict(heard.cost.shift),
        "over_own_floor_db": _estimate_dict(heard.over_own_floor),
        "remedies": {remedy.name: _estimate_dict(remedy.change.shift) for remedy in heard.remedies},
    }
