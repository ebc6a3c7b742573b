"""A campaign looked at again and again, by any number of windows, at a bounded cost.

The journal is the truth: all that is kept here is derived from it and is forgotten with the server.
What takes long is worked out less often, so that watching takes but a small share of the machine
from the run itself.
"""

import threading
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

from solidcopy.actions.background_run import last_words
from solidcopy.actions.growth import Growth
from solidcopy.actions.kept import Kept, stamp_of
from solidcopy.actions.kept_figures import keep_figures, kept_figures
from solidcopy.actions.served import served
from solidcopy.actions.workspace import Workspace
from solidcopy.campaigns.journal import JournalReader
from solidcopy.campaigns.journal.lock import holder
from solidcopy.campaigns.progress import CurveProgress, Progress, duration, progress_of
from solidcopy.errors import NotThereError
from solidcopy.reports.facts import CampaignFacts
from solidcopy.reports.gather import gather_counts, gather_figures

MOST_WATCHED = 16
STOPPED_WORDS = "stopped:"
"""How the last words of a run begin that was asked to stop."""


@served
@dataclass(frozen=True, slots=True)
class CampaignState:
    """How far a campaign has come, by its journal, whoever runs it."""

    title: str
    is_begun: bool
    """Whether anything was ever run."""
    is_running: bool
    is_finished: bool
    n_done: int
    """Outcomes: a trial heard by one receiver is one."""
    n_planned: int
    """At most: a rule of the plan may stop earlier."""
    n_failed: int
    """Of those done: the receiver crashed, hung or gave no answer."""
    rate_per_s: float | None
    """Outcomes per second over the last half minute; null until it could be measured."""
    left_s: float | None
    """At most, at that rate."""
    pace: str
    """Both in words; empty until the rate could be measured."""
    at_work: str
    """Points that grew within the last seconds, in words; empty if none was seen to."""
    last_words: str
    """What the last run said before it ended, if it was neither stopped nor finished."""
    stamp: str
    """Changes with the journal; results carry the stamp of what they rest on."""
    curves: tuple[CurveProgress, ...]
    """Counts so far, trials that finished out of turn included."""


def campaign_state(workspace: Workspace, name: str) -> CampaignState:
    """How far a campaign of the bench folder has come; also of one that has only a plan.

    Raises: NotThereError if there is no plan of that name either; JournalError.
    """
    if name in workspace.campaigns():
        return watch_of(workspace.campaign(name)).state(name)
    if not workspace.plan(name).is_file():
        raise NotThereError(f"no campaign and no plan {name!r} here")
    return CampaignState(name, False, False, False, 0, 0, 0, None, None, "", "", "", "", ())


class CampaignWatch:
    """Memory of one campaign's looks. Used by any number of threads."""

    def __init__(self, folder: Path) -> None:
        """`folder`: of the campaign."""
        self._folder = folder
        self._progress = Kept(lambda: _progress(folder))
        self._figures = Kept(lambda: _figures(folder), kept_figures(folder))
        self._counts = Kept(lambda: _counts(folder))
        self._growth = Growth()
        self._lock = threading.Lock()

    def state(self, name: str) -> CampaignState:
        """How far it has come.

        Args:
            name: shown where the plan has no title.
        """
        is_running = holder(self._folder) is not None
        stamp, (title, unit, progress) = self._progress.get(
            stamp_of(self._folder), is_exact=not is_running
        )
        with self._lock:
            if is_running:
                self._growth.look(progress)
            else:
                self._growth.forget()
            rate, at_work = self._growth.rate_per_s, self._growth.words(unit)
        left_s = max(0, progress.n_planned - progress.n_done) / rate if rate else None
        said = "" if is_running or progress.is_finished else last_words(self._folder)
        return CampaignState(
            title=title or name,
            is_begun=True,
            is_running=is_running,
            is_finished=progress.is_finished,
            n_done=progress.n_done,
            n_planned=progress.n_planned,
            n_failed=progress.n_failed,
            rate_per_s=rate,
            left_s=left_s,
            pace=_pace_words(rate, left_s),
            at_work=at_work,
            last_words="" if said.startswith(STOPPED_WORDS) else said,
            stamp=stamp,
            curves=progress.curves,
        )

    def figures(self, *, is_exact: bool = False) -> tuple[str, CampaignFacts]:
        """Stamp and facts, without those that are read trial by trial.

        Args:
            is_exact: wait for those of now, however long it takes.
        """
        return self._figures.get(stamp_of(self._folder), is_exact=is_exact)

    def figures_soon(self) -> tuple[str, CampaignFacts] | None:
        """The same; None where none were made yet and that takes more than a moment."""
        return self._figures.soon(stamp_of(self._folder))

    def counts(self) -> CampaignFacts:
        """Facts without what must be fitted."""
        return self._counts.get(stamp_of(self._folder))[1]


def _pace_words(rate_per_s: float | None, left_s: float | None) -> str:
    if rate_per_s is None or left_s is None:
        return ""
    return f"{rate_per_s:.2g} per second, at most {duration(left_s)} left"


@lru_cache(maxsize=MOST_WATCHED)
def watch_of(folder: Path) -> CampaignWatch:
    """The memory of a campaign's folder."""
    return CampaignWatch(folder)


def _progress(folder: Path) -> tuple[str, str, Progress]:
    """Title of the plan, unit of its axis, and how far it came."""
    with JournalReader(folder) as reader, reader.snapshot():
        return reader.plan.title, reader.axis_unit, progress_of(reader)


def _counts(folder: Path) -> CampaignFacts:
    with JournalReader(folder) as reader:
        return gather_counts(reader)


def _figures(folder: Path) -> CampaignFacts:
    with JournalReader(folder) as reader:
        stamp, facts = reader.content_version(), gather_figures(reader)
        # If something was written in between the stamp is too old, and the facts are made anew.
        keep_figures(folder, stamp, facts)
        return facts
