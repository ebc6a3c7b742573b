"""The command that tries an outside program, composed for a person to type.

A page never runs it: whoever can make a page run a program of their choice owns the machine. So the
page asks the wizard's questions, and a person who sits at the terminal types what comes of them.
"""

import shlex
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from solidcopy.actions.bench_receivers import SETTINGS
from solidcopy.actions.package.members import safe_part
from solidcopy.actions.receiver_options import FIELDS, Given, settings_from
from solidcopy.actions.served import served
from solidcopy.actions.workspace import Workspace
from solidcopy.errors import PlanError
from solidcopy.modes.registry import mode_named

ANY_LINE = "{text}"
"""Stands for a layout that the command will ask for, so that the rest can be checked."""


@served
@dataclass(frozen=True, slots=True)
class ComposedCommand:
    """What to type."""

    command: str
    """Quoted for a shell such as sh, bash or zsh."""
    append: str
    """Puts the receiver that was tried into a plan, to be typed after it."""
    notes: tuple[str, ...]
    """What the command will do besides, one sentence each."""


def composed_command(
    space: Workspace, name: str, mode: str, options: Mapping[str, Any]
) -> ComposedCommand:
    """The command for answers given on a page.

    Args:
        name: of the receiver.
        mode: of the slots.
        options: by the names in `receiver_options.FIELDS`; what nobody said is missing.
    Raises: PlanError with what is wrong, as the command itself would say it.
    """
    mode_named(mode)
    said = {key: options[key] for key in FIELDS if options.get(key) not in (None, "")}
    if "command" not in said:
        raise PlanError("how is the program started for one slot? Give its command")
    given = Given(None, name, said)
    notes = []
    if any(FIELDS[key].startswith("answer.") for key in said):
        settings_from(given)
    else:
        settings_from(given.also(line=ANY_LINE))
        notes.append(
            "It starts the program once, shows the lines that came back, and asks which of them is "
            "a decode."
        )
    file = f"{SETTINGS}/{safe_part(name, fallback='receiver')}.toml"
    words = ["solidcopy", "receiver", "try", f"--name={name}", f"--mode={mode}"]
    words += [f"--{key.replace('_', '-')}={value}" for key, value in said.items()]
    words.append(f"--out={file}")
    notes.append(
        f"If the loud slot is read, it writes the settings to {file}, with the digest of the "
        "program: then the receiver stands on this page, too."
    )
    folder = shlex.quote(str(space.folder))
    return ComposedCommand(
        f"cd {folder} && mkdir -p {SETTINGS} && {' '.join(map(quoted_option, words))}",
        f"cd {folder} && cat {shlex.quote(file)} >> PLAN.toml",
        tuple(notes),
    )


def quoted_option(word: str) -> str:
    """A word for a shell; of an option only the value is quoted, so that it can be read."""
    option, mark, value = word.partition("=")
    return f"{option}={shlex.quote(value)}" if mark else shlex.quote(word)
