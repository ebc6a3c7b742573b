"""The door: a recording in, the list of its parts out."""

import math
from dataclasses import dataclass, replace

import numpy as np

from solidcopy.errors import AudioFileError
from solidcopy.noise.features.figure import CannotTell, FloatArray
from solidcopy.noise.features.floor import FloorCurve, find_passband, measure_floor_curve
from solidcopy.noise.features.humps import without_lines
from solidcopy.noise.features.lines import Line, find_lines, find_surroundings
from solidcopy.noise.features.spectrum import measure_spectrum
from solidcopy.noise.parts.broadband import Broad, measure_broad
from solidcopy.noise.parts.cells import Cells, cut_cells
from solidcopy.noise.parts.doubts import doubts_of_part, doubts_of_whole
from solidcopy.noise.parts.impulsive import Impulsive, impulsive_parts
from solidcopy.noise.parts.narrow import Transform, transform_of, without_stretches
from solidcopy.noise.parts.narrowband import Claim, Narrow, humps_of, narrow_parts
from solidcopy.noise.parts.part import Part, PartKind, PartsList, Times, level_error_db
from solidcopy.noise.parts.scenery import Scenery, scenery_of
from solidcopy.noise.parts.speech import with_speech
from solidcopy.signals.power import mean_power
from solidcopy.signals.waveform import Waveform

SHORTEST_S = 2.0
SEGMENT_LIMITS_S = (0.25, 2.0)
SEGMENTS = 10.0
"""Lines are looked for in segments of a tenth of the recording, but two seconds at most."""
LINE_BINS = 4.0
"""A line is cut out of the spectrum to so many bins on either side, more if it is strong."""
EDGE_S = 0.25
WIDEST_HZ = 900.0
LEAST_BINS = 3
LEAST_BINS_SHARE = 0.3
"""So many bins of the passband must be left to tell an impulse from a narrow signal."""
BALANCED_SHARE = 0.05
"""Powers of all parts add up to that of the recording within 5 % (0.2 dB)."""


@dataclass(frozen=True, slots=True, eq=False)
class _Ground:
    """A recording made ready: its mean taken off, transformed, its passband known."""

    transform: Transform
    samples: FloatArray
    """(n_samples,) the mean taken off."""
    passband_hz: tuple[float, float]
    segment_s: float

    @property
    def sample_rate_hz(self) -> float:
        """Samples a second."""
        return self.transform.sample_rate_hz

    @property
    def duration_s(self) -> float:
        """Length."""
        return self.transform.duration_s


def list_parts(waveform: Waveform) -> PartsList:
    """The parts of a recording, the strongest first, what is left unexplained last.

    Args:
        waveform: real, one channel, two seconds or longer.
    Returns: parts whose powers add up to that of the recording within 0.2 dB as a rule;
        `unbalanced_db` says how well.
    Raises: AudioFileError for a recording that is too short or silent.
    Source: derived here; docs/howto/what-is-this-noise.md says how and how well it works.
    """
    ground = _ground(waveform)
    notched, bands_hz = _notched(ground)
    cells = cut_cells(
        notched, sample_rate_hz=ground.sample_rate_hz, band_hz=_inner(ground.passband_hz)
    )
    impulsive = impulsive_parts(
        cells,
        ground.duration_s,
        is_asked=_without_bands(cells, bands_hz),
        edge_s=0.0 if notched is ground.samples else EDGE_S,
    )
    blanked = _blanked(ground, notched, impulsive.sparse, cells)
    curve = measure_floor_curve(blanked, sample_rate_hz=ground.sample_rate_hz)
    assert isinstance(curve, FloorCurve)  # the same length has given one before
    scenery = scenery_of(
        measure_spectrum(blanked, sample_rate_hz=ground.sample_rate_hz, segment_s=ground.segment_s),
        transform_of(blanked, sample_rate_hz=ground.sample_rate_hz),
        ground.passband_hz,
        is_beaten=bool(impulsive.dense_powers.any()),
    )
    narrow = narrow_parts(scenery)
    broad = _broad(scenery, curve, narrow, (impulsive, cells))
    total = mean_power(ground.samples)
    parts = with_speech(narrow, impulsive, broad, scenery)
    parts.append(_floor_part(broad, ground))
    parts.append(_rest_part(parts, total, broad, ground))
    whole = PartsList(
        parts=tuple(sorted(parts, key=lambda part: (part.kind is PartKind.REST, -part.power))),
        total_power=total,
        passband_hz=ground.passband_hz,
        duration_s=ground.duration_s,
        sample_rate_hz=waveform.sample_rate_hz,
        cannot_tell=(),
    )
    doubted = tuple(
        replace(part, cannot_tell=part.cannot_tell + doubts_of_part(part, whole))
        for part in whole.parts
    )
    return replace(whole, parts=doubted, cannot_tell=doubts_of_whole(whole))


def _ground(waveform: Waveform) -> _Ground:
    if waveform.duration_s < SHORTEST_S:
        raise AudioFileError(
            f"the recording lasts {waveform.duration_s:.2g} s; its parts need {SHORTEST_S:g} s or "
            "more, and half a minute to tell slow rhythms"
        )
    samples = waveform.samples.astype(np.float64)
    samples -= samples.mean()
    curve = measure_floor_curve(samples, sample_rate_hz=waveform.sample_rate_hz)
    passband_hz = None if isinstance(curve, CannotTell) else find_passband(curve)
    if passband_hz is None:
        raise AudioFileError("the recording is silent for the most part; there is no noise in it")
    return _Ground(
        transform=transform_of(samples, sample_rate_hz=waveform.sample_rate_hz),
        samples=samples,
        passband_hz=(float(passband_hz[0]), float(passband_hz[1])),
        segment_s=min(
            max(waveform.duration_s / SEGMENTS, SEGMENT_LIMITS_S[0]), SEGMENT_LIMITS_S[1]
        ),
    )


def _inner(passband_hz: tuple[float, float]) -> tuple[float, float]:
    """The passband without its skirts, where frames are compared."""
    skirt = 0.03 * (passband_hz[1] - passband_hz[0])
    return passband_hz[0] + skirt, passband_hz[1] - skirt


def _notched(ground: _Ground) -> tuple[FloatArray, list[tuple[float, float]]]:
    """The recording with every line cut out, so that lines do not hide impulses, and the bands
    of what is wider than a line."""
    spectrum = measure_spectrum(
        ground.samples, sample_rate_hz=ground.sample_rate_hz, segment_s=ground.segment_s
    )
    around = find_surroundings(spectrum, ground.passband_hz)
    lines = find_lines(spectrum, around, ground.passband_hz)
    stretches = [_stretch(line, spectrum.bin_hz) for line in lines]
    humps = humps_of(spectrum, lines, ground.passband_hz)
    notched = without_stretches(ground.transform, stretches) if stretches else ground.samples
    # What is wider may be made of the impulses themselves, behind a narrower filter.
    narrow = [edges for edges in (hump.edges_hz for hump in humps) if np.ptp(edges) < WIDEST_HZ]
    return notched, narrow


def _without_bands(cells: Cells, bands_hz: list[tuple[float, float]]) -> np.ndarray:
    """Bins of the cells outside some bands; all, if hardly any would be left."""
    outside = np.ones(cells.bins_hz.size, dtype=bool)
    for low_hz, high_hz in bands_hz:
        reach_hz = cells.bin_hz
        outside &= (cells.bins_hz < low_hz - reach_hz) | (cells.bins_hz > high_hz + reach_hz)
    enough = max(LEAST_BINS, round(LEAST_BINS_SHARE * outside.size))
    return outside if int(outside.sum()) >= enough else np.ones_like(outside)


def _stretch(line: Line, bin_hz: float) -> tuple[float, float]:
    reach_hz = LINE_BINS * bin_hz + 0.5 * max(line.over_floor_db, 0.0) / 10.0
    return line.frequency_hz.value - reach_hz, line.frequency_hz.value + reach_hz


def _blanked(
    ground: _Ground, notched: FloatArray, is_impulse: np.ndarray, cells: Cells
) -> FloatArray:
    """The recording without the moments of single impulses; lines run on through them.

    The noise that goes with them is made up for by its share of the time, in what is left.
    """
    if not is_impulse.any():
        return ground.samples
    n_hop = round(cells.hop_s * ground.sample_rate_hz)
    n_frame = round(cells.frame_s * ground.sample_rate_hz)
    inside = np.zeros(ground.samples.size, dtype=bool)
    middle = n_frame // 2 - n_hop // 2
    covered = np.repeat(is_impulse, n_hop)[: inside.size - middle]
    inside[middle : middle + covered.size] = covered
    kept_share = 1.0 - float(inside.mean())
    rest = np.where(inside, 0.0, notched) / math.sqrt(max(kept_share, 0.05))
    return ground.samples - notched + rest


def _broad(
    scenery: Scenery,
    curve: FloorCurve,
    narrow: Narrow,
    dense: tuple[Impulsive, Cells],
) -> Broad:
    """Floor and what moves above it, from the spectrum without its narrow and impulsive parts."""
    impulsive, cells = dense
    spectrum = scenery.spectrum
    fine = without_lines(spectrum, narrow.lines)
    edges = (np.arange(curve.densities.size + 1) - 0.5) * curve.bin_hz / spectrum.bin_hz
    place = np.clip(np.round(edges).astype(np.int64), 0, fine.size)
    sums = np.concatenate([[0.0], np.cumsum(fine)])
    densities = (sums[place[1:]] - sums[place[:-1]]) / np.maximum(np.diff(place), 1)
    if impulsive.dense_powers.any():
        impulses = np.interp(
            curve.frequencies_hz, cells.bins_hz, impulsive.dense_powers / cells.bin_hz
        )
        densities = np.maximum(densities - impulses, 0.1 * densities)
        lowered = np.minimum(curve.densities, densities)
        curve = FloorCurve(lowered, curve.bin_hz, curve.relative_error)
    # Speech is told from the floor by its pauses, over all of its band; where it never pauses,
    # it keeps to the band in which it stands out.
    spared = tuple(claim for claim in narrow.claims if claim.kind is not PartKind.SPEECH_LIKE)
    broad = _without_claims(curve, densities, scenery.passband_hz, narrow.lines, spared)
    if broad.moving_power > 0.0:
        return broad
    return _without_claims(curve, densities, scenery.passband_hz, narrow.lines, narrow.claims)


def _without_claims(
    curve: FloorCurve,
    densities: FloatArray,
    passband_hz: tuple[float, float],
    lines: tuple[Line, ...],
    claims: tuple[Claim, ...],
) -> Broad:
    left = densities.copy()
    for claim in claims:
        inside = np.abs(curve.frequencies_hz - sum(claim.band_hz) / 2.0) <= max(
            (claim.band_hz[1] - claim.band_hz[0]) / 2.0, curve.bin_hz
        )
        left[inside] = np.minimum(left[inside], claim.density)
    return measure_broad(curve, left, passband_hz, lines=lines, claims=claims)


def _floor_part(broad: Broad, ground: _Ground) -> Part:
    return Part(
        kind=PartKind.FLOOR,
        power=broad.floor_power,
        level_error_db=level_error_db(broad.floor_power, broad.floor_error),
        band_hz=ground.passband_hz,
        times=Times(0.0, ground.duration_s, 1.0),
        p_chance=0.0,
    )


def _rest_part(parts: list[Part], total: float, broad: Broad, ground: _Ground) -> Part:
    """What the others leave; nothing, if they hold more than there is."""
    power = max(total - sum(part.power for part in parts), 0.0)
    errors = [part.power * part.level_error_db / 4.343 for part in parts]
    error = math.hypot(*(error for error in errors if math.isfinite(error)))
    z_score = power / error if error > 0.0 else 0.0
    return Part(
        kind=PartKind.REST,
        power=power,
        level_error_db=level_error_db(power, error),
        band_hz=(0.0, ground.sample_rate_hz / 2.0),
        times=Times(0.0, ground.duration_s, 1.0),
        p_chance=0.5 * math.erfc(z_score / math.sqrt(2.0)),
    )


__all__ = ["BALANCED_SHARE", "list_parts"]
