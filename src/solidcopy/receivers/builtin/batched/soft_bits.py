"""Blocks of symbols with one unknown phase, of many places (see `kernels.block_metrics`)."""

import numpy as np
from numpy.typing import NDArray

from solidcopy.receivers.builtin.batched.arrays import Array, Namespace, on_host
from solidcopy.receivers.builtin.framing import Framing, blocks_of
from solidcopy.receivers.builtin.locate import Strengths, sharpening_of

N_AT_ONCE = 2**25
"""Sequences of tones tried together: three arrays of 128 MB."""


def soft_bits(xp: Namespace, spectra: Array, framing: Framing) -> Array:
    """All sets of soft bits of every place.

    Args:
        xp: the namespace.
        spectra: (n_places, n_symbols, n_tones) complex64.
        framing: the mode's layout.
    Returns: (n_places, n_sets, n_bits) float32, in the order of `words.soft_bits`.
    """
    n_places, _, n_tones = spectra.shape
    sets = []
    for length in framing.block_lengths:
        n_sequences = framing.data_symbols.size * n_tones**length
        n_at_once = max(1, N_AT_ONCE // n_sequences)
        best = xp.concatenate(
            [
                _best_by_tone(xp, spectra[first : first + n_at_once], framing, length)
                for first in range(0, max(n_places, 1), n_at_once)
            ]
        )
        sets += [_bits(xp, xp.sqrt(best), framing), _bits(xp, best, framing)]
    return xp.stack(sets, axis=1)


def block_strengths(xp: Namespace, spectra: Array, framing: Framing) -> list[Strengths | None]:
    """For every place what `locate.block_strengths` says.

    Args:
        xp: the namespace.
        spectra: (n_places, n_symbols, n_tones) complex64.
        framing: the mode's layout.
    """
    sharpening = sharpening_of(framing)
    n_places, _, n_tones = spectra.shape
    if sharpening is None:
        return [None] * n_places
    n_blocks, length = sharpening.blocks.shape
    n_at_once = max(1, N_AT_ONCE // (n_blocks * n_tones**length))
    found = xp.empty((n_places, sharpening.errors_hz.size), xp.float32)
    for number, turns in enumerate(sharpening.turns):
        turned = spectra * xp.asarray(turns)[:, None]
        for first in range(0, n_places, n_at_once):
            part = slice(first, first + n_at_once)
            weights = _weights(xp, turned[part], framing, sharpening.blocks)
            found[part, number] = weights.max(axis=2).sum(axis=1)
    return list(on_host(found))


def _best_by_tone(xp: Namespace, spectra: Array, framing: Framing, length: int) -> Array:
    """(n_places, n_data, n_tones) power of the best sequence of its block with each tone."""
    n_places, _, n_tones = spectra.shape
    blocks = blocks_of(framing.data_symbols, length)
    n_blocks = blocks.shape[0]
    weights = _weights(xp, spectra, framing, blocks)
    weights = weights.reshape(n_places, n_blocks, *(n_tones,) * length)
    best = xp.stack(
        [
            weights.max(axis=tuple(2 + other for other in range(length) if other != member))
            for member in range(length)
        ],
        axis=2,
    ).reshape(n_places, n_blocks * length, n_tones)
    is_data = framing.known_tones[blocks.ravel()] < 0
    return best[:, xp.asarray(np.flatnonzero(is_data))]


def _weights(xp: Namespace, spectra: Array, framing: Framing, blocks: NDArray[np.int64]) -> Array:
    """(n_places, n_blocks, n_sequences) powers of all sequences of tones of blocks, the last
    symbol's tone varying fastest; 0 for one that a symbol cannot have."""
    (n_places, _, n_tones), n_blocks = spectra.shape, blocks.shape[0]
    is_possible = np.ones((n_blocks, 1), np.bool_)
    real = imag = xp.zeros((n_places, n_blocks, 1), xp.float32)
    for member in blocks.T:
        known = framing.known_tones[member][:, None]
        may_be = (known < 0) | (known == np.arange(n_tones))
        is_possible = (is_possible[:, :, None] & may_be[:, None, :]).reshape(n_blocks, -1)
        cells = spectra[:, xp.asarray(member), None, :]
        real = (real[..., None] + cells.real).reshape(n_places, n_blocks, -1)
        imag = (imag[..., None] + cells.imag).reshape(n_places, n_blocks, -1)
    weights = xp.square(real) + xp.square(imag)
    weights *= xp.asarray(is_possible)
    return weights


def _bits(xp: Namespace, best: Array, framing: Framing) -> Array:
    """(n_places, n_bits) weight of the best tone with a bit 0 less that with a 1."""
    columns = []
    for is_one in framing.bits_of_tone.T > 0:
        zero = best[:, :, xp.asarray(np.flatnonzero(~is_one))].max(axis=2)
        columns.append(zero - best[:, :, xp.asarray(np.flatnonzero(is_one))].max(axis=2))
    return xp.stack(columns, axis=2).reshape(best.shape[0], -1)
