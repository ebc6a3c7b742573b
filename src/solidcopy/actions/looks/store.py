"""Looks of a bench folder: begun by a process of their own, kept, found again, and forgotten.

A look lies in a folder named by all that its answer depends on: what is asked, and which file.
Whether it is done is read from the answer, whether it is at work from its process; so pages and
servers can come and go. (A thread of the server would end with it, could not be stopped, and
would leave its memory behind.)
"""

import hashlib
import json
import re
import shutil
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum
from pathlib import Path
from typing import Any

import psutil

from solidcopy import __version__
from solidcopy.actions.kept import stamp_of
from solidcopy.actions.looks.answer import ANSWER, ANSWERED, ASKED, LookAnswer
from solidcopy.actions.looks.request import LOOK, AnswerAsked, LookAsked
from solidcopy.actions.served import served
from solidcopy.actions.workspace import Workspace
from solidcopy.errors import NotThereError, WorkspaceError
from solidcopy.reports.whole_file import put_text

LOOKS = ".looks"
"""Sub-folder of the bench folder; it may be removed at any time."""
WORKER, SAID = "worker.json", "said.txt"
MOST_AT_ONCE = 2
MOST_KEPT = 200
MOST_KEPT_BYTES = 500_000_000
N_SAMPLED, SAMPLED_BYTES = 64, 1 << 14
"""Pieces of a file, evenly spread, by which its content is told: a whole one takes seconds to read,
and one that changes changes its time as well."""
KEY = re.compile(r"[0-9a-f]{32}")

_starting = threading.Lock()


class LookState(StrEnum):
    """How far a look is."""

    WAITING = "waiting"
    """Others are at work; ask again."""
    WORKING = "working"
    DONE = "done"
    ENDED = "ended"
    """Its process is gone without an answer; ask again."""


@served
@dataclass(frozen=True, slots=True)
class Look:
    """One look."""

    key: str
    """Its name: the same for the same question about the same file."""
    asked: LookAsked
    """What was asked."""
    state: LookState
    """How far it is."""
    working_s: float = 0.0
    """For how long it has been at work."""
    answer: LookAnswer | None = None
    """When it is done."""


def ask_look(space: Workspace, asked: LookAsked) -> Look:
    """Begin a look, join one that is at work, or give the answer that is kept.

    Raises: NotThereError if a recording is not there.
    """
    files = _files(space, asked)
    key = _key(asked, files)
    with _starting:
        found = _look(space, key, asked)
        if found.state in (LookState.DONE, LookState.WORKING):
            return found
        _tidy(space, but=key)
        at_work = [one for one in _all(space) if one.state is LookState.WORKING]
        shared = {name for one in at_work for name in one.asked.recordings()}
        if len(at_work) >= MOST_AT_ONCE or shared & set(asked.recordings()):
            return Look(key, asked, LookState.WAITING)
        _start(_folder(space, key), asked, files)
    return _look(space, key, asked)


def look_of(space: Workspace, key: str) -> Look:
    """A look that was asked for. Raises NotThereError."""
    found = _read(space, key) if KEY.fullmatch(key) else None
    if found is None:
        raise NotThereError("this look is no longer kept: ask for it again")
    return found


def looks_at(space: Workspace, recording: str) -> dict[str, Look]:
    """The newest look of each subject at a recording as it is now."""
    newest: dict[str, Look] = {}
    for look in _all(space):
        if look.asked.recording == recording and look.asked.subject() not in newest:
            try:
                is_current = _key(look.asked, _files(space, look.asked)) == look.key
            except (WorkspaceError, OSError):
                continue
            if is_current and look.state is not LookState.ENDED:
                newest[look.asked.subject()] = look
    return newest


def file_of_look(space: Workspace, key: str, name: str) -> Path:
    """A file beside an answer: a picture, the facts, a twin's plan. Raises NotThereError."""
    answer = look_of(space, key).answer
    allowed = (*(shown.file for shown in answer.pictures), *answer.files) if answer else ()
    file = _folder(space, key) / name
    if name not in allowed or not file.is_file():
        raise NotThereError(f"this look holds no {name[:80]!r}")
    return file


def cancel_look(space: Workspace, key: str) -> None:
    """Stop a look that is at work; nothing of it stays. Raises NotThereError."""
    look = look_of(space, key)
    if look.state is LookState.DONE:
        return
    _stop(_folder(space, key))
    shutil.rmtree(_folder(space, key), ignore_errors=True)


def forget_looks(space: Workspace, recording: str) -> None:
    """Remove all looks at a recording; those at work are stopped."""
    for look in list(_all(space)):
        if recording in look.asked.recordings():
            _stop(_folder(space, look.key))
            shutil.rmtree(_folder(space, look.key), ignore_errors=True)


def _files(space: Workspace, asked: LookAsked) -> tuple[Path, ...]:
    files = tuple(space.recording(name) for name in asked.recordings())
    return (*files, space.campaign(asked.campaign)) if isinstance(asked, AnswerAsked) else files


def _key(asked: LookAsked, files: tuple[Path, ...]) -> str:
    """Of all that the answer depends on."""
    what = {
        "version": __version__,
        "look": asked.model_dump(mode="json"),
        "files": [_identity(file) for file in files],
    }
    return hashlib.sha256(json.dumps(what, sort_keys=True).encode()).hexdigest()[:32]


def _identity(file: Path) -> dict[str, Any]:
    if file.is_dir():
        return {"journal": stamp_of(file)}
    status = file.stat()
    digest = hashlib.sha256()
    with file.open("rb") as stream:
        for n in range(N_SAMPLED):
            stream.seek(max(status.st_size - SAMPLED_BYTES, 0) * n // (N_SAMPLED - 1))
            digest.update(stream.read(SAMPLED_BYTES))
    return {"size": status.st_size, "changed": status.st_mtime_ns, "digest": digest.hexdigest()}


def _folder(space: Workspace, key: str) -> Path:
    return space.folder / LOOKS / key


def _all(space: Workspace) -> Iterator[Look]:
    """The one asked last first."""
    folders = [one for one in (space.folder / LOOKS).glob("*") if KEY.fullmatch(one.name)]
    for folder in sorted(folders, key=_asked_at, reverse=True):
        look = _read(space, folder.name)
        if look is not None:
            yield look


def _asked_at(folder: Path) -> float:
    try:
        return (folder / ASKED).stat().st_mtime
    except OSError:
        return 0.0


def _read(space: Workspace, key: str) -> Look | None:
    try:
        order = json.loads((_folder(space, key) / ASKED).read_text(encoding="utf-8"))
        return _look(space, key, LOOK.validate_python(order["look"]))
    except (OSError, ValueError, KeyError):
        return None


def _look(space: Workspace, key: str, asked: LookAsked) -> Look:
    folder = _folder(space, key)
    try:
        answer = ANSWER.validate_json((folder / ANSWERED).read_bytes())
        return Look(key, asked, LookState.DONE, answer=answer)
    except (OSError, ValueError):
        pass
    worker = _worker(folder)
    if worker is None:
        return Look(key, asked, LookState.ENDED)
    return Look(key, asked, LookState.WORKING, time.time() - _asked_at(folder))


def _start(folder: Path, asked: LookAsked, files: tuple[Path, ...]) -> None:
    folder.mkdir(parents=True, exist_ok=True)
    order = {"look": asked.model_dump(mode="json"), "files": [str(file) for file in files]}
    put_text(folder / ASKED, json.dumps(order))
    words = [sys.executable, "-m", "solidcopy.actions.looks.work", str(folder)]
    with (folder / SAID).open("wb") as said:
        process = subprocess.Popen(
            words, stdin=subprocess.DEVNULL, stdout=said, stderr=said, start_new_session=True
        )
    begun_s = psutil.Process(process.pid).create_time()
    put_text(folder / WORKER, json.dumps({"pid": process.pid, "begun_s": begun_s}))
    threading.Thread(target=process.wait, daemon=True).start()  # else it stays a zombie


def _worker(folder: Path) -> psutil.Process | None:
    """The process that works on a look, if it lives; numbers of processes are used again."""
    try:
        kept = json.loads((folder / WORKER).read_text(encoding="utf-8"))
        process = psutil.Process(kept["pid"])
        is_it = abs(process.create_time() - kept["begun_s"]) < 0.5
        return process if is_it and process.status() != psutil.STATUS_ZOMBIE else None
    except (OSError, ValueError, KeyError, psutil.Error):
        return None


def _stop(folder: Path) -> None:
    worker = _worker(folder)
    if worker is None:
        return
    for process in (*worker.children(recursive=True), worker):
        try:
            process.kill()
        except psutil.NoSuchProcess:
            continue
    psutil.wait_procs([worker], timeout=10.0)


def _tidy(space: Workspace, *, but: str) -> None:
    """Remove what ended without an answer, and the oldest beyond what is kept."""
    n_bytes = 0
    for place, look in enumerate(list(_all(space))):
        folder = _folder(space, look.key)
        n_bytes += _n_bytes(folder)
        is_over = place >= MOST_KEPT or n_bytes > MOST_KEPT_BYTES
        is_dead = look.state is LookState.ENDED
        if look.key != but and look.state is not LookState.WORKING and (is_over or is_dead):
            shutil.rmtree(folder, ignore_errors=True)


def _n_bytes(folder: Path) -> int:
    try:
        return sum(file.stat().st_size for file in folder.iterdir())
    except OSError:  # somebody else has just removed it
        return 0
