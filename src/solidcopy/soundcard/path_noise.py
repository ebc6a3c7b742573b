"""Noise floor and hum of a path, and what it does to noise that is sent through it."""

import math
from dataclasses import dataclass

import numpy as np

from solidcopy import units
from solidcopy.noise.features.figure import CannotTell, Figure
from solidcopy.noise.health.spectrum import Hum, MeanSpectrum
from solidcopy.signals.power import mean_power, power_spectrum
from solidcopy.signals.waveform import Samples
from solidcopy.soundcard.path_pieces import Below, Heard, amplitudes_db
from solidcopy.soundcard.path_response import Response, through
from solidcopy.soundcard.path_sequence import (
    BURSTS_S,
    LOUDEST_AMPLITUDE,
    SEQUENCE_HZ,
    Piece,
    noise_and_tone,
)

SETTLE_S = 0.4
"""After the tick before the silence, until echoes are gone."""
BAND_HZ = (200.0, 2700.0)
"""2500 Hz, the trade's reference bandwidth."""
DIGITAL_SILENCE_DBFS = -130.0
WINDOW_S = 0.25
EDGE_S = 0.04
MOST_ERROR_DB = 1.0


@dataclass(frozen=True, slots=True)
class Floor:
    """The path's own noise, in silence."""

    power_dbfs: float | Below
    """From 0 to 6 kHz."""
    in_2500_hz_dbfs: float | Below
    """From 200 to 2700 Hz."""
    apart_db: float
    """Difference between the two rounds."""
    hum: Hum | None


@dataclass(frozen=True, slots=True)
class NoiseTreatment:
    """What becomes of noise and of a tone in it; all of it 0 dB for a straight path."""

    tone_over_noise_db: Figure
    """Gain of the tone over that of the noise beside it, at the end."""
    fade_db: Figure
    """Fall of the noise's gain from its beginning to its end."""
    pump_db: Figure
    """Gain of the noise while the tone is on, over that while it is off."""
    unlike_db: float
    """What the known noise does not explain of what was heard, over it, dB."""


def measure_floor(heard: Heard) -> Floor:
    """Listen to both silences."""
    spectra, totals, bands = MeanSpectrum(SEQUENCE_HZ), [], []
    n_settle = round(SETTLE_S * SEQUENCE_HZ)
    for place in heard.rounds(Piece.SILENCE):
        silence = heard.cut(place, n_settle, place.n_samples)
        silence = silence - silence.mean()
        totals.append(mean_power(silence))
        bands.append(power_spectrum(silence, sample_rate_hz=SEQUENCE_HZ).band_power(*BAND_HZ))
        spectra.add(heard.cut(place, place.n_samples - 2 * SEQUENCE_HZ, place.n_samples))
    levels = [_dbfs(total) for total in bands]
    numbers = [level for level in levels if not isinstance(level, Below)]
    return Floor(
        _dbfs(float(np.mean(totals))),
        _dbfs(float(np.mean(bands))),
        float(np.ptp(numbers)) if len(numbers) > 1 else 0.0,
        spectra.hum(),
    )


def _dbfs(power: float) -> float | Below:
    level_dbfs = units.dbfs_from_power(power)
    return Below(DIGITAL_SILENCE_DBFS) if level_dbfs < DIGITAL_SILENCE_DBFS else level_dbfs


def measure_treatment(heard: Heard, response: Response) -> NoiseTreatment | CannotTell:
    """Compare the gains of noise and tone with each other, window by window.

    Both are filtered by the measured response and fitted to what was heard by least squares. A
    gain control moves both alike; a noise reduction does not.
    """
    gains, errors, unlike = _mean_fit(
        [_fit(heard.cut(place), response) for place in heard.rounds(Piece.NOISE)]
    )
    is_on = np.isfinite(gains[1])
    late = np.arange(is_on.size) >= is_on.size // 2
    on, off = is_on & late, ~is_on & late
    noise_error_db, tone_error_db = (
        8.686 * float(np.nanmean(error)) / max(float(np.nanmedian(gain)), 1e-6)
        for gain, error in zip(gains, errors, strict=True)
    )
    noise_error_db /= math.sqrt(on.sum())
    tone_error_db /= math.sqrt(on.sum())
    if max(noise_error_db, tone_error_db) > MOST_ERROR_DB or not (gains[0] > 0.0).all():
        return CannotTell("the path's own noise covers the one that was sent")
    noise_db, tone_db = amplitudes_db(gains)
    levels = [float(noise_db[which].mean()) for which in (on, off)]
    return NoiseTreatment(
        Figure(float(tone_db[on].mean()) - levels[0], math.hypot(noise_error_db, tone_error_db)),
        Figure(float(noise_db[0]) - levels[1], noise_error_db * math.sqrt(on.sum() + 1)),
        Figure(levels[0] - levels[1], noise_error_db * math.sqrt(2.0)),
        units.db_from_ratio(unlike),
    )


def _mean_fit(fits: list[tuple[Samples, Samples, float]]) -> tuple[Samples, Samples, float]:
    """Of all rounds: gains and errors (2, n_windows), unexplained share."""
    gains = np.mean([fit[0] for fit in fits], axis=0)
    errors = np.mean([fit[1] for fit in fits], axis=0) / math.sqrt(len(fits))
    return gains, errors, float(np.mean([fit[2] for fit in fits]))


def _fit(heard: Samples, response: Response) -> tuple[Samples, Samples, float]:
    """Gains of noise and tone by windows (NaN: no tone), their errors, the unexplained share."""
    parts = noise_and_tone(heard.size)
    pieces = np.stack([through(LOUDEST_AMPLITUDE * part, response) for part in parts])
    n_window, n_edge = (round(s * SEQUENCE_HZ) for s in (WINDOW_S, EDGE_S))
    n_windows = heard.size // n_window
    gains, errors = np.full((2, n_windows), np.nan), np.full((2, n_windows), np.nan)
    rest = total = 0.0
    for number in range(n_windows):
        window = slice(number * n_window + n_edge, (number + 1) * n_window)
        is_on = any(begin <= number * WINDOW_S < end for begin, end in BURSTS_S)
        n_parts = 2 if is_on else 1
        design = pieces[:n_parts, window]
        inverse = np.linalg.inv(design @ design.T)
        gains[:n_parts, number] = inverse @ (design @ heard[window])
        left = heard[window] - gains[:n_parts, number] @ design
        errors[:n_parts, number] = np.sqrt(np.diag(inverse) * float(np.square(left).mean()))
        rest += float(left @ left)
        total += float(heard[window] @ heard[window])
    return gains, errors, rest / total
