"""Campaigns of two receivers with known thresholds, straight into a journal: no audio."""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np

from solidcopy.campaigns.environment import Environment
from solidcopy.campaigns.journal import Finished, JournalWriter
from solidcopy.receivers.receiver import Decode
from solidcopy.trials.expand import TrialKey, nothing_sent_value
from solidcopy.trials.outcome import Outcome, Verdict
from solidcopy.trials.plan import Plan, parse_plan
from solidcopy.trials.trial import NOTHING_SENT, SENT

ENVIRONMENT = Environment("CPython 3.11", {}, "somewhere", "a processor", 2, "2026-01-01T00:00:00Z")
OLD, NEW = "the old build", "the new build"
SCALE_DB = 0.8


@dataclass(frozen=True)
class Truth:
    """How one simulated receiver does under one condition."""

    threshold_db: float = -21.5
    p_false: float = 0.0
    snr_bias_db: float = 0.0
    cpu_s: float | None = 0.05
    p_failed: float = 0.0
    is_falling: bool = False
    """Along an axis of interference: decoded below the threshold."""


def plan_of_two(
    conditions: list[dict[str, Any]] | None = None, *, n: int = 60, seed: int = 7, **fields: Any
) -> Plan:
    noise = {"kind": "gaussian-noise", "snr_db": "axis"}
    return parse_plan(
        {
            "title": "Two builds",
            "mode": "ft8",
            "root_seed": seed,
            "axis": {"start": -25, "stop": -18, "step": 1},
            "stop": {"trials_per_point": n, "nothing_sent": 20},
            "conditions": conditions or [{"name": "quiet band", "impairments": [noise]}],
            "receivers": [
                {"kind": "builtin", "name": OLD},
                {"kind": "builtin", "name": NEW, "effort": "phase-trellis"},
            ],
            **fields,
        }
    )


def finished_trials(
    plan: Plan, truths: dict[tuple[int, int], Truth], *, shared: float = 0.9, seed: int = 1
) -> Iterator[Finished]:
    """Outcomes of every trial.

    Args:
        truths: by place of condition and of receiver.
        shared: share of the luck that all receivers and conditions have in common.
    """
    keys = [(SENT, x, i) for x in plan.axis.points() for i in range(plan.stop.limit_per_point)]
    keys += [(NOTHING_SENT, nothing_sent_value(plan), i) for i in range(plan.stop.nothing_sent)]
    for arm, value, index in keys:
        generator = np.random.default_rng([seed, arm == SENT, round(10 * value) + 1000, index])
        common = generator.normal()
        for (condition, receiver), truth in truths.items():
            luck = np.sqrt(shared) * common + np.sqrt(1.0 - shared) * generator.normal()
            above_db = value - truth.threshold_db
            is_decoded = SCALE_DB * luck < (-above_db if truth.is_falling else above_db)
            key = TrialKey(condition, arm, value, index)
            yield Finished(key, receiver, _outcome(key, truth, is_decoded, generator))


def _outcome(
    key: TrialKey, truth: Truth, is_decoded: bool, generator: np.random.Generator
) -> Outcome:
    false = (Decode("Q9ZZZ Q8YYY 73"),) if generator.random() < truth.p_false else ()
    outcome = Outcome(Verdict.NOTHING_SENT, None, false, 0.2, "", None, None, truth.cpu_s)
    if generator.random() < truth.p_failed:
        return replace(outcome, verdict=Verdict.FAILED, false=(), failure="RuntimeError: no")
    if key.arm == NOTHING_SENT:
        return outcome
    if not is_decoded:
        return replace(outcome, verdict=Verdict.MISSED)
    reported_db = round(key.axis_value + truth.snr_bias_db + generator.normal())
    right = Decode("CQ Q1ABC JO62", 1500.0, 0.1, reported_db)
    return replace(outcome, verdict=Verdict.DECODED, right=right)


def write_campaign(
    folder: Path, truths: dict[tuple[int, int], Truth], plan: Plan | None = None, **chance: Any
) -> Path:
    chosen = plan or plan_of_two()
    with JournalWriter(folder, chosen, ENVIRONMENT) as writer:
        writer.append(finished_trials(chosen, truths, **chance))
    return folder
