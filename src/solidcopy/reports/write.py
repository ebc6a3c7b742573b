"""From a journal to the files of a report. Each file appears whole or not at all."""

import os
import tempfile
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import TextIO

from solidcopy.campaigns.journal import JournalReader
from solidcopy.errors import JournalError
from solidcopy.reports.answer import answer
from solidcopy.reports.facts import CampaignFacts
from solidcopy.reports.gather import gather
from solidcopy.reports.map_tables import map_shares_csv, map_thresholds_csv
from solidcopy.reports.page import build_page, sampled
from solidcopy.reports.reported_tables import reported_csv
from solidcopy.reports.samples import sample_facts
from solidcopy.reports.tables import curves_csv, facts_json, write_trials_csv

MAP_TABLES = {"map-thresholds": map_thresholds_csv, "map-shares": map_shares_csv}


@dataclass(frozen=True, slots=True)
class ReportPaths:
    """Files of one report."""

    html: Path
    json: Path
    curves_csv: Path
    trials_csv: Path
    map_csvs: tuple[Path, ...]
    """None without a map."""
    reported_csv: Path | None
    """None where no receiver states levels."""
    svgs: tuple[Path, ...]


@dataclass(frozen=True, slots=True)
class Report:
    """A report as written."""

    facts: CampaignFacts
    headline: str
    paths: ReportPaths


def write_report(campaign: JournalReader | Path, out_folder: Path) -> Report:
    """Build the report of a campaign, finished or not.

    The same journal gives the same bytes: no clock is read.

    Args:
        campaign: an open journal, or the folder of a campaign.
        out_folder: made if missing; files of an earlier report are replaced.
    Raises: JournalError if there is no journal, or if the folder cannot be written.
    """
    if isinstance(campaign, Path):
        with JournalReader(campaign) as reader:
            return _write(reader, out_folder, campaign.resolve().name)
    return _write(campaign, out_folder, "CAMPAIGN-FOLDER")


def _write(reader: JournalReader, out_folder: Path, folder_name: str) -> Report:
    facts = gather(reader)
    names = [condition.name for condition in facts.conditions]
    samples = tuple(sample_facts(reader, facts, names.index(name)) for name in sampled(facts))
    page = build_page(facts, samples, folder_name=folder_name)
    try:
        out_folder.mkdir(parents=True, exist_ok=True)
        paths = ReportPaths(
            html=put_text(out_folder / "report.html", page.html),
            json=put_text(out_folder / "facts.json", facts_json(facts)),
            curves_csv=put_text(out_folder / "curves.csv", curves_csv(facts)),
            trials_csv=_put_by(
                out_folder / "trials.csv", lambda file: write_trials_csv(reader.rows(), file)
            ),
            map_csvs=tuple(
                put_text(out_folder / f"{name}.csv", table(facts))
                for name, table in MAP_TABLES.items()
                if facts.maps
            ),
            reported_csv=(
                put_text(out_folder / "reported.csv", reported_csv(facts))
                if facts.reported.curves
                else None
            ),
            svgs=tuple(
                put_text(out_folder / f"{picture.name}.svg", _svg_file(picture.labelled()))
                for picture in page.pictures
            ),
        )
    except OSError as error:
        raise JournalError(
            f"{out_folder}: the report cannot be written ({error.strerror}); choose another folder"
        ) from None
    return Report(facts, answer(facts).headline, paths)


def _svg_file(svg: str) -> str:
    return f'<?xml version="1.0" encoding="utf-8"?>\n{svg}'


def put_text(path: Path, text: str) -> Path:
    """Write a file whole or not at all."""
    return _put_by(path, lambda file: file.write(text))


def _put_by(path: Path, write: Callable[[TextIO], object]) -> Path:
    """Write beside the path and rename, so that a reader never meets half a file."""
    descriptor, name = tempfile.mkstemp(prefix=f".{path.name}-", dir=path.parent)
    try:
        # newline="": a CSV or SVG has the same bytes on every system.
        with open(descriptor, "w", encoding="utf-8", newline="") as file:
            write(file)
        os.chmod(name, 0o644)
        os.replace(name, path)
    except BaseException:
        Path(name).unlink(missing_ok=True)
        raise
    return path
