"""Facts of a campaign from its journal."""

import math
from collections import Counter
from collections.abc import Iterator
from dataclasses import replace
from datetime import datetime
from itertools import product

from solidcopy.campaigns.journal import JournalReader, LevelSummary
from solidcopy.modes.registry import mode_named
from solidcopy.receivers.log_settings import LogSettings
from solidcopy.receivers.station_settings import StationSettings
from solidcopy.reports.axis import axis_facts
from solidcopy.reports.curves import SHARES, Counted, curve_facts, read
from solidcopy.reports.decisions import decisions
from solidcopy.reports.describe import condition_facts, message_words, receiver_facts, stop_words
from solidcopy.reports.environment import environment
from solidcopy.reports.facts import AxisFacts, CampaignFacts, ExtentFacts, ModeNumbers
from solidcopy.reports.fading import curve_form, fades_facts
from solidcopy.reports.false_decodes import Tallies, false_facts
from solidcopy.reports.map_facts import map_facts
from solidcopy.reports.measured import (
    ElapsedFacts,
    FadesFacts,
    FailureFacts,
    LevelFacts,
)
from solidcopy.reports.penalties import CurvePlaces, Precision, all_penalties
from solidcopy.reports.reported_gather import reported_levels
from solidcopy.statistics.evidence import NoEvidence, NoThreshold
from solidcopy.statistics.tally import Tally
from solidcopy.statistics.threshold import Reading
from solidcopy.trials.plan import Plan

DECISION_HALF_WIDTH_DB = 0.5
"""An undecided comparison less precise than this says "not yet", unless the plan asks finer."""


NOT_FITTED = NoThreshold("the curve is being worked out")


def gather(reader: JournalReader) -> CampaignFacts:
    """All facts of a campaign as it is now, finished or not."""
    with reader.snapshot():
        return replace(
            _figures(reader),
            levels=tuple(_levels(reader)),
            elapsed=tuple(_elapsed(reader)),
            fingerprint=reader.fingerprint(),
            environment=tuple(environment(reader)),
            reported=reported_levels(reader),
        )


def gather_figures(reader: JournalReader) -> CampaignFacts:
    """What the answer, curves, comparisons and maps rest on: the facts without what is read trial
    by trial (levels, times, levels as reported, fingerprint) and without the environment.
    """
    with reader.snapshot():
        return _figures(reader)


def gather_counts(reader: JournalReader) -> CampaignFacts:
    """What needs no fit, in a moment: counts and false decodes with their intervals. Every curve
    and threshold says that it is being worked out; nothing is compared.
    """
    with reader.snapshot():
        return _figures(reader, is_fitted=False)


def _figures(reader: JournalReader, *, is_fitted: bool = True) -> CampaignFacts:
    plan, axis = reader.plan, axis_facts(reader.plan)
    mode = mode_named(plan.mode).facts
    places = list(product(range(len(plan.conditions)), range(len(plan.receivers))))
    tallies = {place: reader.tallies(*place) for place in places}
    counted = {
        place: _counted(reader, place, axis, tallies[place], is_fitted=is_fitted)
        for place in places
    }
    readings = {place: own.reading for place, own in counted.items()}
    precision = precision_of(reader, axis)
    silent = {place: reader.false_decodes(*place).nothing_sent for place in places}
    return CampaignFacts(
        title=plan.title,
        notes=plan.notes,
        mode=ModeNumbers(
            mode.name, mode.slot_s, mode.symbol_s, mode.duration_s, mode.width_hz, mode.recipe
        ),
        axis=axis,
        conditions=tuple(condition_facts(plan, condition) for condition in plan.conditions),
        receivers=tuple(receiver_facts(receiver) for receiver in plan.receivers),
        curves=tuple(
            curve_facts(*_names(plan, place), own, axis=axis, mode=mode)
            for place, own in counted.items()
        ),
        penalties=tuple(all_penalties(reader, axis, readings, precision)) if is_fitted else (),
        false_decodes=tuple(false_facts(reader, tallies, silent)),
        failures=tuple(_failures(reader)),
        levels=(),
        elapsed=(),
        extent=_extent(reader, tallies, silent),
        root_seed=plan.root_seed,
        fingerprint="",
        messages=message_words(plan),
        environment=(),
        fades=tuple(_fades(plan, tallies)),
        maps=tuple(map_facts(plan, mode.width_hz)),
        decisions=decisions(reader) if is_fitted else (),
    )


def _counted(
    reader: JournalReader,
    place: CurvePlaces,
    axis: AxisFacts,
    tallies: dict[float, Tally],
    *,
    is_fitted: bool,
) -> Counted:
    """Counts of one curve and what they say; the band of a curve on a map is never drawn."""
    condition = reader.plan.conditions[place[0]]
    points = reader.points(*place)
    reading = Reading(NOT_FITTED, dict.fromkeys(SHARES, NOT_FITTED))
    if is_fitted:
        reading = read(points, axis, curve_form(condition, axis))
    return Counted(
        tallies,
        reading,
        is_drawn=condition.mapped is None,
        clustering=points.clustering,
    )


def reading_at(reader: JournalReader, place: CurvePlaces, axis: AxisFacts) -> Reading:
    """Curve and thresholds of a condition heard by a receiver, named by their places."""
    form = curve_form(reader.plan.conditions[place[0]], axis)
    return read(reader.points(*place), axis, form)


def _fades(plan: Plan, tallies: Tallies) -> Iterator[FadesFacts]:
    mode = mode_named(plan.mode).facts
    for place, condition in enumerate(plan.conditions):
        fades = fades_facts(condition, tallies[place, 0], mode)
        if fades is not None:
            yield fades


def _names(plan: Plan, place: tuple[int, int]) -> tuple[str, str]:
    return plan.conditions[place[0]].name, plan.receivers[place[1]].name


def precision_of(reader: JournalReader, axis: AxisFacts) -> Precision | None:
    """When an undecided comparison is precise enough, and the measured pace.

    None where no precision is asked and the axis is not in dB.
    """
    asked = reader.plan.stop.threshold_half_width_db
    if asked is None and axis.step_unit != "dB":
        return None
    return Precision(
        DECISION_HALF_WIDTH_DB if asked is None else asked, _seconds_per_outcome(reader)
    )


def _seconds_per_outcome(reader: JournalReader) -> float | None:
    """Measured rate of the runs that finished a block; None if none did, or if receivers are
    known by their logs, which say nothing of the time it took."""
    if any(isinstance(receiver, LogSettings) for receiver in reader.plan.receivers):
        return None
    total_s, n_outcomes = 0.0, 0
    for run in reader.runs():
        started = run.environment.get("started_utc")
        if run.settled_utc is None or not isinstance(started, str) or not run.n_outcomes:
            continue
        took = datetime.fromisoformat(run.settled_utc) - datetime.fromisoformat(started)
        total_s += max(took.total_seconds(), 0.0)
        n_outcomes += run.n_outcomes
    return total_s / n_outcomes if n_outcomes and total_s > 0.0 else None


def _failures(reader: JournalReader) -> Iterator[FailureFacts]:
    """Failures by reason: the last line of what was said."""
    counts: Counter[tuple[str, str, str]] = Counter()
    plan = reader.plan
    for place in product(range(len(plan.conditions)), range(len(plan.receivers))):
        for said, n in reader.failures(*place).items():
            reason = (said or "no reason given").strip().splitlines()[-1]
            counts[*_names(plan, place), reason] += n
    for (condition, receiver, reason), n in sorted(counts.items()):
        yield FailureFacts(condition, receiver, reason, n)


def _levels(reader: JournalReader) -> Iterator[LevelFacts]:
    for place, condition in enumerate(reader.plan.conditions):
        for level in reader.level_card(place):
            yield _level_facts(condition.name, level)


def _level_facts(condition: str, level: LevelSummary) -> LevelFacts:
    return LevelFacts(
        condition=condition,
        disturbance=level.name,
        quantity=level.quantity,
        asked_db=level.asked_db,
        n_recordings=level.n_recordings,
        n_silent=level.n_silent,
        mean_got_db=_finite(level.mean_got_db),
        sd_got_db=_finite(level.sd_got_db),
        worst_difference_db=_finite(level.worst_difference_db),
        expected_sd_db=_finite(level.expected_sd_db),
        mean_dbfs=_finite(level.mean_dbfs),
        peak_dbfs=_finite(level.peak_dbfs),
        crest_db=_finite(level.crest_db),
        mix_peak_dbfs=_finite(level.mix_peak_dbfs),
        n_clipped=level.n_clipped,
    )


def _finite(value: float | None) -> float | None:
    return value if value is not None and math.isfinite(value) else None


def _elapsed(reader: JournalReader) -> Iterator[ElapsedFacts]:
    plan = reader.plan
    for place in product(range(len(plan.conditions)), range(len(plan.receivers))):
        if isinstance(plan.receivers[place[1]], LogSettings | StationSettings):
            continue  # a log does not say how long decoding took
        times = reader.elapsed(*place)
        if not isinstance(times, NoEvidence):
            yield ElapsedFacts(
                *_names(plan, place),
                n_trials=times.n_trials,
                mean_s=times.mean_s,
                median_s=times.median_s,
                p95_s=times.p95_s,
                longest_s=times.max_s,
            )


def _extent(
    reader: JournalReader, tallies: Tallies, silent: dict[tuple[int, int], Tally]
) -> ExtentFacts:
    stop = reader.plan.stop
    n_sent = sum(t.n_trials for by_value in tallies.values() for t in by_value.values())
    n_silent = sum(tally.n_trials for tally in silent.values())
    return ExtentFacts(
        n_done=n_sent + n_silent,
        n_planned=len(tallies) * (reader.plan.limit_per_curve + stop.nothing_sent),
        is_finished=all(reader.is_finished(*place) for place in tallies)
        and all(tally.n_trials >= stop.nothing_sent for tally in silent.values()),
        stop_rule=stop_words(reader.plan),
    )
