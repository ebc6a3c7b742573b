"""Whether a line is there all the time, is switched on and off, or fades."""

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view

from solidcopy import units
from solidcopy.noise.features.figure import CannotTell, Figure, FloatArray
from solidcopy.noise.features.spectrum import HANN_NOISE_BINS
from solidcopy.signals.power import AnySamples

FRAMES_S = (0.02, 0.04, 0.16, 0.64)
"""Lengths of the frames tried, shortest first: the first that lifts the line out of the noise."""
MIN_SNR = 20.0
"""Power of a line over the noise of a frame, at the least."""
WATCHED_S = 120.0
"""So much of the recording is looked at, from its middle."""
STEADY_SCATTER = 0.1
"""A line whose power scatters by this share, beyond what noise does, is still steady."""
MAX_SCATTER = 1.6
"""Times the variance that noise explains: chance alone passes it about once in 1000 lines."""
MAX_SHARE_KEYED = 0.98
MAX_BETWEEN = 0.25
"""Share of frames neither on nor off beyond which a line fades rather than being switched."""
BATCH_FRAMES = 256


@dataclass(frozen=True, slots=True)
class Keying:
    """A line over time."""

    kind: Literal["steady", "keyed", "varying"]
    share_on: Figure
    """Of the time over half its full amplitude."""
    switchings_per_s: Figure
    """On or off, each counted."""
    level_on_dbfs: float
    """While on."""
    level_dbfs: float
    """Mean, pauses included, and of a keyed line its sidebands."""
    finest_s: float
    """What is shorter cannot be seen."""


@dataclass(frozen=True, slots=True)
class WatchedLine:
    """What must be known of a line to watch it."""

    frequency_hz: float
    power: float
    """Mean, pauses included."""
    noise_density: float
    """Around it, power per Hz."""


def watch_lines(
    samples: AnySamples, lines: list[WatchedLine], *, sample_rate_hz: float
) -> list[Keying | CannotTell]:
    """Keying of each line.

    Args:
        samples: (n_samples,) real; two minutes from the middle are used.
    """
    n_watched = min(samples.size, round(WATCHED_S * sample_rate_hz))
    begin = (samples.size - n_watched) // 2
    part = samples[begin : begin + n_watched]
    answers: list[Keying | CannotTell] = [
        CannotTell("the line is too weak to tell whether it is switched") for _ in lines
    ]
    left = list(range(len(lines)))
    for frame_s in FRAMES_S:
        noise_hz = HANN_NOISE_BINS / frame_s
        strong = [
            place
            for place in left
            if lines[place].power > MIN_SNR * lines[place].noise_density * noise_hz
        ]
        if strong and part.size / sample_rate_hz > 20.0 * frame_s:
            frequencies_hz = np.array([lines[place].frequency_hz for place in strong])
            powers = frame_powers(part, frequencies_hz, frame_s, sample_rate_hz)
            for place, line_powers in zip(strong, powers, strict=True):
                noise = lines[place].noise_density * noise_hz
                answers[place] = judge(line_powers, noise, frame_s)
        left = [place for place in left if place not in strong]
    return answers


def frame_powers(
    samples: AnySamples, frequencies_hz: FloatArray, frame_s: float, sample_rate_hz: float
) -> FloatArray:
    """Power at each frequency in half-overlapping Hann frames, (n_lines, n_frames).

    A line of amplitude 1 reads 0.5 wherever it lies between the bins.
    """
    n_frame = round(frame_s * sample_rate_hz) // 2 * 2
    window = 0.5 - 0.5 * np.cos(2.0 * math.pi * np.arange(n_frame) / n_frame)
    turns = np.exp(-2j * math.pi / sample_rate_hz * np.outer(np.arange(n_frame), frequencies_hz))
    kernel = window[:, None] * turns * (2.0 / window.sum())
    frames = sliding_window_view(samples, n_frame)[:: n_frame // 2]
    parts = [
        np.square(np.abs(frames[first : first + BATCH_FRAMES].astype(np.float64) @ kernel)) / 2.0
        for first in range(0, frames.shape[0], BATCH_FRAMES)
    ]
    return np.concatenate(parts).T


def judge(powers: FloatArray, noise: float, frame_s: float) -> Keying:
    """What a line's powers over time say.

    Args:
        powers: (n_frames,) of half-overlapping frames.
        noise: mean power of the noise alone in such a frame.
    """
    amplitudes = np.sqrt(powers)
    full = float(np.quantile(amplitudes, 0.9))
    is_on = amplitudes > 0.5 * full
    share = float(is_on.mean())
    n_switched = int(np.count_nonzero(np.diff(is_on.astype(np.int8))))
    watched_s = powers.size * frame_s / 2.0
    power = float(powers.mean()) - noise
    # Power of a steady line in Gaussian noise N scatters by N^2 + 2 P N (Rice, from memory).
    by_noise = noise**2 + 2.0 * power * noise + (STEADY_SCATTER * power) ** 2
    low = max(0.25 * full, 1.6 * math.sqrt(noise))
    between = float(np.mean((amplitudes > low) & (amplitudes < 0.6 * full)))
    kind: Literal["steady", "keyed", "varying"] = "varying"
    if float(powers.var()) < MAX_SCATTER * by_noise:
        kind = "steady"
    elif share < MAX_SHARE_KEYED and between < MAX_BETWEEN:
        kind = "keyed"
    # Stretches of one state are as many independent answers as there are switchings.
    n_stretches = max(n_switched / 2.0, 1.0)
    error = math.sqrt(share * (1.0 - share) / n_stretches)
    on_power = float(powers[is_on].mean()) - noise if is_on.any() else 0.0
    return Keying(
        kind=kind,
        share_on=Figure(share, error),
        switchings_per_s=Figure(n_switched / watched_s, math.sqrt(n_switched) / watched_s),
        level_dbfs=units.dbfs_from_power(max(power, 0.0)),
        level_on_dbfs=units.dbfs_from_power(max(on_power, 0.0)),
        finest_s=frame_s,
    )
