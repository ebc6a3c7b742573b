"""Added disturbances brought to their asked levels."""

import math
from collections import Counter

from solidcopy import units
from solidcopy.errors import CalibrationError
from solidcopy.impairments.catalogue import is_added
from solidcopy.impairments.impairment import Scene
from solidcopy.seeds import Chance, stream
from solidcopy.trials.condition import Condition
from solidcopy.trials.readings import Part


def added_parts(
    condition: Condition, scene: Scene, *, signal_power: float, chance: Chance
) -> tuple[Part, ...]:
    """All added disturbances at their asked levels, in an order of their own.

    Sums of several noises: each is scaled to the SNR that it states; their powers add, and an
    interference-to-noise ratio refers to that sum.
    """
    made: list[tuple[str, Part]] = []
    count: Counter[str] = Counter()
    for place, impairment in enumerate(condition.impairments):
        if not is_added(impairment):
            continue
        ordinal = count[impairment.kind]
        count[impairment.kind] += 1
        purpose = f"{impairment.kind}/{ordinal}"
        disturbance = impairment.synthesise(scene, stream(chance, purpose))
        name = impairment.kind if ordinal == 0 else f"{impairment.kind} {ordinal + 1}"
        made.append((purpose, Part(name, impairment.level(), disturbance, place)))
    noise_power = sum(
        _target_power(part, signal_power=signal_power, noise_power=0.0)
        for _, part in made
        if part.is_noise
    )
    # Sorted, so that the order in which a plan lists them cannot move a single bit.
    parts = tuple(part for _, part in sorted(made, key=lambda item: item[0]))
    for part in parts:
        _scale(part, _target_power(part, signal_power=signal_power, noise_power=noise_power))
    return parts


def _target_power(part: Part, *, signal_power: float, noise_power: float) -> float:
    """Expected power that a disturbance shall have, in the quantity that its level refers to."""
    level = part.level
    if level.quantity == "as_recorded":
        return part.disturbance.reference_power
    if level.quantity == "interference_to_noise":
        return noise_power * units.ratio_from_db(level.level_db)
    return signal_power / units.ratio_from_db(level.level_db)


def _scale(part: Part, target_power: float) -> None:
    disturbance = part.disturbance
    if disturbance.reference_power <= 0.0:
        raise CalibrationError(f"{part.name}: there is no power in it to bring to a level")
    samples = disturbance.samples
    samples *= math.sqrt(target_power / disturbance.reference_power)
