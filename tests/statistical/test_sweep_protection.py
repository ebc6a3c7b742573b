"""`make validate`: how strong a carrier may be against FT8, at each distance from the signal.

Prints the tables that docs/accuracy.md holds. No outside source gives such a curve for FT8; what is
checked is of the trade (common practice, no source): a carrier inside the signal harms more than
one far away, and a receiver that removes steady carriers bears them better than keyed ones.
"""

from pathlib import Path
from typing import Any

import pytest
from swept_curves import carried_out

from solidcopy.campaigns.journal import JournalReader
from solidcopy.statistics.threshold import Threshold, read_threshold

pytestmark = pytest.mark.sweep

N_TRIALS = 20
"""At each offset and S/I, for each receiver."""
INSIDE_HZ = [float(12.5 * step) for step in range(5)]
OFFSETS_HZ = sorted({*(float(hz) for hz in range(-200, 251, 25)), *INSIDE_HZ})
RECEIVERS = [
    {"kind": "builtin", "name": effort, "effort": effort}
    for effort in ("ordered-statistics", "phase-trellis")
]
KEYING = {"text": "CQ TEST DE Q1ABC", "speed_wpm": 20}
SNR_DB = 0.0
"""Some 20 dB more than needed in noise alone: the carrier decides."""

AXES = {
    "steady": {"start": -110, "stop": -50, "step": 5},
    "keyed": {"start": -65, "stop": 10, "step": 5},
}


def printed_half_points(journal: JournalReader, receiver: int) -> dict[float, float | None]:
    """Print 50 and 90 % points against the offset; the 50 % points, None beyond the axis."""
    print("offset, Hz | S/I at 50 %, dB (95 %) | S/I at 90 %, dB (95 %) | false, sent | silent")
    half_db: dict[float, float | None] = {}
    for place, condition in enumerate(journal.plan.conditions):
        assert condition.mapped is not None
        points = journal.points(place, receiver)
        cells = []
        for p in (0.5, 0.9):
            found = read_threshold(points, p=p)
            if isinstance(found, Threshold):
                low, high = found.interval.low, found.interval.high
                cells.append(f"{found.value:.1f} ({low:.1f} to {high:.1f})")
            else:
                limit = "unknown" if found.limit is None else f"{found.limit:.1f}"
                cells.append(f"{found.bound} {limit}")
            if p == 0.5:
                is_found = isinstance(found, Threshold)
                half_db[condition.mapped.value] = found.value if is_found else None
        false = journal.false_decodes(place, receiver)
        print(
            f"{condition.mapped.value:7.1f} | {cells[0]} | {cells[1]} | "
            f"{false.sent.n_false_decodes} in {false.sent.n_scored} | "
            f"{false.nothing_sent.n_false_decodes} in {false.nothing_sent.n_scored}"
        )
    return half_db


@pytest.mark.derived
@pytest.mark.parametrize("keyed", [False, True], ids=["steady", "keyed"])
def test_protection_ratio_against_offset(tmp_path: Path, keyed: bool) -> None:
    carrier: dict[str, Any] = {
        "kind": "carrier",
        "offset_hz": "map",
        "signal_to_interference_db": "axis",
        **({"keying": KEYING} if keyed else {}),
    }
    name = "keyed" if keyed else "steady"
    fields: dict[str, Any] = {
        "axis": AXES[name],
        "map": {"values": OFFSETS_HZ},
        "stop": {"trials_per_point": N_TRIALS, "nothing_sent": N_TRIALS},
        "conditions": [
            {"name": name, "impairments": [{"kind": "gaussian-noise", "snr_db": SNR_DB}, carrier]}
        ],
        "receivers": RECEIVERS,
    }
    with carried_out(tmp_path, **fields) as journal:
        for place, receiver in enumerate(journal.plan.receivers):
            print(f"\n{name} carrier, SNR {SNR_DB:g} dB, {N_TRIALS} trials, {receiver.name}")
            half_db = printed_half_points(journal, place)
            print(journal.elapsed(len(OFFSETS_HZ) // 2, place))
            inside = [at for hz in INSIDE_HZ if (at := half_db[hz]) is not None]
            far = [at for hz in (-200.0, 250.0) if (at := half_db[hz]) is not None]
            assert inside and max(inside) > max([AXES[name]["start"], *far]) + 10.0
            assert max(inside) < (5.0 if keyed else -55.0)
