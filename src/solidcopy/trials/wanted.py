"""The wanted signal of a trial: what is sent, and how it arrives."""

import math
from collections import Counter
from dataclasses import dataclass, replace

import numpy as np

from solidcopy import units
from solidcopy.errors import PlanError
from solidcopy.impairments.catalogue import is_path
from solidcopy.impairments.impairment import Arrival, Path, Transmission
from solidcopy.impairments.level import fixed
from solidcopy.modes.mode import Mode, ModeFacts
from solidcopy.modes.registry import mode_named
from solidcopy.seeds import Chance, stream
from solidcopy.signals.waveform import AnalyticSamples, Samples
from solidcopy.trials.condition import Condition, Sending, Spread
from solidcopy.trials.trial import Trial, Truth

RANDOM_MESSAGE = "random"


@dataclass(frozen=True, slots=True, eq=False)
class Wanted:
    """The wanted signal in the slot, before the gain of the mix."""

    samples: Samples | None
    """(n_samples,); None where nothing is sent."""
    asked_power: float
    """Mean power while transmitting; also that which it would have, where nothing is sent."""
    share_sent: float
    """Share of the slot during which it is sent; what an offset pushes out is cut off."""
    occupied_hz: tuple[float, float]
    path_power_ratio: float = 1.0
    """Power that arrives in the slot over that sent into it: what the draws of its path did."""


def draw_truth(trial: Trial, mode: Mode) -> Truth:
    """Message, frequency and start of one trial as sent, the start to the nearest sample."""
    sending, facts = trial.condition.sending, mode.facts
    audio_hz = _drawn(sending.audio_hz, trial.chance, purpose="audio-hz", field="sending.audio_hz")
    offset_s = _drawn(
        sending.start_offset_s, trial.chance, purpose="start", field="sending.start_offset_s"
    )
    offset_s -= slot_late_s(trial.condition)
    _refuse_frequency(sending, facts, half_rate_hz=trial.sample_rate_hz / 2.0)
    first_sample = round((facts.nominal_start_s + offset_s) * trial.synthesis_rate_hz)
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
        time_offset_s=first_sample / trial.synthesis_rate_hz - facts.nominal_start_s,
    )


def slot_late_s(condition: Condition) -> float:
    """By how much the receiver's slot begins too late."""
    return sum(block.late_s for block in condition.chain_blocks() if block.on)


def arriving(
    truth: Truth, trial: Trial, signal_power: float, *, without: frozenset[int] = frozenset()
) -> tuple[Wanted, Truth]:
    """The wanted signal as it arrives in the slot, and where a receiver should find it.

    Args:
        truth: as sent.
        trial: its recipe.
        signal_power: mean while transmitting, before the gain of the mix.
        without: 0-based places in the condition of paths that are left out; the others keep
            their draws.
    """
    mode = mode_named(trial.mode)
    facts, rate = mode.facts, trial.synthesis_rate_hz
    n_slot = round(facts.slot_s * rate)
    first = round((facts.nominal_start_s + truth.time_offset_s) * rate)
    lasts_s = facts.duration_s if truth.message is None else mode.lasts_s(truth.message)
    start, stop = max(first, 0), min(first + round(lasts_s * rate), n_slot)
    # Nearly all of a frequency-shifted signal lies within its own width of its tones.
    occupied_hz = (
        truth.audio_hz - facts.width_hz,
        truth.audio_hz + 2.0 * facts.width_hz,
    )
    share_sent = max(stop - start, 0) / n_slot
    if truth.message is None:
        return Wanted(None, signal_power, share_sent, occupied_hz), truth
    sent = mode.modulate(
        mode.encode(truth.message),
        sample_rate_hz=rate,
        audio_hz=truth.audio_hz,
        phase_rad=float(stream(trial.chance, "phase").uniform(0.0, 2.0 * math.pi)),
    )
    arrival = _propagated(sent, trial, first / rate, without)
    samples = np.zeros(n_slot)
    amplitude = math.sqrt(signal_power / units.FULL_SCALE_SINE_POWER)
    stop = min(first + arrival.samples.size, n_slot)
    inside = arrival.samples[start - first : max(stop, start) - first]
    samples[start : start + inside.size] = amplitude * inside.real
    path_power_ratio = 1.0
    if trial.condition.paths() and share_sent > 0.0:
        path_power_ratio = float(np.vdot(inside, inside).real) / (share_sent * n_slot)
    wanted = Wanted(
        samples,
        signal_power,
        share_sent,
        (occupied_hz[0] + arrival.widening_hz[0], occupied_hz[1] + arrival.widening_hz[1]),
        path_power_ratio,
    )
    found = replace(
        truth,
        audio_hz=truth.audio_hz + arrival.shift_hz,
        time_offset_s=truth.time_offset_s + arrival.delay_s,
    )
    return wanted, found


def _propagated(
    sent: AnalyticSamples, trial: Trial, begins_s: float, without: frozenset[int]
) -> Arrival:
    """Through all paths of the condition, one behind the other."""
    arrival, facts = Arrival(sent), mode_named(trial.mode).facts
    for purpose, path, place in _purposes(trial.condition):
        if place in without:
            continue
        shared, turn = _shared_chance(trial.chance, path.n_together)
        passed = path.propagate(
            Transmission(
                arrival.samples,
                trial.synthesis_rate_hz,
                begins_s=turn * facts.slot_s + begins_s,
                process_s=path.n_together * facts.slot_s,
            ),
            stream(shared, purpose),
        )
        arrival = Arrival(
            passed.samples,
            arrival.shift_hz + passed.shift_hz,
            arrival.delay_s + passed.delay_s,
            (
                arrival.widening_hz[0] + passed.widening_hz[0],
                arrival.widening_hz[1] + passed.widening_hz[1],
            ),
        )
    return arrival


def _purposes(condition: Condition) -> list[tuple[str, Path, int]]:
    """Every path with the name under which it draws, and its place in the condition."""
    count: Counter[str] = Counter()
    named: list[tuple[str, Path, int]] = []
    for place, path in enumerate(condition.impairments):
        if is_path(path):
            named.append((f"{path.kind}/{count[path.kind]}", path, place))
            count[path.kind] += 1
    return named


def _shared_chance(chance: Chance, n_together: int) -> tuple[Chance, int]:
    """The chance that trials in a row share, and this trial's turn among them."""
    group, turn = divmod(chance.trial_index, n_together)
    return (chance if n_together == 1 else replace(chance, trial_index=group)), turn


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
