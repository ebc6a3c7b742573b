"""How many bits of evidence a recording holds for a word: the gate against false decodes.

information = log2 p(cells | word) - log2 p(cells | any sequence of data tones), both with the
synchronisation tones as sent and the carrier phase unknown. Phase is a random walk on a ring;
how large its steps are is unknown too, so p is the mean over a bank of step sizes whose last
member has no memory at all (non-coherent detection). A word chosen among 2**77 must show more
than 77 bits to be likelier than not; a right word at most the 174 bits of its code (derived here).
"""

import numpy as np
from numpy.typing import NDArray

from solidcopy.kernels.phase_walk import walk_log_likelihood
from solidcopy.modes.mode import Tones
from solidcopy.receivers.builtin.framing import Framing

N_PHASES = 32
STEP_SIZES_RAD = (0.1, 0.3, 0.8)
"""Standard deviations of the phase step from symbol to symbol; one without memory is added."""
LARGEST_ERROR_HZ = 0.6
N_TRANSFORM = 2048
HIGHEST_ES_N0 = 60.0
"""Beyond it a larger amplitude only makes rare cells more extreme; the answer is 174 bits."""


def residual_hz(own_cells: NDArray[np.complex64], symbol_s: float) -> float:
    """Frequency error at which the cells of a word add up best, within `LARGEST_ERROR_HZ`."""
    spectrum = np.abs(np.fft.fft(own_cells, N_TRANSFORM))
    errors_hz = np.fft.fftfreq(N_TRANSFORM, symbol_s)
    is_near = np.abs(errors_hz) <= LARGEST_ERROR_HZ
    return float(errors_hz[np.argmax(np.where(is_near, spectrum, -1.0))])


def _step_bank() -> list[NDArray[np.float64]]:
    """Probabilities (N_PHASES,) of a move on the ring of phases, for every member of the bank."""
    moves = np.arange(N_PHASES)
    distance_rad = 2.0 * np.pi * np.minimum(moves, N_PHASES - moves) / N_PHASES
    bank = [np.exp(-0.5 * (distance_rad / size) ** 2) for size in STEP_SIZES_RAD]
    bank.append(np.ones(N_PHASES))
    return [np.where(step > 1e-9, step, 0.0) / step.sum() for step in bank]


def _log_mean(log_values: list[float]) -> float:
    """Logarithm of the mean of values given by their logarithms."""
    return float(np.logaddexp.reduce(log_values)) - float(np.log(len(log_values)))


def information_bits(
    spectra: NDArray[np.complex64], tones: Tones, framing: Framing, *, es_n0: float
) -> float:
    """Evidence for a word, in bits.

    Args:
        spectra: (n_symbols, n_tones) with noise power 1 per cell.
        tones: (n_symbols,) the word's tones, synchronisation included.
        framing: the mode's layout.
        es_n0: energy per symbol over noise density.
    Returns: bits; below 77 the word is more likely wrong than right.
    """
    symbols = np.arange(framing.facts.n_symbols)
    amplitude = np.sqrt(min(es_n0, HIGHEST_ES_N0))
    error_hz = residual_hz(spectra[symbols, tones], framing.facts.symbol_s)
    straight = spectra * np.exp(-2j * np.pi * error_hz * framing.facts.symbol_s * symbols)[:, None]
    phases = np.exp(2j * np.pi * np.arange(N_PHASES) / N_PHASES)
    exponents = 2.0 * amplitude * (straight[..., None] * phases.conj()).real
    exponents -= exponents.max(axis=(1, 2), keepdims=True)
    weights = np.exp(exponents)
    known = framing.known_tones()
    is_known = known >= 0
    any_tone = weights.mean(axis=1)
    any_tone[is_known] = weights[symbols[is_known], known[is_known]]
    bank = _step_bank()
    of_word = [walk_log_likelihood(weights[symbols, tones], step) for step in bank]
    of_any = [walk_log_likelihood(any_tone, step) for step in bank]
    return (_log_mean(of_word) - _log_mean(of_any)) / float(np.log(2.0))
