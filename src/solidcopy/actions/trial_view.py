"""Everything that is shown of one trial: of what it is made, how it looks, sounds, and reads."""

import io
from dataclasses import dataclass

import numpy as np
import soundfile

from solidcopy import units
from solidcopy.actions.recent_trials import RECENT
from solidcopy.actions.served import served
from solidcopy.actions.symbol_picture import SymbolPicture, symbol_picture
from solidcopy.actions.trial_asked import AskedTrial, trial_words
from solidcopy.actions.trial_pictures import (
    Picture,
    Shades,
    WaveformShape,
    near_picture,
    waveform_shape,
    wide_picture,
)
from solidcopy.actions.trial_sources import Level, Source, finite, levels_of, sources_of
from solidcopy.modes.mode import CodedMode
from solidcopy.modes.registry import mode_named
from solidcopy.reports.axis import axis_facts
from solidcopy.reports.samples import spectrum
from solidcopy.reports.wording import plain
from solidcopy.signals import power
from solidcopy.signals.waveform import Waveform
from solidcopy.trials.expand import TrialKey
from solidcopy.trials.make import WANTED, Making, muted
from solidcopy.trials.plan import Plan

SPECTRUM_STEP_HZ = 2.9296875
"""12 000 Hz over 4096."""
SUM = -1
"""Number of the line that is the sum of all."""

NOTHING_SENT_WORDS = "Nothing was sent in this trial, so there are no symbols to look at."
NO_CODE_WORDS = "This mode sends its text without a code; symbols are shown for coded modes only."
MUTED_SIGNAL_WORDS = "The wanted signal is muted, so there are no symbols to look at."


@served
@dataclass(frozen=True, slots=True)
class Sent:
    """What was sent, as it arrives."""

    text: str
    audio_hz: float
    """Of the lowest tone."""
    start_s: float
    """In the slot, ramps included."""
    stop_s: float
    offset_s: float
    """Start after the mode's nominal one."""
    signal_dbfs: float | None
    """Mean while transmitting."""


@served
@dataclass(frozen=True, slots=True)
class Sound:
    """The audio that is played."""

    sample_rate_hz: int
    duration_s: float
    peak_dbfs: float | None
    """0 touches full scale. Null: silence."""
    rms_dbfs: float | None
    """0 is the mean power of a sine that touches full scale."""
    crest_db: float
    n_clipped: int
    """Samples beyond full scale."""
    gain_db: float
    """Of the mix; the same whatever is muted."""


@served
@dataclass(frozen=True, slots=True)
class SpectrumLine:
    """Power density of the sum, or of one source alone: as it is in front of the receiver's chain,
    times the gain behind it."""

    number: int
    """Of the source; -1 is the sum."""
    name: str
    levels_db: tuple[float, ...]
    """dBFS in 1 Hz."""


@served
@dataclass(frozen=True, slots=True)
class Spectra:
    """Power densities over the same frequencies."""

    first_hz: float
    step_hz: float
    lines: tuple[SpectrumLine, ...]


@served
@dataclass(frozen=True, slots=True)
class TrialView:
    """One trial, whole or with parts of it muted."""

    key: str
    """As `solidcopy remake` takes it."""
    words: str
    is_muted: bool
    """Whether something is left out: then it is not the trial of the campaign."""
    mode: str
    slot_s: float
    reference_bandwidth_hz: float
    """Of every SNR and I/N here."""
    digest: str
    """SHA-256 of the whole trial's samples as little-endian float32."""
    sent: Sent | None
    sources: tuple[Source, ...]
    levels: tuple[Level, ...]
    sound: Sound
    wide: Picture
    near: Picture
    """Around the wanted signal."""
    spectra: Spectra
    waveform: WaveformShape
    symbols: SymbolPicture | None
    no_symbols: str
    """Why there is no picture of the symbols; empty where there is one."""


def view_trial(plan: Plan, asked: AskedTrial) -> TrialView:
    """Make a trial of a plan, unless that was done a moment ago, and look at it.

    Raises: NotThereError if the plan has no such trial; PlanError, CalibrationError or
        AudioFileError from the making.
    """
    key = asked.key(plan)
    silent = asked.silent(plan, key)
    making = RECENT.get(plan, key)
    return view_of(plan, key, making, silent)


def trial_sound(plan: Plan, asked: AskedTrial) -> bytes:
    """The audio of a trial as it is viewed, a WAV file of 32-bit floats. Raises as `view_trial`."""
    key = asked.key(plan)
    silent = asked.silent(plan, key)
    waveform, _ = muted(RECENT.get(plan, key), silent)
    file = io.BytesIO()
    soundfile.write(file, waveform.samples, waveform.sample_rate_hz, format="WAV", subtype="FLOAT")
    return file.getvalue()


def view_of(plan: Plan, key: TrialKey, making: Making, silent: frozenset[int]) -> TrialView:
    """A made trial with some of it muted."""
    facts = mode_named(plan.mode).facts
    whole = making.recording.waveform
    sources = sources_of(plan, making, silent)
    silent = frozenset(source.number for source in sources if source.is_muted)
    waveform, truth = muted(making, silent) if silent else (whole, making.truth)
    shades = Shades.of(whole)
    symbols = None if WANTED in silent else symbol_picture(waveform, plan.mode, truth)
    no_symbols = MUTED_SIGNAL_WORDS if WANTED in silent else NOTHING_SENT_WORDS
    if not isinstance(mode_named(plan.mode), CodedMode):
        no_symbols = NO_CODE_WORDS
    return TrialView(
        key=str(key),
        words=trial_words(plan, key, axis_words(plan, key.axis_value)),
        is_muted=bool(silent),
        mode=plan.mode,
        slot_s=facts.slot_s,
        reference_bandwidth_hz=units.REFERENCE_BANDWIDTH_HZ,
        digest=making.recording.digest,
        sent=_sent(making),
        sources=sources,
        levels=levels_of(making),
        sound=_sound(waveform, making),
        wide=wide_picture(waveform, shades),
        near=near_picture(waveform, shades, facts, making.truth.audio_hz),
        spectra=_spectra(waveform, making, sources),
        waveform=waveform_shape(waveform),
        symbols=symbols,
        no_symbols="" if symbols else no_symbols,
    )


def axis_words(plan: Plan, value: float) -> str:
    """The axis at a value, e.g. "SNR in 2500 Hz −18 dB"."""
    facts = axis_facts(plan)
    return f"{facts.quantity} {plain(value)} {facts.unit}".rstrip()


def _sent(making: Making) -> Sent | None:
    truth, mode = making.truth, mode_named(making.trial.mode)
    if truth.message is None:
        return None
    start_s = mode.facts.nominal_start_s + truth.time_offset_s
    return Sent(
        text=truth.message.text,
        audio_hz=round(truth.audio_hz, 3),
        start_s=round(start_s, 4),
        stop_s=round(start_s + mode.lasts_s(truth.message), 4),
        offset_s=round(truth.time_offset_s, 4),
        signal_dbfs=finite(making.recording.readings.signal_dbfs),
    )


def _sound(waveform: Waveform, making: Making) -> Sound:
    samples = waveform.samples
    return Sound(
        sample_rate_hz=waveform.sample_rate_hz,
        duration_s=waveform.duration_s,
        peak_dbfs=finite(units.peak_dbfs(power.peak(samples))),
        rms_dbfs=finite(units.dbfs_from_power(power.mean_power(samples))),
        crest_db=round(power.crest_db(samples), 2),
        n_clipped=power.count_clipped(samples),
        gain_db=round(making.recording.readings.gain_db, 3),
    )


def _spectra(waveform: Waveform, making: Making, sources: tuple[Source, ...]) -> Spectra:
    first_hz, levels = _density(waveform.samples, waveform.sample_rate_hz)
    lines = [SpectrumLine(SUM, "Sum, as recorded", levels)]
    samples = {part.place + 1: part.disturbance.samples for part in making.mix.parts}
    if making.mix.wanted.samples is not None:
        samples[WANTED] = making.mix.wanted.samples
    rate_hz, gain = making.trial.synthesis_rate_hz, making.mix.gain * making.gain_behind
    for source in sources:
        if source.number in samples and not source.is_muted:
            _, alone = _density(gain * samples[source.number], rate_hz)
            lines.append(SpectrumLine(source.number, source.name, alone))
    return Spectra(first_hz, SPECTRUM_STEP_HZ, tuple(lines))


def _density(samples: power.AnySamples, rate_hz: int) -> tuple[float, tuple[float, ...]]:
    narrow = Waveform(samples.astype(np.float32), rate_hz)
    at_hz, levels_db = spectrum(narrow, n_segment=round(rate_hz / SPECTRUM_STEP_HZ))
    return float(at_hz[0]), tuple(np.round(levels_db, 1).tolist())
