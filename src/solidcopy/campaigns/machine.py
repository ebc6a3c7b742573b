"""What a machine tells of itself before it is given work. All of this runs on workers; the run
itself asks its own process the same, to compare.
"""

import functools
import hashlib
import importlib.machinery
import platform
import socket
import sys
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import solidcopy
from solidcopy.campaigns.environment import this_environment
from solidcopy.campaigns.workers import Batch, ready_receivers
from solidcopy.errors import PlanError
from solidcopy.receivers.program.command import fixed_values
from solidcopy.receivers.program.finding import digested_file, found_program
from solidcopy.receivers.program.settings import ProgramSettings
from solidcopy.receivers.python_receiver import PythonSettings
from solidcopy.trials.expand import TrialKey, trial_of
from solidcopy.trials.make import make
from solidcopy.trials.plan import Plan
from solidcopy.trials.recipe_numbers import recipe_numbers

MISSING = "none"
"""Said where a machine has nothing of a name."""
DIGITS = 12
"""Of a digest, where it only stands for a content."""


@dataclass(frozen=True, slots=True)
class Tried:
    """What a worker is, and the sound that it makes.

    Args:
        digests: of the recording of each trial that was asked, SHA-256.
    """

    host: str
    cpu: str
    platform: str
    digests: dict[TrialKey, str]


def shared_facts(plan_json: str, import_folders: tuple[str, ...]) -> dict[str, str]:
    """All that must be alike on every machine of a run: value by name, in plain words.

    Args:
        plan_json: the plan.
        import_folders: where modules and programs of its receivers are looked for.
    """
    plan = Plan.model_validate_json(plan_json)
    numbers = recipe_numbers(plan.mode, plan.conditions)
    numbers |= {f"receiver {receiver.kind}": receiver.recipe for receiver in plan.receivers}
    return {
        **this_environment().libraries,
        "Python": ".".join(platform.python_version_tuple()[:2]),
        **{f"recipe of {name}": str(number) for name, number in numbers.items()},
        "program code": code_digest(),
        **dict(_receiver_files(plan, tuple(Path(folder) for folder in import_folders))),
    }


@functools.cache
def code_digest() -> str:
    """Of this program's own code: a working copy may differ from its version's number."""
    folder = Path(solidcopy.__file__).parent
    total = hashlib.sha256()
    for path in sorted(folder.rglob("*.py")):
        total.update(path.relative_to(folder).as_posix().encode())
        total.update(path.read_bytes().replace(b"\r\n", b"\n"))
    return total.hexdigest()[:DIGITS]


def _receiver_files(plan: Plan, folders: tuple[Path, ...]) -> Iterator[tuple[str, str]]:
    """Name and digest of the file of each receiver that is not part of this program."""
    for receiver in plan.receivers:
        if isinstance(receiver, PythonSettings):
            found = _module_file(receiver.load.partition(":")[0], folders)
            yield f"module of receiver {receiver.name}", _digest(found)
        elif isinstance(receiver, ProgramSettings):
            yield f"program of receiver {receiver.name}", _digest(_program_file(receiver, folders))


def _module_file(name: str, folders: tuple[Path, ...]) -> Path | None:
    """The file of a Python module, found without importing anything."""
    where: list[str] | None = [*map(str, folders), str(Path.cwd()), *sys.path]
    spec = None
    for part in name.split("."):
        spec = None if where is None else importlib.machinery.PathFinder.find_spec(part, where)
        if spec is None:
            return None
        where = spec.submodule_search_locations
    return None if spec is None or spec.origin is None else Path(spec.origin)


def _program_file(settings: ProgramSettings, folders: tuple[Path, ...]) -> Path | None:
    fixed = fixed_values((folders[0] if folders else Path.cwd()).resolve())
    try:
        return digested_file(settings, fixed, found_program(settings, fixed))
    except PlanError:
        return None


def _digest(path: Path | None) -> str:
    found = None if path is None else file_digests([str(path)])[str(path)]
    return MISSING if found is None else found[:DIGITS]


def file_digests(paths: Iterable[str]) -> dict[str, str | None]:
    """SHA-256 of files by path; None for one that cannot be read."""
    digests: dict[str, str | None] = {}
    for path in paths:
        try:
            with Path(path).open("rb") as stream:
                digests[path] = hashlib.file_digest(stream, "sha256").hexdigest()
        except OSError:
            digests[path] = None
    return digests


def keep_piece(name: str, start: int, content: bytes, dask_worker: Any = None) -> str:
    """Write one piece of a file into the worker's scratch folder, which ends with the worker.

    Args:
        name: of the file.
        start: where the piece belongs, in bytes; 0 begins the file.
        content: the piece.
        dask_worker: given by the engine.
    Returns: path of the file.
    """
    folder = Path(dask_worker.local_directory) / "recordings"
    folder.mkdir(exist_ok=True)
    path = folder / Path(name).name
    with path.open("wb" if start == 0 else "r+b") as stream:
        stream.seek(start)
        stream.write(content)
    return str(path)


def try_out(batch: Batch) -> Tried:
    """Get the plan's receivers ready and make the recordings of a few trials.

    Raises: PlanError, CalibrationError, AudioFileError if this cannot be done here.
    """
    plan = Plan.model_validate_json(batch.plan_json)
    ready_receivers(batch, batch.jobs)
    digests = {job.key: make(trial_of(plan, job.key))[0].digest for job in batch.jobs}
    here = this_environment()
    return Tried(socket.gethostname(), here.cpu, here.platform, digests)
