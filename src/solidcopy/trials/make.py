"""From the recipe of one trial to its recording: everything is drawn, scaled and summed here.

The wanted signal and every disturbance are made on their own, scaled to their asked powers and
added in float64; one gain then brings the whole mix to its level, so ratios stay exact. Last, the
sum passes through the receiver's chain.
"""

import hashlib
import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from solidcopy import units
from solidcopy.errors import CalibrationError, PlanError
from solidcopy.impairments.catalogue import is_path
from solidcopy.impairments.impairment import Scene
from solidcopy.impairments.level import fixed
from solidcopy.modes.registry import mode_named
from solidcopy.signals import power
from solidcopy.signals.waveform import Samples, Waveform
from solidcopy.trials.chain import through_chain
from solidcopy.trials.mixing import added_parts
from solidcopy.trials.readings import Mix, measure
from solidcopy.trials.trial import Recording, Trial, Truth
from solidcopy.trials.wanted import arriving, draw_truth, slot_late_s

AUTO_MEAN_DBFS = -20.0
"""Mean power of a mix whose level is left to the maker: Gaussian peaks stay 6 dB below full
scale (FACTS G2: 15 dB from the noise's rms to full scale are enough)."""
AUTO_PEAK_DBFS = -1.0
"""A mix whose peak would pass this is made quieter instead."""

WANTED = 0
"""Number of the wanted signal among what can be muted; impairments count from 1."""


@dataclass(frozen=True, slots=True, eq=False)
class Making:
    """A recording and everything that it is made of."""

    trial: Trial
    sent: Truth
    """As it was sent, before any path."""
    truth: Truth
    """As it arrives."""
    mix: Mix
    gain_behind: float
    """Amplitude factor behind the receiver's chain; 1 where there is none."""
    recording: Recording


def make(trial: Trial) -> tuple[Recording, Truth]:
    """The recording of one trial, and what was sent in it. Same trial, same samples.

    Returns: a recording one slot long (its first sample is the slot's edge as the receiver takes
        it), and the truth, as it arrives. A start offset that pushes the signal past an edge of
        the slot cuts it there; levels refer to the uncut signal.
    Raises: PlanError (MessageError) if the condition contradicts itself or the mode;
        CalibrationError if an asked level cannot be made or was not met.
    """
    making = make_in_parts(trial)
    return making.recording, making.truth


def make_in_parts(trial: Trial) -> Making:
    """As `make`, with everything that the recording is made of."""
    mode = mode_named(trial.mode)
    facts, condition = mode.facts, trial.condition
    sent = truth = draw_truth(trial, mode)
    scene = Scene(
        sample_rate_hz=trial.synthesis_rate_hz,
        n_samples=round(facts.slot_s * trial.synthesis_rate_hz),
        wanted_audio_hz=truth.audio_hz,
        wanted_width_hz=facts.width_hz,
        slot_late_s=slot_late_s(condition),
    )
    signal_power = _asked_signal_power(trial)
    wanted, truth = arriving(truth, trial, signal_power)
    parts = added_parts(condition, scene, signal_power=signal_power, chance=trial.chance)
    others = (text for part in parts for text in part.disturbance.texts)
    truth = replace(truth, other_texts=frozenset(others))
    total = np.zeros(scene.n_samples) if wanted.samples is None else wanted.samples.copy()
    for part in parts:
        total += part.disturbance.samples
    is_absolute = condition.sending.signal_dbfs is not None
    gain = _gain(total, trial, is_absolute=is_absolute)
    summed = gain * total
    heard = through_chain(summed, trial)
    gain_behind = 1.0
    if heard is not summed and not condition.fixes_full_scale():
        gain_behind = _gain(heard, trial, is_absolute=is_absolute)
        heard *= gain_behind
    recorded = heard.astype(np.float32)
    if not condition.fixes_full_scale():
        _refuse_clipping(trial, recorded)
    mix = Mix(trial.synthesis_rate_hz, wanted, parts, gain)
    readings = measure(mix, summed.astype(np.float32), recorded)
    digest = hashlib.sha256(recorded.astype("<f4", copy=False).tobytes()).hexdigest()
    recording = Recording(Waveform(recorded, trial.sample_rate_hz), readings, digest)
    return Making(trial, sent, truth, mix, gain_behind, recording)


def muted(making: Making, silent: frozenset[int]) -> tuple[Waveform, Truth]:
    """The same slot without some of what is in it: the same draws and gains, the rest unaltered.

    Levels that refer to the noise stay as they were with it, and no gain is chosen anew; so what
    is left can be compared with the whole. A receiver's chain reacts to what is left.

    Args:
        making: the whole trial.
        silent: numbers of impairments, from 1 as a plan lists them, and `WANTED` for the wanted
            signal. That of a slot clock alters nothing: it is in the whole slot.
    Returns: the slot, the recording's very samples where nothing is silent, and beyond full scale
        nothing is cut off; and the truth, as it arrives over the paths that are left.
    """
    trial, mix, truth = making.trial, making.mix, making.truth
    places = frozenset(number - 1 for number in silent if number != WANTED)
    total = np.zeros(round(mode_named(trial.mode).facts.slot_s * trial.synthesis_rate_hz))
    if WANTED not in silent:
        wanted = mix.wanted
        if any(is_path(trial.condition.impairments[place]) for place in places):
            wanted, arrived = arriving(making.sent, trial, wanted.asked_power, without=places)
            truth = replace(arrived, other_texts=truth.other_texts)
        if wanted.samples is not None:
            total += wanted.samples
    for part in mix.parts:
        if part.place not in places:
            total += part.disturbance.samples
    if total.any():
        total *= mix.gain
        total = making.gain_behind * through_chain(total, trial, without=places)
    else:
        total = np.zeros(making.recording.waveform.samples.size)
    return Waveform(total.astype(np.float32), trial.sample_rate_hz), truth


def _asked_signal_power(trial: Trial) -> float:
    """Wanted mean power before the gain of the mix: as asked, or else a full-scale sine's."""
    signal_dbfs = trial.condition.sending.signal_dbfs
    if signal_dbfs is None:
        return units.FULL_SCALE_SINE_POWER
    if trial.level_dbfs is not None:
        raise PlanError(
            "sending.signal_dbfs fixes the level of every part, so audio.level_dbfs cannot be "
            'fixed too; set audio.level_dbfs to "auto"'
        )
    return units.power_from_dbfs(fixed(signal_dbfs, "sending.signal_dbfs"))


def _gain(total: Samples, trial: Trial, *, is_absolute: bool) -> float:
    """One amplitude factor for the whole mix."""
    mean, peak = power.mean_power(total), power.peak(total)
    if is_absolute or mean == 0.0:
        return 1.0
    if trial.level_dbfs is not None:
        return math.sqrt(units.power_from_dbfs(trial.level_dbfs) / mean)
    largest_peak = math.sqrt(units.ratio_from_db(AUTO_PEAK_DBFS))
    return min(math.sqrt(units.power_from_dbfs(AUTO_MEAN_DBFS) / mean), largest_peak / peak)


def _refuse_clipping(trial: Trial, recorded: NDArray[np.float32]) -> None:
    n_clipped = power.count_clipped(recorded)
    if n_clipped == 0:
        return
    signal_dbfs = trial.condition.sending.signal_dbfs
    field, value = (
        ("audio.level_dbfs", trial.level_dbfs)
        if signal_dbfs is None
        else ("sending.signal_dbfs", fixed(signal_dbfs, "sending.signal_dbfs"))
    )
    excess_db = units.peak_dbfs(power.peak(recorded))
    raise CalibrationError(
        f"{field} asks for {value:g} dBFS: {n_clipped} samples pass full scale by up to "
        f"{excess_db:.2f} dB; lower it by at least {math.ceil(10.0 * excess_db) / 10.0:g} dB"
    )
