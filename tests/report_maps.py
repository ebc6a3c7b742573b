"""Campaigns over a map with made-up outcomes of known probability."""

import math
from functools import cache
from pathlib import Path
from tempfile import mkdtemp
from typing import Any

from report_examples import write_campaign
from solidcopy.reports.write import Report, write_report
from solidcopy.trials.plan import Plan, parse_plan

OFFSETS_HZ = (-100.0, -25.0, 0.0, 25.0, 50.0, 125.0)
CARRIER = {"kind": "carrier", "offset_hz": "map", "signal_to_interference_db": "axis"}
KEYED = {**CARRIER, "keying": {"text": "CQ TEST DE Q1ABC"}}
NOISE = {"kind": "gaussian-noise", "snr_db": 0}


def over_offsets(**changes: Any) -> Plan:
    """A steady and a keyed carrier over S/I and offset."""
    data: dict[str, Any] = {
        "title": "How strong may a <carrier> be?",
        "mode": "ft8",
        "root_seed": 5,
        "axis": {"start": -40, "stop": 0, "step": 5},
        "map": {"values": OFFSETS_HZ},
        "stop": {"trials_per_point": 20, "nothing_sent": 2},
        "conditions": [
            {"name": "steady", "impairments": [NOISE, CARRIER]},
            {"name": "keyed", "impairments": [NOISE, KEYED]},
        ],
    }
    data.update(changes)
    return parse_plan(data)


def true_half_db(offset_hz: float, height_db: float = 40.0) -> float:
    """S/I at which half gets through: a hill around 25 Hz, -60 dB far away."""
    return -60.0 + height_db * math.exp(-(((offset_hz - 25.0) / 60.0) ** 2))


def true_halves_db(plan: Plan, heights_db: dict[str, float]) -> list[float]:
    """Of each condition of a plan, by the height of the hill of its map."""
    return [
        true_half_db(condition.mapped.value, heights_db[condition.mapped.condition])
        for condition in plan.conditions
        if condition.mapped is not None
    ]


@cache
def map_campaign() -> Path:
    """A finished campaign that several tests read; the keyed carrier harms 8 dB more."""
    folder = Path(mkdtemp(prefix="solidcopy-")) / "map"
    plan = over_offsets()
    halves_db = true_halves_db(plan, {"steady": 42.5, "keyed": 50.5})
    write_campaign(folder, plan, halves_db, n_trials=20, n_silent=2)
    return folder


@cache
def map_report() -> Report:
    """The report of the shared campaign."""
    return write_report(map_campaign(), map_campaign() / "report")
