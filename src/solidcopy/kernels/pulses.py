"""Add many copies of a pulse at places between the samples."""

import numpy as np
from numpy.typing import NDArray

from solidcopy.kernels.hot import hot


@hot
def place_pulses(
    samples: NDArray[np.float64],
    in_phase: NDArray[np.float64],
    quadrature: NDArray[np.float64],
    starts: NDArray[np.float64],
    turns: NDArray[np.complex128],
) -> NDArray[np.float64]:
    """Add Re(turn * pulse(t - start)) to samples, for every pulse; parts outside are left out.

    Args:
        samples: (n_samples,) float64, added to in place.
        in_phase, quadrature: (n_phases + 1, n_length) float64, real and imaginary part of the
            pulse: row k begins k / n_phases of a sample after the pulse's start. Between rows
            the pulse is interpolated along a straight line.
        starts: (n_pulses,) float64, in samples, may lie before the first.
        turns: (n_pulses,) complex128, amplitude and phase of each pulse.
    Returns: (n_pulses,) float64, the sum of squares that each pulse alone adds.
    """
    n_phases, n_length = in_phase.shape[0] - 1, in_phase.shape[1]
    energies = np.zeros(starts.size)
    for i in range(starts.size):
        first = int(np.ceil(starts[i]))
        fine = (first - starts[i]) * n_phases
        row = min(int(fine), n_phases - 1)
        blend = fine - row
        real, imaginary = turns[i].real, turns[i].imag
        energy = 0.0
        for j in range(max(0, -first), min(n_length, samples.size - first)):
            i_value = in_phase[row, j] + blend * (in_phase[row + 1, j] - in_phase[row, j])
            q_value = quadrature[row, j] + blend * (quadrature[row + 1, j] - quadrature[row, j])
            value = real * i_value - imaginary * q_value
            samples[first + j] += value
            energy += value * value
        energies[i] = energy
    return energies
