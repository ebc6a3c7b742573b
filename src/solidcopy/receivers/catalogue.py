"""All receivers that a plan can name."""

from collections.abc import Sequence
from pathlib import Path
from typing import Annotated

from pydantic import Field

from solidcopy.modes.mode import Mode
from solidcopy.receivers.builtin.settings import BuiltinSettings
from solidcopy.receivers.python_receiver import PythonReceiver, PythonSettings
from solidcopy.receivers.receiver import Receiver

AnyReceiver = Annotated[BuiltinSettings | PythonSettings, Field(discriminator="kind")]
"""Settings of any receiver, told apart by `kind`."""


def build_receiver(
    settings: BuiltinSettings | PythonSettings, mode: Mode, *, import_folders: Sequence[Path] = ()
) -> Receiver:
    """A receiver ready to decode.

    Args:
        settings: as in a plan.
        mode: the protocol to be received.
        import_folders: where a user's Python module is looked for first.
    Raises: PlanError if the receiver cannot be had.
    """
    if isinstance(settings, PythonSettings):
        return PythonReceiver(settings, import_folders)
    # Here and not above: it loads the compiled loops, which reading a plan does not need.
    from solidcopy.receivers.builtin.receiver import build_receiver as build_builtin  # noqa: PLC0415

    return build_builtin(settings, mode)
