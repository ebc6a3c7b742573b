"""Distortion of a path: harmonics of one tone, products of two, and where it clips."""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import scipy.optimize
from numpy.typing import NDArray

from solidcopy import units
from solidcopy.noise.features.figure import CannotTell
from solidcopy.signals.power import power_spectrum
from solidcopy.signals.waveform import Samples
from solidcopy.soundcard.path_pieces import Below, Heard
from solidcopy.soundcard.path_sequence import (
    LOUD_STEPS,
    SEQUENCE_HZ,
    STEP_HZ,
    STEPS,
    TWO_TONES_HZ,
    Piece,
    step_bounds,
)

N_HARMONICS = 9
"""The ninth lies below half of the sequence's rate."""
WINDOW_S = 0.6
"""The end of a loud step: a gain control has settled by then."""
SEEN_RATIO = 9.0
"""A line counts if its power is so many times what the noise alone would give."""
LOWER_STEPS = (3, 5)
"""10 and 20 dB below the loudest."""
BESIDE_HZ = (200.0, 2700.0)
"""2500 Hz, in which the noise beside the tone is read."""
IN_BAND_HZ = 2700.0


@dataclass(frozen=True, slots=True)
class Lines:
    """Powers of distortion lines over that of the tone or tones."""

    ratios: dict[str, float]
    """Amplitude ratio by name, only those that stand out of the noise."""
    floor: float
    """Amplitude ratio that a line needs to be seen."""

    @property
    def total_db(self) -> float | Below:
        """All of them together, dB relative to the tone."""
        return _level(math.sqrt(sum(ratio**2 for ratio in self.ratios.values())), self.floor)

    def level_db(self, *names: str) -> float | Below:
        """The strongest of some, dB relative to the tone."""
        return _level(max(self.ratios.get(name, 0.0) for name in names), self.floor)


@dataclass(frozen=True, slots=True)
class Tones:
    """Distortion, and noise beside a tone."""

    harmonics: Lines
    """Of the loudest tone: "2" to "9"."""
    lower: tuple[Lines, ...]
    """Of the tones 10 and 20 dB below it."""
    products: Lines
    """Of two tones, each 6 dB below the loudest: "f2-f1", "2f1-f2", ..."""
    thd_n_db: float
    """Everything but the tone, over the tone, to 6 kHz."""
    noise_beside_db: float
    """Noise in 2500 Hz beside the loudest tone, over the tone."""
    clip_over_peak_db: float | None
    """Level of a hard limit over the peak of the loudest tone (negative: it cuts), if the third
    harmonic is explained by one; None: no third harmonic."""


def measure_tones(heard: Heard) -> Tones | CannotTell:
    """Fit tones and all their products by least squares, and read what remains."""
    loud = [window for number in LOUD_STEPS for window in _ends(heard, number, WINDOW_S)]
    harmonics, rests, tone_power = _harmonics(loud)
    noise_power = float(np.mean([np.square(rest).mean() for rest in rests]))
    if noise_power > tone_power:
        return CannotTell("the noise covers the loudest tone")
    beside = np.mean(
        [power_spectrum(rest, sample_rate_hz=SEQUENCE_HZ).band_power(*BESIDE_HZ) for rest in rests]
    )
    distortion = sum(ratio**2 for ratio in harmonics.ratios.values())
    third = harmonics.ratios.get("3")
    return Tones(
        harmonics,
        tuple(_harmonics(_ends(heard, n, 0.5 * STEPS[n].duration_s))[0] for n in LOWER_STEPS),
        _products(heard),
        units.db_from_ratio(distortion + noise_power / tone_power),
        units.db_from_ratio(float(beside) / tone_power),
        None if third is None else clip_over_peak_db(third),
    )


def fitted(
    samples: Samples, frequencies_hz: Sequence[float]
) -> tuple[NDArray[np.complex128], Samples]:
    """Least-squares tones in some samples, and what remains.

    Args:
        samples: (n_samples,) at SEQUENCE_HZ.
        frequencies_hz: of the tones; a constant is fitted beside them.
    Returns: (n_tones,) complex amplitudes, and (n_samples,).
    """
    angles = 2.0 * np.pi / SEQUENCE_HZ * np.outer(np.arange(samples.size), frequencies_hz)
    design = np.hstack((np.cos(angles), np.sin(angles), np.ones((samples.size, 1))))
    # Normal equations: the columns are all but orthogonal, and this is ten times as fast.
    solution = np.linalg.solve(design.T @ design, design.T @ samples)
    n_tones = len(frequencies_hz)
    rest: Samples = samples - design @ solution
    return solution[:n_tones] - 1j * solution[n_tones : 2 * n_tones], rest


def clip_over_peak_db(third_over_first: float) -> float:
    """How far a hard, symmetric limit lies over the peak of a sine, from its third harmonic.

    Returns: dB, negative; down to -20.
    Source: Fourier coefficients of a clipped sine, derived here; tests check them with numbers.
    """

    def excess(over_db: float) -> float:
        first, third = clipped_sine(math.sqrt(units.ratio_from_db(over_db)))
        return third / first - third_over_first

    if excess(-20.0) < 0.0:
        return -20.0
    return float(scipy.optimize.brentq(excess, -20.0, -1e-6))


def clipped_sine(limit: float) -> tuple[float, float]:
    """First and third harmonic (magnitudes) of a sine of unit amplitude cut at ±limit <= 1.

    With a = arcsin(limit): b1 = (2 / pi)(a + sin a cos a) and
    b3 = (4 / pi)(sin 2a / 4 - sin 4a / 8 + limit cos 3a / 3), from integrals over one quarter.
    """
    a = math.asin(limit)
    first = 2.0 / math.pi * (a + math.sin(a) * math.cos(a))
    inner = math.sin(2.0 * a) / 4.0 - math.sin(4.0 * a) / 8.0
    third = 4.0 / math.pi * (inner + limit * math.cos(3.0 * a) / 3.0)
    return first, abs(third)


def _ends(heard: Heard, number: int, window_s: float) -> list[Samples]:
    """The end of one step in every round."""
    end = step_bounds()[number][1] - round(0.02 * SEQUENCE_HZ)
    start = end - round(window_s * SEQUENCE_HZ)
    return [heard.cut(place, start, end) for place in heard.rounds(Piece.STEPS)]


def _harmonics(windows: list[Samples]) -> tuple[Lines, list[Samples], float]:
    frequencies_hz = [n * STEP_HZ for n in range(1, N_HARMONICS + 1)]
    fits = [fitted(window, frequencies_hz) for window in windows]
    orders = np.arange(1, N_HARMONICS + 1)
    turned = [amplitudes * np.exp(-1j * orders * np.angle(amplitudes[0])) for amplitudes, _ in fits]
    mean = np.mean(turned, axis=0)
    rests = [rest for _, rest in fits]
    ratios = np.abs(mean[1:]) / abs(mean[0])
    floor = _floor(rests, abs(mean[0]))
    names = (str(order) for order in orders[1:])
    return _lines(names, ratios, floor), rests, abs(mean[0]) ** 2 / 2.0


def _products(heard: Heard) -> Lines:
    low_hz, high_hz = TWO_TONES_HZ
    by_name = {
        "f2-f1": high_hz - low_hz,
        "f1+f2": high_hz + low_hz,
        "2f1-f2": 2 * low_hz - high_hz,
        "2f2-f1": 2 * high_hz - low_hz,
        "3f1-2f2": 3 * low_hz - 2 * high_hz,
        "3f2-2f1": 3 * high_hz - 2 * low_hz,
    }
    others_hz = [2 * low_hz, 2 * high_hz, 3 * low_hz, 3 * high_hz]
    edge = round(0.2 * SEQUENCE_HZ)
    rests, levels = [], []
    for place in heard.rounds(Piece.TWO_TONES):
        piece = heard.cut(place, edge, place.n_samples - edge // 4)
        amplitudes, rest = fitted(piece, [low_hz, high_hz, *by_name.values(), *others_hz])
        levels.append(np.abs(amplitudes))
        rests.append(rest)
    mean = np.sqrt(np.mean(np.square(levels), axis=0))
    tone = float(mean[:2].mean())
    return _lines(iter(by_name), mean[2 : 2 + len(by_name)] / tone, _floor(rests, tone))


def _lines(names: Iterator[str], ratios: NDArray[np.float64], floor: float) -> Lines:
    return Lines(
        {name: float(ratio) for name, ratio in zip(names, ratios, strict=True) if ratio > floor},
        floor,
    )


def _floor(rests: list[Samples], tone: float) -> float:
    """Amplitude ratio beyond which a line is not the noise's.

    The amplitude of a line fitted to noise of mean square r over n samples has a mean square of
    4 r / n (derived here).
    """
    rest = float(np.mean([np.square(one).mean() for one in rests]))
    n_samples = sum(one.size for one in rests)
    return math.sqrt(SEEN_RATIO * 4.0 * rest / n_samples) / tone


def _level(ratio: float, floor: float) -> float | Below:
    if ratio <= floor:
        return Below(units.peak_dbfs(max(floor, 1e-7)))
    return units.peak_dbfs(ratio)
