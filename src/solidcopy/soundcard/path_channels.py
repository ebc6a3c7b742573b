"""Which of the output's channels reach the input, by the ticks that are played on one side only."""

from dataclasses import dataclass

import numpy as np
import scipy.signal

from solidcopy.noise.features.figure import CannotTell
from solidcopy.signals.resample import resampled
from solidcopy.signals.waveform import Samples
from solidcopy.soundcard.path_pieces import Heard
from solidcopy.soundcard.path_sequence import SEQUENCE_HZ, Piece, made, sequence
from solidcopy.soundcard.path_track import Arrival

MIN_DIFFERENCE = 10.0
NORMAL_MEDIAN = 0.6745
"""Median of the magnitude of a normal variable over its sigma."""
MOST_SPREAD = 0.05
MIN_RATIO = 6.0
"""A side is heard if its tick stands so far over what chance correlates with it."""


@dataclass(frozen=True, slots=True)
class Sides:
    """Gain of a side over that of both together; 0: not heard."""

    left: float
    right: float
    error: float


def measure_sides(heard: Heard, arrivals: tuple[Arrival, ...]) -> Sides | CannotTell:
    """Compare the ticks of one side with those of both.

    A tick of one side is laid on the mean of what was heard of both sides' ticks, so that response
    and echo of the path drop out.
    """
    both = [heard.cut(place) for place in sequence().all_of(Piece.TICK)]
    template = np.mean(both, axis=0)
    energy = float(template @ template)
    if not arrivals or energy == 0.0:
        return CannotTell("no tick was heard")
    spread = float(np.std([tick @ template / energy for tick in both], ddof=1))
    gains = []
    for piece in (Piece.LEFT, Piece.RIGHT):
        ticks = [heard.cut(p) for p in sequence().all_of(piece)]
        # Sound cards swallow what comes first: the later of the two counts.
        gains.append(float(ticks[-1] @ template / energy))
    floor = max(spread, 1e-4)
    if spread > MOST_SPREAD:
        return CannotTell("the ticks differ among themselves")
    gains = [gain if abs(gain) > MIN_RATIO * floor else 0.0 for gain in gains]
    return Sides(gains[0], gains[1], floor)


def hears_difference(heard: Samples, sample_rate_hz: float) -> bool:
    """Whether left and right are heard with opposite signs, so that both together are nothing.

    The ticks of one side follow each other at a known distance; one is then the other turned over.
    """
    samples = resampled(heard, from_hz=sample_rate_hz, to_hz=SEQUENCE_HZ)
    left, right = sequence().all_of(Piece.LEFT)[-1], sequence().all_of(Piece.RIGHT)[-1]
    n_apart = right.start - left.start
    if samples.size <= left.n_samples + n_apart:
        return False
    course = scipy.signal.correlate(samples, made(Piece.TICK), mode="valid", method="fft")
    first, second = course[:-n_apart], course[n_apart:]
    balance = np.abs(first - second)
    top = int(np.argmax(balance))
    noise = float(np.median(np.abs(course))) / NORMAL_MEDIAN
    pair = float(first[top]), float(second[top])
    is_turned = pair[0] * pair[1] < 0.0 and abs(sum(pair)) < 0.2 * abs(pair[0] - pair[1])
    return is_turned and abs(pair[0] - pair[1]) > MIN_DIFFERENCE * max(noise, 1e-9)
