"""The answer to what a recorded noise costs, in words and as numbers."""

import math
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from solidcopy.actions.cost_figures import Difference, Figures, Portions, recording_in
from solidcopy.actions.cost_plan import GAUSSIAN, OWN
from solidcopy.actions.folder import existing_folder
from solidcopy.campaigns.journal import JournalReader
from solidcopy.errors import PlanError
from solidcopy.modes.registry import mode_named
from solidcopy.noise.features.figure import CannotTell, Figure
from solidcopy.noise.twin.loudness import Loudness, find_floor, measure_loudness
from solidcopy.reports.measured import Estimate
from solidcopy.reports.wording import (
    capital,
    confidence_word,
    counted,
    number,
    places_of,
    quoted,
    span,
)
from solidcopy.statistics.evidence import Interval, NoThreshold
from solidcopy.statistics.stretches import LEAST_STRETCHES
from solidcopy.statistics.threshold import Threshold
from solidcopy.trials.condition import Condition, Spread
from solidcopy.trials.plan import Plan

NOTEWORTHY_DB = 0.5
"""A noise that stands so little over its own floor is that floor."""


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


@dataclass(frozen=True, slots=True)
class CostAnswer:
    """All that is said about one recording."""

    recording: str
    mode: str
    audio_hz: tuple[float, float]
    portions: Portions
    loudness: Loudness
    heard: tuple[HeardCost, ...]
    is_finished: bool

    def text(self) -> str:
        """For a person: the answer first, what it rests on below."""
        return "\n".join([*self.sentences(), *self.notes()])

    def sentences(self) -> list[str]:
        """The answers, receiver by receiver."""
        said = []
        for heard in self.heard:
            by = f" (receiver {quoted(heard.receiver)})" if len(self.heard) > 1 else ""
            said.append(_cost_sentence(heard, by))
            said += _floor_sentence(heard, self.loudness)
            said += [_remedy_sentence(remedy) for remedy in heard.remedies]
        return said

    def notes(self) -> list[str]:
        """How it was measured, and for what it holds."""
        return [
            _where(self),
            *_portion_sentences(self),
            "Equal power means equal mean power between 200 and 2700 Hz; an SNR here is the "
            "wanted power over that. The recording must be as the receiver heard it: automatic "
            "gain control and noise reduction off.",
            *([] if self.is_finished else ["Not finished: the same command goes on."]),
        ]

    def as_dict(self) -> dict[str, Any]:
        """For a program."""
        return {
            "recording": self.recording,
            "mode": self.mode,
            "reference_band_hz": [200.0, 2700.0],
            "audio_hz": list(self.audio_hz),
            "n_independent_portions": self.portions.n_independent,
            "mean_dbfs": self.loudness.mean_dbfs,
            "over_floor_db": _reading_dict(self.loudness.over_floor_db),
            "is_finished": self.is_finished,
            "sentences": self.sentences(),
            "receivers": [_heard_dict(heard) for heard in self.heard],
        }


def read_cost(source: Path) -> CostAnswer:
    """The answer of a campaign that `noise cost` began, as far as it has come.

    Args:
        source: its folder, or the plan file.
    Raises: JournalError if nothing was begun; PlanError if the plan lacks the two conditions.
    """
    with JournalReader(existing_folder(source)) as reader, reader.snapshot():
        figures = Figures(reader)
        plan = reader.plan
        gaussian, own = _place(plan, GAUSSIAN), _place(plan, OWN)
        recording = recording_in(plan.conditions[own])
        noise = figures.source
        if recording is None or noise is None:
            raise PlanError(f'condition "{OWN}" plays no recording')
        mode = mode_named(plan.mode).facts
        low_hz, high_hz = _audio_range(plan.conditions[own])
        loudness = measure_loudness(noise, find_floor(noise), (low_hz, high_hz + mode.width_hz))
        return CostAnswer(
            recording=Path(recording.file).name,
            mode=mode.name,
            audio_hz=(low_hz, high_hz),
            portions=figures.portions(),
            loudness=loudness,
            heard=tuple(
                _heard(figures, (gaussian, own), receiver, loudness)
                for receiver in range(len(plan.receivers))
            ),
            is_finished=all(
                reader.is_finished(condition, receiver)
                for condition in range(len(plan.conditions))
                for receiver in range(len(plan.receivers))
            ),
        )


def _place(plan: Plan, name: str) -> int:
    names = [condition.name for condition in plan.conditions]
    if name not in names:
        raise PlanError(f'the plan holds no condition named "{name}"; leave that name as it was')
    return names.index(name)


def _audio_range(condition: Condition) -> tuple[float, float]:
    audio_hz = condition.sending.audio_hz
    if isinstance(audio_hz, Spread):
        return audio_hz.low, audio_hz.high
    if isinstance(audio_hz, str):
        raise PlanError("sending.audio_hz must be a number or {low, high} here")
    return audio_hz, audio_hz


def _heard(
    figures: Figures, places: tuple[int, int], receiver: int, loudness: Loudness
) -> HeardCost:
    gaussian, own = places
    cost = figures.difference(gaussian, own, receiver)
    remedies = [
        RemedyFigure(
            condition.name.removeprefix(f"{OWN}, "), figures.difference(own, place, receiver)
        )
        for place, condition in enumerate(figures.plan.conditions)
        if condition.chain_blocks() and recording_in(condition) is not None
    ]
    return HeardCost(
        receiver=figures.plan.receivers[receiver].name,
        threshold=figures.threshold(own, receiver),
        cost=cost,
        over_own_floor=_over_own_floor(cost, loudness),
        remedies=tuple(remedies),
    )


def _over_own_floor(cost: Difference, loudness: Loudness) -> Estimate | None:
    """The cost at equal power and what the recording's power is over its floor add up.

    Both thresholds are SNRs; the signal itself stands by the ratio of the two noise powers higher.
    """
    over = loudness.over_floor_db
    if isinstance(over, CannotTell) or isinstance(cost.shift, NoThreshold):
        return None
    value = cost.shift.value + over.value
    interval, half_db = cost.shift.interval, loudness.over_floor_half_db
    low = value - math.hypot(cost.shift.value - interval.low, half_db)
    high = value + math.hypot(interval.high - cost.shift.value, half_db)
    return Estimate(value, Interval(low, high, interval.confidence, interval.method))


def _cost_sentence(heard: HeardCost, by: str) -> str:
    shift = heard.cost.shift
    if isinstance(shift, NoThreshold):
        return f"What this noise costs{by} cannot be told yet: {shift.reason}."
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


def _floor_sentence(heard: HeardCost, loudness: Loudness) -> list[str]:
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


def _remedy_sentence(remedy: RemedyFigure) -> str:
    name, shift = capital(remedy.name), remedy.change.shift
    if isinstance(shift, NoThreshold):
        return f"{name}: cannot be told yet ({shift.reason})."
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


def _where(found: CostAnswer) -> str:
    low_hz, high_hz = found.audio_hz
    place = (
        f"at {low_hz:g} Hz" if low_hz == high_hz else f"anywhere from {low_hz:g} to {high_hz:g} Hz"
    )
    return f"Measured with {found.mode.upper()}, lowest tone {place}, {_trial_words(found)}."


def _trial_words(found: CostAnswer) -> str:
    n_first, n_own = found.heard[0].cost.n_trials
    return f"{counted(n_own, 'trial')} in the recording and {n_first} in Gaussian noise"


def _portion_sentences(found: CostAnswer) -> list[str]:
    portions, n = found.portions, found.portions.n_independent
    start = (
        f"The recording lasts {number(portions.duration_s, 0)} s and holds "
        f"{counted(n, 'independent portion')} of one slot; every trial took a place of its own in "
        "it, and places overlap."
    )
    if n < LEAST_STRETCHES:
        return [
            f"{start} So few do not tell how this noise varies: the intervals hold for this very "
            f"recording, not for the noise at another time. Record {LEAST_STRETCHES} slots or more."
        ]
    if any(heard.cost.is_of_this_recording_only for heard in found.heard):
        return [f"{start} The intervals hold for this very recording."]
    return [
        f"{start} The intervals allow for that: {portions.n_stretches} stretches were left out one "
        "by one."
    ]


def _reading_dict(reading: Figure | CannotTell) -> dict[str, Any]:
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


def _heard_dict(heard: HeardCost) -> dict[str, Any]:
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
