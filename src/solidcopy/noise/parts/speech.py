"""What comes and goes over much of the passband: speech with all of its pieces, or a storm."""

from dataclasses import replace

from solidcopy.noise.parts.broadband import Broad, is_syllabic
from solidcopy.noise.parts.impulsive import Impulsive
from solidcopy.noise.parts.narrowband import Narrow
from solidcopy.noise.parts.part import Part, PartKind, Times, level_error_db
from solidcopy.noise.parts.scenery import Scenery

P_FALSE_MOVING = 1e-3
"""Bound for chance where broad power is found to move: five standard deviations and more."""
IMPULSES_IN_SPEECH = 0.3
"""Impulses that hold less than this of a speech-like signal's power are its sharp sounds."""


def with_speech(narrow: Narrow, impulsive: Impulsive, broad: Broad, scenery: Scenery) -> list[Part]:
    """Narrow and impulsive parts; what comes and goes over much of the band joins one of them."""
    speech = [part for part in narrow.parts if part.kind is PartKind.SPEECH_LIKE]
    parts = [part for part in narrow.parts if part.kind is not PartKind.SPEECH_LIKE]
    random = [part for part in impulsive.parts if part.kind is PartKind.RANDOM_IMPULSES]
    single = sum(part.power for part in random)
    parts += [part for part in impulsive.parts if part not in random]
    moving = broad.moving_power
    if not speech and single > moving:
        # Impulses too close together to be told one by one lie around those that can be.
        return parts + [_stronger(part, moving) for part in random]
    band_hz = speech[0].band_hz if speech else broad.moving_band_hz
    if not speech and (moving == 0.0 or not is_syllabic(scenery.transform, band_hz)):
        return parts + random
    power = moving if moving > 0.0 else sum(part.power for part in speech)
    if single < IMPULSES_IN_SPEECH * power:
        power, random = power + single, []
    within = [part for part in parts if _is_within(part, band_hz) and part.power < 0.15 * power]
    parts = [part for part in parts if part not in within]
    power += sum(part.power for part in within)
    ends = [part.band_hz for part in speech] + ([broad.moving_band_hz] if moving else [])
    joined = Part(
        kind=PartKind.SPEECH_LIKE,
        power=power,
        level_error_db=level_error_db(power, broad.floor_error),
        band_hz=(min(low for low, _ in ends), max(high for _, high in ends)),
        times=speech[0].times if speech else Times(0.0, scenery.transform.duration_s, 1.0),
        p_chance=min([part.p_chance for part in speech], default=P_FALSE_MOVING),
    )
    return [*parts, joined, *random]


def _is_within(part: Part, band_hz: tuple[float, float]) -> bool:
    """Whether it may be a piece of speech: no steady line, inside its band."""
    is_piece = part.kind in (PartKind.KEYED_LINE, PartKind.HUMP, PartKind.DATA_LIKE)
    return is_piece and band_hz[0] <= part.band_hz[0] and part.band_hz[1] <= band_hz[1]


def _stronger(part: Part, more: float) -> Part:
    """The same part with more power."""
    return replace(part, power=part.power + more)
