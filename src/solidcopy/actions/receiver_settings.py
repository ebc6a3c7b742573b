"""Settings of an outside program: from a file, checked, and into a plan."""

import re
import shlex
import tomllib
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import tomli_w
from pydantic import ValidationError

from solidcopy.errors import PlanError
from solidcopy.receivers.program.command import filled, fixed_values
from solidcopy.receivers.program.finding import digested_file, found_program, sha256_of
from solidcopy.receivers.program.settings import ProgramSettings
from solidcopy.trials.faults import explain, faults

NOT_YET = "(?!)(?P<text>)"
"""A pattern that no line matches."""
SCRIPT_RUNNERS = re.compile(r"(\{python\}|.*\bpython[0-9.]*)$")
"""Programs that only run the file named in their arguments."""


def parsed_file(file: Path) -> dict[str, Any]:
    """A TOML file. Raises PlanError if it cannot be read."""
    try:
        return tomllib.loads(file.read_text(encoding="utf-8-sig"))
    except OSError as error:
        raise PlanError(f"{file}: cannot be read ({error.strerror}); give a TOML file") from None
    except (UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
        raise PlanError(f"{file}: is not valid TOML: {error}") from None


def read_settings(file: Path, name: str | None = None) -> dict[str, Any]:
    """What a file says of one outside program: a plan, or a table [[receivers]] alone.

    Raises: PlanError if it cannot be read, or holds none or several and no name is given.
    """
    listed = parsed_file(file).get("receivers", [])
    programs = [
        item
        for item in (listed if isinstance(listed, list) else [])
        if isinstance(item, dict) and item.get("kind") == "program"
    ]
    if name is not None:
        programs = [item for item in programs if item.get("name") == name]
    if not programs:
        raise PlanError(
            f'{file}: holds no receiver of the kind "program"'
            + (f' and the name "{name}"' if name else "")
        )
    if len(programs) > 1:
        names = ", ".join(f'"{item.get("name")}"' for item in programs)
        raise PlanError(f"{file}: holds several outside programs; choose one by --name: {names}")
    return programs[0]


def split_command(command: str) -> list[str]:
    """Arguments as a shell would part them; no shell is ever run. Raises PlanError."""
    try:
        arguments = shlex.split(command)
    except ValueError as error:
        raise PlanError(f"--command: cannot be split into arguments ({error})") from None
    if not arguments:
        raise PlanError("--command: is empty; give the program and its arguments")
    return arguments


def checked_settings(data: Mapping[str, Any]) -> ProgramSettings:
    """Raises PlanError naming the field."""
    try:
        return ProgramSettings.model_validate(data)
    except ValidationError as error:
        said = explain(faults(error.errors())).removeprefix("the plan: ")
        raise PlanError(f"receiver: {said}") from None


def pinned(settings: ProgramSettings, plan_folder: Path) -> ProgramSettings:
    """The same with the digest of the program's file, so that another file is noticed."""
    unpinned = settings.model_copy(update={"program_sha256": None})
    fixed = fixed_values(plan_folder.resolve())
    program = found_program(unpinned, fixed)
    if settings.program_file is None and SCRIPT_RUNNERS.match(settings.command[0]):
        unpinned = unpinned.model_copy(
            update={"program_file": script_of(settings, plan_folder.resolve())}
        )
    file = digested_file(unpinned, fixed, program)
    return unpinned.model_copy(update={"program_sha256": sha256_of(file)})


def script_of(settings: ProgramSettings, plan_folder: Path) -> str | None:
    """The first argument that names a file."""
    for argument in settings.command[1:]:
        try:
            name = filled(argument, fixed_values(plan_folder))
        except KeyError:
            continue
        if Path(plan_folder, name).is_file():
            return argument
    return None


def plan_snippet(settings: ProgramSettings) -> str:
    """The table [[receivers]] for a plan file (TOML); what is at its default is left out."""
    chosen = settings.model_dump(mode="json", exclude_defaults=True)
    chosen = {"kind": settings.kind, "name": settings.name, **chosen}
    chosen["answer"] = {"kind": settings.answer.kind, **chosen["answer"]}
    return tomli_w.dumps({"receivers": [chosen]}, multiline_strings=False)
