"""One trial of a campaign looked at again: made anew, and how each receiver answered it."""

from dataclasses import dataclass
from pathlib import Path

import numpy as np

from solidcopy.actions.recent_trials import RECENT
from solidcopy.actions.served import served
from solidcopy.actions.trial_asked import AskedTrial
from solidcopy.actions.trial_view import TrialView, view_of
from solidcopy.campaigns.journal import JournalReader
from solidcopy.campaigns.journal.tables import VERDICT_NUMBERS
from solidcopy.errors import JournalError
from solidcopy.receivers.catalogue import AnyReceiver
from solidcopy.receivers.receiver import Decode
from solidcopy.reports.wording import number, signed
from solidcopy.trials.expand import TrialKey
from solidcopy.trials.outcome import Outcome, Verdict
from solidcopy.trials.trial import Truth

NOT_TRIED = "not tried"
MISSED = VERDICT_NUMBERS[Verdict.MISSED]
SAME_WORDS = "These are the same samples as in the campaign (SHA-256 compared with the journal)."
OTHER_WORDS = (
    "These are not the samples of the campaign: a recording file has changed, or the numeric "
    "libraries are other versions than the journal's."
)
NO_DIGEST_WORDS = "The journal holds nothing of this trial, so its samples cannot be compared."
BUILTIN_WORDS = "the symbols here are those of its front end"
OUTSIDE_WORDS = (
    "what it heard inside is not known: the symbols here are what any receiver had to work with"
)


@served
@dataclass(frozen=True, slots=True)
class DecodeLine:
    """One message that a receiver reported."""

    text: str
    is_right: bool
    words: str
    """Where it was found against what is true, and with which SNR."""


@served
@dataclass(frozen=True, slots=True)
class Answer:
    """What one receiver made of the trial."""

    receiver: str
    verdict: str
    """decoded, missed, failed, nothing sent, or not tried."""
    decodes: tuple[DecodeLine, ...]
    """The right one first, then false ones."""
    failure: str | None
    """Why it failed."""
    elapsed_s: float | None
    inside: str
    """What is known of how it came to its answer."""
    next_missed: int | None
    """Index of the next trial of this point that it missed; null: none so far."""


@served
@dataclass(frozen=True, slots=True)
class CampaignTrial:
    """One trial of a campaign."""

    view: TrialView
    is_same: bool | None
    """Whether the samples made now are those of the campaign; null: the journal does not say."""
    same_words: str
    answers: tuple[Answer, ...]
    previous: int | None
    """Index of the trial before; null at the first."""
    next: int | None
    """Index of the trial after it, if any receiver has heard that one."""


def show_trial(folder: Path, asked: AskedTrial) -> CampaignTrial:
    """One trial of a campaign.

    Args:
        folder: of the campaign.
        asked: which, and what of it is muted.
    Raises: NotThereError if the campaign has no such trial; PlanError, CalibrationError or
        AudioFileError if it cannot be made here; JournalError.
    """
    with JournalReader(folder) as reader, reader.snapshot():
        plan = reader.plan
        key = asked.key(plan)
        outcomes = [_outcome(reader, key, heard) for heard in range(len(plan.receivers))]
        missed = [_next_missed(reader, key, heard) for heard in range(len(plan.receivers))]
        has_next = any(
            _is_there(reader, key, key.trial_index + 1, heard)
            for heard in range(len(plan.receivers))
        )
    silent = asked.silent(plan, key)
    making = RECENT.get(plan, key)
    digests = {outcome.digest for outcome in outcomes if outcome and outcome.digest}
    is_same = digests == {making.recording.digest} if digests else None
    return CampaignTrial(
        view=view_of(plan, key, making, silent),
        is_same=is_same,
        same_words=NO_DIGEST_WORDS if is_same is None else SAME_WORDS if is_same else OTHER_WORDS,
        answers=tuple(
            _answer(receiver, outcome, making.truth, next_missed)
            for receiver, outcome, next_missed in zip(plan.receivers, outcomes, missed, strict=True)
        ),
        previous=key.trial_index - 1 if key.trial_index else None,
        next=key.trial_index + 1 if has_next else None,
    )


def _outcome(reader: JournalReader, key: TrialKey, receiver: int) -> Outcome | None:
    try:
        return reader.outcome(key, receiver)
    except JournalError:
        return None


def _is_there(reader: JournalReader, key: TrialKey, index: int, receiver: int) -> bool:
    place = reader.series_place(key.condition, receiver, key.arm, key.axis_value)
    return bool(reader.indexes(place, range(index, index + 1)))


def _next_missed(reader: JournalReader, key: TrialKey, receiver: int) -> int | None:
    place = reader.series_place(key.condition, receiver, key.arm, key.axis_value)
    after = key.trial_index + 1
    found = np.flatnonzero(reader.scores(place).verdict_numbers[after:] == MISSED)
    return after + int(found[0]) if found.size else None


def _answer(
    receiver: AnyReceiver, outcome: Outcome | None, truth: Truth, next_missed: int | None
) -> Answer:
    inside = BUILTIN_WORDS if receiver.kind == "builtin" else OUTSIDE_WORDS
    if outcome is None:
        return Answer(receiver.name, NOT_TRIED, (), None, None, inside, next_missed)
    right = [_line(outcome.right, truth, is_right=True)] if outcome.right else []
    false = [_line(decode, truth, is_right=False) for decode in outcome.false]
    return Answer(
        receiver=receiver.name,
        verdict=outcome.verdict.value,
        decodes=(*right, *false),
        failure=outcome.failure,
        elapsed_s=round(outcome.elapsed_s, 3),
        inside=inside,
        next_missed=next_missed,
    )


def _line(decode: Decode, truth: Truth, *, is_right: bool) -> DecodeLine:
    words = []
    if decode.audio_hz is not None:
        words.append(
            f"{signed(decode.audio_hz - truth.audio_hz, 1)} Hz from the true frequency"
            if is_right
            else f"at {number(decode.audio_hz, 0)} Hz"
        )
    if decode.time_offset_s is not None:
        words.append(
            f"{signed(decode.time_offset_s - truth.time_offset_s, 3)} s from the true start"
            if is_right
            else f"start {signed(decode.time_offset_s, 2)} s"
        )
    if decode.snr_db is not None:
        words.append(f"reported SNR {number(decode.snr_db, 0)} dB")
    if decode.path is not None:
        words.append(f"found by {decode.path}")
    return DecodeLine(decode.text, is_right, ", ".join(words))
