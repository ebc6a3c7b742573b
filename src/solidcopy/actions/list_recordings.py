"""The recordings of a bench folder, which plans use them, and putting one away."""

from dataclasses import dataclass
from pathlib import Path

from solidcopy.actions.looks.store import forget_looks
from solidcopy.actions.served import served
from solidcopy.actions.take_recording import megabytes
from solidcopy.actions.workspace import Workspace
from solidcopy.campaigns.journal import JournalReader
from solidcopy.errors import SolidcopyError, WorkspaceError
from solidcopy.impairments.added.recording import OwnRecording
from solidcopy.reports.wording import listed
from solidcopy.signals.sound_file.facts import SoundFacts
from solidcopy.signals.sound_file.findings import lasting
from solidcopy.signals.sound_file.opening import open_source
from solidcopy.trials.plan import Plan, read_plan

PLAYED = frozenset({"WAV", "FLAC", "OGG", "MP3"})
"""Containers that browsers play as they are (common practice, no source)."""
PLAYED_WORDS = frozenset({"8-bit", "16-bit", "24-bit", "32-bit float", "Vorbis", "Opus"})
PLAYED_CHANNELS = 2
PLAYED_RATES_HZ = (8_000, 96_000)


@served
@dataclass(frozen=True, slots=True)
class RecordingCard:
    """One recording in a list."""

    name: str
    """File name in the bench folder."""
    n_bytes: int
    """Size of the file."""
    size: str
    """The same for a person."""
    duration_s: float | None
    """Length of the sound; nothing if it cannot be read."""
    words: str
    """What kind of file it is and how long it lasts, or why it cannot be read."""
    is_played: bool
    """Whether browsers play the file as it is; else pieces of it are made over for them."""


def recording_card(space: Workspace, name: str) -> RecordingCard:
    """What a file says of itself, without looking through it. Raises NotThereError."""
    file = space.recording(name)
    n_bytes = file.stat().st_size
    try:
        source = open_source(file)
    except SolidcopyError as error:
        words = str(error).removeprefix(f"{file}: ")
        return RecordingCard(name, n_bytes, megabytes(n_bytes), None, words, False)
    source.close()
    facts = source.facts
    channels = "1 channel" if facts.n_channels == 1 else f"{facts.n_channels} channels"
    words = (
        f"{lasting(facts.duration_s)}, {facts.container}, {facts.sample_rate_hz} Hz, "
        f"{facts.encoding}, {channels}"
    )
    return RecordingCard(
        name, n_bytes, megabytes(n_bytes), facts.duration_s, words, _is_played(facts)
    )


def _is_played(facts: SoundFacts) -> bool:
    odd = [finding for finding in facts.findings if finding.kind != "lossy"]
    return (
        facts.container in PLAYED
        and (facts.encoding in PLAYED_WORDS or facts.container == "MP3")
        and facts.n_channels <= PLAYED_CHANNELS
        and PLAYED_RATES_HZ[0] <= facts.sample_rate_hz <= PLAYED_RATES_HZ[1]
        and not odd
    )


def list_recordings(space: Workspace) -> list[RecordingCard]:
    """All of them in order of the alphabet."""
    return [recording_card(space, name) for name in space.recordings()]


def delete_recording(space: Workspace, name: str) -> None:
    """Remove a recording and what was found in it.

    Raises: WorkspaceError if a plan or a campaign names it, and says which.
    """
    file = space.recording(name)
    users = [f"plan {plan!r}" for plan in plans_of(space, file)]
    users += [f"campaign {campaign!r}" for campaign in campaigns_of(space, file)]
    if users:
        raise WorkspaceError(
            f"{name!r} is used by {listed(users)}, which could not be carried out or heard again "
            "without it: it stays"
        )
    forget_looks(space, name)
    file.unlink()


def plans_of(space: Workspace, file: Path) -> list[str]:
    """Plans that name a recording; those that cannot be read, if its name stands in them."""
    return [name for name in space.plans() if _names(space.existing_plan(name), file)]


def _names(plan_file: Path, file: Path) -> bool:
    try:
        return plays(read_plan(plan_file), file)
    except SolidcopyError:
        return file.name in plan_file.read_text(encoding="utf-8", errors="replace")


def campaigns_of(space: Workspace, file: Path) -> list[str]:
    """Campaigns that were begun with a recording; none whose journal cannot be read."""
    found = []
    for name in space.campaigns():
        try:
            with JournalReader(space.campaign(name)) as reader:
                plan = reader.plan
        except SolidcopyError:
            continue
        if plays(plan, file):
            found.append(name)
    return found


def plays(plan: Plan, file: Path) -> bool:
    """Whether a plan's conditions play a recording."""
    return any(
        Path(impairment.file).resolve() == file.resolve()
        for condition in plan.conditions
        for impairment in condition.impairments
        if isinstance(impairment, OwnRecording)
    )
