"""Timing along the test sequence: rate error, and where sound was lost or came twice."""

import math
from dataclasses import dataclass

import numpy as np
import scipy.fft
import scipy.signal
from numpy.typing import NDArray

from solidcopy.kernels.off_grid import off_grid
from solidcopy.noise.features.figure import CannotTell, Figure, Reading
from solidcopy.signals.waveform import Samples
from solidcopy.soundcard.path_find import MARGIN_S
from solidcopy.soundcard.path_sequence import (
    CHIRP_HZ,
    SEQUENCE_HZ,
    TICK_HZ,
    Piece,
    Place,
    made,
    sequence,
)

SEARCH_S = 0.17
"""So far before and after its expected time a piece is looked for."""
MIN_QUALITY = 8.0
"""A tick that stands out less is not believed: of 4000 places chance lifts one to 4."""
MIN_SHARE = 0.8
"""Fewer ticks than that found: only the long pieces tell the time."""
LEAST_SLIP_S = 1.5e-4
SLIP_SIGMAS = 7.0
BLOCK_S = 0.005
N_MARGIN = round(MARGIN_S * SEQUENCE_HZ)


@dataclass(frozen=True, slots=True)
class Arrival:
    """When one piece was heard."""

    place: Place
    delay: float
    """Samples later than expected."""
    sigma: float
    """Standard deviation of that by the noise, samples."""
    phase_rad: float
    """Turn of its phase, the same for all frequencies, beside the delay."""
    quality: float
    gain: float
    """Amplitude as heard over that made."""


@dataclass(frozen=True, slots=True)
class Slip:
    """Sound lost (negative) or put in (positive) between two ticks."""

    at_s: float
    """From the beginning of the sequence."""
    length_s: float
    is_placed: bool
    """False: somewhere in a silence or beneath noise; `at_s` is then the middle."""


@dataclass(frozen=True, slots=True, eq=False)
class Timing:
    """What the arrivals tell."""

    arrivals: tuple[Arrival, ...]
    residual_ppm: Reading
    """Rate error left after the stretch by which the sequence was found."""
    slips: tuple[Slip, ...] | CannotTell
    delay: Samples
    """(n_samples,) of the sequence, samples later than expected."""


def arrival(heard: Samples, place: Place, expected: float, band_hz: tuple[float, float]) -> Arrival:
    """When a piece is heard, to a small part of a sample.

    The correlation's envelope is the highest at the delay; between the samples it is worked out
    from the cross spectrum.

    Args:
        heard: on the sequence's clock, its first sample at MARGIN_S.
        place: of the piece.
        expected: delay, samples.
        band_hz: that the piece sweeps.
    Source: derived here; standard deviation 1 / (2 pi B sqrt(2 E / N0)) with B the rms width
        of the piece's band: textbook bound for the delay of a known signal (from memory).
    """
    template = made(place.piece)
    n_search = round(SEARCH_S * SEQUENCE_HZ)
    first = N_MARGIN + place.start + round(expected) - n_search
    window = _cut(heard, first, place.n_samples + 2 * n_search)
    correlation = scipy.signal.correlate(window, template, mode="valid", method="fft")
    envelope = np.abs(scipy.signal.hilbert(correlation))
    top = int(np.argmax(envelope))
    away = np.abs(np.arange(envelope.size) - top) > round(0.01 * SEQUENCE_HZ)
    noise = math.sqrt(float(np.square(envelope[away]).mean()) / 2.0)
    offset, phase_rad, peak = _between_samples(window, template, top)
    quality = peak / max(noise, 1e-12)
    rms_width_hz = (band_hz[1] - band_hz[0]) / math.sqrt(12.0)
    return Arrival(
        place,
        first + top + offset - N_MARGIN - place.start,
        SEQUENCE_HZ / (2.0 * math.pi * rms_width_hz * max(quality, 1e-9)),
        phase_rad,
        quality,
        peak / float(np.square(template).sum()),
    )


def _cut(heard: Samples, start: int, n_samples: int) -> Samples:
    out = np.zeros(n_samples)
    first, last = max(start, 0), min(start + n_samples, heard.size)
    if last > first:
        out[first - start : last - start] = heard[first:last]
    return out


def _between_samples(window: Samples, template: Samples, top: int) -> tuple[float, float, float]:
    """Offset from `top` in samples, phase, and height of the correlation's peak."""
    n = template.size
    lead = min(top, 64)
    piece = window[top - lead : top + n + 64]
    n_transform = scipy.fft.next_fast_len(piece.size + n, real=True)
    spectrum = scipy.fft.rfft(piece, n_transform) * scipy.fft.rfft(template, n_transform).conj()
    keep = np.flatnonzero(np.abs(spectrum) > 1e-3 * np.abs(spectrum).max(initial=1e-300))
    steps = np.linspace(-1.0, 1.0, 41)
    turns_rad = 2.0 * np.pi * keep / n_transform
    sums = np.exp(1j * np.outer(steps + lead, turns_rad)) @ spectrum[keep] * (2.0 / n_transform)
    heights = np.abs(sums)
    best = min(max(int(np.argmax(heights)), 1), steps.size - 2)
    low, mid, high = heights[best - 1 : best + 2]
    bend = low - 2.0 * mid + high
    shift = 0.5 * (low - high) / bend if bend < 0.0 else 0.0
    at = steps[best] + shift * (steps[1] - steps[0])
    peak = complex(np.exp(1j * (at + lead) * turns_rad) @ spectrum[keep]) * (2.0 / n_transform)
    return float(at), float(np.angle(peak)), abs(peak)


def track(heard: Samples, expected_sound: Samples) -> Timing:
    """Follow the delay along the sequence.

    Args:
        heard: on the sequence's clock, its first sample at MARGIN_S.
        expected_sound: (n_samples,) the sequence as the path makes it, as far as that is known; by
            it the place of lost or repeated sound is found.
    """
    arrivals = []
    expected = 0.0
    for place in sequence().all_of(Piece.TICK):
        one = arrival(heard, place, expected, TICK_HZ)
        if one.quality >= MIN_QUALITY:
            arrivals.append(one)
            expected = one.delay
    if len(arrivals) < MIN_SHARE * len(sequence().all_of(Piece.TICK)):
        return _by_chirps(heard)
    return _by_ticks(heard, arrivals, expected_sound)


def _by_chirps(heard: Samples) -> Timing:
    """Two long chirps bear much noise; what is lost between them cannot be told from rate."""
    first, second = (arrival(heard, p, 0.0, CHIRP_HZ) for p in sequence().all_of(Piece.CHIRP))
    apart = second.place.start - first.place.start
    error = (second.delay - first.delay) / apart
    spread = math.hypot(first.sigma, second.sigma) / apart
    time = np.arange(sequence().left.size, dtype=np.float64)
    return Timing(
        (first, second),
        Figure(error * 1e6, spread * 1e6),
        CannotTell("the noise covers the ticks by which it is seen"),
        first.delay + error * (time - first.place.start),
    )


def _by_ticks(heard: Samples, arrivals: list[Arrival], expected_sound: Samples) -> Timing:
    times = np.array([one.place.start for one in arrivals], float)
    delays = np.array([one.delay for one in arrivals])
    sigmas = np.array([one.sigma for one in arrivals])
    gaps = np.diff(times)
    slope = float(np.median(np.diff(delays) / gaps))
    allowed = LEAST_SLIP_S * SEQUENCE_HZ
    allowed = np.maximum(allowed, SLIP_SIGMAS * np.hypot(sigmas[1:], sigmas[:-1]))
    rests = np.diff(delays) - slope * gaps
    for _ in range(2):
        jumps = np.where(np.abs(rests) > allowed, rests, 0.0)
        smooth = delays - np.concatenate(([0.0], np.cumsum(jumps)))
        slope = float(np.polyfit(times, smooth, 1, w=1.0 / np.maximum(sigmas, 1e-4))[0])
        rests = np.diff(delays) - slope * gaps
    if np.count_nonzero(jumps) > gaps.size / 2:
        residual: Reading = CannotTell("sound is lost or repeated too often to tell the rate")
    else:
        fitted = np.polyval(np.polyfit(times, smooth, 1), times)
        scatter = float(np.std(smooth - fitted, ddof=2))
        spread = max(scatter, float(np.median(sigmas))) / (float(np.std(times)) * times.size**0.5)
        residual = Figure(slope * 1e6, spread * 1e6)
    delay = arrivals[0].delay + slope * (np.arange(sequence().left.size) - times[0])
    return _with_slips(_Course(heard, expected_sound, delay), arrivals, residual, jumps)


@dataclass(frozen=True, slots=True, eq=False)
class _Course:
    """What was heard, what should be, and the delay between them without slips."""

    heard: Samples
    expected: Samples
    delay: Samples


def _with_slips(
    course: _Course, arrivals: list[Arrival], residual: Reading, jumps: NDArray[np.float64]
) -> Timing:
    delay = course.delay.copy()
    slips = []
    for index in np.flatnonzero(jumps):
        jump = float(jumps[index])
        bounds = (arrivals[index].place.end, arrivals[index + 1].place.start)
        at, is_placed = _where(_Course(course.heard, course.expected, delay), jump, bounds)
        delay[at:] += jump
        slips.append(Slip(at / SEQUENCE_HZ, jump / SEQUENCE_HZ, is_placed))
    return Timing(tuple(arrivals), residual, tuple(slips), delay)


def _where(course: _Course, jump: float, bounds: tuple[int, int]) -> tuple[int, bool]:
    """Sample between two ticks at which the delay jumps: the best division of the time."""
    start, end = bounds
    sent = course.expected[start:end]
    n_block = round(BLOCK_S * SEQUENCE_HZ)
    n_blocks = (end - start) // n_block
    sums = []
    for extra in (0.0, jump):
        piece = _aligned_piece(course.heard, course.delay + extra, start, end)
        product = (piece * sent)[: n_blocks * n_block].reshape(n_blocks, n_block).sum(axis=1)
        sums.append(product)
    scale = np.sqrt(np.square(sent)[: n_blocks * n_block].reshape(n_blocks, n_block).sum(axis=1))
    is_on = scale > 1e-2 * float(scale.max())
    balance = np.zeros(n_blocks)
    balance[is_on] = (sums[0] - sums[1])[is_on] / scale[is_on]
    summed = np.concatenate(([0.0], np.cumsum(balance)))
    best = int(np.argmax(summed))
    near = np.flatnonzero(summed >= summed[best] - 1e-9 * max(float(np.ptp(summed)), 1e-300))
    is_placed = bool(np.ptp(summed) > 0.0 and near[-1] - near[0] < round(0.05 / BLOCK_S))
    return start + int(near[0] + near[-1]) // 2 * n_block, is_placed


def _aligned_piece(heard: Samples, delay: Samples, start: int, end: int) -> Samples:
    """Nearest sample is near enough for a balance."""
    places = N_MARGIN + np.arange(start, end) + np.rint(delay[start:end]).astype(np.int64)
    inside = (places >= 0) & (places < heard.size)
    out = np.zeros(end - start)
    out[inside] = heard[places[inside]]
    return out


def aligned(heard: Samples, timing: Timing) -> Samples:
    """The recording sample by sample beside the sequence, (n_samples,) of it.

    Sound that was put in is left out; where sound was lost, what followed is put back in its place.
    """
    n_samples = sequence().left.size
    slips = np.zeros(heard.size)
    slips[:n_samples] = N_MARGIN + timing.delay
    slips[n_samples:] = N_MARGIN + timing.delay[-1]
    out: Samples = off_grid(heard, slips)[:n_samples]
    return out
