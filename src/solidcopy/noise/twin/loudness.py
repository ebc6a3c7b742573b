"""How loud a recorded noise is where it counts: in 2500 Hz, and its floor about the signal."""

import math
from dataclasses import dataclass

from solidcopy import units
from solidcopy.errors import CalibrationError
from solidcopy.impairments.added.recording_source import NOISE_BAND_HZ, Source
from solidcopy.noise.features.figure import NORMAL_95, CannotTell, Figure, Reading, db_error
from solidcopy.noise.features.floor import Floor
from solidcopy.noise.twin.quiet import quiet_floor

__all__ = ["NOISE_BAND_HZ", "Loudness", "find_floor", "measure_loudness", "usual_range_hz"]

USUAL_RANGE_HZ = (500.0, 2300.0)
"""Where the lowest tone is sent if nobody says otherwise, as far as the recording passes it."""
EDGE_HZ = 50.0
"""Kept away from the ends of the passband, where the floor falls."""


@dataclass(frozen=True, slots=True)
class Loudness:
    """Levels of a recording, all in the 2500 Hz in which an SNR is stated."""

    mean_dbfs: float
    """Mean power between 200 and 2700 Hz over the whole recording."""
    floor_dbfs: Reading
    """What the Gaussian floor about the signal would have in 2500 Hz."""

    @property
    def over_floor_db(self) -> Reading:
        """The mean over the floor."""
        floor = self.floor_dbfs
        if isinstance(floor, CannotTell):
            return floor
        return Figure(self.mean_dbfs - floor.value, floor.standard_error)

    @property
    def over_floor_half_db(self) -> float:
        """Half the 95 % interval of `over_floor_db`; 0 where there is none."""
        floor = self.floor_dbfs
        return NORMAL_95 * floor.standard_error if isinstance(floor, Figure) else 0.0


def find_floor(source: Source) -> Floor | CannotTell:
    """Floor of a recording that was made ready for a campaign, at the campaign's sample rate."""
    found = quiet_floor(source.samples, source.key.sample_rate_hz)
    return found if isinstance(found, CannotTell) else found.floor


def usual_range_hz(floor: Floor | CannotTell, width_hz: float) -> tuple[float, float]:
    """Lowest and highest frequency of the lowest tone: the usual range within the passband.

    Raises: CalibrationError if the passband has no room for the signal.
    """
    low_hz, high_hz = USUAL_RANGE_HZ
    if isinstance(floor, CannotTell):
        return low_hz, high_hz
    first_hz, last_hz = floor.passband_hz
    low_hz = max(low_hz, math.ceil(first_hz + EDGE_HZ))
    high_hz = min(high_hz, math.floor(last_hz - EDGE_HZ - width_hz))
    if low_hz > high_hz:
        raise CalibrationError(
            f"the recording passes {first_hz:.0f} to {last_hz:.0f} Hz, which leaves no room for a "
            f"signal of {width_hz:.0f} Hz; record with a wider filter"
        )
    return low_hz, high_hz


def measure_loudness(
    source: Source, floor: Floor | CannotTell, signal_hz: tuple[float, float]
) -> Loudness:
    """Mean level and floor of a recording.

    Args:
        source: of a recording that acts as the noise.
        floor: as from `find_floor`.
        signal_hz: from the lowest tone to the highest that may be sent.
    Raises: CalibrationError if the recording passes nothing where the signal is sent.
    """
    if not source.key.is_noise:
        raise ValueError("the level of this source is not that of noise in 2500 Hz")
    mean_dbfs = units.dbfs_from_power(source.mean_power)
    if isinstance(floor, CannotTell):
        return Loudness(mean_dbfs, floor)
    _refuse_outside(floor.passband_hz, signal_hz)
    return Loudness(mean_dbfs, _floor_dbfs(floor, signal_hz))


def _floor_dbfs(floor: Floor, signal_hz: tuple[float, float]) -> Reading:
    """Mean density of the floor where the signal may lie, times 2500 Hz."""
    power = variance = width_hz = 0.0
    for region in floor.regions:
        shared_hz = min(signal_hz[1], region.high_hz) - max(signal_hz[0], region.low_hz)
        level = region.density_dbfs_per_hz
        if shared_hz <= 0.0 or isinstance(level, CannotTell):
            continue
        here = units.power_from_dbfs(level.value) * shared_hz
        power += here
        variance += (here * level.standard_error / db_error(1.0)) ** 2
        width_hz += shared_hz
    if power == 0.0:
        return CannotTell("lines or humps cover the floor where the signal is sent")
    in_reference = power / width_hz * units.REFERENCE_BANDWIDTH_HZ
    return Figure(units.dbfs_from_power(in_reference), db_error(math.sqrt(variance) / power))


def _refuse_outside(passband_hz: tuple[float, float], signal_hz: tuple[float, float]) -> None:
    if signal_hz[0] >= passband_hz[0] and signal_hz[1] <= passband_hz[1]:
        return
    raise CalibrationError(
        f"the recording passes {passband_hz[0]:.0f} to {passband_hz[1]:.0f} Hz, but the signal "
        f"would lie between {signal_hz[0]:.0f} and {signal_hz[1]:.0f} Hz, where part of it meets "
        "no noise at all; give --audio-hz inside that"
    )
