"""Which file a program is, and whether it is the one that a plan is about."""

import hashlib
import json
import os
import shutil
from pathlib import Path

from solidcopy.errors import PlanError
from solidcopy.receivers.program.command import filled
from solidcopy.receivers.program.settings import ProgramSettings


def turns_key(settings: ProgramSettings) -> str:
    """Copies of one command share their turns, whatever their other settings."""
    return hashlib.sha256(json.dumps(settings.command).encode()).hexdigest()[:16]


def found_program(settings: ProgramSettings, fixed: dict[str, str]) -> Path:
    """Where the program is. Raises PlanError if it is not there, or has another digest."""
    where = f'receivers: "{settings.name}"'
    asked = _filled_fixed(settings.command[0], fixed, where)
    if os.sep in asked:
        program = Path(fixed["plan_folder"], asked)
        if not program.is_file():
            raise PlanError(f"{where}: there is no program {program}")
        if not os.access(program, os.X_OK):
            raise PlanError(f"{where}: {program} may not be executed; allow it (chmod +x)")
    else:
        found = shutil.which(asked)
        if found is None:
            raise PlanError(
                f"{where}: no program {asked!r} on the PATH; give its path, absolute or from the "
                'plan\'s folder (e.g. "./decoder")'
            )
        program = Path(found)
    if settings.program_sha256 is not None:
        file = digested_file(settings, fixed, program)
        if sha256_of(file) != settings.program_sha256:
            raise PlanError(
                f"{where}: {file} is not the file that program_sha256 tells of; if it was changed "
                "on purpose, `solidcopy receiver try` gives the new digest (old trials then no "
                "longer count)"
            )
    return program


def digested_file(settings: ProgramSettings, fixed: dict[str, str], program: Path) -> Path:
    """The file whose digest stands for the program."""
    if settings.program_file is None:
        return program
    where = f'receivers: "{settings.name}"'
    return Path(fixed["plan_folder"], _filled_fixed(settings.program_file, fixed, where))


def sha256_of(file: Path) -> str:
    """Of a file's content, hexadecimal. Raises PlanError if it cannot be read."""
    try:
        with file.open("rb") as stream:
            return hashlib.file_digest(stream, "sha256").hexdigest()
    except OSError as error:
        raise PlanError(f"{file}: cannot be read ({error.strerror})") from None


def _filled_fixed(template: str, fixed: dict[str, str], where: str) -> str:
    try:
        return filled(template, fixed)
    except KeyError as error:
        raise PlanError(
            f"{where}: {{{error.args[0]}}} differs from slot to slot and cannot name the program"
        ) from None
