"""Campaigns of one plan, carried out in parts or on several machines, made into one."""

import os
import shutil
import tempfile
from collections.abc import Iterator, Sequence
from contextlib import ExitStack, closing, contextmanager
from pathlib import Path

from solidcopy.actions.folder import existing_folder
from solidcopy.actions.merge_checks import Opened, refuse_another_plan
from solidcopy.actions.merged import Merged, Part
from solidcopy.campaigns.environment import differences
from solidcopy.campaigns.journal import JournalReader
from solidcopy.campaigns.journal.copy import copy_journal
from solidcopy.campaigns.journal.merge import Merging, TrialPlace
from solidcopy.campaigns.journal.schema import (
    JOURNAL_FILE,
    close_writing,
    open_for_writing,
    sentences,
)
from solidcopy.campaigns.journal.tables import ARMS
from solidcopy.errors import JournalError
from solidcopy.trials.expand import TrialKey


def merge(sources: Sequence[Path], into: Path, *, keep_first: bool = False) -> Merged:
    """Make one campaign of several of one plan; they are only read. The new folder appears whole
    or not at all.

    What counts is the first campaign's plan. A trial that is in several must have the same samples
    and the same answers in all, but for how long they took.

    Args:
        sources: campaign folders or plan files, at least two.
        into: folder of the new campaign; not there yet.
        keep_first: where they disagree, keep what is said by the one that is named first.
    Raises: JournalError if plans, recipes or receivers differ, if the campaigns disagree about a
        trial, or if the new folder cannot be made.
    """
    folders = [existing_folder(source) for source in sources]
    if len({folder.resolve() for folder in folders}) < max(2, len(folders)):
        raise JournalError("merging takes two campaigns or more, each named once")
    if into.exists():
        raise JournalError(f"{into} exists: name a folder that is not there yet with --into")
    try:
        with _made_whole(into) as beside:
            parts = _merge(folders, beside, keep_first=keep_first)
    except OSError as error:
        raise JournalError(
            f"{into}: cannot be made ({error.strerror or error}); nothing was left there; make "
            "room or choose another place"
        ) from None
    return Merged(str(into.resolve()), tuple(parts))


@contextmanager
def _made_whole(into: Path) -> Iterator[Path]:
    """A folder beside `into` that takes its name in the end."""
    beside = Path(tempfile.mkdtemp(prefix=f".{into.name}-", dir=into.resolve().parent))
    try:
        yield beside
        beside.chmod(0o755)
        os.rename(beside, into)
    except BaseException:
        shutil.rmtree(beside, ignore_errors=True)
        raise


def _merge(folders: Sequence[Path], beside: Path, *, keep_first: bool) -> list[Part]:
    copies = [beside / f"part-{number}" for number in range(len(folders))]
    for folder, copy in zip(folders, copies, strict=True):
        path = copy_journal(folder, copy)
        with sentences(path):
            close_writing(open_for_writing(path))  # brings it to this format
    with ExitStack() as stack:
        opened = [
            Opened(folder, stack.enter_context(JournalReader(copy)))
            for folder, copy in zip(folders, copies, strict=True)
        ]
        for other in opened[1:]:
            refuse_another_plan(opened[0], other)
        parts = _take_all_in(opened, copies, beside / JOURNAL_FILE, keep_first=keep_first)
    for copy in copies:
        shutil.rmtree(copy)
    return parts


def _take_all_in(
    opened: Sequence[Opened], copies: Sequence[Path], target: Path, *, keep_first: bool
) -> list[Part]:
    runs = [one.reader.runs() for one in opened]
    parts = []
    with sentences(target), closing(open_for_writing(target)) as connection:
        # Nobody knows the file yet, and it is worth nothing until it is whole.
        connection.execute("PRAGMA journal_mode=OFF")
        connection.execute("PRAGMA synchronous=OFF")
        merging = Merging(connection)
        for number, one in enumerate(opened):
            # The runs of the first come last: the last run's plan is the journal's.
            after_run = sum(own[-1].number for own in runs[number + 1 :])
            taken_in = merging.take_in(copies[number] / JOURNAL_FILE, after_run=after_run)
            part = Part(
                str(one.folder),
                taken_in,
                tuple(differences(runs[number][-1].environment, runs[0][-1].environment)),
                _trial_words(opened[0].reader, taken_in.first_unlike),
            )
            if not taken_in.agrees and not keep_first:
                raise JournalError(part.disagreement())
            parts.append(part)
        merging.finish()
    with target.open("rb") as file:
        os.fsync(file.fileno())
    return parts


def _trial_words(reader: JournalReader, place: TrialPlace | None) -> str:
    """The trial as `remake` takes it, by the first campaign's plan."""
    if place is None:
        return ""
    for condition in range(len(reader.plan.conditions)):
        if reader.identities(condition, 0)[0] == place.curve_identity:
            key = TrialKey(condition, ARMS[place.arm], place.axis_value, place.trial_index)
            return str(key)
    return f"of an earlier plan, number {place.trial_index} at {place.axis_value:g}"
