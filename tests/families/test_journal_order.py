"""Laws of the journal: order, repetition and lots do not matter; nothing is lost or invented."""

import json
import tempfile
from itertools import pairwise
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from journal_samples import ENVIRONMENT, finished, outcome_of, plan_with

from solidcopy.campaigns.journal import Finished, JournalReader, JournalWriter
from solidcopy.campaigns.journal.coding import (
    canonical_decodes,
    canonical_readings,
    compact_json,
    decode_decodes,
    decode_readings,
    encode_decodes,
    encode_readings,
)
from solidcopy.receivers.receiver import Decode
from solidcopy.statistics.tally import Tally
from solidcopy.trials.expand import TrialKey
from solidcopy.trials.outcome import Outcome, Verdict
from solidcopy.trials.trial import SENT, LevelReading, Readings

pytestmark = pytest.mark.derived

PLAN = plan_with(stop={"trials_per_point": 3, "nothing_sent": 1})
ROWS = finished(PLAN)

numbers = st.floats(allow_nan=False)
texts = st.text(st.characters(exclude_categories=("Cs",)), max_size=20)
maybe = st.none() | numbers
levels = st.builds(
    LevelReading, texts, texts, maybe, numbers, numbers, numbers, numbers, numbers, numbers
)
readings = st.builds(
    Readings,
    numbers,
    st.lists(levels, max_size=3).map(tuple),
    numbers,
    numbers,
    numbers,
    st.integers(0, 10**6),
    numbers,
)
decodes = st.builds(
    Decode,
    texts,
    maybe,
    maybe,
    maybe,
    st.none() | st.integers(0, 174),
    maybe,
    st.none() | texts,
)


@given(readings)
def test_readings_come_back_exactly(value: Readings) -> None:
    assert decode_readings(encode_readings(value)) == value


@given(st.none() | decodes, st.lists(decodes, max_size=3).map(tuple))
def test_decodes_come_back_exactly(right: Decode | None, false: tuple[Decode, ...]) -> None:
    outcome = Outcome(Verdict.DECODED, right, false, 0.1, "", None)
    assert decode_decodes(encode_decodes(outcome)) == (right, false)


@given(readings, st.booleans())
def test_what_is_stored_of_readings_is_hashed_as_written_today(
    value: Readings, is_old: bool
) -> None:
    stored = encode_readings(value)
    if is_old:  # an earlier version did not tell what the draws of a trial explain
        parts = json.loads(stored)
        parts[1] = [level[:-1] for level in parts[1]]
        stored = compact_json(parts)
    assert canonical_readings(stored) == encode_readings(decode_readings(stored))


@given(st.none() | decodes, st.lists(decodes, max_size=2).map(tuple), st.booleans())
def test_what_is_stored_of_decodes_is_hashed_as_written_today(
    right: Decode | None, false: tuple[Decode, ...], is_turned: bool
) -> None:
    outcome = Outcome(Verdict.DECODED, right, false, 0.1, "", None)
    stored = encode_decodes(outcome)
    if is_turned and stored is not None:
        both = json.loads(stored)
        one = both["right"] and dict(reversed(both["right"].items()))
        stored = compact_json({"right": one, "false": both["false"]})
    assert canonical_decodes(stored) == encode_decodes(outcome)


@given(st.permutations(ROWS), st.lists(st.integers(1, len(ROWS)), max_size=4), st.booleans())
@settings(max_examples=25, deadline=None)
def test_order_lots_and_repetition_do_not_matter(
    rows: list[Finished], cuts: list[int], is_repeated: bool
) -> None:
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        with JournalWriter(folder, PLAN, ENVIRONMENT) as writer:
            edges = [0, *sorted(cuts), len(rows)]
            for first, last in pairwise(edges):
                writer.append(rows[first:last])
                if is_repeated:
                    writer.append(rows[first:last])
        with JournalReader(folder) as reader:
            read = [Finished(row.key, row.receiver, row.outcome) for row in reader.rows()]
            assert read == ROWS
            assert reader.tallies(1, 0) == dict.fromkeys(PLAN.axis.points(), Tally(2, 1))


@given(st.sets(st.integers(0, 8)), st.sets(st.integers(0, 8)))
@settings(max_examples=40, deadline=None)
def test_a_point_counts_up_to_its_first_gap(present: set[int], failed: set[int]) -> None:
    plan = plan_with(axis={"values": [-20.0]}, stop={"trials_per_point": 7, "nothing_sent": 0})
    keys = [TrialKey(0, SENT, -20.0, index) for index in sorted(present)]
    rows = [
        Finished(key, 0, outcome_of(key, Verdict.FAILED if key.trial_index in failed else None))
        for key in keys
    ]
    n = next(index for index in range(8) if index not in present or index == 7)
    counted = set(range(n))
    with tempfile.TemporaryDirectory() as name:
        with JournalWriter(Path(name), plan, ENVIRONMENT) as writer:
            writer.append(rows)
        with JournalReader(Path(name)) as reader:
            tally = reader.tally(0, 0, -20.0)
            assert reader.n_counted(0, 0, -20.0) == n
    assert tally.n_failed == len(counted & failed)
    assert tally.n_decoded == sum(index % 2 == 0 for index in counted - failed)
    assert tally.n_trials == n
