"""Every outcome of a campaign as one line of a table: the columns, and the values of a line."""

import math
from enum import StrEnum
from typing import NamedTuple

from solidcopy.campaigns.journal import JournalRow
from solidcopy.receivers.receiver import Decode

Value = str | int | float | None
"""None where there is nothing to tell, or no finite number."""


class Kind(StrEnum):
    """What the values of a column are."""

    WORDS = "words"
    COUNT = "whole number"
    NUMBER = "number"


class TrialColumn(NamedTuple):
    """One column."""

    name: str
    """With its unit at the end."""
    kind: Kind
    meaning: str


TRIAL_COLUMNS = (
    TrialColumn("trial", Kind.WORDS, "names the trial, as `solidcopy remake` takes it"),
    TrialColumn("condition", Kind.WORDS, "name in the plan"),
    TrialColumn("receiver", Kind.WORDS, "name in the plan"),
    TrialColumn("arm", Kind.WORDS, "sent, or nothing-sent"),
    TrialColumn("axis_value", Kind.NUMBER, "of the swept field"),
    TrialColumn("axis_unit", Kind.WORDS, "of that value; empty if it has none"),
    TrialColumn("trial_index", Kind.COUNT, "from 0 in each arm and axis value"),
    TrialColumn("verdict", Kind.WORDS, "decoded, missed, failed, or nothing sent"),
    TrialColumn("right_text", Kind.WORDS, "the message that was sent and decoded"),
    TrialColumn("right_audio_hz", Kind.NUMBER, "its lowest tone, as the receiver reported it"),
    TrialColumn("right_time_offset_s", Kind.NUMBER, "as the receiver reported it"),
    TrialColumn("right_snr_2500_hz_db", Kind.NUMBER, "as the receiver reported it"),
    TrialColumn("n_false", Kind.COUNT, "decodes that nobody sent"),
    TrialColumn("false_texts", Kind.WORDS, "those, with | between them"),
    TrialColumn("elapsed_s", Kind.NUMBER, "time that the receiver took"),
    TrialColumn("cpu_s", Kind.NUMBER, "processor time of it, where it is known"),
    TrialColumn("signal_dbfs", Kind.NUMBER, "wanted mean power while transmitting"),
    TrialColumn("mix_mean_dbfs", Kind.NUMBER, "mean power of the recording"),
    TrialColumn("mix_peak_dbfs", Kind.NUMBER, "highest peak of the recording"),
    TrialColumn("n_clipped", Kind.COUNT, "clipped samples of the recording"),
    TrialColumn("failure", Kind.WORDS, "why there is no answer, the last line of it"),
    TrialColumn("sha256", Kind.WORDS, "digest of the recording's samples"),
)

_NOTHING_RIGHT = Decode("", float("nan"))


def trial_values(row: JournalRow, axis_unit: str) -> tuple[Value, ...]:
    """The values of one line, in the order of `TRIAL_COLUMNS`.

    Args:
        axis_unit: of the plan's axis; empty if it has none.
    """
    key, outcome, readings = row.key, row.outcome, row.outcome.readings
    right = outcome.right or _NOTHING_RIGHT
    failure = outcome.failure
    return (
        str(key),
        row.condition_name,
        row.receiver_name,
        key.arm,
        key.axis_value,
        axis_unit,
        key.trial_index,
        outcome.verdict.value,
        right.text or None,
        _finite(right.audio_hz),
        _finite(right.time_offset_s),
        _finite(right.snr_db),
        len(outcome.false),
        " | ".join([decode.text for decode in outcome.false]) or None,
        _finite(outcome.elapsed_s),
        _finite(outcome.cpu_s),
        *(
            (None, None, None, None)
            if readings is None
            else (
                _finite(readings.signal_dbfs),
                _finite(readings.mean_dbfs),
                _finite(readings.peak_dbfs),
                readings.n_clipped,
            )
        ),
        None if failure is None else failure.strip().rpartition("\n")[2] or None,
        outcome.digest or None,
    )


def _finite(value: float | None) -> float | None:
    return value if value is not None and math.isfinite(value) else None
