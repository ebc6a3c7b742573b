"""A log that the machine cannot hold is refused before it is read."""

import os
from pathlib import Path

import pytest

from solidcopy.actions.read_log import read_log_file
from solidcopy.errors import LogError
from solidcopy.logs.entry import ReadOptions

pytestmark = [
    pytest.mark.derived,
    pytest.mark.skipif(not hasattr(os, "sysconf"), reason="memory is not told here"),
]


def test_a_log_beyond_the_memory_is_refused(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    log = tmp_path / "long.txt"
    log.write_text("2026-11-25T18:30:15Z;CQ Q3XYZ FN42\n" * 1000, encoding="utf-8")
    assert len(read_log_file(log, ReadOptions()).reading.entries) == 1
    monkeypatch.setattr("os.sysconf", lambda _: 1000)
    with pytest.raises(LogError, match=r"of memory, and this machine has 0\.0; cut it in pieces"):
        read_log_file(log, ReadOptions())
