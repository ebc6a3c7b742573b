"""Two curves of any two campaigns set against each other: the facts."""

from dataclasses import dataclass

from solidcopy.modes.registry import mode_named
from solidcopy.reports.axis import axis_facts
from solidcopy.reports.curves import SHARES, Counted, curve_facts
from solidcopy.reports.describe import condition_facts
from solidcopy.reports.facts import AxisFacts
from solidcopy.reports.gather import DECISION_HALF_WIDTH_DB, reading_at
from solidcopy.reports.likeness import OneCurve, differences, pairing, shared_axis
from solidcopy.reports.measured import CurveFacts, PenaltyFacts
from solidcopy.reports.penalties import Comparing, Precision, penalty_facts
from solidcopy.statistics.evidence import NoEvidence
from solidcopy.statistics.sides import apart, in_pairs
from solidcopy.statistics.threshold import Reading


@dataclass(frozen=True, slots=True)
class Overruled:
    """Reasons against a comparison that the user set aside, and why."""

    reasons: tuple[str, ...]
    because: str
    """In the user's words."""


@dataclass(frozen=True, slots=True)
class SideFacts:
    """One of the two curves."""

    folder: str
    """Name of the campaign's folder."""
    curve: CurveFacts
    is_finished: bool
    """Whether it has all trials that its plan asks for."""
    recipes: tuple[tuple[str, int], ...]
    """What has a recipe and the number it was made with; empty where they cannot be told."""


@dataclass(frozen=True, slots=True)
class AcrossFacts:
    """Curve A against curve B."""

    mode: str
    axis: AxisFacts
    a: SideFacts
    b: SideFacts
    is_paired: bool
    pairing: str
    """In words: whether trials were compared one by one, and why or why not."""
    is_tied: bool
    """In one of them a disturbance is tied to the signal: along an SNR only the noise differs."""
    penalties: tuple[PenaltyFacts, ...]
    """At each share: threshold of A less that of B."""
    differences: tuple[str, ...]
    """Settings in which the two differ; none if they are the same."""
    overruled: Overruled | None


def across_facts(
    a: OneCurve, b: OneCurve, *, folders: tuple[str, str], overruled: Overruled | None
) -> AcrossFacts:
    """Compare two curves that were found alike enough, or whose user answers for it.

    Args:
        folders: names of their campaigns' folders.
    """
    axis = shared_axis(a, b)
    is_paired, why = pairing(a, b)
    side_a, side_b = (curve.reader.side(curve.condition, curve.receiver) for curve in (a, b))
    trials = (in_pairs if is_paired else apart)(side_b, side_a)
    of_b, of_a = (reading_at(c.reader, (c.condition, c.receiver), axis) for c in (b, a))
    comparing = Comparing("condition", "A", "B", "", (of_b, of_a))
    precision = Precision(DECISION_HALF_WIDTH_DB, None) if axis.step_unit == "dB" else None
    return AcrossFacts(
        mode=a.reader.plan.mode,
        axis=axis,
        a=_side(a, folders[0], of_a),
        b=_side(b, folders[1], of_b),
        is_paired=is_paired,
        pairing=why,
        is_tied=any(
            condition_facts(curve.reader.plan, curve.settings).has_fixed_ratio for curve in (a, b)
        ),
        penalties=tuple(
            penalty_facts(comparing, trials, p=p, axis=axis, precision=precision) for p in SHARES
        ),
        differences=differences(a, b),
        overruled=overruled,
    )


def _side(curve: OneCurve, folder: str, reading: Reading) -> SideFacts:
    plan, place = curve.reader.plan, (curve.condition, curve.receiver)
    clustering = curve.reader.points(*place).clustering
    counted = Counted(curve.reader.tallies(*place), reading, is_drawn=False, clustering=clustering)
    names = curve.settings.name, plan.receivers[curve.receiver].name
    axis, mode = axis_facts(plan), mode_named(plan.mode).facts
    recipes = curve.recipes()
    return SideFacts(
        folder,
        curve_facts(*names, counted, axis=axis, mode=mode),
        curve.reader.is_finished(*place),
        () if isinstance(recipes, NoEvidence) else tuple(recipes.items()),
    )
