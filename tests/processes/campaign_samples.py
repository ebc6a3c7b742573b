"""A small real plan: three SNRs, the built-in receiver and one written in Python."""

from pathlib import Path
from typing import Any

from solidcopy.trials.plan import Plan, parse_plan

RECEIVERS_FOLDER = Path(__file__).parent / "receivers"
N_TRIALS = 8
N_SILENT = 2


def plan_with(**changes: Any) -> Plan:
    data: dict[str, Any] = {
        "mode": "ft8",
        "root_seed": 20,
        "axis": {"values": [-23.0, -21.0, -19.0]},
        "stop": {"trials_per_point": N_TRIALS, "nothing_sent": N_SILENT},
        "conditions": [
            {
                "name": "quiet",
                "impairments": [{"kind": "gaussian-noise", "snr_db": "axis"}],
            }
        ],
        "receivers": [
            {"kind": "builtin", "name": "ours", "effort": "belief-propagation"},
            python_receiver("loud"),
        ],
    }
    return parse_plan({**data, **changes})


def python_receiver(name: str, **settings: Any) -> dict[str, Any]:
    return {"kind": "python", "name": name, "load": f"process_receivers:{name}", **settings}


PLAN = plan_with()
N_OUTCOMES = 2 * (3 * N_TRIALS + N_SILENT)
