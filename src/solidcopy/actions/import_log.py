"""Keep a scored log as a campaign, so that reports and comparisons work on it."""

import hashlib
import json
from collections import defaultdict
from dataclasses import asdict
from pathlib import Path
from typing import Any

from solidcopy.actions.score_log import LogScore, snr_2500_db
from solidcopy.campaigns.environment import this_environment
from solidcopy.campaigns.journal import Finished, JournalWriter
from solidcopy.campaigns.journal.coding import decode_readings
from solidcopy.campaigns.journal.schema import JOURNAL_FILE
from solidcopy.errors import JournalError, LogError
from solidcopy.logs.entry import Entry
from solidcopy.logs.match import SlotResult
from solidcopy.receivers.log_settings import LogSettings
from solidcopy.receivers.receiver import Decode
from solidcopy.trials.expand import TrialKey, parse_trial_key
from solidcopy.trials.outcome import Outcome, Verdict
from solidcopy.trials.plan import Plan, parse_plan
from solidcopy.trials.trial import SENT


def import_log(score: LogScore, folder: Path, *, name: str) -> Path:
    """Write the outcomes of all slots into a new campaign with one receiver, the log.

    Its recordings are those of the campaign that the slots came from, so curves of the two can be
    compared trial by trial. A log does not say how long decoding took: that is kept as 0.

    Args:
        score: as from `score_log`.
        folder: of the new campaign.
        name: of the receiver, for tables.
    Returns: the folder.
    Raises: LogError if the slots are no whole series of trials; JournalError if the folder is in
        use.
    """
    if (folder / JOURNAL_FILE).exists():
        raise JournalError(f"{folder}: holds a campaign already; choose a new folder")
    keys = [parse_trial_key(slot.trial, score.plan) for slot in score.key.slots]
    n_sent, n_silent = _series_lengths(keys)
    _refuse_gaps(keys, score.plan)
    places = sorted({key.condition for key in keys})
    plan = _plan_of(score, places, n_sent=n_sent, n_silent=n_silent, name=name)
    with JournalWriter(folder, plan, this_environment()) as writer:
        writer.append(
            Finished(_moved(key, places), 0, slot_outcome(result))
            for key, result in zip(keys, score.matched.slots, strict=True)
        )
        writer.settle()
    return folder


def _series_lengths(keys: list[TrialKey]) -> tuple[int, int]:
    """Trials of each point, and of each condition with nothing sent. Raises LogError."""
    series: dict[tuple[int, str, float], set[int]] = defaultdict(set)
    for key in keys:
        series[key.condition, key.arm, key.axis_value].add(key.trial_index)
    lengths: dict[bool, set[int]] = {True: set(), False: set()}
    for (_, arm, _), indexes in series.items():
        is_whole = indexes == set(range(len(indexes)))
        lengths[arm == SENT].add(len(indexes) if is_whole else -1)
    sent, silent = lengths[True], lengths[False] or {0}
    if len(sent) != 1 or len(silent) != 1 or -1 in sent | silent:
        raise LogError(
            "a campaign needs equally many trials at every point, from number 0 on: make the slots "
            "with --per-point and --nothing, not with --trials"
        )
    return sent.pop(), silent.pop()


def _refuse_gaps(keys: list[TrialKey], plan: Plan) -> None:
    """LogError if a point of the axis was not played: the journal would never be finished."""
    played = {(key.condition, key.axis_value) for key in keys if key.arm == SENT}
    for place in {key.condition for key in keys}:
        missing = [value for value in plan.axis.points() if (place, value) not in played]
        if missing:
            raise LogError(
                f'condition "{plan.conditions[place].name}" was not played at '
                f"{missing[0]:g}: a campaign needs every value of the axis"
            )


def _plan_of(score: LogScore, places: list[int], *, n_sent: int, n_silent: int, name: str) -> Plan:
    receiver = LogSettings(
        name=name,
        log_sha256=hashlib.sha256(score.request.log.read_bytes()).hexdigest(),
        time_tolerance_s=score.tolerance.time_s,
        frequency_tolerance_hz=score.tolerance.frequency_hz,
        late_s=score.tolerance.late_s,
        read_as=_options_said(score),
    )
    data: dict[str, Any] = {
        **score.key.plan,
        "conditions": [score.key.plan["conditions"][place] for place in places],
        "receivers": [receiver.model_dump()],
        "stop": {"trials_per_point": n_sent, "nothing_sent": n_silent},
    }
    return parse_plan(data)


def _options_said(score: LogScore) -> str:
    said = {name: value for name, value in asdict(score.request.options).items() if value}
    return json.dumps(said, sort_keys=True) if said else ""


def _moved(key: TrialKey, places: list[int]) -> TrialKey:
    """The same trial in a plan that holds only some of the conditions."""
    return TrialKey(places.index(key.condition), key.arm, key.axis_value, key.trial_index)


def slot_outcome(result: SlotResult) -> Outcome:
    """What a slot of a log is as the outcome of its trial."""
    slot = result.slot
    if slot.text is None:
        verdict = Verdict.NOTHING_SENT
    else:
        verdict = Verdict.MISSED if result.right is None else Verdict.DECODED
    return Outcome(
        verdict=verdict,
        right=None if result.right is None else _decode(result.right),
        false=tuple(_decode(entry) for entry in result.false),
        elapsed_s=0.0,
        digest=slot.digest_sha256_float32le,
        readings=decode_readings(json.dumps(slot.readings)),
    )


def _decode(entry: Entry) -> Decode:
    """What the log says, as a receiver would; its time offset counts from an unknown start."""
    return Decode(entry.text, audio_hz=entry.audio_hz, snr_db=snr_2500_db(entry))
