"""Carry out a plan, or go on with a campaign."""

from collections.abc import Generator
from dataclasses import dataclass, field
from pathlib import Path

from solidcopy.actions.elsewhere import Elsewhere
from solidcopy.actions.folder import existing_folder, folder_of, plan_of
from solidcopy.campaigns import engine
from solidcopy.campaigns.journal import JournalReader
from solidcopy.campaigns.progress import Progress, progress_of
from solidcopy.campaigns.share import Share
from solidcopy.errors import PlanError
from solidcopy.reports.decision_facts import DecisionFacts
from solidcopy.reports.decisions import decisions


@dataclass(frozen=True, slots=True)
class RunOptions:
    """How to carry a campaign out; nothing in here can alter an outcome."""

    folder: Path | None = None
    """Of the campaign; None: "x.campaign" beside the plan "x.toml"."""
    n_workers: int | None = None
    """Processes; None: one for each processor."""
    retry_failed: bool = False
    elsewhere: Elsewhere = field(default_factory=Elsewhere)
    """Workers on other machines instead, if any."""
    share: Share | None = None
    """Only these trials; other machines run the rest, and `merge` puts them together."""


def run_campaign(source: Path, options: RunOptions) -> Generator[Progress]:
    """Run all trials that have no outcome yet; close the iterator to stop cleanly.

    Args:
        source: a plan file, or the folder of a campaign to go on with.
        options: see there.
    Raises: PlanError, CalibrationError, AudioFileError, JournalError, WorkersError.
    """
    if options.n_workers is not None and options.n_workers < 1:
        raise PlanError(f"--workers must be at least 1, not {options.n_workers}")
    cluster = options.elsewhere.cluster()
    if cluster is not None and options.n_workers is not None:
        raise PlanError(
            "--workers counts processes of this machine; leave it out beside --scheduler, whose "
            "machines start their own"
        )
    if source.is_dir() and options.folder is not None:
        raise PlanError("a campaign folder goes on in its own place: leave --folder out")
    settings = engine.EngineSettings(
        n_workers=options.n_workers,
        cluster=cluster,
        retry_failed=options.retry_failed,
        import_folders=None if source.is_dir() else (source.resolve().parent,),
        share=options.share,
    )
    folder = options.folder or folder_of(source)
    yield from engine.run_campaign(plan_of(source), folder, settings=settings)


def read_status(source: Path) -> Progress:
    """How far a campaign has come, whether or not it is running now."""
    with JournalReader(existing_folder(source)) as reader:
        return progress_of(reader)


def read_decisions(source: Path) -> tuple[DecisionFacts, ...]:
    """Who decodes more so far, in a campaign that runs until that is decided; else nothing."""
    with JournalReader(existing_folder(source)) as reader, reader.snapshot():
        return decisions(reader)
