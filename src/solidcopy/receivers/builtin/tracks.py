"""Where the carrier's phase goes: tracks of one place, and how likely they are.

A track is a frequency error together with a size of the phase's steps from symbol to symbol. Its
likelihood is that of all cells, whatever the data, over that of noise alone: a test of presence
that uses the data symbols too, and far sharper than the synchronisation symbols are by themselves.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from solidcopy.kernels.phase_trellis import trellis_tone_weights
from solidcopy.receivers.builtin.framing import Framing
from solidcopy.receivers.builtin.locate import Located

N_PHASES = 32
STEP_SIZES_RAD = (0.05, 0.2, 0.5, 1.0)
"""Standard deviations of the phase step from symbol to symbol."""
TELLING_STEPS_RAD = (0.05, 0.5)
"""Those that a frequency error is judged by."""
LARGEST_ERROR_HZ = 0.55
N_TRANSFORM = 1024
N_MOST_ERRORS = 5
"""Peaks of the synchronisation symbols' spectrum that are tried: their blocks lie far apart, so
frequencies that turn the phase by whole cycles between blocks look alike to them."""
HIGHEST_ES_N0 = 20.0
LEAST_LIKELIHOOD = 1e-12
"""Floor within a symbol: a loud disturbance must not rule a phase out."""


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


def even_priors(framing: Framing) -> NDArray[np.float32]:
    """(n_symbols, n_tones): certain where the tone is known, even elsewhere."""
    tones = np.arange(framing.facts.n_tones)
    known = framing.known_tones[:, None]
    return np.where(known < 0, 1.0 / tones.size, known == tones).astype(np.float32)


def likeliest_tracks(place: Located, framing: Framing) -> list[Track]:
    """Tracks with every step size at the likeliest frequency error, the likeliest first."""
    tracks = [
        track
        for error_hz in likely_errors_hz(place, framing)
        for track in _tracks_at(place, framing, float(error_hz), TELLING_STEPS_RAD)
    ]
    best = max(tracks, key=lambda track: track.log_likelihood)
    tracks = _tracks_at(place, framing, best.error_hz, STEP_SIZES_RAD)
    return sorted(tracks, key=lambda track: -track.log_likelihood)


def likely_errors_hz(place: Located, framing: Framing) -> NDArray[np.float64]:
    """Frequency errors at which the synchronisation symbols add up to a local maximum."""
    cells = np.zeros(framing.facts.n_symbols, np.complex64)
    symbols = framing.sync_symbols.ravel()
    cells[symbols] = place.spectra[symbols, framing.sync_tones.ravel()]
    power = np.abs(np.fft.fft(cells, N_TRANSFORM))
    errors_hz = np.fft.fftfreq(N_TRANSFORM, framing.facts.symbol_s)
    is_peak = (power >= np.roll(power, 1)) & (power > np.roll(power, -1))
    peaks = np.flatnonzero(is_peak & (np.abs(errors_hz) <= LARGEST_ERROR_HZ))
    if peaks.size == 0:
        return np.zeros(1)
    return np.asarray(errors_hz[peaks[np.argsort(-power[peaks])[:N_MOST_ERRORS]]])


def _tracks_at(
    place: Located, framing: Framing, error_hz: float, steps_rad: tuple[float, ...]
) -> list[Track]:
    """Tracks with one frequency error.

    A cell c of noise power 1 that holds a tone of amplitude a and phase q is exp(2 a Re(c exp(-jq))
    - a^2) times as likely as one that holds noise alone.
    """
    es_n0 = min(place.es_n0, HIGHEST_ES_N0)
    turns = error_hz * framing.facts.symbol_s * np.arange(framing.facts.n_symbols)
    turned = 2.0 * np.sqrt(es_n0) * np.exp(-2j * np.pi * turns)
    straight = (place.spectra * turned[:, None]).astype(np.complex64)
    phases = np.exp(2j * np.pi * np.arange(N_PHASES) / N_PHASES).astype(np.complex64)
    exponents = straight.real[..., None] * phases.real
    exponents += straight.imag[..., None] * phases.imag
    highest = exponents.max(axis=(1, 2))
    exponents -= highest[:, None, None]
    likelihoods = np.exp(exponents, out=exponents)
    np.maximum(likelihoods, np.float32(LEAST_LIKELIHOOD), out=likelihoods)
    left_out = float(highest.sum(dtype=np.float64)) - es_n0 * highest.size
    priors = even_priors(framing)
    weights = np.empty_like(priors)
    return [
        Track(
            likelihoods,
            step_rad,
            error_hz,
            left_out
            + trellis_tone_weights(likelihoods, priors, step_probabilities(step_rad), weights),
        )
        for step_rad in steps_rad
    ]
