"""`make validate`: false decodes of the strongest level where nothing is sent.

The bound, one slot in a thousand, is ours, no outside source.
"""

from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
from swept_curves import SENDING, carried_out, printed_bound

from example_plans import condition

pytestmark = pytest.mark.sweep

MOST_FALSE = 1e-3
KEYED_CARRIER = {
    "kind": "carrier",
    "audio_hz": 1200.0,
    "interference_to_noise_db": 15.0,
    "keying": {"kind": "morse", "speed_wpm": 20.0},
}
IMPULSES = {
    "kind": "impulses",
    "rate_per_s": 10.0,
    "timing": "random",
    "interference_to_noise_db": 10.0,
}


@dataclass(frozen=True, slots=True)
class Quiet:
    """Slots without a transmission, and what disturbs them besides white noise."""

    name: str
    n_slots: int
    added: tuple[dict[str, Any], ...]


CASES = (
    Quiet("white noise", 10_000, ()),
    Quiet("a keyed carrier", 3_000, (KEYED_CARRIER,)),
    Quiet("impulses", 3_000, (IMPULSES,)),
)


@pytest.mark.derived
@pytest.mark.parametrize("case", CASES, ids=lambda case: case.name)
def test_nothing_is_decoded_where_nothing_is_sent(case: Quiet, tmp_path: Path) -> None:
    disturbed = condition(case.name, sending=SENDING)
    disturbed["impairments"] = [*disturbed["impairments"], *case.added]
    with carried_out(
        tmp_path,
        root_seed=23,
        axis={"values": [-23.0]},
        stop={"trials_per_point": 1, "nothing_sent": case.n_slots},
        conditions=[disturbed],
        receivers=[{"kind": "builtin", "effort": "phase-trellis"}],
    ) as journal:
        tally = journal.false_decodes(0, 0).nothing_sent
        assert tally.n_scored == case.n_slots
        assert printed_bound(f"FT8, phase-trellis, {case.name}", tally) <= MOST_FALSE
