"""What differences in dB mean in watts, antenna gain, S-units and free-space distance."""

import math
from dataclasses import dataclass
from pathlib import Path

from solidcopy.actions.folder import existing_folder
from solidcopy.campaigns.journal import JournalReader
from solidcopy.errors import FigureError
from solidcopy.reports.gather import gather_figures
from solidcopy.reports.watts import (
    WATTS_NOTE,
    distance_words,
    power_words,
    watts_sentences,
)
from solidcopy.reports.wording import capital
from solidcopy.translate.power import Ends, translated

MOST_DB = 100.0


@dataclass(frozen=True, slots=True)
class Shift:
    """A difference given by hand; both ends of its interval or none."""

    shift_db: float
    low_db: float | None = None
    high_db: float | None = None

    def ends(self) -> Ends:
        """With its ends. Raises FigureError where they do not enclose it."""
        if (self.low_db is None) != (self.high_db is None):
            raise FigureError("give both ends of the interval, --low-db and --high-db, or none")
        low = self.shift_db if self.low_db is None else self.low_db
        high = self.shift_db if self.high_db is None else self.high_db
        if not all(math.isfinite(x) and abs(x) <= MOST_DB for x in (self.shift_db, low, high)):
            raise FigureError(f"a difference must lie between −{MOST_DB:g} and {MOST_DB:g} dB")
        if not low <= self.shift_db <= high:
            raise FigureError(
                f"{self.shift_db:g} dB does not lie between the ends {low:g} and {high:g} dB"
            )
        return Ends(self.shift_db, low, high)


def power_of_shift(shift: Shift, watts_now: float) -> list[str]:
    """Sentences on a difference given by hand."""
    found = translated(shift.ends(), _checked(watts_now))
    return [f"{capital(power_words(found))}.", f"{distance_words(found)}.", WATTS_NOTE]


def power_of_campaign(source: Path, watts_now: float) -> list[str]:
    """Sentences on every difference of a campaign. Raises FigureError if there is none."""
    watts_now = _checked(watts_now)
    with JournalReader(existing_folder(source)) as reader:
        said = watts_sentences(gather_figures(reader), watts_now)
    if not said:
        raise FigureError(
            f"{source}: this campaign shows no difference in signal: it needs two conditions or "
            "receivers, and an axis of SNR or signal level on which both have a threshold"
        )
    return [*said, WATTS_NOTE]


def _checked(watts_now: float) -> float:
    if not (math.isfinite(watts_now) and watts_now > 0.0):
        raise FigureError(f"the power must be more than 0 W, not {watts_now:g} W")
    return watts_now
