"""Speech-like and music-like programme by a stated recipe: spectrum, syllables, pauses.

Gaussian noise of a long-term spectrum, under an envelope that swells about four times a second and
falls silent between phrases. No word can be understood in it; what a receiver of digital modes
notices of speech is spectrum, dynamics and pauses, and these are stated.
"""

import functools
import math
from dataclasses import dataclass
from typing import Literal

import numpy as np
import scipy.fft
from numpy.typing import NDArray

from solidcopy.signals.keyed_amplitude import keyed_amplitude
from solidcopy.signals.waveform import Samples

PROGRAMME_RATE_HZ = 12_000
"""Rate at which a programme is made, whatever the slot's: the same draws, the same programme."""
SWELL_RATE_HZ = 240
"""Rate at which the envelope is made; between its points it runs straight."""
LOWEST_HZ = 80.0
"""No voice and no broadcast programme goes deeper (common practice, no source)."""
GUARD_S = 1.0
"""The programme runs in a circle this much longer than a slot: its ends do not meet in it."""
PAUSE_EDGE_S = 0.05
"""A phrase starts and ends along half a cosine of this length."""

Single = NDArray[np.float32]
"""Real samples of single precision: a programme is noise, and errors of -140 dB are lost in it."""

Spectrum = NDArray[np.complex64]
"""Of a whole circle: entry k at k / (its seconds) Hz, real samples being twice the real part of
the sum; entry 0 is 0."""


@dataclass(frozen=True, slots=True)
class Delivery:
    """How a programme swells and pauses.

    Args:
        swell_db: standard deviation of the level from syllable to syllable or beat to beat.
        swell_hz: most frequent rate of swelling; an octave to either side is at 61 %.
        phrase_s, pause_s: mean lengths, each drawn exponentially above a tenth of a second;
            pause_s 0: never silent.
    """

    swell_db: float
    swell_hz: float
    phrase_s: float = 2.0
    pause_s: float = 0.0


def speech_density_db(frequency_hz: NDArray[np.float64]) -> NDArray[np.float64]:
    """Long-term density of speech, dB per Hz.

    Source: ITU-T P.50, polynomial of the long-term spectrum, 100 Hz to 8 kHz, from memory. Its
        integral over the third octaves from 100 Hz to 8 kHz is 89.3 dB, the -4.7 dBPa at the
        mouth that the Recommendation states (tests/reference/test_stations.py).
    """
    decade = np.log10(frequency_hz)
    return -376.44 + 465.439 * decade - 157.745 * decade**2 + 16.7124 * decade**3


def music_density_db(frequency_hz: NDArray[np.float64]) -> NDArray[np.float64]:
    """Long-term density of dance music, dB per Hz: 3 dB an octave down, above 1 kHz 9 dB.

    Source: own recipe; no document was at hand.
    """
    octaves = np.log2(frequency_hz / 1000.0)
    return np.where(octaves < 0.0, -3.0 * octaves, -9.0 * octaves)


DENSITIES = {"speech": speech_density_db, "music": music_density_db}


@dataclass(frozen=True, slots=True, eq=False)
class Programme:
    """A programme on a circle somewhat longer than a slot."""

    samples: Single
    """(n_circle,) at PROGRAMME_RATE_HZ, unit expected power while not pausing."""
    talking: Samples
    """(n_circle,) 1 in phrases, 0 in pauses."""

    @property
    def circle_s(self) -> int:
        """It repeats after so many seconds."""
        return self.samples.size // PROGRAMME_RATE_HZ

    def spectrum(self) -> Spectrum:
        """Of the circle."""
        return spectrum_of(self.samples)

    def share_talking(self, slot_s: float) -> float:
        """Share of the slot that is not pause."""
        return float(self.talking[: round(slot_s * PROGRAMME_RATE_HZ)].mean())


def draw_programme(
    kind: Literal["speech", "music"],
    delivery: Delivery,
    *,
    highest_hz: float,
    slot_s: float,
    generator: np.random.Generator,
) -> Programme:
    """A new programme that is already running when the slot begins.

    Args:
        kind: which long-term spectrum.
        highest_hz: nothing lies above it or below LOWEST_HZ before the swelling is put on; at
            most half of PROGRAMME_RATE_HZ.
        slot_s: length that is needed.
        generator: normal draws for the noise and the swelling, exponential ones for pauses.
    """
    circle_s = math.ceil(slot_s + GUARD_S)
    n_circle = circle_s * PROGRAMME_RATE_HZ
    first, last = math.ceil(LOWEST_HZ * circle_s), math.floor(highest_hz * circle_s)
    noise = _noise_on_circle(_amplitudes(kind, first, last, circle_s), first, n_circle, generator)
    noise *= _swelling(delivery, circle_s, generator)
    talking = np.ones(n_circle)
    if delivery.pause_s > 0.0:
        talking = _within_slot(_phrases(delivery, circle_s, generator), slot_s)
        noise *= talking
    return Programme(noise, talking)


def spectrum_of(samples: Single) -> Spectrum:
    """Spectrum of a circle of real samples, without its mean."""
    spectrum: Spectrum = scipy.fft.rfft(samples, norm="forward")
    spectrum[0] = 0.0
    return spectrum


@functools.lru_cache(maxsize=16)
def _amplitudes(kind: str, first: int, last: int, circle_s: int) -> NDArray[np.float64]:
    """Relative amplitudes of the lines from `first` to `last`, read-only."""
    amplitudes = 10.0 ** (DENSITIES[kind](np.arange(first, last + 1) / circle_s) / 20.0)
    amplitudes.flags.writeable = False
    return amplitudes


def _noise_on_circle(
    amplitudes: NDArray[np.float64], first: int, n_circle: int, generator: np.random.Generator
) -> Single:
    """Gaussian noise of unit expected power whose lines, from `first` on, have these amplitudes."""
    lines = np.zeros(n_circle // 2 + 1, dtype=np.complex64)
    inside = lines[first : first + amplitudes.size]
    factors = amplitudes / (2.0 * math.sqrt(float(np.square(amplitudes).sum())))
    inside.real = generator.standard_normal(amplitudes.size) * factors
    inside.imag = generator.standard_normal(amplitudes.size) * factors
    samples: Single = scipy.fft.irfft(lines, n_circle, norm="forward")
    return samples


def _swelling(delivery: Delivery, circle_s: int, generator: np.random.Generator) -> Single:
    """Amplitude of mean square 1 whose level in dB is a slow Gaussian noise.

    Three octaves to either side of the swelling's rate hold all but 0.3 % of that noise.
    """
    first = max(math.ceil(delivery.swell_hz / 8.0 * circle_s), 1)
    last = math.floor(delivery.swell_hz * 8.0 * circle_s)
    rates_hz = np.arange(first, last + 1) / circle_s
    density = np.exp(-0.5 * np.log2(rates_hz / delivery.swell_hz) ** 2)
    swell = _noise_on_circle(np.sqrt(density), first, circle_s * SWELL_RATE_HZ, generator)
    nepers = delivery.swell_db * math.log(10.0) / 20.0
    amplitude = np.exp(nepers * swell - nepers**2)  # the mean square of exp(s u) is exp(2 s^2)
    steps = np.diff(amplitude, append=amplitude[0])
    n_steps = PROGRAMME_RATE_HZ // SWELL_RATE_HZ
    into_step = np.arange(n_steps, dtype=np.float32) / np.float32(n_steps)
    straight: Single = (amplitude[:, None] + np.multiply.outer(steps, into_step)).ravel()
    return straight


def _phrases(delivery: Delivery, circle_s: int, generator: np.random.Generator) -> Samples:
    """1 in phrases and 0 in pauses, soft edges; the drawn lengths are fitted to the circle.

    Each lasts at least two edges, and the rest of the circle is shared out as drawn.
    """
    n_phrases = max(round(circle_s / (delivery.phrase_s + delivery.pause_s)), 1)
    lengths_s = generator.standard_exponential((n_phrases, 2))
    lengths_s *= (delivery.phrase_s, delivery.pause_s)
    shortest_s = 2.0 * PAUSE_EDGE_S
    lengths_s *= (circle_s - lengths_s.size * shortest_s) / lengths_s.sum()
    lengths_s += shortest_s
    ends_s = np.cumsum(lengths_s.ravel()) + generator.uniform(0.0, circle_s)
    edges_s = np.append(ends_s[-1] - circle_s, ends_s[:-1])
    # The round before and the one after: wherever the circle is cut, it is whole.
    rounds_s = circle_s * np.arange(-2, 2)
    return keyed_amplitude(
        (rounds_s[:, None] + edges_s[None, :]).ravel(),
        edge_s=PAUSE_EDGE_S,
        n_samples=circle_s * PROGRAMME_RATE_HZ,
        sample_rate_hz=PROGRAMME_RATE_HZ,
    )


def _within_slot(talking: Samples, slot_s: float) -> Samples:
    """Turned by half a circle if most of the talking would fall beyond the slot.

    So even where phrases are rare, a slot is never all pause, which could have no level.
    """
    n_slot = round(slot_s * PROGRAMME_RATE_HZ)
    is_mostly_beyond = talking[:n_slot].sum() < 0.5 * talking.sum()
    return np.roll(talking, talking.size // 2) if is_mostly_beyond else talking
