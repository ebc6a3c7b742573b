"""A recording without the moments of its impulses, and what is quiet in it."""

import math
from dataclasses import dataclass, replace

import numpy as np
import scipy.ndimage
from numpy.typing import NDArray

from solidcopy.noise.features.figure import FloatArray
from solidcopy.noise.features.floor import FloorCurve, measure_floor_curve
from solidcopy.noise.features.spectrum import Spectrum, measure_spectrum
from solidcopy.noise.parts.cells import Cells
from solidcopy.noise.parts.ground import Ground
from solidcopy.noise.parts.impulsive import Impulsive
from solidcopy.noise.parts.part import PartKind

LEAST_KEPT = 0.2
"""Of the time, so much must be free of impulses to hold them against it."""
MOST_SKIRTS = 1.1
"""The skirts of the passband hold no more than a tenth of what is within."""
AWAY_S = (0.2, 0.1, 0.05, 0.0)
AWAY_SHARE = 0.3
"""The floor is read so far from impulses as leaves so much of the time."""


@dataclass(frozen=True, slots=True, eq=False)
class Blanked:
    """A recording without its impulses; lines run on through the gaps."""

    lines: FloatArray
    """(n_samples,) what was cut out as lines."""
    rest: FloatArray
    """(n_samples,) all else; nothing where impulses were."""
    is_kept: NDArray[np.bool_]
    """(n_samples,)."""

    @property
    def samples(self) -> FloatArray:
        """(n_samples,) lines and the rest."""
        return self.lines + self.rest

    @property
    def made_up(self) -> FloatArray:
        """(n_samples,) the same, the rest raised by what it lost with the impulses."""
        return self.lines + self.rest / math.sqrt(max(float(self.is_kept.mean()), 0.05))

    def wider(self, away_s: float, sample_rate_hz: float) -> "Blanked":
        """The same with so much more taken out on both sides of every gap."""
        n_wide = 2 * round(away_s * sample_rate_hz) + 1
        near = scipy.ndimage.maximum_filter1d(~self.is_kept, n_wide, mode="nearest")
        return Blanked(self.lines, np.where(near, 0.0, self.rest), ~near)


@dataclass(frozen=True, slots=True, eq=False)
class Quiet:
    """What is there between the impulses."""

    curve: FloorCurve
    """Of the weakest moments."""
    spectrum: Spectrum
    """Mean of all moments that were read."""


def blank(ground: Ground, notched: FloatArray, is_impulse: np.ndarray, cells: Cells) -> Blanked:
    """The recording without the frames of impulses.

    Args:
        notched: (n_samples,) without lines.
        is_impulse: (n_frames,) of the cells.
    """
    n_hop = round(cells.hop_s * ground.sample_rate_hz)
    n_frame = round(cells.frame_s * ground.sample_rate_hz)
    inside = np.zeros(ground.samples.size, dtype=np.bool_)
    middle = n_frame // 2 - n_hop // 2
    covered = np.repeat(is_impulse, n_hop)[: inside.size - middle]
    inside[middle : middle + covered.size] = covered
    return Blanked(ground.samples - notched, np.where(inside, 0.0, notched), ~inside)


def with_skirts(impulsive: Impulsive, blanked: Blanked, notched: FloatArray) -> Impulsive:
    """Impulses with what they hold in the skirts of the passband, where frames are not compared."""
    kept_share = float(blanked.is_kept.mean())
    if kept_share == 1.0 or kept_share < LEAST_KEPT:
        return impulsive
    has_dense = bool(impulsive.dense_powers.any())
    sparse = [
        part
        for part in impulsive.parts
        if part.n_impulses is not None and not (has_dense and part.kind is PartKind.RANDOM_IMPULSES)
    ]
    powers = np.square(notched)
    quiet = float(powers[blanked.is_kept].mean())
    whole = float(powers.mean()) - quiet
    told = sum(part.power for part in sparse)
    ratio = min(max(whole / told, 1.0), MOST_SKIRTS) if told > 0.0 else 1.0
    parts = tuple(
        replace(part, power=ratio * part.power) if part in sparse else part
        for part in impulsive.parts
    )
    return replace(impulsive, parts=parts)


def quiet_of(ground: Ground, blanked: Blanked, impulsive: Impulsive, spectrum: Spectrum) -> Quiet:
    """Floor and mean spectrum between impulses: beside trains, of the moments well away from them,
    since faint ones crowd about those that are told, and filters ring on.

    Impulses without order leave no such moments. What was cut out of a frame, which reads low, then
    about makes up for faint impulses that were not (tried on made static, no theory).

    Args:
        spectrum: of all moments without impulses; it is kept where no train is.
    """
    rate_hz = ground.sample_rate_hz
    has_train = any(
        part.kind is PartKind.PERIODIC_IMPULSES and part.n_impulses is not None
        for part in impulsive.parts
    )
    for away_s in AWAY_S if has_train else ():
        left = blanked.wider(away_s, rate_hz)
        if left.is_kept.mean() < AWAY_SHARE and away_s > 0.0:
            continue
        curve = measure_floor_curve(left.samples, sample_rate_hz=rate_hz, is_kept=left.is_kept)
        if isinstance(curve, FloorCurve):
            mean = measure_spectrum(
                left.made_up, sample_rate_hz=rate_hz, segment_s=ground.segment_s
            )
            return Quiet(curve, mean)
    curve = measure_floor_curve(blanked.made_up, sample_rate_hz=rate_hz)
    assert isinstance(curve, FloorCurve)  # the same length has given one before
    return Quiet(curve, spectrum)
