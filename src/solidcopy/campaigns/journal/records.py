"""What goes into a journal and what comes out of it, as values."""

from dataclasses import dataclass
from typing import Any

from solidcopy.statistics.tally import Tally
from solidcopy.trials.expand import TrialKey
from solidcopy.trials.outcome import Outcome


@dataclass(frozen=True, slots=True)
class Finished:
    """One trial scored for one receiver: what a worker hands back and a journal keeps."""

    key: TrialKey
    receiver: int
    """0-based place in the plan."""
    outcome: Outcome


@dataclass(frozen=True, slots=True)
class JournalRow:
    """One outcome with the names of its condition and receiver in the current plan."""

    key: TrialKey
    condition_name: str
    receiver: int
    receiver_name: str
    outcome: Outcome


@dataclass(frozen=True, slots=True)
class RunRecord:
    """One run that wrote into the journal."""

    number: int
    """From 1."""
    environment: dict[str, Any]
    """As `Environment` has it; a journal of another version may hold other names."""
    settled_utc: str | None
    """When the run last finished a whole block; None if it never did."""
    n_outcomes: int
    """Outcomes that this run wrote."""


@dataclass(frozen=True, slots=True)
class FalseDecodes:
    """False decodes beside sent messages, and where nothing was sent.

    In both tallies `n_scored` is the number of trials that were watched; where nothing was sent
    every such trial counts as missed, as there was nothing to decode.
    """

    sent: Tally
    nothing_sent: Tally


@dataclass(frozen=True, slots=True)
class LevelSummary:
    """One asked level of one condition, beside what all its recordings held.

    Each recording counts once, however many receivers heard it. Means are means of power.
    """

    name: str
    quantity: str
    asked_db: float | None
    n_recordings: int
    n_silent: int
    """Recordings in which the disturbance had no power at all; left out of the figures."""
    mean_got_db: float | None
    """None if all were silent, as in the next three."""
    sd_got_db: float | None
    """Standard deviation of the single readings; 0 for one recording."""
    worst_difference_db: float | None
    """The got value farthest from the asked one, minus the asked; None if none was asked."""
    expected_sd_db: float | None
    """Root mean square of the spread that chance explains."""
    mean_dbfs: float
    peak_dbfs: float
    """Highest peak of the disturbance."""
    crest_db: float
    """Largest crest factor of the disturbance."""
    n_clipped: int
    """Clipped samples of the whole mixes, all recordings together."""
    mix_peak_dbfs: float
    """Highest peak of the whole mixes."""


@dataclass(frozen=True, slots=True)
class ElapsedSummary:
    """How long one receiver took for a slot, in seconds."""

    n_trials: int
    mean_s: float
    median_s: float
    p95_s: float
    """95 % of the answers came within this time."""
    max_s: float
