"""Words from cells whose carrier phase is followed from symbol to symbol.

Between neighbouring symbols the phase of a steady transmission moves little, so what the
synchronisation symbols show of it holds for the data between them. A trellis of phases weighs
every tone of every symbol given all others; its soft bits go to belief propagation, whose beliefs
come back as priors of the tones, which in turn sharpen the phase. Where no round ends in a word,
ordered statistics search the code with the CRC folded in, from the soft bits of several rounds:
when rounds drift from the right word, others have often come nearer to it.
"""

from collections.abc import Callable, Iterable, Iterator

import numpy as np
from numpy.typing import NDArray

from solidcopy.kernels.belief_propagation import min_sum_beliefs
from solidcopy.kernels.near_words import near_words, tone_log_likelihoods
from solidcopy.kernels.phase_trellis import trellis_tone_weights
from solidcopy.modes.mode import Bits
from solidcopy.receivers.builtin.framing import Framing
from solidcopy.receivers.builtin.locate import Located
from solidcopy.receivers.builtin.tracks import (
    Track,
    even_priors,
    likeliest_tracks,
    step_probabilities,
)
from solidcopy.receivers.builtin.words import Word, metric_names

LEAST_PRESENCE = 30.0
"""Least ln of the cells' likelihood, whatever the data, over that of noise alone. One place of 250
that noise offers has more, and no transmission that could be decoded was seen below 45."""
N_TRACKS = 2
N_ROUNDS = 6
N_ITERATIONS = 8
MIN_SUM_SCALE = 0.8
HIGHEST_METRIC = 25.0
FEEDBACK_SHARE = 0.7
HIGHEST_FEEDBACK = 8.0
"""Beliefs on a code with cycles are too sure of themselves: they are weakened and limited before
they become priors."""
SEARCHES = ((0, 5, 4), (0, 1, 4), (1, 5, 4), (0, 2, 3), (1, 1, 3))
"""Track and round, both from 0, whose soft bits are searched, the most successful first, and how
many flips deep."""
BLOCK_SEARCHES = ((1, 3), (2, 3), (3, 3))
"""Sets of soft bits from blocks (words.py) that are searched last, for phases without memory, and
how many flips deep."""
SEARCH_DEPTHS = tuple(search[-1] for search in (*SEARCHES, *BLOCK_SEARCHES))
N_LISTED = 200
"""Nearest words of a search that are tried on the tracks. Wherever a right word was missed, it
would have shown more evidence than the word found: it was not among those looked at."""
LOWEST_TRACK_BITS = 65.0
"""Words with less evidence on their own track are not worth the full test of evidence.py, which
allows for more kinds of paths."""

Metrics = NDArray[np.float32]
Weigh = Callable[[NDArray[np.int64], NDArray[np.float32]], NDArray[np.float32]]
"""The trellis of some tracks: their numbers and priors (n, n_symbols, n_tones) to the weights of
tones, of the same shape, as `trellis_tone_weights` has them."""


def soft_rounds(tracks: list[Track], framing: Framing) -> tuple[Metrics, list[Bits | None]]:
    """Trellis and belief propagation in turn, all tracks together: see `rounds_of`."""

    def weigh(places: NDArray[np.int64], priors: NDArray[np.float32]) -> NDArray[np.float32]:
        weights = np.empty_like(priors)
        for place, own_priors, own in zip(places, priors, weights, strict=True):
            step = step_probabilities(tracks[place].step_rad)
            trellis_tone_weights(tracks[place].likelihoods, own_priors, step, own)
        return weights

    return rounds_of(len(tracks), weigh, framing)


def rounds_of(n_tracks: int, weigh: Weigh, framing: Framing) -> tuple[Metrics, list[Bits | None]]:
    """Trellis and belief propagation in turn, all tracks together.

    Args:
        n_tracks: how many.
        weigh: the trellis of some of the tracks.
        framing: the mode's code.
    Returns: metrics (N_ROUNDS, n_tracks, n_bits) of every round, positive means 0 is likelier,
        without what belief propagation has said of the same bit; a track that is finished keeps
        its last. And for every track the bits with which all checks held, or None.
    """
    priors = np.repeat(even_priors(framing)[None], n_tracks, axis=0)
    told = np.zeros((n_tracks, framing.n_bits), np.float32)
    rounds = np.zeros((N_ROUNDS, *told.shape), np.float32)
    words: list[Bits | None] = [None] * n_tracks
    left = np.arange(n_tracks)
    for number in range(N_ROUNDS):
        rounds[number] = rounds[number - 1]
        metrics = _trellis_metrics(weigh(left, priors[left]), priors[left], framing)
        rounds[number, left] = metrics - told[left]
        columns = np.clip(rounds[number, left].T, -HIGHEST_METRIC, HIGHEST_METRIC)
        bits, n_used, beliefs = min_sum_beliefs(
            np.ascontiguousarray(columns), framing.check_positions, N_ITERATIONS, MIN_SUM_SCALE
        )
        for item in np.flatnonzero(n_used):
            words[left[item]] = bits[item]
        is_open = n_used == 0
        left = left[is_open]
        extrinsic = np.clip((beliefs - columns).T[is_open], -HIGHEST_FEEDBACK, HIGHEST_FEEDBACK)
        told[left] = FEEDBACK_SHARE * extrinsic
        priors[left[:, None], framing.data_symbols] = _tone_priors(told[left], framing)
    return rounds, words


def _trellis_metrics(
    weights: NDArray[np.float32], priors: NDArray[np.float32], framing: Framing
) -> Metrics:
    """(n_tracks, n_bits) soft bits of the trellis, its priors included."""
    data = framing.data_symbols
    of_tones = weights[:, data] * priors[:, data] + np.float32(1e-20)
    is_one = framing.bits_of_tone.astype(np.float32)
    odds = (of_tones @ (1.0 - is_one)) / (of_tones @ is_one)
    return np.asarray(np.log(odds).reshape(weights.shape[0], framing.n_bits))


def _tone_priors(told: Metrics, framing: Framing) -> NDArray[np.float32]:
    """(n_tracks, n_data, n_tones) probabilities of tones from beliefs in their bits."""
    shape = (told.shape[0], framing.data_symbols.size, 1, framing.bits_of_tone.shape[1])
    p_one = 1.0 / (1.0 + np.exp(told.reshape(shape)))
    return np.asarray(np.where(framing.bits_of_tone > 0, p_one, 1.0 - p_one).prod(axis=-1))


def fitting_word(
    metrics: Metrics, tracks: list[Track], framing: Framing, *, depth: int
) -> tuple[Bits, float]:
    """The word that fits a track best among those nearest to soft bits: right or wrong.

    The soft bits of a symbol do not know of the others' phases; a track knows of all together.

    Args:
        metrics: (n_bits,) soft bits.
        tracks: of one place.
        framing: the mode's code, with the CRC folded in.
        depth: how many flips deep the list goes.
    Returns: (n_bits,) and its `track_bits` on the best track.
    """
    words = near_words(metrics, framing.payload_generator, depth, N_LISTED)
    evidence = np.max([track_bits(track, words, framing) for track in tracks], axis=0)
    best = int(evidence.argmax())
    return words[best], float(evidence[best])


def track_bits(track: Track, words: Bits, framing: Framing) -> NDArray[np.float64]:
    """Evidence for words on a track: log2 of their probability over that of any tones.

    Args:
        track: of one place.
        words: (n_words, n_bits).
        framing: the mode's layout.
    Returns: (n_words,).
    """
    step = step_probabilities(track.step_rad)
    priors = even_priors(framing)
    of_any = trellis_tone_weights(track.likelihoods, priors, step, np.empty_like(priors))
    own = tone_log_likelihoods(track.likelihoods, framing.tones_of(words), step)
    return np.asarray((own - of_any) / np.log(2.0))


def followed_words(place: Located, block_metrics: Metrics, framing: Framing) -> Iterator[Word]:
    """Words of one place, none where the cells look like noise.

    Args:
        place: where.
        block_metrics: (n_sets, n_bits) of the place, from `words.soft_bits`.
        framing: the mode's layout.
    Yields: words of increasing effort, until the caller has seen enough.
    """
    tracks = likeliest_tracks(place, framing)[:N_TRACKS]
    if tracks[0].log_likelihood >= LEAST_PRESENCE:
        rounds, finished = soft_rounds(tracks, framing)
        steps_rad = [track.step_rad for track in tracks]
        yield from finished_words(finished, steps_rad, framing)
        searched = searched_metrics(rounds, block_metrics)
        fits = (
            fitting_word(metrics, tracks, framing, depth=depth)
            for metrics, depth in zip(searched, SEARCH_DEPTHS, strict=True)
        )
        yield from folded_words(fits, steps_rad, framing)


def finished_words(
    finished: list[Bits | None], steps_rad: list[float], framing: Framing
) -> Iterator[Word]:
    """Words of one place's tracks, with these steps, that all checks and the CRC hold for."""
    for name, bits in zip(_names(steps_rad), finished, strict=True):
        if bits is not None and framing.is_word(bits):
            yield Word(bits, name)


def searched_metrics(rounds: Metrics, block_metrics: Metrics) -> Metrics:
    """(len(SEARCH_DEPTHS), n_bits) soft bits of one place that are searched, in this order.

    Args:
        rounds: (N_ROUNDS, n_tracks, n_bits) of the place, from `soft_rounds`.
        block_metrics: as in `followed_words`.
    """
    of_rounds = [rounds[number, track] for track, number, _ in SEARCHES]
    return np.stack(of_rounds + [block_metrics[row] for row, _ in BLOCK_SEARCHES])


def folded_words(
    fits: Iterable[tuple[Bits, float]], steps_rad: list[float], framing: Framing
) -> Iterator[Word]:
    """Words of one place from the searches of its soft bits, as `fitting_word` gives them."""
    names = [_names(steps_rad)[track] for track, _, _ in SEARCHES]
    names += [metric_names(framing)[row] for row, _ in BLOCK_SEARCHES]
    for name, (bits, evidence) in zip(names, fits, strict=True):
        if bits.any() and evidence >= LOWEST_TRACK_BITS:
            yield Word(bits, f"{name}/folded", is_checked=False)


def _names(steps_rad: list[float]) -> list[str]:
    return [f"phase-trellis-{step_rad:g}" for step_rad in steps_rad]
