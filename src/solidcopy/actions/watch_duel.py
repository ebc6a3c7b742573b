"""A duel of the bench looked at while it grows, with letters only until its names were asked for.

Looking here writes nothing down: the record of looks belongs to `conclude_duel`, which the command
comes to at its end. As long as names are hidden nothing here tells them, so a look at any time
leaves the verdict blind; and the rule by which such a duel is decided holds at any look.
"""

import time
from dataclasses import dataclass

import numpy as np

from solidcopy.actions.background_job import job_state, start_job, stop_job
from solidcopy.actions.duel import DuelRequest, conclude_duel, duel_folder, duel_places
from solidcopy.actions.duel_record import drawn_places, read_record
from solidcopy.actions.served import served
from solidcopy.actions.workspace import Workspace
from solidcopy.campaigns.journal import JournalReader
from solidcopy.campaigns.journal.lock import holder
from solidcopy.errors import JournalError, PlanError
from solidcopy.reports.duel_facts import DuelFacts
from solidcopy.reports.duel_gather import Asked, gather_duel
from solidcopy.reports.duel_page import messages_words
from solidcopy.reports.duel_sheets import false_sheet, pairs_sheet, verdicts_sheet
from solidcopy.reports.duel_supports import supports
from solidcopy.reports.duel_words import Names, headline
from solidcopy.reports.measured import CurveFacts, Estimate, Line
from solidcopy.reports.sheet import Sheet
from solidcopy.statistics.sequential import RISK, count_discordant, decide
from solidcopy.statistics.sides import Side, in_pairs
from solidcopy.trials.plan import Plan

DUELLING = "duel"
"""Kind of background job."""
STOPPED = 130
"""Exit code of a command that was asked to stop."""
BEGIN_WITHIN_S, EVERY_S = 60.0, 0.1
MOST_LOOKS = 40
"""Points of the path of a decision."""

Pair = tuple[int, int]


@served
@dataclass(frozen=True, slots=True)
class ShownTable:
    """A table of the duel's page."""

    caption: str
    columns: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    note: str
    n_heads: int
    """Cells of a row that name it."""


@served
@dataclass(frozen=True, slots=True)
class SideCurve:
    """One side along the axis."""

    values: tuple[float, ...]
    shares: tuple[float, ...]
    """Of the messages, decoded; 0 to 1."""
    low: tuple[float, ...]
    """Ends of the 95 % Wilson intervals."""
    high: tuple[float, ...]
    line_values: tuple[float, ...]
    """Of the fitted curve; empty where none is fitted."""
    line_shares: tuple[float, ...]


@served
@dataclass(frozen=True, slots=True)
class ShownPath:
    """How the decision grew, by trials at each axis value."""

    n_trials: tuple[int, ...]
    p_values: tuple[float, ...]
    """Smallest risk at which the trials up to there decide; holds at any look."""
    leads: tuple[str, ...]
    """Letter that decoded more of the trials that only one decoded; "" if neither."""
    risk: float
    """At which the duel is decided."""


@served
@dataclass(frozen=True, slots=True)
class ShownCondition:
    """One condition of a duel."""

    name: str
    messages: str
    a: SideCurve
    b: SideCurve
    path: ShownPath
    pairs: ShownTable


@served
@dataclass(frozen=True, slots=True)
class DuelView:
    """A duel as it stands."""

    title: str
    axis_label: str
    is_running: bool
    is_finished: bool
    n_done: int
    n_planned: int
    """Outcomes of the two, at most."""
    sentence: str
    supports: tuple[str, ...]
    name_a: str | None
    """null as long as names are hidden."""
    name_b: str | None
    record: str
    """Whether the verdict was reached blind; empty until the duel was concluded once."""
    has_page: bool
    """Whether its own page was written."""
    verdicts: ShownTable
    false_decodes: ShownTable
    conditions: tuple[ShownCondition, ...]
    failure: str
    """Why the last run of it did not end well."""


@dataclass(frozen=True, slots=True)
class DuelAsked:
    """A duel between two receivers of one plan of the bench.

    Args:
        name: of the plan, and so of its campaign.
        between: numbers of the two, from 1; None: the plan's only two.
        same_message, difference: as `DuelRequest` has them.
    """

    name: str
    between: Pair | None = None
    same_message: str | None = None
    difference: float | None = None

    def request(self, space: Workspace) -> DuelRequest:
        """For a duel that was begun: of the campaign as it lies there. Raises NotThereError."""
        return DuelRequest(
            space.campaign(self.name), between=self._between(), difference=self.difference
        )

    def words(self, space: Workspace) -> list[str]:
        """Of the command that carries it out. Receivers are numbers, and a text stands behind its
        option's sign, so nothing that a page sends can be taken for an option."""
        is_begun = self.name in space.campaigns()
        has_plan = self.name in space.plans()
        source = (
            space.existing_plan(self.name)
            if has_plan or not is_begun
            else space.campaign(self.name)
        )
        words = ["duel", str(source)]
        if self.between is not None:
            words += ["--between", *map(str, self.between)]
        if self.same_message is not None:
            words.append(f"--same-message={self.same_message}")
        if self.difference is not None:
            words.append(f"--difference-db={self.difference!r}")
        return words

    def _between(self) -> tuple[str, str] | None:
        return None if self.between is None else (str(self.between[0]), str(self.between[1]))


def start_duel(space: Workspace, asked: DuelAsked) -> None:
    """Carry the duel out in a process of its own; returns once its journal is there.

    Raises: PlanError with what the command said if it failed at once; JournalError if this duel
        is going on already.
    """
    start_job(space, DUELLING, asked.name, asked.words(space))
    end_s = time.monotonic() + BEGIN_WITHIN_S
    while not _is_begun(space, asked.name) and time.monotonic() < end_s:
        job = job_state(space, DUELLING, asked.name)
        if not job.is_running:
            if job.failure:
                raise PlanError(job.failure)
            return
        time.sleep(EVERY_S)


def _is_begun(space: Workspace, name: str) -> bool:
    if name not in space.campaigns():
        return False
    try:
        with JournalReader(space.campaign(name)):
            return True
    except JournalError:
        return False


def stop_duel(space: Workspace, name: str) -> bool:
    """Stop it cleanly; nothing that was tried is lost. Returns: whether it was running.

    Raises: NotThereError if there is no such campaign.
    """
    was_running = stop_job(space, DUELLING, name)
    if not was_running:
        space.campaign(name)
    return was_running


def reveal_duel(space: Workspace, asked: DuelAsked) -> DuelView:
    """Write the verdict down, then show who is A and who is B, from now on for good."""
    request = asked.request(space)
    conclude_duel(request)
    conclude_duel(DuelRequest(request.source, request.between, None, request.difference, True))
    return watch_duel(space, asked)


def watch_duel(space: Workspace, asked: DuelAsked) -> DuelView:
    """The duel as its journal stands. Raises NotThereError before its first trial, PlanError."""
    folder = space.campaign(asked.name)
    request = asked.request(space)
    with JournalReader(folder) as reader:
        plan = reader.plan
        named = duel_places(plan, request.between)
        places = drawn_places(plan, named)
        facts = gather_duel(reader, Asked(places, asked.difference))
        paths = [_path(reader, place, places) for place in range(len(plan.conditions))]
    out = folder / duel_folder(plan, named)
    record = read_record(out / "duel.json")
    names = _names(plan, places) if record.is_revealed else Names()
    job = job_state(space, DUELLING, asked.name)
    return DuelView(
        title=facts.title or f"Two receivers of {facts.mode.upper()}",
        axis_label=facts.axis.label,
        is_running=job.is_running or holder(folder) is not None,
        is_finished=facts.is_finished,
        n_done=facts.n_done,
        n_planned=facts.n_planned,
        sentence=headline(facts, names),
        supports=tuple(supports(facts, names)),
        name_a=names.a,
        name_b=names.b,
        record=record.sentence(headline(facts, Names())) if record.events else "",
        has_page=(out / "duel.html").is_file(),
        verdicts=_table(verdicts_sheet(facts)),
        false_decodes=_table(false_sheet(facts)),
        conditions=_conditions(facts, paths),
        failure="" if job.exit_code == STOPPED else job.failure,
    )


def duel_page_text(space: Workspace, asked: DuelAsked) -> str:
    """The duel's own page, written anew: a look that the record keeps."""
    return conclude_duel(asked.request(space)).page.read_text(encoding="utf-8")


def _names(plan: Plan, places: Pair) -> Names:
    return Names(*(plan.receivers[place].name for place in places))


def _conditions(facts: DuelFacts, paths: list[ShownPath]) -> tuple[ShownCondition, ...]:
    return tuple(
        ShownCondition(
            name=condition.name,
            messages=messages_words(condition),
            a=_curve(condition.curve_a),
            b=_curve(condition.curve_b),
            path=path,
            pairs=_table(pairs_sheet(facts, condition)),
        )
        for condition, path in zip(facts.conditions, paths, strict=True)
    )


def _curve(curve: CurveFacts) -> SideCurve:
    found = [
        (point.axis_value, point.p_decoded)
        for point in curve.points
        if isinstance(point.p_decoded, Estimate)
    ]
    line = curve.line if isinstance(curve.line, Line) else None
    return SideCurve(
        values=tuple(value for value, _ in found),
        shares=tuple(share.value for _, share in found),
        low=tuple(share.interval.low for _, share in found),
        high=tuple(share.interval.high for _, share in found),
        line_values=line.axis_values if line else (),
        line_shares=line.p if line else (),
    )


def _path(reader: JournalReader, condition: int, places: Pair) -> ShownPath:
    """The decision after so many trials at every axis value, as it would have been then."""
    sides = [reader.side(condition, place) for place in places]
    risk = reader.plan.stop.risk if reader.plan.stop.until is not None else RISK
    most = max((flags.size for side in sides for flags, _ in side.by_value.values()), default=0)
    looks = sorted({int(n) for n in np.linspace(1, most, min(most, MOST_LOOKS))}) if most else []
    counts = [count_discordant(in_pairs(*(_first(side, n) for side in sides))) for n in looks]
    return ShownPath(
        n_trials=tuple(looks),
        p_values=tuple(decide(a, b, risk=risk).p_value for a, b in counts),
        leads=tuple("A" if a > b else "B" if b > a else "" for a, b in counts),
        risk=risk,
    )


def _first(side: Side, n: int) -> Side:
    """The side with its first trials at every axis value."""
    cut = {value: (decoded[:n], scored[:n]) for value, (decoded, scored) in side.by_value.items()}
    return Side(cut, side.unit, side.n_together)


def _table(sheet: Sheet) -> ShownTable:
    return ShownTable(sheet.caption, sheet.columns, sheet.rows, sheet.note, sheet.n_heads)
