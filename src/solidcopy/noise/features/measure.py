"""All features of a recorded noise in one call."""

import math
from dataclasses import dataclass

import numpy as np

from solidcopy import units
from solidcopy.errors import CalibrationError
from solidcopy.noise.features import keying
from solidcopy.noise.features.amplitudes import Amplitudes
from solidcopy.noise.features.combs import Comb, find_combs
from solidcopy.noise.features.figure import (
    CannotTell,
    Figure,
    Reading,
    dbfs_figure,
)
from solidcopy.noise.features.floor import (
    Floor,
    FloorCurve,
    find_passband,
    measure_floor_curve,
    summarise_floor,
)
from solidcopy.noise.features.following import find_trains
from solidcopy.noise.features.humps import Hump, find_humps
from solidcopy.noise.features.impulses import Impulses
from solidcopy.noise.features.lines import (
    Line,
    Surroundings,
    find_lines,
    find_surroundings,
    with_keying,
    without_sidebands,
)
from solidcopy.noise.features.rhythm import Rhythm, measure_rhythm
from solidcopy.noise.features.spectrum import Spectrum, measure_spectrum
from solidcopy.noise.features.steadiness import (
    SPANS_S,
    Steadiness,
    gaussian_relative_error,
    measure_steadiness,
    span_powers,
)
from solidcopy.noise.features.trains import Train
from solidcopy.noise.features.watch import watch_envelope
from solidcopy.signals.waveform import Waveform

SHORTEST_S = 1.0
MIN_SAMPLE_RATE_HZ = 8000
MAX_WATCHED_LINES = 24
"""The strongest are looked at for keying."""


@dataclass(frozen=True, slots=True, eq=False)
class Features:
    """What a recording of noise holds. Every part that cannot be told says why."""

    sample_rate_hz: int
    duration_s: float
    offset: float
    """Mean of the samples (full scale 1); taken off everywhere below."""
    level_dbfs: Reading
    """Root mean square of all samples; its error is that of the mean over this recording."""
    spectrum: Spectrum
    floor: Floor | CannotTell
    level_over_floor_db: Reading
    """Mean power in the passband over its floor; Gaussian noise alone: 0."""
    lines: tuple[Line, ...] | CannotTell
    combs: tuple[Comb, ...] | CannotTell
    humps: tuple[Hump, ...] | CannotTell
    steadiness: Steadiness | CannotTell
    amplitudes: Amplitudes | CannotTell
    impulses: Impulses | CannotTell
    rhythm: Rhythm | CannotTell


def measure_features(waveform: Waveform, *, impulse_trains: bool = True) -> Features:
    """Features of a recorded noise, each with its uncertainty.

    Args:
        waveform: 1 s to hours at 8 kHz or more; not changed.
        impulse_trains: look for periodic trains among the impulses as well.
    Raises: CalibrationError for less than 1 s or a lower rate.
    """
    _refuse_unfit(waveform)
    samples, rate_hz = waveform.samples, float(waveform.sample_rate_hz)
    offset = float(samples.mean(dtype=np.float64))
    segment_s = segment_length_s(waveform.duration_s)
    spectrum = measure_spectrum(samples, sample_rate_hz=rate_hz, segment_s=segment_s, mean=offset)
    curve = measure_floor_curve(samples, sample_rate_hz=rate_hz, mean=offset)
    passband_hz = None if isinstance(curve, CannotTell) else find_passband(curve)
    level = _level(samples, offset, rate_hz)
    if isinstance(curve, CannotTell) or passband_hz is None or isinstance(level, CannotTell):
        return _nothing(waveform, spectrum, (offset, level), curve)
    floor = summarise_floor(curve, passband_hz)
    around = find_surroundings(spectrum, passband_hz)
    lines = _watched(find_lines(spectrum, around, passband_hz), waveform, spectrum, around, curve)
    combs = find_combs(lines, passband_hz, spectrum.bin_hz)
    watched = watch_envelope(waveform, passband_hz, _alone(lines, combs), spectrum)
    trains = _trains(watched.impulses, wanted=impulse_trains)
    return Features(
        sample_rate_hz=waveform.sample_rate_hz,
        duration_s=waveform.duration_s,
        offset=offset,
        level_dbfs=level,
        spectrum=spectrum,
        floor=floor,
        level_over_floor_db=_over_floor(spectrum, floor),
        lines=lines,
        combs=combs,
        humps=find_humps(spectrum, lines, curve, passband_hz),
        steadiness=_steadiness(waveform, spectrum, around, lines),
        amplitudes=watched.amplitudes,
        impulses=watched.impulses,
        rhythm=measure_rhythm(watched.series, series_rate_hz=watched.series_rate_hz, trains=trains),
    )


def _steadiness(
    waveform: Waveform, spectrum: Spectrum, around: Surroundings, lines: tuple[Line, ...]
) -> Steadiness:
    """Level by second, against what steady Gaussian noise of this spectrum would show."""
    offset = float(waveform.samples.mean(dtype=np.float64))
    powers = span_powers(
        waveform.samples,
        sample_rate_hz=float(waveform.sample_rate_hz),
        span_s=SPANS_S[0],
        mean=offset,
    )
    relative = gaussian_relative_error(spectrum, around, lines, SPANS_S[0])
    return measure_steadiness(powers, relative)


def segment_length_s(duration_s: float) -> float:
    """Segments of the spectrum: about thirty at the least, then longer and finer."""
    if duration_s < 8.0:
        return duration_s / 8.0
    if duration_s < 64.0:
        return 1.0
    return 2.0 if duration_s < 256.0 else 4.0


def _refuse_unfit(waveform: Waveform) -> None:
    if waveform.duration_s < SHORTEST_S:
        raise CalibrationError(
            f"the recording lasts {waveform.duration_s:.3g} s; features need {SHORTEST_S:g} s "
            "or more, and most of them 15 s"
        )
    if waveform.sample_rate_hz < MIN_SAMPLE_RATE_HZ:
        raise CalibrationError(
            f"the recording has {waveform.sample_rate_hz} samples per second; features need "
            f"{MIN_SAMPLE_RATE_HZ} or more"
        )


def _level(samples: np.ndarray, offset: float, rate_hz: float) -> Reading:
    """Mean power with the offset taken off; error by the scatter of blocks."""
    span_s = 0.25 if samples.size < 20.0 * rate_hz else 1.0
    powers = span_powers(samples, sample_rate_hz=rate_hz, span_s=span_s, mean=offset)
    power = float(powers.mean())
    if power <= 1e-20:
        return CannotTell("the recording is silent")
    return dbfs_figure(power, float(powers.std(ddof=1)) / power / math.sqrt(powers.size))


def _over_floor(spectrum: Spectrum, floor: Floor) -> Reading:
    if isinstance(floor.level_dbfs, CannotTell):
        return floor.level_dbfs
    power = spectrum.power_between(*floor.passband_hz)
    # Power between the centres of the outermost bins is that of the band they span.
    level_db = units.dbfs_from_power(power) - floor.level_dbfs.value
    return Figure(level_db, floor.level_dbfs.standard_error)


def _watched(
    lines: tuple[Line, ...],
    waveform: Waveform,
    spectrum: Spectrum,
    around: Surroundings,
    curve: FloorCurve,
) -> tuple[Line, ...]:
    """The strongest lines, watched over time."""
    order = sorted(range(len(lines)), key=lambda place: -lines[place].level_dbfs.value)
    strongest = order[:MAX_WATCHED_LINES]
    asked = []
    for place in strongest:
        frequency_hz = lines[place].frequency_hz.value
        # Sidebands of keying lift the surroundings, but not the weakest moments nearby.
        nearby = float(around.densities[round(frequency_hz / spectrum.bin_hz)])
        density = min(nearby, curve.density_near(frequency_hz))
        power = units.power_from_dbfs(lines[place].level_dbfs.value)
        asked.append(keying.WatchedLine(frequency_hz, power, density))
    answers = dict(
        zip(
            strongest,
            keying.watch_lines(
                waveform.samples, asked, sample_rate_hz=float(waveform.sample_rate_hz)
            ),
            strict=True,
        )
    )
    return without_sidebands(
        tuple(
            with_keying(line, answers[place], spectrum, around) if place in answers else line
            for place, line in enumerate(lines)
        )
    )


def _alone(lines: tuple[Line, ...], combs: tuple[Comb, ...] | CannotTell) -> tuple[Line, ...]:
    """Lines that belong to no comb: a comb may be a train of impulses, and stays."""
    taken = set() if isinstance(combs, CannotTell) else {n for comb in combs for n in comb.lines}
    return tuple(line for place, line in enumerate(lines) if place not in taken)


def _trains(impulses: Impulses | CannotTell, *, wanted: bool) -> tuple[Train, ...] | CannotTell:
    if isinstance(impulses, CannotTell):
        return impulses
    if not wanted:
        return CannotTell("trains were not asked for")
    return find_trains(impulses.times_s, impulses.watched_s)


def _nothing(
    waveform: Waveform,
    spectrum: Spectrum,
    level: tuple[float, Reading],
    curve: FloorCurve | CannotTell,
) -> Features:
    """Of a recording without a floor: silent, or too short."""
    reasons = [part for part in (curve, level[1]) if isinstance(part, CannotTell)]
    why = reasons[0] if reasons else CannotTell("the recording is silent")
    return Features(
        sample_rate_hz=waveform.sample_rate_hz,
        duration_s=waveform.duration_s,
        offset=level[0],
        level_dbfs=level[1],
        spectrum=spectrum,
        floor=why,
        level_over_floor_db=why,
        lines=why,
        combs=why,
        humps=why,
        steadiness=why,
        amplitudes=why,
        impulses=why,
        rhythm=why,
    )
