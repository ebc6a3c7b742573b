"""What of a campaign's report and package lies on disk, and whether it tells of the present."""

from dataclasses import dataclass
from datetime import UTC, datetime
from enum import StrEnum
from pathlib import Path

from solidcopy.actions.background_job import Job, job_state, start_job
from solidcopy.actions.folder import REPORT_FOLDER
from solidcopy.actions.package.zip_file import Member, write_zip
from solidcopy.actions.workspace import Workspace
from solidcopy.campaigns.journal.schema import JOURNAL_FILE
from solidcopy.errors import NotThereError

PACKAGE_FILE = "package.zip"
TABLES_FILE = "tables.zip"
WRITING, PACKING = "report", "package"
"""Kinds of background job."""


class Kind(StrEnum):
    """A file that a person may want."""

    PAGE = "page"
    PDF = "pdf"
    TABLES = "tables"
    FACTS = "facts"
    PACKAGE = "package"


FILES = {
    Kind.PAGE: f"{REPORT_FOLDER}/report.html",
    Kind.PDF: f"{REPORT_FOLDER}/report.pdf",
    Kind.TABLES: f"{REPORT_FOLDER}/curves.csv",
    Kind.FACTS: f"{REPORT_FOLDER}/facts.json",
    Kind.PACKAGE: PACKAGE_FILE,
}
"""In the campaign's folder; the tables are packed when they are asked for."""
ENDINGS = {Kind.PAGE: "html", Kind.PDF: "pdf", Kind.FACTS: "json"}


@dataclass(frozen=True, slots=True)
class WrittenFile:
    """One of them."""

    kind: Kind
    n_bytes: int
    """Of all tables together, unpacked."""
    written_utc: str
    is_older: bool
    """Outcomes were added to the journal since it was written."""


@dataclass(frozen=True, slots=True)
class ReportFiles:
    """Those of one campaign, and whether they are being written now."""

    name: str
    files: tuple[WrittenFile, ...]
    writing: Job
    packing: Job


def report_files(space: Workspace, name: str) -> ReportFiles:
    """What lies there. Raises NotThereError if there is no such campaign."""
    folder = space.campaign(name)
    return ReportFiles(
        name,
        tuple(
            _written(folder, kind, path)
            for kind, path in FILES.items()
            if (folder / path).is_file()
        ),
        job_state(space, WRITING, name),
        job_state(space, PACKING, name),
    )


def start_report(space: Workspace, name: str) -> None:
    """Write page, PDF, tables and figures, in a process of its own. Raises JournalError."""
    folder = space.campaign(name)
    start_job(space, WRITING, name, ["report", str(folder), "--pdf", "--json"])


def start_package(space: Workspace, name: str) -> None:
    """Write the package for somebody else, in a process of its own. Raises JournalError."""
    folder = space.campaign(name)
    words = ["pack", str(folder), "--json", "--out", str(folder / PACKAGE_FILE)]
    start_job(space, PACKING, name, words)


def report_file(space: Workspace, name: str, kind: Kind) -> tuple[Path, str]:
    """A file that lies there, and the name under which a person keeps it.

    Raises: NotThereError if it was not written yet.
    """
    folder = space.campaign(name)
    file = folder / FILES[kind]
    if not file.is_file():
        raise NotThereError(f"{name}: this file was not written yet; write it on the reports page")
    if kind is Kind.TABLES:
        return _tables(folder / REPORT_FOLDER), f"{name}-tables.zip"
    return file, f"{name}.zip" if kind is Kind.PACKAGE else f"{name}-report.{ENDINGS[kind]}"


def _tables(report: Path) -> Path:
    """All CSV files of a report in one zip, packed anew if one of them is newer."""
    tables = sorted(report.glob("*.csv"))
    packed = report / TABLES_FILE
    newest = max(file.stat().st_mtime_ns for file in tables)
    if not packed.is_file() or packed.stat().st_mtime_ns < newest:
        write_zip(packed, [Member(file.name, file) for file in tables])
    return packed


def _written(folder: Path, kind: Kind, path: str) -> WrittenFile:
    file = folder / path
    status = file.stat()
    tables = file.parent.glob("*.csv") if kind is Kind.TABLES else [file]
    return WrittenFile(
        kind,
        sum(one.stat().st_size for one in tables),
        datetime.fromtimestamp(status.st_mtime, UTC).isoformat(timespec="seconds"),
        status.st_mtime_ns < _journal_changed_ns(folder),
    )


def _journal_changed_ns(folder: Path) -> int:
    """Of the journal and of what a run has written beside it."""
    beside = [folder / JOURNAL_FILE, folder / f"{JOURNAL_FILE}-wal"]
    return max(file.stat().st_mtime_ns for file in beside if file.is_file())
