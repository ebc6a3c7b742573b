"""Words of many places whose phase is followed (see `builtin.trellis`)."""

from collections.abc import Iterator, Sequence
from itertools import chain

import numpy as np
from numpy.typing import NDArray

from solidcopy.modes.mode import Bits
from solidcopy.receivers.builtin import tracks, trellis
from solidcopy.receivers.builtin.batched.arrays import Array, Namespace, on_host
from solidcopy.receivers.builtin.batched.near import near_words
from solidcopy.receivers.builtin.batched.phases import Recursions
from solidcopy.receivers.builtin.batched.reduced import reduce
from solidcopy.receivers.builtin.framing import Framing
from solidcopy.receivers.builtin.locate import Located
from solidcopy.receivers.builtin.trellis import Metrics
from solidcopy.receivers.builtin.words import Word

N_AT_ONCE = 512
"""Pairs of place and frequency error held together: 80 kB each and four times that at work."""


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
    words: list[Iterator[Word]] = [iter(()) for _ in places]
    present = np.flatnonzero(logs.max(axis=0) >= trellis.LEAST_PRESENCE)
    for part in _parts(present.size):
        pursued = present[part]
        chosen = [places[place] for place in pursued]
        rows = [metrics[place] for place in pursued]
        followed = _followed(recursions, chosen, rows, (best_hz[pursued], logs[:, pursued]))
        for place, own in zip(pursued, followed, strict=True):
            words[place] = own
    return words


def _followed(
    recursions: Recursions,
    places: Sequence[Located],
    metrics: Sequence[Metrics],
    found: tuple[NDArray[np.float64], NDArray[np.float64]],
) -> list[Iterator[Word]]:
    """Words of places, each from its likeliest tracks, their rounds and the lists of those.

    Args:
        recursions: the mode's.
        places: all present.
        metrics: soft bits of each from blocks.
        found: likeliest frequency errors (n,) and logarithms (n_steps, n) there.
    """
    xp, n_each, (errors_hz, logs) = recursions.xp, trellis.N_TRACKS, found
    likelihoods, left_out = recursions.likelihoods(places, errors_hz)
    steps = np.argsort(-logs, axis=0, kind="stable")[:n_each].T
    owners = np.repeat(np.arange(len(places)), n_each)
    moves = recursions.moves(tracks.STEP_SIZES_RAD)[xp.asarray(steps.ravel())]

    def weigh(left: NDArray[np.int64], priors: NDArray[np.float32]) -> NDArray[np.float32]:
        if left.size == 0:
            return np.empty_like(priors)
        own = likelihoods[xp.asarray(owners[left])]
        return on_host(recursions.tone_weights(own, xp.asarray(priors), moves[xp.asarray(left)]))

    rounds, finished = trellis.rounds_of(owners.size, weigh, recursions.framing)
    searched = np.stack(
        [
            trellis.searched_metrics(rounds[:, place * n_each : (place + 1) * n_each], own)
            for place, own in enumerate(metrics)
        ]
    )
    of_any = np.take_along_axis(logs, steps.T, axis=0).T - left_out[:, None]
    fits = _fitting_words(recursions, likelihoods, moves, of_any, searched)
    words: list[Iterator[Word]] = []
    for place, own_fits in enumerate(fits):
        mine = slice(place * n_each, (place + 1) * n_each)
        steps_rad = [tracks.STEP_SIZES_RAD[step] for step in steps[place]]
        words.append(
            chain(
                trellis.finished_words(finished[mine], steps_rad, recursions.framing),
                trellis.folded_words(own_fits, steps_rad, recursions.framing),
            )
        )
    return words


def _fitting_words(
    recursions: Recursions,
    likelihoods: Array,
    moves: Array,
    of_any: NDArray[np.float64],
    searched: Metrics,
) -> list[list[tuple[Bits, float]]]:
    """For every place and search what `trellis.fitting_word` finds.

    Args:
        recursions: the mode's.
        likelihoods: (n, n_symbols, n_tones, n_phases).
        moves: (n * N_TRACKS, n_phases, n_phases).
        of_any: (n, N_TRACKS) logarithms whatever the data, from the same likelihoods.
        searched: (n, n_searches, n_bits).
    """
    xp, framing = recursions.xp, recursions.framing
    n, n_searches, n_bits = searched.shape
    flat = xp.asarray(searched.reshape(-1, n_bits))
    reduced = reduce(xp, flat, framing.payload_generator)
    words = xp.empty((n, n_searches, trellis.N_LISTED, n_bits), xp.uint8)
    for depth in set(trellis.SEARCH_DEPTHS):
        which = np.flatnonzero(np.array(trellis.SEARCH_DEPTHS) == depth)
        rows = (np.arange(n)[:, None] * n_searches + which).ravel()
        near = near_words(xp, reduced.part(xp.asarray(rows)), depth, trellis.N_LISTED)
        words[:, xp.asarray(which)] = near.reshape(n, which.size, trellis.N_LISTED, n_bits)
    own = recursions.word_logs(likelihoods, moves, words.reshape(n, -1, n_bits))
    evidence = ((own - of_any[:, :, None]) / np.log(2.0)).max(axis=1)
    evidence = evidence.reshape(n, n_searches, trellis.N_LISTED)
    best = evidence.argmax(axis=2)
    chosen = on_host(words[xp.arange(n)[:, None], xp.arange(n_searches), xp.asarray(best)])
    highest = np.take_along_axis(evidence, best[:, :, None], axis=2)[:, :, 0]
    return [
        list(zip(bits, map(float, values), strict=True))
        for bits, values in zip(chosen, highest, strict=True)
    ]


def _parts(n: int) -> list[slice]:
    return [slice(first, first + N_AT_ONCE) for first in range(0, n, N_AT_ONCE)]
