"""A difference in dB as transmitter power, antenna gain, S-units and, in free space, distance."""

from collections.abc import Callable
from dataclasses import dataclass

from solidcopy import units

S_UNIT_DB = 6.0
"""Nominal: what a meter of the trade ought to show (from memory); real meters differ by far."""


@dataclass(frozen=True, slots=True)
class Ends:
    """A figure with the ends of its interval, all in the unit of the field that holds it."""

    value: float
    low: float
    high: float

    def __post_init__(self) -> None:
        if not self.low <= self.value <= self.high:
            raise ValueError(f"not low <= value <= high: {self.low}, {self.value}, {self.high}")

    def through(self, rule: Callable[[float], float]) -> "Ends":
        """The figure that a rising or falling rule makes of it."""
        first, last = sorted((rule(self.low), rule(self.high)))
        return Ends(rule(self.value), first, last)

    def holds(self, number: float) -> bool:
        """Whether `number` lies between the ends."""
        return self.low <= number <= self.high


@dataclass(frozen=True, slots=True)
class Translated:
    """What a difference in signal means.

    Args:
        shift_db: more signal needed for the same share of messages; negative: less.
        power_ratio: times the power of now.
        watts: instead of `watts_now`.
        s_units: nominal, of 6 dB.
        free_space_distance: times the distance of now at unchanged power: in free space only, where
            power falls by 6 dB for each doubling. On any other path it depends on the path.
    """

    shift_db: Ends
    watts_now: float
    power_ratio: Ends
    watts: Ends
    s_units: Ends
    free_space_distance: Ends


def translated(shift_db: Ends, watts_now: float) -> Translated:
    """A difference in dB, its ends carried through.

    Args:
        shift_db: more signal needed.
        watts_now: transmitter power so far, more than 0.
    Source: definitions of the decibel and of free-space spreading (power falls with the square of
        the distance), derived here.
    """
    if not watts_now > 0.0:
        raise ValueError(f"watts_now must be more than 0, not {watts_now}")
    return Translated(
        shift_db=shift_db,
        watts_now=watts_now,
        power_ratio=shift_db.through(units.ratio_from_db),
        watts=shift_db.through(lambda db: watts_now * units.ratio_from_db(db)),
        s_units=shift_db.through(lambda db: db / S_UNIT_DB),
        free_space_distance=shift_db.through(lambda db: units.ratio_from_db(-db / 2.0)),
    )


def dbm_from_watts(watts: float) -> float:
    """Power over 1 mW in dB."""
    return units.db_from_ratio(watts / 1e-3)
