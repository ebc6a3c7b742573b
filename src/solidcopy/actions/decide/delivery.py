"""How surely a message or a contact gets through in so many attempts and minutes."""

from dataclasses import dataclass
from pathlib import Path

import numpy as np

from solidcopy import units
from solidcopy.actions.decide.subject import NOISE_ONLY, Subject
from solidcopy.errors import FigureError, JournalError
from solidcopy.modes.registry import slotted_mode
from solidcopy.reports.delivery_page import (
    DeliveryFacts,
    DeliveryRow,
    chance_text,
    delivery_html,
    delivery_markdown,
    level_text,
    question_text,
    time_text,
)
from solidcopy.reports.whole_file import put_text
from solidcopy.reports.wording import capital, counted, percent, plain
from solidcopy.statistics.evidence import NoEvidence
from solidcopy.statistics.shapes import Array
from solidcopy.translate.delivery import Question, at_level, levels_worth_showing, questions
from solidcopy.translate.power import Ends
from solidcopy.translate.repeats import (
    ORDINARY,
    attempts_for,
    exchange_within,
    slots_of_attempts,
    within_attempts,
)

MOST_ROWS = 12
LADDER_W = tuple(
    step * decade for decade in (0.1, 1.0, 10.0, 100.0) for step in (1.0, 1.5, 2.0, 3.0, 5.0, 7.0)
)
MOST_MINUTES = 240.0


@dataclass(frozen=True, slots=True)
class Wishes:
    """What the table shall hold.

    Args:
        minutes: times, each more than 0.
        wanted: share of cases that counts as sure enough, between 0 and 1.
        now: transmitter power in W and the level that it gives; rows are powers then.
    """

    minutes: tuple[float, ...] = (1.0, 2.0, 5.0, 10.0)
    wanted: float = 0.9
    now: tuple[float, float] | None = None

    def __post_init__(self) -> None:
        if not all(0.0 < each <= MOST_MINUTES for each in self.minutes) or not self.minutes:
            raise FigureError(
                f"minutes must lie above 0 and at most at {MOST_MINUTES:g}; give them like 2,5,10"
            )
        if not 0.0 < self.wanted < 1.0:
            raise FigureError(
                f"the share wanted must lie between 0 and 100 %, not at {100.0 * self.wanted:g} %"
            )
        if self.now is not None and not self.now[0] > 0.0:
            raise FigureError(f"the power must be more than 0 W, not {self.now[0]:g} W")


def delivery_of(subject: Subject, wishes: Wishes) -> DeliveryFacts:
    """The table of a curve."""
    asked = questions(subject.mode.slot_s, wishes.minutes, ORDINARY.n_messages)
    heads = _rows(subject, wishes)
    chances = [question.chance(subject.chances, ORDINARY.n_messages) for question in asked]
    n = subject.chances.n_draws
    rows = tuple(
        DeliveryRow(
            head,
            tuple(c if isinstance(c, NoEvidence) else at_level(c, level, n) for c in chances),
        )
        for head, level in heads
    )
    level_head = subject.axis.label if wishes.now is None else "transmitter power"
    return DeliveryFacts(
        title=f"Delivery in {subject.mode.name.upper()}: {subject.name}",
        sentence=_sentence(rows, asked, wishes),
        supports=(subject.basis, *_now_words(wishes, subject)),
        level_head=level_head,
        questions=asked,
        rows=rows,
        wanted=wishes.wanted,
        messages=ORDINARY.messages,
    )


def delivery_by_chance(mode: str, p: float, wishes: Wishes) -> DeliveryFacts:
    """The table of one chance per attempt that was given by hand, attempts standing alone."""
    if not 0.0 < p < 1.0:
        raise FigureError(f"the chance must lie between 0 and 100 %, not at {100.0 * p:g} %")
    slot_s = slotted_mode(mode, "delivery by repeats").facts.slot_s
    asked = questions(slot_s, wishes.minutes, ORDINARY.n_messages)
    one = np.array(p)
    cells = [_exact(_alone(question, one)) for question in asked]
    n = attempts_for(p, wishes.wanted)
    assert n is not None
    took = time_text(slots_of_attempts(n) * slot_s)
    return DeliveryFacts(
        title=f"Delivery in {mode.upper()}: {percent(p)} for each attempt",
        sentence=f"For {percent(wishes.wanted)} it takes {counted(n, 'attempt')}: {took}.",
        supports=(f"The chance was given by hand. {NOISE_ONLY}",),
        level_head="chance of each attempt",
        questions=asked,
        rows=(DeliveryRow(percent(p), tuple(cells)),),
        wanted=wishes.wanted,
        messages=ORDINARY.messages,
    )


def write_delivery(facts: DeliveryFacts, folder: Path) -> tuple[Path, Path]:
    """Page and Markdown. Raises JournalError if the folder cannot be written."""
    try:
        folder.mkdir(parents=True, exist_ok=True)
        return (
            put_text(folder / "delivery.html", delivery_html(facts)),
            put_text(folder / "delivery.md", delivery_markdown(facts)),
        )
    except OSError as error:
        raise JournalError(
            f"{folder}: the table cannot be written ({error.strerror}); choose another folder"
        ) from None


def _alone(question: Question, p: Array) -> float:
    if question.n_attempts:
        return float(within_attempts(p, question.n_attempts))
    return float(exchange_within([p] * ORDINARY.n_messages, question.n_slots)[-1])


def _exact(value: float) -> Ends:
    return Ends(value, value, value)


def _rows(subject: Subject, wishes: Wishes) -> list[tuple[str, float]]:
    """Heads and levels, the weakest first."""
    low, high = min(subject.axis.values), max(subject.axis.values)
    if wishes.now is None:
        levels = levels_worth_showing(subject.chances, subject.axis.values, MOST_ROWS)
        return [(level_text(level, subject.axis.unit), level) for level in levels]
    watts_now, level_now = wishes.now
    rows = [
        (f"{plain(watts)} W", level_now + units.db_from_ratio(watts / watts_now))
        for watts in sorted({*LADDER_W, watts_now})
    ]
    inside = [row for row in rows if low <= row[1] <= high]
    if not inside:
        raise FigureError(
            f"no power from {LADDER_W[0]:g} to {LADDER_W[-1]:g} W reaches the levels that were "
            f"tested ({low:g} to {high:g} {subject.axis.unit}); check the level now"
        )
    return inside[:: -(-len(inside) // MOST_ROWS)]


def _sentence(rows: tuple[DeliveryRow, ...], asked: tuple[Question, ...], wishes: Wishes) -> str:
    """The weakest row that is sure enough in the longest time; or the best that can be said."""
    last = max(
        (place for place, question in enumerate(asked) if question.n_attempts),
        key=lambda place: asked[place].n_attempts,
    )
    share, time = percent(wishes.wanted), question_text(asked[last])
    known = [(row, cell) for row in rows if isinstance(cell := row.cells[last], Ends)]
    for row, cell in known:
        if cell.low >= wishes.wanted:
            return (
                f"{capital(time)}, a message gets through in at least {share} of cases from "
                f"{row.head} on: {chance_text(cell)}."
            )
    if known:
        row, cell = known[-1]
        return (
            f"{capital(time)}, no row is sure of {share}: at {row.head} a message gets through "
            f"with {chance_text(cell)}."
        )
    return f"{capital(time)}: nothing can be said, see the note under the table."


def _now_words(wishes: Wishes, subject: Subject) -> tuple[str, ...]:
    tied: tuple[str, ...] = ()
    if subject.is_tied:
        tied = (
            "A disturbance of this condition keeps its ratio to the signal: more power would not "
            "raise the one without the other.",
        )
    if wishes.now is None:
        return tied
    watts, level = wishes.now
    return (
        f"Rows are powers: {plain(watts)} W are taken to give {subject.axis.quantity} "
        f"{level_text(level, subject.axis.unit)}.",
        *tied,
    )
