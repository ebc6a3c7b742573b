"""Reported levels as the page shows them."""

from dataclasses import dataclass

from solidcopy.reports.facts import CampaignFacts
from solidcopy.reports.picture import Picture
from solidcopy.reports.reported_figure import reported_picture
from solidcopy.reports.reported_tables import lines_sheet, pairs_sheet, points_sheet
from solidcopy.reports.reported_words import reported_sentences
from solidcopy.reports.sheet import Sheet


@dataclass(frozen=True, slots=True)
class ShownReceiver:
    """Figure and table of one receiver's reports."""

    picture: Picture
    sheet: Sheet


@dataclass(frozen=True, slots=True)
class ShownReports:
    """The section on reported levels."""

    sentences: tuple[str, ...]
    lines: Sheet
    pairs: Sheet | None
    receivers: tuple[ShownReceiver, ...]


def shown_reports(facts: CampaignFacts) -> ShownReports | None:
    """None where no receiver states levels."""
    curves = facts.reported.curves
    if not curves:
        return None
    receivers = dict.fromkeys(curve.receiver for curve in curves)
    return ShownReports(
        sentences=tuple(sentence for _, sentence in reported_sentences(facts)),
        lines=lines_sheet(facts),
        pairs=pairs_sheet(facts),
        receivers=tuple(
            ShownReceiver(reported_picture(facts, name, place), points_sheet(facts, name))
            for place, name in enumerate(receivers)
        ),
    )
