"""The parts that take up some of the spectrum: lines, combs, humps and signals."""

from dataclasses import dataclass

import scipy.ndimage
import scipy.stats

from solidcopy.noise.features.figure import CannotTell
from solidcopy.noise.features.floor import FloorCurve
from solidcopy.noise.features.humps import (
    Hump,
    find_humps,
)
from solidcopy.noise.features.lines import Line, find_lines, find_surroundings
from solidcopy.noise.features.spectrum import Spectrum
from solidcopy.noise.parts.line_combs import FINE_COMB_HZ, comb_parts, with_wandering_teeth
from solidcopy.noise.parts.narrow import Manner, manner_of
from solidcopy.noise.parts.part import Part, PartKind, Times
from solidcopy.noise.parts.scenery import Scenery, line_power, whole_time

LINE_REACH_HZ = 20.0
"""Half the stretch about a line in which it is asked whether it is keyed."""
KEYED_MOMENT = 1.35
"""Fourth moment above which a line is keyed (steady: 1; half of the time on: 2)."""
KEYED_LINE_SHARE = 0.2
"""A hump about a line that holds so much of the power of both is the line's keying."""
KEYED_WIDTH_HZ = 600.0
MAX_WATCHED = 40
SIDEBANDS_HZ = 150.0
SIDEBAND_RATIO = 0.1
"""Lines so near a keyed one, and so much weaker, are its keying."""
STEADY_SHARE_ON = 0.9
DATA_MOMENT = 1.6
"""Fourth moment below which a band is one signal of nearly constant envelope."""
SPEECH_MOMENT = 3.0
SPEECH_WIDTH_HZ = 250.0
BROAD_SPEECH_HZ = 600.0
"""Beside a fast rhythm of impulses only so broad a band can be told to be speech."""
P_FALSE_PART = 1e-3
"""A line that chance shows more often is none."""
MIN_SIGNAL_TO_NOISE = 0.7
"""Weaker ones do not show what they are."""
CLUSTER_HZ = 60.0
CLUSTER_LINES = 3


@dataclass(frozen=True, slots=True)
class Claim:
    """A band in which all that is more than its surroundings belongs to a part."""

    kind: PartKind

    band_hz: tuple[float, float]
    density: float
    """Power per Hz that is left to the floor."""


@dataclass(frozen=True, slots=True, eq=False)
class Narrow:
    """Narrow parts, and where the spectrum belongs to them."""

    parts: tuple[Part, ...]
    lines: tuple[Line, ...]
    claims: tuple[Claim, ...]
    """What they take of the spectrum besides the lines."""


def narrow_parts(scenery: Scenery) -> Narrow:
    """Lines, combs, humps and signals of a recording."""
    around = find_surroundings(scenery.spectrum, scenery.passband_hz)
    lines = find_lines(scenery.spectrum, around, scenery.passband_hz)
    parts: list[Part] = []
    left = list(lines)
    for hump in humps_of(scenery.spectrum, lines, scenery.passband_hz):
        inner = [line for line in left if _is_in(line, hump)]
        part, taken = _hump_part(hump, inner, scenery)
        parts.append(part)
        left = [line for line in left if line not in taken]
        if part.kind is PartKind.KEYED_LINE:
            left = [line for line in left if not _is_sideband(line, part)]
    wide_combs, left = comb_parts(left, scenery, finest_hz=FINE_COMB_HZ)
    keyed, left = _keyed_lines(left, scenery)
    combs, left = comb_parts(left, scenery, finest_hz=0.0)
    combs = wide_combs + combs
    clusters, left = _clusters(left, scenery)
    parts += keyed + clusters
    claims = tuple(
        Claim(part.kind, part.band_hz, scenery.density_in(part.band_hz))
        for part in parts
        if part.kind is not PartKind.SPEECH_LIKE
    )
    left = [line for line in left if _p_line(line, scenery) < P_FALSE_PART]
    parts += [_steady_part(line, scenery) for line in left]
    combs, parts = with_wandering_teeth(combs, parts)
    parts += combs
    return Narrow(tuple(parts), lines, claims)


def _is_sideband(line: Line, part: Part) -> bool:
    """Whether a weak line belongs to the keying of a strong one."""
    away_hz = abs(line.frequency_hz.value - part.frequencies_hz[0])
    return away_hz < SIDEBANDS_HZ and line_power(line) < SIDEBAND_RATIO * part.power


def humps_of(
    spectrum: Spectrum, lines: tuple[Line, ...], passband_hz: tuple[float, float]
) -> tuple[Hump, ...]:
    """Everything wider than a line that stands out of the mean spectrum, keyed or not."""
    # Held against the mean itself, nothing is left out for being absent at weak moments.
    mean = FloorCurve(spectrum.densities, spectrum.bin_hz, 0.0)
    found = find_humps(spectrum, lines, mean, passband_hz)
    return () if isinstance(found, CannotTell) else found


def _is_in(line: Line, hump: Hump) -> bool:
    return hump.edges_hz[0] <= line.frequency_hz.value <= hump.edges_hz[1]


def _p_line(line: Line, scenery: Scenery) -> float:
    """Chance of such a line anywhere in the passband: the tail of a gamma distribution."""
    spectrum = scenery.spectrum
    place = min(round(line.frequency_hz.value / spectrum.bin_hz), spectrum.densities.size - 1)
    # A line in a hump is held against the hump.
    noise = max(float(scenery.base[place]), float(scenery.nearby[place]), 1e-300)
    ratio = float(spectrum.densities[place]) / noise
    n_bins = (scenery.passband_hz[1] - scenery.passband_hz[0]) / spectrum.bin_hz
    tail = scipy.stats.gamma.sf(scenery.n_averages * ratio, scenery.n_averages)
    return min(1.0, float(tail) * n_bins)


def _line_band(line: Line) -> tuple[float, float]:
    at_hz = line.frequency_hz.value
    return at_hz - LINE_REACH_HZ, at_hz + LINE_REACH_HZ


def _line_manner(line: Line, scenery: Scenery) -> Manner:
    return manner_of(scenery.transform, _line_band(line), scenery.density_in(_line_band(line)))


def _is_clear(manner: Manner) -> bool:
    return manner.signal_to_noise > 1.0 and manner.fourth_error < 0.3


def _keyed_lines(left: list[Line], scenery: Scenery) -> tuple[list[Part], list[Line]]:
    """Lines whose envelope is keyed, each with its sidebands; the strongest first."""
    parts: list[Part] = []
    ordered = sorted(left, key=lambda line: -line_power(line))
    for line in ordered[:MAX_WATCHED]:
        if line not in left:
            continue
        manner = _line_manner(line, scenery)
        if not _is_clear(manner) or (
            manner.fourth_moment < KEYED_MOMENT and manner.times.share_on > STEADY_SHARE_ON
        ):
            continue
        at_hz = line.frequency_hz.value
        sidebands = [
            other
            for other in left
            if abs(other.frequency_hz.value - at_hz) < SIDEBANDS_HZ
            and line_power(other) < SIDEBAND_RATIO * line_power(line)
        ]
        beyond = sum(
            line_power(other)
            for other in sidebands
            if abs(other.frequency_hz.value - at_hz) > LINE_REACH_HZ
        )
        left = [other for other in left if other is not line and other not in sidebands]
        parts.append(
            Part(
                kind=PartKind.KEYED_LINE,
                power=manner.signal_power + beyond,
                level_error_db=line.level_dbfs.standard_error,
                band_hz=_line_band(line),
                times=_keyed_times(manner),
                p_chance=_p_line(line, scenery),
                frequencies_hz=(at_hz,),
            )
        )
    return parts, left


def _steady_part(line: Line, scenery: Scenery) -> Part:
    """A line on its own that is not seen to be keyed."""
    at_hz = line.frequency_hz.value
    unsure: tuple[str, ...] = ()
    if not _is_clear(_line_manner(line, scenery)):
        unsure = (
            "Whether the line is keyed: it is too weak beside the noise in "
            f"{2.0 * LINE_REACH_HZ:g} Hz. If it is, its level is up to some 4 dB higher.",
        )
    return Part(
        kind=PartKind.STEADY_LINE,
        power=line_power(line),
        level_error_db=line.level_dbfs.standard_error,
        band_hz=(at_hz - 1.0, at_hz + 1.0),
        times=whole_time(scenery),
        p_chance=_p_line(line, scenery),
        frequencies_hz=(at_hz,),
        cannot_tell=unsure,
    )


def _keyed_times(manner: Manner) -> Times:
    """Keying faster than the blocks shows in the fourth moment: 1 / share of time on."""
    share = manner.times.share_on / min(max(manner.fourth_moment, 1.0), 20.0)
    return Times(manner.times.first_s, manner.times.last_s, share)


def _hump_part(hump: Hump, inner: list[Line], scenery: Scenery) -> tuple[Part, list[Line]]:
    """What a hump and the lines within it are together."""
    manner = manner_of(scenery.transform, hump.edges_hz, scenery.density_in(hump.edges_hz))
    width_hz = hump.edges_hz[1] - hump.edges_hz[0]
    strongest = max((line_power(line) for line in inner), default=0.0)
    kind, taken = _kind_of_hump(hump, manner, inner, strongest / max(manner.signal_power, 1e-30))
    if kind is PartKind.SPEECH_LIKE and scenery.is_beaten and width_hz < BROAD_SPEECH_HZ:
        kind = PartKind.HUMP
    power = manner.signal_power
    if not taken:
        power -= sum(line_power(line) for line in inner)
    frequencies: tuple[float, ...] = ()
    if kind is PartKind.KEYED_LINE:
        frequencies = (max(inner, key=line_power).frequency_hz.value,)
    relative = hump.level_dbfs.standard_error
    unsure: tuple[str, ...] = ()
    if manner.signal_to_noise < MIN_SIGNAL_TO_NOISE:
        unsure = ("Whether it is noise or a signal: it is too weak beside the floor.",)
    z_score = 4.343 / max(relative, 1e-9)
    part = Part(
        kind=kind,
        power=power,
        level_error_db=relative,
        band_hz=hump.edges_hz,
        times=_keyed_times(manner) if kind is PartKind.KEYED_LINE else manner.times,
        p_chance=min(1.0, float(scipy.stats.norm.sf(z_score)) * 3000.0 / max(width_hz, 1.0)),
        frequencies_hz=frequencies,
        cannot_tell=unsure,
    )
    return part, taken


def _kind_of_hump(
    hump: Hump, manner: Manner, inner: list[Line], strongest_share: float
) -> tuple[PartKind, list[Line]]:
    width_hz = hump.edges_hz[1] - hump.edges_hz[0]
    is_single = len(inner) > 0 and strongest_share > KEYED_LINE_SHARE
    moment = manner.fourth_moment
    if is_single and width_hz < KEYED_WIDTH_HZ and moment > KEYED_MOMENT - 0.15:
        return PartKind.KEYED_LINE, inner
    if manner.signal_to_noise < MIN_SIGNAL_TO_NOISE:
        return PartKind.HUMP, []
    if moment < DATA_MOMENT and not (is_single and strongest_share > 0.9):
        return PartKind.DATA_LIKE, inner
    if moment > SPEECH_MOMENT and width_hz > SPEECH_WIDTH_HZ:
        return PartKind.SPEECH_LIKE, []
    return PartKind.HUMP, []


def _clusters(left: list[Line], scenery: Scenery) -> tuple[list[Part], list[Line]]:
    """Lines so close together that they are the tones of one signal."""
    parts: list[Part] = []
    kept: list[Line] = []
    ordered = sorted(left, key=lambda line: line.frequency_hz.value)
    while ordered:
        first = ordered[0].frequency_hz.value
        near = [line for line in ordered if line.frequency_hz.value - first < CLUSTER_HZ]
        ordered = ordered[len(near) :]
        strongest = max(line_power(line) for line in near)
        if len(near) < CLUSTER_LINES or strongest > 0.7 * sum(line_power(line) for line in near):
            kept += near
            continue
        band_hz = (first - 10.0, near[-1].frequency_hz.value + 10.0)
        manner = manner_of(scenery.transform, band_hz, scenery.density_in(band_hz))
        power = max(manner.signal_power, sum(line_power(line) for line in near))
        parts.append(
            Part(
                kind=PartKind.DATA_LIKE,
                power=power,
                level_error_db=max(line.level_dbfs.standard_error for line in near),
                band_hz=band_hz,
                times=manner.times,
                p_chance=min(_p_line(line, scenery) for line in near),
                frequencies_hz=tuple(line.frequency_hz.value for line in near),
            )
        )
    return parts, kept
