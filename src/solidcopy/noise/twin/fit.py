"""The door: a recording in, its twin out."""

import math
from dataclasses import dataclass, replace

import numpy as np

from solidcopy import units
from solidcopy.errors import CalibrationError
from solidcopy.impairments.added.recording_source import NOISE_BAND_HZ
from solidcopy.impairments.chain.channel_filter import ChannelFilter
from solidcopy.noise.features.figure import CannotTell, Figure, db_error
from solidcopy.noise.features.floor import Floor, FloorRegion
from solidcopy.noise.features.measure import measure_features
from solidcopy.noise.twin.combed import lines_of, pulses_per_s
from solidcopy.noise.twin.fitted import FittedPart, Sureness, Twin
from solidcopy.noise.twin.impulsive import impulse_parts
from solidcopy.noise.twin.narrow import narrow_parts
from solidcopy.noise.twin.quiet import Quiet, floor_edges_hz, quiet_floor
from solidcopy.signals.power import power_spectrum
from solidcopy.signals.waveform import Waveform

SENT_HZ = (400.0, 2500.0)
SKIRT_DB = 6.0
SHAPED_DB = 0.4
"""A part of the passband whose floor lies so far over the lowest gets noise of its own."""
FOOT_DB, ATTENUATION_DB = 20.0, 80.0
"""Down from the floor: where its skirts are read, and the channel filter's full attenuation."""
SKIRT_LIMITS_HZ = (20.0, 1000.0)
LIKE_FLOOR = 0.3
"""More than this share of the floor would have been seen as floor."""
REST_SHARE = 0.03
"""Power that no part explains is left out below this share."""
LEAST_PASSED = 0.05
"""What lies farther out on the skirts keeps its level: it counts for nothing."""
CHUNK_SAMPLES = 1 << 20


@dataclass(frozen=True, slots=True)
class _Ground:
    """The white floor and the passband that it comes through."""

    density: float
    edges_hz: tuple[float, float]

    @property
    def power(self) -> float:
        """Between 200 and 2700 Hz."""
        low_hz, high_hz = NOISE_BAND_HZ
        shared_hz = min(high_hz, self.edges_hz[1]) - max(low_hz, self.edges_hz[0])
        return self.density * max(0.0, shared_hz)


def fit_twin(waveform: Waveform) -> Twin:
    """Impairments that together stand for a recorded noise.

    Args:
        waveform: one channel, 15 s or more for most of its parts; not changed.
    Raises: CalibrationError if it is silent, too short, or nowhere shows its floor.
    Source: derived here; docs/howto/what-does-my-noise-cost.md says how well it fits.
    """
    quiet = quiet_floor(waveform.samples, waveform.sample_rate_hz)
    if isinstance(quiet, CannotTell):
        raise CalibrationError(f"no twin can be made: {quiet.reason}")
    features = measure_features(waveform)
    floor = quiet.floor
    base = _base(floor)
    edges_hz, skirt_hz = _filter(quiet, base.value)
    narrow = [
        replace(part, passed=_passed(part, edges_hz, skirt_hz))
        for part in narrow_parts(features, waveform.samples, edges_hz)
    ]
    pulses = tuple(rate for part in narrow if (rate := pulses_per_s(part)) is not None)
    parts = [
        *_shape_parts(floor, base.value, edges_hz),
        *narrow,
        *impulse_parts(features, edges_hz, pulses_per_s=pulses),
    ]
    mean_power = _mean_power(waveform)
    ground = _Ground(base.value, edges_hz)
    parts, rest = _with_rest(parts, mean_power - ground.power - _within(parts), ground)
    return Twin(
        floor_density=base,
        passband_hz=edges_hz,
        skirt_hz=skirt_hz,
        parts=tuple(part for part in parts if part.power > 0.0),
        mean_power=mean_power,
        unexplained=rest / mean_power,
    )


def _readable(floor: Floor) -> list[tuple[FloorRegion, Figure]]:
    return [
        (region, region.density_dbfs_per_hz)
        for region in floor.regions
        if isinstance(region.density_dbfs_per_hz, Figure)
    ]


def _base(floor: Floor) -> Figure:
    """Density of the white floor: of the inner regions, those within `SHAPED_DB` of the lowest.

    Regions on the skirts of the passband do not count, where the filter bends the floor.
    """
    regions = _readable(floor)
    top_dbfs = max((level.value for _, level in regions), default=0.0)
    inner = [
        (region, level)
        for region, level in regions
        if level.value > top_dbfs - SKIRT_DB and _is_inside(region)
    ] or regions
    if not inner:
        raise CalibrationError("no twin can be made: lines or humps cover the whole floor")
    lowest_dbfs = min(level.value for _, level in inner)
    near = [level for _, level in inner if level.value < lowest_dbfs + SHAPED_DB]
    densities = np.array([units.power_from_dbfs(level.value) for level in near])
    errors = np.array([level.standard_error for level in near]) / db_error(1.0) * densities
    return Figure(float(densities.mean()), float(np.sqrt(np.square(errors).sum())) / len(near))


def _is_inside(region: FloorRegion) -> bool:
    """Whether most of a region lies where signals are sent."""
    low_hz, high_hz = SENT_HZ
    shared_hz = min(high_hz, region.high_hz) - max(low_hz, region.low_hz)
    return shared_hz > 0.5 * (region.high_hz - region.low_hz)


def _filter(quiet: Quiet, base: float) -> tuple[tuple[float, float], float]:
    """Edges and skirt of the channel filter that the recording came through.

    The chain's filter falls in a straight line of dB from 6 dB at its edge; what the floor shows
    of it between 6 and 20 dB down is drawn on.
    """
    edges_hz = floor_edges_hz(quiet.curve, quiet.floor.passband_hz, base, 6.0)
    feet_hz = floor_edges_hz(quiet.curve, quiet.floor.passband_hz, base, FOOT_DB)
    fall_hz = max(edges_hz[0] - feet_hz[0], feet_hz[1] - edges_hz[1])
    skirt_hz = fall_hz * (ATTENUATION_DB - 6.0) / (FOOT_DB - 6.0)
    return edges_hz, min(max(skirt_hz, SKIRT_LIMITS_HZ[0]), SKIRT_LIMITS_HZ[1])


def _passed(part: FittedPart, edges_hz: tuple[float, float], skirt_hz: float) -> float:
    """Share of the power of lines that a channel filter leaves; of the middle of anything else."""
    places_hz, powers = lines_of(part)
    through = ChannelFilter(low_hz=edges_hz[0], high_hz=edges_hz[1], skirt_hz=skirt_hz)
    gains = np.abs(through.response(places_hz, half_rate_hz=math.inf))
    share = float(np.square(gains) @ powers / powers.sum())
    return max(share, LEAST_PASSED)


def _shape_parts(floor: Floor, base: float, edges_hz: tuple[float, float]) -> list[FittedPart]:
    """Band noise where the floor stands over the white one; neighbours of like level together."""
    parts: list[FittedPart] = []
    for region, level in _readable(floor):
        excess = units.power_from_dbfs(level.value) - base
        if excess < base * (units.ratio_from_db(SHAPED_DB) - 1.0):
            continue
        width_hz = region.high_hz - region.low_hz
        if region.high_hz < edges_hz[0] or region.low_hz > edges_hz[1]:
            continue
        parts.append(
            FittedPart(
                group="shape of the floor",
                fields={
                    "kind": "band-noise",
                    "centre_hz": round((region.low_hz + region.high_hz) / 2.0, 1),
                    "width_hz": round(width_hz, 1),
                    "skirt_hz": round(min(max(width_hz / 8.0, 1.0), 100.0), 1),
                },
                power=excess * width_hz,
                band_hz=(region.low_hz, region.high_hz),
                comment=(
                    f"floor between {region.low_hz:.0f} and {region.high_hz:.0f} Hz, "
                    f"{units.db_from_ratio(1.0 + excess / base):.1f} dB over the lowest"
                ),
                sureness=Sureness.SURE,
            )
        )
    return parts


def _with_rest(
    parts: list[FittedPart], rest: float, ground: _Ground
) -> tuple[list[FittedPart], float]:
    """Parts that hold what is left over too, and what is still left.

    Noise that is always there would have shown in the floor. So only a little is taken as such;
    more of it can only come now and then, and is given to the impulses, if there are any.
    """
    impulsive = sum(part.power for part in parts if part.fields["kind"] == "impulses")
    if rest <= REST_SHARE * (rest + ground.power + _within(parts)):
        return parts, rest
    if rest < LIKE_FLOOR * ground.power:
        return [*parts, _rest_part(rest, ground.edges_hz)], 0.0
    if impulsive == 0.0:
        return parts, rest
    gain = 1.0 + rest / impulsive
    more = f", {units.db_from_ratio(gain):.1f} dB added for what else comes now and then"
    scaled = [
        replace(
            part, power=gain * part.power, comment=part.comment + more, sureness=Sureness.LIKELY
        )
        if part.fields["kind"] == "impulses"
        else part
        for part in parts
    ]
    return scaled, 0.0


def _rest_part(rest: float, passband_hz: tuple[float, float]) -> FittedPart:
    low_hz, high_hz = (max(passband_hz[0], NOISE_BAND_HZ[0]), min(passband_hz[1], NOISE_BAND_HZ[1]))
    width_hz = high_hz - low_hz
    return FittedPart(
        group="rest",
        fields={
            "kind": "band-noise",
            "centre_hz": round((low_hz + high_hz) / 2.0, 1),
            "width_hz": round(width_hz, 1),
            "skirt_hz": round(min(50.0, width_hz / 2.0), 1),
        },
        power=rest,
        band_hz=(low_hz, high_hz),
        comment="what no other part explains, taken as even noise",
        sureness=Sureness.GUESS,
    )


def _mean_power(waveform: Waveform) -> float:
    """Between 200 and 2700 Hz, piece by piece."""
    n_pieces = -(-waveform.samples.size // CHUNK_SAMPLES)
    total = 0.0
    for piece in np.array_split(waveform.samples, n_pieces):
        spectrum = power_spectrum(piece, sample_rate_hz=waveform.sample_rate_hz)
        total += spectrum.band_power(*NOISE_BAND_HZ) * piece.size
    return total / waveform.samples.size


def _within(parts: list[FittedPart]) -> float:
    return sum(part.power_between(*NOISE_BAND_HZ) for part in parts)
