"""Figures of a duel from the answers of both, without the curves."""

import hashlib
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from solidcopy.campaigns.journal.answers import Answers
from solidcopy.reports.curves import CONFIDENCE
from solidcopy.reports.duel_facts import (
    CostDuel,
    Failures,
    FalseDuel,
    LeanFacts,
    PairsAt,
    SnrDuel,
)
from solidcopy.reports.facts import AxisFacts
from solidcopy.reports.measured import Estimate
from solidcopy.statistics.duel import mean_interval, wins
from solidcopy.statistics.evidence import NoEvidence
from solidcopy.statistics.paired_rates import PairedCounts, difference_interval
from solidcopy.statistics.pairs import PairedTrials, net_by_group, sign_flip, sign_flip_mid_p
from solidcopy.statistics.tally import Tally

Seconds = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class Heard:
    """Answers of both to the trials of one condition that both have come to."""

    sent: dict[float, tuple[Answers, Answers]]
    silent: tuple[Answers, Answers]
    paired: PairedTrials
    n_together: int

    def all(self) -> list[tuple[Answers, Answers]]:
        """With and without a message sent."""
        return [*self.sent.values(), self.silent]


def aligned(a: Answers, b: Answers) -> tuple[Answers, Answers]:
    """Both up to the last trial that both have come to."""
    n = min(a.n, b.n)
    return a.first(n), b.first(n)


def pairs_at(value: float, a: Answers, b: Answers, *, n_together: int) -> PairsAt:
    """Counts and tests at one axis value; trials with a common run of fading are tested as one."""
    both = ~a.failed & ~b.failed
    counts = PairedCounts.of(a.decoded[both], b.decoded[both])
    net = net_by_group(a.decoded, b.decoded, both, n_together)
    return PairsAt(value, counts, sign_flip(net), sign_flip_mid_p(net))


def lean_facts(heard: list[Heard]) -> LeanFacts:
    """Units are single trials; trials with a common run of fading, or one trial under several
    conditions, are one unit, tested as one."""
    total = PairedCounts()
    leaning: dict[tuple[float, int], int] = {}
    size = int(np.lcm.reduce([own.n_together for own in heard]))
    for own in heard:
        for value, (a, b) in own.sent.items():
            both = ~a.failed & ~b.failed
            total += PairedCounts.of(a.decoded[both], b.decoded[both])
            lean = np.where(both, b.decoded.astype(int) - a.decoded.astype(int), 0)
            for index in np.flatnonzero(lean):
                unit = value, int(index) // size
                leaning[unit] = leaning.get(unit, 0) + int(lean[index])
    net = np.array(list(leaning.values()), np.int64)
    words = "trial" if size == 1 else f"group of {size} trials that share their fading"
    if len(heard) > 1:
        words += f", under all {len(heard)} conditions together"
    return LeanFacts(total, wins(net), words, sign_flip(net), sign_flip_mid_p(net))


def share_of(n_events: int, n: int) -> Estimate | NoEvidence:
    """A share with its exact interval."""
    tally = Tally(0, n, 0, n_events, n_events)
    share, interval = tally.p_false(), tally.false_interval(CONFIDENCE)
    if isinstance(share, NoEvidence) or isinstance(interval, NoEvidence):
        return NoEvidence("no trial was answered by both sides")
    return Estimate(share, interval)


def _difference(counts: PairedCounts) -> Estimate | NoEvidence:
    value, interval = counts.difference, difference_interval(counts, CONFIDENCE)
    if isinstance(value, NoEvidence) or isinstance(interval, NoEvidence):
        return NoEvidence("no trial was answered by both sides")
    return Estimate(value, interval)


def false_duel(heard: Heard) -> FalseDuel:
    """False decodes of both, trial against trial."""
    counts = PairedCounts()
    for a, b in heard.all():
        both = ~a.failed & ~b.failed
        counts += PairedCounts.of(a.has_false[both], b.has_false[both])
    share_a, share_b = share_of(counts.n_a, counts.n), share_of(counts.n_b, counts.n)
    return FalseDuel(counts, share_a, share_b, _difference(counts))


def failures(heard: Heard) -> Failures:
    """Trials without an answer, on both sides."""
    counts = PairedCounts()
    for a, b in heard.all():
        counts += PairedCounts.of(a.failed, b.failed)
    return Failures(counts, _difference(counts))


def snr_duel(axis: AxisFacts, heard: Heard) -> SnrDuel:
    """Reported SNR of both over the trials that both decoded."""
    off_a, off_b = [], []
    for value, (a, b) in heard.sent.items():
        known = np.isfinite(a.reported_snr_db) & np.isfinite(b.reported_snr_db)
        off_a.append(a.reported_snr_db[known] - value)
        off_b.append(b.reported_snr_db[known] - value)
    a_db, b_db = np.concatenate(off_a), np.concatenate(off_b)
    found = mean_interval(b_db - a_db, CONFIDENCE)
    difference = found if isinstance(found, NoEvidence) else Estimate(*found)
    if axis.sense != "snr" or not a_db.size:
        return SnrDuel(a_db.size, None, None, difference)
    return SnrDuel(a_db.size, float(a_db.mean()), float(b_db.mean()), difference)


def cost_duel(heard: list[Heard]) -> CostDuel | NoEvidence:
    """Processor time where it is known of both, else the time that passed."""
    pairs = [pair for own in heard for pair in own.sent.values()]
    by_processor = [(a, b, a.cpu_s, b.cpu_s) for a, b in pairs]
    by_clock = [(a, b, a.elapsed_s, b.elapsed_s) for a, b in pairs]
    return (
        _cost("processor time", by_processor)
        or _cost("elapsed time", by_clock)
        or NoEvidence("no trial was answered by both sides")
    )


def _cost(
    kind: Literal["processor time", "elapsed time"],
    points: list[tuple[Answers, Answers, Seconds, Seconds]],
) -> CostDuel | None:
    """None if no trial has a time on both sides."""
    medians, n_trials = [], 0
    for a, b, a_s, b_s in points:
        known = ~a.failed & ~b.failed & np.isfinite(a_s) & np.isfinite(b_s)
        n_trials += int(known.sum())
        if known.any():
            medians.append((np.median(a_s[known]), np.median(b_s[known])))
    if not medians:
        return None
    mean_a_s, mean_b_s = np.mean(medians, axis=0)
    return CostDuel(kind, float(mean_a_s), float(mean_b_s), n_trials)


def digest_of(heard: list[Heard]) -> str:
    """SHA-256 of everything that was scored, hexadecimal."""
    total = hashlib.sha256()
    for own in heard:
        for pair in own.all():
            for answers in pair:
                for column in (answers.decoded, answers.failed, answers.has_false):
                    total.update(column.tobytes() + b"/")
    return total.hexdigest()
