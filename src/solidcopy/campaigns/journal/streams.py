"""Many series of a journal one after another, in the order of the plan."""

import sqlite3
from collections.abc import Iterable, Iterator
from typing import NamedTuple

from solidcopy.campaigns.journal import queries
from solidcopy.campaigns.journal.fingerprint import StoredOutcome
from solidcopy.campaigns.journal.place import Place
from solidcopy.campaigns.journal.records import JournalRow
from solidcopy.trials.expand import TrialKey
from solidcopy.trials.plan import Plan
from solidcopy.trials.trial import Readings


class Spot(NamedTuple):
    """One series of a plan and where it lies."""

    condition: int
    receiver: int
    arm: str
    axis_value: float
    limit: int
    """Trials below this index are asked for."""
    place: Place


def stream_rows(
    connection: sqlite3.Connection, plan: Plan, spots: Iterable[Spot]
) -> Iterator[JournalRow]:
    """All outcomes with their names."""
    for spot in spots:
        named, settings = plan.conditions[spot.condition], plan.receivers[spot.receiver]
        for index, outcome in queries.outcomes(connection, spot.place, spot.limit):
            key = TrialKey(spot.condition, spot.arm, spot.axis_value, index)
            yield JournalRow(key, named.name, spot.receiver, settings.name, outcome)


def stream_stored(
    connection: sqlite3.Connection, spots: Iterable[Spot]
) -> Iterator[tuple[str, float, Iterator[StoredOutcome]]]:
    """What a fingerprint is made of."""
    for spot in spots:
        head = f"{spot.condition}/{spot.receiver}/{spot.arm}"
        yield head, spot.axis_value, queries.stored_outcomes(connection, spot.place, spot.limit)


def stream_readings(
    connection: sqlite3.Connection, places: Iterable[Place], limit: int
) -> Iterator[Readings]:
    """Of every recording below `limit`, whichever receivers heard it."""
    for place in places:
        yield from queries.readings_by_index(connection, place, limit).values()


def stream_times(connection: sqlite3.Connection, spots: Iterable[Spot]) -> list[float]:
    """Seconds that the answers took, failures left out."""
    return [
        time_s
        for spot in spots
        for time_s in queries.answer_times(connection, spot.place, spot.limit)
    ]
