"""Where a measured noise lies among radio-noise surroundings."""

import math
from dataclasses import dataclass

from solidcopy.errors import FigureError
from solidcopy.reports.sheet_text import said_text, sheet_text
from solidcopy.reports.surroundings_words import noise_sentences, noise_sheet
from solidcopy.translate.surroundings import MAN_MADE, MAN_MADE_MHZ, Surroundings

LEVELS_DBM = (-200.0, 30.0)


@dataclass(frozen=True, slots=True)
class Measured:
    """A noise level of the user's own.

    Args:
        level_dbm: at the antenna's terminals.
        bandwidth_hz: in which it was measured.
        error_db: how far it may be off either way.
    """

    level_dbm: float
    bandwidth_hz: float
    error_db: float = 0.0

    def __post_init__(self) -> None:
        low, high = LEVELS_DBM
        if not low <= self.level_dbm <= high:
            raise FigureError(
                f"a noise level must lie between {low:g} and {high:g} dBm, not {self.level_dbm:g}"
            )
        if not (math.isfinite(self.bandwidth_hz) and self.bandwidth_hz >= 1.0):
            raise FigureError(
                f"the bandwidth of the measurement must be 1 Hz or more, not {self.bandwidth_hz:g}"
            )
        if not 0.0 <= self.error_db <= 40.0:
            raise FigureError(
                f"the error of the measurement must lie between 0 and 40 dB, not {self.error_db:g}"
            )


def checked_mhz(mhz: float) -> float:
    """A frequency for which P.372 gives man-made noise. Raises FigureError otherwise."""
    low, high = MAN_MADE_MHZ
    if not low <= mhz <= high:
        raise FigureError(
            f"the frequency must lie between {low:g} and {high:g} MHz, where ITU-R P.372 gives "
            f"man-made noise, not at {mhz:g} MHz"
        )
    return mhz


def surroundings_named(name: str) -> Surroundings:
    """By its name, with a blank or a hyphen. Raises FigureError for another."""
    for kind in MAN_MADE:
        if kind.name == name.replace("-", " "):
            return kind
    names = ", ".join(kind.name.replace(" ", "-") for kind in MAN_MADE)
    raise FigureError(f'"{name}" are no surroundings of ITU-R P.372; there are {names}')


def noise_text(mhz: float, measured: Measured | None) -> str:
    """Sentences on a measured noise, if there is one, and the table of all surroundings."""
    mhz = checked_mhz(mhz)
    table = sheet_text(noise_sheet(mhz))
    if measured is None:
        return table
    said = noise_sentences(mhz, measured.level_dbm, measured.bandwidth_hz, measured.error_db)
    return f"{said_text(said)}\n\n{table}"
