"""A narrow stretch of spectrum as a slow complex signal: is it steady, keyed, or noise?"""

import math
from dataclasses import dataclass

import numpy as np
import scipy.fft
from numpy.typing import NDArray

from solidcopy.noise.features.figure import FloatArray
from solidcopy.noise.parts.part import Times
from solidcopy.signals.power import AnySamples

BLOCK_S = 0.25
"""A part is on or off in blocks so long."""
LEAST_KEPT = 0.2
"""Of the moments without impulses; if fewer are left, all moments are taken as they are."""
ON_SHARE = 0.25
"""A block is on if it holds so much of the power of the strongest blocks."""


@dataclass(frozen=True, slots=True, eq=False)
class Transform:
    """Fourier transform of a whole recording, from which stretches are cut."""

    lines: NDArray[np.complex128]
    """(n_samples // 2 + 1,)."""
    n_samples: int
    sample_rate_hz: float
    is_kept: NDArray[np.bool_]
    """(n_samples,) False where impulses were taken out, and with them all but the lines."""

    @property
    def bin_hz(self) -> float:
        """From line to line."""
        return self.sample_rate_hz / self.n_samples

    @property
    def duration_s(self) -> float:
        """Of the recording."""
        return self.n_samples / self.sample_rate_hz


@dataclass(frozen=True, slots=True)
class Manner:
    """How a narrow stretch of spectrum behaves."""

    signal_power: float
    """Over the floor; samples squared."""
    signal_to_noise: float
    fourth_moment: float
    """E|s|^4 / (E|s|^2)^2 of what is over the floor while it is on: 1 for a constant envelope,
    2 for Gaussian noise; 1 / duty for a carrier keyed faster than the blocks."""
    fourth_error: float
    """Standard deviation of that by chance, roughly."""
    times: Times


def transform_of(
    samples: AnySamples, *, sample_rate_hz: float, is_kept: NDArray[np.bool_] | None = None
) -> Transform:
    """Transform of (n_samples,) real samples; all of them kept if nothing else is said."""
    if is_kept is None:
        is_kept = np.ones(samples.size, dtype=np.bool_)
    return Transform(scipy.fft.rfft(samples), samples.size, sample_rate_hz, is_kept)


def without_stretches(
    transform: Transform, stretches_hz: list[tuple[float, float]]
) -> NDArray[np.float64]:
    """The samples with some stretches of the spectrum cut out, (n_samples,)."""
    lines = transform.lines.copy()
    for low_hz, high_hz in stretches_hz:
        first = max(math.ceil(low_hz / transform.bin_hz), 0)
        lines[first : math.floor(high_hz / transform.bin_hz) + 1] = 0.0
    samples: FloatArray = scipy.fft.irfft(lines, transform.n_samples)
    return samples


def narrow_signal(
    transform: Transform, low_hz: float, high_hz: float
) -> tuple[NDArray[np.complex128], float]:
    """A stretch moved to 0 Hz, at about twice its width in samples a second, and that rate.

    The mean of its squared magnitude is the mean power of the stretch, in samples squared.
    """
    first = max(math.ceil(low_hz / transform.bin_hz), 1)
    last = min(math.floor(high_hz / transform.bin_hz), transform.lines.size - 2)
    kept = transform.lines[first : last + 1]
    n_out = int(scipy.fft.next_fast_len(max(2 * kept.size, 8)))
    padded = np.zeros(n_out, dtype=np.complex128)
    padded[: kept.size] = kept
    signal = scipy.fft.ifft(padded, overwrite_x=True) * (n_out / transform.n_samples)
    # Real samples hold half of their power at negative frequencies.
    return signal * math.sqrt(2.0), n_out / transform.duration_s


def kept_moments(transform: Transform, n_out: int, guard_s: float) -> NDArray[np.bool_]:
    """(n_out,) evenly spaced moments about which nothing was taken out; all, if few are left."""
    if transform.is_kept.all():
        return np.ones(n_out, dtype=np.bool_)
    lost = np.concatenate([[0], np.cumsum(~transform.is_kept)])
    guard = guard_s * transform.sample_rate_hz
    places = np.arange(n_out) * (transform.n_samples / n_out)
    first = np.clip(np.floor(places - guard), 0, transform.n_samples).astype(np.int64)
    last = np.clip(np.ceil(places + guard) + 1, 0, transform.n_samples).astype(np.int64)
    kept: NDArray[np.bool_] = lost[last] == lost[first]
    return kept if kept.mean() >= LEAST_KEPT else np.ones(n_out, dtype=np.bool_)


def manner_of(transform: Transform, band_hz: tuple[float, float], floor_density: float) -> Manner:
    """Power, envelope and times of what stands over a floor in a band.

    Args:
        floor_density: power per Hz of the Gaussian noise there, 0 or more.
    Source: derived here. For independent s and Gaussian n, E|s+n|^4 = E|s|^4 + 4 S N + 2 N^2.
        Moments without impulses speak for the others.
    """
    signal, rate_hz = narrow_signal(transform, *band_hz)
    width_hz = band_hz[1] - band_hz[0]
    noise = floor_density * width_hz
    n_block = max(1, round(BLOCK_S * rate_hz))
    n_blocks = max(1, signal.size // n_block)
    powers = (np.square(signal.real) + np.square(signal.imag))[: n_blocks * n_block]
    # A filter of this width rings for about its inverse.
    kept = kept_moments(transform, signal.size, 1.0 / width_hz)[: powers.size]
    powers, kept = powers.reshape(n_blocks, -1), kept.reshape(n_blocks, -1)
    counts = kept.sum(axis=1)
    has = counts > 0
    excess = np.where(kept, powers, 0.0).sum(axis=1)[has] / counts[has] - noise
    is_on = _is_on(excess, noise, counts[has])
    places = np.flatnonzero(has)[is_on]
    on = powers[places][kept[places]]
    mean = float(on.mean())
    over = max(mean - noise, 1e-3 * mean)
    fourth = float(np.square(on).mean()) - 4.0 * over * noise - 2.0 * noise**2
    return Manner(
        signal_power=float(powers[kept].mean()) - noise,
        signal_to_noise=over / noise if noise > 0.0 else math.inf,
        fourth_moment=fourth / over**2,
        fourth_error=math.sqrt(20.0 / max(on.size / 2.0, 1.0)) * (mean / over) ** 2,
        times=Times(
            float(places[0] * n_block / rate_hz),
            float(min((places[-1] + 1) * n_block / rate_hz, transform.duration_s)),
            float(is_on.mean()),
        ),
    )


def _is_on(excess: FloatArray, noise: float, counts: NDArray[np.int64]) -> NDArray[np.bool_]:
    """(n_blocks,) blocks that hold a fair share of the strongest ones' power, at least one."""
    strong = float(np.quantile(excess, 0.9))
    # A block of pure noise strays by this much; it must not count as on.
    stray = 3.0 * noise / np.sqrt(np.maximum(counts / 2.0, 1.0))
    is_on: NDArray[np.bool_] = excess > np.maximum(ON_SHARE * strong, stray)
    return is_on if is_on.any() else excess >= excess.max()
