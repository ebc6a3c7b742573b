"""Soft bits from blocks of symbols whose common phase is unknown."""

import numpy as np
from numpy.typing import NDArray

from solidcopy.kernels.hot import hot


@hot
def block_bit_metrics(
    spectra: NDArray[np.complex64],
    blocks: NDArray[np.int64],
    known_tones: NDArray[np.int64],
    bits_of_tone: NDArray[np.uint8],
    first_bits: NDArray[np.int64],
    metrics: NDArray[np.float32],
) -> NDArray[np.float32]:
    """Bit metrics, max-log: weight of a block's best sequence with a bit 0 less that with a 1.

    A block of n symbols is tried with all sequences of tones t1..tn. Its phase is unknown but
    common, so a sequence is judged by v = |c(1, t1) + ... + c(n, tn)|. The logarithm of its
    likelihood grows with v where the amplitude is steady (ln I0 for large arguments) and with
    v^2 where the amplitude fades from block to block (Rayleigh): both metrics are given. A symbol
    whose tone is known takes that tone only. Scale is arbitrary: what follows (normalised
    min-sum, ordered statistics) does not depend on it. Derived here.

    Args:
        spectra: (n_symbols, n_tones) complex64, one column per tone.
        blocks: (n_blocks, n) symbol numbers; n is 1, 2 or 3.
        known_tones: (n_symbols,) the tone of a synchronisation symbol, -1 for data.
        bits_of_tone: (n_tones, n_bits_per_symbol) uint8.
        first_bits: (n_symbols,) place of a symbol's first bit in the codeword, -1 if it has none.
        metrics: (2, n_codeword_bits) float32, overwritten; positive means 0 is likelier. Row 0
            is for steady amplitude, row 1 for fading.
    Returns: `metrics`.
    """
    n_tones = spectra.shape[1]
    n_blocks, n_members = blocks.shape
    n_bits_per_symbol = bits_of_tone.shape[1]
    lowest = np.float32(-1e30)
    best = np.empty((n_members, n_tones), np.float32)
    one = np.zeros(1, np.complex64)
    for block in range(n_blocks):
        best[:] = lowest
        last = blocks[block, n_members - 1]
        low = known_tones[last] if known_tones[last] >= 0 else 0
        high = low + 1 if known_tones[last] >= 0 else n_tones
        n_before = n_tones ** (n_members - 1)
        for prefix in range(n_before):
            total = one[0]
            is_allowed = True
            rest = prefix
            for member in range(n_members - 2, -1, -1):
                tone = rest % n_tones
                rest //= n_tones
                symbol = blocks[block, member]
                is_allowed &= known_tones[symbol] < 0 or known_tones[symbol] == tone
                total += spectra[symbol, tone]
            if not is_allowed:
                continue
            highest = lowest
            for tone in range(low, high):
                real = total.real + spectra[last, tone].real
                imag = total.imag + spectra[last, tone].imag
                weight = real * real + imag * imag
                highest = max(highest, weight)
                best[n_members - 1, tone] = max(best[n_members - 1, tone], weight)
            rest = prefix
            for member in range(n_members - 2, -1, -1):
                tone = rest % n_tones
                rest //= n_tones
                best[member, tone] = max(best[member, tone], highest)
        for member in range(n_members):
            first = first_bits[blocks[block, member]]
            if first < 0:
                continue
            for bit in range(n_bits_per_symbol):
                zero, unit = np.float32(0.0), np.float32(0.0)
                for tone in range(n_tones):
                    if bits_of_tone[tone, bit] == 0:
                        zero = max(zero, best[member, tone])
                    else:
                        unit = max(unit, best[member, tone])
                # The root is monotonic, so it may wait until after the maximum.
                metrics[0, first + bit] = np.sqrt(zero) - np.sqrt(unit)
                metrics[1, first + bit] = zero - unit
    return metrics
