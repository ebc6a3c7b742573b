"""Scoring: text, frequency and time; one transmission counts once; a crash is not a miss."""

import numpy as np
import pytest

from solidcopy.modes.mode import Message
from solidcopy.receivers.receiver import Decode, Reception
from solidcopy.signals.waveform import Waveform
from solidcopy.trials.outcome import Verdict
from solidcopy.trials.score import score
from solidcopy.trials.trial import Readings, Recording, Truth

RECORDING = Recording(
    Waveform(np.zeros(10, np.float32), 12_000),
    Readings(-20.0, (), -20.0, -6.0, 14.0, 0, 0.0),
    "00",
)
TRUTH = Truth(Message("CQ Q1ABC FN42", bytes(77)), audio_hz=1500.0, time_offset_s=0.1)
NOTHING = Truth(None, audio_hz=1500.0, time_offset_s=0.1)
RIGHT = Decode("CQ Q1ABC FN42", 1500.4, 0.12)


def verdict_of(truth: Truth, *decodes: Decode, failure: str | None = None) -> tuple[Verdict, int]:
    outcome = score(Reception(decodes, 0.1, failure), truth, RECORDING)
    return outcome.verdict, len(outcome.false)


@pytest.mark.parametrize(
    ("decodes", "expected"),
    [
        ((RIGHT,), (Verdict.DECODED, 0)),
        ((), (Verdict.MISSED, 0)),
        ((RIGHT, RIGHT), (Verdict.DECODED, 0)),
        ((RIGHT, Decode("Q2XYZ Q1ABC 73")), (Verdict.DECODED, 1)),
        ((Decode("Q2XYZ Q1ABC 73"),), (Verdict.MISSED, 1)),
        ((Decode("CQ Q1ABC FN42"),), (Verdict.DECODED, 0)),
        ((Decode("CQ Q1ABC FN42", 1800.0, 0.1),), (Verdict.MISSED, 1)),
        ((Decode("CQ Q1ABC FN42", 1500.0, 1.5),), (Verdict.MISSED, 1)),
    ],
)
def test_verdicts(decodes: tuple[Decode, ...], expected: tuple[Verdict, int]) -> None:
    assert verdict_of(TRUTH, *decodes) == expected


def test_everything_is_false_where_nothing_was_sent() -> None:
    assert verdict_of(NOTHING) == (Verdict.NOTHING_SENT, 0)
    assert verdict_of(NOTHING, RIGHT) == (Verdict.NOTHING_SENT, 1)


def test_a_failure_is_not_a_miss() -> None:
    assert verdict_of(TRUTH, failure="no answer within 30 s") == (Verdict.FAILED, 0)
