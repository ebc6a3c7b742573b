"""A campaign carried out by a process of its own, which outlives whoever started it.

The journal is the only link: whether a run is going on is read from its lock, how far it came from
its outcomes. So a page, its server and a second window can come and go.
"""

import signal
import subprocess
import sys
import time
from pathlib import Path

import psutil

from solidcopy.actions.folder import folder_of
from solidcopy.campaigns.journal import JournalReader
from solidcopy.campaigns.journal.lock import holder
from solidcopy.errors import JournalError

RUN_LOG = "run.log"
"""What the last run said, in the campaign's folder."""
START_WITHIN_S = 60.0
STOP_WITHIN_S = 30.0
EVERY_S = 0.1


def start_run(source: Path, *, n_workers: int | None = None, retry_failed: bool = False) -> int:
    """Begin or go on with a campaign; returns once it writes, or has ended.

    Args:
        source: plan file or campaign folder.
        n_workers: processes; None: one for each processor.
        retry_failed: run trials again in which a receiver failed.
    Returns: the process.
    Raises: JournalError if one is running already, or with what it said if it failed at once.
    """
    words = ["run", str(source)]
    words += [] if n_workers is None else ["--workers", str(n_workers)]
    words += ["--retry-failed"] if retry_failed else []
    return begin(folder_of(source), words)


def begin(folder: Path, words: list[str]) -> int:
    """Start a command of ours that writes into a campaign; see `start_run`.

    Args:
        folder: of the campaign; what the command says goes into its `RUN_LOG`.
        words: of the command, behind "solidcopy".
    """
    running = holder(folder)
    if running is not None:
        raise JournalError(f"{folder.name}: is being carried out already (process {running})")
    folder.mkdir(parents=True, exist_ok=True)
    command = [sys.executable, "-m", "solidcopy", *words]
    with (folder / RUN_LOG).open("wb") as log:
        process = subprocess.Popen(
            command, stdin=subprocess.DEVNULL, stdout=log, stderr=log, start_new_session=True
        )
    end_s = time.monotonic() + START_WITHIN_S
    while time.monotonic() < end_s and process.poll() is None and not _is_writing(folder):
        time.sleep(EVERY_S)
    if process.poll():
        raise JournalError(last_words(folder))
    return process.pid


def _is_writing(folder: Path) -> bool:
    """Whether a process holds the journal, and it can be read already."""
    if holder(folder) is None:
        return False
    try:
        with JournalReader(folder):
            return True
    except JournalError:
        return False


def stop_run(folder: Path) -> bool:
    """Ask the process that carries a campaign out to stop cleanly, and wait for it.

    Returns: whether one was running.
    Raises: JournalError if it has not ended within half a minute.
    """
    running = holder(folder)
    if running is None:
        return False
    psutil.Process(running).send_signal(signal.SIGINT)
    end_s = time.monotonic() + STOP_WITHIN_S
    while holder(folder) is not None:
        if time.monotonic() > end_s:
            raise JournalError(f"{folder.name}: process {running} is asked to stop and goes on yet")
        time.sleep(EVERY_S)
    return True


def last_words(folder: Path) -> str:
    """The last line that the last run said, without the command's name."""
    try:
        lines = (folder / RUN_LOG).read_text("utf-8", errors="replace").split("\n")
    except FileNotFoundError:
        return ""
    said = [line.strip() for line in lines if line.strip()]
    return said[-1].removeprefix("solidcopy: ") if said else ""
