"""True levels of single trials, from the powers measured in their recordings."""

from dataclasses import dataclass

from solidcopy import units
from solidcopy.trials.readings import QUANTITY_NAMES
from solidcopy.trials.trial import Readings

NOISE = (QUANTITY_NAMES["snr"], QUANTITY_NAMES["as_recorded"])


@dataclass(frozen=True, slots=True)
class TrueLevels:
    """Of one trial, dB, as its signal arrived: with the gain that its path drew."""

    snr_db: float | None
    """In 2500 Hz; None without noise."""
    snir_db: float | None
    """With all other disturbances beside the noise; None without any."""


def true_levels(readings: Readings) -> TrueLevels:
    """S/N in 2500 Hz and S/(N+I) of one trial.

    Powers are added, not dB values. N is the noise power in 2500 Hz, I the mean power over the
    slot of everything else that was added. Derived here.
    """
    noise, others = 0.0, []
    for level in readings.levels:
        if level.quantity in NOISE:
            noise += units.ratio_from_db(-level.got_db)
    for level in readings.levels:
        if level.quantity == QUANTITY_NAMES["signal_to_interference"]:
            others.append(units.ratio_from_db(-level.got_db))
        elif level.quantity == QUANTITY_NAMES["interference_to_noise"]:
            others.append(noise * units.ratio_from_db(level.got_db))
    return TrueLevels(
        _over(noise, readings.path_gain_db),
        _over(noise + sum(others), readings.path_gain_db) if others else None,
    )


def _over(power_ratio: float, path_gain_db: float) -> float | None:
    """Signal over a sum of powers that are given over the signal."""
    return path_gain_db - units.db_from_ratio(power_ratio) if power_ratio > 0.0 else None
