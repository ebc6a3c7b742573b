"""Tracks and rounds of the phase trellis for many places at once (see `builtin.tracks`,
`builtin.trellis`). The only loop left in the recursions is the one over symbols.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from solidcopy.kernels.phase_trellis import LEAST_TOTAL
from solidcopy.modes.mode import Bits
from solidcopy.receivers.builtin import tracks, trellis
from solidcopy.receivers.builtin.batched.arrays import Array, Namespace, on_host
from solidcopy.receivers.builtin.framing import Framing
from solidcopy.receivers.builtin.locate import Located
from solidcopy.receivers.builtin.tracks import N_PHASES, Track
from solidcopy.receivers.builtin.trellis import Metrics
from solidcopy.receivers.builtin.words import Word

Soft = tuple[Metrics, list[Bits | None]]
"""As from `trellis.soft_rounds`."""
N_AT_ONCE = 512
"""Pairs of place and frequency error held together: 80 kB each and four times that at work."""


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


def likeliest_errors(recursions: Recursions, places: Sequence[Located]) -> NDArray[np.float64]:
    """(n_places,) frequency error of each place's likeliest track."""
    framing = recursions.framing
    errors_hz = [tracks.likely_errors_hz(place, framing) for place in places]
    owners = np.repeat(np.arange(len(places)), [own.size for own in errors_hz])
    all_hz = np.concatenate(errors_hz)
    logs = np.concatenate(
        [
            recursions.track_logs(
                [places[owner] for owner in owners[part]], all_hz[part], tracks.TELLING_STEPS_RAD
            ).max(axis=0)
            for part in _parts(owners.size)
        ]
    )
    # The first of equals, as everywhere.
    order = np.lexsort((np.arange(owners.size), -logs, owners))
    firsts = np.searchsorted(owners, np.arange(len(places)))
    return all_hz[order[firsts]]


def pursued_words(
    xp: Namespace, places: Sequence[Located], metrics: Sequence[Metrics], framing: Framing
) -> list[Iterator[Word]]:
    """For every place what `trellis.followed_words` yields."""
    recursions = Recursions(xp, framing)
    best_hz = likeliest_errors(recursions, places)
    logs = np.concatenate(
        [
            recursions.track_logs(places[part], best_hz[part], tracks.STEP_SIZES_RAD)
            for part in _parts(len(places))
        ],
        axis=1,
    )
    words: list[Iterator[Word]] = [iter(())] * len(places)
    present = np.flatnonzero(logs.max(axis=0) >= trellis.LEAST_PRESENCE)
    for part in _parts(present.size):
        pursued = present[part]
        chosen = [places[place] for place in pursued]
        followed = _followed(recursions, chosen, best_hz[pursued], logs[:, pursued])
        for place, (own_tracks, soft) in zip(pursued, followed, strict=True):
            words[place] = trellis.words_of_rounds(own_tracks, soft, metrics[place], framing)
    return words


def _followed(
    recursions: Recursions,
    places: Sequence[Located],
    errors_hz: NDArray[np.float64],
    logs: NDArray[np.float64],
) -> "list[tuple[list[Track], Soft]]":
    """The likeliest tracks of places, and their rounds; logs (n_steps, n_places)."""
    xp, n_each = recursions.xp, trellis.N_TRACKS
    likelihoods, _ = recursions.likelihoods(places, errors_hz)
    steps = np.argsort(-logs, axis=0, kind="stable")[:n_each].T
    owners = np.repeat(np.arange(len(places)), n_each)
    moves = recursions.moves(tracks.STEP_SIZES_RAD)[xp.asarray(steps.ravel())]

    def weigh(left: NDArray[np.int64], priors: NDArray[np.float32]) -> NDArray[np.float32]:
        if left.size == 0:
            return np.empty_like(priors)
        own = likelihoods[xp.asarray(owners[left])]
        return on_host(recursions.tone_weights(own, xp.asarray(priors), moves[xp.asarray(left)]))

    rounds, finished = trellis.rounds_of(owners.size, weigh, recursions.framing)
    followed = []
    for place, own in enumerate(on_host(likelihoods)):
        mine = slice(place * n_each, (place + 1) * n_each)
        own_tracks = [
            Track(own, tracks.STEP_SIZES_RAD[step], errors_hz[place], logs[step, place])
            for step in steps[place]
        ]
        followed.append((own_tracks, (rounds[:, mine], finished[mine])))
    return followed


def _parts(n: int) -> list[slice]:
    return [slice(first, first + N_AT_ONCE) for first in range(0, n, N_AT_ONCE)]
