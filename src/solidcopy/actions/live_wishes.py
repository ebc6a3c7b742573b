"""What a person wants of a playing that is under way: pause, go on, skip a slot, stop.

The page and the terminal are other processes or threads than the one that plays, so a wish is a
small file in the campaign's folder. It is a wish only: nothing measured depends on it.
"""

from dataclasses import dataclass
from pathlib import Path

PAUSE_FILE = "live.pause"
SKIP_FILE = "live.skip"


@dataclass(slots=True)
class Wishes:
    """Of one playing.

    Args:
        folder: of the campaign.
    """

    folder: Path
    is_stopped: bool = False
    """Set by whoever carries the playing out."""

    def clear(self) -> None:
        """Forget what was wanted of an earlier playing."""
        self.go_on()
        (self.folder / SKIP_FILE).unlink(missing_ok=True)

    def pause(self) -> None:
        """Play nothing new until told to go on."""
        (self.folder / PAUSE_FILE).touch()

    def go_on(self) -> None:
        """End the pause."""
        (self.folder / PAUSE_FILE).unlink(missing_ok=True)

    def turn(self) -> None:
        """Pause, or go on."""
        if self.is_paused:
            self.go_on()
        else:
            self.pause()

    def skip(self) -> None:
        """End the slot on its way at once; it is played again later."""
        (self.folder / SKIP_FILE).touch()

    @property
    def is_paused(self) -> bool:
        """Whether nothing new is to be played."""
        return (self.folder / PAUSE_FILE).exists()

    def why_silent(self) -> str:
        """Why what is on its way is to end now; empty if it is not. A skip is said once."""
        if self.is_stopped:
            return "it was stopped on its way"
        skip = self.folder / SKIP_FILE
        if skip.exists():
            skip.unlink(missing_ok=True)
            return "it was skipped"
        return ""
