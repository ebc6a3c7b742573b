"""Processes of this system: who is below whom, what they hold, and how they are ended.

Only Linux tells (proc(5)); elsewhere the group of a program is all that is known of it.
"""

import contextlib
import os
import resource
import shutil
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

GIVE_UP_S = 5.0
"""For a killed process to vanish; only one that waits for a broken disk takes so long."""
PR_SET_PDEATHSIG, PR_SET_CHILD_SUBREAPER = 1, 36
"""Of Linux's prctl(2)."""
AWAIT_CHILD_S = 0.01

Prctl = Callable[..., int]


def linux_prctl() -> Prctl | None:
    """The system call of that name; None on other systems."""
    if sys.platform != "linux":
        return None
    # Slow to load, and needed by one process only.
    import ctypes  # noqa: PLC0415

    prctl: Prctl = ctypes.CDLL(None).prctl
    return prctl


def below(pid: int) -> Iterator[int]:
    """Processes that a process started, and what they started (Linux; else nothing)."""
    try:
        threads = os.listdir(f"/proc/{pid}/task")
    except OSError:
        return
    for thread in threads:
        with contextlib.suppress(OSError):  # it ended meanwhile
            text = Path(f"/proc/{pid}/task/{thread}/children").read_text("ascii")
            for child in map(int, text.split()):
                yield child
                yield from below(child)


def resident_bytes(pids: Iterator[int]) -> int:
    """Memory that processes hold; what they share counts for each."""
    total = 0
    for pid in pids:
        with contextlib.suppress(OSError, IndexError, ValueError):
            total += int(Path(f"/proc/{pid}/statm").read_text("ascii").split()[1])
    return total * resource.getpagesize()


def end_all(process: "subprocess.Popen[bytes]") -> int:
    """Kill the program and everything below this process; return how many others there were."""
    others = {pid for pid in below(os.getpid()) if pid != process.pid and not is_over(pid)}
    deadline = time.monotonic() + GIVE_UP_S
    with contextlib.suppress(ProcessLookupError, PermissionError):
        os.killpg(process.pid, signal.SIGKILL)
    with contextlib.suppress(subprocess.TimeoutExpired):
        process.wait(GIVE_UP_S)
    while time.monotonic() < deadline:
        for pid in below(os.getpid()):
            with contextlib.suppress(ProcessLookupError, PermissionError):
                os.kill(pid, signal.SIGKILL)
        try:
            ended, _ = os.waitpid(-1, os.WNOHANG)
        except ChildProcessError:
            break
        if ended == 0:
            _await_child()
    return len(others)


def is_over(pid: int) -> bool:
    """Whether a process has ended and only waits to be collected."""
    try:
        return Path(f"/proc/{pid}/stat").read_text("ascii").rpartition(")")[2].split()[0] == "Z"
    except (OSError, IndexError):
        return True


def _await_child() -> None:
    """Until a child ends, or a moment; SIGCHLD must be blocked."""
    if sys.platform == "linux":
        signal.sigtimedwait({signal.SIGCHLD}, AWAIT_CHILD_S)
    else:
        time.sleep(AWAIT_CHILD_S)


def end_marked(mark: str) -> None:
    """Kill every process that was started with this variable in its environment, "NAME=value"
    (Linux; else nothing). For what a killed guardian left: nobody's children by now."""
    for entry in Path("/proc").glob("[0-9]*"):
        with contextlib.suppress(OSError):  # it ended, or is another user's
            if mark.encode() in (entry / "environ").read_bytes().split(b"\0"):
                os.kill(int(entry.name), signal.SIGKILL)


def remove_tree(folder: Path) -> None:
    """Delete a folder with all that is in it, also what forbids its own deletion."""

    def open_up(call: Callable[..., Any], path: str, _: object) -> None:
        with contextlib.suppress(OSError):
            os.chmod(os.path.dirname(path), 0o700)
            if not os.path.islink(path):
                os.chmod(path, 0o700)
            if call in (os.unlink, os.rmdir, os.remove):
                call(path)
            else:
                shutil.rmtree(path, ignore_errors=True)

    shutil.rmtree(folder, onerror=open_up)
