"""What an evidence sheet rests on: levels of one recording or two, and what was said of them."""

from dataclasses import dataclass

from solidcopy.noise.before_after.by_part import PartChange
from solidcopy.noise.before_after.compare import BeforeAfter
from solidcopy.noise.before_after.levels import Levels
from solidcopy.noise.parts.part import PartsList
from solidcopy.reports.evidence.description import Description, Taken
from solidcopy.signals.waveform import Waveform


@dataclass(frozen=True, slots=True, eq=False)
class Heard:
    """One recording."""

    taken: Taken
    name: str
    sha256: str
    recorder: str
    """Container, word length and sample rate."""
    waveform: Waveform
    """As recorded."""
    gain_db: float
    """By how much more gain it was taken than the first."""
    levels: Levels


@dataclass(frozen=True, slots=True)
class Cost:
    """What a campaign says of decodes."""

    title: str
    name: str
    """Of its folder."""
    fingerprint: str
    sentences: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Origin:
    """What made the sheet, and from what."""

    version: str
    description: str
    """Name of the file."""
    description_sha256: str


@dataclass(frozen=True, slots=True, eq=False)
class Comparison:
    """The second recording beside the first."""

    found: BeforeAfter
    by_part: tuple[PartChange, ...]


@dataclass(frozen=True, slots=True, eq=False)
class EvidenceFacts:
    """All that the sheet says."""

    description: Description
    heard: tuple[Heard, ...]
    band_hz: tuple[float, float]
    passband_hz: tuple[float, float]
    """What the recordings hold."""
    outcome: Comparison | PartsList
    """Of two recordings, or the parts of a single one."""
    cost: Cost | None
    notes: tuple[str, ...]
    origin: Origin

    @property
    def unit(self) -> str:
        """Of levels."""
        return "dBFS" if self.description.calibration is None else "dBm"

    def shown(self, level_dbfs: float) -> float:
        """A level in that unit."""
        calibration = self.description.calibration
        return level_dbfs + (0.0 if calibration is None else calibration.dbm_at_0_dbfs)
