"""A command of our own in a process of its own, which outlives whoever started it.

What it is doing is told by three files in a folder of its own below the bench folder: its lock is
held as long as it lives, its words are what the command prints, and its end is written last. So a
page, its server and a second window can come and go, as with a campaign's run.
"""

import json
import subprocess
import sys
import time
from dataclasses import dataclass
from pathlib import Path

from solidcopy.actions.background_run import stop_run
from solidcopy.actions.job_process import END, ERRORS, PRINTED
from solidcopy.actions.workspace import Workspace, checked_name
from solidcopy.campaigns.journal.lock import holder
from solidcopy.errors import JournalError

JOBS = ".jobs"
"""Sub-folder of the bench folder."""
START_WITHIN_S, EVERY_S = 30.0, 0.05


@dataclass(frozen=True, slots=True)
class Job:
    """How far a command is."""

    is_running: bool
    exit_code: int | None
    """None while it runs, if it was never started, or if it was broken off from outside."""
    printed: str
    """What it printed so far."""
    last_words: str
    """The last line of what it said besides, without the command's name; of one that was broken
    off a sentence that says so."""

    @property
    def is_done(self) -> bool:
        """Whether it ended well."""
        return self.exit_code == 0

    @property
    def failure(self) -> str:
        """Why it did not end well; empty while it runs, or if it did, or was never started."""
        return "" if self.is_running or self.is_done else self.last_words


def start_job(space: Workspace, kind: str, name: str, words: list[str]) -> None:
    """Start `solidcopy WORDS...`; returns once it runs, or has ended.

    Args:
        space: bench folder.
        kind, name: of the job; one of them runs at a time.
        words: of the command. No shell reads them; whoever composes them sees to it that a name
            cannot be taken for an option.
    Raises: JournalError if that job is running already.
    """
    folder = _folder(space, kind, name)
    folder.mkdir(parents=True, exist_ok=True)
    if holder(folder) is not None:
        raise JournalError(f"{name}: this is being done already ({kind}); wait for it")
    (folder / END).unlink(missing_ok=True)
    with (folder / PRINTED).open("wb") as printed, (folder / ERRORS).open("wb") as said:
        process = subprocess.Popen(
            [sys.executable, "-m", "solidcopy.actions.job_process", str(folder), *words],
            stdin=subprocess.DEVNULL,
            stdout=printed,
            stderr=said,
            start_new_session=True,
        )
    end_s = time.monotonic() + START_WITHIN_S
    while time.monotonic() < end_s and process.poll() is None and holder(folder) is None:
        time.sleep(EVERY_S)


def stop_job(space: Workspace, kind: str, name: str) -> bool:
    """Ask a job to end, as Ctrl-C does, and wait for it. Returns: whether one was running.

    Raises: JournalError if it has not ended within half a minute.
    """
    return stop_run(_folder(space, kind, name))


def job_state(space: Workspace, kind: str, name: str) -> Job:
    """How far a job is, whoever started it."""
    folder = _folder(space, kind, name)
    is_running = holder(folder) is not None
    printed = _text(folder / PRINTED)
    said = [line.strip() for line in _text(folder / ERRORS).split("\n") if line.strip()]
    exit_code = None if is_running else _exit_code(folder / END)
    last = said[-1].removeprefix("solidcopy: ") if said else ""
    if not is_running and exit_code is None and (folder / ERRORS).exists():
        last = "it was broken off from outside; start it again"
    return Job(is_running, exit_code, printed, last)


def _folder(space: Workspace, kind: str, name: str) -> Path:
    return space.folder / JOBS / f"{kind}-{checked_name(name)}"


def _text(file: Path) -> str:
    try:
        return file.read_text("utf-8", errors="replace")
    except FileNotFoundError:
        return ""


def _exit_code(file: Path) -> int | None:
    try:
        return int(json.loads(file.read_text("utf-8"))["exit_code"])
    except (FileNotFoundError, ValueError, KeyError):
        return None
