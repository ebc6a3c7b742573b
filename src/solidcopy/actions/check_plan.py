"""What a plan asks for, in words and numbers, and how long that takes here."""

import os
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from solidcopy.actions.live_order import stations_of
from solidcopy.campaigns.workers import Batch, Job, run_batch
from solidcopy.modes.registry import mode_named
from solidcopy.reports.axis import axis_facts
from solidcopy.reports.describe import condition_facts, receiver_facts, stop_words
from solidcopy.reports.wording import counted, duration, plain
from solidcopy.trials.expand import TrialKey
from solidcopy.trials.plan import Plan, read_plan
from solidcopy.trials.trial import SENT

N_TIMED = 4
"""Trials timed for an estimate, after one that pays for imports and compilation."""


@dataclass(frozen=True, slots=True)
class PlanSummary:
    """A checked plan and its cost."""

    plan: Plan
    axis_label: str
    n_trials: int
    """At most: a precision may be reached before."""
    seconds_per_trial: float
    """One processor, all receivers; measured on trials of this plan."""
    n_processors: int

    @property
    def seconds(self) -> float:
        """At most, on all processors of this machine."""
        return self.n_trials * self.seconds_per_trial / self.n_processors

    def as_dict(self) -> dict[str, Any]:
        """For a program."""
        return {
            "title": self.plan.title,
            "mode": self.plan.mode,
            "axis": self.axis_label,
            "axis_values": list(self.plan.axis.points()),
            "map_values": list(self.plan.map.points()) if self.plan.map else [],
            "conditions": [condition.name for condition in self.plan.conditions],
            "receivers": [receiver.name for receiver in self.plan.receivers],
            "n_trials_at_most": self.n_trials,
            "seconds_per_trial": self.seconds_per_trial,
            "n_processors": self.n_processors,
            "seconds_at_most": self.seconds,
        }

    def text(self) -> str:
        """For a person."""
        plan, points = self.plan, self.plan.axis.points()
        values = f"{plain(points[0])} to {plain(points[-1])}" if len(points) > 1 else "one value"
        lines = [plan.title or "(no title)", f"  axis: {self.axis_label}: {values}"]
        lines[-1] += f" ({counted(len(points), 'point')})"
        lines += self._condition_lines()
        for receiver in plan.receivers:
            lines.append(f"  receiver: {receiver_facts(receiver).name}")
        lines.append(f"  stop: {stop_words(plan)}")
        lines.append(
            f"  cost: at most {counted(self.n_trials, 'trial')}, {duration(self.seconds)} on "
            f"{counted(self.n_processors, 'processor')} "
            f"({1000.0 * self.seconds_per_trial:.0f} ms a trial, timed just now)"
        )
        lines += self._station_lines()
        return "\n".join(lines)

    def _station_lines(self) -> list[str]:
        """How long it takes to play to each receiver that listens live."""
        slot_s = mode_named(self.plan.mode).facts.slot_s
        return [
            f'  played to "{station.name}": {duration(self.n_trials * slot_s)} at most, each slot '
            f"used ({slot_s:g} s a trial)"
            for station in stations_of(self.plan).values()
        ]

    def _condition_lines(self) -> list[str]:
        """Each condition in words; those of a map together, as they were written."""
        lines, told = [], set[str]()
        for number, condition in enumerate(self.plan.conditions, 1):
            written = condition.as_written()
            if written.name in told:
                continue
            told.add(written.name)
            head = f"condition {number}: {written.name}"
            if condition.mapped is not None and self.plan.map is not None:
                values = self.plan.map.points()
                last = number + len(values) - 1
                head = (
                    f"conditions {number} to {last}: {written.name}, on the map of "
                    f"{plain(values[0])} to {plain(values[-1])} ({counted(len(values), 'value')})"
                )
            lines.append(f"  {head}")
            for part in condition_facts(self.plan, written).parts:
                numbers = ", ".join(f"{name}: {value}" for name, value in part.numbers)
                lines.append(f"    {part.head}: {numbers}")
        return lines


def most_trials(plan: Plan) -> int:
    """Trials that a plan asks for at most: a precision may be reached before."""
    # Placed adaptively, each receiver's curve has trials of its own.
    n_own = 1 if plan.axis.placement == "even" else len(plan.receivers)
    return len(plan.conditions) * (n_own * plan.limit_per_curve + plan.stop.nothing_sent)


def check_plan(file: Path) -> PlanSummary:
    """Read a plan, make and receive a few of its trials, and sum up. Raises PlanError and
    CalibrationError as a run would."""
    plan = read_plan(file)
    return PlanSummary(
        plan=plan,
        axis_label=axis_facts(plan).label,
        n_trials=most_trials(plan),
        seconds_per_trial=_seconds_per_trial(plan, file.resolve().parent),
        n_processors=os.cpu_count() or 1,
    )


def _seconds_per_trial(plan: Plan, import_folder: Path) -> float:
    """Mean over the conditions, at the middle of the axis. Every condition (of a map: its first,
    middle and last) is tried at both ends of the axis before, so that a level that cannot be made
    shows here and not hours into a campaign."""
    points, places = plan.axis.points(), _tried(plan)
    stations = stations_of(plan)
    receivers = tuple(place for place in range(len(plan.receivers)) if place not in stations)

    def batch(values: tuple[float, ...], n_each: int) -> Batch:
        keys = (
            TrialKey(place, SENT, value, index)
            for place in places
            for value in values
            for index in range(n_each)
        )
        jobs = tuple(Job(key, receivers) for key in keys)
        return Batch(plan.model_dump_json(), jobs, (str(import_folder),))

    run_batch(batch((points[0], points[-1]), 1))
    timed = batch((points[len(points) // 2],), N_TIMED)
    return run_batch(timed).wall_s / len(timed.jobs)


def _tried(plan: Plan) -> list[int]:
    """Places of the conditions to try."""
    places: dict[str, list[int]] = {}
    for place, condition in enumerate(plan.conditions):
        places.setdefault(condition.as_written().name, []).append(place)
    return sorted(
        {found[i] for found in places.values() for i in (0, len(found) // 2, len(found) - 1)}
    )


def plan_schema() -> dict[str, Any]:
    """JSON Schema of plan files."""
    return Plan.model_json_schema()
