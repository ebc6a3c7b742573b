"""One trial of each condition, re-made from its recipe, proved and measured for its pictures."""

import math
from dataclasses import dataclass

import numpy as np
import scipy.signal
from numpy.typing import NDArray

from solidcopy import units
from solidcopy.campaigns.journal import JournalReader
from solidcopy.errors import JournalError, SolidcopyError
from solidcopy.modes.registry import mode_named
from solidcopy.reports.facts import CampaignFacts
from solidcopy.reports.measured import Estimate
from solidcopy.signals.amplitude_distribution import envelope, exceeded_levels
from solidcopy.signals.filters import Band
from solidcopy.signals.power import mean_power
from solidcopy.signals.spectrogram import power_densities
from solidcopy.signals.waveform import Waveform
from solidcopy.statistics.evidence import NoEvidence
from solidcopy.trials.expand import TrialKey, trial_of
from solidcopy.trials.make import make
from solidcopy.trials.trial import SENT, LevelReading, Recording, Truth

Array = NDArray[np.float64]

HIGHEST_HZ = 3000.0
"""Pictures end here: beyond it a usual receiver passes nothing."""

WINDOW_S = 0.16
"""Of the spectrogram; one FT8 symbol."""

ENVELOPE_BAND = Band(200.0, 2700.0, skirt_hz=100.0)
"""Band of the amplitude distribution: the 2500 Hz in which noise is measured."""

RARE = (3e-4, 1e-2)
"""Shares of time at which impulses show. In a slot of FT8 the rarest stands on some ten independent
values, so that chance moves its level by 0.2 dB (standard deviation)."""

IMPULSIVE_DB = 1.0
"""So far above Gaussian noise at a rare share amplitudes deserve a picture."""

N_AMPLITUDE_POINTS = 60

_db = np.vectorize(units.db_from_ratio, otypes=[np.float64])


@dataclass(frozen=True, slots=True, eq=False)
class Spectrogram:
    """Power density over time and frequency, dB relative to the median of all cells."""

    levels_db: Array
    """(n_frequencies, n_times)."""
    duration_s: float
    highest_hz: float


@dataclass(frozen=True, slots=True, eq=False)
class Amplitudes:
    """How often the envelope passes a level (amplitude probability distribution)."""

    p_exceeded: Array
    """(n,) falling."""
    level_db: Array
    """(n,) envelope over its own root mean square, dB."""


@dataclass(frozen=True, slots=True, eq=False)
class SampleFacts:
    """One re-made trial."""

    condition: str
    key: str
    """E.g. "2@-21#0", as `solidcopy remake` takes it."""
    axis_value: float
    is_proved: bool | None
    """Whether the digest equals that in the journal; None if the journal holds none."""
    digest: str
    message: str
    audio_hz: float
    width_hz: float
    start_s: float
    stop_s: float
    levels: tuple[LevelReading, ...]
    spectrogram: Spectrogram
    spectrum_hz: Array
    spectrum_db: Array
    """Power density of the slot, dBFS in 1 Hz."""
    amplitudes: Amplitudes | None
    """Where they rise above those of Gaussian noise."""


def sample_facts(
    reader: JournalReader, facts: CampaignFacts, condition: int
) -> SampleFacts | NoEvidence:
    """A trial of one condition near its 50 % point, or why it cannot be re-made here."""
    plan, named = reader.plan, facts.conditions[condition]
    key = TrialKey(condition, SENT, _axis_value(facts, named.name), 0)
    try:
        recording, truth = make(trial_of(plan, key))
    except SolidcopyError as error:
        return NoEvidence(f"trial {key} cannot be re-made here: {error}")
    mode = mode_named(plan.mode)
    lasts_s = 0.0 if truth.message is None else mode.lasts_s(truth.message)
    start_s = mode.facts.nominal_start_s + truth.time_offset_s
    spectrum_hz, spectrum_db = spectrum(recording.waveform)
    return SampleFacts(
        condition=named.name,
        key=str(key),
        axis_value=key.axis_value,
        is_proved=_is_proved(reader, key, recording),
        digest=recording.digest,
        message=_text(truth),
        audio_hz=truth.audio_hz,
        width_hz=mode.facts.width_hz,
        start_s=start_s,
        stop_s=start_s + lasts_s,
        levels=recording.readings.levels,
        spectrogram=spectrogram(recording.waveform),
        spectrum_hz=spectrum_hz,
        spectrum_db=spectrum_db,
        amplitudes=if_impulsive(amplitudes(recording.waveform)),
    )


def _text(truth: Truth) -> str:
    return "" if truth.message is None else truth.message.text


def _axis_value(facts: CampaignFacts, condition: str) -> float:
    """The axis value nearest to the first receiver's 50 % point, or the middle one."""
    values = facts.axis.values
    at = facts.curve(condition, facts.receivers[0].name).threshold(0.5).at
    if not isinstance(at, Estimate):
        return values[len(values) // 2]
    return min(values, key=lambda value: abs(value - at.value))


def _is_proved(reader: JournalReader, key: TrialKey, recording: Recording) -> bool | None:
    try:
        outcome = reader.outcome(key, 0)
    except JournalError:
        return None
    return outcome.digest == recording.digest if outcome.digest else None


def spectrogram(waveform: Waveform) -> Spectrogram:
    """Power over time and frequency up to 3 kHz, pooled to what a page can show."""
    rate_hz = waveform.sample_rate_hz
    n_window = round(WINDOW_S * rate_hz)
    power = power_densities(
        waveform.samples, sample_rate_hz=rate_hz, n_window=n_window, n_hop=n_window // 2
    )
    n_bins = 2 * (int(HIGHEST_HZ * WINDOW_S) // 2)
    pooled: Array = power[:, :n_bins].reshape(power.shape[0], -1, 2).mean(axis=2).T
    floor = float(np.median(pooled)) or 1.0
    # A silent cell has no level in dB; 60 dB below the median is drawn as white all the same.
    return Spectrogram(
        _db(np.maximum(pooled / floor, 1e-6)), waveform.duration_s, n_bins / WINDOW_S
    )


def spectrum(waveform: Waveform, *, n_segment: int = 4096) -> tuple[Array, Array]:
    """Frequencies up to 3 kHz and the power density there, dBFS in 1 Hz.

    Args:
        waveform: the slot.
        n_segment: samples transformed at once: sample rate over distance of the frequencies.
    """
    n_segment = min(n_segment, waveform.samples.size)
    hz, density = scipy.signal.welch(
        waveform.samples, fs=waveform.sample_rate_hz, nperseg=n_segment
    )
    keep = (hz > 0.0) & (hz <= HIGHEST_HZ)
    floor = units.power_from_dbfs(-200.0) / units.FULL_SCALE_SINE_POWER
    relative = np.maximum(density[keep] / units.FULL_SCALE_SINE_POWER, floor)
    return hz[keep], _db(relative)


def amplitudes(waveform: Waveform) -> Amplitudes | None:
    """Amplitude probability distribution of the envelope in 2500 Hz; None for silence.

    Of Gaussian noise the envelope is Rayleigh distributed: P(envelope > v) = exp(−(v / rms)²)
    (FACTS C3).
    """
    values = envelope(waveform.samples, sample_rate_hz=waveform.sample_rate_hz, band=ENVELOPE_BAND)
    rms = math.sqrt(mean_power(values))
    if rms == 0.0:
        return None
    # Samples within 1/2500 s of each other say the same: the rarest share shown is theirs.
    n_independent = waveform.duration_s * (ENVELOPE_BAND.high_hz - ENVELOPE_BAND.low_hz)
    p = np.geomspace(0.999, 2.0 / n_independent, N_AMPLITUDE_POINTS)
    p = np.concatenate([np.linspace(0.999, 0.4, 20), p[p < 0.4]])
    levels = exceeded_levels(values, p) / rms
    return Amplitudes(p, _db(np.maximum(levels**2, 1e-6)))


def rayleigh_place(p: float) -> float:
    """Level of Gaussian noise's envelope over its rms that a share p of time passes, dB."""
    return units.db_from_ratio(-math.log(p))


def if_impulsive(found: Amplitudes | None) -> Amplitudes | None:
    """The amplitudes, if at some rare share they lie well above those of Gaussian noise."""
    if found is None:
        return None
    rises = [
        level - rayleigh_place(p)
        for p, level in zip(found.p_exceeded.tolist(), found.level_db.tolist(), strict=True)
        if RARE[0] <= p <= RARE[1]
    ]
    return found if max(rises) > IMPULSIVE_DB else None
