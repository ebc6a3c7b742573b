"""What a duel says, as plain values: two receivers, called A and B, on the same trials.

No name of a receiver is in here: who is who stands in the duel's record, and is put in by those
who print. Differences are B's figure less A's, unless a name says otherwise.
"""

from dataclasses import dataclass
from typing import Literal

from solidcopy.reports.decision_facts import DecisionFacts
from solidcopy.reports.facts import AxisFacts
from solidcopy.reports.measured import CurveFacts, Estimate
from solidcopy.statistics.duel import Wins
from solidcopy.statistics.evidence import NoEvidence, NoThreshold
from solidcopy.statistics.paired_rates import PairedCounts


@dataclass(frozen=True, slots=True)
class PairsAt:
    """Trials that both answered at one axis value."""

    axis_value: float
    counts: PairedCounts
    p_exact: float
    """Of McNemar's exact test; where trials share their luck, of whole groups (`sign_flip`)."""
    p_mid: float


@dataclass(frozen=True, slots=True)
class LeanFacts:
    """Whether one of the two gets more messages through, all axis values together."""

    counts: PairedCounts
    wins: Wins
    """Units that lean to one side: single trials, unless trials share their luck."""
    unit: str
    """What a unit is, in words."""
    p_exact: float
    """As of `PairsAt`, of whole units."""
    p_mid: float


@dataclass(frozen=True, slots=True)
class FalseDuel:
    """Trials in which something was reported that nobody sent; with and without a message sent."""

    counts: PairedCounts
    share_a: Estimate | NoEvidence
    share_b: Estimate | NoEvidence
    difference: Estimate | NoEvidence


@dataclass(frozen=True, slots=True)
class SnrDuel:
    """Reported SNR over the trials that both decoded, so that neither side is favoured by what it
    missed."""

    n_trials: int
    bias_a_db: float | None
    """Mean of reported less asked; None where the axis is no SNR, or without a trial."""
    bias_b_db: float | None
    difference_db: Estimate | NoEvidence


@dataclass(frozen=True, slots=True)
class CostDuel:
    """Time for one slot: at each axis value the median over trials, then the mean of these."""

    kind: Literal["processor time", "elapsed time"]
    a_s: float
    b_s: float
    n_trials: int

    @property
    def ratio(self) -> float | None:
        """Of the dearer to the cheaper; None if the cheaper one's time is too short to be read."""
        low, high = sorted((self.a_s, self.b_s))
        return high / low if low > 0.0 else None


@dataclass(frozen=True, slots=True)
class Failures:
    """Trials without an answer."""

    counts: PairedCounts
    difference: Estimate | NoEvidence
    """Of the shares of trials without an answer."""


@dataclass(frozen=True, slots=True)
class Needed:
    """What an open question still takes."""

    difference: float
    """True difference that is to be found, in the axis' unit."""
    n_trials: int
    """Further trials, each heard by both."""
    seconds: float | None
    """At the measured pace; None if none is known."""


@dataclass(frozen=True, slots=True)
class SideBySide:
    """Everything but the curves, of one condition or of all."""

    lean: LeanFacts
    difference: Estimate | NoThreshold
    """Threshold of B less that of A at 50 %, so that positive means: B needs more (of what the
    axis sweeps; where the axis sweeps interference: B stands less)."""
    needed: Needed | None
    """What is still needed to find the difference asked for; None if decided, or unknown."""
    false: FalseDuel
    snr: SnrDuel
    cost: CostDuel | NoEvidence
    failures: Failures


@dataclass(frozen=True, slots=True)
class ConditionDuel:
    """One condition."""

    name: str
    messages: str
    """"random", or the fixed text."""
    is_twin: bool
    """The same as another condition but for its message, which is the same every time: no part of
    the answer, only of the question whether one of the two remembers."""
    is_tied: bool
    """A disturbance is tied to the signal, so the axis moves the noise only."""
    n_together: int
    points: tuple[PairsAt, ...]
    p_smallest: float | None
    """Smallest p-value of a single axis value, enlarged for having been picked (Holm)."""
    curve_a: CurveFacts
    curve_b: CurveFacts
    sides: SideBySide
    decision: DecisionFacts | None = None
    """Who decodes more, A first, where the campaign runs until that is decided."""


@dataclass(frozen=True, slots=True)
class ArmsDuel:
    """The same condition with random messages and with the same message every time."""

    random: str
    same: str
    """Names of the two conditions."""
    gain_a: Estimate | NoThreshold
    """Threshold with random messages less that with the same message: what A gains by it."""
    gain_b: Estimate | NoThreshold
    extra_b: Estimate | NoThreshold
    """What B gains more than A."""


@dataclass(frozen=True, slots=True)
class DuelFacts:
    """Everything that a duel says, names left out."""

    title: str
    mode: str
    axis: AxisFacts
    conditions: tuple[ConditionDuel, ...]
    overall: SideBySide
    """All conditions that are no twins together; of a single one its own."""
    arms: tuple[ArmsDuel, ...]
    difference_wanted: float | None
    """Smallest difference that matters, in the axis' unit; None: none was named and the axis is
    not in dB."""
    root_seed: int
    n_done: int
    n_planned: int
    """Outcomes of the two, one for each trial and receiver; at most."""
    is_finished: bool
    """Whether the campaign asks for no further trial of the two."""
    digest: str
    """SHA-256 of every figure that the verdict rests on: equal if no outcome was added since."""

    def decisions(self) -> tuple[DecisionFacts, ...]:
        """Those of the conditions that the answer rests on; none of another stop rule."""
        return tuple(c.decision for c in self.judged() if c.decision is not None)

    def judged(self) -> tuple[ConditionDuel, ...]:
        """The conditions that the answer rests on."""
        return tuple(condition for condition in self.conditions if not condition.is_twin)
