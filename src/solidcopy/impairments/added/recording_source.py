"""A recording got ready for one sample rate and slot length, and kept while it is unchanged."""

import functools
import hashlib
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from solidcopy import units
from solidcopy.errors import AudioFileError, CalibrationError
from solidcopy.signals import power
from solidcopy.signals.audio_file import read_audio
from solidcopy.signals.resample import resampled
from solidcopy.signals.waveform import Samples

NOISE_BAND_HZ = (200.0, 2700.0)
"""The 2500 Hz between which a recording that acts as the noise is measured."""
CROSS_FADE_S = 0.05
"""Length over which the end of a loop fades into its beginning, their powers adding to one."""
MIN_DURATION_S = 1.0
N_PLACES = 64
"""Places along a recording at which the power of a slot is looked at, for its spread."""
CHUNK_SAMPLES = 1 << 20
"""A long recording's spectrum is taken in pieces of about this size."""

Stamp = tuple[str, int, int]
"""Path, time of the last change in ns, size in bytes: while these stay, so does the content."""


def stamp(file: str) -> Stamp:
    """What tells whether a file is still the one that was read. Raises AudioFileError."""
    try:
        status = Path(file).stat()
    except OSError as error:
        raise AudioFileError(f"{file}: cannot be read ({error.strerror})") from None
    return file, status.st_mtime_ns, status.st_size


def content_digest(file: str) -> str:
    """SHA-256 of a file's bytes, hexadecimal. Raises AudioFileError."""
    return _digest(stamp(file))


@functools.lru_cache(maxsize=64)
def _digest(file_stamp: Stamp) -> str:
    try:
        with Path(file_stamp[0]).open("rb") as stream:
            return hashlib.file_digest(stream, "sha256").hexdigest()
    except OSError as error:
        raise AudioFileError(f"{file_stamp[0]}: cannot be read ({error.strerror})") from None


@dataclass(frozen=True, slots=True)
class SourceKey:
    """Everything that decides how a recording is got ready."""

    stamp: Stamp
    channel: int | None
    sample_rate_hz: int
    is_noise: bool
    """Its level is that of its noise in 2500 Hz, not of all its power."""
    is_loop: bool
    n_slot: int
    """Samples of a slot."""


@dataclass(frozen=True, slots=True, eq=False)
class Source:
    """A recording at the trial's sample rate, its constant offset taken out."""

    key: SourceKey
    samples: NDArray[np.float32]
    """(n_samples,); of a circle, its end is faded into its beginning."""
    is_circle: bool
    mean_power: float
    """Of the whole, in the quantity that the level refers to."""
    spread_db: float
    """Standard deviation of a slot's power from place to place, in dB above the mean."""

    @property
    def n_starts(self) -> int:
        """Number of places at which a slot can begin."""
        return _n_starts(self.samples.size, self.key.n_slot, is_circle=self.is_circle)

    def draw_start(self, generator: np.random.Generator) -> int:
        """Where one trial's slot begins; the first and only draw of a recording's stream."""
        return int(generator.integers(self.n_starts))

    def piece(self, start: int) -> Samples:
        """One slot from a place on, (n_slot,) float64, a copy."""
        return _piece(self.samples, start, self.key.n_slot, is_circle=self.is_circle)

    def power_of(self, piece: Samples) -> float:
        """Power of a piece, in the quantity that the level refers to."""
        return _level_power(piece, self.key)


@functools.lru_cache(maxsize=8)
def prepared(key: SourceKey) -> Source:
    """Read, resample, close to a circle where needed, and measure a recording, once.

    Raises: AudioFileError or CalibrationError if it is not fit for what is asked.
    """
    straight = _straight(key.stamp, key.channel, key.sample_rate_hz)
    is_circle = key.is_loop or straight.size < key.n_slot
    samples = _closed(straight, key.sample_rate_hz) if is_circle else straight
    mean_power = _mean_power(samples, key)
    if mean_power <= 0.0:
        raise CalibrationError(
            f"{key.stamp[0]}: there is no noise in it between {NOISE_BAND_HZ[0]:g} and "
            f"{NOISE_BAND_HZ[1]:g} Hz to bring to a level"
        )
    n_starts = _n_starts(samples.size, key.n_slot, is_circle=is_circle)
    powers = [
        _level_power(_piece(samples, int(start), key.n_slot, is_circle=is_circle), key)
        for start in np.linspace(0, n_starts - 1, min(N_PLACES, n_starts))
    ]
    spread = float(np.std(powers)) / mean_power
    return Source(key, samples, is_circle, mean_power, units.db_from_ratio(1.0 + spread))


@functools.lru_cache(maxsize=4)
def _straight(file_stamp: Stamp, channel: int | None, sample_rate_hz: int) -> NDArray[np.float32]:
    """The file's channel at the trial's rate, without its constant offset, read-only."""
    audio = read_audio(Path(file_stamp[0]), channel=channel)
    if audio.duration_s < MIN_DURATION_S:
        raise AudioFileError(
            f"{file_stamp[0]}: lasts {audio.duration_s:.2f} s; at least {MIN_DURATION_S:g} s are "
            "needed"
        )
    if audio.sample_rate_hz < 2.2 * NOISE_BAND_HZ[1]:
        raise AudioFileError(
            f"{file_stamp[0]}: {audio.sample_rate_hz} samples per second do not reach "
            f"{NOISE_BAND_HZ[1]:g} Hz; record with 8000 or more"
        )
    centred = audio.samples - audio.samples.mean()
    samples = resampled(centred, from_hz=audio.sample_rate_hz, to_hz=sample_rate_hz).astype(
        np.float32
    )
    samples.flags.writeable = False
    return samples


def _closed(straight: NDArray[np.float32], sample_rate_hz: int) -> NDArray[np.float32]:
    """A circle: the last samples fade out while the first fade in, and are left away.

    Sine and cosine: the powers of unlike sounds add up to a steady one.
    """
    n_fade = min(round(CROSS_FADE_S * sample_rate_hz), straight.size // 4)
    angle_rad = np.pi / 2.0 * (np.arange(n_fade) + 0.5) / n_fade
    circle = straight[: straight.size - n_fade].copy()
    circle[:n_fade] *= np.sin(angle_rad)
    circle[:n_fade] += np.cos(angle_rad) * straight[straight.size - n_fade :]
    circle.flags.writeable = False
    return circle


def _n_starts(n_samples: int, n_slot: int, *, is_circle: bool) -> int:
    return n_samples if is_circle else n_samples - n_slot + 1


def _piece(samples: NDArray[np.float32], start: int, n_slot: int, *, is_circle: bool) -> Samples:
    if not is_circle or start + n_slot <= samples.size:
        return samples[start : start + n_slot].astype(np.float64)
    places = np.arange(start, start + n_slot) % samples.size
    return samples[places].astype(np.float64)


def _level_power(samples: NDArray[np.floating[Any]], key: SourceKey) -> float:
    if not key.is_noise:
        return power.mean_power(samples)
    spectrum = power.power_spectrum(samples, sample_rate_hz=key.sample_rate_hz)
    return spectrum.band_power(*NOISE_BAND_HZ)


def _mean_power(samples: NDArray[np.float32], key: SourceKey) -> float:
    """Over the whole recording, chunk by chunk, so that memory stays small."""
    n_chunks = -(-samples.size // CHUNK_SAMPLES)
    chunks = np.array_split(samples, n_chunks)
    total = sum(_level_power(chunk, key) * chunk.size for chunk in chunks)
    return total / samples.size
