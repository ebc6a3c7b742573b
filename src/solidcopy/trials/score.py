"""Compare what a receiver reports with what was sent."""

from solidcopy.receivers.receiver import Decode, Reception
from solidcopy.trials.outcome import Outcome, Verdict
from solidcopy.trials.trial import Recording, Truth

MAX_FREQUENCY_ERROR_HZ = 25.0
"""A right text reported farther off than half a signal's width is an image, not a copy."""
MAX_TIME_ERROR_S = 1.0


def is_right(decode: Decode, truth: Truth) -> bool:
    """Whether a decode is the sent message: text, and frequency and time where reported."""
    if truth.message is None or decode.text != truth.message.text:
        return False
    if (
        decode.audio_hz is not None
        and abs(decode.audio_hz - truth.audio_hz) > MAX_FREQUENCY_ERROR_HZ
    ):
        return False
    return (
        decode.time_offset_s is None
        or abs(decode.time_offset_s - truth.time_offset_s) <= MAX_TIME_ERROR_S
    )


def score(reception: Reception, truth: Truth, recording: Recording) -> Outcome:
    """The outcome of one trial. One transmission counts once; all else decoded is false.

    A message that another station sent in the slot is neither right nor false.
    """
    right = [decode for decode in reception.decodes if is_right(decode, truth)]
    false = tuple(
        decode
        for decode in reception.decodes
        if not is_right(decode, truth) and decode.text not in truth.other_texts
    )
    if reception.failure is not None:
        verdict = Verdict.FAILED
    elif truth.message is None:
        verdict = Verdict.NOTHING_SENT
    else:
        verdict = Verdict.DECODED if right else Verdict.MISSED
    return Outcome(
        verdict=verdict,
        right=right[0] if right else None,
        false=false,
        elapsed_s=reception.elapsed_s,
        digest=recording.digest,
        readings=recording.readings,
        failure=reception.failure,
        cpu_s=reception.cpu_s,
    )
