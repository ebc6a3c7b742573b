"""The answer to "how many trials?" in words, and for a program."""

from typing import Any

from solidcopy.actions.assumptions import Pair, Side
from solidcopy.actions.plan_trials import Goal, Need, TrialsNeeded
from solidcopy.reports.wording import about, counted, duration, plain, whole

MOST_ROWS = 8
FEW = 40
"""Trials a point below which intervals of a difference hold the truth a little less often than they
say (docs/explanation/statistics.md)."""


def needed_text(needed: TrialsNeeded) -> str:
    """For a person: trials, time, and what is assumed."""
    goal, plan = needed.goal, needed.plan
    lines = [plan.title or "(no title)", f"  wanted: {_wanted(goal)}"]
    worst_first = sorted(needed.needs, key=lambda need: -(need.per_point or 10**9))
    lines += [f"  {_row(need)}" for need in worst_first[:MOST_ROWS]]
    if len(worst_first) > MOST_ROWS:
        lines.append(f"  and {len(worst_first) - MOST_ROWS} that need no more")
    lines += ["", *_totals(needed), "", "  assumed:"]
    lines += [f"    {line}" for line in _assumed(needed)]
    lines.append(f"  {_pace_words(needed)}")
    return "\n".join(lines)


def needed_dict(needed: TrialsNeeded) -> dict[str, Any]:
    """For a program."""
    goal, pace = needed.goal, needed.pace
    return {
        "half_width_db": goal.half_width_db,
        "difference_db": goal.difference_db,
        "p": goal.p,
        "power": goal.power,
        "risk": goal.risk,
        "needs": [
            {
                "name": need.name,
                "trials_per_point": need.per_point,
                "trials_placed": need.placed,
                "trials_per_point_until_decided": None if not need.decided else need.decided[0],
            }
            for need in needed.needs
        ],
        "trials_per_point": needed.per_point,
        "n_recordings_even": needed.n_even,
        "n_recordings_placed": needed.n_placed,
        "per_s": pace.per_s,
        "per_s_slowest": pace.slowest,
        "per_s_fastest": pace.fastest,
        "n_timed": pace.n_timed,
        "n_workers": pace.n_workers,
        "seconds_even": None if needed.n_even is None else pace.seconds(needed.n_even)[0],
        "seconds_placed": None if needed.n_placed is None else pace.seconds(needed.n_placed)[0],
    }


def _wanted(goal: Goal) -> str:
    share = f"{100.0 * goal.p:g} % threshold"
    if goal.half_width_db is not None:
        return f"each {share} to ±{plain(goal.half_width_db)} dB (95 %)"
    return (
        f"a true difference of {plain(goal.difference_db or 0.0)} dB between two {share}s found "
        f"with {100.0 * goal.power:g} % power, risk {100.0 * goal.risk:g} %"
    )


def _row(need: Need) -> str:
    if need.per_point is None:
        return f"{need.name}: no number is enough; the axis does not hold the threshold"
    text = f"{need.name}: {counted(need.per_point, 'trial')} a point"
    if need.placed is not None:
        text += f", or about {about(need.placed)} a curve placed adaptively"
    if need.decided is not None:
        mean, often = need.decided
        text += f"; until decided: {mean:.0f} a point on average, {often} in 9 of 10 campaigns"
    return text


def _totals(needed: TrialsNeeded) -> list[str]:
    plan, lines = needed.plan, []
    if needed.per_point is not None and needed.n_even is not None:
        lines.append(
            f"  in all: {whole(needed.n_even)} recordings "
            f"({needed.per_point} at each of {len(plan.axis.points())} axis values, "
            f"{counted(len(plan.conditions), 'condition')}): {_time(needed, needed.n_even)}"
        )
        lines.append(f"          stop = {{ trials_per_point = {needed.per_point} }}")
        if needed.per_point < FEW:
            lines.append(
                f"          take {FEW} a point all the same: intervals of fewer are less sure"
            )
    if needed.n_placed is not None:
        lines.append(
            f"  placed: about {about(needed.n_placed)} recordings: {_time(needed, needed.n_placed)}"
        )
        lines.append('          axis.placement = "adaptive" and stop.threshold_half_width_db')
    return lines or ["  no number of trials on this axis is enough: widen the axis"]


def _time(needed: TrialsNeeded, n_trials: int) -> str:
    mean, low, high = needed.pace.seconds(n_trials)
    return f"{duration(mean)} on this machine ({duration(low)} to {duration(high)})"


def _pace_words(needed: TrialsNeeded) -> str:
    pace = needed.pace
    return (
        f"timed just now: {pace.per_s:.2g} recordings per second "
        f"({pace.slowest:.2g} to {pace.fastest:.2g}), each heard by "
        f"{counted(len(needed.plan.receivers), 'receiver')}; {counted(pace.n_timed, 'trial')}, "
        f"{counted(pace.n_workers, 'worker')}"
    )


def _assumed(needed: TrialsNeeded) -> list[str]:
    """Each figure once, with those that it holds for."""
    said: dict[str, list[str]] = {}
    for side in needed.assumptions.sides.values():
        said.setdefault(_curve_words(side), []).append(side.name)
    if needed.goal.difference_db is not None:
        for pair in needed.assumptions.pairs:
            said.setdefault(_pair_words(pair), []).append(pair.name)
    return [f"{words} ({_some(names)})" for words, names in said.items()]


def _some(names: list[str]) -> str:
    return names[0] if len(names) == 1 else f"{names[0]} and {len(names) - 1} more"


def _curve_words(side: Side) -> str:
    curve = side.curve
    if side.is_pilot:
        turn = -1.0 if side.shape.is_falling else 1.0
        lost = f", {100.0 * curve.lapse:.2g} % lost at any level" if curve.lapse > 1e-4 else ""
        return (
            f"from the pilot: midpoint {plain(round(turn * curve.midpoint, 2))} dB, scale "
            f"{curve.scale:.2g} dB{lost}"
        )
    if curve.form == "outage":
        return "no pilot: one fade a message, scale 4.3 dB, anywhere on the axis"
    return f"no pilot: scale {curve.scale:g} dB, as FT8 in white noise, anywhere on the axis"


def _pair_words(pair: Pair) -> str:
    if pair.is_pilot:
        return f"from the pilot: the thresholds correlate by {pair.correlation:.2f}"
    if pair.correlation == 0.0:
        return "no pilot: what two conditions share is left out, which never asks for too few"
    return f"no pilot: the thresholds correlate by {pair.correlation:g}, as measured of two efforts"
