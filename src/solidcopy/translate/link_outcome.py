"""What a path is worth: its SNR and its chances, all that is unknown carried through by drawing."""

from dataclasses import dataclass

import numpy as np

from solidcopy.statistics.evidence import NoEvidence
from solidcopy.statistics.shapes import Array
from solidcopy.translate.chances import Chances
from solidcopy.translate.delivery import Question
from solidcopy.translate.link_chances import UncertainLink
from solidcopy.translate.power import Ends

HOURS = (("quiet hours", 0.9), ("ordinary hours", 0.5), ("noisy hours", 0.1))
"""Share of hours with a worse SNR."""
STATION_ENDS = (0.1, 0.9)
"""Eight of ten stations of which this much is known lie between them."""


@dataclass(frozen=True, slots=True)
class LinkOutcome:
    """What was drawn; every `Ends` holds the middle four fifths of stations.

    Args:
        snr_db: in 2500 Hz, over stations and hours.
        over_hours: chance of each question, as a mean over all hours.
        by_hour: chance of one attempt in quiet, ordinary and noisy hours.
        share_beyond: of stations and hours whose SNR was not tested, below and above.
    """

    snr_db: Ends
    over_hours: tuple[Ends | NoEvidence, ...]
    by_hour: tuple[Ends, ...]
    share_beyond: tuple[float, float]


def outcome_of(
    path: UncertainLink,
    chances: Chances,
    asked: tuple[Question, ...],
    *,
    n_messages: int,
    generator: np.random.Generator,
) -> LinkOutcome:
    """Stations, hours and curves drawn together.

    All attempts of one question fall into one hour: the noise keeps its level over them, so a noisy
    hour is not mended by repeats as a lost slot is.

    Args:
        path: with all that is not known of it.
        chances: of the curve.
        asked: questions; the first is one attempt.
        n_messages: of a contact.
        generator: of all draws but the curve's.
    """
    n = chances.n_draws
    snr = path.draw_snr(n, generator)
    rules = [question.chance(chances, n_messages) for question in asked]
    over = tuple(
        rule if isinstance(rule, NoEvidence) else _ends(rule(snr).mean(axis=1)) for rule in rules
    )
    one = rules[0]
    assert not isinstance(one, NoEvidence)
    hours = np.quantile(snr, [place for _, place in HOURS], axis=1).T
    low, high = chances.tested
    return LinkOutcome(
        snr_db=_ends(snr.ravel()),
        over_hours=over,
        by_hour=tuple(_ends(column) for column in one(hours).T),
        share_beyond=(float(np.mean(snr < low)), float(np.mean(snr > high))),
    )


def _ends(drawn: Array) -> Ends:
    low, middle, high = np.quantile(drawn, [STATION_ENDS[0], 0.5, STATION_ENDS[1]])
    return Ends(float(middle), float(low), float(high))
