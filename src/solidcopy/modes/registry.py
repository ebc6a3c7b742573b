"""The modes that the bench knows, by name."""

from collections.abc import Mapping
from types import MappingProxyType
from typing import Final

from solidcopy.errors import PlanError
from solidcopy.modes.ft4.mode import FT4
from solidcopy.modes.ft8.mode import FT8
from solidcopy.modes.mode import Mode

_MODES: Final[Mapping[str, Mode]] = MappingProxyType({mode.facts.name: mode for mode in (FT8, FT4)})

MODE_NAMES: Final[tuple[str, ...]] = tuple(_MODES)
"""Names that `mode_named` accepts."""


def mode_named(name: str) -> Mode:
    """The mode of a name, e.g. "ft8". Raises PlanError listing the known names."""
    if name not in _MODES:
        raise PlanError(f"mode: {name!r} is not known; known modes: {', '.join(MODE_NAMES)}")
    return _MODES[name]
