"""From the recipe of one trial to its recording: everything is drawn, scaled and summed here.

The wanted signal and every disturbance are made on their own, scaled to their asked powers and
added in float64; one gain then brings the whole mix to its level, so ratios stay exact.
"""

import hashlib
import math
from collections import Counter
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from solidcopy import units
from solidcopy.errors import CalibrationError, PlanError
from solidcopy.impairments.impairment import Added, Disturbance, Scene
from solidcopy.impairments.level import Level, fixed
from solidcopy.modes.mode import Mode, ModeFacts
from solidcopy.modes.registry import mode_named
from solidcopy.seeds import Chance, stream
from solidcopy.signals import power
from solidcopy.signals.waveform import Samples, Waveform
from solidcopy.trials.condition import Condition, Sending, Spread
from solidcopy.trials.readings import Mix, Part, Wanted, measure
from solidcopy.trials.trial import Recording, Trial, Truth

AUTO_MEAN_DBFS = -20.0
"""Mean power of a mix whose level is left to the maker: Gaussian peaks stay 6 dB below full
scale (FACTS G2: 15 dB from the noise's rms to full scale are enough)."""
AUTO_PEAK_DBFS = -1.0
"""A mix whose peak would pass this is made quieter instead."""

RANDOM_MESSAGE = "random"


def make(trial: Trial) -> tuple[Recording, Truth]:
    """The recording of one trial, and what was sent in it. Same trial, same samples.

    Returns: a recording one slot long (its first sample is the slot's edge), and the truth. A
        start offset that pushes the signal past an edge of the slot cuts it there; levels refer
        to the uncut signal.
    Raises: PlanError (MessageError) if the condition contradicts itself or the mode;
        CalibrationError if an asked level cannot be made or was not met.
    """
    mode = mode_named(trial.mode)
    facts, sending = mode.facts, trial.condition.sending
    truth = draw_truth(trial, mode)
    scene = Scene(
        sample_rate_hz=trial.sample_rate_hz,
        n_samples=round(facts.slot_s * trial.sample_rate_hz),
        wanted_audio_hz=truth.audio_hz,
        wanted_width_hz=facts.width_hz,
    )
    signal_power = _asked_signal_power(trial)
    wanted = _wanted(truth, trial, mode, signal_power)
    parts = added_parts(trial.condition, scene, signal_power=signal_power, chance=trial.chance)
    total = np.zeros(scene.n_samples) if wanted.samples is None else wanted.samples.copy()
    for part in parts:
        total += part.disturbance.samples
    gain = _mix_gain(total, trial, is_absolute=sending.signal_dbfs is not None)
    recorded = (gain * total).astype(np.float32)
    _refuse_clipping(trial, recorded)
    readings = measure(Mix(trial.sample_rate_hz, wanted, parts, gain), recorded)
    digest = hashlib.sha256(recorded.astype("<f4", copy=False).tobytes()).hexdigest()
    return Recording(Waveform(recorded, trial.sample_rate_hz), readings, digest), truth


def draw_truth(trial: Trial, mode: Mode) -> Truth:
    """Message, frequency and start of one trial; the start is that of the nearest sample."""
    sending, facts = trial.condition.sending, mode.facts
    audio_hz = _drawn(sending.audio_hz, trial.chance, purpose="audio-hz", field="sending.audio_hz")
    offset_s = _drawn(
        sending.start_offset_s, trial.chance, purpose="start", field="sending.start_offset_s"
    )
    _refuse_frequency(sending, facts, half_rate_hz=trial.sample_rate_hz / 2.0)
    first_sample = round((facts.nominal_start_s + offset_s) * trial.sample_rate_hz)
    if not trial.is_sent:
        message = None
    elif sending.message == RANDOM_MESSAGE:
        message = mode.draw_message(stream(trial.chance, "message"))
    else:
        packed = mode.pack(sending.message)
        # A call that travels as a hash is read as "<...>" by whoever has not heard it before.
        message = replace(packed, text=mode.unpack(packed.bits()))
    return Truth(
        message=message,
        audio_hz=audio_hz,
        time_offset_s=first_sample / trial.sample_rate_hz - facts.nominal_start_s,
    )


def _drawn(asked: float | str | Spread, chance: Chance, *, purpose: str, field: str) -> float:
    if isinstance(asked, Spread):
        return float(stream(chance, purpose).uniform(asked.low, asked.high))
    return fixed(asked, field)


def _refuse_frequency(sending: Sending, facts: ModeFacts, *, half_rate_hz: float) -> None:
    """PlanError if any tone that might be drawn does not fit; half a step is left at each side."""
    asked = sending.audio_hz
    ends = (asked.low, asked.high) if isinstance(asked, Spread) else (asked, asked)
    lowest_hz = facts.tone_spacing_hz / 2.0
    highest_hz = half_rate_hz - facts.width_hz
    for end in ends:
        if not lowest_hz <= fixed(end, "sending.audio_hz") <= highest_hz:
            raise PlanError(
                f"sending.audio_hz: {end:g} Hz is asked; the lowest tone of {facts.name} may lie "
                f"between {lowest_hz:g} and {highest_hz:g} Hz at this sample rate"
            )


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


def _wanted(truth: Truth, trial: Trial, mode: Mode, signal_power: float) -> Wanted:
    facts, rate = mode.facts, trial.sample_rate_hz
    n_slot = round(facts.slot_s * rate)
    first = round((facts.nominal_start_s + truth.time_offset_s) * rate)
    start, stop = max(first, 0), min(first + round(facts.duration_s * rate), n_slot)
    # Nearly all of a frequency-shifted signal lies within its own width of its tones.
    occupied_hz = (
        truth.audio_hz - facts.width_hz,
        truth.audio_hz + 2.0 * facts.width_hz,
    )
    samples: Samples | None = None
    if truth.message is not None:
        analytic = mode.modulate(
            mode.encode(truth.message),
            sample_rate_hz=rate,
            audio_hz=truth.audio_hz,
            phase_rad=float(stream(trial.chance, "phase").uniform(0.0, 2.0 * math.pi)),
        )
        samples = np.zeros(n_slot)
        amplitude = math.sqrt(signal_power / units.FULL_SCALE_SINE_POWER)
        samples[start:stop] = amplitude * analytic.real[start - first : stop - first]
    return Wanted(samples, signal_power, max(stop - start, 0) / n_slot, occupied_hz)


def added_parts(
    condition: Condition, scene: Scene, *, signal_power: float, chance: Chance
) -> tuple[Part, ...]:
    """All added disturbances at their asked levels, in an order of their own.

    Sums of several noises: each is scaled to the SNR that it states; their powers add, and an
    interference-to-noise ratio refers to that sum.
    """
    made: list[tuple[str, Level, Disturbance]] = []
    count: Counter[str] = Counter()
    for impairment in condition.impairments:
        purpose = f"{impairment.kind}/{count[impairment.kind]}"
        count[impairment.kind] += 1
        made.append((purpose, *_synthesised(impairment, scene, stream(chance, purpose))))
    noise_power = sum(
        _target_power(level, disturbance, signal_power=signal_power, noise_power=0.0)
        for _, level, disturbance in made
        if level.quantity in ("snr", "as_recorded")
    )
    # Sorted, so that the order in which a plan lists them cannot move a single bit.
    return tuple(
        _scaled(purpose, level, disturbance, signal_power=signal_power, noise_power=noise_power)
        for purpose, level, disturbance in sorted(made, key=lambda item: item[0])
    )


def _synthesised(
    impairment: Added, scene: Scene, generator: np.random.Generator
) -> tuple[Level, Disturbance]:
    return impairment.level(), impairment.synthesise(scene, generator)


def _target_power(
    level: Level, disturbance: Disturbance, *, signal_power: float, noise_power: float
) -> float:
    """Expected power that a disturbance shall have, in the quantity that its level refers to."""
    if level.quantity == "as_recorded":
        return disturbance.reference_power
    if level.quantity == "interference_to_noise":
        return noise_power * units.ratio_from_db(level.level_db)
    return signal_power / units.ratio_from_db(level.level_db)


def _scaled(
    purpose: str, level: Level, disturbance: Disturbance, *, signal_power: float, noise_power: float
) -> Part:
    target = _target_power(level, disturbance, signal_power=signal_power, noise_power=noise_power)
    if disturbance.reference_power <= 0.0:
        raise CalibrationError(f"{purpose}: there is no power in it to bring to a level")
    samples = disturbance.samples
    samples *= math.sqrt(target / disturbance.reference_power)
    kind, ordinal = purpose.split("/")
    return Part(kind if ordinal == "0" else f"{kind} {int(ordinal) + 1}", level, disturbance)


def _mix_gain(total: Samples, trial: Trial, *, is_absolute: bool) -> float:
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
