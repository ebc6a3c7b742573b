"""All receivers that a plan can name."""

from collections.abc import Sequence
from pathlib import Path
from typing import Annotated

from pydantic import Field

from solidcopy.errors import PlanError
from solidcopy.modes.mode import Mode
from solidcopy.modes.registry import CODED_NAMES, PLAIN_NAMES, coded_mode
from solidcopy.receivers.builtin.settings import BuiltinSettings
from solidcopy.receivers.log_settings import LogSettings
from solidcopy.receivers.program.settings import ProgramSettings
from solidcopy.receivers.program.system import check_system
from solidcopy.receivers.python_receiver import PythonReceiver, PythonSettings
from solidcopy.receivers.receiver import Receiver
from solidcopy.receivers.station_settings import StationSettings
from solidcopy.receivers.textbook.settings import TextbookSettings

AnyReceiver = Annotated[
    BuiltinSettings
    | TextbookSettings
    | PythonSettings
    | ProgramSettings
    | LogSettings
    | StationSettings,
    Field(discriminator="kind"),
]
"""Settings of any receiver, told apart by `kind`."""

OUR_OWN = (BuiltinSettings, TextbookSettings)
"""Settings of receivers that are part of this program."""

NAME_NO_PROGRAM = (BuiltinSettings, TextbookSettings, StationSettings)
"""Settings in which no program and no code of this machine is named: anybody may write them."""


def refuse_mode(settings: AnyReceiver, mode: str) -> None:
    """PlanError if a receiver of ours does not know a mode; others are not asked."""
    if isinstance(settings, BuiltinSettings) and mode in PLAIN_NAMES:
        raise PlanError(
            f'receiver "{settings.name}" of kind "builtin" decodes {", ".join(CODED_NAMES)}; for '
            f'{mode} give a receiver of kind "textbook"'
        )
    if isinstance(settings, TextbookSettings) and mode in CODED_NAMES:
        raise PlanError(
            f'receiver "{settings.name}" of kind "textbook" decodes {", ".join(PLAIN_NAMES)}; for '
            f'{mode} give a receiver of kind "builtin"'
        )


def build_receiver(
    settings: AnyReceiver,
    mode: Mode,
    *,
    import_folders: Sequence[Path] = (),
) -> Receiver:
    """A receiver ready to decode.

    Args:
        settings: as in a plan.
        mode: the protocol to be received.
        import_folders: where a user's Python module is looked for first; the first is the plan's
            folder.
    Raises: PlanError if the receiver cannot be had.
    """
    refuse_mode(settings, mode.facts.name)
    if isinstance(settings, LogSettings):
        raise PlanError(
            f'receiver "{settings.name}" is known by its log only and cannot be run; play more '
            "slots and import their log with `solidcopy log score --campaign`"
        )
    if isinstance(settings, StationSettings):
        raise PlanError(
            f'receiver "{settings.name}" listens live to a sound device: `solidcopy play` plays '
            "the campaign to it"
        )
    if isinstance(settings, PythonSettings):
        return PythonReceiver(settings, import_folders)
    if isinstance(settings, ProgramSettings):
        check_system()
        # It needs what Windows does not have; a plan can be read there all the same.
        from solidcopy.receivers.program.receiver import ProgramReceiver  # noqa: PLC0415

        return ProgramReceiver(settings, mode, import_folders)
    if isinstance(settings, TextbookSettings):
        from solidcopy.receivers.textbook.receiver import TextbookReceiver  # noqa: PLC0415

        return TextbookReceiver(settings, mode)
    # Here and not above: they load the compiled loops, which reading a plan does not need.
    from solidcopy.receivers.builtin.receiver import build_receiver as build_builtin  # noqa: PLC0415

    builtin = build_builtin(settings, coded_mode(mode, "the built-in receiver"))
    if settings.arithmetic == "compiled":
        return builtin
    from solidcopy.receivers.builtin.batched.arrays import accelerator_namespace  # noqa: PLC0415
    from solidcopy.receivers.builtin.batched.receiver import BatchedReceiver  # noqa: PLC0415

    return BatchedReceiver(builtin, accelerator_namespace())
