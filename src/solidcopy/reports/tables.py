"""Tables for other programs: CSV with units in the heads, JSON with stable keys."""

import csv
import json
import math
from collections.abc import Iterable
from dataclasses import fields, is_dataclass
from io import StringIO
from typing import Any, TextIO

from solidcopy.campaigns.journal import JournalRow
from solidcopy.reports.cell_text import cell_text
from solidcopy.reports.facts import CampaignFacts
from solidcopy.reports.measured import Estimate
from solidcopy.reports.trial_columns import TRIAL_COLUMNS, Value, trial_values

FORMAT = "solidcopy facts 2"
"""Raised whenever a key of facts.json changes its name or meaning."""

ABOUT = {
    "format": FORMAT,
    "estimates": "an object with value and interval (low, high, confidence, method)",
    "missing": "an object with a reason stands where nothing could be measured; null: not asked",
    "units": "differences and thresholds are in axis.unit; other units end the names; "
    "probabilities are 0 to 1; counts are whole numbers",
}


KEYS = {
    "title": "of the plan",
    "notes": "of the plan",
    "mode": "fixed numbers of the mode",
    "axis": "the swept field: quantity, unit, what a step to the right means, values",
    "conditions": "each condition in words, with the identity of its recordings",
    "receivers": "each receiver in words, with its identity",
    "curves": "for each condition and receiver: counts, fitted line with band, thresholds",
    "penalties": "thresholds minus those of the first condition or receiver, judged in pairs",
    "false_decodes": "of each condition, receiver and arm (a message sent, nothing sent)",
    "failures": "trials in which a receiver gave no answer, by reason",
    "levels": "asked levels beside those measured again, for each asked value",
    "elapsed": "time of a receiver for one slot, seconds",
    "extent": "how much of the plan is done",
    "root_seed": "all chance follows from it",
    "fingerprint": "SHA-256 over all outcomes but their times",
    "messages": "random or fixed, in words",
    "environment": "pairs of name and value: versions, machine, runs",
    "fades": "independent fades met in each condition with a fading path",
    "maps": "conditions run over a map: the mapped field, and the condition run at each value",
    "reported": "levels that receivers reported (dB, SNR in 2500 Hz) beside those that were true, "
    "for each condition that is on no map",
    "decisions": "of a campaign that runs until it is decided: who decodes more of each pair, at a "
    "risk that holds at any look",
}
"""What stands under each key of facts.json."""


def facts_json(facts: CampaignFacts) -> str:
    """The facts as JSON: keys are the names in `facts` and `measured`, in their order."""
    data = {"about": {**ABOUT, "keys": KEYS}, **plain_data(facts)}
    return json.dumps(data, ensure_ascii=False, indent=1, allow_nan=False) + "\n"


def plain_data(value: Any) -> Any:
    """Facts as JSON values; what is not finite becomes null."""
    if is_dataclass(value) and not isinstance(value, type):
        return {field.name: plain_data(getattr(value, field.name)) for field in fields(value)}
    if isinstance(value, tuple | list):
        return [plain_data(item) for item in value]
    if isinstance(value, float) and not math.isfinite(value):
        return None
    return value


def curves_csv(facts: CampaignFacts) -> str:
    """One row for each condition, receiver and axis value; shares are 0 to 1."""
    text = StringIO()
    table = csv.writer(text, lineterminator="\n")
    table.writerow(
        (
            "condition",
            "receiver",
            f"axis_value ({facts.axis.label})",
            "n_trials",
            "n_decoded",
            "n_missed",
            "n_failed",
            "n_false",
            "p_decoded",
            "wilson_low",
            "wilson_high",
        )
    )
    for curve in facts.curves:
        for point in curve.points:
            share: tuple[float | str, ...] = ("", "", "")
            if isinstance(point.p_decoded, Estimate):
                interval = point.p_decoded.interval
                share = (point.p_decoded.value, interval.low, interval.high)
            table.writerow(
                (
                    cell_text(curve.condition),
                    cell_text(curve.receiver),
                    repr(point.axis_value),
                    point.n_trials,
                    point.n_decoded,
                    point.n_missed,
                    point.n_failed,
                    point.n_false_decodes,
                    *share,
                )
            )
    return text.getvalue()


_WORDS_OF_OTHERS = [
    place
    for place, column in enumerate(TRIAL_COLUMNS)
    if column.name in ("condition", "receiver", "right_text", "false_texts", "failure")
]


def write_trials_csv(rows: Iterable[JournalRow], axis_unit: str, file: TextIO) -> int:
    """Every outcome as one line, streamed; numbers with all their digits.

    Args:
        axis_unit: of the plan's axis; empty if it has none.
    Returns: number of outcomes written.
    """
    table = csv.writer(file, lineterminator="\n")
    table.writerow(column.name for column in TRIAL_COLUMNS)
    n_rows = 0
    for row in rows:
        values = list(trial_values(row, axis_unit))
        for place in _WORDS_OF_OTHERS:
            values[place] = _cell(values[place])
        table.writerow(values)
        n_rows += 1
    return n_rows


def _cell(value: Value) -> Value:
    return cell_text(value) if isinstance(value, str) else value
