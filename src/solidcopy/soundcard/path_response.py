"""Frequency response and echo of a path, from the chirps."""

import math
from dataclasses import dataclass

import numpy as np
import scipy.fft
import scipy.signal
from numpy.typing import NDArray

from solidcopy import units
from solidcopy.noise.features.figure import CannotTell
from solidcopy.signals.waveform import Samples
from solidcopy.soundcard.path_pieces import Heard, amplitudes_db
from solidcopy.soundcard.path_sequence import (
    CHIRP_HZ,
    PAUSE_S,
    SEQUENCE_HZ,
    Piece,
    Place,
    made,
)

EARLIEST_S, LATEST_S = -0.012, 0.080
"""The part of the impulse response that is kept."""
FADE_S = 0.008
DIRECT_S = 0.010
"""What comes later than this is an echo."""
ECHO_DB = -25.0
"""Weaker than this an echo counts as none: filters ring, too."""
NOISE_FROM_S = 0.2
"""Farther than this from the direct sound there is nothing but noise."""
SKIRT_HZ = 36.0
LOW_HZ, HIGH_HZ = 100.0, 3000.0
WIDTHS_HZ = (50.0, 100.0, 250.0, 500.0)
MIDDLE_HZ = (300.0, 2700.0)
PASSED = 0.1
"""A band belongs to the pass band if it holds so much of the strongest one's power."""
MOST_ERROR_DB = 0.25


@dataclass(frozen=True, slots=True, eq=False)
class Response:
    """Level by frequency."""

    centres_hz: NDArray[np.float64]
    levels_db: NDArray[np.float64]
    """Of bands around the centres, relative to the median of those within 10 dB of the strongest
    from 300 to 2700 Hz."""
    width_hz: float
    error_db: float
    """Median standard error of a band's level."""
    edges_3_db: tuple[float | None, float | None]
    edges_6_db: tuple[float | None, float | None]
    """None: beyond what was looked at (100 to 3000 Hz)."""
    ripple_db: tuple[float, float]
    """Lowest and highest level within the edges at -3 dB, their two outermost bands left out."""
    echo_db: float
    """Power later than 10 ms after the direct sound, relative to it; -inf if beneath the noise."""
    has_echo: bool
    impulse: Samples
    """Impulse response at SEQUENCE_HZ; its sample `n_before` is the direct sound."""
    n_before: int


def measure_response(heard: Heard) -> Response | CannotTell:
    """Deconvolve the chirps.

    The product of both rounds' responses is taken: their noise has nothing in common. Source:
    division of spectra (textbook); tests/reference/test_path_response.py compares with scipy.
    """
    impulses = [_impulse(heard, place) for place in heard.rounds(Piece.CHIRP)]
    noise = float(np.mean([_noise(impulse) for impulse in impulses])) / len(impulses)
    kept = [_kept(impulse) for impulse in impulses]
    n = scipy.fft.next_fast_len(8 * kept[0].size, real=True)
    spectra = [scipy.fft.rfft(one, n) for one in kept]
    powers = np.real(spectra[0] * spectra[-1].conj())
    if len(kept) == 1:
        powers = powers - noise * kept[0].size
    frequencies_hz = scipy.fft.rfftfreq(n, 1.0 / SEQUENCE_HZ)
    for width_hz in WIDTHS_HZ:
        centres_hz = np.arange(LOW_HZ + width_hz / 2.0, HIGH_HZ, width_hz)
        bands = np.array(
            [
                powers[np.abs(frequencies_hz - centre_hz) <= width_hz / 2.0].mean()
                for centre_hz in centres_hz
            ]
        )
        n_independent = max(1.0, width_hz * (LATEST_S - EARLIEST_S))
        middle = _passed(bands[(centres_hz > MIDDLE_HZ[0]) & (centres_hz < MIDDLE_HZ[1])])
        ratio = noise * kept[0].size / max(middle, 1e-30)
        error_db = 4.343 * math.sqrt((2.0 * ratio + ratio**2) / n_independent)
        if middle > 0.0 and error_db < MOST_ERROR_DB:
            levels_db = amplitudes_db(np.sqrt(np.maximum(bands / middle, 1e-12)))
            return _described(centres_hz, levels_db, error_db, np.mean(kept, axis=0), noise)
    return CannotTell("the noise covers the chirps")


def _passed(bands: NDArray[np.float64]) -> float:
    return float(np.median(bands[bands >= PASSED * bands.max()]))


def through(sent: Samples, response: Response) -> Samples:
    """A part of the sequence as the path's response makes it, at the instants of what is heard."""
    out = scipy.signal.oaconvolve(sent, response.impulse)
    piece: Samples = out[response.n_before : response.n_before + sent.size]
    return piece


def _described(
    centres_hz: NDArray[np.float64],
    levels_db: NDArray[np.float64],
    error_db: float,
    impulse: Samples,
    noise: float,
) -> Response:
    width_hz = float(centres_hz[1] - centres_hz[0])
    edges_3_db = edges(centres_hz, levels_db, -3.0)
    low = 0.0 if edges_3_db[0] is None else edges_3_db[0] + 2.0 * width_hz
    high = math.inf if edges_3_db[1] is None else edges_3_db[1] - 2.0 * width_hz
    inside = levels_db[(centres_hz >= low) & (centres_hz <= high)]
    if inside.size == 0:
        inside = levels_db[np.abs(centres_hz - 1500.0) <= width_hz]
    n_before = round(-EARLIEST_S * SEQUENCE_HZ)
    n_direct = round(DIRECT_S * SEQUENCE_HZ)
    late = impulse[n_before + n_direct :]
    late_power = float(np.square(late).sum()) - noise * late.size
    direct_power = float(np.square(impulse[: n_before + n_direct]).sum())
    is_seen = late_power > 5.0 * noise * math.sqrt(late.size)
    echo_db = units.db_from_ratio(late_power / direct_power) if is_seen else -math.inf
    return Response(
        centres_hz,
        levels_db,
        width_hz,
        error_db,
        edges_3_db,
        edges(centres_hz, levels_db, -6.0),
        (float(inside.min()), float(inside.max())),
        echo_db,
        echo_db > ECHO_DB,
        impulse,
        n_before,
    )


def edges(
    centres_hz: NDArray[np.float64], levels_db: NDArray[np.float64], down_db: float
) -> tuple[float | None, float | None]:
    """The outermost frequencies at which the level crosses `down_db`.

    Returns: lower and upper; None where the level stays above it to the end.
    """
    above = np.flatnonzero(levels_db >= down_db)
    found: list[float | None] = []
    for inner, step in ((int(above[0]), -1), (int(above[-1]), 1)):
        outer = inner + step
        if not 0 <= outer < centres_hz.size:
            found.append(None)
            continue
        share = float((levels_db[inner] - down_db) / (levels_db[inner] - levels_db[outer]))
        found.append(float(centres_hz[inner] + share * (centres_hz[outer] - centres_hz[inner])))
    return found[0], found[1]


def _impulse(heard: Heard, place: Place) -> Samples:
    """All of the deconvolution, circular: sample 0 is the direct sound."""
    n_pause = round(PAUSE_S * SEQUENCE_HZ)
    piece = heard.cut(place, -n_pause, place.n_samples + n_pause)
    n = scipy.fft.next_fast_len(piece.size + n_pause, real=True)
    sent = np.zeros(n)
    sent[n_pause : n_pause + place.n_samples] = made(Piece.CHIRP)
    template = scipy.fft.rfft(sent)
    frequencies_hz = scipy.fft.rfftfreq(n, 1.0 / SEQUENCE_HZ)
    low_hz, high_hz = CHIRP_HZ
    mask = np.clip((frequencies_hz - low_hz - 4.0) / SKIRT_HZ, 0.0, 1.0)
    mask *= np.clip((high_hz - 10.0 - frequencies_hz) / 100.0, 0.0, 1.0)
    mask = np.square(np.sin(0.5 * np.pi * mask))
    ratio = np.zeros(template.size, np.complex128)
    is_on = mask > 0.0
    ratio[is_on] = scipy.fft.rfft(piece, n)[is_on] / template[is_on] * mask[is_on]
    impulse: Samples = scipy.fft.irfft(ratio, n)
    return impulse


def _noise(impulse: Samples) -> float:
    """Mean square of one sample of the response far from the direct sound."""
    n_from = round(NOISE_FROM_S * SEQUENCE_HZ)
    return float(np.square(impulse[n_from:-n_from]).mean())


def _kept(impulse: Samples) -> Samples:
    n_before, n_after = round(-EARLIEST_S * SEQUENCE_HZ), round(LATEST_S * SEQUENCE_HZ)
    kept = np.concatenate((impulse[-n_before:], impulse[:n_after]))
    n_fade = round(FADE_S * SEQUENCE_HZ)
    fade = 0.5 - 0.5 * np.cos(np.pi * (np.arange(n_fade) + 0.5) / n_fade)
    kept[:n_fade] *= fade
    kept[-n_fade:] *= fade[::-1]
    return kept
