"""One part of a recorded noise, and the list of all of them."""

import math
from dataclasses import dataclass
from enum import StrEnum

from solidcopy import units
from solidcopy.noise.features.figure import CannotTell, Figure, Reading


class PartKind(StrEnum):
    """What a part is, by its form in time and frequency; not what made it."""

    FLOOR = "Gaussian floor"
    STEADY_LINE = "steady line"
    KEYED_LINE = "keyed line"
    COMB = "comb of lines"
    HUMP = "hump of noise"
    PERIODIC_IMPULSES = "periodic impulses"
    RANDOM_IMPULSES = "random impulses"
    SPEECH_LIKE = "speech-like signal"
    DATA_LIKE = "data-like signal"
    REST = "rest"


ITU_CLASSES = {
    PartKind.FLOOR: "white Gaussian noise (WGN)",
    PartKind.STEADY_LINE: "single-carrier noise (SCN)",
    PartKind.KEYED_LINE: "single-carrier noise (SCN), keyed",
    PartKind.COMB: "single-carrier noise (SCN), several carriers",
    PartKind.HUMP: "white Gaussian noise (WGN) of limited band",
    PartKind.PERIODIC_IMPULSES: "impulsive noise (IN)",
    PartKind.RANDOM_IMPULSES: "impulsive noise (IN)",
    PartKind.SPEECH_LIKE: "an emission, no noise class",
    PartKind.DATA_LIKE: "an emission, no noise class",
    PartKind.REST: "not classed",
}
"""The classes that ITU-R SM.1753 tells apart (as restated elsewhere, FACTS C3)."""


@dataclass(frozen=True, slots=True)
class Times:
    """When a part is there."""

    first_s: float
    last_s: float
    share_on: float
    """Of the recording: of the moments for a line or band, of the time filled by impulses."""


@dataclass(frozen=True, slots=True)
class Part:
    """One part of a recording."""

    kind: PartKind
    power: float
    """Mean square over the whole recording, pauses included."""
    level_error_db: float
    """Standard deviation by which the noise around moves the reading of this part's level; how much
    the part itself changes from one recording to the next is not in it."""
    band_hz: tuple[float, float]
    times: Times
    p_chance: float
    """Chance that Gaussian noise of the same spectrum shows such a part anywhere in a recording
    as long. It says nothing about what made the part."""
    rhythm_hz: Reading | None = None
    """Repetitions a second; of a comb the spacing of its lines; None where nothing repeats."""
    frequencies_hz: tuple[float, ...] = ()
    """Of lines."""
    n_impulses: int | None = None
    starts_s: tuple[float, ...] = ()
    """Of impulses that were found one by one."""
    cannot_tell: tuple[str, ...] = ()
    """What the recording does not say about this part, and why; whole sentences."""

    @property
    def level_dbfs(self) -> float:
        """Mean power in dBFS (0 = full-scale sine)."""
        return units.dbfs_from_power(max(self.power, 0.0))

    @property
    def itu_class(self) -> str:
        """Its class in the words of ITU-R SM.1753."""
        return ITU_CLASSES[self.kind]

    @property
    def period_s(self) -> Reading | None:
        """Seconds from one repetition to the next; None where nothing repeats."""
        if not isinstance(self.rhythm_hz, Figure):
            return self.rhythm_hz
        value = self.rhythm_hz.value
        return Figure(1.0 / value, self.rhythm_hz.standard_error / value**2)

    @property
    def confidence_word(self) -> str:
        """How surely it is more than chance: "sure" below 1 in 1000, "likely" below 1 in 20."""
        if self.p_chance < 1e-3:
            return "sure"
        return "likely" if self.p_chance < 0.05 else "doubtful"


@dataclass(frozen=True, slots=True)
class PartsList:
    """All parts of a recording, the strongest first, the rest last."""

    parts: tuple[Part, ...]
    total_power: float
    """Mean square of the recording, its mean taken off."""
    passband_hz: tuple[float, float]
    duration_s: float
    sample_rate_hz: int
    cannot_tell: tuple[str, ...]
    """What length or bandwidth forbids to say of the whole recording."""

    def share(self, part: Part) -> float:
        """Of the power."""
        return part.power / self.total_power

    @property
    def unbalanced_db(self) -> float:
        """By how much the powers of all parts pass the power of the recording, dB."""
        return units.db_from_ratio(sum(part.power for part in self.parts) / self.total_power)

    def of_kind(self, *kinds: PartKind) -> tuple[Part, ...]:
        """Those of some kinds."""
        return tuple(part for part in self.parts if part.kind in kinds)


def level_error_db(power: float, error: float) -> float:
    """Standard deviation in dB of a power known to `error`; infinite for none."""
    return 10.0 / math.log(10.0) * error / power if power > 0.0 else math.inf


__all__ = ["ITU_CLASSES", "CannotTell", "Part", "PartKind", "PartsList", "Times", "level_error_db"]
