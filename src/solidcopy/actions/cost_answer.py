"""The answer to what a recorded noise costs, in words and as numbers."""

import math
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from solidcopy.actions.cost_facts import HeardCost, RemedyFigure, heard_dict, reading_dict
from solidcopy.actions.cost_figures import Difference, Figures, Portions, recording_in
from solidcopy.actions.cost_plan import GAUSSIAN, OWN
from solidcopy.actions.cost_words import (
    DOUBTFUL,
    cost_sentence,
    floor_sentence,
    portion_sentence,
    remedy_sentence,
    where_sentence,
)
from solidcopy.actions.folder import existing_folder
from solidcopy.campaigns.journal import JournalReader
from solidcopy.errors import PlanError
from solidcopy.modes.registry import mode_named
from solidcopy.noise.features.figure import CannotTell
from solidcopy.noise.twin.loudness import Loudness, find_floor, measure_loudness
from solidcopy.reports.measured import Estimate
from solidcopy.reports.wording import (
    quoted,
)
from solidcopy.statistics.evidence import Interval, NoThreshold
from solidcopy.trials.condition import Condition, Spread
from solidcopy.trials.plan import Plan


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
            said.append(cost_sentence(heard, by))
            said += floor_sentence(heard, self.loudness)
            said += [DOUBTFUL] if heard.is_doubtful else []
            said += [remedy_sentence(remedy) for remedy in heard.remedies]
        return said

    def notes(self) -> list[str]:
        """How it was measured, and for what it holds."""
        return [
            where_sentence(self.mode, self.audio_hz, self.heard[0].cost),
            portion_sentence(
                self.portions,
                is_of_this_recording_only=any(
                    heard.cost.is_of_this_recording_only for heard in self.heard
                ),
            ),
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
            "over_floor_db": reading_dict(self.loudness.over_floor_db),
            "is_finished": self.is_finished,
            "sentences": self.sentences(),
            "receivers": [heard_dict(heard) for heard in self.heard],
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
        is_doubtful=figures.is_doubtful(own, receiver),
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
