"""`make validate`: curves in white noise of the strongest level, and of FT4.

Bounds that no receiver may beat: FACTS A10 (derived there). FT8 with known phase and the CRC used
as code, −25.1 dB; FT4 without phase, about −19 dB. FT4 with known phase is not in that table: its
data symbols hold 4.18 s of power instead of FT8's 9.28 s, 3.5 dB less energy, in 4 tones instead of
8, which can only be worse: −21.6 dB (derived here). The targets are ours, no outside source.
"""

from dataclasses import dataclass
from pathlib import Path

import pytest
from swept_curves import carried_out, printed_bound, printed_thresholds

pytestmark = pytest.mark.sweep

TRIALS_PER_POINT = 1_000
STEP_DB = 0.5


@dataclass(frozen=True, slots=True)
class Level:
    """A mode at a level of effort, the values swept, and what is asked of the curve."""

    mode: str
    effort: str
    span_db: tuple[float, float]
    highest_db: dict[float, float]
    """By the share decoded."""
    bound_db: float
    """Of the 50 % point."""


LEVELS = (
    Level("ft8", "phase-trellis", (-25.0, -21.5), {0.5: -23.2, 0.9: -22.1}, -25.1),
    Level("ft4", "ordered-statistics", (-19.5, -15.5), {0.5: -17.3}, -19.0),
    Level("ft4", "phase-trellis", (-21.0, -16.5), {0.5: -18.5}, -21.6),
)


@pytest.mark.derived
@pytest.mark.parametrize("level", LEVELS, ids=lambda level: f"{level.mode}-{level.effort}")
def test_thresholds_in_white_noise(level: Level, tmp_path: Path) -> None:
    low_db, high_db = level.span_db
    with carried_out(
        tmp_path,
        mode=level.mode,
        root_seed=22,
        axis={"start": low_db, "stop": high_db, "step": STEP_DB},
        stop={"trials_per_point": TRIALS_PER_POINT, "nothing_sent": 0},
        receivers=[{"kind": "builtin", "effort": level.effort}],
    ) as journal:
        values_db = printed_thresholds(journal, f"{level.mode.upper()}, {level.effort}")
        bound = printed_bound("sent", journal.false_decodes(0, 0).sent)
    for p, highest_db in level.highest_db.items():
        assert values_db[p] <= highest_db
    assert values_db[0.5] > level.bound_db
    assert 1.2 <= values_db[0.9] - values_db[0.1] <= 2.4
    assert bound < 1e-3
