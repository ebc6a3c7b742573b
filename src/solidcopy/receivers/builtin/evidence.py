"""How many bits of evidence a recording holds for a word: the gate against false decodes.

information = log2 p(cells | word) - log2 p(cells | any sequence of data tones), both with the
synchronisation tones as sent. How the path treats phase and amplitude is unknown, so p is taken
for each of a bank of paths: steady amplitude with a phase that walks in small, medium or large
steps or has no memory at all, and Rayleigh fading, constant over blocks of 1, 2 or 3 symbols. The
highest figure counts, less log2 of the bank's size, the price of having chosen: on cells that
follow one of the paths, a given word that was not sent reaches g bits with a probability of at
most 2**-g (Markov's bound). A word chosen among 2**77 must show more than 77 bits to be likelier
than not; a right word shows at most the 174 bits of its code (derived here).
"""

import numpy as np
from numpy.typing import NDArray

from solidcopy.kernels.phase_walk import walk_log_likelihood
from solidcopy.modes.mode import Tones
from solidcopy.receivers.builtin.framing import Framing, blocks_of

N_PHASES = 32
STEP_SIZES_RAD = (0.1, 0.3, 0.8)
"""Standard deviations of the phase step from symbol to symbol; one without memory is added."""
FADING_BLOCK_LENGTHS = (1, 2, 3)
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
    """Probabilities (N_PHASES,) of a move on the ring of phases, for every step size."""
    moves = np.arange(N_PHASES)
    distance_rad = 2.0 * np.pi * np.minimum(moves, N_PHASES - moves) / N_PHASES
    bank = [np.exp(-0.5 * (distance_rad / size) ** 2) for size in STEP_SIZES_RAD]
    bank.append(np.ones(N_PHASES))
    return [np.where(step > 1e-9, step, 0.0) / step.sum() for step in bank]


def _steady_logs(
    spectra: NDArray[np.complex64], tones: Tones, framing: Framing, *, es_n0: float
) -> tuple[list[float], list[float]]:
    """Steady amplitude, walking phase: ln p of the word and of any word, over p of noise alone.

    A cell c of noise power 1 that holds a tone of amplitude a and phase q is exp(2 a Re(c exp(-jq))
    - a^2) times as likely as one that holds noise alone.
    """
    amplitude = np.sqrt(es_n0)
    phases = np.exp(2j * np.pi * np.arange(N_PHASES) / N_PHASES)
    exponents = 2.0 * amplitude * (spectra[..., None] * phases.conj()).real - es_n0
    highest = exponents.max(axis=(1, 2))
    weights = np.exp(exponents - highest[:, None, None])
    symbols = np.arange(tones.size)
    is_known = framing.known_tones >= 0
    any_tone = weights.mean(axis=1)
    any_tone[is_known] = weights[is_known, framing.known_tones[is_known]]
    offset = float(highest.sum())
    bank = _step_bank()
    of_word = [walk_log_likelihood(weights[symbols, tones], step) + offset for step in bank]
    of_any = [walk_log_likelihood(any_tone, step) + offset for step in bank]
    return of_word, of_any


def _fading_logs(
    spectra: NDArray[np.complex64], tones: Tones, framing: Framing, *, es_n0: float
) -> tuple[list[float], list[float]]:
    """Rayleigh fading by blocks: ln p of the word and of any word, over p of noise alone.

    With v the sum of a block's n cells, |v|^2 / n is exponential with mean 1 + n Es/N0 if they
    hold the tones, with mean 1 if not. Synchronisation symbols outside the data's blocks count
    as single ones.
    """
    is_known = framing.known_tones >= 0
    symbols = np.arange(tones.size)
    own = spectra[symbols, tones]
    sync_log = float(_fading_log(own[is_known], 1, es_n0).sum())
    of_word, of_any = [], []
    for length in FADING_BLOCK_LENGTHS:
        blocks = blocks_of(framing.data_symbols, length)
        of_word.append(sync_log + float(_fading_log(own[blocks].sum(axis=1), length, es_n0).sum()))
        sums = np.zeros((blocks.shape[0], 1), np.complex64)
        is_possible = np.ones((blocks.shape[0], 1), np.bool_)
        for member in blocks.T:
            known = framing.known_tones[member][:, None]
            may_be = (known < 0) | (known == np.arange(spectra.shape[1]))
            sums = (sums[:, :, None] + spectra[member][:, None, :]).reshape(blocks.shape[0], -1)
            is_possible = (is_possible[:, :, None] & may_be[:, None, :]).reshape(sums.shape)
        logs = np.where(is_possible, _fading_log(sums, length, es_n0), -np.inf)
        means = np.logaddexp.reduce(logs, axis=1) - np.log(is_possible.sum(axis=1))
        of_any.append(sync_log + float(means.sum()))
    return of_word, of_any


def _fading_log(sums: NDArray[np.complex64], n_cells: int, es_n0: float) -> NDArray[np.float64]:
    """ln of the ratio of the two exponential densities in `_fading_logs`."""
    gain = n_cells * es_n0
    powers = np.abs(sums).astype(np.float64) ** 2 / n_cells
    return np.asarray(powers * gain / (1.0 + gain) - np.log1p(gain))


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
    symbols = np.arange(tones.size)
    energy = min(es_n0, HIGHEST_ES_N0)
    error_hz = residual_hz(spectra[symbols, tones], framing.facts.symbol_s)
    turns = error_hz * framing.facts.symbol_s * symbols
    straight = (spectra * np.exp(-2j * np.pi * turns)[:, None]).astype(np.complex64)
    steady_word, steady_any = _steady_logs(straight, tones, framing, es_n0=energy)
    fading_word, fading_any = _fading_logs(straight, tones, framing, es_n0=energy)
    of_word = np.array([*steady_word, *fading_word])
    of_any = np.array([*steady_any, *fading_any])
    return float(np.max(of_word - of_any) / np.log(2.0) - np.log2(of_word.size))
