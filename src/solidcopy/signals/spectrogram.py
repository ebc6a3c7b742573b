"""Power over time and frequency, from squared short transforms."""

import numpy as np
import scipy.fft
import scipy.signal
from numpy.typing import NDArray

from solidcopy.signals.power import AnySamples


def power_densities(
    samples: AnySamples,
    *,
    sample_rate_hz: float,
    n_window: int,
    n_hop: int,
    n_transform: int | None = None,
) -> NDArray[np.float64]:
    """One-sided power density of windows (Hann) along the samples.

    Args:
        samples: (n_samples,) real, at least one window long.
        sample_rate_hz: of the samples.
        n_window: length of a window.
        n_hop: from window to window; the first begins with the first sample.
        n_transform: a longer one puts points between those that a window tells apart.
    Returns: (n_windows, n_bins) mean square per Hz; bin k lies at k * sample_rate_hz /
        n_transform. Of white noise the mean over windows is its density.
    Source: textbook (periodogram of windowed samples).
    """
    window = scipy.signal.get_window("hann", n_window)
    frames = np.lib.stride_tricks.sliding_window_view(samples, n_window)[::n_hop]
    transforms = scipy.fft.rfft(frames * window, n_transform or n_window, axis=1)
    densities: NDArray[np.float64] = np.square(transforms.real) + np.square(transforms.imag)
    densities *= 2.0 / (sample_rate_hz * float(window @ window))
    return densities
