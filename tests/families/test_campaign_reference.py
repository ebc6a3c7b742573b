"""Reference trials: which they are, what the journal knows of them, how machines are compared."""

from dataclasses import replace
from pathlib import Path

import pytest
from journal_samples import ENVIRONMENT, finished, noise, plan_with

from solidcopy.campaigns.journal import JournalReader, JournalWriter
from solidcopy.campaigns.reference import (
    N_EACH,
    compare_answers,
    compare_sound,
    reference_of,
)
from solidcopy.campaigns.workers import Batch
from solidcopy.trials.expand import TrialKey
from solidcopy.trials.outcome import Verdict
from solidcopy.trials.trial import SENT

pytestmark = pytest.mark.derived


def test_the_journal_is_the_standard_where_it_knows_the_trials(tmp_path: Path) -> None:
    plan = plan_with()
    with JournalWriter(tmp_path, plan, ENVIRONMENT) as writer, JournalReader(tmp_path) as reader:
        empty = Batch(plan.model_dump_json(), ())
        assert reference_of(reader, empty).known == {}
        writer.append(finished(plan))
        reference = reference_of(reader, empty)
    asked = [job.key for job in reference.batch.jobs]
    assert asked == [TrialKey(c, SENT, -20.0, i) for c in (0, 1) for i in range(N_EACH)]
    keys = [key for key in asked if key.trial_index < 4]  # of which the journal has no more
    assert reference.known.keys() == {(key, receiver) for key in keys for receiver in (0, 1)}
    assert compare_sound(reference.digests, reference.digests).n_other_sound == 0
    other = {**reference.digests, keys[1]: "0" * 64}
    assert compare_sound(other, reference.digests).n_other_sound == 1


def test_answers_are_compared_by_verdict_and_text(tmp_path: Path) -> None:
    plan = plan_with()
    rows = [row for row in finished(plan) if row.key == TrialKey(0, SENT, -20.0, 0)]
    standard = {(row.key, row.receiver): row.outcome for row in rows}
    slower = [replace(row, outcome=replace(row.outcome, elapsed_s=9.0)) for row in rows]
    assert compare_answers(slower, standard) == 0
    missed = replace(rows[0], outcome=replace(rows[0].outcome, verdict=Verdict.FAILED))
    assert compare_answers([missed, *rows[1:]], standard) == 1


def test_few_of_many_conditions_are_made(tmp_path: Path) -> None:
    plan = plan_with(
        conditions=[
            {"name": f"at {hz} Hz", "sending": {"audio_hz": float(hz)}, "impairments": [noise()]}
            for hz in range(500, 1600, 100)
        ]
    )
    with JournalWriter(tmp_path, plan, ENVIRONMENT), JournalReader(tmp_path) as reader:
        reference = reference_of(reader, Batch(plan.model_dump_json(), ()))
    assert [job.key.condition for job in reference.batch.jobs][::N_EACH] == [0, 3, 6, 9]
