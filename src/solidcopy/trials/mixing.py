"""Added disturbances brought to their asked levels."""

import math
from collections import Counter

import numpy as np

from solidcopy import units
from solidcopy.errors import CalibrationError
from solidcopy.impairments.impairment import Added, Disturbance, Scene
from solidcopy.impairments.level import Level
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
    made: list[tuple[str, Level, Disturbance]] = []
    count: Counter[str] = Counter()
    for impairment in condition.added():
        purpose = f"{impairment.kind}/{count[impairment.kind]}"
        count[impairment.kind] += 1
        made.append((purpose, *_synthesised(impairment, scene, stream(chance, purpose))))
    noise_power = sum(
        _target_power(level, disturbance, signal_power=signal_power, noise_power=0.0)
        for _, level, disturbance in made
        if level.quantity in ("snr", "as_recorded")
    )
    # Sorted, so that the order in which a plan lists them cannot move a single bit.
    return tuple(
        _scaled(purpose, level, disturbance, signal_power=signal_power, noise_power=noise_power)
        for purpose, level, disturbance in sorted(made, key=lambda item: item[0])
    )


def _synthesised(
    impairment: Added, scene: Scene, generator: np.random.Generator
) -> tuple[Level, Disturbance]:
    return impairment.level(), impairment.synthesise(scene, generator)


def _target_power(
    level: Level, disturbance: Disturbance, *, signal_power: float, noise_power: float
) -> float:
    """Expected power that a disturbance shall have, in the quantity that its level refers to."""
    if level.quantity == "as_recorded":
        return disturbance.reference_power
    if level.quantity == "interference_to_noise":
        return noise_power * units.ratio_from_db(level.level_db)
    return signal_power / units.ratio_from_db(level.level_db)


def _scaled(
    purpose: str, level: Level, disturbance: Disturbance, *, signal_power: float, noise_power: float
) -> Part:
    target = _target_power(level, disturbance, signal_power=signal_power, noise_power=noise_power)
    if disturbance.reference_power <= 0.0:
        raise CalibrationError(f"{purpose}: there is no power in it to bring to a level")
    samples = disturbance.samples
    samples *= math.sqrt(target / disturbance.reference_power)
    kind, ordinal = purpose.split("/")
    return Part(kind if ordinal == "0" else f"{kind} {int(ordinal) + 1}", level, disturbance)
