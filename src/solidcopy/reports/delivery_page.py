"""The table of delivery, for people who do not speak dB: as text, Markdown and a page to print."""

from dataclasses import dataclass
from importlib.resources import files

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup

from solidcopy.reports.sheet import DASH, Sheet
from solidcopy.reports.sheet_text import said_text, sheet_markdown, sheet_text
from solidcopy.reports.wording import counted, duration, glued, listed, number, percent
from solidcopy.statistics.evidence import NoEvidence
from solidcopy.translate.delivery import Question
from solidcopy.translate.power import Ends

CAUTIONS = (
    "These are chances, not promises: they hold for the path, the noise and the receiver that were "
    "measured. Agree on a second way before a message must not be lost.",
    "Use no more power than is needed (RR 15.2). Your licence and local rules apply besides.",
)


@dataclass(frozen=True, slots=True)
class DeliveryRow:
    """One level of the signal."""

    head: str
    cells: tuple[Ends | NoEvidence, ...]
    """Chance of each question, 0 to 1."""


@dataclass(frozen=True, slots=True)
class DeliveryFacts:
    """Everything that the table says."""

    title: str
    sentence: str
    supports: tuple[str, ...]
    level_head: str
    questions: tuple[Question, ...]
    rows: tuple[DeliveryRow, ...]
    wanted: float
    """Share that counts as sure enough."""
    messages: tuple[str, ...]
    """Of a contact, by turns."""


def chance_text(chance: Ends) -> str:
    """A chance with its interval: "72 % (65 to 78)"."""
    low, value, high = (_whole(share) for share in (chance.low, chance.value, chance.high))
    return f"{value} %" if low == high else f"{value} % ({low} to {high})"


def share_text(share: float) -> str:
    """A chance in whole per cent; nothing drawn or counted is quite 0 or 100."""
    return f"{_whole(share)} %"


def _whole(share: float) -> str:
    if share < 0.005:
        return "< 1"
    return "> 99" if share >= 0.995 else number(100.0 * share, 0)


def time_text(seconds: float) -> str:
    """E.g. "15 seconds", "2.5 minutes"."""
    if seconds < 60.0:
        return duration(seconds)
    minutes = f"{seconds / 60.0:.4g}"
    return f"{minutes} minute{'' if minutes == '1' else 's'}"


def question_text(question: Question) -> str:
    """What is asked, in a sentence or a row."""
    if question.n_attempts == 1:
        return "one attempt"
    if question.n_attempts:
        return f"in {time_text(question.seconds)} ({question.n_attempts} attempts)"
    return f"whole contact in {time_text(question.seconds)}"


def _head(question: Question) -> str:
    """Of a column: no wider than its cells."""
    if question.n_attempts == 1:
        return "one attempt"
    return time_text(question.seconds).replace("minutes", "min").replace("minute", "min")


def delivery_sheets(facts: DeliveryFacts) -> tuple[Sheet, ...]:
    """Verdicts and chances of a message, then of a contact."""
    share = percent(facts.wanted)
    yes = (
        f"Yes: the whole 95 % interval lies above {share}. No: all of it lies below. Not sure: "
        f"{share} lies inside it. {DASH}: not measured."
    )
    sheets = []
    for what, is_contact, note in (
        ("a message", False, _attempts_note(facts)),
        ("a whole contact", True, _contact_note(facts)),
    ):
        places = [p for p, q in enumerate(facts.questions) if (q.n_attempts == 0) == is_contact]
        if not places:
            continue
        heads = (facts.level_head, *(_head(facts.questions[place]) for place in places))
        verdicts, chances = [], []
        for row in facts.rows:
            cells = [row.cells[place] for place in places]
            verdicts.append((row.head, *(_verdict(cell, facts.wanted) for cell in cells)))
            chances.append((row.head, *map(_chance, cells)))
        sure = f"Does {what} get through in at least {share} of cases?"
        sheets.append(Sheet(sure, heads, tuple(verdicts), yes, n_heads=1))
        how = f"How surely {what} gets through"
        sheets.append(Sheet(how, heads, tuple(chances), note + _why(facts, places), n_heads=1))
    return tuple(sheets)


def _attempts_note(facts: DeliveryFacts) -> str:
    held = [f"{_head(q)} for {q.n_attempts} attempts" for q in facts.questions if q.n_attempts > 1]
    brackets = "In brackets 95 % intervals."
    if not held:
        return brackets
    return (
        f"{brackets} A message has got through if one of its attempts was read. Stations take "
        "turns, so each sends in every second slot; times count from the first slot of one's own: "
        f"{listed(held)}."
    )


def _contact_note(facts: DeliveryFacts) -> str:
    n_messages = counted(len(facts.messages), "message")
    return (
        f"A contact: {n_messages} by turns ({', '.join(facts.messages)}), each repeated until it "
        "was heard; both directions at the same level."
    )


def _chance(cell: Ends | NoEvidence) -> str:
    return DASH if isinstance(cell, NoEvidence) else chance_text(cell)


def _verdict(cell: Ends | NoEvidence, wanted: float) -> str:
    if isinstance(cell, NoEvidence):
        return DASH
    if cell.low >= wanted:
        return "yes"
    return "no" if cell.high < wanted else "not sure"


def _why(facts: DeliveryFacts, places: list[int]) -> str:
    """Why cells are empty: the longest of what is asked stands for all."""
    cells = [row.cells[place] for row in facts.rows for place in places]
    reasons = [cell.reason for cell in cells if isinstance(cell, NoEvidence)]
    return f" {DASH}: {reasons[-1]}." if reasons else ""


def delivery_text(facts: DeliveryFacts) -> str:
    """For a terminal."""
    tables = [sheet_text(sheet) for sheet in delivery_sheets(facts)]
    return "\n\n".join([said_text([facts.sentence, *facts.supports]), *tables])


def delivery_markdown(facts: DeliveryFacts) -> str:
    """For a notice board or a club's pages."""
    parts = [f"# {facts.title}", "", facts.sentence, ""]
    parts += [f"- {support}" for support in facts.supports]
    parts += ["", *(sheet_markdown(sheet) for sheet in delivery_sheets(facts))]
    parts += [f"- {caution}" for caution in CAUTIONS]
    return "\n".join(parts) + "\n"


def delivery_html(facts: DeliveryFacts) -> str:
    """One self-contained page to print: no network, no script."""
    environment = Environment(
        loader=PackageLoader("solidcopy.reports", "template"),
        autoescape=True,
        undefined=StrictUndefined,
        keep_trailing_newline=True,
    )
    environment.filters["glued"] = glued
    return environment.get_template("delivery.html.j2").render(
        css=Markup((files(__package__) / "template" / "page.css").read_text(encoding="utf-8")),
        facts=facts,
        sheets=delivery_sheets(facts),
        cautions=CAUTIONS,
    )


def level_text(level: float, unit: str) -> str:
    """Head of a row that is a level."""
    return f"{number(level, 1)} {unit}"
