"""Fading in a report: the form of its curves, and how many independent fades were met."""

import math

from solidcopy.impairments.path.fading import TwoPathFading
from solidcopy.impairments.path.multipath import Tap, independent_fades
from solidcopy.impairments.published.fading_conditions import fading_conditions
from solidcopy.modes.mode import ModeFacts
from solidcopy.reports.facts import AxisFacts, CampaignFacts
from solidcopy.reports.measured import FadesFacts, Line
from solidcopy.reports.wording import about, counted, listed, quoted
from solidcopy.statistics.shapes import Form
from solidcopy.statistics.tally import Tally
from solidcopy.trials.condition import Condition
from solidcopy.trials.curve_shape import fading_of, form_of
from solidcopy.trials.together import n_together


def curve_form(condition: Condition, axis: AxisFacts) -> Form:
    """Form of the curve of a condition along the axis of a report."""
    return form_of(condition, is_level=axis.sense != "other")


def preset_numbers(fading: object) -> tuple[tuple[str, str], ...]:
    """What the name of a published condition stands for, in words."""
    if not isinstance(fading, TwoPathFading) or fading.preset is None:
        return ()
    condition = fading_conditions()[fading.preset]
    return (
        ("delay of the second path", f"{condition.delay_ms:g} ms"),
        ("spread of each path", f"{condition.spread_hz:g} Hz"),
    )


def fades_facts(
    condition: Condition, tallies: dict[float, Tally], mode: ModeFacts
) -> FadesFacts | None:
    """Independent fades that the trials of a condition met; None without a fading path.

    Trials together meet those of their whole run, pauses included. Of several fading paths in a
    row the one with most fades counts.
    """
    if not fading_of(condition):
        return None
    in_one, n_fades, n_in_row = [], 0.0, n_together(condition)
    for value, tally in tallies.items():
        paths = [path.taps() for path in fading_of(condition.at(value))]
        in_one.append(_most_fades(paths, mode.duration_s))
        n_full, n_rest = divmod(tally.n_trials, n_in_row)
        run_s = mode.duration_s if n_in_row == 1 else n_in_row * mode.slot_s
        n_fades += n_full * _most_fades(paths, run_s)
        n_fades += _most_fades(paths, n_rest * mode.slot_s) if n_rest else 0.0
    return FadesFacts(
        condition=condition.name,
        n_together=n_in_row,
        in_transmission=(float(min(in_one)), float(max(in_one))),
        n_trials=sum(tally.n_trials for tally in tallies.values()),
        n_fades=float(n_fades),
    )


def _most_fades(paths: list[tuple[Tap, ...]], duration_s: float) -> float:
    return max(independent_fades(taps, duration_s) for taps in paths)


def fades_sentences(facts: CampaignFacts) -> list[str]:
    """How many independent fades each condition's trials met."""
    if not facts.fades:
        return []
    said = [
        f"{quoted(fades.condition)} about {about(math.floor(fades.n_fades))} in "
        f"{counted(fades.n_trials, 'trial')}" + _together(fades)
        for fades in facts.fades
        if fades.n_trials
    ]
    return [f"Independent fades met: {listed(said)}."] if said else []


def fading_method(facts: CampaignFacts) -> list[str]:
    """How curves of fading signals are fitted, and which form was found."""
    fading = {fades.condition for fades in facts.fades}
    found: dict[str, list[str]] = {}
    for curve in facts.curves:
        if curve.condition in fading and isinstance(curve.line, Line):
            heard = f" heard by {quoted(curve.receiver)}" if len(facts.receivers) > 1 else ""
            found.setdefault(curve.line.form, []).append(quoted(curve.condition) + heard)
    if not found:
        return []
    return [
        "Where the signal fades, the skewness of the curve is fitted too, from that of an outage "
        "(steep foot, long shoulder) to none; the likeliest is drawn, and the intervals run over "
        "all of them. Found: "
        + "; ".join(f"{form} for {listed(curves)}" for form, curves in found.items())
        + ".",
    ]


def _together(fades: FadesFacts) -> str:
    if fades.n_together == 1:
        return ""
    return f" ({fades.n_together} in a row share one run; the intervals allow for it)"
