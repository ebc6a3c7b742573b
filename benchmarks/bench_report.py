"""Time reports of campaigns with many curves: `python benchmarks/bench_report.py [repeats]`.

Outcomes are made up, journals and reports are real. Two campaigns: a map of 23 offsets heard by two
receivers (46 curves and 23 comparisons), and white noise beside nine published fading conditions
(ten curves of free skewness and nine comparisons). Facts are the counts, fits and intervals; the
whole also draws, re-makes a sample trial of each condition and writes files.
Processor time: other programs lengthen it less than that on the wall.
"""

import math
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np

from laps import Times, lap, machine, print_times
from solidcopy.campaigns.environment import Environment
from solidcopy.campaigns.journal import Finished, JournalReader, JournalWriter
from solidcopy.impairments.published.fading_conditions import fading_conditions
from solidcopy.receivers.receiver import Decode
from solidcopy.reports.gather import gather
from solidcopy.reports.write import write_report
from solidcopy.trials.expand import TrialKey
from solidcopy.trials.outcome import Outcome, Verdict
from solidcopy.trials.plan import Plan, parse_plan
from solidcopy.trials.trial import SENT, LevelReading, Readings

NOISE = {"kind": "gaussian-noise", "snr_db": "axis"}
LEVEL = LevelReading("noise", "SNR in 2500 Hz", 0.0, 0.01, 0.05, -20.0, -20.0, -6.6, 13.4, 0.0)
READINGS = Readings(-40.0, (LEVEL,), -20.0, -6.5, 13.5, 0, 0.0)


def map_plan() -> Plan:
    """One carrier over S/I and 23 offsets, two efforts of the built-in receiver."""
    carrier = {"kind": "carrier", "offset_hz": "map", "signal_to_interference_db": "axis"}
    return parse_plan(
        {
            "mode": "ft8",
            "root_seed": 5,
            "axis": {"start": -60, "stop": 0, "step": 5},
            "map": {"start": -250, "stop": 300, "step": 25},
            "stop": {"trials_per_point": 20, "nothing_sent": 0},
            "receivers": [
                {"kind": "builtin", "name": "usual"},
                {"kind": "builtin", "name": "quick", "effort": "belief-propagation"},
            ],
            "conditions": [
                {"name": "carrier", "impairments": [{**NOISE, "snr_db": 0}, carrier]},
            ],
        }
    )


def fading_plan() -> Plan:
    """White noise alone and with nine published conditions of fading."""
    fading: list[dict[str, Any]] = [
        {
            "name": name,
            "impairments": [NOISE, {"kind": "two-path-fading", "preset": name}],
        }
        for name in fading_conditions()
        if name != "high-latitude quiet"  # the same numbers as mid-latitude moderate
    ]
    return parse_plan(
        {
            "mode": "ft8",
            "root_seed": 6,
            "axis": {"start": -26, "stop": 0, "step": 2},
            "stop": {"trials_per_point": 60, "nothing_sent": 0},
            "conditions": [{"name": "noise", "impairments": [NOISE]}, *fading],
        }
    )


def midpoint_db(plan: Plan, place: int) -> tuple[float, float]:
    """Made-up 50 % point and scale of a condition: a hill along a map, or one step a condition."""
    mapped = plan.conditions[place].mapped
    if mapped is not None:
        return -50.0 + 30.0 * math.exp(-(((mapped.value - 25.0) / 80.0) ** 2)), 3.0
    return -21.0 + 0.7 * place, 0.8 if place == 0 else 3.0


def outcomes(plan: Plan) -> Iterator[Finished]:
    """Outcomes of that plan; conditions and receivers share the luck of each trial."""
    luck = np.random.default_rng(plan.root_seed)
    for value in plan.axis.points():
        draws = luck.normal(size=plan.stop.limit_per_point)
        for place in range(len(plan.conditions)):
            middle, scale = midpoint_db(plan, place)
            for receiver in range(len(plan.receivers)):
                for index, draw in enumerate(draws.tolist()):
                    is_decoded = middle + receiver + scale * draw < value
                    yield Finished(
                        TrialKey(place, SENT, value, index), receiver, made_up(is_decoded)
                    )


def made_up(is_decoded: bool) -> Outcome:
    """An outcome that no receiver had to work for."""
    verdict = Verdict.DECODED if is_decoded else Verdict.MISSED
    right = Decode("CQ Q1ABC JO22", 1500.0, 0.1) if is_decoded else None
    return Outcome(verdict, right, (), 0.1, "00" * 32, READINGS)


def write_journal(folder: Path, plan: Plan) -> Path:
    """A finished campaign of that plan."""
    here = Environment("CPython", {}, "a benchmark", "a processor", 1, "2026-11-25T07:00:00+00:00")
    with JournalWriter(folder, plan, here) as journal:
        journal.append(list(outcomes(plan)))
        journal.settle()
    return folder


def main() -> None:
    n_repeats = int(sys.argv[1]) if len(sys.argv) > 1 else 3
    times: Times = {}
    print(machine())
    with tempfile.TemporaryDirectory() as folder:
        for name, plan in (("map", map_plan()), ("fading", fading_plan())):
            campaign = write_journal(Path(folder) / name, plan)
            for _ in range(n_repeats):
                with JournalReader(campaign) as reader:
                    lap(times, f"{name}, facts", lambda: gather(reader))
                lap(times, f"{name}, whole", lambda: write_report(campaign, campaign / "report"))  # noqa: B023
    print(f"ms of processor time: median, least – most of {n_repeats}")
    print_times(times)


if __name__ == "__main__":
    main()
