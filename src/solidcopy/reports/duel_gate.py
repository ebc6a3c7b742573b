"""May the new one replace the old one? Losses held against what is allowed, at a stated risk."""

from dataclasses import dataclass
from typing import Literal

from solidcopy.campaigns.journal import JournalReader
from solidcopy.reports.axis import axis_facts
from solidcopy.reports.duel_facts import DuelFacts
from solidcopy.reports.duel_shifts import paired_shift
from solidcopy.reports.facts import AxisFacts
from solidcopy.reports.fading import curve_form
from solidcopy.reports.measured import Estimate
from solidcopy.reports.wording import number, places_of, plain, quoted, span
from solidcopy.statistics.duel import Loss, judge_loss
from solidcopy.statistics.evidence import Interval, NoEvidence, NoThreshold
from solidcopy.statistics.paired_rates import PairedCounts, difference_interval


@dataclass(frozen=True, slots=True)
class Allowed:
    """What a new receiver may lose against the old one.

    Args:
        loss_db: threshold; None: not checked.
        false_share: share of slots with a false decode; None: not checked.
        risk: of calling a loss too large that is not; and, apart from that, of calling one small
            enough that is not.
    """

    loss_db: float | None = None
    false_share: float | None = None
    risk: float = 0.05


@dataclass(frozen=True, slots=True)
class GateQuestion:
    """What is to be checked."""

    allowed: Allowed
    new: Literal["A", "B"]
    """Letter of the receiver that is to replace the other."""


@dataclass(frozen=True, slots=True)
class Check:
    """One loss held against what is allowed."""

    condition: str
    what: str
    found: Estimate | NoThreshold | NoEvidence
    """Loss of the new one, with the interval that leaves out the risk on each side."""
    allowed: float
    verdict: Loss
    text: str


@dataclass(frozen=True, slots=True)
class GateFacts:
    """All checks of a new receiver."""

    allowed: Allowed
    new: Literal["A", "B"]
    checks: tuple[Check, ...]

    @property
    def verdict(self) -> Loss:
        """SHOWN if any loss is; RULED_OUT if all are."""
        verdicts = {check.verdict for check in self.checks}
        if Loss.SHOWN in verdicts:
            return Loss.SHOWN
        return Loss.RULED_OUT if verdicts == {Loss.RULED_OUT} else Loss.OPEN

    @property
    def is_shown(self) -> bool:
        """Whether a larger loss than allowed is shown."""
        return self.verdict is Loss.SHOWN

    @property
    def is_ruled_out(self) -> bool:
        """Whether every larger loss than allowed is ruled out."""
        return self.verdict is Loss.RULED_OUT

    def sentence(self) -> str:
        """What came of it."""
        words = {
            Loss.SHOWN: f"Failed: the new one ({self.new}) is shown to lose more than allowed",
            Loss.RULED_OUT: f"Proved: the new one ({self.new}) loses no more than allowed",
            Loss.OPEN: f"Open: that the new one ({self.new}) loses more than allowed is neither "
            "shown nor ruled out",
        }
        listed = "; ".join(check.text for check in self.checks)
        return f"{words[self.verdict]} (risk {plain(100.0 * self.allowed.risk)} %). {listed}."


def gate_facts(
    reader: JournalReader, facts: DuelFacts, places: tuple[int, int], asked: GateQuestion
) -> GateFacts:
    """Check a new receiver against an old one.

    A larger loss is called shown only if it is at the risk divided by the number of checks, so that
    the risk of a false alarm holds for all together; it is called ruled out if every single check
    rules it out at the risk itself, which needs no such division.

    Args:
        reader: of the campaign.
        facts: of the duel.
        places: of A and B among the plan's receivers.
        asked: what may be lost, and which of the two is the new one.
    """
    allowed, is_a_new = asked.allowed, asked.new == "A"
    shares = []
    for condition in facts.judged():
        false, failed = condition.sides.false.counts, condition.sides.failures.counts
        if is_a_new:
            false, failed = false.swapped(), failed.swapped()
        if allowed.false_share is not None:
            limit = allowed.false_share
            shares.append(_Share(condition.name, "slots with a false decode", false, limit))
        if failed.n_b:
            shares.append(_Share(condition.name, "trials without an answer", failed, 0.0))
    judged = [place for place, condition in enumerate(facts.conditions) if not condition.is_twin]
    thresholds = judged if allowed.loss_db is not None else []
    n_checks = len(thresholds) + len(shares)
    old, new = reversed(places) if is_a_new else places
    checks = [
        _threshold_check(reader, (place, old, new), allowed, n_checks) for place in thresholds
    ]
    checks += [_share_check(share, allowed.risk, n_checks) for share in shares]
    return GateFacts(allowed, asked.new, tuple(checks))


def _threshold_check(
    reader: JournalReader, places: tuple[int, int, int], allowed: Allowed, n_checks: int
) -> Check:
    assert allowed.loss_db is not None
    place, old, new = places
    condition, axis = reader.plan.conditions[place], axis_facts(reader.plan)
    paired = reader.paired((place, old), (place, new))
    form = curve_form(condition, axis)

    def shift(risk: float) -> Estimate | NoThreshold:
        sides = ("the old one", "the new one")
        return paired_shift(paired, axis, (form, form), confidence=1.0 - 2.0 * risk, sides=sides)

    found, strict = shift(allowed.risk), shift(allowed.risk / n_checks)
    verdict = _verdict(_interval(found), _interval(strict), allowed.loss_db)
    text = f"{quoted(condition.name)}: {_loss_words(found, axis, allowed.loss_db)}"
    return Check(condition.name, "threshold", found, allowed.loss_db, verdict, text)


def _interval(found: Estimate | NoThreshold) -> Interval | NoThreshold:
    return found.interval if isinstance(found, Estimate) else found


def _verdict(found: Interval | NoThreshold, strict: Interval | NoThreshold, allowed: float) -> Loss:
    if judge_loss(strict, allowed) is Loss.SHOWN:
        return Loss.SHOWN
    return Loss.RULED_OUT if judge_loss(found, allowed) is Loss.RULED_OUT else Loss.OPEN


def _loss_words(found: Estimate | NoThreshold, axis: AxisFacts, allowed_db: float) -> str:
    unit = axis.step_unit
    limit = f"allowed {plain(allowed_db)} {unit}"
    if isinstance(found, NoThreshold):
        known = ""
        if found.limit is not None and found.bound is not None:
            word = "at least" if found.bound == "above" else "at most"
            known = f" (loss {word} {number(found.limit, 2)} {unit})"
        return f"no figure, {limit}: {found.reason}{known}"
    interval = found.interval
    places = max(2, places_of(interval))
    return (
        f"loss {number(found.value, places)} {unit} ({span(interval.low, interval.high, places)}; "
        f"{limit})"
    )


@dataclass(frozen=True, slots=True)
class _Share:
    """Trials in which something happened that should not; side b is the new one."""

    condition: str
    what: str
    counts: PairedCounts
    allowed: float


def _share_check(share: _Share, risk: float, n_checks: int) -> Check:
    """That a failure to answer comes more often may be shown; that it does not cannot, as none is
    allowed: such a check stays open at best."""
    counts, limit = share.counts, share.allowed
    value = counts.difference
    found = difference_interval(counts, 1.0 - 2.0 * risk)
    strict = difference_interval(counts, 1.0 - 2.0 * risk / n_checks)
    start = f"{quoted(share.condition)}: "
    if isinstance(value, NoEvidence) or isinstance(found, NoEvidence):
        nothing = NoEvidence("no trial was answered by both")
        text = f"{start}{share.what}: {nothing.reason}"
        return Check(share.condition, share.what, nothing, limit, Loss.OPEN, text)
    assert isinstance(strict, Interval)
    ends = span(100.0 * found.low, 100.0 * found.high, 2)
    text = (
        f"{start}{number(100.0 * value, 2)} more in 100 {share.what} ({ends}; allowed "
        f"{plain(100.0 * limit)})"
    )
    verdict = _verdict(found, strict, limit)
    return Check(share.condition, share.what, Estimate(value, found), limit, verdict, text)
