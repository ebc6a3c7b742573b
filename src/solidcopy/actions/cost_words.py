"""What a recorded noise costs, in sentences. Pure functions of facts."""

import math

from solidcopy.actions.cost_facts import HeardCost, RemedyFigure
from solidcopy.actions.cost_figures import Difference, Portions
from solidcopy.noise.features.figure import CannotTell
from solidcopy.noise.twin.loudness import Loudness
from solidcopy.reports.measured import Estimate
from solidcopy.reports.wording import (
    capital,
    confidence_word,
    counted,
    number,
    places_of,
    span,
)
from solidcopy.statistics.evidence import NoThreshold
from solidcopy.statistics.stretches import LEAST_STRETCHES

DOUBTFUL = (
    "The points hardly follow a curve: this noise differs along the band or from time to time, so "
    "the 50 % point may stand on a shoulder. Ask for one place with --audio-hz and another --out."
)
LEAST_TOLD_DB = 0.1
NOTEWORTHY_DB = 0.5
"""A noise that stands so little over its own floor is that floor."""


def cost_sentence(heard: HeardCost, by: str) -> str:
    """The cost beside Gaussian noise of equal power, or why it cannot be told."""
    shift = heard.cost.shift
    if isinstance(shift, NoThreshold):
        return f"What this noise costs{by} cannot be told yet: {_named(shift.reason)}."
    places, ends = places_of(shift.interval), shift.interval
    confidence = confidence_word(ends.confidence)
    if ends.holds(0.0):
        return (
            f"In this noise{by} the same share gets through as in Gaussian noise of equal power: "
            f"no difference is shown ({confidence}: {number(-ends.low, places)} dB less to "
            f"{number(ends.high, places)} dB more signal)."
        )
    size, way, low, high = _sized(shift)
    return (
        f"In this noise{by} the same share gets through at {number(size, places)} dB {way} signal "
        f"than in Gaussian noise of equal power ({confidence}: {span(low, high, places)})."
    )


def _sized(shift: Estimate) -> tuple[float, str, float, float]:
    """Size, "more" or "less", and the ends from low to high, all as sizes."""
    if shift.value >= 0.0:
        return shift.value, "more", shift.interval.low, shift.interval.high
    return -shift.value, "less", -shift.interval.high, -shift.interval.low


def floor_sentence(heard: HeardCost, loudness: Loudness) -> list[str]:
    """What there is to win over the floor."""
    over = loudness.over_floor_db
    if isinstance(over, CannotTell):
        return [f"Against its own floor nothing can be said: {over.reason}."]
    if over.value < NOTEWORTHY_DB:
        return [
            "Nearly all of its power is its own Gaussian floor "
            f"(mean {number(over.value, 1)} dB over it), so there is little to win."
        ]
    start = f"Its mean power lies {number(over.value, 1)} dB over its own Gaussian floor in 2500 Hz"
    gain = heard.over_own_floor
    if gain is None:
        return [f"{start}."]
    places = places_of(gain.interval)
    ends = span(gain.interval.low, gain.interval.high, places)
    return [
        f"{start}; if only that floor remained, the same share would get through at "
        f"{number(gain.value, places)} dB less signal "
        f"({confidence_word(gain.interval.confidence)}: {ends})."
    ]


def remedy_sentence(remedy: RemedyFigure) -> str:
    """What a remedy gives back."""
    name, shift = capital(remedy.name), remedy.change.shift
    if isinstance(shift, NoThreshold):
        if shift.bound == "above" and shift.limit is not None and shift.limit >= LEAST_TOLD_DB:
            least_db = number(math.floor(10.0 * shift.limit) / 10.0, 1)
            return f"{name}: costs at least {least_db} dB (95 % sure); it does harm here."
        return f"{name}: cannot be told yet ({_named(shift.reason)})."
    ends, places = shift.interval, places_of(shift.interval)
    confidence = confidence_word(ends.confidence)
    if ends.holds(0.0):
        return (
            f"{name}: no difference is shown ({confidence}: {number(-ends.low, places)} dB gained "
            f"to {number(ends.high, places)} dB lost)."
        )
    size, way, low, high = _sized(shift)
    verb = "gives back" if way == "less" else "costs"
    return f"{name}: {verb} {number(size, places)} dB ({confidence}: {span(low, high, places)})."


def _named(reason: str) -> str:
    """Reasons name the sides of a comparison by letters; here the first is the plainer noise."""
    return reason.replace("side a: ", "without it ").replace("side b: ", "with it ")


def where_sentence(mode: str, audio_hz: tuple[float, float], cost: Difference) -> str:
    """Where the signal was sent, and how many trials there are."""
    low_hz, high_hz = audio_hz
    place = (
        f"at {low_hz:g} Hz" if low_hz == high_hz else f"anywhere from {low_hz:g} to {high_hz:g} Hz"
    )
    n_first, n_own = cost.n_trials
    return (
        f"Measured with {mode.upper()}, lowest tone {place}, {counted(n_own, 'trial')} in the "
        f"recording and {n_first} in Gaussian noise."
    )


def portion_sentence(portions: Portions, *, is_of_this_recording_only: bool) -> str:
    """How much independent noise there was, and for what the intervals hold."""
    n = portions.n_independent
    start = (
        f"The recording lasts {number(portions.duration_s, 0)} s and holds "
        f"{counted(n, 'independent portion')} of one slot; every trial took a place of its own in "
        "it, and places overlap."
    )
    if n < LEAST_STRETCHES:
        return (
            f"{start} So few do not tell how this noise varies: the intervals hold for this very "
            f"recording, not for the noise at another time. Record {LEAST_STRETCHES} slots or more."
        )
    if is_of_this_recording_only:
        return f"{start} The intervals hold for this very recording."
    return (
        f"{start} The intervals allow for that: {portions.n_stretches} stretches were left out one "
        "by one."
    )
