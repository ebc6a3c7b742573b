"""The modes that the bench knows, by name."""

from collections.abc import Mapping
from types import MappingProxyType
from typing import Final

from solidcopy.errors import PlanError
from solidcopy.modes.ft4.mode import FT4
from solidcopy.modes.ft8.mode import FT8
from solidcopy.modes.mode import CodedMode, Mode
from solidcopy.modes.plain_text.morse import MORSE
from solidcopy.modes.plain_text.psk31 import PSK31
from solidcopy.modes.plain_text.rtty import RTTY

_CODED: Final[tuple[CodedMode, ...]] = (FT8, FT4)
_PLAIN: Final[tuple[Mode, ...]] = (MORSE, RTTY, PSK31)
_MODES: Final[Mapping[str, Mode]] = MappingProxyType(
    {mode.facts.name: mode for mode in (*_CODED, *_PLAIN)}
)

MODE_NAMES: Final[tuple[str, ...]] = tuple(_MODES)
"""Names that `mode_named` accepts."""

CODED_NAMES: Final[tuple[str, ...]] = tuple(mode.facts.name for mode in _CODED)
"""Of modes that keep to slots and protect each message by a code."""

PLAIN_NAMES: Final[tuple[str, ...]] = tuple(mode.facts.name for mode in _PLAIN)
"""Of modes that send a text as it stands, whenever they like."""


def mode_named(name: str) -> Mode:
    """The mode of a name, e.g. "ft8". Raises PlanError listing the known names."""
    if name not in _MODES:
        raise PlanError(f"mode: {name!r} is not known; known modes: {', '.join(MODE_NAMES)}")
    return _MODES[name]


def slotted_mode(name: str, what: str) -> Mode:
    """The mode of a name, if it keeps to slots of the clock; `what` is what needs them.

    Raises: PlanError that says which modes can be had instead.
    """
    mode = mode_named(name)
    if not mode.facts.is_slotted:
        raise PlanError(
            f"mode: {what} counts slots, and {name} keeps to none; take one of "
            f"{', '.join(CODED_NAMES)}"
        )
    return mode


def coded_mode(mode: Mode, what: str) -> CodedMode:
    """The mode, if its messages are protected by a code; `what` is what needs that.

    Raises: PlanError that says which modes can be had instead.
    """
    if isinstance(mode, CodedMode):
        return mode
    raise PlanError(f"mode: {what} is for {', '.join(CODED_NAMES)}, not for {mode.facts.name}")
