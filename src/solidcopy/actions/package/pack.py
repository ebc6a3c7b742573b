"""A campaign into one file: plan, journal, recordings, report, versions, sums."""

import json
import tempfile
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

from solidcopy.actions.folder import SUFFIX, existing_folder
from solidcopy.actions.package.members import (
    ENVIRONMENT,
    FORMAT,
    README,
    RECORDINGS,
    REPORT,
    SUMS,
    VERSIONS,
    campaign_name,
    safe_part,
)
from solidcopy.actions.package.plan_text import plan_toml
from solidcopy.actions.package.readme import Told, readme_text
from solidcopy.actions.package.zip_file import Member, Summed, write_zip
from solidcopy.campaigns.environment import this_environment
from solidcopy.campaigns.journal import JournalReader
from solidcopy.campaigns.journal.copy import copy_journal
from solidcopy.campaigns.journal.records import RunRecord
from solidcopy.campaigns.journal.schema import JOURNAL_FILE
from solidcopy.errors import AudioFileError, PackageError
from solidcopy.reports.write import Report, write_report
from solidcopy.trials.identity import curve_identity
from solidcopy.trials.sound_files import sound_files


@dataclass(frozen=True, slots=True)
class Packed:
    """A package as written."""

    path: Path
    name: str
    n_bytes: int
    members: tuple[Summed, ...]
    is_finished: bool

    def text(self) -> str:
        """For a person."""
        unpacked = sum(member.n_bytes for member in self.members)
        state = "" if self.is_finished else ", not finished: it goes on where it is unpacked"
        return (
            f"{len(self.members)} files, {unpacked / 1e6:.1f} MB unpacked{state}\n"
            f"package: {self.path.resolve()} ({self.n_bytes / 1e6:.1f} MB)"
        )

    def as_dict(self) -> dict[str, Any]:
        """For a program."""
        return {
            "package": str(self.path),
            "n_bytes": self.n_bytes,
            "is_finished": self.is_finished,
            "members": [asdict(member) for member in self.members],
        }


def pack(source: Path, out: Path | None) -> Packed:
    """Write everything that somebody else needs to check a campaign and to run it again.

    The journal is taken at one moment, whatever a run writes meanwhile; the report is written
    from that copy, so the two agree. The same journal gives the same bytes on one machine.

    Args:
        source: campaign folder or plan file.
        out: the zip file; None: beside the campaign's folder.
    Raises: JournalError if nothing was begun; PackageError if a recording is gone or no longer
        the one that the campaign used, or if the file cannot be written.
    """
    folder = existing_folder(source)
    name = campaign_name(folder.resolve().name)
    path = out or folder.resolve().with_name(f"{name}.zip")
    if not path.parent.is_dir():
        raise PackageError(f"{path.parent}: there is no such folder; name another --out")
    with tempfile.TemporaryDirectory(prefix=".packing-", dir=folder) as beside:
        campaign = Path(beside) / f"{name}{SUFFIX}"
        copy_journal(folder, campaign)
        with JournalReader(campaign) as reader:
            plan, runs = reader.plan, reader.runs()
            recordings = _recordings(reader)
        report = write_report(campaign, campaign / REPORT, with_pdf=True)
        told = Told(name, plan, report, len(recordings))
        summed = write_zip(
            path,
            (
                Member(f"{name}/{README}", readme_text(told).encode()),
                Member(f"{name}/{name}.toml", plan_toml(plan, recordings).encode()),
                Member(f"{name}/{ENVIRONMENT}", _environment_text(report, runs).encode()),
                Member(f"{name}/{VERSIONS}", _versions_text(runs).encode()),
                Member(f"{name}/{name}{SUFFIX}/{JOURNAL_FILE}", campaign / JOURNAL_FILE),
                *(
                    Member(f"{name}/{name}{SUFFIX}/{REPORT}/{file.name}", file)
                    for file in sorted(report.paths.all)
                ),
                *(Member(f"{name}/{inside}", Path(file)) for file, inside in recordings.items()),
            ),
            sums=f"{name}/{SUMS}",
        )
    is_finished = report.facts.extent.is_finished
    return Packed(path, name, path.stat().st_size, tuple(summed), is_finished)


def _recordings(reader: JournalReader) -> dict[str, str]:
    """Where each recording of the plan goes; PackageError unless all are those that were used."""
    plan = reader.plan
    places: dict[str, str] = {}
    for number, file in enumerate(sound_files(plan), 1):
        own = safe_part(Path(file).name, fallback="recording")
        is_taken = f"{RECORDINGS}/{own}".casefold() in {one.casefold() for one in places.values()}
        places[file] = f"{RECORDINGS}/{number}-{own}" if is_taken else f"{RECORDINGS}/{own}"
    for place, condition in enumerate(plan.conditions):
        try:
            now = curve_identity(plan, condition)
        except AudioFileError as error:
            raise PackageError(f"{error}; bring the recording back, then pack again") from None
        if now != reader.identities(place, 0)[0]:
            raise PackageError(
                f'condition "{condition.name}": its recording, or the program, has changed since '
                "the campaign ran; bring back the one that was used, then pack again"
            )
    return places


def _environment_text(report: Report, runs: list[RunRecord]) -> str:
    here = {k: v for k, v in asdict(this_environment()).items() if k != "started_utc"}
    data = {
        "format": FORMAT,
        "fingerprint": report.facts.fingerprint,
        "n_outcomes": report.facts.extent.n_done,
        "is_finished": report.facts.extent.is_finished,
        "packed_on": here,
        "runs": [asdict(run) for run in runs],
    }
    return json.dumps(data, ensure_ascii=False, indent=1) + "\n"


def _versions_text(runs: list[RunRecord]) -> str:
    """Of the last run, as constraints for pip."""
    environment = runs[-1].environment
    libraries: dict[str, str] = environment.get("libraries", {})
    return "\n".join(
        [
            f"# {environment.get('python', 'Python of an unknown version')}",
            *(f"{name}=={version}" for name, version in libraries.items() if version[:1].isdigit()),
            "",
        ]
    )
