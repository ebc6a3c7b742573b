"""Periodic trains among impulses: several at once are told apart by their periods.

Times of impulses are a point process. A train of period P lifts its periodogram at 1 / P and the
multiples; the strongest is found, its impulses are taken out, and the search goes on: first over
the whole recording, then in stretches of it for trains whose period moves or that come and go
(`following`).
"""

import math
from dataclasses import dataclass

import numpy as np
import scipy.fft
import scipy.ndimage
import scipy.stats
from numpy.typing import NDArray

from solidcopy.noise.features.figure import Figure, FloatArray

LONGEST_PERIOD_S = 10.0
SHORTEST_PERIOD_S = 0.08
"""Faster rhythms are seen in the envelope's spectrum."""
MIN_PULSES = 6
P_FALSE_TRAIN = 1e-3
"""Chance that impulses at random times show a train."""
MAX_TRAINS = 8
MOVING = 0.6
"""Below this ratio of von Neumann's (see `Train.wander`) the period moves."""
N_HARMONICS = 4
BIN_S = 0.004
WIDEST_WINDOW = 0.125
"""An impulse belongs to a train if it comes within this share of a period of its due time."""
NARROWEST_WINDOW_S = 0.003
MIN_SHARE_SEEN = 0.3
EMPTY_SHARE = 0.45
"""Due times between every second, third or fifth that hold fewer impulses than this share of
those hold are taken for no part of the train."""
P_FALSE_MULTIPLE = 1e-3


@dataclass(frozen=True, slots=True)
class Train:
    """Impulses that come at even intervals."""

    period_s: Figure
    first_s: float
    """Due time of its first impulse in the recording."""
    jitter_s: Figure
    """Standard deviation of the impulses about their due times."""
    n_seen: int
    n_expected: int
    """Due times within the recording."""
    share_seen: Figure
    p_chance: float
    """Upper limit of the chance that impulses at random times would show such a train."""
    seen_s: tuple[float, float]
    """First and last impulse."""
    wander: float
    """1 if neighbouring impulses miss their due times independently; below about 0.6 the period
    moves (von Neumann's ratio, half the mean square of successive differences over the variance).
    """
    period_range_s: tuple[float, float]
    """Smallest and largest where it was followed through stretches; else the period twice."""


def trains_in(times_s: FloatArray, duration_s: float) -> tuple[list[Train], NDArray[np.bool_]]:
    """Trains that keep their period all along, and which impulses belong to none.

    Args:
        times_s: (n,) ascending, from 0 to `duration_s`.
    """
    is_left = np.ones(times_s.size, dtype=bool)
    found: list[Train] = []
    in_vain: list[float] = []
    while int(is_left.sum()) >= MIN_PULSES and len(found) + len(in_vain) < MAX_TRAINS:
        left = times_s[is_left]
        frequency_hz = strongest_rate(left, duration_s, tuple(in_vain))
        if frequency_hz is None:
            break
        train, is_member = fit_train(left, 1.0 / frequency_hz, duration_s)
        if train is None:
            in_vain.append(frequency_hz)
            continue
        found.append(train)
        is_left[np.flatnonzero(is_left)[is_member]] = False
    whole = [fit_train(times_s, train.period_s.value, duration_s, train)[0] for train in found]
    return [new or old for new, old in zip(whole, found, strict=True)], is_left


def strongest_rate(
    times_s: FloatArray, duration_s: float, in_vain: tuple[float, ...] = ()
) -> float | None:
    """Rate of the strongest train, in Hz; None if chance explains all there is.

    Args:
        in_vain: rates that were tried already.
    Source: derived here. |sum exp(2 pi i f t)|^2 / n of n random times is exponential with mean
        1; sums of four multiples follow a gamma distribution of shape 4. The background is
        measured, as impulses that come in clusters lift low rates.
    """
    n_bins = math.ceil(duration_s / BIN_S)
    n_padded = scipy.fft.next_fast_len(2 * n_bins, real=True)
    counts = np.bincount(np.minimum((times_s / BIN_S).astype(np.int64), n_bins - 1))
    transform = scipy.fft.rfft(counts.astype(np.float64), n_padded)
    powers = np.square(np.abs(transform)) / times_s.size
    step_hz = 1.0 / (n_padded * BIN_S)
    lowest = max(math.ceil(max(1.0 / LONGEST_PERIOD_S, MIN_PULSES / duration_s) / step_hz), 2)
    highest = math.floor(1.0 / SHORTEST_PERIOD_S / step_hz)
    powers = powers[: N_HARMONICS * (highest + 2) + 2]
    n_window = min(2001, powers.size // 2 * 2 - 1)
    background = scipy.ndimage.median_filter(powers[2:], n_window, mode="reflect") / math.log(2.0)
    powers[2:] /= np.maximum(background, 1.0)
    # A multiple may lie half a step beside a bin: take the better neighbour.
    places = np.arange(lowest, highest + 1)
    near = scipy.ndimage.maximum_filter1d(powers, 3)
    score = powers[places] + sum(near[h * places] for h in range(2, N_HARMONICS + 1))
    for tried_hz in in_vain:
        score[np.abs(places * step_hz - tried_hz) < 2.0 / duration_s] = 0.0
    best = int(places[score.argmax()])
    # The better of neighbours counts as three trials for each multiple.
    n_trials = places.size * 3.0 ** (N_HARMONICS - 1)
    if score.max() < float(scipy.stats.gamma.isf(P_FALSE_TRAIN / n_trials, N_HARMONICS)):
        return None
    return _fundamental(best, near, lowest) * step_hz


def _fundamental(best: int, near: FloatArray, lowest: int) -> float:
    """The lowest rate whose multiples, up to the found one, are all strong."""
    for divisor in (6, 5, 4, 3, 2):
        place = best / divisor
        if place < lowest:
            continue
        multiples = np.rint(place * np.arange(1, divisor)).astype(np.int64)
        if bool((near[multiples] > 0.4 * near[best]).all()):
            return place
    return float(best)


def fit_train(
    times_s: FloatArray, period_s: float, duration_s: float, known: Train | None = None
) -> tuple[Train | None, NDArray[np.bool_]]:
    """Fit due times to impulses, and say which belong to them.

    Args:
        period_s: good to about a fraction of period squared over duration.
        known: starts from this train instead.
    """
    first_s = known.first_s if known else 0.0
    window_s = WIDEST_WINDOW * period_s
    if known is None:
        period_s, first_s = _sharpened(times_s, period_s, duration_s)
    else:
        window_s = max(4.0 * known.jitter_s.value, NARROWEST_WINDOW_S)
    members = np.zeros(0, dtype=np.int64)
    residuals_s = np.zeros(0)
    numbers = np.zeros(0)
    for _ in range(6):
        members, numbers, residuals_s = _members(times_s, first_s, period_s, window_s)
        if members.size < MIN_PULSES or np.ptp(numbers) < MIN_PULSES - 1:
            return None, np.zeros(times_s.size, dtype=bool)
        slope, offset = np.polyfit(numbers, residuals_s, 1)
        first_s += float(offset)
        period_s += float(slope)
        residuals_s = residuals_s - offset - slope * numbers
        spread_s = max(
            float(np.median(np.abs(residuals_s))) / 0.6745, float(residuals_s.std()) / 2.0
        )
        window_s = min(max(4.0 * spread_s, NARROWEST_WINDOW_S), WIDEST_WINDOW * period_s)
    fitted = _slowest(_Fit(first_s, period_s, window_s, numbers, residuals_s, members))
    is_member = np.zeros(times_s.size, dtype=bool)
    is_member[fitted.places] = True
    return _judged(fitted, times_s.size, duration_s), is_member


@dataclass(frozen=True, slots=True, eq=False)
class _Fit:
    """Due times, and how the impulses lie about them."""

    first_s: float
    period_s: float
    window_s: float
    numbers: FloatArray
    residuals_s: FloatArray
    places: NDArray[np.int64]
    """Which of the impulses they are."""


def _slowest(fit: _Fit) -> _Fit:
    """The same train at a multiple of the period, if most of the due times between are empty.

    Another train may fill some of them, but evenly.
    """
    for multiple in (2, 3, 5):
        classes = np.mod(fit.numbers, multiple).astype(np.int64)
        counts = np.bincount(classes, minlength=multiple)
        common = int(counts.argmax())
        n_common, n_all = int(counts[common]), fit.numbers.size
        p_even = multiple * float(scipy.stats.binom.sf(n_common - 1, n_all, 1.0 / multiple))
        others = (n_all - n_common) / (multiple - 1)
        if p_even < P_FALSE_MULTIPLE and others < EMPTY_SHARE * n_common:
            is_kept = classes == common
            slower = _Fit(
                fit.first_s + common * fit.period_s,
                fit.period_s * multiple,
                fit.window_s,
                (fit.numbers[is_kept] - common) / multiple,
                fit.residuals_s[is_kept],
                fit.places[is_kept],
            )
            return _slowest(slower)
    return fit


def _sharpened(times_s: FloatArray, period_s: float, duration_s: float) -> tuple[float, float]:
    """The period near the given one, and the due time, at which most impulses agree."""
    rates_hz = 1.0 / period_s + np.linspace(-1.0, 1.0, 81) / duration_s
    multiples = np.arange(1, N_HARMONICS + 1)
    turns = np.exp(2j * math.pi * np.outer(rates_hz, times_s))
    sums = np.stack([(turns**multiple).sum(axis=1) for multiple in multiples])
    best = int(np.square(np.abs(sums)).sum(axis=0).argmax())
    period_s = 1.0 / float(rates_hz[best])
    phases = np.linspace(0.0, 1.0, 200, endpoint=False)
    agreement = (sums[:, best, None] * np.exp(-2j * math.pi * np.outer(multiples, phases))).real
    return period_s, float(phases[agreement.sum(axis=0).argmax()]) * period_s


def _members(
    times_s: FloatArray, first_s: float, period_s: float, window_s: float
) -> tuple[NDArray[np.int64], FloatArray, FloatArray]:
    """Impulses near due times, one for each: places, numbers of the due times, residuals."""
    numbers = np.rint((times_s - first_s) / period_s)
    residuals_s = times_s - first_s - period_s * numbers
    near = np.flatnonzero(np.abs(residuals_s) <= window_s)
    order = near[np.lexsort((np.abs(residuals_s[near]), numbers[near]))]
    _, firsts = np.unique(numbers[order], return_index=True)
    places = order[firsts]
    return places, numbers[places], residuals_s[places]


def _judged(fit: _Fit, n_impulses: int, duration_s: float) -> Train | None:
    """The train with its errors; None if chance might have made it, or half of it is missing."""
    earliest = math.ceil(-fit.first_s / fit.period_s)
    latest = math.floor((duration_s - fit.first_s) / fit.period_s)
    n_expected, n_seen = latest - earliest + 1, fit.numbers.size
    others_per_s = max(n_impulses - n_seen, 0) / duration_s
    p_filled = -math.expm1(-2.0 * fit.window_s * others_per_s) if others_per_s > 0.0 else 0.0
    p_filled = max(p_filled, 2.0 * fit.window_s * n_seen / duration_s)
    n_trials = duration_s / SHORTEST_PERIOD_S * fit.period_s / fit.window_s
    p_chance = n_trials * float(scipy.stats.binom.sf(n_seen - 1, n_expected, min(p_filled, 1.0)))
    share = min(n_seen / n_expected, 1.0)  # rounding at either end may add one
    if p_chance > P_FALSE_TRAIN or share < MIN_SHARE_SEEN:
        return None
    jitter_s = float(fit.residuals_s.std(ddof=2))
    steps_s = np.diff(fit.residuals_s)
    wander = float(np.square(steps_s).mean()) / 2.0 / jitter_s**2 if jitter_s > 0.0 else 1.0
    # Errors that follow each other count for less: (1 + r) / (1 - r), r their correlation.
    correlated = min(max(1.0 - wander, 0.0), 0.99)
    stretched = math.sqrt((1.0 + correlated) / (1.0 - correlated))
    # A period that moves at random is known no better than the mean of its single intervals.
    by_steps_s = math.sqrt(float(np.square(steps_s).mean()) / n_seen) if wander < MOVING else 0.0
    due_s = fit.first_s + fit.period_s * fit.numbers
    reach = math.sqrt(float(np.square(fit.numbers - fit.numbers.mean()).sum()))
    return Train(
        period_s=Figure(fit.period_s, max(jitter_s / reach * stretched, by_steps_s)),
        first_s=fit.first_s + earliest * fit.period_s,
        jitter_s=Figure(jitter_s, jitter_s / math.sqrt(2.0 * max(n_seen - 2, 1))),
        n_seen=n_seen,
        n_expected=n_expected,
        share_seen=Figure(share, math.sqrt(share * (1.0 - share) / n_expected)),
        p_chance=min(p_chance, 1.0),
        seen_s=(float(due_s.min()), float(due_s.max())),
        wander=wander,
        period_range_s=(fit.period_s, fit.period_s),
    )
