"""What a report says, as plain values: every number of the page, the figures and the tables.

Nothing here computes or draws. `gather` fills these from a journal; the answer, the figures, the
page, the tables and the terminal only read them. So what is printed can be checked without
looking at ink, and two pages with equal facts are equal.
"""

from dataclasses import dataclass, field
from typing import Literal

from solidcopy.reports.decision_facts import DecisionFacts
from solidcopy.reports.measured import (
    CurveFacts,
    ElapsedFacts,
    FadesFacts,
    FailureFacts,
    FalseFacts,
    LevelFacts,
    PenaltyFacts,
)
from solidcopy.reports.reported_facts import ReportedLevels

Sense = Literal["snr", "signal_level", "ratio", "interference", "other"]
"""What a step to the right on the axis means.

- "snr": less noise, or more signal, beside noise of a fixed density,
- "signal_level": more signal beside disturbances that keep their level,
- "ratio": one disturbance is weaker against the signal,
- "interference": one disturbance is stronger (right is harder),
- "other": anything else, such as a frequency.
"""


@dataclass(frozen=True, slots=True)
class AxisFacts:
    """The swept field in words."""

    owner: str
    """"sending" or the kind of the impairment."""
    field: str
    quantity: str
    """E.g. "SNR in 2500 Hz"."""
    unit: str
    """E.g. "dB"; "" for a bare number."""
    sense: Sense
    values: tuple[float, ...]

    @property
    def label(self) -> str:
        """Quantity and unit, for a figure's axis or a table's head."""
        return f"{self.quantity}, {self.unit}" if self.unit else self.quantity

    @property
    def step_unit(self) -> str:
        """Unit of a difference: two levels in dBFS differ by dB."""
        return "dB" if self.unit in ("dBFS", "dBm") else self.unit


@dataclass(frozen=True, slots=True)
class Described:
    """One disturbance, or the sending, in words: a head and its numbers."""

    head: str
    numbers: tuple[tuple[str, str], ...]
    """Pairs of a name in words and a value with its unit."""


@dataclass(frozen=True, slots=True)
class ConditionFacts:
    """One condition in words."""

    name: str
    parts: tuple[Described, ...]
    identity: str
    has_fixed_ratio: bool
    """A disturbance is tied to the signal (fixed S/I), so raising the SNR lowers the noise."""


@dataclass(frozen=True, slots=True)
class ReceiverFacts:
    """One receiver in words."""

    name: str
    parts: tuple[Described, ...]
    identity: str


@dataclass(frozen=True, slots=True)
class ModeNumbers:
    """Numbers of the mode that the page's conversions rest on."""

    name: str
    slot_s: float
    symbol_s: float
    duration_s: float
    width_hz: float
    recipe: int


@dataclass(frozen=True, slots=True)
class ExtentFacts:
    """How much of the plan is done: outcomes, one for each trial and receiver."""

    n_done: int
    n_planned: int
    """At most, under a rule that may stop earlier."""
    is_finished: bool
    stop_rule: str
    """In words."""


@dataclass(frozen=True, slots=True)
class MapPlace:
    """One value of a map and the condition that was run for it."""

    value: float
    condition: str


@dataclass(frozen=True, slots=True)
class MapFacts:
    """A condition that was run over a map: a curve for each value of one field."""

    condition: str
    """Its name in the plan as written; those that were run are named in `places`."""
    owner: str
    """"sending" or the kind of the impairment."""
    field: str
    quantity: str
    unit: str
    parts: tuple[Described, ...]
    places: tuple[MapPlace, ...]
    """Ascending values."""
    signal_band: tuple[float, float] | None
    """Where the wanted signal lies, if the map is one of frequency offsets."""

    @property
    def label(self) -> str:
        """Quantity and unit, for a figure's axis or a table's head."""
        return f"{self.quantity}, {self.unit}" if self.unit else self.quantity


@dataclass(frozen=True, slots=True)
class CampaignFacts:
    """Everything that a report says about one campaign."""

    title: str
    notes: str
    mode: ModeNumbers
    axis: AxisFacts
    conditions: tuple[ConditionFacts, ...]
    receivers: tuple[ReceiverFacts, ...]
    curves: tuple[CurveFacts, ...]
    penalties: tuple[PenaltyFacts, ...]
    false_decodes: tuple[FalseFacts, ...]
    failures: tuple[FailureFacts, ...]
    levels: tuple[LevelFacts, ...]
    elapsed: tuple[ElapsedFacts, ...]
    extent: ExtentFacts
    root_seed: int
    fingerprint: str
    """SHA-256 over all outcomes but their times: equal for equal campaigns."""
    messages: str
    """Whether messages were random or fixed, in words."""
    environment: tuple[tuple[str, str], ...]
    """Versions, machine, times: name and value as the journal holds them."""
    fades: tuple[FadesFacts, ...] = ()
    """Of every condition with a fading path."""

    maps: tuple[MapFacts, ...] = ()
    """Of every condition that was run over a map."""

    reported: ReportedLevels = field(default_factory=ReportedLevels)
    """Levels that receivers reported beside those that were true; not of maps."""

    decisions: tuple[DecisionFacts, ...] = ()
    """Who decodes more, of each pair; none where another rule ends the campaign."""

    def curve(self, condition: str, receiver: str) -> CurveFacts:
        """The curve of that condition and receiver. Raises KeyError if there is none."""
        for curve in self.curves:
            if (curve.condition, curve.receiver) == (condition, receiver):
                return curve
        raise KeyError((condition, receiver))

    def condition(self, name: str) -> ConditionFacts:
        """The condition of that name. Raises KeyError if there is none."""
        for condition in self.conditions:
            if condition.name == name:
                return condition
        raise KeyError(name)
