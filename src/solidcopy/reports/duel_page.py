"""The page of a duel: one self-contained HTML file."""

from dataclasses import dataclass
from importlib.resources import files

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup

from solidcopy.reports import texts
from solidcopy.reports.duel_facts import ConditionDuel, DuelFacts
from solidcopy.reports.duel_figure import duel_picture
from solidcopy.reports.duel_gate import GateFacts
from solidcopy.reports.duel_sheets import false_sheet, pairs_sheet, verdicts_sheet
from solidcopy.reports.duel_supports import supports
from solidcopy.reports.duel_words import Names, headline
from solidcopy.reports.facts import ReceiverFacts
from solidcopy.reports.picture import Picture
from solidcopy.reports.sheet import Sheet
from solidcopy.reports.wording import glued


@dataclass(frozen=True, slots=True)
class ShownCondition:
    """Figure and counts of one condition."""

    name: str
    messages: str
    picture: Picture
    sheet: Sheet


def duel_page(
    facts: DuelFacts,
    names: Names,
    *,
    blind_words: str,
    who: tuple[ReceiverFacts, ...] = (),
    gate: GateFacts | None = None,
) -> str:
    """HTML of a duel.

    Args:
        facts: of the duel.
        names: as far as they may be seen.
        blind_words: whether the verdict was reached blind.
        who: A and B with all their settings; nobody as long as they are hidden.
        gate: checks against an allowed loss, if there were any.
    """
    environment = Environment(
        loader=PackageLoader("solidcopy.reports", "template"),
        autoescape=True,
        undefined=StrictUndefined,
        keep_trailing_newline=True,
    )
    environment.filters["glued"] = glued
    conditions = [
        ShownCondition(
            condition.name,
            messages_words(condition),
            duel_picture(facts, place, names),
            pairs_sheet(facts, condition),
        )
        for place, condition in enumerate(facts.conditions)
    ]
    return environment.get_template("duel.html.j2").render(
        title=facts.title or f"Two receivers of {facts.mode.upper()}",
        css=Markup((files(__package__) / "template" / "page.css").read_text(encoding="utf-8")),
        facts=facts,
        headline=headline(facts, names),
        supports=supports(facts, names),
        blind_words=blind_words,
        who=tuple(zip("AB", who, strict=True)) if who else (),
        gate=None if gate is None else gate.sentence(),
        verdicts=verdicts_sheet(facts),
        conditions=conditions,
        false_decodes=false_sheet(facts),
        cautions=texts.CAUTIONS,
    )


def messages_words(condition: ConditionDuel) -> str:
    """Whether each trial of a condition sends another message."""
    if condition.messages == "random":
        return "A new random valid message in every trial."
    return f"The same message in every trial: “{condition.messages}”."
