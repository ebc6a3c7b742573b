"""Published conditions of ionospheric fading, by name."""

import functools
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from importlib import resources
from types import MappingProxyType

EDITION = "itu_r_f1487_2000_05.toml"
"""The edition in use; the file names its document and source."""


@dataclass(frozen=True, slots=True)
class FadingCondition:
    """Two paths of equal mean power, each fading by itself."""

    delay_ms: float
    """Of the second path behind the first."""
    spread_hz: float
    """Two standard deviations of the power spectrum of each path."""


@functools.cache
def fading_conditions() -> Mapping[str, FadingCondition]:
    """All published conditions by latitude and state, in the order of the document.

    Source: Recommendation ITU-R F.1487 (05/2000), Annex 3, second-hand (FACTS B1).
    """
    text = resources.files(__package__).joinpath(EDITION).read_text(encoding="utf-8")
    rows = tomllib.loads(text)["conditions"]
    return MappingProxyType({name: FadingCondition(**row) for name, row in rows.items()})
