"""False decodes of a campaign, with and without a message sent."""

from collections.abc import Iterator

from solidcopy.campaigns.journal import JournalReader
from solidcopy.reports.curves import CONFIDENCE, joined
from solidcopy.reports.measured import FalseFacts
from solidcopy.statistics.clusters import Clustering, clustering_of_rare, effective_trials
from solidcopy.statistics.interval import upper_bound_for_none
from solidcopy.statistics.tally import Tally
from solidcopy.trials.together import n_together
from solidcopy.trials.trial import NOTHING_SENT, SENT

Place = tuple[int, int]
"""0-based places of a condition and a receiver in the plan."""

Tallies = dict[Place, dict[float, Tally]]


def false_facts(
    reader: JournalReader, tallies: Tallies, silent: dict[Place, Tally]
) -> Iterator[FalseFacts]:
    """False decodes of each condition and receiver: first with a message sent, then without.

    A path fades the wanted signal alone: where nothing is sent, all trials are independent.

    Args:
        reader: of the campaign.
        tallies: with a message sent, by axis value.
        silent: with nothing sent.
    """
    plan = reader.plan
    for place, by_value in tallies.items():
        sent = sum(by_value.values(), Tally())
        for arm, tally in ((SENT, sent), (NOTHING_SENT, silent[place])):
            clustering = _clustering(reader, place) if arm == SENT else None
            share, interval = (
                tally.p_false(),
                tally.false_interval(CONFIDENCE, clustering=clustering),
            )
            yield FalseFacts(
                condition=plan.conditions[place[0]].name,
                receiver=plan.receivers[place[1]].name,
                arm="sent" if arm == SENT else "nothing-sent",
                n_trials=tally.n_scored,
                n_with_false=tally.n_false_trials,
                n_false_decodes=tally.n_false_decodes,
                p_false=joined(share, interval),
                upper_bound_95=_bound_of_none(tally, clustering),
            )


def _bound_of_none(tally: Tally, clustering: Clustering | None) -> float | None:
    """Largest share still likely after no false decode; None if there was one, or no trial."""
    if not tally.n_scored or tally.n_false_trials:
        return None
    n_alone = float(tally.n_scored)
    if clustering is not None:
        n_alone = effective_trials(n_alone, clustering, CONFIDENCE)
    return upper_bound_for_none(round(n_alone), CONFIDENCE)


def _clustering(reader: JournalReader, place: Place) -> Clustering | None:
    """What trials that share their fading do to the counts; None where none do."""
    size = n_together(reader.plan.conditions[place[0]])
    if size == 1:
        return None
    answers = (
        reader.answers(reader.series_place(*place, SENT, value), reader.n_counted(*place, value))
        for value in reader.plan.axis.points()
    )
    return clustering_of_rare([(own.has_false, ~own.failed) for own in answers], size)
