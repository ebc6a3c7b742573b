"""Small plans that tests build upon."""

import copy
from typing import Any

MINIMAL: dict[str, Any] = {
    "mode": "ft8",
    "root_seed": 1,
    "axis": {"start": -24, "stop": -18, "step": 1},
    "stop": {"trials_per_point": 10},
    "conditions": [
        {"name": "quiet", "impairments": [{"kind": "gaussian-noise", "snr_db": "axis"}]}
    ],
}


def changed(**changes: Any) -> dict[str, Any]:
    data = copy.deepcopy(MINIMAL)
    data.update(changes)
    return data


def condition(name: str = "quiet", **fields: Any) -> dict[str, Any]:
    return {"name": name, "impairments": [{"kind": "gaussian-noise", "snr_db": "axis"}], **fields}
