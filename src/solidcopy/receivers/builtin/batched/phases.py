"""Recursions over the phases of many places at once (see `kernels.phase_trellis`,
`builtin.tracks`). The only loop left in the recursions is the one over symbols.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from solidcopy.kernels.phase_trellis import LEAST_TOTAL
from solidcopy.receivers.builtin import tracks
from solidcopy.receivers.builtin.batched.arrays import Array, Namespace, on_host
from solidcopy.receivers.builtin.framing import Framing
from solidcopy.receivers.builtin.locate import Located
from solidcopy.receivers.builtin.tracks import N_PHASES


@dataclass(frozen=True, slots=True, eq=False)
class Recursions:
    """The forward and backward recursions of one mode."""

    xp: Namespace
    framing: Framing

    def moves(self, steps_rad: Sequence[float]) -> Array:
        """(n_steps, n_phases, n_phases) float32: entry (i, j) moves phase i to phase j."""
        places = np.arange(N_PHASES)
        by = (places[None, :] - places[:, None]) % N_PHASES
        return self.xp.asarray(
            np.stack([tracks.step_probabilities(step)[by] for step in steps_rad])
        )

    def likelihoods(
        self, places: Sequence[Located], errors_hz: NDArray[np.float64]
    ) -> tuple[Array, NDArray[np.float64]]:
        """Cells of places, each with one frequency error.

        Returns: (n, n_symbols, n_tones, n_phases) float32 as in `Track`, and the logarithms (n,)
            that were left out of them.
        """
        xp, facts = self.xp, self.framing.facts
        es_n0 = np.array([min(place.es_n0, tracks.HIGHEST_ES_N0) for place in places])
        turns = np.outer(errors_hz, facts.symbol_s * np.arange(facts.n_symbols))
        turned = 2.0 * np.sqrt(es_n0)[:, None] * np.exp(-2j * np.pi * turns)
        spectra = xp.asarray(np.stack([place.spectra for place in places]))
        straight = (spectra * xp.asarray(turned)[:, :, None]).astype(xp.complex64)
        phases = np.exp(2j * np.pi * np.arange(N_PHASES) / N_PHASES).astype(np.complex64)
        exponents = straight.real[..., None] * xp.asarray(phases.real)
        exponents += straight.imag[..., None] * xp.asarray(phases.imag)
        highest = exponents.max(axis=(2, 3))
        exponents -= highest[:, :, None, None]
        likelihoods = xp.exp(exponents)
        xp.maximum(likelihoods, xp.float32(tracks.LEAST_LIKELIHOOD), out=likelihoods)
        return likelihoods, on_host(highest.sum(axis=1, dtype=xp.float64)) - es_n0 * facts.n_symbols

    def track_logs(
        self, places: Sequence[Located], errors_hz: NDArray[np.float64], steps_rad: Sequence[float]
    ) -> NDArray[np.float64]:
        """(n_steps, n_places) logarithms as in `Track`."""
        likelihoods, left_out = self.likelihoods(places, errors_hz)
        priors = self.xp.asarray(tracks.even_priors(self.framing))[None]
        _, logs = self.forward(self.merged(likelihoods, priors), self.moves(steps_rad))
        return on_host(logs) + left_out

    def forward(self, merged: Array, moves: Array) -> tuple[Array, Array]:
        """Probability of every phase at every symbol and of all symbols before it.

        Args:
            merged: (n_symbols, n_steps or 1, n, n_phases) likelihoods with the tones' priors.
            moves: (n_steps, n_phases, n_phases).
        Returns: (n_symbols, n_steps, n, n_phases), and (n_steps, n) ln of the probability of all.
        """
        xp, n_symbols = self.xp, merged.shape[0]
        shape = (moves.shape[0], merged.shape[2], N_PHASES)
        before = xp.empty((n_symbols, *shape), xp.float32)
        totals = xp.empty((n_symbols, *shape[:2], 1), xp.float32)
        belief = xp.full(shape, 1.0 / N_PHASES, xp.float32)
        for symbol in range(n_symbols):
            before[symbol] = belief
            product = belief * merged[symbol]
            total = xp.maximum(product.sum(axis=-1, keepdims=True), LEAST_TOTAL)
            totals[symbol] = total
            product /= total
            belief = xp.matmul(product, moves)
        return before, xp.log(totals[..., 0]).astype(xp.float64).sum(axis=0)

    def backward(self, merged: Array, moves: Array) -> Array:
        """(n_symbols, n_steps, n, n_phases): relative probability of all symbols after it."""
        xp, n_symbols = self.xp, merged.shape[0]
        back = xp.ascontiguousarray(moves.transpose(0, 2, 1))
        shape = (moves.shape[0], merged.shape[2], N_PHASES)
        after = xp.empty((n_symbols, *shape), xp.float32)
        belief = xp.ones(shape, xp.float32)
        for symbol in range(n_symbols - 1, -1, -1):
            after[symbol] = belief
            product = belief * merged[symbol]
            product /= LEAST_TOTAL + product.sum(axis=-1, keepdims=True)
            belief = xp.matmul(product, back)
        return after

    def merged(self, likelihoods: Array, priors: Array) -> Array:
        """(n_symbols, 1, n, n_phases) likelihoods, tones weighed by priors (n or 1, n_symbols,
        n_tones)."""
        of_tones = self.xp.matmul(priors[:, :, None, :], likelihoods)
        return self.xp.ascontiguousarray(of_tones.transpose(1, 2, 0, 3))

    def word_logs(self, likelihoods: Array, moves: Array, words: Array) -> NDArray[np.float64]:
        """Logarithms of words on the tracks of their place, as `tone_log_likelihoods`.

        Args:
            likelihoods: (n, n_symbols, n_tones, n_phases).
            moves: (n * n_tracks, n_phases, n_phases).
            words: (n, n_words, n_bits) uint8.
        Returns: (n, n_tracks, n_words).
        """
        xp, (n, n_words, _) = self.xp, words.shape
        moves = moves.reshape(n, -1, N_PHASES, N_PHASES)
        tones = self._tones_of(words)
        places = xp.arange(n)[:, None]
        belief = xp.full((n, moves.shape[1], n_words, N_PHASES), 1.0 / N_PHASES, xp.float32)
        logs = xp.zeros(belief.shape[:3], xp.float64)
        for symbol in range(likelihoods.shape[1]):
            own = likelihoods[places, symbol, tones[:, :, symbol]]
            product = belief * own[:, None]
            total = xp.maximum(product.sum(axis=-1, keepdims=True), LEAST_TOTAL)
            logs += xp.log(total[..., 0])
            product /= total
            belief = xp.matmul(product, moves)
        return on_host(logs)

    def _tones_of(self, words: Array) -> Array:
        """(..., n_symbols), as `Framing.tones_of`."""
        xp, framing = self.xp, self.framing
        n_each = framing.bits_of_tone.shape[1]
        weights = 1 << np.arange(n_each - 1, -1, -1)
        tone_of_value = xp.asarray(np.argsort(framing.bits_of_tone @ weights))
        bits = words.reshape(*words.shape[:-1], -1, n_each)
        values = sum(bits[..., k].astype(xp.int64) * int(weights[k]) for k in range(n_each))
        tones = xp.empty((*words.shape[:-1], framing.known_tones.size), xp.int64)
        tones[...] = xp.asarray(framing.known_tones)
        tones[..., xp.asarray(framing.data_symbols)] = tone_of_value[values]
        return tones

    def tone_weights(self, likelihoods: Array, priors: Array, moves: Array) -> Array:
        """(n, n_symbols, n_tones), as the kernel `trellis_tone_weights`, all with their own moves.

        Args:
            likelihoods: (n, n_symbols, n_tones, n_phases).
            priors: (n, n_symbols, n_tones).
            moves: (n, n_phases, n_phases).
        """
        xp = self.xp
        # One "step" for each: the same products, with n matrices instead of a few.
        merged = self.merged(likelihoods, priors).transpose(0, 2, 1, 3)
        before, _ = self.forward(merged, moves)
        both = (before * self.backward(merged, moves))[:, :, 0].transpose(1, 0, 2)
        weights = xp.matmul(likelihoods, both[..., None])[..., 0]
        return weights / xp.maximum(weights.max(axis=2, keepdims=True), LEAST_TOTAL)
