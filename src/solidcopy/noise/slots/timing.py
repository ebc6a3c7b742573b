"""When a decoded transmission began, to a fraction of a millisecond.

A receiver needs its start to a few hundredths of a second. Once the text is known, so is the whole
waveform, and its place can be measured: blocks of a second are correlated with what was sent, and
their powers added, so that a slowly turning phase (fading, an oscillator) does no harm.
"""

import math
from dataclasses import dataclass

import numpy as np
import scipy.fft
from numpy.typing import NDArray
from scipy.optimize import minimize

from solidcopy.modes.mode import Message, Mode

PAD_S = 0.15
"""Audio looked at before and behind the transmission."""
REACH_S = 0.06
REACH_HZ = 1.0
"""How far from the receiver's place it is looked for."""
BAND_MARGIN_HZ = 40.0
BLOCK_S = 1.0
CURVE_STEP_S = 0.001
"""Over which the curvature of the likelihood is taken."""


@dataclass(frozen=True, slots=True)
class Placed:
    """Where one transmission lies."""

    start_s: float
    spread_s: float
    """Standard deviation by the noise alone."""
    audio_hz: float


@dataclass(frozen=True, slots=True, eq=False)
class _Blocks:
    """Narrow bands of the audio and of what was sent, around the same frequency."""

    heard: NDArray[np.complex128]
    """(n,) at the low rate."""
    sent_bins: NDArray[np.complex128]
    """(n,) spectrum of what was sent, in the order of `bins_hz`."""
    bins_hz: NDArray[np.float64]
    rate_hz: float

    def likelihood(self, late_s: float, off_hz: float) -> float:
        """Power that the sent waveform explains, summed over blocks of unknown phase and size."""
        sent = scipy.fft.ifft(self.sent_bins * np.exp(-2j * np.pi * self.bins_hz * late_s))
        n_block = round(BLOCK_S * self.rate_hz)
        n_blocks = sent.size // n_block
        time_s = np.arange(n_blocks * n_block) / self.rate_hz
        turned = self.heard[: time_s.size] * np.exp(-2j * np.pi * off_hz * time_s)
        sent = sent[: time_s.size].reshape(n_blocks, n_block)
        found = np.sum(turned.reshape(n_blocks, n_block) * sent.conj(), axis=1)
        energy = np.sum(np.abs(sent) ** 2, axis=1)
        is_on = energy > 0.05 * energy.max()
        return float(np.sum(np.abs(found[is_on]) ** 2 / energy[is_on]))


def place(
    samples: NDArray[np.float32],
    *,
    sample_rate_hz: int,
    mode: Mode,
    message: Message,
    near: tuple[float, float],
) -> Placed:
    """Measure where a transmission lies whose text is known.

    Args:
        samples: (n,) audio.
        sample_rate_hz: of the samples.
        mode: how the message was sent.
        message: what was sent.
        near: start in s and frequency of the lowest tone in Hz, as a receiver gives them.
    Returns: the likeliest place within `REACH_S` and `REACH_HZ`.
    Exactness: docs/howto/find-slots.md; about 0.2 ms at -10 dB and 0.5 ms at -18 dB in FT8.
    Source: derived here: likelihood of a known waveform of unknown phase and strength in white
        noise; the spread is the inverse root of its curvature.
    """
    start_s, audio_hz = near
    blocks, origin_s = _blocks(samples, sample_rate_hz, mode, message, near)
    late = np.arange(-REACH_S, REACH_S + 1e-9, 0.006)
    off = np.arange(-REACH_HZ, REACH_HZ + 1e-9, 0.25)
    shift_s = start_s - origin_s
    grid = np.array([[blocks.likelihood(shift_s + t, f) for f in off] for t in late])
    row, column = np.unravel_index(int(grid.argmax()), grid.shape)

    highest = float(grid.max())

    def loss(x: NDArray[np.float64]) -> float:
        return -blocks.likelihood(shift_s + float(x[0]) * 0.01, float(x[1])) / highest

    first = np.array([late[row] / 0.01, off[column]])
    best = minimize(
        loss,
        first,
        method="Nelder-Mead",
        options={
            "initial_simplex": first + np.array([[0.0, 0.0], [0.2, 0.0], [0.0, 0.1]]),
            "xatol": 1e-3,
            "fatol": 1e-9,
            "maxiter": 200,
        },
    )
    late_s, off_hz = float(best.x[0]) * 0.01, float(best.x[1])
    return Placed(
        start_s=start_s + late_s,
        spread_s=_spread_s(blocks, shift_s + late_s, off_hz),
        audio_hz=audio_hz + off_hz,
    )


def _blocks(
    samples: NDArray[np.float32],
    sample_rate_hz: int,
    mode: Mode,
    message: Message,
    near: tuple[float, float],
) -> tuple[_Blocks, float]:
    """Both narrow bands, and the time of their first sample."""
    start_s, audio_hz = near
    sent = mode.modulate(mode.encode(message), sample_rate_hz=sample_rate_hz, audio_hz=audio_hz)
    n_pad = round(PAD_S * sample_rate_hz)
    first = round(start_s * sample_rate_hz) - n_pad
    n_needed = sent.size + 2 * n_pad
    n_fft = scipy.fft.next_fast_len(n_needed)
    heard = np.zeros(n_fft)
    inside = samples[max(first, 0) : max(first + n_needed, 0)]
    heard[max(-first, 0) : max(-first, 0) + inside.size] = inside
    bin_hz = sample_rate_hz / n_fft
    half = math.ceil((mode.facts.width_hz / 2.0 + BAND_MARGIN_HZ) / bin_hz)
    centre = round((audio_hz + mode.facts.width_hz / 2.0) / bin_hz)
    kept = np.arange(centre - half, centre + half)
    heard_bins = scipy.fft.fft(heard)[kept % n_fft]
    sent_bins = scipy.fft.fft(sent, n_fft)[kept % n_fft]
    order = np.fft.ifftshift(np.arange(2 * half))
    return (
        _Blocks(
            scipy.fft.ifft(heard_bins[order]),
            sent_bins[order],
            np.asarray(kept[order] * bin_hz, np.float64),
            2 * half * bin_hz,
        ),
        first / sample_rate_hz,
    )


def _spread_s(blocks: _Blocks, late_s: float, off_hz: float) -> float:
    """Standard deviation of the start, from the curvature of the likelihood."""
    at = blocks.likelihood(late_s, off_hz)
    around = [blocks.likelihood(late_s + step, off_hz) for step in (-CURVE_STEP_S, CURVE_STEP_S)]
    left = float(np.sum(np.abs(blocks.heard) ** 2)) - at
    noise = max(left, 1e-6 * at) / blocks.heard.size
    curvature = (2.0 * at - sum(around)) / CURVE_STEP_S**2 / noise
    # The likelihood of a complex amplitude is |y|^2 / noise, so no factor of two remains.
    return 1.0 / math.sqrt(curvature) if curvature > 0.0 else math.inf
