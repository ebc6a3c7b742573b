"""Loops that align narrow-band signals to their synchronisation blocks."""

import numpy as np
from numpy.typing import NDArray

from solidcopy.kernels.hot import hot


@hot
def sync_block_powers(
    baseband: NDArray[np.complex64],
    starts: NDArray[np.int64],
    symbol_offsets: NDArray[np.int64],
    probes: NDArray[np.complex64],
    rotations: NDArray[np.complex64],
    n_starts: int,
) -> NDArray[np.float32]:
    """Power of the synchronisation blocks, coherent within a block, summed over the blocks.

    With z(b, k) the sum over m of baseband[start + offset(b, k) + m * stride] * probe(b, k, m), the
    result is the sum over b of |sum over k of z(b, k) * rotation(k)|^2.

    Args:
        baseband: (n_samples,) complex64, long enough for every start.
        starts: (2,) the first start (a sample index) and the stride, in samples, between the
            samples that a probe takes.
        symbol_offsets: (n_blocks, n_per_block) samples from the start to each symbol.
        probes: (n_coarse, n_blocks, n_per_block, n_probe) conjugate tone of each symbol, for every
            coarse frequency error.
        rotations: (n_coarse, n_fine, n_per_block) turns back the phase that both errors together
            make from symbol to symbol.
        n_starts: number of starts tried, one sample apart.
    Returns: (n_coarse, n_fine, n_starts) float32.
    """
    n_blocks, n_per_block = symbol_offsets.shape
    n_coarse, _, _, n_probe = probes.shape
    n_fine = rotations.shape[1]
    first, stride = starts[0], starts[1]
    powers = np.zeros((n_coarse, n_fine, n_starts), np.float32)
    real = np.ascontiguousarray(baseband.real)
    imag = np.ascontiguousarray(baseband.imag)
    z_real = np.empty((n_per_block, n_starts), np.float32)
    z_imag = np.empty((n_per_block, n_starts), np.float32)
    sum_real = np.empty(n_starts, np.float32)
    sum_imag = np.empty(n_starts, np.float32)
    for coarse in range(n_coarse):
        for block in range(n_blocks):
            z_real[:] = np.float32(0.0)
            z_imag[:] = np.float32(0.0)
            for k in range(n_per_block):
                to_real, to_imag = z_real[k], z_imag[k]
                for m in range(n_probe):
                    at = first + symbol_offsets[block, k] + m * stride
                    p_real = probes[coarse, block, k, m].real
                    p_imag = probes[coarse, block, k, m].imag
                    # The innermost loop runs over starts, so the compiler can take several at
                    # once without changing the order of any sum.
                    y_real, y_imag = real[at : at + n_starts], imag[at : at + n_starts]
                    for start in range(n_starts):
                        to_real[start] += y_real[start] * p_real - y_imag[start] * p_imag
                        to_imag[start] += y_real[start] * p_imag + y_imag[start] * p_real
            for fine in range(n_fine):
                sum_real[:] = np.float32(0.0)
                sum_imag[:] = np.float32(0.0)
                for k in range(n_per_block):
                    r_real = rotations[coarse, fine, k].real
                    r_imag = rotations[coarse, fine, k].imag
                    for start in range(n_starts):
                        sum_real[start] += z_real[k, start] * r_real - z_imag[k, start] * r_imag
                        sum_imag[start] += z_real[k, start] * r_imag + z_imag[k, start] * r_real
                for start in range(n_starts):
                    powers[coarse, fine, start] += (
                        sum_real[start] * sum_real[start] + sum_imag[start] * sum_imag[start]
                    )
    return powers
