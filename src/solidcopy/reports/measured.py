"""Measured figures of a report as plain values: counts, curves, thresholds, penalties, levels.

A number that could not be measured is a NoEvidence or NoThreshold with the reason, never 0 or
NaN. Units are those of the axis unless a name says otherwise.
"""

from dataclasses import dataclass
from typing import Literal

from solidcopy.statistics.evidence import Interval, NoEvidence, NoThreshold

DOUBTFUL_FIT = 0.001
"""A fit less probable than this is pointed out: the form of the curve does not suit."""


def is_doubtful_fit(p_fit: float | None) -> bool:
    """Whether points hardly follow a curve, from the probability of lying so far from it."""
    return p_fit is not None and p_fit < DOUBTFUL_FIT


@dataclass(frozen=True, slots=True)
class Estimate:
    """A number with its interval, both in the unit of the field that holds it."""

    value: float
    interval: Interval


@dataclass(frozen=True, slots=True)
class PointFacts:
    """Counts at one axis value."""

    axis_value: float
    n_decoded: int
    n_missed: int
    n_failed: int
    n_false_decodes: int
    p_decoded: Estimate | NoEvidence
    """Share of the answered trials (failures left out) with a Wilson interval."""

    @property
    def n_trials(self) -> int:
        """All trials, failures included."""
        return self.n_decoded + self.n_missed + self.n_failed

    @property
    def n_answered(self) -> int:
        """Trials that were decoded or missed."""
        return self.n_decoded + self.n_missed


@dataclass(frozen=True, slots=True)
class Line:
    """A fitted curve for drawing: axis values with probabilities 0..1, and its band."""

    axis_values: tuple[float, ...]
    p: tuple[float, ...]
    band_values: tuple[float, ...]
    """Axis values of the band, coarser than those of the line; none where it is not drawn (on a
    map)."""
    p_low: tuple[float, ...]
    p_high: tuple[float, ...]
    form: str
    """Shape of the curve in words, e.g. "cumulative normal"."""
    band_confidence: float
    band_method: str
    p_fit: float | None
    """Chance of points lying as far from the line as these, or farther; None if every line fits
    (no degree of freedom is left)."""

    @property
    def is_doubtful(self) -> bool:
        """Whether the points hardly follow a curve of this form."""
        return is_doubtful_fit(self.p_fit)


@dataclass(frozen=True, slots=True)
class Quoted:
    """An SNR in 2500 Hz quoted in the other ways of the trade (same signal, same noise)."""

    snr_500_hz_db: float
    snr_3000_hz_db: float
    c_n0_db_hz: float
    es_n0_db: float


@dataclass(frozen=True, slots=True)
class ThresholdFacts:
    """Axis value at which a share `p` of the messages is decoded."""

    p: float
    at: Estimate | NoThreshold
    quoted: Quoted | None
    """Only for an SNR axis with a threshold."""


@dataclass(frozen=True, slots=True)
class CurveFacts:
    """One condition heard by one receiver."""

    condition: str
    receiver: str
    points: tuple[PointFacts, ...]
    line: Line | NoThreshold
    thresholds: tuple[ThresholdFacts, ...]

    def threshold(self, p: float) -> ThresholdFacts:
        """The threshold at `p`. Raises KeyError if the facts hold none."""
        for threshold in self.thresholds:
            if threshold.p == p:
                return threshold
        raise KeyError(p)

    @property
    def n_trials(self) -> int:
        """All trials along the curve."""
        return sum(point.n_trials for point in self.points)

    @property
    def n_failed(self) -> int:
        """Trials in which the receiver failed."""
        return sum(point.n_failed for point in self.points)


@dataclass(frozen=True, slots=True)
class PairsFacts:
    """Trials that both sides of a comparison answered, and those that tell them apart."""

    n_pairs: int
    n_only_this: int
    n_only_first: int
    p_value: float | None
    """Exact two-sided test that neither side decodes more, all points together (McNemar's; of group
    sums where trials share their luck); None without a pair."""
    n_together: int = 1
    """Trials in a group that was tested as one."""

    @property
    def test_words(self) -> str:
        """Name of the test in a sentence."""
        groups = "" if self.n_together == 1 else f" on groups of {self.n_together} trials"
        return f"exact test{groups}"


@dataclass(frozen=True, slots=True)
class MoreTrials:
    """What is still missing for an answer of the asked precision."""

    half_width: float
    """The precision asked for, in the axis' unit."""
    n_trials: int
    """More trials, in all."""
    seconds: float | None
    """Time at the measured rate; None if no rate is known."""


@dataclass(frozen=True, slots=True)
class PenaltyFacts:
    """How much farther along the axis a curve lies than the one it is compared with."""

    compares: Literal["condition", "receiver"]
    name: str
    """The condition or receiver in question."""
    against: str
    """The first one."""
    within: str
    """What both share: the receiver or the condition."""
    p: float
    shift: Estimate | NoThreshold
    """Threshold of `name` minus that of `against`, in the axis' unit, judged in pairs."""
    pairs: PairsFacts
    more: MoreTrials | None
    """What is still needed for a decision; None if decided or if planning cannot tell."""


@dataclass(frozen=True, slots=True)
class FadesFacts:
    """Independent fades that the trials of one condition met, one receiver's trials counted."""

    condition: str
    n_together: int
    """Trials in a row that share one run of fading."""
    in_transmission: tuple[float, float]
    """Least and most in one transmission; they differ where the fading itself is swept."""
    n_trials: int
    n_fades: float


@dataclass(frozen=True, slots=True)
class FalseFacts:
    """False decodes of one condition, receiver and arm."""

    condition: str
    receiver: str
    arm: Literal["sent", "nothing-sent"]
    n_trials: int
    """Answered trials."""
    n_with_false: int
    n_false_decodes: int
    p_false: Estimate | NoEvidence
    """Share of trials with a false decode, exact two-sided interval."""
    upper_bound_95: float | None
    """After no false decode at all: largest share still likely (one-sided, exact). Trials that
    share their fading then count as one."""


@dataclass(frozen=True, slots=True)
class FailureFacts:
    """Trials in which a receiver gave no answer, by reason."""

    condition: str
    receiver: str
    reason: str
    n_trials: int


@dataclass(frozen=True, slots=True)
class LevelFacts:
    """One asked level of one disturbance beside what all its recordings held."""

    condition: str
    disturbance: str
    quantity: str
    asked_db: float | None
    """None where the level was taken as recorded."""
    n_recordings: int
    n_silent: int
    """Recordings in which the disturbance had no power at all; left out of the figures."""
    mean_got_db: float | None
    sd_got_db: float | None
    worst_difference_db: float | None
    expected_sd_db: float | None
    """Standard deviation that chance explains."""
    mean_dbfs: float | None
    peak_dbfs: float | None
    crest_db: float | None
    mix_peak_dbfs: float | None
    n_clipped: int


@dataclass(frozen=True, slots=True)
class ElapsedFacts:
    """Time a receiver took for one slot."""

    condition: str
    receiver: str
    n_trials: int
    mean_s: float
    median_s: float
    p95_s: float
    longest_s: float
