"""The door: a recording in, the list of its parts out."""

import math
from dataclasses import replace

import numpy as np

from solidcopy.noise.features.figure import FloatArray
from solidcopy.noise.features.floor import FloorCurve
from solidcopy.noise.features.humps import without_lines
from solidcopy.noise.features.lines import Line
from solidcopy.noise.features.spectrum import measure_spectrum
from solidcopy.noise.parts.blanked import Quiet, blank, quiet_of, with_skirts
from solidcopy.noise.parts.broadband import Broad, measure_broad
from solidcopy.noise.parts.cells import Cells, cut_cells
from solidcopy.noise.parts.doubts import doubts_of_part, doubts_of_whole
from solidcopy.noise.parts.ground import Ground, ground_of, notched_of, without_bands
from solidcopy.noise.parts.impulsive import Impulsive, impulsive_parts
from solidcopy.noise.parts.narrow import transform_of
from solidcopy.noise.parts.narrowband import Claim, Narrow, narrow_parts
from solidcopy.noise.parts.part import Part, PartKind, PartsList, Times, level_error_db
from solidcopy.noise.parts.scenery import Scenery, scenery_of
from solidcopy.noise.parts.speech import with_speech
from solidcopy.signals.power import mean_power
from solidcopy.signals.waveform import Waveform

EDGE_S = 0.25
BALANCED_SHARE = 0.05
"""Powers of all parts add up to that of the recording within 5 % (0.2 dB)."""


def list_parts(waveform: Waveform) -> PartsList:
    """The parts of a recording, the strongest first, what is left unexplained last.

    Args:
        waveform: real, one channel, two seconds or longer.
    Returns: parts whose powers add up to that of the recording within 0.2 dB as a rule;
        `unbalanced_db` says how well.
    Raises: AudioFileError for a recording that is too short or silent.
    Source: derived here; docs/howto/what-is-this-noise.md says how and how well it works.
    """
    ground = ground_of(waveform)
    parts = _parts_of(ground)
    whole = PartsList(
        parts=tuple(sorted(parts, key=lambda part: (part.kind is PartKind.REST, -part.power))),
        total_power=mean_power(ground.samples),
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


def _parts_of(ground: Ground) -> list[Part]:
    """All parts, in no order: impulses first, then what is narrow, then what is left."""
    rate_hz = ground.sample_rate_hz
    notched, bands_hz = notched_of(ground)
    cells = cut_cells(notched, sample_rate_hz=rate_hz, band_hz=ground.inner_band_hz)
    impulsive = impulsive_parts(
        cells,
        ground.duration_s,
        is_asked=without_bands(cells, bands_hz),
        edge_s=0.0 if notched is ground.samples else EDGE_S,
    )
    blanked = blank(ground, notched, impulsive.sparse, cells)
    impulsive = with_skirts(impulsive, blanked, notched)
    scenery = scenery_of(
        measure_spectrum(blanked.made_up, sample_rate_hz=rate_hz, segment_s=ground.segment_s),
        transform_of(blanked.samples, sample_rate_hz=rate_hz, is_kept=blanked.is_kept),
        ground.passband_hz,
        is_beaten=bool(impulsive.dense_powers.any()),
    )
    narrow = narrow_parts(scenery)
    quiet = quiet_of(ground, blanked, impulsive, scenery.spectrum)
    broad = _broad(scenery, quiet, narrow, (impulsive, cells))
    parts = with_speech(narrow, impulsive, broad, scenery)
    parts.append(_floor_part(broad, ground))
    parts.append(_rest_part(parts, mean_power(ground.samples), broad, ground))
    return parts


def _broad(
    scenery: Scenery,
    quiet: Quiet,
    narrow: Narrow,
    dense: tuple[Impulsive, Cells],
) -> Broad:
    """Floor and what moves above it, from the spectrum without its narrow and impulsive parts."""
    impulsive, cells = dense
    spectrum, curve = quiet.spectrum, quiet.curve
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


def _floor_part(broad: Broad, ground: Ground) -> Part:
    return Part(
        kind=PartKind.FLOOR,
        power=broad.floor_power,
        level_error_db=level_error_db(broad.floor_power, broad.floor_error),
        band_hz=ground.passband_hz,
        times=Times(0.0, ground.duration_s, 1.0),
        p_chance=0.0,
    )


def _rest_part(parts: list[Part], total: float, broad: Broad, ground: Ground) -> Part:
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
