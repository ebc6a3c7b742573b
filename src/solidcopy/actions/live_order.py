"""Which trials a station is still to hear, and in what order."""

from solidcopy.campaigns.journal import JournalReader
from solidcopy.campaigns.schedule import blocks, jobs_in_block, wanted_series
from solidcopy.receivers.station_settings import StationSettings
from solidcopy.trials.expand import TrialKey
from solidcopy.trials.identity import identity_of
from solidcopy.trials.plan import Plan


def stations_of(plan: Plan) -> dict[int, StationSettings]:
    """The receivers that listen live, by their places in the plan."""
    return {
        place: receiver
        for place, receiver in enumerate(plan.receivers)
        if isinstance(receiver, StationSettings)
    }


def block_to_play(reader: JournalReader, station: int) -> list[TrialKey]:
    """Trials of the lowest block that one station has not heard whole; empty: enough are played.

    All points grow together; within one trial index the order is drawn, as what drifts at the
    station must not look like the axis. What is left over keeps its order.
    """
    mine = [series for series in wanted_series(reader) if series.receiver == station]
    for block in blocks(mine):
        keys = [job.key for job in jobs_in_block(reader, mine, block)]
        if keys:
            seed = reader.plan.root_seed
            return sorted(keys, key=lambda k: (k.trial_index, identity_of([seed, str(k)])))
    return []


def n_played_and_wanted(reader: JournalReader, station: int) -> tuple[int, int]:
    """Trials that one station was scored for, and how many the stop rule asks for as it stands."""
    mine = [series for series in wanted_series(reader) if series.receiver == station]
    played = (len(reader.indexes(series.place, range(series.n_wanted))) for series in mine)
    return sum(played), sum(series.n_wanted for series in mine)
