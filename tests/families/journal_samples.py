"""Plans and outcomes for journal tests, with no audio behind them."""

import hashlib
from typing import Any

from solidcopy.campaigns.environment import Environment
from solidcopy.campaigns.journal import Finished
from solidcopy.receivers.receiver import Decode
from solidcopy.trials.expand import TrialKey, nothing_sent_value
from solidcopy.trials.outcome import Outcome, Verdict
from solidcopy.trials.plan import Plan, parse_plan
from solidcopy.trials.trial import NOTHING_SENT, SENT, LevelReading, Readings

ENVIRONMENT = Environment(
    "CPython 3.11", {"numpy": "2"}, "somewhere", "some processor", 2, "2026-01-01T00:00:00+00:00"
)


def noise(**changes: Any) -> dict[str, Any]:
    return {"kind": "gaussian-noise", "snr_db": "axis", **changes}


def plan_with(**changes: Any) -> Plan:
    data: dict[str, Any] = {
        "mode": "ft8",
        "root_seed": 7,
        "axis": {"values": [-22.0, -20.0, -18.0]},
        "stop": {"trials_per_point": 4, "nothing_sent": 2},
        "conditions": [
            {"name": "quiet", "impairments": [noise()]},
            {"name": "low", "sending": {"audio_hz": 700.0}, "impairments": [noise()]},
        ],
        "receivers": [
            {"kind": "builtin", "name": "ours"},
            {"kind": "builtin", "name": "quick", "effort": "belief-propagation"},
        ],
    }
    return parse_plan({**data, **changes})


def readings_of(key: TrialKey, *, got_db: float | None = None) -> Readings:
    sent = key.arm == SENT
    got = key.axis_value + 0.01 * key.trial_index if got_db is None else got_db
    level = LevelReading(
        "gaussian-noise",
        "SNR in 2500 Hz",
        key.axis_value,
        got if sent else float("-inf"),
        0.05,
        -20.5,
        -20.5,
        -7.25,
        13.25,
    )
    signal_dbfs = -33.0 if sent else float("-inf")
    return Readings(signal_dbfs, (level,), -20.0, -6.5, 13.5, 0, -1.0 / 3.0)


def digest_of(key: TrialKey) -> str:
    return hashlib.sha256(repr(key).encode()).hexdigest()


def outcome_of(
    key: TrialKey, verdict: Verdict | None = None, *, n_false: int = 0, elapsed_s: float = 0.25
) -> Outcome:
    """By default even trials are decoded and odd ones missed."""
    if verdict is None:
        even = Verdict.DECODED if key.trial_index % 2 == 0 else Verdict.MISSED
        verdict = even if key.arm == SENT else Verdict.NOTHING_SENT
    right = Decode("CQ Q1ABC FN42", 1500.25, -0.125, -19.0, 3, 41.5, "first")
    return Outcome(
        verdict=verdict,
        right=right if verdict is Verdict.DECODED else None,
        false=tuple(Decode(f"Q{place}ÄB 73") for place in range(n_false)),
        elapsed_s=elapsed_s,
        digest=digest_of(key),
        readings=readings_of(key),
        failure="ValueError: no" if verdict is Verdict.FAILED else None,
        cpu_s=0.125,
    )


def finished(plan: Plan, *, n: int | None = None) -> list[Finished]:
    """Every trial of a plan, or the first `n` of each point."""
    count = plan.stop.limit_per_point if n is None else n
    rows = []
    for condition in range(len(plan.conditions)):
        keys = [
            TrialKey(condition, SENT, value, index)
            for value in plan.axis.points()
            for index in range(count)
        ]
        keys += [
            TrialKey(condition, NOTHING_SENT, nothing_sent_value(plan), index)
            for index in range(plan.stop.nothing_sent)
        ]
        rows += [
            Finished(key, receiver, outcome_of(key))
            for receiver in range(len(plan.receivers))
            for key in keys
        ]
    return rows
