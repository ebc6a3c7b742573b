"""Journals of any length whose outcomes were drawn from a known curve; no audio behind them.

The rows are those that `JournalWriter.append` would write, put in by whole columns: a million takes
seconds instead of minutes. tests/families/test_made_journal.py holds one way against the other.
"""

import hashlib
import math
from collections.abc import Iterator
from contextlib import closing
from dataclasses import replace
from functools import lru_cache
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from solidcopy.campaigns.environment import Environment
from solidcopy.campaigns.journal import Finished, JournalReader, JournalWriter
from solidcopy.campaigns.journal.coding import encode_decodes, encode_readings
from solidcopy.campaigns.journal.schema import JOURNAL_FILE, open_for_writing
from solidcopy.campaigns.journal.scores import fill_scores
from solidcopy.campaigns.journal.tables import VERDICT_NUMBERS
from solidcopy.receivers.receiver import Decode
from solidcopy.trials.expand import TrialKey, nothing_sent_value
from solidcopy.trials.outcome import Outcome, Verdict
from solidcopy.trials.plan import Plan, parse_plan
from solidcopy.trials.trial import NOTHING_SENT, SENT, LevelReading, Readings

HERE = Environment("CPython", {}, "made up", "a processor", 1, "2026-11-25T07:00:00+00:00")
WIDTH_DB = 0.8
"""Standard deviation of the cumulative normal curve behind all outcomes."""
LAG_DB = 0.5
"""How much more signal each further receiver needs."""
P_FALSE, P_FAILED = 1e-3, 2e-5
N_LOOKS = 16
"""Different decodes, readings and times; trial index modulo this chooses."""

NOISE = {"kind": "gaussian-noise", "snr_db": "axis"}
RECEIVERS = [
    {"kind": "builtin", "name": "usual"},
    {"kind": "builtin", "name": "quick", "effort": "belief-propagation"},
]


def curves_plan(n_per_point: int, *, n_conditions: int = 4, n_silent: int = 0, **stop: Any) -> Plan:
    """Up to four conditions, two receivers, eleven axis values: 22 to 88 points of so many trials.

    Args:
        n_per_point: trials at each point; the limit, if `stop` names another rule.
        n_conditions: 1 to 4.
        n_silent: trials per condition with nothing sent.
        stop: another rule than that number.
    """
    carrier = {"kind": "carrier", "offset_hz": 25.0}
    beside = [{**carrier, "signal_to_interference_db": ratio_db} for ratio_db in (0, -6, -12)]
    rule = {**stop, "at_most": n_per_point} if stop else {"trials_per_point": n_per_point}
    return parse_plan(
        {
            "title": "What does a carrier cost, and whom?",
            "mode": "ft8",
            "root_seed": 20261201,
            "axis": {"start": -24, "stop": -14, "step": 1},
            "stop": {**rule, "nothing_sent": n_silent},
            "receivers": RECEIVERS,
            "conditions": [
                {"name": "quiet", "impairments": [NOISE]},
                *(
                    {"name": f"carrier {place}", "impairments": [NOISE, one]}
                    for place, one in enumerate(beside[: n_conditions - 1], 1)
                ),
            ],
        }
    )


def map_plan(n_per_point: int) -> Plan:
    """One carrier over S/I and 23 offsets, two receivers: 598 cells of so many trials."""
    carrier = {"kind": "carrier", "offset_hz": "map", "signal_to_interference_db": "axis"}
    return parse_plan(
        {
            "title": "How strong may a carrier be, at each distance?",
            "mode": "ft8",
            "root_seed": 20261202,
            "axis": {"start": -60, "stop": 0, "step": 5},
            "map": {"start": -250, "stop": 300, "step": 25},
            "stop": {"trials_per_point": n_per_point, "nothing_sent": 0},
            "receivers": RECEIVERS,
            "conditions": [
                {"name": "carrier", "impairments": [{**NOISE, "snr_db": 0}, carrier]},
            ],
        }
    )


def midpoint(plan: Plan, condition: int, receiver: int) -> float:
    """Axis value at which half of the messages get through: a hill over a map, else steps."""
    mapped = plan.conditions[condition].mapped
    if mapped is not None:
        return -50.0 + 30.0 * math.exp(-(((mapped.value - 25.0) / 80.0) ** 2)) + LAG_DB * receiver
    return -21.0 + 1.3 * condition + LAG_DB * receiver


def width(plan: Plan) -> float:
    """Standard deviation of the curve behind the outcomes, in units of the axis."""
    return WIDTH_DB if plan.conditions[0].mapped is None else 5.0 * WIDTH_DB


class Column(NamedTuple):
    """Outcomes of one point by trial index; (n,) each."""

    condition: int
    receiver: int
    arm: str
    axis_value: float
    verdict: NDArray[np.int64]
    n_false: NDArray[np.int64]


def columns(plan: Plan) -> Iterator[Column]:
    """Every point of a plan; conditions and receivers share the luck of each trial."""
    n, n_silent = plan.stop.limit_per_point, plan.stop.nothing_sent
    middle = nothing_sent_value(plan)
    arms = [(SENT, value, n) for value in plan.axis.points()] + [(NOTHING_SENT, middle, n_silent)]
    for place, (arm, value, size) in enumerate(arms):
        luck = np.random.default_rng([plan.root_seed, place])
        signal = luck.normal(scale=width(plan), size=size)
        for condition in range(len(plan.conditions)):
            for receiver in range(len(plan.receivers)):
                is_decoded = signal + midpoint(plan, condition, receiver) < value
                verdict = np.where(is_decoded, _number(Verdict.DECODED), _number(Verdict.MISSED))
                if arm == NOTHING_SENT:
                    verdict[:] = _number(Verdict.NOTHING_SENT)
                verdict[luck.random(size) < P_FAILED] = _number(Verdict.FAILED)
                n_false = (luck.random(size) < P_FALSE).astype(np.int64)
                yield Column(condition, receiver, arm, value, verdict, n_false)


def _number(verdict: Verdict) -> int:
    return VERDICT_NUMBERS[verdict]


def finished(plan: Plan) -> Iterator[Finished]:
    """The same outcomes one by one, as workers hand them back."""
    verdicts = {number: verdict for verdict, number in VERDICT_NUMBERS.items()}
    for column in columns(plan):
        for index, (verdict, n_false) in enumerate(zip(*column[-2:], strict=True)):
            key = TrialKey(column.condition, column.arm, column.axis_value, index)
            look = index % N_LOOKS
            yield Finished(
                key, column.receiver, _outcome(verdicts[int(verdict)], int(n_false), look, key)
            )


def finished_behind(plan: Plan, n_done: int, n_more: int) -> Iterator[Finished]:
    """Trials with a message sent behind those of a plan, index by index as runs do: the first
    ones of each point under later indexes.
    """
    short = with_trials(plan, n_more, n_silent=0)
    for item in sorted(finished(short), key=lambda item: item.key.trial_index):
        yield replace(item, key=replace(item.key, trial_index=n_done + item.key.trial_index))


def with_trials(plan: Plan, n_per_point: int, *, n_silent: int | None = None) -> Plan:
    """The plan with another number of trials at each point, and with nothing sent."""
    n_silent = plan.stop.nothing_sent if n_silent is None else n_silent
    stop = {"trials_per_point": n_per_point, "nothing_sent": n_silent}
    return parse_plan({**plan.model_dump(mode="json"), "stop": stop})


def _outcome(verdict: Verdict, n_false: int, look: int, key: TrialKey) -> Outcome:
    return Outcome(
        verdict=verdict,
        right=_decode(look) if verdict is Verdict.DECODED else None,
        false=(Decode("Q9XYZ Q1ABC 73", 700.0 + look),) * n_false,
        elapsed_s=_elapsed_s(look),
        digest=_digest(key).hex(),
        readings=_readings(key.axis_value, look),
        failure="ValueError: made up" if verdict is Verdict.FAILED else None,
        cpu_s=_elapsed_s(look) / 2,
    )


def _decode(look: int) -> Decode:
    return Decode("CQ Q1ABC JO22", 1500.25, -0.125, look - 24.0, look % 4, 41.5, "first")


def _elapsed_s(look: int) -> float:
    return 0.05 + 0.01 * look


def _readings(axis_value: float, look: int) -> Readings:
    got_db = axis_value + 0.01 * (look - N_LOOKS / 2)
    level = LevelReading(
        "gaussian-noise", "SNR in 2500 Hz", axis_value, got_db, 0.05, -20.0, -20.0, -6.6, 13.4
    )
    return Readings(-40.0, (level,), -20.0, -6.5, 13.5, 0, -1.0 / 3.0)


def _digest(key: TrialKey) -> bytes:
    return hashlib.sha256(str(key).encode() + key.arm.encode()).digest()


@lru_cache(maxsize=4096)
def _tail(verdict: int, n_false: int, look: int) -> tuple[Any, ...]:
    """The columns of an outcome behind its place, but its run."""
    key = TrialKey(0, SENT, 0.0, 0)
    verdicts = {number: verdict for verdict, number in VERDICT_NUMBERS.items()}
    made = _outcome(verdicts[verdict], n_false, look, key)
    return (
        verdict,
        n_false,
        made.elapsed_s,
        encode_decodes(made),
        made.failure,
        1,
        made.cpu_s,
    )


def write_made_journal(folder: Path, plan: Plan) -> Path:
    """A finished campaign of that plan; its folder."""
    with JournalWriter(folder, plan, HERE):
        pass
    with JournalReader(folder) as reader:
        places = {
            (c, r): reader.series_place(c, r, SENT, 0.0)
            for c in range(len(plan.conditions))
            for r in range(len(plan.receivers))
        }
    with closing(open_for_writing(folder / JOURNAL_FILE)) as connection:
        connection.execute("BEGIN IMMEDIATE")
        for column in columns(plan):
            curve, receiver, _, _ = places[column.condition, column.receiver]
            arm = int(column.arm == NOTHING_SENT)
            place = (curve, receiver, arm, column.axis_value)
            rows = enumerate(zip(column.verdict.tolist(), column.n_false.tolist(), strict=True))
            connection.executemany(
                "INSERT INTO outcome VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
                ((*place, index, *_tail(*two, index % N_LOOKS)) for index, two in rows),
            )
            if column.receiver == 0:
                connection.executemany(
                    "INSERT INTO recording VALUES (?, ?, ?, ?, ?, ?)",
                    _recordings(column, (curve, arm, column.axis_value)),
                )
        fill_scores(connection)
        connection.execute(
            "UPDATE run SET settled_utc = '2026-11-25T08:00:00+00:00', "
            "n_outcomes = (SELECT count(*) FROM outcome)"
        )
        connection.execute("COMMIT")
    with JournalWriter(folder, plan, HERE) as writer, JournalReader(folder) as reader:
        writer.keep_refused(reader.refused())  # as a run does when it finds nothing left to do
    return folder


def _recordings(column: Column, place: tuple[int, int, float]) -> Iterator[tuple[Any, ...]]:
    texts = [encode_readings(_readings(column.axis_value, look)) for look in range(N_LOOKS)]
    for index in range(column.verdict.size):
        key = TrialKey(column.condition, column.arm, column.axis_value, index)
        yield (*place, index, _digest(key), texts[index % N_LOOKS])
