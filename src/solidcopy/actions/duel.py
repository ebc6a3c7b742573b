"""Two receivers on the same trials: which one is better, by how much, and is that sure?"""

import math
from collections.abc import Generator
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal

from solidcopy.actions.duel_arms import with_same_message
from solidcopy.actions.duel_record import Record, drawn_places, read_record
from solidcopy.actions.duel_write import write_duel
from solidcopy.actions.folder import existing_folder, folder_of, plan_of
from solidcopy.campaigns import engine
from solidcopy.campaigns.journal import JournalReader
from solidcopy.campaigns.progress import Progress
from solidcopy.errors import PlanError
from solidcopy.reports.axis import axis_facts
from solidcopy.reports.describe import receiver_facts
from solidcopy.reports.duel_facts import DuelFacts
from solidcopy.reports.duel_gate import Allowed, GateFacts, GateQuestion, gate_facts
from solidcopy.reports.duel_gather import Asked, gather_duel
from solidcopy.reports.duel_supports import supports
from solidcopy.reports.duel_words import Names, headline
from solidcopy.reports.tables import plain_data
from solidcopy.statistics.duel import Loss
from solidcopy.statistics.evidence import NoEvidence
from solidcopy.trials.expand import place_of
from solidcopy.trials.plan import Plan

WORDS = {Loss.SHOWN: "shown", Loss.RULED_OUT: "ruled out", Loss.OPEN: "open"}


@dataclass(frozen=True, slots=True)
class DuelRequest:
    """What is asked.

    Args:
        source: a plan file, which is carried out as far as needed, or a campaign folder, which is
            read as it is.
        between: two of the plan's receivers, by name or number from 1; None: its only two.
        same_message: adds the conditions with this message every time, and runs them.
        difference: smallest difference that matters, in the axis' unit.
        is_seen: show the names.
        allowed: what the second of the two may lose against the first; None: no such check.
        n_workers: processes; None: one for each processor.
    """

    source: Path
    between: tuple[str, str] | None = None
    same_message: str | None = None
    difference: float | None = None
    is_seen: bool = False
    allowed: Allowed | None = None
    n_workers: int | None = None


@dataclass(frozen=True, slots=True)
class Duel:
    """A duel as written down."""

    facts: DuelFacts
    names: Names
    record: Record
    gate: GateFacts | None
    page: Path
    json: Path

    def sentence(self) -> str:
        """The answer."""
        return headline(self.facts, self.names)

    def text(self) -> str:
        """For a person: the answer, what supports it, and where the page is."""
        lines = [self.sentence(), *(f"  {line}" for line in supports(self.facts, self.names))]
        if self.gate is not None:
            lines.append(self.gate.sentence())
        return "\n".join(
            [
                *lines,
                self.record.sentence(headline(self.facts, Names())),
                f"page: {self.page.resolve()}",
            ]
        )


def run_duel(request: DuelRequest) -> Generator[Progress]:
    """Carry out what is still missing; nothing where a campaign folder is only to be read.

    Raises: PlanError, CalibrationError, AudioFileError, JournalError.
    """
    if request.n_workers is not None and request.n_workers < 1:
        raise PlanError(f"--workers must be at least 1, not {request.n_workers}")
    plan = plan_of(request.source)
    duel_places(plan, request.between)
    refuse_impossible(plan, request)
    if request.same_message is not None:
        plan = with_same_message(plan, request.same_message)
    elif request.source.is_dir():
        return
    is_folder = request.source.is_dir()
    settings = engine.EngineSettings(
        n_workers=request.n_workers,
        import_folders=None if is_folder else (request.source.resolve().parent,),
    )
    yield from engine.run_campaign(plan, folder_of(request.source), settings=settings)


def conclude_duel(request: DuelRequest) -> Duel:
    """Judge the duel as the journal stands, and write it down in the campaign's folder.

    Names stay hidden, on the page and in the file, until they are asked for once.

    Raises: PlanError if the two cannot be told; JournalError if there is no campaign.
    """
    folder = existing_folder(request.source)
    with JournalReader(folder) as reader:
        plan = reader.plan
        named = duel_places(plan, request.between)
        refuse_impossible(plan, request)
        places = drawn_places(plan, named)
        facts = gather_duel(reader, Asked(places, request.difference))
        gate = None
        if request.allowed is not None:
            new: Literal["A", "B"] = "A" if places[0] == named[1] else "B"
            gate = gate_facts(reader, facts, places, GateQuestion(request.allowed, new))
    out = folder / duel_folder(plan, named)
    before = read_record(out / "duel.json")
    is_seen = request.is_seen or request.allowed is not None
    record = before.after(digest=facts.digest, verdict=headline(facts, Names()), is_seen=is_seen)
    seen = places if record.is_revealed else ()
    who = tuple(receiver_facts(plan.receivers[place]) for place in seen)
    page, json_file = write_duel(out, facts, record, who=who, gate=gate)
    names = Names(*(receiver.name for receiver in who))
    return Duel(facts, names, record, gate, page, json_file)


def duel_places(plan: Plan, between: tuple[str, str] | None) -> tuple[int, int]:
    """Places of the two among the plan's receivers, as named. Raises PlanError."""
    receivers = [receiver.name for receiver in plan.receivers]
    if between is None:
        if len(receivers) != 2:
            listed = ", ".join(f"“{name}”" for name in receivers)
            raise PlanError(
                f"a duel is between two receivers and the plan has {len(receivers)} ({listed}); "
                + (
                    "name two with --between"
                    if len(receivers) > 2
                    else "add a second one, e.g. with other settings"
                )
            )
        return 0, 1
    first, second = (place_of(name, receivers, what="receiver") for name in between)
    if first == second:
        raise PlanError(f'--between names "{receivers[first]}" twice; name two receivers')
    return first, second


def allowed_of(
    loss_db: float | None, false_share: float | None, risk: float, *, is_proof_required: bool
) -> Allowed | None:
    """What may be lost, from what was typed; None if nothing was. Raises PlanError."""
    if loss_db is None and false_share is None:
        if is_proof_required:
            raise PlanError(
                "--require-proof: of what? Give --allowed-loss-db, --allowed-false-rate or both"
            )
        return None
    if loss_db is not None and not 0.0 <= loss_db < math.inf:
        raise PlanError(f"--allowed-loss-db must be 0 or more, not {loss_db:g}")
    if false_share is not None and not 0.0 <= false_share < 1.0:
        raise PlanError(f"--allowed-false-rate is a share from 0 to below 1, not {false_share:g}")
    if not 0.0 < risk < 0.5:
        raise PlanError(f"--risk must lie between 0 and 0.5, not {risk:g}; 0.05 is usual")
    return Allowed(loss_db, false_share, risk)


def refuse_impossible(plan: Plan, request: DuelRequest) -> None:
    """Raises PlanError where what is asked makes no sense for the plan's axis."""
    if request.difference is not None and not 0.0 < request.difference < math.inf:
        raise PlanError(f"--difference-db must be more than 0, not {request.difference:g}")
    axis = axis_facts(plan)
    has_loss = request.allowed is not None and request.allowed.loss_db is not None
    for option, is_given in (
        ("--difference-db", request.difference is not None),
        ("--allowed-loss-db", has_loss),
    ):
        if is_given and axis.step_unit != "dB":
            raise PlanError(f"{option} needs an axis in dB; this plan sweeps {axis.label}")


def duel_folder(plan: Plan, places: tuple[int, int]) -> str:
    """Name of the folder of each two; it says which two, not who is who."""
    if len(plan.receivers) == 2:
        return "duel"
    low, high = sorted(places)
    return f"duel-{low + 1}-{high + 1}"


def as_dict(duel: Duel) -> dict[str, Any]:
    """For a program: the short form; every figure stands in duel.json."""
    sides = duel.facts.overall
    cost = None if isinstance(sides.cost, NoEvidence) else sides.cost
    return {
        "sentence": duel.sentence(),
        "supports": supports(duel.facts, duel.names),
        "names": {"A": duel.names.a, "B": duel.names.b},
        "is_blind": not duel.record.is_revealed,
        "is_finished": duel.facts.is_finished,
        "decisions": plain_data(duel.facts.decisions()),
        "difference": plain_data(sides.difference),
        "unit": duel.facts.axis.step_unit,
        "pairs": plain_data(sides.lean.counts),
        "p_exact": sides.lean.p_exact,
        "false_decodes": plain_data(sides.false),
        "cost": plain_data(cost),
        "loss_beyond_allowed": None if duel.gate is None else WORDS[duel.gate.verdict],
        "gate": None if duel.gate is None else duel.gate.sentence(),
        "page": str(duel.page),
        "json": str(duel.json),
    }
