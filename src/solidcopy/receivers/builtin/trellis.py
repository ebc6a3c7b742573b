"""Words from cells whose carrier phase is followed from symbol to symbol.

Between neighbouring symbols the phase of a steady transmission moves little, so what the
synchronisation symbols show of it holds for the data between them. A trellis of `N_PHASES` phases
weighs every tone of every symbol given all others; its soft bits go to belief propagation, whose
beliefs come back as priors of the tones, which in turn sharpen the phase. What is still no word
after `N_ROUNDS` rounds is left to ordered statistics on the code with the CRC folded in.

How fast the phase moves is unknown: a bank of step sizes is tried and the likeliest is kept.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from solidcopy.kernels.belief_propagation import min_sum_beliefs
from solidcopy.kernels.ordered_statistics import decode_ordered_statistics
from solidcopy.kernels.phase_trellis import trellis_tone_weights
from solidcopy.receivers.builtin.framing import Framing
from solidcopy.receivers.builtin.locate import Located
from solidcopy.receivers.builtin.words import Word

N_PHASES = 32
STEP_SIZES_RAD = (0.05, 0.2, 0.5, 1.0)
"""Standard deviations of the phase step from symbol to symbol."""
LARGEST_ERROR_HZ = 0.55
N_TRANSFORM = 1024
N_MOST_ERRORS = 5
"""Peaks of the synchronisation symbols' spectrum that are tried: their blocks lie far apart, so
frequencies that turn the phase by whole cycles between blocks look alike to them."""
HIGHEST_ES_N0 = 20.0
LEAST_LIKELIHOOD = 1e-12
"""Floor within a symbol: a loud disturbance must not rule a phase out."""
N_ROUNDS = 6
N_ITERATIONS = 8
MIN_SUM_SCALE = 0.8
HIGHEST_METRIC = 25.0
FEEDBACK_SHARE = 0.7
HIGHEST_FEEDBACK = 8.0
"""Beliefs on a code with cycles are too sure of themselves: they are weakened and limited before
they become priors."""
LIST_DEPTH = 3
LOWEST_TRACK_BITS = 65.0
"""Words with less evidence on their own track are not worth the full test of evidence.py, which
allows for more kinds of paths."""

Metrics = NDArray[np.float32]


@dataclass(frozen=True, slots=True, eq=False)
class Track:
    """One place, seen with one frequency error and one size of phase steps."""

    likelihoods: NDArray[np.float32]
    """(n_symbols, n_tones, N_PHASES), relative to the likeliest of a symbol."""
    step_rad: float
    error_hz: float
    log_likelihood: float
    """ln of the probability of the cells, whatever the data, over that of noise alone."""


def step_probabilities(step_rad: float) -> NDArray[np.float32]:
    """(N_PHASES,) probability of a move by d places on the ring."""
    moves = np.arange(N_PHASES)
    distance_rad = 2.0 * np.pi * np.minimum(moves, N_PHASES - moves) / N_PHASES
    step = np.exp(-0.5 * (distance_rad / step_rad) ** 2)
    step[step < 1e-4 * step.sum()] = 0.0
    return np.asarray(step / step.sum(), np.float32)


def _error_candidates(place: Located, framing: Framing) -> NDArray[np.float64]:
    """Frequency errors at which the synchronisation symbols add up to a local maximum."""
    cells = np.zeros(framing.facts.n_symbols, np.complex64)
    symbols = framing.sync_symbols.ravel()
    cells[symbols] = place.spectra[symbols, framing.sync_tones.ravel()]
    power = np.abs(np.fft.fft(cells, N_TRANSFORM))
    errors_hz = np.fft.fftfreq(N_TRANSFORM, framing.facts.symbol_s)
    is_peak = (power >= np.roll(power, 1)) & (power > np.roll(power, -1))
    peaks = np.flatnonzero(is_peak & (np.abs(errors_hz) <= LARGEST_ERROR_HZ))
    return np.asarray(errors_hz[peaks[np.argsort(-power[peaks])[:N_MOST_ERRORS]]])


def _phase_likelihoods(
    place: Located, framing: Framing, error_hz: float
) -> tuple[NDArray[np.float32], float]:
    """Relative likelihoods (n_symbols, n_tones, N_PHASES), and the logarithm left out of them."""
    es_n0 = min(place.es_n0, HIGHEST_ES_N0)
    turns = error_hz * framing.facts.symbol_s * np.arange(framing.facts.n_symbols)
    straight = place.spectra * (2.0 * np.sqrt(es_n0) * np.exp(-2j * np.pi * turns))[:, None]
    phases = np.exp(2j * np.pi * np.arange(N_PHASES) / N_PHASES).astype(np.complex64)
    straight = straight.astype(np.complex64)
    exponents = straight.real[..., None] * phases.real
    exponents += straight.imag[..., None] * phases.imag
    highest = exponents.max(axis=(1, 2))
    likelihoods = np.exp(exponents - highest[:, None, None])
    np.maximum(likelihoods, np.float32(LEAST_LIKELIHOOD), out=likelihoods)
    left_out = float(highest.sum(dtype=np.float64)) - es_n0 * highest.size
    return likelihoods, left_out


def _even_priors(framing: Framing) -> NDArray[np.float32]:
    """(n_symbols, n_tones): certain where the tone is known, even elsewhere."""
    tones = np.arange(framing.facts.n_tones)
    known = framing.known_tones[:, None]
    return np.where(known < 0, 1.0 / tones.size, known == tones).astype(np.float32)


def best_track(place: Located, framing: Framing) -> Track:
    """The likeliest frequency error and step size of one place."""
    priors = _even_priors(framing)
    weights = np.empty_like(priors)
    tracks = []
    for error_hz in _error_candidates(place, framing):
        likelihoods, left_out = _phase_likelihoods(place, framing, float(error_hz))
        for step_rad in STEP_SIZES_RAD:
            found = trellis_tone_weights(likelihoods, priors, step_probabilities(step_rad), weights)
            tracks.append(Track(likelihoods, step_rad, float(error_hz), found + left_out))
    return max(tracks, key=lambda track: track.log_likelihood)


def soft_rounds(
    tracks: list[Track], framing: Framing
) -> tuple[Metrics, list[NDArray[np.uint8] | None]]:
    """Trellis and belief propagation in turn, all places together.

    Returns: metrics (n_tracks, n_bits), positive means 0 is likelier, without what belief
        propagation said; and for every track the bits with which all checks held, or None.
    """
    data, n_bits = framing.data_symbols, framing.n_bits
    is_one = framing.bits_of_tone.astype(np.float32)
    priors = np.repeat(_even_priors(framing)[None], len(tracks), axis=0)
    weights = np.empty_like(priors)
    told = np.zeros((len(tracks), n_bits), np.float32)
    metrics = np.zeros_like(told)
    words: list[NDArray[np.uint8] | None] = [None] * len(tracks)
    steps = {step_rad: step_probabilities(step_rad) for step_rad in STEP_SIZES_RAD}
    left = np.arange(len(tracks))
    for _ in range(N_ROUNDS):
        for item in left:
            track = tracks[item]
            trellis_tone_weights(
                track.likelihoods, priors[item], steps[track.step_rad], weights[item]
            )
        of_tones = weights[left][:, data] * priors[left][:, data] + np.float32(1e-20)
        odds = (of_tones @ (1.0 - is_one)) / (of_tones @ is_one)
        metrics[left] = np.log(odds).reshape(left.size, n_bits) - told[left]
        columns = np.clip(metrics[left].T, -HIGHEST_METRIC, HIGHEST_METRIC)
        bits, n_used, beliefs = min_sum_beliefs(
            np.ascontiguousarray(columns), framing.check_positions, N_ITERATIONS, MIN_SUM_SCALE
        )
        for item, own, used in zip(left, bits, n_used, strict=True):
            if used > 0:
                words[item] = own
        is_open = n_used == 0
        left = left[is_open]
        if left.size == 0:
            break
        extrinsic = np.clip((beliefs - columns).T[is_open], -HIGHEST_FEEDBACK, HIGHEST_FEEDBACK)
        told[left] = FEEDBACK_SHARE * extrinsic
        p_one = 1.0 / (1.0 + np.exp(told[left].reshape(left.size, data.size, 1, -1)))
        of_bits = np.where(framing.bits_of_tone > 0, p_one, 1.0 - p_one)
        priors[left[:, None], data] = of_bits.prod(axis=-1)
    return metrics, words


def nearest_word(metrics: Metrics, framing: Framing) -> NDArray[np.uint8]:
    """Ordered statistics on the code with the CRC folded in: always a word, right or wrong."""
    bits, _ = decode_ordered_statistics(metrics, framing.payload_generator, LIST_DEPTH)
    return bits


def track_bits(track: Track, word: NDArray[np.uint8], framing: Framing) -> float:
    """Evidence for a word on its own track: log2 of its probability over that of any tones."""
    tones = framing.tones_of(word)
    priors = (tones[:, None] == np.arange(framing.facts.n_tones)).astype(np.float32)
    step = step_probabilities(track.step_rad)
    any_tones = trellis_tone_weights(
        track.likelihoods, _even_priors(framing), step, np.empty_like(priors)
    )
    own = trellis_tone_weights(track.likelihoods, priors, step, np.empty_like(priors))
    return (own - any_tones) / float(np.log(2.0))


def followed_words(places: list[Located], framing: Framing) -> list[Word | None]:
    """The word of every place whose phase can be followed well enough, or None."""
    if not places:
        return []
    tracks = [best_track(place, framing) for place in places]
    metrics, finished = soft_rounds(tracks, framing)
    return [
        _word_of(track, rows, bits, framing)
        for track, rows, bits in zip(tracks, metrics, finished, strict=True)
    ]


def _word_of(
    track: Track, metrics: Metrics, finished: NDArray[np.uint8] | None, framing: Framing
) -> Word | None:
    """What belief propagation finished, if its CRC holds, or else the nearest word."""
    path = f"phase-trellis/{track.step_rad:g}-rad"
    if finished is not None and framing.is_word(finished):
        return Word(finished, path)
    bits = nearest_word(metrics, framing)
    if not bits.any() or track_bits(track, bits, framing) < LOWEST_TRACK_BITS:
        return None
    return Word(bits, f"{path}/ordered-statistics", is_checked=False)
