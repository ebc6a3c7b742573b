"""The test sequence that is played through a path: what is sent when, to the sample.

Two rounds of the same pieces, so that every figure is measured twice. All of it lies below 3.3 kHz.
"""

import functools
import math
from collections.abc import Callable
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
import scipy.fft

from solidcopy import units
from solidcopy.signals.resample import resampled
from solidcopy.signals.tone import tone
from solidcopy.signals.waveform import AnalyticSamples, Samples

SEQUENCE_HZ = 12_000
"""Rate at which the sequence is made and a recording of it is looked at."""
PLAYED_HZ = 48_000
"""Rate at which it is played: what sound cards are built for."""
N_ROUNDS = 2
PAUSE_S = 0.1
"""Silence around every piece, in which echoes die away."""
TICK_S = 0.25
TICK_HZ = (300.0, 2700.0)
CHIRP_HZ = (50.0, 3250.0)
STEP_HZ = 637.0
"""Up to its fourth harmonic within 2.7 kHz, none near a multiple of 50 or 60 Hz, and a buffer
lost or repeated (5 to 100 ms) turns its phase."""
TWO_TONES_HZ = (1133.0, 1473.0)
BURST_HZ = 1687.0
NOISE_HZ = (100.0, 3100.0)
NOISE_FREE_HZ = 30.0
"""The noise leaves so much free on both sides of the tone in it."""
NOISE_DB = -10.85
"""Mean power of the noise over that of the loudest tone: its peaks then touch the same level."""
BURST_DB = -12.0
LOUDEST_AMPLITUDE = 0.5
"""Amplitude of the loudest tone as made; the level is set when it is played."""
RAMP_S = 0.005


class Piece(StrEnum):
    """What a piece of the sequence is for."""

    RISE = "rise"
    """A quiet tone that grows: who hears it can still reach for the knob."""
    TICK = "tick"
    LEFT = "left"
    RIGHT = "right"
    SILENCE = "silence"
    STEPS = "steps"
    TWO_TONES = "two tones"
    CHIRP = "chirp"
    NOISE = "noise"


@dataclass(frozen=True, slots=True)
class Step:
    """One level of the steps."""

    over_loudest_db: float
    duration_s: float


STEPS = (
    Step(-40.0, 0.6),
    Step(-30.0, 0.4),
    Step(-20.0, 0.4),
    Step(-10.0, 0.4),
    Step(0.0, 1.0),
    Step(-20.0, 3.0),
    Step(0.0, 0.9),
    Step(-40.0, 0.9),
)
LOUD_STEPS = (4, 6)
RELEASE_STEP = 5
DURATIONS_S = {
    Piece.RISE: 1.2,
    Piece.TICK: TICK_S,
    Piece.LEFT: TICK_S,
    Piece.RIGHT: TICK_S,
    Piece.SILENCE: 2.2,
    Piece.STEPS: sum(step.duration_s for step in STEPS),
    Piece.TWO_TONES: 2.0,
    Piece.CHIRP: 3.5,
    Piece.NOISE: 4.0,
}
ROUND = (Piece.SILENCE, Piece.STEPS, Piece.TWO_TONES, Piece.CHIRP, Piece.NOISE)
BURSTS_S = ((1.5, 2.0), (2.5, 3.0), (3.5, 4.0))
"""When the tone in the noise is on, from the beginning of that piece."""


@dataclass(frozen=True, slots=True)
class Place:
    """Where a piece lies in the sequence."""

    piece: Piece
    start: int
    """Sample at SEQUENCE_HZ."""
    n_samples: int
    round_number: int | None
    """0 or 1; None outside the rounds."""

    @property
    def end(self) -> int:
        """Sample after its last."""
        return self.start + self.n_samples


@dataclass(frozen=True, slots=True, eq=False)
class Sequence:
    """The whole of it at SEQUENCE_HZ."""

    left: Samples
    right: Samples
    places: tuple[Place, ...]

    @property
    def both(self) -> Samples:
        """What a path that hears left and right alike is sent; the mean of the channels."""
        return (self.left + self.right) / 2.0

    @property
    def duration_s(self) -> float:
        """Length."""
        return self.left.size / SEQUENCE_HZ

    def all_of(self, piece: Piece) -> list[Place]:
        """Every place of that kind, in order."""
        return [place for place in self.places if place.piece is piece]

    def played(self, power_dbfs: float) -> Samples:
        """(n_samples, 2) at PLAYED_HZ, the loudest tone at `power_dbfs`."""
        scale = math.sqrt(2.0 * units.power_from_dbfs(power_dbfs)) / LOUDEST_AMPLITUDE
        channels = [
            resampled(channel, from_hz=SEQUENCE_HZ, to_hz=PLAYED_HZ) * scale
            for channel in (self.left, self.right)
        ]
        return np.stack(channels, axis=1)


@functools.lru_cache(maxsize=1)
def sequence() -> Sequence:
    """The one test sequence; read-only, the same on every machine to rounding."""
    order: list[tuple[Piece, int | None]] = [
        (Piece.RISE, None),
        (Piece.LEFT, None),
        (Piece.RIGHT, None),
    ]
    for round_number in range(N_ROUNDS):
        for piece in ROUND:
            order += [(Piece.TICK, round_number), (piece, round_number)]
    order += [(Piece.TICK, None), (Piece.LEFT, None), (Piece.RIGHT, None)]
    n_pause = round(PAUSE_S * SEQUENCE_HZ)
    at = 4 * n_pause
    places = []
    for piece, number in order:
        n_samples = round(DURATIONS_S[piece] * SEQUENCE_HZ)
        places.append(Place(piece, at, n_samples, number))
        at += n_samples + n_pause
    left, right = np.zeros(at + 3 * n_pause), np.zeros(at + 3 * n_pause)
    for place in places:
        samples = made(place.piece)
        if place.piece is not Piece.RIGHT:
            left[place.start : place.end] = samples
        if place.piece is not Piece.LEFT:
            right[place.start : place.end] = samples
    left.flags.writeable = right.flags.writeable = False
    return Sequence(left, right, tuple(places))


@functools.lru_cache(maxsize=16)
def made(piece: Piece) -> Samples:
    """The samples of one piece at SEQUENCE_HZ, read-only."""
    samples: Samples = LOUDEST_AMPLITUDE * _MAKERS[piece](round(DURATIONS_S[piece] * SEQUENCE_HZ))
    samples.flags.writeable = False
    return samples


def swept(n_samples: int, band_hz: tuple[float, float], stretch: float = 1.0) -> AnalyticSamples:
    """A linear chirp, analytic, (round(n_samples * stretch),), raised-cosine ends.

    Args:
        n_samples: length as sent.
        band_hz: first and last frequency.
        stretch: samples in which it is heard per sample sent (the input's clock over the output's).
    """
    times_s = np.arange(round(n_samples * stretch)) / stretch / SEQUENCE_HZ
    duration_s = n_samples / SEQUENCE_HZ
    low_hz, high_hz = band_hz
    turns = low_hz * times_s + (high_hz - low_hz) / duration_s * times_s**2 / 2.0
    chirp: AnalyticSamples = np.exp(2j * np.pi * turns) * ramped(times_s.size, 0.02)
    return chirp


def ramped(n_samples: int, ramp_s: float = RAMP_S) -> Samples:
    """Ones with raised-cosine ends."""
    n_ramp = round(ramp_s * SEQUENCE_HZ)
    rise = 0.5 - 0.5 * np.cos(np.pi * (np.arange(n_ramp) + 0.5) / n_ramp)
    shape = np.ones(n_samples)
    shape[:n_ramp] = rise
    shape[n_samples - n_ramp :] = rise[::-1]
    return shape


def step_bounds() -> list[tuple[int, int]]:
    """First sample and the one after the last of every step, from the piece's beginning."""
    ends = np.cumsum([round(step.duration_s * SEQUENCE_HZ) for step in STEPS])
    return list(zip([0, *ends[:-1].tolist()], ends.tolist(), strict=True))


def _plain(frequency_hz: float, n_samples: int) -> Samples:
    return tone(
        frequency_hz=frequency_hz, phase_rad=0.0, n_samples=n_samples, sample_rate_hz=SEQUENCE_HZ
    )


def _rise(n_samples: int) -> Samples:
    gains = np.geomspace(0.01, 1.0, n_samples)
    return _plain(STEP_HZ, n_samples) * gains * ramped(n_samples)


def _steps(n_samples: int) -> Samples:
    gains = np.empty(n_samples)
    for step, (start, end) in zip(STEPS, step_bounds(), strict=True):
        gains[start:end] = math.sqrt(units.ratio_from_db(step.over_loudest_db))
    n_ramp = round(RAMP_S * SEQUENCE_HZ)
    shape = np.hanning(2 * n_ramp + 3)[1:-1]
    padded = np.pad(gains, n_ramp, mode="edge")
    smooth = np.convolve(padded, shape / shape.sum(), mode="valid")
    return _plain(STEP_HZ, n_samples) * smooth * ramped(n_samples)


def _two_tones(n_samples: int) -> Samples:
    low_hz, high_hz = TWO_TONES_HZ
    both = _plain(low_hz, n_samples) + _plain(high_hz, n_samples)
    return 0.5 * both * ramped(n_samples)


def flat_noise(n_samples: int) -> Samples:
    """Noise of unit power and flat density whose phases are written down, not drawn.

    They come from whole numbers (a linear congruence modulo 2**32, constants from memory), since a
    generator of a library promises the same numbers for one build only.
    """
    frequencies_hz = scipy.fft.rfftfreq(n_samples, 1.0 / SEQUENCE_HZ)
    low_hz, high_hz = NOISE_HZ
    is_on = (frequencies_hz >= low_hz) & (frequencies_hz <= high_hz)
    is_on &= np.abs(frequencies_hz - BURST_HZ) > NOISE_FREE_HZ
    state, turns = 20_261, []
    for _ in range(int(is_on.sum())):
        state = (1_664_525 * state + 1_013_904_223) % 2**32
        turns.append(state / 2**32)
    spectrum = np.zeros(frequencies_hz.size, np.complex128)
    spectrum[is_on] = np.exp(2j * np.pi * np.array(turns))
    noise: Samples = scipy.fft.irfft(spectrum, n_samples)
    return noise / math.sqrt(float(np.square(noise).mean()))


def burst_shape(n_samples: int) -> Samples:
    """1 while the tone in the noise is on, with soft edges."""
    shape = np.zeros(n_samples)
    for start_s, end_s in BURSTS_S:
        start, end = (min(round(at_s * SEQUENCE_HZ), n_samples) for at_s in (start_s, end_s))
        shape[start:end] = ramped(end - start, 0.01)
    return shape


def noise_and_tone(n_samples: int) -> tuple[Samples, Samples]:
    """The two parts of the noise piece at unit loudest amplitude: noise, and the tone in it."""
    half_power = 0.5  # of a tone of unit amplitude
    noise = flat_noise(n_samples) * math.sqrt(half_power * units.ratio_from_db(NOISE_DB))
    burst = burst_shape(n_samples) * math.sqrt(units.ratio_from_db(BURST_DB))
    return noise * ramped(n_samples), burst * _plain(BURST_HZ, n_samples)


_MAKERS: dict[Piece, Callable[[int], Samples]] = {
    Piece.RISE: _rise,
    Piece.TICK: lambda n: swept(n, TICK_HZ).real,
    Piece.LEFT: lambda n: swept(n, TICK_HZ).real,
    Piece.RIGHT: lambda n: swept(n, TICK_HZ).real,
    Piece.SILENCE: np.zeros,
    Piece.STEPS: _steps,
    Piece.TWO_TONES: _two_tones,
    Piece.CHIRP: lambda n: swept(n, CHIRP_HZ).real,
    Piece.NOISE: lambda n: np.add(*noise_and_tone(n)),
}
