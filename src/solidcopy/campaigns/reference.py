"""A few trials of a plan that every machine makes before it works, to see whether all make the
same sound and decode it alike.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from solidcopy.campaigns.journal.reader import JournalReader
from solidcopy.campaigns.journal.records import Finished
from solidcopy.campaigns.workers import Batch, Job
from solidcopy.errors import JournalError
from solidcopy.receivers.station_settings import StationSettings
from solidcopy.trials.expand import TrialKey
from solidcopy.trials.outcome import Outcome
from solidcopy.trials.trial import SENT

MOST_CONDITIONS = 4
"""Of a plan, spread over all of them."""
N_EACH = 5
"""Trials of each: not every recording tells processors apart. They cost every worker a second."""
MOST_HEARD = 5
"""Of those whose sound differs, so many are heard by the receivers, which may be slow."""

Answer = tuple[TrialKey, int]
"""A trial, and the place of the receiver that heard it."""


@dataclass(frozen=True, slots=True)
class Reference:
    """The trials, and what the journal knows of them from earlier runs.

    Args:
        batch: the first trials at the middle axis value of some conditions.
        known: outcomes that are there already.
    """

    batch: Batch
    known: Mapping[Answer, Outcome]

    @property
    def digests(self) -> dict[TrialKey, str]:
        """Of recordings that the journal knows, by trial."""
        return {key: outcome.digest for (key, _), outcome in self.known.items()}


def reference_of(reader: JournalReader, empty_batch: Batch) -> Reference:
    """The reference trials of a campaign.

    Args:
        reader: of its journal.
        empty_batch: with the plan and the folders of its receivers.
    """
    plan = reader.plan
    values = plan.axis.points()
    step = max(1, -(-len(plan.conditions) // MOST_CONDITIONS))
    receivers = tuple(
        place
        for place, settings in enumerate(plan.receivers)
        if not isinstance(settings, StationSettings)
    )
    keys = [
        TrialKey(condition, SENT, values[len(values) // 2], index)
        for condition in range(0, len(plan.conditions), step)
        for index in range(N_EACH)
    ]
    known = {}
    for key in keys:
        for receiver in receivers:
            try:
                outcome = reader.outcome(key, receiver)
            except JournalError:
                continue  # not run yet
            if outcome.digest:  # none where its worker died before it could tell
                known[key, receiver] = outcome
    jobs = tuple(Job(key, receivers) for key in keys)
    return Reference(Batch(empty_batch.plan_json, jobs, empty_batch.import_folders), known)


@dataclass(frozen=True, slots=True)
class Compared:
    """Reference trials of one machine beside those of the others.

    Args:
        n_trials: recordings compared.
        n_other_sound: of those, how many differ in some sample.
        n_answers: answers of receivers compared; only where some sound differs.
        n_other_answers: of those, how many differ in verdict or in a decoded text.
    """

    n_trials: int
    n_other_sound: int
    n_answers: int = 0
    n_other_answers: int = 0


def compare_sound(here: Mapping[TrialKey, str], standard: Mapping[TrialKey, str]) -> Compared:
    """How many recordings differ, by their digests."""
    return Compared(len(here), sum(digest != standard[key] for key, digest in here.items()))


def compare_answers(here: Iterable[Finished], standard: Mapping[Answer, Outcome]) -> int:
    """How many answers differ in verdict or in a decoded text."""
    return sum(_said(item.outcome) != _said(standard[item.key, item.receiver]) for item in here)


def _said(outcome: Outcome) -> tuple[object, ...]:
    right = None if outcome.right is None else outcome.right.text
    return outcome.verdict, right, sorted(decode.text for decode in outcome.false)
