"""Reported levels as plain values: what receivers said, what was true, and where luck speaks."""

from dataclasses import dataclass
from typing import Literal

from solidcopy.reports.measured import Estimate
from solidcopy.statistics.evidence import NoEvidence

Against = Literal["S/N in 2500 Hz", "S/(N+I), N in 2500 Hz"]
"""Which truth a report is held against; both of the trial itself, measured from its samples.

- S/N: wanted mean power while transmitting over the noise power in 2500 Hz,
- S/(N+I): the same over that noise power and the mean power in the slot of all other
  disturbances, wherever in the audio they lie.
"""

OVER_NOISE: Against = "S/N in 2500 Hz"
OVER_ALL: Against = "S/(N+I), N in 2500 Hz"


@dataclass(frozen=True, slots=True)
class ReportedPoint:
    """Reports at one axis value. All levels in dB, SNRs in 2500 Hz."""

    axis_value: float
    n_answered: int
    n_reported: int
    truth_db: float
    """Mean of the powers' ratios over all answered trials."""
    mean: Estimate | NoEvidence
    """Mean of the reports, which are numbers in dB."""
    power_mean: Estimate | NoEvidence
    """Mean of the power ratios that the reports stand for, in dB."""
    median: Estimate | NoEvidence
    sd_db: float | None
    """Scatter of the reports, one standard deviation; None for fewer than two."""
    error: Estimate | NoEvidence
    """Mean of report less truth, each of the same trial."""
    is_full: bool
    """Whether nearly all trials have a report; if not, the means are those of the lucky."""
    excess: Estimate | NoEvidence | None
    """What the mean says too much: error less the line, carried on. None where `is_full`."""
    luck_db: float | None
    """Most of it that luck explains, if the scatter is normal and that of the line."""


@dataclass(frozen=True, slots=True)
class ReportedLine:
    """Report against truth, fitted where nearly all trials have a report."""

    first_value: float
    last_value: float
    """Axis values between which it holds."""
    n_reports: int
    at_db: float
    """True level at which the offset is stated."""
    offset: Estimate
    """Report less truth there, dB."""
    slope: Estimate
    """dB reported for each dB of truth."""
    scatter_db: float
    """Standard deviation of reports about the line."""


@dataclass(frozen=True, slots=True)
class ReportedFacts:
    """One receiver's reports under one condition, held against one truth."""

    condition: str
    receiver: str
    against: Against
    points: tuple[ReportedPoint, ...]
    line: ReportedLine | NoEvidence


@dataclass(frozen=True, slots=True)
class ReportedPairs:
    """Reports of two receivers on the same recordings."""

    condition: str
    receiver: str
    against: str
    """The first receiver that reports levels."""
    n_pairs: int
    """Trials that both reported."""
    difference: Estimate | NoEvidence
    """Report of `receiver` less that of `against` over those, dB."""
    n_full_pairs: int
    """Of those, at axis values where both reported nearly all trials."""
    full_difference: Estimate | NoEvidence
    """The same over those only: free of luck."""


@dataclass(frozen=True, slots=True)
class ReportedLevels:
    """All about reported levels in one campaign; empty where no receiver states any."""

    curves: tuple[ReportedFacts, ...] = ()
    pairs: tuple[ReportedPairs, ...] = ()
