"""Trials of an unpacked campaign made again here, and what agreed with its journal."""

from collections.abc import Generator, Iterator
from dataclasses import asdict, dataclass, field, replace
from pathlib import Path
from typing import Any

from solidcopy.actions.folder import SUFFIX
from solidcopy.actions.package.unpack import Unpacked
from solidcopy.campaigns import engine
from solidcopy.campaigns.environment import differences, this_environment
from solidcopy.campaigns.journal import JournalReader
from solidcopy.campaigns.journal.coding import encode_decodes
from solidcopy.campaigns.progress import Progress
from solidcopy.campaigns.workers import receive_safely
from solidcopy.errors import PackageError, SolidcopyError
from solidcopy.modes.registry import mode_named
from solidcopy.receivers.catalogue import OUR_OWN, build_receiver
from solidcopy.trials.expand import TrialKey, nothing_sent_value, trial_of
from solidcopy.trials.identity import curve_identity, receiver_identity
from solidcopy.trials.make import make
from solidcopy.trials.outcome import Outcome
from solidcopy.trials.plan import Plan
from solidcopy.trials.score import score
from solidcopy.trials.trial import NOTHING_SENT, SENT

STRIDE = 7919
"""A prime: successive trials of one series lie far apart."""


@dataclass(frozen=True, slots=True)
class Agreement:
    """How far trials made here are those of the journal."""

    n_trials: int
    """Made again."""
    n_same_samples: int
    n_answers: int
    """Compared: those of the built-in receiver."""
    n_same_answers: int
    unlike: tuple[str, ...]
    """The first differences, one sentence each."""
    not_heard: tuple[str, ...]
    """Receivers that were not started."""
    other_versions: tuple[str, ...]
    """What differs between this machine and the campaign's last run."""
    fingerprints: tuple[str, str] | None = None
    """Of the journal and of the campaign run again; None unless all of it was."""

    @property
    def is_equal(self) -> bool:
        """Whether all that was compared agreed, and something was."""
        is_same = self.fingerprints is None or self.fingerprints[0] == self.fingerprints[1]
        all_same = self.n_same_samples == self.n_trials and self.n_same_answers == self.n_answers
        return self.n_trials > 0 and not self.unlike and all_same and is_same

    def text(self) -> str:
        """For a person."""
        lines = [
            f"made again: {self.n_trials} trials; samples equal in {self.n_same_samples}",
            f"heard again: {self.n_answers} answers of the built-in receiver; equal in "
            f"{self.n_same_answers}",
        ]
        if self.fingerprints is not None:
            word = "equal" if self.fingerprints[0] == self.fingerprints[1] else "DIFFERENT"
            lines.append(f"fingerprints of all outcomes: {word} ({self.fingerprints[1][:16]}...)")
        if self.not_heard:
            lines.append(f"not started: {', '.join(self.not_heard)} (no program of a package is)")
        lines += [f"  {sentence}" for sentence in self.unlike]
        if not self.is_equal and self.other_versions:
            lines.append(f"what differs here: {'; '.join(self.other_versions)}")
        lines.append("All that was compared agrees." if self.is_equal else "It does NOT agree.")
        return "\n".join(lines)

    def as_dict(self) -> dict[str, Any]:
        """For a program."""
        return {"is_equal": self.is_equal, **asdict(self)}


@dataclass(slots=True)
class _Count:
    n_trials: int = 0
    n_same_samples: int = 0
    n_answers: int = 0
    n_same_answers: int = 0
    unlike: list[str] = field(default_factory=list)


def make_some_again(unpacked: Unpacked, n_trials: int) -> Agreement:
    """Make trials of all conditions, values and arms again, evenly chosen, and compare.

    Programs and Python code that the plan names are not started: they are whatever lies under
    their names on this machine.

    Args:
        n_trials: at most; fewer if the journal holds fewer.
    """
    plan, count = unpacked.plan, _Count()
    mode = mode_named(plan.mode)
    receivers = {
        place: build_receiver(settings, mode)
        for place, settings in enumerate(plan.receivers)
        if isinstance(settings, OUR_OWN)
    }
    with JournalReader(unpacked.campaign) as reader:
        count.unlike += _older_recipes(plan, reader)
        for key in [] if count.unlike else _chosen(reader, plan, n_trials):
            try:
                recording, truth = make(trial_of(plan, key))
            except SolidcopyError as error:
                count.unlike.append(f"trial {key} cannot be made here: {error}")
                continue
            _compare_samples(count, key, reader.outcome(key, 0).digest, recording.digest)
            for place, receiver in receivers.items():
                heard = score(receive_safely(receiver, recording.waveform), truth, recording)
                _compare_answers(count, key, reader.outcome(key, place), heard)
    return _agreement(unpacked, count)


def _compare_samples(count: _Count, key: TrialKey, kept: str, made: str) -> None:
    count.n_trials += 1
    count.n_same_samples += kept == made
    if kept != made:
        count.unlike.append(f"trial {key}: samples {made[:12]}..., in the journal {kept[:12]}...")


def _compare_answers(count: _Count, key: TrialKey, kept: Outcome, heard: Outcome) -> None:
    """All that a receiver said, but how long it took."""
    is_same = (kept.verdict, encode_decodes(kept)) == (heard.verdict, encode_decodes(heard))
    count.n_answers += 1
    count.n_same_answers += is_same
    if not is_same:
        count.unlike.append(
            f"trial {key}: {heard.verdict.value}, in the journal {kept.verdict.value}, or with "
            "other figures"
        )


def make_all_again(unpacked: Unpacked, *, n_workers: int | None) -> Generator[Progress]:
    """Carry the whole plan out anew, beside the unpacked campaign.

    Raises: PackageError if the plan has receivers that would start a program.
    """
    outside = [one.name for one in unpacked.plan.receivers if not isinstance(one, OUR_OWN)]
    if outside:
        raise PackageError(
            f"--whole would start programs that this package names ({', '.join(outside)}): look at "
            f"them, then give `solidcopy run {unpacked.plan_file} --folder FOLDER` yourself"
        )
    settings = engine.EngineSettings(n_workers=n_workers)
    yield from engine.run_campaign(unpacked.plan, _again_folder(unpacked), settings=settings)


def compare_all(unpacked: Unpacked) -> Agreement:
    """What `make_all_again` gave beside what the journal holds, outcome by outcome."""
    count = _Count()
    with JournalReader(unpacked.campaign) as first, JournalReader(_again_folder(unpacked)) as again:
        for row in first.rows():
            outcome = again.outcome(row.key, row.receiver)
            if row.receiver == 0:
                _compare_samples(count, row.key, row.outcome.digest, outcome.digest)
            _compare_answers(count, row.key, row.outcome, outcome)
        fingerprints = None
        if unpacked.environment.get("is_finished"):
            fingerprints = first.fingerprint(), again.fingerprint()
    return replace(_agreement(unpacked, count), fingerprints=fingerprints)


def _again_folder(unpacked: Unpacked) -> Path:
    return unpacked.folder / f"{unpacked.name}-again{SUFFIX}"


def _older_recipes(plan: Plan, reader: JournalReader) -> Iterator[str]:
    """What this version of the program makes or hears in another way."""
    for place, condition in enumerate(plan.conditions):
        if curve_identity(plan, condition) != reader.identities(place, 0)[0]:
            yield (
                f'condition "{condition.name}" is made in another way by this version of the '
                "program, or from another recording"
            )
    for place, receiver in enumerate(plan.receivers):
        if receiver_identity(receiver) != reader.identities(0, place)[1]:
            yield f'receiver "{receiver.name}" hears in another way in this version of the program'


def _chosen(reader: JournalReader, plan: Plan, n_trials: int) -> list[TrialKey]:
    """Trials that the journal holds, spread over all its series."""
    series = []
    for place in range(len(plan.conditions)):
        for value in plan.axis.points():
            series.append((place, SENT, value, reader.n_counted(place, 0, value)))
        n_silent = reader.false_decodes(place, 0).nothing_sent.n_scored
        series.append((place, NOTHING_SENT, nothing_sent_value(plan), n_silent))
    filled = [one for one in series if one[3] > 0]
    chosen = set()
    for turn in range(n_trials if filled else 0):
        # Fewer trials than series: taken evenly from all of them; else from each in turn.
        at = turn * len(filled) // n_trials if n_trials < len(filled) else turn % len(filled)
        place, arm, value, n = filled[at]
        chosen.add(TrialKey(place, arm, value, turn * STRIDE % n))
    return sorted(chosen)


def _agreement(unpacked: Unpacked, count: _Count) -> Agreement:
    return Agreement(
        n_trials=count.n_trials,
        n_same_samples=count.n_same_samples,
        n_answers=count.n_answers,
        n_same_answers=count.n_same_answers,
        unlike=tuple(count.unlike[:5]),
        not_heard=tuple(
            one.name for one in unpacked.plan.receivers if not isinstance(one, OUR_OWN)
        ),
        other_versions=tuple(_other_versions(unpacked)),
    )


def _other_versions(unpacked: Unpacked) -> Iterator[str]:
    runs = unpacked.environment.get("runs") or [{}]
    then = runs[-1].get("environment", {})
    for name, here, there in differences(asdict(this_environment()), then):
        yield f"{name} {here} here, {there} there"
