"""Asked and got: the powers of a recording measured by another route than the one that made it.

Levels are *set* from expected powers worked out on paper (a density, a rate times an energy).
Here they are *measured* on the scaled parts as they stand in the mix, from their spectra, within
the bands in which they should lie. So a slip in a scale, a rate, a frequency or a place shows as
a difference between asked and got.
"""

import math
from dataclasses import dataclass

import numpy as np
import scipy.special
from numpy.typing import NDArray

from solidcopy import units
from solidcopy.errors import CalibrationError
from solidcopy.impairments.impairment import Disturbance
from solidcopy.impairments.level import Level
from solidcopy.signals import power
from solidcopy.signals.waveform import Samples
from solidcopy.trials.trial import LevelReading, Readings
from solidcopy.trials.wanted import Wanted

NOISE_BAND_HZ = (200.0, 2700.0)
"""The 2500 Hz in which noise is measured: inside every usual receiver passband."""

TOLERANCE_DB = 0.1
"""Largest difference between asked and got that needs no explanation by chance."""
P_BEYOND = 3.4e-6
"""Chance of a power beyond either limit: that of 4.5 Gaussian standard deviations."""

CLOSURE = 1e-6
"""Largest share of the mix, rms, that its parts may leave unexplained (float32 keeps 3e-8)."""

QUANTITY_NAMES = {
    "snr": "SNR in 2500 Hz",
    "signal_to_interference": "S/I",
    "interference_to_noise": "I/N in 2500 Hz",
    "as_recorded": "as recorded",
}


@dataclass(frozen=True, slots=True, eq=False)
class Part:
    """One added disturbance, scaled to its asked level, before the gain of the mix."""

    name: str
    level: Level
    disturbance: Disturbance
    """Its samples are scaled already; its reference power is not."""
    place: int
    """0-based, of its impairment in the condition."""

    @property
    def is_noise(self) -> bool:
        """Whether its level is that of noise in 2500 Hz."""
        return self.level.quantity in ("snr", "as_recorded")


@dataclass(frozen=True, slots=True, eq=False)
class Mix:
    """Everything that a recording is made of."""

    sample_rate_hz: int
    wanted: Wanted
    parts: tuple[Part, ...]
    gain: float
    """Amplitude factor of the whole mix."""


@dataclass(frozen=True, slots=True)
class _Measured:
    """Powers of one part as it stands in the recording."""

    power: float
    """That its level refers to: in 2500 Hz for noise, all of it for anything else."""
    mean_power: float
    peak: float


def measure(mix: Mix, summed: NDArray[np.float32], recorded: NDArray[np.float32]) -> Readings:
    """Readings of a recording; CalibrationError if what was asked is not what is there.

    Ratios are those of the sum in front of the receiver's chain, over the power that the wanted
    signal has in the mean over its path's draws.

    Args:
        mix: the parts and the gain.
        summed: (n_samples,) float32, the sum of the parts.
        recorded: (n_samples,) float32, as handed to a receiver; behind its chain, if it has one.
    """
    _refuse_open_sum(mix, summed)
    signal_power = _signal_power(mix)
    path_ratio = mix.wanted.path_power_ratio
    measured = [_measure_part(part, mix) for part in mix.parts]
    noise = [(part, got) for part, got in zip(mix.parts, measured, strict=True) if part.is_noise]
    readings = tuple(
        _reading(part, got, signal_power / path_ratio, noise)
        for part, got in zip(mix.parts, measured, strict=True)
    )
    mean, peak = power.mean_power(recorded), power.peak(recorded)
    return Readings(
        signal_dbfs=units.dbfs_from_power(signal_power if mix.wanted.samples is not None else 0.0),
        levels=readings,
        mean_dbfs=units.dbfs_from_power(mean),
        peak_dbfs=units.peak_dbfs(peak),
        crest_db=power.crest_db(recorded),
        n_clipped=power.count_clipped(recorded),
        gain_db=units.db_from_ratio(mix.gain**2),
        path_gain_db=units.db_from_ratio(path_ratio),
    )


def _refuse_open_sum(mix: Mix, recorded: NDArray[np.float32]) -> None:
    left = recorded.astype(np.float64)
    if mix.wanted.samples is not None:
        left -= mix.gain * mix.wanted.samples
    for part in mix.parts:
        left -= mix.gain * part.disturbance.samples
    if power.mean_power(left) > CLOSURE**2 * power.mean_power(recorded):
        raise CalibrationError(
            "the recording is not the sum of its parts: "
            f"{units.db_from_ratio(power.mean_power(left) / power.mean_power(recorded)):.0f} dB "
            "of it is left unexplained"
        )


def _signal_power(mix: Mix) -> float:
    """Wanted mean power while transmitting, measured; where nothing is sent, as it would be."""
    wanted = mix.wanted
    asked = wanted.asked_power * mix.gain**2 * wanted.path_power_ratio
    if wanted.samples is None or wanted.share_sent == 0.0:
        return asked
    spectrum = _spectrum(wanted.samples, mix)
    got = spectrum.band_power(*_within(wanted.occupied_hz, mix)) / wanted.share_sent
    difference_db = units.db_from_ratio(got / asked)
    if abs(difference_db) > TOLERANCE_DB:
        raise CalibrationError(
            f"the wanted signal is {difference_db:+.2f} dB from its asked power "
            f"(while transmitting, {wanted.occupied_hz[0]:.0f}-{wanted.occupied_hz[1]:.0f} Hz)"
        )
    return got


def _spectrum(samples: Samples, mix: Mix) -> power.PowerSpectrum:
    # Single precision is good to 1e-6 of a power and halves the time.
    standing = (samples * mix.gain).astype(np.float32)
    return power.power_spectrum(standing, sample_rate_hz=mix.sample_rate_hz)


def _within(band_hz: tuple[float, float], mix: Mix) -> tuple[float, float]:
    return max(band_hz[0], 0.0), min(band_hz[1], mix.sample_rate_hz / 2.0)


def _measure_part(part: Part, mix: Mix) -> _Measured:
    disturbance = part.disturbance
    spectrum = _spectrum(disturbance.samples, mix)
    band_hz = NOISE_BAND_HZ if part.is_noise else _within(disturbance.occupied_hz, mix)
    return _Measured(
        power=spectrum.band_power(*band_hz),
        mean_power=mix.gain**2 * power.mean_power(disturbance.samples),
        peak=mix.gain * power.peak(disturbance.samples),
    )


def _reading(
    part: Part, got: _Measured, signal_power: float, noise: list[tuple[Part, _Measured]]
) -> LevelReading:
    disturbance, quantity = part.disturbance, part.level.quantity
    below = noise if quantity == "interference_to_noise" else []
    got_db, drawn_db = _ratio(disturbance, got, signal_power, below)
    others = [other.disturbance for other, _ in below]
    mean_dbfs = units.dbfs_from_power(got.mean_power)
    reading = LevelReading(
        name=part.name,
        quantity=QUANTITY_NAMES[quantity],
        asked_db=None if quantity == "as_recorded" else part.level.level_db,
        got_db=got_db,
        spread_db=math.hypot(disturbance.spread_db, *(other.spread_db for other in others)),
        mean_dbfs=mean_dbfs,
        while_on_dbfs=mean_dbfs - units.db_from_ratio(disturbance.share_on),
        peak_dbfs=units.peak_dbfs(got.peak),
        crest_db=power.crest_db(disturbance.samples),
        drawn_db=drawn_db,
    )
    _refuse_difference(reading, disturbance, others)
    return reading


def _ratio(
    disturbance: Disturbance,
    got: _Measured,
    signal_power: float,
    below: list[tuple[Part, _Measured]],
) -> tuple[float, float]:
    """The ratio that came about and what the draws explain of it, both in dB.

    Over the noise `below` it for an interference-to-noise ratio, else under the wanted signal.
    """
    drawn_db = units.db_from_ratio(disturbance.drawn.power_ratio)
    if not below:
        return -units.db_from_ratio(got.power / signal_power), 0.0 - drawn_db
    noise_power = sum(item.power for _, item in below)
    # The noise has draws of its own: the piece of a recording may be a loud one.
    expected_power = sum(
        item.power / max(other.disturbance.drawn.power_ratio, 1e-30) for other, item in below
    )
    noise_drawn_db = units.db_from_ratio(noise_power / expected_power)
    return units.db_from_ratio(got.power / noise_power), drawn_db - noise_drawn_db


def _refuse_difference(
    reading: LevelReading, disturbance: Disturbance, others: list[Disturbance]
) -> None:
    if reading.asked_db is None:
        return
    expected_db = reading.asked_db + reading.drawn_db
    if reading.got_db == expected_db:  # both infinite: no impulse fell into this slot
        return
    low_db, high_db = chance_limits_db(disturbance.drawn.residual_spread_db)
    for other in others:  # noise under an interference-to-noise ratio pulls the other way
        other_low_db, other_high_db = chance_limits_db(other.drawn.residual_spread_db)
        low_db, high_db = low_db - other_high_db, high_db - other_low_db
    if not others:
        low_db, high_db = -high_db, -low_db
    difference_db = reading.got_db - expected_db
    if not low_db - TOLERANCE_DB <= difference_db <= high_db + TOLERANCE_DB:
        raise CalibrationError(
            f"{reading.name}: {reading.quantity} asked {reading.asked_db:g} dB, expected "
            f"{expected_db:.2f} dB from the draws, got {reading.got_db:.2f} dB; chance explains "
            f"{low_db:+.2f} to {high_db:+.2f} dB"
        )


def chance_limits_db(spread_db: float) -> tuple[float, float]:
    """Lowest and highest difference of a power from its expected value that chance explains.

    Args:
        spread_db: standard deviation, in dB above the expected power.
    Returns: limits that 7 in a million powers pass, in dB.
    Source: derived here: the power of Gaussian noise is a sum of squares, so Gamma distributed
        with shape 1 / (relative spread)^2; for a small spread these are 4.5 spreads.
    """
    relative = units.ratio_from_db(spread_db) - 1.0
    if relative <= 0.0:
        return 0.0, 0.0
    shape = 1.0 / relative**2
    low = float(scipy.special.gammaincinv(shape, P_BEYOND)) / shape
    high = float(scipy.special.gammainccinv(shape, P_BEYOND)) / shape
    return units.db_from_ratio(low), units.db_from_ratio(high)
