"""Whose each moment is: single impulses and the energy about them, shared among trains and none."""

import math
from dataclasses import dataclass

import numpy as np

from solidcopy.noise.features.figure import FloatArray
from solidcopy.noise.parts.cells import Cells
from solidcopy.noise.parts.cycles import Cycle
from solidcopy.noise.parts.impulses import Found

LEAST_FAR_SHARE = 0.1
"""Of the time, so much must be far behind every pulse to show what comes at any time."""
LEAST_FAR = 2
CROWD_ERRORS = 3.0
"""Impulses crowd about the pulses if there are so many more than come far behind them."""
LAST_ONES = 0.35
"""Fewer far behind the pulses than this share of what is close behind: the last of a cycle."""
LEAST_OF_TRAINS = 3e-3
"""Impulses without order beside a train that crackles hold so much of its power, or are its own."""


@dataclass(frozen=True, slots=True, eq=False)
class Shared:
    """Impulses told one by one, shared out."""

    cycles: tuple[Cycle, ...]
    powers: tuple[float, ...]
    """What each train adds to the mean power."""
    lengths_s: tuple[float, ...]
    """How long each train is heard in all."""
    is_train: np.ndarray
    """(n_frames,) frames that belong to a train."""
    others: np.ndarray
    """Places of the impulses that keep to no train's phases."""
    others_power: float
    """Of impulses without order at all times, those within the trains' cycles reckoned in."""


def share_out(cycles: tuple[Cycle, ...], found: Found, cells: Cells) -> Shared:
    """Give every frame to the train that is heard in it, and the rest to none.

    Source: derived here. What comes without order comes as often far behind the pulses as within
        their cycles, so it is counted there.
    """
    in_train = np.zeros(found.times_s.size, dtype=bool)
    pulses = []
    for cycle in cycles:
        in_train[cycle.train.members] = True
        pulses.append(np.isin(found.labels, cycle.train.members + 1))
    is_pulse = np.isin(found.labels, np.flatnonzero(in_train) + 1)
    heard = [cycle.heard_at(cells.centres_s) & ~is_pulse for cycle in cycles]
    is_train = is_pulse | np.any(heard, axis=0) if cycles else is_pulse
    excess = _excess(found, cells, is_train)
    raw = _split(pulses, heard, excess)
    others = np.flatnonzero(~in_train)
    outside, power = _without_order(cycles, found, cells, (others, is_pulse), sum(raw))
    # What is told outside of all cycles and is more than comes at any time belongs to the trains.
    is_within = np.isin(others, outside, invert=True)
    told = sum(raw) + float(found.energies[others[~is_within]].sum())
    scale = max(told - power, 0.0) / sum(raw) if sum(raw) > 0.0 else 1.0
    return Shared(
        cycles=cycles,
        powers=tuple(scale * one for one in raw),
        lengths_s=tuple(
            float((pulse | here).sum()) * cells.hop_s
            for pulse, here in zip(pulses, heard, strict=True)
        ),
        is_train=is_train,
        others=outside if power > 0.0 else outside[:0],
        others_power=power,
    )


def _excess(found: Found, cells: Cells, is_train: np.ndarray) -> FloatArray:
    """(n_frames,) what each frame adds to the mean power over that of the quiet ones."""
    powers = cells.powers.sum(axis=1, dtype=np.float64)
    is_quiet = ~(found.is_inside | is_train)
    quiet = float(powers[is_quiet].mean()) if is_quiet.any() else found.quiet_power
    return np.asarray((powers - quiet) / powers.size)


def _split(pulses: list[np.ndarray], heard: list[np.ndarray], excess: FloatArray) -> list[float]:
    """Excess of each train; where several are heard, by how loud each is where it is alone."""
    n_heard = np.sum(heard, axis=0) if heard else np.zeros(excess.size)
    loud = []
    for here in heard:
        alone = here & (n_heard == 1)
        loud.append(max(float(excess[alone].mean()), 0.0) if alone.any() else 0.0)
    weights = np.zeros(excess.size)
    for here, level in zip(heard, loud, strict=True):
        weights += here * max(level, 1e-30)
    shares = []
    for pulse, here, level in zip(pulses, heard, loud, strict=True):
        part = np.where(here, max(level, 1e-30) / np.maximum(weights, 1e-30), 0.0)
        shares.append(max(float((excess * part).sum() + excess[pulse].sum()), 0.0))
    return shares


def _without_order(
    cycles: tuple[Cycle, ...],
    found: Found,
    cells: Cells,
    left: tuple[np.ndarray, np.ndarray],
    trains_power: float,
) -> tuple[np.ndarray, float]:
    """Places of the impulses outside of all cycles, and the power of what comes at any time.

    Args:
        left: places of the impulses that are no pulses, and (n_frames,) the trains' pulses.
    """
    others, is_pulse = left
    if not cycles:
        return others, float(found.energies[others].sum())
    at_s = found.times_s[others]
    is_within = np.any([one.heard_at(at_s) for one in cycles], axis=0)
    is_far = ~np.any([one.may_be_at(at_s) for one in cycles], axis=0)
    heard = np.any([one.heard_at(cells.centres_s) for one in cycles], axis=0) & ~is_pulse
    far = ~np.any([one.may_be_at(cells.centres_s) for one in cycles], axis=0) & ~is_pulse
    n_free, n_far = int((~is_pulse).sum()), int(far.sum())
    if n_far < LEAST_FAR_SHARE * is_pulse.size:
        is_far, n_far = ~is_within, max(n_free - int(heard.sum()), 1)
    energy = max(float(found.energies[others[is_far]].sum()), 0.0)
    at_any_time = float(is_far.sum()) / n_far * n_free
    if others.size <= at_any_time + CROWD_ERRORS * math.sqrt(at_any_time + 1.0):
        n_outside = max(n_free - int(heard.sum()), 1)
        energy = max(float(found.energies[others[~is_within]].sum()), 0.0)
        return others[~is_within], energy * n_free / n_outside
    power = energy * n_free / n_far
    n_close, n_near = int((~is_within & ~is_far).sum()), n_free - int(heard.sum()) - n_far
    is_last = n_near > 0 and is_far.sum() < LAST_ONES * n_close * n_far / n_near
    if is_far.sum() < LEAST_FAR or is_last or power < LEAST_OF_TRAINS * trains_power:
        power = 0.0
    return others[~is_within], power
