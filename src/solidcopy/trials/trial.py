"""A trial's recipe, what was sent in it, and the recording that it makes."""

from dataclasses import dataclass

from solidcopy.modes.mode import Message
from solidcopy.seeds import Chance
from solidcopy.signals.waveform import Waveform
from solidcopy.trials.condition import Condition

SENT = "sent"
NOTHING_SENT = "nothing-sent"


@dataclass(frozen=True, slots=True)
class Trial:
    """Recipe of one transmission: enough to make its audio alone, later, elsewhere."""

    mode: str
    condition: Condition
    """With the axis value put in: every number fixed."""
    sample_rate_hz: int
    level_dbfs: float | None
    """Mean power of the whole mix; None lets the maker choose head-room."""
    chance: Chance
    internal_rate_hz: int | None = None
    """At which the sum is made, where that is wider than the recording; None: as the recording."""

    @property
    def synthesis_rate_hz(self) -> int:
        """At which the wanted signal and the disturbances are made and summed."""
        return self.internal_rate_hz or self.sample_rate_hz

    @property
    def is_sent(self) -> bool:
        """False in the arm of trials in which nothing is sent, to count false decodes."""
        return self.chance.arm == SENT


@dataclass(frozen=True, slots=True)
class Truth:
    """What was sent, as it arrives at the receiver. Never shown to a receiver."""

    message: Message | None
    """None where nothing was sent."""
    audio_hz: float
    """Of the lowest tone, the path's mean shift included."""
    time_offset_s: float
    """Start after the mode's nominal start, the path's mean delay included."""
    other_texts: frozenset[str] = frozenset()
    """What other stations send in the same slot."""


@dataclass(frozen=True, slots=True)
class LevelReading:
    """One asked level beside what the samples of the recording hold."""

    name: str
    """Of the disturbance: kind and, if there are several, its number."""
    quantity: str
    """"SNR in 2500 Hz", "S/I", "I/N in 2500 Hz" or "as recorded"."""
    asked_db: float | None
    """None for a recording mixed as recorded: nothing was asked."""
    got_db: float
    """For a recording mixed as recorded: the SNR in 2500 Hz that came about."""
    spread_db: float
    """Standard deviation that chance explains."""
    mean_dbfs: float
    """Over the slot."""
    while_on_dbfs: float
    """Over the time during which it is on."""
    peak_dbfs: float
    crest_db: float
    drawn_db: float = 0.0
    """What the draws of this trial (number of impulses, piece of a recording) explain of
    got - asked."""


@dataclass(frozen=True, slots=True)
class Readings:
    """Powers measured from the very samples of a recording."""

    signal_dbfs: float
    """Wanted mean power while transmitting; -inf where nothing was sent."""
    levels: tuple[LevelReading, ...]
    mean_dbfs: float
    peak_dbfs: float
    crest_db: float
    n_clipped: int
    gain_db: float
    """Applied to the whole mix, so that it fits the head-room."""
    path_gain_db: float = 0.0
    """Of this trial: its path's draws over their mean. Levels refer to that mean."""


@dataclass(frozen=True, slots=True)
class Recording:
    """What a receiver is handed (`waveform`), with the readings kept beside it."""

    waveform: Waveform
    readings: Readings
    digest: str
    """SHA-256 of the samples as little-endian float32, hexadecimal."""
