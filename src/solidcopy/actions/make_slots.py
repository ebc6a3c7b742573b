"""Play trials at known times: sound for whole slots, a schedule, and the key to it."""

import csv
import io
import json
from collections import Counter
from collections.abc import Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from itertools import product
from pathlib import Path
from typing import Any

from solidcopy import __version__
from solidcopy.actions.certificate import CAUTION
from solidcopy.actions.folder import existing_folder, plan_of
from solidcopy.actions.read_log import write_whole
from solidcopy.actions.slot_sound import slot_sound
from solidcopy.campaigns.journal import JournalReader
from solidcopy.campaigns.journal.coding import encode_readings
from solidcopy.errors import JournalError, LogError, PlanError
from solidcopy.logs.schedule import NAMED_KEY, Key, Slot
from solidcopy.modes.registry import mode_named
from solidcopy.seeds import Chance, stream
from solidcopy.trials.expand import (
    TrialKey,
    nothing_sent_value,
    parse_trial_key,
    place_of,
    trial_of,
    trials_in_block,
)
from solidcopy.trials.make import make
from solidcopy.trials.plan import Plan
from solidcopy.trials.trial import NOTHING_SENT, Recording, Truth

__all__ = ["CAUTION", "SlotRequest", "SlotsMade", "make_slots", "start_for"]

MAX_SLOTS = 5760
"""A day of FT8 slots."""


@dataclass(frozen=True, slots=True)
class SlotRequest:
    """Which trials to play, and when.

    Args:
        start: UTC of the first slot, on a slot edge.
        out: folder for sound and schedule.
        per_point: trials for each condition and axis value, by index from 0.
        nothing_sent: slots for each condition in which nothing is sent.
        conditions: names or numbers of some; all if empty.
        every: 2 leaves one slot of silence between two that are played, and so on.
        trials: names of trials instead, e.g. "1@-19#0"; overrides the two numbers.
        is_blind: the key lies beside the folder, not in it, and the schedule does not give it away.
        is_one_file: one long sound file; else one for each slot.
    """

    start: datetime
    out: Path
    per_point: int = 5
    nothing_sent: int = 10
    conditions: tuple[str, ...] = ()
    every: int = 1
    trials: tuple[str, ...] = ()
    is_blind: bool = False
    is_one_file: bool = True

    @property
    def key(self) -> Path:
        """Where the key is written."""
        if self.is_blind:
            return self.out.with_name(self.out.name + "-key.json")
        return self.out / NAMED_KEY


@dataclass(frozen=True, slots=True)
class SlotsMade:
    """How far the files have come."""

    n_made: int
    n_slots: int
    n_repeated: int
    """Texts so far that were sent more than once."""
    schedule: Path
    key: Path


def make_slots(source: Path, request: SlotRequest) -> Iterator[SlotsMade]:
    """Write sound, schedule and key; one step for each slot.

    Args:
        source: a plan file, or the folder of a campaign.
        request: see there.
    Yields: after each slot; schedule and key are written with the last.
    Raises: PlanError, LogError, CalibrationError, AudioFileError; JournalError if a trial that the
        campaign has run gives other samples now.
    """
    plan = plan_of(source)
    facts = mode_named(plan.mode).facts
    _refuse_off_edge(request.start, facts.slot_s)
    keys = _in_drawn_order(plan, _chosen(plan, request))
    schedule = request.out / "schedule.csv"
    _make_folder(request.out)
    slots: list[Slot] = []
    digests = _digests_in_journal(source, keys)
    sealed_by = request.key.name if request.is_blind else None
    with slot_sound(
        plan, request.out, is_one_file=request.is_one_file, sealed_by=sealed_by
    ) as sound:
        for number, key in enumerate(keys, 1):
            recording, truth = make(trial_of(plan, key))
            _refuse_other_samples(key, recording.digest, digests.get(key))
            file, at_s = sound.append(number, key, (recording, truth))
            utc = request.start + timedelta(seconds=(number - 1) * request.every * facts.slot_s)
            slots.append(slot_of(plan, key, (recording, truth), (number, utc, file, at_s)))
            if number < len(keys):
                sound.pause((request.every - 1) * facts.slot_s)
                yield SlotsMade(number, len(keys), _n_repeated(slots), schedule, request.key)
    _write_papers(plan, slots, request, schedule)
    yield SlotsMade(len(keys), len(keys), _n_repeated(slots), schedule, request.key)


def start_for(source: Path, text: str) -> datetime:
    """A start as typed, on a slot edge of the plan's mode.

    Args:
        source: a plan file, or the folder of a campaign.
        text: UTC in ISO 8601, or "next": the first whole minute two minutes from now.
    Raises: LogError for anything else; PlanError.
    """
    if text == "next":
        soon_s = datetime.now(UTC).timestamp() + 120.0
        return datetime.fromtimestamp(-(-soon_s // 60) * 60, UTC)
    try:
        start = datetime.fromisoformat(text)
    except ValueError:
        raise LogError(
            f'--start: give UTC like 2026-11-25T18:30:00Z, or "next", not "{text}"'
        ) from None
    start = start.replace(tzinfo=UTC) if start.tzinfo is None else start.astimezone(UTC)
    _refuse_off_edge(start, mode_named(plan_of(source).mode).facts.slot_s)
    return start


def _refuse_off_edge(start: datetime, slot_s: float) -> None:
    midnight = start.replace(hour=0, minute=0, second=0, microsecond=0)
    since_s = (start - midnight).total_seconds()
    if since_s % slot_s:
        edge = midnight + timedelta(seconds=(since_s // slot_s + 1) * slot_s)
        raise LogError(
            f"--start: {start:%H:%M:%S.%f} is no slot edge of {slot_s:g} s; the next one is "
            f"{edge.isoformat().replace('+00:00', 'Z')}"
        )


def _digests_in_journal(source: Path, keys: Sequence[TrialKey]) -> dict[TrialKey, str]:
    """Of the trials that a campaign has run already."""
    digests: dict[TrialKey, str] = {}
    if not source.is_dir():
        return digests
    with JournalReader(existing_folder(source)) as reader:
        for key, receiver in product(keys, range(len(reader.plan.receivers))):
            with suppress(JournalError):  # not run yet
                digests[key] = reader.outcome(key, receiver).digest or digests.get(key, "")
    return digests


def _refuse_other_samples(key: TrialKey, made: str, in_journal: str | None) -> None:
    if in_journal and made != in_journal:
        raise JournalError(
            f"trial {key}: the samples differ from those of the campaign; a recording file has "
            "changed, or the numeric libraries are other versions than the journal's"
        )


def _n_repeated(slots: Sequence[Slot]) -> int:
    counts = Counter(slot.text for slot in slots if slot.text is not None)
    return sum(n > 1 for n in counts.values())


def _make_folder(folder: Path) -> None:
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise LogError(f"{folder}: cannot be made ({error.strerror}); choose another") from None
    if (folder / "schedule.csv").exists():
        raise LogError(f"{folder}: holds a schedule already; choose another folder")


def _chosen(plan: Plan, request: SlotRequest) -> list[TrialKey]:
    if request.every < 1 or request.per_point < 0 or request.nothing_sent < 0:
        raise PlanError("--every must be at least 1, --per-point and --nothing at least 0")
    keys = [parse_trial_key(name, plan) for name in request.trials]
    if not keys:
        names = [condition.name for condition in plan.conditions]
        places = [place_of(name, names, what="condition") for name in request.conditions]
        wanted = places or list(range(len(names)))
        value = nothing_sent_value(plan)
        keys = [
            *trials_in_block(plan, 0, request.per_point),
            *(
                TrialKey(place, NOTHING_SENT, value, index)
                for place in wanted
                for index in range(request.nothing_sent)
            ),
        ]
        keys = [key for key in keys if key.condition in wanted]
    if len(set(keys)) < len(keys):
        raise PlanError("--trials names a trial twice")
    if not 0 < len(keys) <= MAX_SLOTS:
        raise PlanError(f"{len(keys)} slots were asked for; 1 to {MAX_SLOTS} can be made")
    return keys


def _in_drawn_order(plan: Plan, keys: Sequence[TrialKey]) -> list[TrialKey]:
    """Shuffled: what drifts at the station must not look like the axis."""
    draw = stream(Chance(plan.root_seed, "slots", 0, 0.0), "order")
    return [keys[place] for place in draw.permutation(len(keys))]


def slot_of(
    plan: Plan,
    key: TrialKey,
    made: tuple[Recording, Truth],
    where: tuple[int, datetime, str, float],
) -> Slot:
    """A slot as it stands in a key.

    Args:
        plan: that the trial belongs to.
        key: the trial.
        made: of it.
        where: number of the slot from 1, UTC of its start, file, and seconds into the file.
    """
    recording, truth = made
    number, utc, file, at_s = where
    readings: list[Any] = json.loads(encode_readings(recording.readings))
    return Slot(
        slot=number,
        utc=utc,
        file=file,
        starts_at_s=at_s,
        trial=str(key),
        condition=plan.conditions[key.condition].name,
        axis_value=key.axis_value,
        text=truth.message.text if truth.message else None,
        lowest_tone_hz=truth.audio_hz,
        start_after_nominal_s=truth.time_offset_s,
        other_texts=tuple(sorted(truth.other_texts)),
        digest_sha256_float32le=recording.digest,
        readings=readings,
    )


def _write_papers(plan: Plan, slots: Sequence[Slot], request: SlotRequest, schedule: Path) -> None:
    key = Key(
        made_by=f"solidcopy {__version__}",
        caution=CAUTION,
        mode=plan.mode,
        slot_s=mode_named(plan.mode).facts.slot_s,
        plan=plan.model_dump(mode="json"),
        slots=tuple(slots),
    )
    write_whole(request.key, [key.model_dump_json(indent=2) + "\n"])
    known = () if request.is_blind else ("trial", "condition", "axis_value", "text")
    stream_out = io.StringIO()
    table = csv.writer(stream_out, lineterminator="\n")
    table.writerow(["slot", "utc", "file", "starts_at_s", *known])
    for slot in slots:
        fields = slot.model_dump(mode="json")
        table.writerow([fields[name] for name in ("slot", "utc", "file", "starts_at_s", *known)])
    write_whole(schedule, [stream_out.getvalue()])
