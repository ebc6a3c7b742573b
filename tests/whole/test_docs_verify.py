"""The program printed for doubters runs, and finds what the certificate says."""

import re
import subprocess
import sys
from pathlib import Path

import pytest

from solidcopy.actions.make_slots import SlotRequest, make_slots, start_for

PAGE = Path(__file__).parents[2] / "docs/howto/verify-a-file.md"
PLAN = """
mode = "ft8"
root_seed = 5
axis = { values = [-10] }
stop = { trials_per_point = 1, nothing_sent = 0 }
[[conditions]]
name = "quiet"
impairments = [{ kind = "gaussian-noise", snr_db = "axis" }]
"""


@pytest.mark.authority  # power by numpy and SHA-256 by hashlib, in a program of its own
def test_the_printed_program_finds_the_snr(tmp_path: Path) -> None:
    (program,) = re.findall(r"```python\n(.*?)```", PAGE.read_text(encoding="utf-8"), re.S)
    assert "solidcopy" not in program
    (tmp_path / "own.py").write_text(program)
    plan = tmp_path / "plan.toml"
    plan.write_text(PLAN)
    start = start_for(plan, "2026-11-25T18:30:00Z")
    request = SlotRequest(start, tmp_path / "s", per_point=3, nothing_sent=0, is_one_file=False)
    for _ in make_slots(plan, request):
        pass
    for number in (1, 2, 3):
        file = tmp_path / f"s/slot-000{number}.wav"
        done = subprocess.run(
            [sys.executable, tmp_path / "own.py", file], capture_output=True, text=True, check=True
        )
        is_alike, measured, said = done.stdout.split()
        assert is_alike == "True"
        # Beats of signal and noise in 75 Hz over 12.64 s: spread 0.11 dB (derived), three of it.
        assert abs(float(measured) - float(said)) < 0.35
        assert abs(float(said) + 10.0) < 0.3
