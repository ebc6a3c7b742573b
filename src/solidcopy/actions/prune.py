"""Less room for a campaign, with the same outcomes."""

import re
import shutil
import time
from collections.abc import Iterator
from dataclasses import asdict, dataclass
from itertools import product
from pathlib import Path
from typing import Any

from solidcopy.actions.folder import REPORT_FOLDER, existing_folder
from solidcopy.actions.kept_figures import KEPT_FILE
from solidcopy.campaigns.journal import JournalReader
from solidcopy.campaigns.journal.lock import WriterLock
from solidcopy.campaigns.journal.place import Place
from solidcopy.campaigns.journal.prune import prune_journal
from solidcopy.errors import JournalError
from solidcopy.reports.wording import counted
from solidcopy.trials.expand import nothing_sent_value
from solidcopy.trials.trial import NOTHING_SENT, SENT

REMADE = (REPORT_FOLDER, KEPT_FILE)
"""What other commands make anew from the journal."""
LEFT_OVER = re.compile(r"\..+-[a-z0-9_]{8}")
"""A file or folder of a command that was killed before it gave it its name."""
LEFT_OVER_AGE_S = 24 * 3600.0
"""Younger ones may be at work yet."""


@dataclass(frozen=True, slots=True)
class PruneWishes:
    """What may go besides left-overs and empty pages."""

    unasked: bool = False
    """Outcomes that the plan no longer asks for."""
    remade: bool = False
    """Report and kept figures."""


@dataclass(frozen=True, slots=True)
class Pruned:
    """What pruning gave."""

    folder: str
    n_bytes_before: int
    n_bytes_after: int
    """Of everything in the campaign's folder."""
    n_dropped: int
    """Outcomes."""
    removed: tuple[str, ...]
    """Names of files and folders."""

    def text(self) -> str:
        """For a person."""
        freed = self.n_bytes_before - self.n_bytes_after
        lines = [
            f"{self.folder}: {_megabytes(freed)} freed, {_megabytes(self.n_bytes_after)} left; the "
            "outcomes that the plan asks for are as they were"
        ]
        if self.n_dropped:
            lines.append(f"dropped: {counted(self.n_dropped, 'outcome')} that it asks for no more")
        if self.removed:
            lines.append(f"removed: {', '.join(self.removed)}")
        return "\n".join(lines)

    def as_dict(self) -> dict[str, Any]:
        """For a program."""
        return {"n_bytes_freed": self.n_bytes_before - self.n_bytes_after, **asdict(self)}


def prune(source: Path, wishes: PruneWishes) -> Pruned:
    """Make a campaign's folder smaller. Outcomes that its plan asks for, and their fingerprint,
    stay as they are.

    Args:
        source: campaign folder or plan file.
        wishes: what may go besides.
    Raises: JournalError if nothing was begun, a run writes into it, or there is no room.
    """
    folder = existing_folder(source)
    before = _n_bytes(folder)
    try:
        with WriterLock(folder):
            asked = list(_asked(folder)) if wishes.unasked else None
            removed = tuple(_remove(folder, wishes))
            n_dropped = prune_journal(folder, asked)
    except OSError as error:
        raise JournalError(
            f"{folder}: cannot be made smaller ({error.strerror or error}); check that it may be "
            "written"
        ) from None
    return Pruned(str(folder), before, _n_bytes(folder), n_dropped, removed)


def _remove(folder: Path, wishes: PruneWishes) -> Iterator[str]:
    names = REMADE if wishes.remade else ()
    left_over = filter(_is_left_over, sorted(folder.iterdir()))
    for path in [*(folder / name for name in names), *left_over]:
        if path.is_dir() and not path.is_symlink():
            shutil.rmtree(path)
        elif path.exists():
            path.unlink()
        else:
            continue
        yield path.name


def _is_left_over(path: Path) -> bool:
    is_old = time.time() - path.lstat().st_mtime > LEFT_OVER_AGE_S
    return is_old and LEFT_OVER.fullmatch(path.name) is not None


def _asked(folder: Path) -> Iterator[tuple[Place, int]]:
    """Every series of the plan, with as many trials as it may ever ask for."""
    with JournalReader(folder) as reader:
        plan, stop = reader.plan, reader.plan.stop
        curves = product(range(len(plan.conditions)), range(len(plan.receivers)))
        for condition, receiver in curves:
            for value in plan.axis.points():
                place = reader.series_place(condition, receiver, SENT, value)
                yield place, stop.limit_per_point
            middle = nothing_sent_value(plan)
            yield reader.series_place(condition, receiver, NOTHING_SENT, middle), stop.nothing_sent


def _n_bytes(folder: Path) -> int:
    return sum(path.lstat().st_size for path in folder.rglob("*") if path.is_file())


def _megabytes(n_bytes: int) -> str:
    return f"{n_bytes / 1e6:.1f} MB"
