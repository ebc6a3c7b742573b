"""Slow wander of an oscillator's frequency: a mains frequency, a warming supply, a loose clock."""

import math

import numpy as np
from numpy.typing import NDArray

from solidcopy.impairments.impairment import Scene

NODES_PER_MEMORY = 100
"""Nodes of the walk in one memory time; between them it is a smooth curve."""
MIN_NODES = 64
"""So a memory much longer than the slot still has a curve to follow."""


def wander_cycles(
    *,
    rms_hz: float,
    memory_s: float,
    n_samples: int,
    sample_rate_hz: float,
    generator: np.random.Generator,
) -> NDArray[np.float64]:
    """Phase that a wandering frequency adds.

    A stationary Gaussian walk that forgets itself exponentially (Ornstein and Uhlenbeck's), taken
    at nodes and joined by a cubic spline, whose integral is exact.

    Args:
        rms_hz: standard deviation of the frequency, from slot to slot and within one.
        memory_s: time in which its autocorrelation falls to 37 %.
        n_samples, sample_rate_hz: of the slot.
        generator: one normal draw for each node.
    Returns: cycles, (n_samples,), 0 at the first sample.
    Source: derived here.
    """
    # Here and not above: these imports take longer than all others of a worker together.
    from scipy.interpolate import CubicSpline  # noqa: PLC0415
    from scipy.signal import lfilter  # noqa: PLC0415

    duration_s = n_samples / sample_rate_hz
    n_nodes = max(math.ceil(NODES_PER_MEMORY * duration_s / memory_s), MIN_NODES) + 1
    step_s = duration_s / (n_nodes - 1)
    kept = math.exp(-step_s / memory_s)
    draws = generator.standard_normal(n_nodes)
    draws[1:] *= math.sqrt(1.0 - kept * kept)
    walk = rms_hz * lfilter([1.0], [1.0, -kept], draws)
    curve = CubicSpline(step_s * np.arange(n_nodes), walk)
    cycles: NDArray[np.float64] = curve.antiderivative()(np.arange(n_samples) / sample_rate_hz)
    return cycles


def drift_turns(
    *,
    drift_hz_per_s: float,
    wander_hz: float,
    memory_s: float,
    scene: Scene,
    generator: np.random.Generator,
) -> NDArray[np.complex128]:
    """Phase factors of a frequency that drifts and wanders, (n_samples,) of unit magnitude.

    Args:
        drift_hz_per_s: steady; it passes 0 Hz in the middle of the slot.
        wander_hz, memory_s: standard deviation and memory of a walk; nothing is drawn if 0.
    """
    from_middle_s = np.arange(scene.n_samples) / scene.sample_rate_hz - scene.duration_s / 2.0
    cycles = 0.5 * drift_hz_per_s * np.square(from_middle_s)
    if wander_hz > 0.0:
        cycles += wander_cycles(
            rms_hz=wander_hz,
            memory_s=memory_s,
            n_samples=scene.n_samples,
            sample_rate_hz=scene.sample_rate_hz,
            generator=generator,
        )
    cycles *= 2.0 * math.pi
    turns = np.empty(cycles.size, dtype=np.complex128)
    turns.real = np.cos(cycles)
    turns.imag = np.sin(cycles)
    return turns
