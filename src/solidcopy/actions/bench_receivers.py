"""Receivers that the bench knows, and which of them a page may have tried.

What a page may have run: it names a settings file that lies in the bench folder and the number of a
receiver in it, and nothing else. Command, arguments and variables come from that file, which for
anything but the built-in receiver is written at the command line only (`edit_plan` refuses a page
that would change them). A program is started only if the file holds the digest of the very file
that lies there now: `solidcopy receiver try` wrote it when a person tried that program, so what a
page starts was started by a person before, byte for byte. Python code has no such digest and is not
tried from a page.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from solidcopy.actions.receiver_settings import parsed_file, pinned
from solidcopy.actions.served import served
from solidcopy.actions.workspace import Workspace, checked_name
from solidcopy.errors import NotThereError, SolidcopyError
from solidcopy.receivers.builtin.settings import BuiltinSettings
from solidcopy.receivers.catalogue import AnyReceiver
from solidcopy.receivers.program.settings import ProgramSettings
from solidcopy.reports.describe import receiver_facts
from solidcopy.trials.plan import parse_plan, read_plan

SETTINGS = "receivers"
"""Sub-folder of settings that `solidcopy receiver try --out` wrote; no page writes there."""
DEFAULT_MODE = "ft8"
"""Settings outside a plan name no mode."""
OTHER_KINDS = {
    "log": "it is known by its log only and cannot be run",
    "station": "it listens to a sound device: `solidcopy play` plays to it",
    "python": "Python code is started from the command line only: run a campaign there",
}
"""Why other kinds are not tried."""


@served
@dataclass(frozen=True, slots=True)
class ReceiverPart:
    """Some settings of a receiver in words."""

    head: str
    numbers: tuple[tuple[str, str], ...]
    """Name and value."""


@served
@dataclass(frozen=True, slots=True)
class KnownReceiver:
    """A receiver of a plan, or of settings that were tried at the command line."""

    file: str
    """Name of the plan or of the settings."""
    is_plan: bool
    number: int
    """In that file, from 1."""
    name: str
    kind: str
    mode: str
    parts: tuple[ReceiverPart, ...]
    why_not: str
    """Why it is not tried from here; empty if it may be."""


def known_receivers(space: Workspace) -> tuple[list[KnownReceiver], list[str]]:
    """All of them, and of each file that cannot be read why."""
    known: list[KnownReceiver] = []
    troubles: list[str] = []
    for file, is_plan in _files(space):
        try:
            mode, receivers = receivers_in(file, is_plan=is_plan)
        except SolidcopyError as error:
            troubles.append(f"{file.name}: {str(error).removeprefix(f'{file}: ')}")
            continue
        for number, one in enumerate(receivers, 1):
            known.append(
                KnownReceiver(
                    file=file.stem,
                    is_plan=is_plan,
                    number=number,
                    name=one.name,
                    kind=one.kind,
                    mode=mode,
                    parts=tuple(
                        ReceiverPart(part.head, part.numbers) for part in receiver_facts(one).parts
                    ),
                    why_not=why_not(one, space.folder),
                )
            )
    return known, troubles


def why_not(receiver: AnyReceiver, plan_folder: Path) -> str:
    """Why a page may not have it tried; empty if it may. See the rule above."""
    if isinstance(receiver, BuiltinSettings):
        return ""
    if isinstance(receiver, ProgramSettings):
        return _why_not_program(receiver, plan_folder)
    return OTHER_KINDS.get(receiver.kind, "receivers of this kind are not tried from a page")


def _why_not_program(settings: ProgramSettings, plan_folder: Path) -> str:
    if settings.program_sha256 is None:
        return (
            "its settings hold no digest of the program: try it with `solidcopy receiver try`, "
            "which writes one"
        )
    try:
        now = pinned(settings, plan_folder).program_sha256
    except SolidcopyError as error:
        return str(error)
    if now == settings.program_sha256:
        return ""
    return (
        "the program is another one than was tried at the command line: try it there again with "
        "`solidcopy receiver try`"
    )


def _files(space: Workspace) -> Iterator[tuple[Path, bool]]:
    for name in space.plans():
        yield space.existing_plan(name), True
    for file in sorted((space.folder / SETTINGS).glob("*.toml")):
        if (space.folder / SETTINGS).resolve() in file.resolve().parents:
            yield file, False


def settings_file(space: Workspace, name: str) -> Path:
    """Settings outside a plan, by name. Raises NotThereError, WorkspaceError."""
    file = space.folder / SETTINGS / f"{checked_name(name)}.toml"
    if not file.is_file() or (space.folder / SETTINGS).resolve() not in file.resolve().parents:
        raise NotThereError(f"no settings {name!r} in the folder {SETTINGS} of the bench")
    return file


def receivers_in(file: Path, *, is_plan: bool) -> tuple[str, tuple[AnyReceiver, ...]]:
    """Mode and receivers of a file. Raises PlanError."""
    if is_plan:
        plan = read_plan(file)
        return plan.mode, plan.receivers
    data = parsed_file(file)
    noise = {"kind": "gaussian-noise", "snr_db": "axis"}
    plan = parse_plan(
        {
            "mode": DEFAULT_MODE,
            "root_seed": 0,
            "axis": {"values": [0]},
            "stop": {"trials_per_point": 1},
            "conditions": [{"name": "quiet", "impairments": [noise]}],
            "receivers": data.get("receivers", []),
        }
    )
    return plan.mode, plan.receivers
