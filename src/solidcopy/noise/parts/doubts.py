"""What a recording does not say, because it is too narrow or too short."""

import math

from solidcopy.noise.features.figure import Figure
from solidcopy.noise.parts.part import Part, PartKind, PartsList

NARROW_HZ = 5000.0
"""In less, hum in the audio and pulses of a power line look the same."""
SUPPLY_HZ = (50.0, 60.0)
SUPPLY_TOLERANCE = 0.006
"""A network's frequency and a sound card's clock are off by less, together."""
SHORT_S = 20.0
SURE_ERRORS = 3.0
IMPULSIVE = (PartKind.PERIODIC_IMPULSES, PartKind.RANDOM_IMPULSES)
FAINT_SHARE = 10.0**-1.5
"""Of the power of all impulses: what comes and goes and holds less may be their ringing. Chosen
after a made fence's discharges had been taken for speech 17 dB below them; no source."""


def supply_hz(rhythm_hz: float, tolerance: float = SUPPLY_TOLERANCE) -> float | None:
    """The supply frequency that a rhythm is once or twice of; None: neither of them."""
    for supply in SUPPLY_HZ:
        for multiple in (1, 2):
            if abs(rhythm_hz - multiple * supply) < tolerance * multiple * supply:
                return supply
    return None


def doubts_of_part(part: Part, whole: PartsList) -> tuple[str, ...]:
    """Sentences on one part."""
    return _doubts_of_rhythm(part, whole) + _doubts_beside_impulses(part, whole)


def _doubts_beside_impulses(part: Part, whole: PartsList) -> tuple[str, ...]:
    if part.kind in (PartKind.SPEECH_LIKE, PartKind.HUMP):
        impulses = sum(other.power for other in whole.parts if other.kind in IMPULSIVE)
        if part.power < FAINT_SHARE * impulses:
            return (
                "Whether it is there at all: so far below the impulses it may be their ringing, or "
                "faint ones that were not told one by one.",
            )
    if _shares_its_period(part, whole):
        return (
            "Whether this is a source of its own: a stronger train has the same period, and one "
            "source may send several impulses in each.",
        )
    return ()


def _shares_its_period(part: Part, whole: PartsList) -> bool:
    """Whether a stronger train of impulses repeats as often, as far as both are known."""
    mine = part.rhythm_hz
    if part.kind is not PartKind.PERIODIC_IMPULSES or not isinstance(mine, Figure):
        return False
    for other in whole.parts:
        rhythm = other.rhythm_hz
        if other.kind is part.kind and other.power > part.power and isinstance(rhythm, Figure):
            error = math.hypot(mine.standard_error, rhythm.standard_error)
            if abs(mine.value - rhythm.value) < SURE_ERRORS * error:
                return True
    return False


def _doubts_of_rhythm(part: Part, whole: PartsList) -> tuple[str, ...]:
    doubts: list[str] = []
    width_hz = whole.passband_hz[1] - whole.passband_hz[0]
    rhythm = part.rhythm_hz
    if isinstance(rhythm, Figure):
        supply = supply_hz(rhythm.value)
        if part.kind is PartKind.COMB and supply is not None and width_hz < NARROW_HZ:
            doubts.append(
                f"Whether these lines are hum (harmonics of the {supply:g} Hz supply in the audio "
                "wiring) or pulses of a power line or a dimmer heard by radio: in "
                f"{width_hz / 1000.0:.2g} kHz both are lines {rhythm.value:.4g} Hz apart. Record "
                "with the antenna unplugged, or in 6 kHz or more."
            )
        is_wide = SURE_ERRORS * rhythm.standard_error > SUPPLY_TOLERANCE * rhythm.value
        if is_wide and 40.0 < rhythm.value < 130.0:
            doubts.append(
                "Whether it follows a supply of 50 or of 60 Hz: the recording is too short to "
                f"know its rhythm better than ±{SURE_ERRORS * rhythm.standard_error:.1g} Hz."
            )
        if supply is not None and part.kind is PartKind.PERIODIC_IMPULSES:
            doubts.append(
                "Whether the supply itself sets this rhythm: an engine or a motor can happen to "
                f"run at {rhythm.value:.1f} a second. What follows the supply keeps the rhythm for "
                "hours; a machine changes it with its load."
            )
    return tuple(doubts)


def doubts_of_whole(whole: PartsList) -> tuple[str, ...]:
    """Sentences on the recording."""
    width_hz = whole.passband_hz[1] - whole.passband_hz[0]
    doubts = [
        f"Impulses shorter than about {1000.0 / width_hz:.2g} ms, and more than about "
        f"{width_hz / 5.0:.0f} of them a second: in a passband of {width_hz:.0f} Hz they run into "
        "each other and look like Gaussian noise."
    ]
    if whole.duration_s < SHORT_S:
        doubts.append(
            f"Rhythms slower than {whole.duration_s / 5.0:.2g} s: six beats are needed, and the "
            f"recording lasts {whole.duration_s:.2g} s."
        )
    return tuple(doubts)
