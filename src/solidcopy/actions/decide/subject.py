"""Whose chances are asked for: a curve of a campaign, or one given by hand."""

import math
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from solidcopy.actions.folder import existing_folder
from solidcopy.campaigns.journal import JournalReader
from solidcopy.errors import FigureError
from solidcopy.modes.mode import ModeFacts
from solidcopy.modes.registry import slotted_mode
from solidcopy.reports.axis import axis_facts
from solidcopy.reports.describe import condition_facts
from solidcopy.reports.facts import AxisFacts
from solidcopy.reports.fading import curve_form
from solidcopy.reports.gather import reading_at
from solidcopy.reports.wording import listed, plain, quoted, small_percent
from solidcopy.seeds import Chance, stream
from solidcopy.statistics.evidence import NoThreshold
from solidcopy.statistics.model import CurveModel
from solidcopy.translate.chances import AloneChances, Chances, RunChances
from solidcopy.translate.curve_draws import N_DRAWS, CurveDraws, draw_curves
from solidcopy.translate.repeats import TURN_SLOTS
from solidcopy.translate.runs import Runs, fading_left
from solidcopy.translate.surroundings import UPPER_DECILE
from solidcopy.trials.condition import Condition
from solidcopy.trials.curve_shape import fading_of
from solidcopy.trials.expand import place_of

SEED = 1
"""The same question gets the same answer."""
ALONE = 0.05
"""Attempts whose fading is correlated less than this count as standing alone."""
WIDTHS_SHOWN = 4.0
"""Of a curve given by hand, so many distances from its 50 to its 90 % point on either side."""
NOISE_ONLY = (
    "Each attempt meets noise of its own, so attempts stand alone at a given level; what stays for "
    "minutes, such as a noisy hour, belongs into that level."
)


@dataclass(frozen=True, slots=True, eq=False)
class Subject:
    """A curve and what it says of repeats."""

    condition: str
    receiver: str
    mode: ModeFacts
    axis: AxisFacts
    chances: Chances
    basis: str
    """How attempts hang together, in a sentence."""
    is_tied: bool = False
    """A disturbance keeps its ratio to the signal along the axis."""

    @property
    def name(self) -> str:
        """In a headline."""
        if not self.receiver:
            return self.condition
        return f"{quoted(self.condition)}, heard by {quoted(self.receiver)}"


def generator_of(purpose: str) -> np.random.Generator:
    """Of all draws for one purpose."""
    return stream(Chance(SEED, "decide", 0, 0.0), purpose)


def read_subject(source: Path, condition: str | None, receiver: str | None) -> Subject:
    """A curve of a campaign.

    Args:
        source: its folder or its plan file.
        condition, receiver: name or number from 1; may be left out where there is one only.
    Raises: FigureError if the curve says nothing of chances; PlanError for an unknown name.
    """
    with JournalReader(existing_folder(source)) as reader, reader.snapshot():
        plan = reader.plan
        names = [one.name for one in plan.conditions], [one.name for one in plan.receivers]
        place = (
            _place(condition, names[0], what="condition"),
            _place(receiver, names[1], what="receiver"),
        )
        axis, mode = axis_facts(plan), slotted_mode(plan.mode, "a table of chances").facts
        if axis.sense not in ("snr", "signal_level", "ratio"):
            raise FigureError(
                f"{source}: this campaign sweeps the {axis.quantity}; chances need a curve along "
                "the SNR, the signal's level or an S/I"
            )
        named = plan.conditions[place[0]]
        chances, basis = _chances(reader, place, axis, mode)
        return Subject(
            condition=named.name,
            receiver=names[1][place[1]],
            mode=mode,
            axis=axis,
            chances=chances,
            basis=basis,
            is_tied=condition_facts(plan, named).has_fixed_ratio,
        )


def subject_by_hand(mode: str, half_db: float, ninety_db: float) -> Subject:
    """A curve through two points given by hand: exact, its repeats standing alone."""
    if not half_db < ninety_db:
        raise FigureError(
            f"the SNR for 90 % ({ninety_db:g} dB) must lie above that for 50 % ({half_db:g} dB)"
        )
    same, reach_db = np.ones(N_DRAWS), WIDTHS_SHOWN * (ninety_db - half_db)
    ends = float(math.floor(half_db - reach_db)), float(math.ceil(ninety_db + reach_db))
    draws = CurveDraws(
        members=(CurveModel("probit", 0.0),),
        member=np.zeros(N_DRAWS, np.intp),
        midpoint=half_db * same,
        scale=(ninety_db - half_db) / UPPER_DECILE * same,
        lapse=0.0 * same,
        tested=(-math.inf, math.inf),
    )
    facts = slotted_mode(mode, "a table of chances").facts
    basis = f"The curve was given by hand and carries no interval. {NOISE_ONLY}"
    axis = AxisFacts("sending", "snr_db", "SNR in 2500 Hz", "dB", "snr", ends)
    return Subject("curve given by hand", "", facts, axis, AloneChances(draws), basis)


def _place(asked: str | None, names: list[str], *, what: str) -> int:
    if asked is not None:
        return place_of(asked, names, what=what)
    if len(names) > 1:
        raise FigureError(
            f"this campaign has several {what}s ({listed([quoted(name) for name in names])}): "
            f"name one with --{what}"
        )
    return 0


def _chances(
    reader: JournalReader, place: tuple[int, int], axis: AxisFacts, mode: ModeFacts
) -> tuple[Chances, str]:
    condition = reader.plan.conditions[place[0]]
    side, generator = reader.side(*place), generator_of("curves")
    spread_hz = _least_spread_hz(condition, axis.values)
    left = 0.0
    if spread_hz is not None:
        # From the end of an attempt to the start of the next.
        left = fading_left(spread_hz, TURN_SLOTS * mode.slot_s - mode.duration_s)
    curve = reading_at(reader, place, axis).curve
    if isinstance(curve, NoThreshold):
        raise FigureError(f"{quoted(condition.name)} has no curve: {curve.reason}")
    if left < ALONE:
        basis = NOISE_ONLY
        if spread_hz is not None:
            basis = (
                f"Fading of {plain(spread_hz)} Hz is over between two attempts of a station (its "
                f"power is correlated by {small_percent(left)}), so attempts stand alone."
            )
        return AloneChances(draw_curves(curve, generator)), basis
    runs = Runs(side.by_value, side.n_together, side.unit)
    n_runs = sum(scored.size for _, scored in side.by_value.values()) // side.n_together
    basis = (
        f"Fading of {plain(spread_hz or 0.0)} Hz outlasts a repeat, so repeats are read from "
        f"{n_runs} runs of {side.n_together} slots that each met one stretch of it; both "
        "directions of a contact are taken to meet the same fading and the same mean level."
    )
    return RunChances(runs, curve_form(condition, axis), generator, N_DRAWS), basis


def _least_spread_hz(condition: Condition, values: tuple[float, ...]) -> float | None:
    """Of all paths that fade at all; None without fading."""
    spreads = [
        tap.spread_hz
        for value in values
        for path in fading_of(condition.at(value))
        for tap in path.taps()
        if tap.steady_share < 1.0
    ]
    return min(spreads, default=None)
