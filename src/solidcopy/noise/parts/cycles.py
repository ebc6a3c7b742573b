"""What a train of impulses does in each of its periods besides its pulse.

One source may send several impulses in every period: a second pulse, discharges that die away, the
ring of a filter. All of it keeps to the same phases, period after period, and belongs to the train;
what comes at other times, or at any time alike, does not.
"""

import math
from dataclasses import dataclass

import numpy as np
import scipy.stats

from solidcopy.noise.features.figure import FloatArray
from solidcopy.noise.parts.beats import Beat, fold
from solidcopy.noise.parts.cells import Cells
from solidcopy.noise.parts.trains import Train

BIN_S = 0.01
LEAST_BINS = 24
WIDEST_SHARE = 0.125
"""Of a period, so much is averaged at most where impulses have become rare."""
P_FALSE_PHASE = 1e-5
"""Chance that a phase of noise alone is taken for one at which the train is heard."""
LEAST_EXCESS = 0.03
"""Over the quiet phases, relative; less may be what the noise itself does."""
MOST_HEARD = 0.6
"""A train heard for more of the time than this leaves no quiet to hold it against."""
MOST_LAYERS = 12
BIN_CAP = 6.0
"""Powers of single stretches of spectrum count up to so many times their median."""
QUIET_QUANTILES = (0.1, 0.3)
"""Of the phases, which are known to be quiet."""
TAIL_SHARE = 0.5
"""Of a pause that follows, the first half may hold the last impulses of what came before."""


@dataclass(frozen=True, slots=True, eq=False)
class Cycle:
    """The phases at which one train is heard."""

    train: Train
    is_heard: np.ndarray
    """(n_phases,) the first begins at the pulse's due time."""

    @property
    def share(self) -> float:
        """Of the time."""
        return float(self.is_heard.mean())

    def heard_at(self, times_s: FloatArray) -> np.ndarray:
        """(n,) whether the train is heard at each of some times."""
        return np.asarray(self.is_heard[self._places(times_s)])

    def may_be_at(self, times_s: FloatArray) -> np.ndarray:
        """(n,) the same, with the first half of each pause, where last impulses may stray."""
        heard = self.is_heard
        if heard.all() or not heard.any():
            return self.heard_at(times_s)
        # Places since the train was last heard, and how long that pause is.
        place = np.arange(2 * heard.size)
        last = np.maximum.accumulate(np.where(np.tile(heard, 2), place, -1))[heard.size :]
        following = np.where(np.tile(heard, 2), place, 2 * place.size)
        first = np.minimum.accumulate(following[::-1])[::-1][: heard.size] + heard.size
        since = place[heard.size :] - last
        wide = heard | (since <= TAIL_SHARE * (first - last - 1))
        return np.asarray(wide[self._places(times_s)])

    def _places(self, times_s: FloatArray) -> np.ndarray:
        phases = ((times_s - self.train.start_s) / self.train.period_s.value) % 1.0
        return np.minimum((phases * self.is_heard.size).astype(np.int64), self.is_heard.size - 1)


def layers_of(rise: FloatArray, cells: Cells, *, cap: float) -> tuple[FloatArray, ...]:
    """What is folded, (n_frames,) each and 1 in the median: the rise, and the power in single
    stretches of spectrum, where a ring goes on when the whole band has fallen silent.

    Args:
        cap: of the rise; no single impulse counts for much.
    """
    layers = [np.minimum(rise, cap)]
    n_layers = min(MOST_LAYERS, cells.bins_hz.size)
    for bins in np.array_split(cells.powers, n_layers, axis=1):
        powers = bins.sum(axis=1, dtype=np.float64)
        layers.append(np.minimum(powers / max(float(np.median(powers)), 1e-300), BIN_CAP))
    return tuple(layers)


def cycle_of(
    train: Train, layers: tuple[FloatArray, ...], centres_s: FloatArray, is_free: np.ndarray
) -> Cycle:
    """Fold by a train's period and see at which phases there is more, period after period.

    Args:
        layers: of `layers_of`; the first counts most.
        is_free: (n_frames,) frames that no other train holds.
    Source: derived here. At each phase the mean over the periods is held against that of the quiet
        phases by Student's t; where single phases do not show it, wider stretches of them do.
    """
    turns = (centres_s[is_free] - train.start_s) / train.period_s.value
    heard = _heard(train, layers[0][is_free], turns)
    for layer in layers[1:]:
        wider = heard | _heard(train, layer[is_free], turns)
        heard = wider if float(wider.mean()) <= MOST_HEARD else heard
    return Cycle(train, heard)


def _heard(train: Train, values: FloatArray, turns: FloatArray) -> np.ndarray:
    """(n_phases,) at which values are up, and as far beside these as pulses stray."""
    sums, counts = _folded(train, values, turns)
    n_bins = sums.shape[1]
    means = sums.sum(axis=0) / np.maximum(counts.sum(axis=0), 1.0)
    low, high = np.quantile(means, QUIET_QUANTILES)
    below, above = (float(scipy.stats.norm.ppf(share)) for share in QUIET_QUANTILES)
    scatter = float(high - low) / (above - below)
    quiet = float(high) - above * scatter
    is_heard = np.zeros(n_bins, dtype=bool)
    width = 1
    while width <= max(1.0, WIDEST_SHARE * n_bins):
        is_heard |= _raised(sums, counts, is_heard, width=width, quiet=(quiet, scatter))
        width *= 2
    n_beside = math.ceil(train.reach_s / train.period_s.value * n_bins)
    wide = np.convolve(np.tile(is_heard, 3), np.ones(2 * n_beside + 1), mode="same") > 0.5
    is_heard = wide[n_bins : 2 * n_bins]
    return is_heard if float(is_heard.mean()) <= MOST_HEARD else np.zeros(n_bins, dtype=bool)


def without_beats(
    layers: tuple[FloatArray, ...], beats: list[Beat], centres_s: FloatArray
) -> tuple[FloatArray, ...]:
    """Layers less what fast rhythms do on average: one that happens to fit into a train's period
    a whole number of times would be heard at the same phases each time."""
    left = layers
    for beat in beats:
        profiles = [fold(layer, centres_s, beat.rhythm_hz.value) for layer in left]
        left = tuple(
            layer - profile.at(profile.phases) + profile.mean
            for layer, profile in zip(left, profiles, strict=True)
        )
    return left


def _folded(train: Train, values: FloatArray, turns: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Sums and numbers of values at each phase of each period, (n_periods, n_bins) both."""
    n_bins = max(LEAST_BINS, round(train.period_s.value / BIN_S))
    number = np.floor(turns).astype(np.int64)
    place = np.minimum(((turns - number) * n_bins).astype(np.int64), n_bins - 1)
    number -= number.min()
    cell = number * n_bins + place
    size = (int(number.max()) + 1) * n_bins
    sums = np.bincount(cell, weights=values, minlength=size).reshape(-1, n_bins)
    counts = np.bincount(cell, minlength=size).reshape(-1, n_bins)
    return np.asarray(sums, np.float64), np.asarray(counts, np.float64)


def _raised(
    sums: FloatArray,
    counts: FloatArray,
    is_known: np.ndarray,
    *,
    width: int,
    quiet: tuple[float, float],
) -> np.ndarray:
    """(n_bins,) phases of every stretch of `width` that stands up without those known already."""
    values = np.where(is_known, 0.0, sums)
    numbers = np.where(is_known, 0.0, counts)
    if width > 1:
        values, numbers = (_stretches(one, width) for one in (values, numbers))
    has = numbers > 0.0
    n_periods = has.sum(axis=0)
    means = np.where(has, values / np.maximum(numbers, 1.0), 0.0)
    mean = means.sum(axis=0) / np.maximum(n_periods, 1)
    squares = np.where(has, np.square(means - mean), 0.0).sum(axis=0)
    error = np.sqrt(squares / np.maximum(n_periods - 1, 1) / np.maximum(n_periods, 1))
    error = np.hypot(error, quiet[1] / math.sqrt(width))
    bound = scipy.stats.t.isf(P_FALSE_PHASE, np.maximum(n_periods - 1, 1))
    excess = mean - quiet[0]
    is_up = (n_periods > 2) & (excess > bound * error) & (excess > LEAST_EXCESS * quiet[0])
    if width == 1:
        return np.asarray(is_up)
    spread = np.zeros_like(is_up)
    for shift in range(width):
        spread |= np.roll(is_up, shift)
    return np.asarray(spread & ~is_known)


def _stretches(values: FloatArray, width: int) -> FloatArray:
    """Sums of `width` neighbours, from each place on and round the end, (n_periods, n_bins)."""
    wrapped = np.concatenate([values, values[:, : width - 1]], axis=1)
    total = np.concatenate([np.zeros((values.shape[0], 1)), np.cumsum(wrapped, axis=1)], axis=1)
    return np.asarray(total[:, width:] - total[:, :-width])


def share_of_periods(
    train: Train, others_s: FloatArray, at_s: FloatArray, *, reach_s: float, duration_s: float
) -> FloatArray:
    """(n,) at the phase of each of some times: in how many of a train's periods another impulse
    stands within reach, as a share.

    Args:
        others_s: times of the impulses that are none of the train's pulses.
    """
    period_s = train.period_s.value
    turns = (others_s - train.start_s) / period_s
    phases_s = (turns % 1.0) * period_s
    numbers = np.floor(turns)
    order = np.argsort(phases_s)
    phases_s, numbers = phases_s[order], numbers[order]
    # A phase near either end of the period has neighbours beyond it.
    round_s = np.concatenate([phases_s - period_s, phases_s, phases_s + period_s])
    numbers = np.concatenate([numbers - 1.0, numbers, numbers + 1.0])
    asked_s = ((at_s - train.start_s) / period_s % 1.0) * period_s
    first = np.searchsorted(round_s, asked_s - reach_s)
    last = np.searchsorted(round_s, asked_s + reach_s)
    held = [np.unique(numbers[low:high]).size for low, high in zip(first, last, strict=True)]
    return np.asarray(held) / max(duration_s / period_s, 1.0)
