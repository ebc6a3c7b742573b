"""Soft bits from blocks of symbols whose common phase is unknown."""

import numpy as np
from numpy.typing import NDArray

from solidcopy.kernels.hot import hot

Sums = NDArray[np.float32]
Symbols = NDArray[np.int64]


@hot
def sequence_sums(
    spectra: NDArray[np.complex64], symbols: Symbols, known_tones: Symbols
) -> tuple[Sums, Sums]:
    """Sums of cells over every sequence of tones of a few symbols.

    Args:
        spectra: (n_symbols, n_tones) complex64, one column per tone.
        symbols: (n,) symbol numbers.
        known_tones: (n_symbols,) the tone of a synchronisation symbol, -1 for data.
    Returns: real and imaginary parts, each (n_sequences,) float32, the last symbol's tone varying
        fastest. A symbol whose tone is known takes that tone only.
    """
    n_tones = spectra.shape[1]
    real = np.zeros(1, np.float32)
    imag = np.zeros(1, np.float32)
    for symbol in symbols:
        low = known_tones[symbol] if known_tones[symbol] >= 0 else 0
        n_choices = 1 if known_tones[symbol] >= 0 else n_tones
        longer_real = np.empty(real.size * n_choices, np.float32)
        longer_imag = np.empty(real.size * n_choices, np.float32)
        for prefix in range(real.size):
            for choice in range(n_choices):
                cell = spectra[symbol, low + choice]
                longer_real[prefix * n_choices + choice] = real[prefix] + cell.real
                longer_imag[prefix * n_choices + choice] = imag[prefix] + cell.imag
        real, imag = longer_real, longer_imag
    return real, imag


@hot
def strongest_blocks(
    spectra: NDArray[np.complex64],
    blocks: NDArray[np.int64],
    known_tones: Symbols,
    turns: NDArray[np.complex64],
) -> NDArray[np.float32]:
    """Power of the strongest sequence of every block, added up, for several frequency errors.

    Args:
        spectra: (n_symbols, n_tones) complex64.
        blocks: (n_blocks, n) symbol numbers.
        known_tones: (n_symbols,) the tone of a synchronisation symbol, -1 for data.
        turns: (n_errors, n_symbols) what turns a frequency error's phases back.
    Returns: (n_errors,) float32: sum over blocks of the highest |c(1, t1) + ... + c(n, tn)|^2.
    """
    n_members = blocks.shape[1]
    totals = np.zeros(turns.shape[0], np.float32)
    turned = np.empty_like(spectra)
    for error in range(turns.shape[0]):
        for symbol in range(spectra.shape[0]):
            for tone in range(spectra.shape[1]):
                turned[symbol, tone] = spectra[symbol, tone] * turns[error, symbol]
        for block in range(blocks.shape[0]):
            left = sequence_sums(turned, blocks[block, : n_members // 2], known_tones)
            right = sequence_sums(turned, blocks[block, n_members // 2 :], known_tones)
            highest = np.float32(0.0)
            for i in range(left[0].size):
                for j in range(right[0].size):
                    real = left[0][i] + right[0][j]
                    imag = left[1][i] + right[1][j]
                    highest = max(highest, real * real + imag * imag)
            totals[error] += highest
    return totals


@hot
def _best_by_tone(
    weights: Sums, symbols: Symbols, known_tones: Symbols, best: NDArray[np.float32]
) -> None:
    """Highest weight with every tone of every symbol; 0 for tones that a symbol cannot have.

    Args:
        weights: (n_sequences,) in the order of `sequence_sums`.
        symbols: (n,) symbol numbers.
        known_tones: (n_symbols,).
        best: (n, n_tones) float32, overwritten.
    """
    n_tones = best.shape[1]
    best[:] = np.float32(0.0)
    for place in range(weights.size):
        rest = place
        for member in range(symbols.size - 1, -1, -1):
            tone = known_tones[symbols[member]]
            if tone < 0:
                tone = rest % n_tones
                rest //= n_tones
            best[member, tone] = max(best[member, tone], weights[place])


@hot
def block_bit_metrics(
    spectra: NDArray[np.complex64],
    blocks: NDArray[np.int64],
    known_tones: Symbols,
    bits_of_tone: NDArray[np.uint8],
    first_bits: NDArray[np.int64],
    metrics: NDArray[np.float32],
) -> NDArray[np.float32]:
    """Bit metrics, max-log: weight of a block's best sequence with a bit 0 less that with a 1.

    A block of n symbols is tried with all sequences of tones t1..tn. Its phase is unknown but
    common, so a sequence is judged by v = |c(1, t1) + ... + c(n, tn)|. The logarithm of its
    likelihood grows with v where the amplitude is steady (ln I0 for large arguments) and with
    v^2 where the amplitude fades from block to block (Rayleigh): both metrics are given. Scale is
    arbitrary: what follows (normalised min-sum, ordered statistics) does not depend on it. The
    sums of a block's two halves are made once, so a sequence costs one addition. Derived here.

    Args:
        spectra: (n_symbols, n_tones) complex64, one column per tone.
        blocks: (n_blocks, n) symbol numbers; n_tones ** n sequences are tried.
        known_tones: (n_symbols,) the tone of a synchronisation symbol, -1 for data.
        bits_of_tone: (n_tones, n_bits_per_symbol) uint8.
        first_bits: (n_symbols,) place of a symbol's first bit in the codeword, -1 if it has none.
        metrics: (2, n_codeword_bits) float32, overwritten; positive means 0 is likelier. Row 0
            is for steady amplitude, row 1 for fading.
    Returns: `metrics`.
    """
    n_blocks, n_members = blocks.shape
    n_left = n_members // 2
    best = np.empty((n_members, spectra.shape[1]), np.float32)
    for block in range(n_blocks):
        symbols = blocks[block]
        left_real, left_imag = sequence_sums(spectra, symbols[:n_left], known_tones)
        right_real, right_imag = sequence_sums(spectra, symbols[n_left:], known_tones)
        of_left = np.zeros(left_real.size, np.float32)
        of_right = np.zeros(right_real.size, np.float32)
        for i in range(of_left.size):
            highest = np.float32(0.0)
            for j in range(of_right.size):
                real = left_real[i] + right_real[j]
                imag = left_imag[i] + right_imag[j]
                weight = real * real + imag * imag
                highest = max(highest, weight)
                of_right[j] = max(of_right[j], weight)
            of_left[i] = highest
        _best_by_tone(of_left, symbols[:n_left], known_tones, best[:n_left])
        _best_by_tone(of_right, symbols[n_left:], known_tones, best[n_left:])
        for member in range(n_members):
            first = first_bits[symbols[member]]
            if first < 0:
                continue
            for bit in range(bits_of_tone.shape[1]):
                zero, unit = np.float32(0.0), np.float32(0.0)
                for tone in range(best.shape[1]):
                    if bits_of_tone[tone, bit] == 0:
                        zero = max(zero, best[member, tone])
                    else:
                        unit = max(unit, best[member, tone])
                # The root is monotonic, so it may wait until after the maximum.
                metrics[0, first + bit] = np.sqrt(zero) - np.sqrt(unit)
                metrics[1, first + bit] = zero - unit
    return metrics
