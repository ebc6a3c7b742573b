"""Combs of lines as parts: wandering and interleaved ones put together."""

import math
from dataclasses import replace
from itertools import pairwise

import numpy as np

from solidcopy.noise.features.combs import Comb, find_combs
from solidcopy.noise.features.figure import CannotTell, Figure
from solidcopy.noise.features.lines import Line
from solidcopy.noise.parts.part import Part, PartKind
from solidcopy.noise.parts.scenery import Scenery, line_power, whole_time

OUTER_REACH = 0.2
"""Of the spacing: a tooth that wanders stands so far from its place."""
OUTER_RATIO = 2.0
"""Such a tooth is no louder than so many times the mean of the others."""
SAME_SPACING = 3e-3
FINE_COMB_HZ = 30.0
"""Finer combs are the keying of one signal."""


def comb_parts(
    left: list[Line], scenery: Scenery, *, finest_hz: float
) -> tuple[list[Part], list[Line]]:
    """Combs no finer than stated; keying makes finer ones, and is looked at in between."""
    found = find_combs(tuple(left), scenery.passband_hz, scenery.spectrum.bin_hz)
    if isinstance(found, CannotTell):
        return [], left
    combs = [comb for comb in found if comb.spacing_hz.value > finest_hz]
    parts: list[Part] = []
    taken: set[int] = set()
    for comb in _interleaved(combs):
        members = [place for place in _teeth(comb, left) if place not in taken]
        if len(members) < 4:
            continue
        taken.update(members)
        parts.append(_comb_part(comb, [left[place] for place in members], scenery))
    return parts, [line for place, line in enumerate(left) if place not in taken]


def _interleaved(combs: list[Comb]) -> list[Comb]:
    """Two combs of one spacing, half of it apart, are one of half the spacing.

    Slow wander moves the higher lines off the even places that the search goes by.
    """
    joined: list[Comb] = []
    for comb in combs:
        twin = next((other for other in joined if _is_twin(comb, other)), None)
        if twin is None:
            joined.append(comb)
            continue
        half = Figure(twin.spacing_hz.value / 2.0, twin.spacing_hz.standard_error / 2.0)
        apart_hz = abs(twin.offset_hz.value) % half.value
        signed_hz = apart_hz if apart_hz < half.value / 2.0 else apart_hz - half.value
        joined[joined.index(twin)] = replace(
            twin,
            spacing_hz=half,
            offset_hz=replace(
                twin.offset_hz, value=math.copysign(1.0, twin.offset_hz.value) * signed_hz
            ),
            lines=tuple(sorted({*twin.lines, *comb.lines})),
        )
    return joined


def _is_twin(comb: Comb, other: Comb) -> bool:
    spacing_hz = other.spacing_hz.value
    if abs(comb.spacing_hz.value / spacing_hz - 1.0) > SAME_SPACING:
        return False
    apart = abs(comb.offset_hz.value - other.offset_hz.value) / spacing_hz % 1.0
    return abs(apart - 0.5) < 0.03


def _teeth(comb: Comb, lines: list[Line]) -> list[int]:
    """Lines of a comb, those included that its slow wander has moved off their places."""
    spacing_hz, offset_hz = comb.spacing_hz.value, comb.offset_hz.value
    places = []
    for place, line in enumerate(lines):
        at_hz = line.frequency_hz.value
        number = round((at_hz - offset_hz) / spacing_hz)
        away_hz = abs(at_hz - offset_hz - number * spacing_hz)
        if place in comb.lines or away_hz < min(1.0 + 5e-4 * at_hz, 0.05 * spacing_hz):
            places.append(place)
    return places


def _comb_part(comb: Comb, lines: list[Line], scenery: Scenery) -> Part:
    powers = [line_power(line) for line in lines]
    errors = [
        power * line.level_dbfs.standard_error for power, line in zip(powers, lines, strict=True)
    ]
    frequencies = tuple(line.frequency_hz.value for line in lines)
    spacing = comb.spacing_hz
    kind = PartKind.COMB
    band_hz = (min(frequencies) - 1.0, max(frequencies) + 1.0)
    if spacing.value < FINE_COMB_HZ:
        kind = PartKind.DATA_LIKE
    return Part(
        kind=kind,
        power=sum(powers),
        level_error_db=math.hypot(*errors) / sum(powers),
        band_hz=band_hz,
        times=whole_time(scenery),
        p_chance=comb.p_chance,
        rhythm_hz=Figure(spacing.value, spacing.standard_error),
        frequencies_hz=frequencies,
    )


def with_wandering_teeth(combs: list[Part], others: list[Part]) -> tuple[list[Part], list[Part]]:
    """Combs with the teeth that wander too much to be lines, and what is left of the others.

    A tooth's wander grows with its number, until it looks like a narrow signal or a hump.
    """
    grown = []
    for comb in combs:
        whole, rest = comb, others
        while (tooth := _next_tooth(whole, rest)) is not None:
            rest = [part for part in rest if part is not tooth]
            whole = _grown(whole, tooth)
        grown.append(whole)
        others = rest
    return grown, others


def _next_tooth(comb: Part, others: list[Part]) -> Part | None:
    """A narrow part just where the next tooth to either side is due, and no louder."""
    if comb.kind is not PartKind.COMB or not isinstance(comb.rhythm_hz, Figure):
        return None
    spacing_hz = comb.rhythm_hz.value
    teeth_hz = sorted(comb.frequencies_hz)
    loudest = OUTER_RATIO * comb.power / len(teeth_hz)
    for due_hz in _missing(teeth_hz, spacing_hz):
        for part in others:
            is_near = abs(_middle_hz(part) - due_hz) < OUTER_REACH * spacing_hz
            is_narrow = bool(part.frequencies_hz) or np.ptp(part.band_hz) < spacing_hz
            if is_near and is_narrow and part.power < loudest:
                return part
    return None


def _missing(teeth_hz: list[float], spacing_hz: float) -> list[float]:
    """Where a tooth is due and none is: in the gaps, and next beyond both ends."""
    due_hz = [teeth_hz[-1] + spacing_hz, teeth_hz[0] - spacing_hz]
    for low_hz, high_hz in pairwise(teeth_hz):
        n_steps = round((high_hz - low_hz) / spacing_hz)
        step_hz = (high_hz - low_hz) / max(n_steps, 1)
        due_hz += [low_hz + step_hz * step for step in range(1, n_steps)]
    return due_hz


def _middle_hz(part: Part) -> float:
    """Of a line its frequency, of a cluster their mean, of a band its middle."""
    if part.frequencies_hz:
        return sum(part.frequencies_hz) / len(part.frequencies_hz)
    return sum(part.band_hz) / 2.0


def _grown(comb: Part, tooth: Part) -> Part:
    return replace(
        comb,
        power=comb.power + tooth.power,
        band_hz=(min(comb.band_hz[0], tooth.band_hz[0]), max(comb.band_hz[1], tooth.band_hz[1])),
        frequencies_hz=tuple(sorted((*comb.frequencies_hz, _middle_hz(tooth)))),
    )
