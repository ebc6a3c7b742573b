"""A twin: impairments that together stand for a recorded noise, each with where it came from."""

import json
from dataclasses import dataclass
from enum import StrEnum
from typing import Any

from solidcopy import units
from solidcopy.noise.features.figure import Figure


class Sureness(StrEnum):
    """How sure it is that the recording holds such a part."""

    SURE = "sure"
    LIKELY = "likely"
    GUESS = "a guess"


@dataclass(frozen=True, slots=True)
class FittedPart:
    """One impairment of a twin."""

    group: str
    """What is taken out of a twin together, e.g. "lines"."""
    fields: dict[str, Any]
    """As a plan holds it, but for its level."""
    power: float
    """Mean square over the recording."""
    band_hz: tuple[float, float]
    """In which that power lies."""
    comment: str
    """Which part of the recording it came from."""
    sureness: Sureness
    passed: float = 1.0
    """Share of its power that the recording's passband leaves, where it lies on the skirts."""

    @property
    def sent_power(self) -> float:
        """Mean square in front of the channel filter."""
        return self.power / self.passed

    def power_between(self, low_hz: float, high_hz: float) -> float:
        """The share of its power in a band, taking it as spread evenly over its own."""
        first_hz, last_hz = self.band_hz
        if last_hz <= first_hz:
            return self.power if low_hz <= first_hz <= high_hz else 0.0
        shared_hz = max(0.0, min(high_hz, last_hz) - max(low_hz, first_hz))
        return self.power * shared_hz / (last_hz - first_hz)


@dataclass(frozen=True, slots=True)
class Twin:
    """A recorded noise in numbers."""

    floor_density: Figure
    """Power per Hz of the white floor under everything, one-sided; levels refer to it."""
    passband_hz: tuple[float, float]
    """Of the recording, 6 dB down; the twin comes through a channel filter of it."""
    skirt_hz: float
    parts: tuple[FittedPart, ...]
    mean_power: float
    """Of the recording between 200 and 2700 Hz."""
    unexplained: float
    """Share of that power which no part explains; negative where the parts hold more."""

    @property
    def floor_power(self) -> float:
        """Of the white floor in 2500 Hz."""
        return self.floor_density.value * units.REFERENCE_BANDWIDTH_HZ

    @property
    def over_floor_db(self) -> float:
        """Mean power of the recording over the white floor, both in 2500 Hz."""
        return units.db_from_ratio(self.mean_power / self.floor_power)

    @property
    def groups(self) -> tuple[str, ...]:
        """What can be taken out, in order."""
        return tuple(dict.fromkeys(part.group for part in self.parts))

    def level_db(self, part: FittedPart) -> float:
        """Mean power of a part in front of the filter over the white floor's in 2500 Hz."""
        return units.db_from_ratio(part.sent_power / self.floor_power)

    def fields(self, part: FittedPart) -> dict[str, Any]:
        """A part as a plan holds it, level included."""
        return {**part.fields, "interference_to_noise_db": round(self.level_db(part), 2)}

    def filter_fields(self) -> dict[str, Any]:
        """The channel filter that the recording came through."""
        low_hz, high_hz = self.passband_hz
        return {
            "kind": "channel-filter",
            "low_hz": round(low_hz, 1),
            "high_hz": round(high_hz, 1),
            "skirt_hz": round(self.skirt_hz, 1),
        }


def inline(fields: dict[str, Any]) -> str:
    """Fields as an inline table of TOML."""
    return "{ " + ", ".join(f"{name} = {_value(value)}" for name, value in fields.items()) + " }"


def _value(value: Any) -> str:
    if isinstance(value, dict):
        return inline(value)
    # Strings, numbers and truth values are written alike in JSON and TOML.
    return json.dumps(value, ensure_ascii=False)
