"""What was measured in one channel of a recording."""

from dataclasses import dataclass

from solidcopy.noise.health.flat_tops import Clipping
from solidcopy.noise.health.levels import Levels
from solidcopy.noise.health.spectrum import Hum
from solidcopy.noise.health.stretches import Stretch


@dataclass(frozen=True, slots=True)
class ChannelHealth:
    """One channel."""

    name: str
    levels: Levels
    clipping: Clipping
    still: tuple[Stretch, ...]
    """Stretches of one value, at the ends of the recording too."""
    hum: Hum | None
    step: float | None
    """Smallest step in use; None for floats and the like."""

    @property
    def is_silent(self) -> bool:
        """Whether it is one value from end to end."""
        return self.levels.power == 0.0
