"""Campaigns with made-up outcomes of known probability, written through the real journal."""

import math
from functools import cache
from pathlib import Path
from tempfile import mkdtemp
from typing import Any

import numpy as np

from solidcopy.campaigns.environment import Environment
from solidcopy.campaigns.journal import Finished, JournalWriter
from solidcopy.receivers.receiver import Decode
from solidcopy.reports.write import Report, write_report
from solidcopy.trials.expand import TrialKey, trial_of
from solidcopy.trials.make import make
from solidcopy.trials.outcome import Outcome, Verdict
from solidcopy.trials.plan import Plan, parse_plan
from solidcopy.trials.trial import NOTHING_SENT, SENT, LevelReading, Readings

PLACE_OF = Environment(
    python="CPython 3.11.7",
    libraries={"solidcopy": "0.1", "numpy": "2.4"},
    platform="a test",
    cpu="a processor",
    n_cpus=2,
    started_utc="2026-11-25T07:00:00+00:00",
)

CARRIER = {
    "name": "neighbour's carrier",
    "impairments": [
        {"kind": "gaussian-noise", "snr_db": "axis"},
        {"kind": "carrier", "interference_to_noise_db": -6.0, "offset_hz": 18.0},
    ],
}


def two_conditions(**changes: Any) -> Plan:
    """A quiet band against a neighbour's carrier, over the SNR."""
    data: dict[str, Any] = {
        "title": "What does the neighbour's carrier cost?",
        "mode": "ft8",
        "root_seed": 20261125,
        "axis": {"start": -24, "stop": -14, "step": 1},
        "stop": {"trials_per_point": 60, "nothing_sent": 20},
        "conditions": [
            {"name": "quiet", "impairments": [{"kind": "gaussian-noise", "snr_db": "axis"}]},
            CARRIER,
        ],
    }
    data.update(changes)
    return parse_plan(data)


def p_decoded(axis_value: float, midpoint: float, sigma: float = 0.8) -> float:
    return 0.5 * math.erfc(-(axis_value - midpoint) / sigma / math.sqrt(2.0))


def readings_of(asked_db: float, got_db: float) -> Readings:
    level = LevelReading(
        "gaussian-noise", "SNR in 2500 Hz", asked_db, got_db, 0.05, -20.0, -20.0, -6.6, 13.4, 0.0
    )
    return Readings(-40.0, (level,), -20.0, -6.5, 13.5, 0, 0.0)


def outcome_of(plan: Plan, key: TrialKey, *, is_decoded: bool, is_real: bool) -> Outcome:
    """An outcome; of a real one the recording is made, so that its digest can be proved."""
    digest, readings = "00" * 32, readings_of(key.axis_value, key.axis_value + 0.01)
    if is_real:
        recording, _ = make(trial_of(plan, key))
        digest, readings = recording.digest, recording.readings
    verdict = Verdict.DECODED if is_decoded else Verdict.MISSED
    if key.arm == NOTHING_SENT:
        verdict = Verdict.NOTHING_SENT
    right = Decode("CQ Q1ABC JO22", 1500.0, 0.1) if verdict is Verdict.DECODED else None
    return Outcome(verdict, right, (), 0.1, digest, readings)


def write_campaign(
    folder: Path,
    plan: Plan,
    midpoints: list[float],
    *,
    n_trials: int = 60,
    real_at: float | None = None,
    n_silent: int = 20,
    n_failed: int = 0,
    receiver_shift: float = 0.0,
    is_falling: bool = False,
    dip_at: float | None = None,
) -> None:
    """A journal whose condition i decodes half at `midpoints[i]`; all meet the same luck.

    Args:
        real_at: axis value whose first trials are made for real.
        n_failed: the last trials of each point that end as failures.
        dip_at: all is decoded but near this axis value; `midpoints` are then losses besides.
        is_falling: right is harder.
        receiver_shift: how much farther right each further receiver decodes half.
    """
    luck = np.random.default_rng(plan.root_seed)
    with JournalWriter(folder, plan, PLACE_OF) as journal:
        finished: list[Finished] = []
        for value in plan.axis.points():
            draws = luck.uniform(size=n_trials)
            for place, midpoint in enumerate(midpoints):
                for receiver in range(len(plan.receivers)):
                    p = p_decoded(value, midpoint + receiver * receiver_shift)
                    p = 1.0 - p if is_falling else p
                    if dip_at is not None:
                        p = min(1.0, abs(value - dip_at) / 40.0) * (1.0 - midpoint)
                    for index in range(n_trials):
                        key = TrialKey(place, SENT, value, index)
                        outcome = outcome_of(
                            plan,
                            key,
                            is_decoded=bool(draws[index] < p),
                            is_real=value == real_at and index == 0,
                        )
                        if index >= n_trials - n_failed:
                            outcome = Outcome(
                                Verdict.FAILED, None, (), 0.1, "00" * 32, outcome.readings, "crash"
                            )
                        finished.append(Finished(key, receiver, outcome))
        middle = plan.axis.points()[len(plan.axis.points()) // 2]
        for place in range(len(midpoints)):
            for receiver in range(len(plan.receivers)):
                for index in range(n_silent):
                    key = TrialKey(place, NOTHING_SENT, middle, index)
                    outcome = outcome_of(plan, key, is_decoded=False, is_real=False)
                    finished.append(Finished(key, receiver, outcome))
        journal.append(finished)
        journal.settle()


@cache
def shared_campaign() -> Path:
    """A finished campaign that several tests read; its first condition has one real trial."""
    folder = Path(mkdtemp(prefix="solidcopy-")) / "harbour"
    plan = two_conditions(
        title="What does the <neighbour's> carrier cost & why?",
        axis={"values": [-23, -21, -19.5, -17, -15]},
        stop={"trials_per_point": 30, "nothing_sent": 20},
    )
    write_campaign(folder, plan, [-21.0, -17.4], n_trials=30, real_at=-21.0)
    return folder


@cache
def shared_report() -> Report:
    """The report of the shared campaign."""
    return write_report(shared_campaign(), shared_campaign() / "report")
