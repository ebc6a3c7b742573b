"""The amplitude of what is switched on and off along soft edges."""

import numpy as np
from numpy.typing import NDArray

from solidcopy.signals.waveform import Samples


def keyed_amplitude(
    edges_s: NDArray[np.float64], *, edge_s: float, n_samples: int, sample_rate_hz: float
) -> Samples:
    """Amplitude 0..1 that rises and falls in turn, each time along half a cosine.

    Args:
        edges_s: (n_edges,) ascending, up, down, up...; each is at half amplitude on its time.
        edge_s: length of a rise or fall, at most the distance between edges.
        n_samples, sample_rate_hz: of the slot; edges may lie outside it.
    Returns: (n_samples,).
    """
    first = np.ceil((edges_s - edge_s / 2.0) * sample_rate_hz).astype(np.int64)
    steps = np.arange(int(np.ceil(edge_s * sample_rate_hz)) + 1)
    into_edge = (first[:, None] + steps) / (sample_rate_hz * edge_s)
    into_edge -= (edges_s / edge_s - 0.5)[:, None]
    risen = 0.5 - 0.5 * np.cos(np.pi * np.clip(into_edge, 0.0, 1.0))
    growth = np.diff(risen, axis=1, prepend=0.0)
    growth[1::2] *= -1.0
    place = np.clip(first[:, None] + steps, 0, n_samples)
    per_sample = np.bincount(place.ravel(), weights=growth.ravel(), minlength=n_samples + 1)
    amplitude: Samples = np.cumsum(per_sample[:n_samples])
    return amplitude
