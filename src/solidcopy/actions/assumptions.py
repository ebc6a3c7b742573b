"""What planning takes for granted: curves and correlations, of a pilot or the usual ones."""

from dataclasses import dataclass
from itertools import product
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from solidcopy.actions.folder import folder_of
from solidcopy.campaigns.journal import JournalReader
from solidcopy.campaigns.journal.schema import JOURNAL_FILE
from solidcopy.statistics.comparison import Penalty, penalty
from solidcopy.statistics.curve import Curve, fit_curve
from solidcopy.statistics.planning import USUAL_SCALE, AssumedCurve
from solidcopy.trials.curve_shape import CurveShape, curve_shape
from solidcopy.trials.identity import curve_identity, receiver_identity
from solidcopy.trials.plan import Plan

Places = tuple[int, int]
"""0-based places of a condition and a receiver."""

FADED_SCALE = 10.0 / np.log(10.0)
"""One fade a message: FACTS B4."""

RECEIVERS_ALIKE = 0.4
"""Correlation of the thresholds of two receivers that meet the same trials; 0.50 and 0.56 measured
between two efforts of the built-in receiver, 40 trials at each of 7 SNRs, two conditions."""
CONDITIONS_ALIKE = 0.0
"""Of two conditions heard by one receiver: nothing in common, to be on the safe side. Beside a weak
carrier (I/N -15 dB) 0.70 and 0.77 were measured; where a disturbance rules, little is shared."""
FEWEST_PILOT_TRIALS = 40
"""Of a curve, all axis values together."""


@dataclass(frozen=True, slots=True)
class Side:
    """One curve as it is assumed.

    Args:
        name: condition and receiver.
        curve: along a rising axis.
        shape: direction of the real one.
        is_pilot: whether a pilot showed it; if not, its place on the axis is unknown.
    """

    name: str
    curve: AssumedCurve
    shape: CurveShape
    is_pilot: bool

    def rising(self, values: NDArray[np.float64]) -> NDArray[np.float64]:
        """Axis values of a rising curve, ascending."""
        return -values[::-1] if self.shape.is_falling else values

    def standard_error(self, values: NDArray[np.float64], p: float) -> float:
        """Of the threshold, from one trial at each axis value."""
        rising = self.rising(values)
        if self.is_pilot:
            return self.curve.standard_error(rising, p)
        return self.curve.anywhere(rising, p)


@dataclass(frozen=True, slots=True)
class Pair:
    """Two curves to be compared.

    Args:
        name: of the two sides.
        places: of the curves.
        correlation: of their thresholds.
        is_pilot: whether a pilot showed it.
    """

    name: str
    places: tuple[Places, Places]
    correlation: float
    is_pilot: bool


@dataclass(frozen=True, slots=True)
class Assumptions:
    """All curves of a plan, and its comparisons: with the first condition, with the first receiver.

    Args:
        sides: by places.
        pairs: of curves.
    """

    sides: dict[Places, Side]
    pairs: tuple[Pair, ...]


def assume(plan: Plan, file: Path) -> Assumptions:
    """Curves and correlations of a plan; from its campaign folder, where that holds a pilot.

    Raises: JournalError if the journal there cannot be read.
    """
    folder = folder_of(file)
    places = list(product(range(len(plan.conditions)), range(len(plan.receivers))))
    sides = {place: _usual(plan, place) for place in places}
    pairs = [_pair(plan, *pair) for pair in _compared(plan)]
    if not (folder / JOURNAL_FILE).is_file():
        return Assumptions(sides, tuple(pairs))
    with JournalReader(folder) as pilot:
        there = {place: _place_in(plan, pilot.plan, place) for place in places}
        for place in places:
            sides[place] = _seen(pilot, there[place], sides[place])
        pairs = [_correlated(pilot, pair, there, sides) for pair in pairs]
    return Assumptions(sides, tuple(pairs))


def _usual(plan: Plan, place: Places) -> Side:
    shape = curve_shape(plan, place[0])
    values = plan.axis.points()
    middle = (values[0] + values[-1]) / 2.0
    middle = -middle if shape.is_falling else middle
    curve = AssumedCurve(middle, USUAL_SCALE)
    if shape.form == "faded":
        curve = AssumedCurve(middle, FADED_SCALE, form="outage")
    condition, receiver = plan.conditions[place[0]].name, plan.receivers[place[1]].name
    return Side(f"{condition}, {receiver}", curve, shape, False)


def _compared(plan: Plan) -> list[tuple[Places, Places]]:
    n_conditions, n_receivers = len(plan.conditions), len(plan.receivers)
    found = [((0, r), (c, r)) for c in range(1, n_conditions) for r in range(n_receivers)]
    return found + [((c, 0), (c, r)) for c in range(n_conditions) for r in range(1, n_receivers)]


def _pair(plan: Plan, a: Places, b: Places) -> Pair:
    conditions = [plan.conditions[place].name for place in (b[0], a[0])]
    receivers = [plan.receivers[place].name for place in (b[1], a[1])]
    if a[0] == b[0]:
        name = f"{receivers[0]} against {receivers[1]}, {conditions[0]}"
        return Pair(name, (a, b), RECEIVERS_ALIKE, False)
    name = f"{conditions[0]} against {conditions[1]}, {receivers[0]}"
    return Pair(name, (a, b), CONDITIONS_ALIKE, False)


def _place_in(plan: Plan, other: Plan, place: Places) -> Places | None:
    """Where the same curve stands in a pilot's plan, which may have been another."""
    curve = curve_identity(plan, plan.conditions[place[0]])
    receiver = receiver_identity(plan.receivers[place[1]])
    for condition, heard in product(range(len(other.conditions)), range(len(other.receivers))):
        if (
            curve_identity(other, other.conditions[condition]) == curve
            and receiver_identity(other.receivers[heard]) == receiver
        ):
            return condition, heard
    return None


def _seen(pilot: JournalReader, place: Places | None, usual: Side) -> Side:
    """The curve that a pilot shows; the usual one where it shows none."""
    if place is None:
        return usual
    points = usual.shape.rising(pilot.points(*place))
    if points.n_scored.sum() < FEWEST_PILOT_TRIALS:
        return usual
    found = fit_curve(points, usual.shape.form)
    if not isinstance(found, Curve):
        return usual
    blur = found.model.blur or 0.0
    curve = AssumedCurve(found.midpoint, found.scale, found.lapse, found.form, blur)
    return Side(usual.name, curve, usual.shape, True)


def _correlated(
    pilot: JournalReader,
    pair: Pair,
    there: dict[Places, Places | None],
    sides: dict[Places, Side],
) -> Pair:
    places = [there[place] for place in pair.places]
    a, b = places
    if a is None or b is None or not all(sides[place].is_pilot for place in pair.places):
        return pair
    shapes = [sides[place].shape for place in pair.places]
    paired = pilot.paired(a, b)
    found = penalty(
        paired.mirrored() if shapes[0].is_falling else paired,
        form=(shapes[0].form, shapes[1].form),
    )
    if not isinstance(found, Penalty) or not found.n_pairs:
        return pair
    return Pair(pair.name, pair.places, min(found.correlation, 0.95), True)
