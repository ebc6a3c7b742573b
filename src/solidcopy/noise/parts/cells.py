"""Power of short moments at each frequency: where impulses are looked for."""

import math
from dataclasses import dataclass

import numpy as np
import scipy.fft
from numpy.lib.stride_tricks import sliding_window_view
from numpy.typing import NDArray

from solidcopy.noise.features.figure import FloatArray
from solidcopy.signals.power import AnySamples

WIDTHS_PER_FRAME = 10.0
"""A frame lasts so many times 1 / bandwidth: enough cells across it to tell broad from narrow."""
FRAME_LIMITS_S = (0.002, 0.03)
N_OVERLAPS = 4
"""Frames begin every quarter of a frame; squared Hann windows then add up to a constant."""
EDGE_BINS = 0.25
"""A bin whose middle is so little outside a band still counts."""
BATCH_FRAMES = 1 << 15


@dataclass(frozen=True, slots=True, eq=False)
class Cells:
    """Short-time spectra within the passband."""

    powers: NDArray[np.float32]
    """(n_frames, n_bins); the sum over all frames and bins over n_frames is the mean power within
    the bins, but for the ends of the recording."""
    centres_s: FloatArray
    """(n_frames,)."""
    bins_hz: FloatArray
    """(n_bins,) their middles."""
    frame_s: float
    hop_s: float

    @property
    def bin_hz(self) -> float:
        """From bin to bin."""
        return 1.0 / self.frame_s


def cut_cells(
    samples: AnySamples, *, sample_rate_hz: float, band_hz: tuple[float, float], mean: float = 0.0
) -> Cells:
    """Quarter-overlapping Hann frames of a recording within a band.

    Args:
        samples: (n_samples,) real.
        band_hz: bins whose middles lie inside, or next to it, are kept, at least one.
        mean: taken off first.
    Source: derived here (Parseval's relation frame by frame).
    """
    width_hz = band_hz[1] - band_hz[0]
    frame_s = min(max(WIDTHS_PER_FRAME / width_hz, FRAME_LIMITS_S[0]), FRAME_LIMITS_S[1])
    n_hop = max(1, round(frame_s * sample_rate_hz / N_OVERLAPS))
    n_frame = N_OVERLAPS * n_hop
    bin_hz = sample_rate_hz / n_frame
    first = max(1, math.ceil(band_hz[0] / bin_hz - EDGE_BINS))
    last = min(max(first, math.floor(band_hz[1] / bin_hz + EDGE_BINS)), n_frame // 2 - 1)
    window = 0.5 - 0.5 * np.cos(2.0 * math.pi * np.arange(n_frame) / n_frame)
    scale = 2.0 / (n_frame * float(np.square(window).sum()))
    n_frames = (samples.size - n_frame) // n_hop + 1
    powers = np.empty((n_frames, last - first + 1), dtype=np.float32)
    for start in range(0, n_frames, BATCH_FRAMES):
        stop = min(start + BATCH_FRAMES, n_frames)
        part = samples[start * n_hop : (stop - 1) * n_hop + n_frame].astype(np.float64) - mean
        frames = sliding_window_view(part, n_frame)[::n_hop] * window
        kept = scipy.fft.rfft(frames, axis=1)[:, first : last + 1]
        powers[start:stop] = scale * (np.square(kept.real) + np.square(kept.imag))
    return Cells(
        powers=powers,
        centres_s=(np.arange(n_frames, dtype=np.float64) * n_hop + n_frame / 2.0) / sample_rate_hz,
        bins_hz=bin_hz * np.arange(first, last + 1, dtype=np.float64),
        frame_s=n_frame / sample_rate_hz,
        hop_s=n_hop / sample_rate_hz,
    )
