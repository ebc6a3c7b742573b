"""A check of the sound path by a process of its own, for the bench in the browser."""

import contextlib
import subprocess
import sys
import time
from dataclasses import dataclass
from pathlib import Path

import psutil

from solidcopy.actions.workspace import Workspace
from solidcopy.errors import DeviceError, PlanError

FOLDER = ".path-check"
TOLD, FAILED, PROCESS = "told.txt", "failed.txt", "process"


@dataclass(frozen=True, slots=True)
class PathState:
    """The check that is under way, or the last one."""

    is_checking: bool
    lasts_s: float
    """Since it began, if it is under way."""
    told: str
    """What was found, as the command line tells it."""
    failure: str
    """Why there is no finding; empty if there is one."""


def start_check(space: Workspace, *, output: str, source: str, is_confirmed: bool) -> PathState:
    """Begin a check.

    Args:
        output, source: devices by number or name; empty: the system's own.
        is_confirmed: a person has confirmed that nothing that can radiate hangs on the output.
    Raises: PlanError if not; DeviceError if one is under way.
    """
    if not is_confirmed:
        raise PlanError("confirm first that this output is safe to play into; then check again")
    folder = space.folder / FOLDER
    folder.mkdir(exist_ok=True)
    if _running(folder) is not None:
        raise DeviceError("a check of a path is under way; wait until it has ended")
    words = [sys.executable, "-m", "solidcopy", "path", "--safe-path"]
    words += [f"--output={output}"] if output else []
    words += [f"--input={source}"] if source else []
    with (folder / TOLD).open("wb") as told, (folder / FAILED).open("wb") as failed:
        process = subprocess.Popen(
            words, stdin=subprocess.DEVNULL, stdout=told, stderr=failed, start_new_session=True
        )
    (folder / PROCESS).write_text(f"{process.pid} {psutil.Process(process.pid).create_time()}")
    return path_state(space)


def path_state(space: Workspace) -> PathState:
    """What is known now."""
    folder = space.folder / FOLDER
    running = _running(folder)
    if running is not None:
        return PathState(True, time.time() - running.create_time(), "", "")
    told = _text(folder / TOLD)
    lines = _text(folder / FAILED).splitlines()
    failure = lines[-1].removeprefix("solidcopy: ") if lines and not told else ""
    return PathState(False, 0.0, told, failure)


def _text(file: Path) -> str:
    try:
        return file.read_text("utf-8", errors="replace").strip()
    except FileNotFoundError:
        return ""


def _running(folder: Path) -> psutil.Process | None:
    """The process that checks; a number that was given anew to another is none."""
    with contextlib.suppress(OSError, ValueError, psutil.Error):
        number, began = (folder / PROCESS).read_text().split()
        process = psutil.Process(int(number))
        is_same = abs(process.create_time() - float(began)) < 1.0
        if is_same and process.status() != psutil.STATUS_ZOMBIE:
            return process
    return None
