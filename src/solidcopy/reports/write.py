"""From a journal to the files of a report. Each file appears whole or not at all."""

from dataclasses import dataclass
from pathlib import Path

from solidcopy.campaigns.journal import JournalReader
from solidcopy.errors import JournalError
from solidcopy.reports.answer import answer
from solidcopy.reports.facts import CampaignFacts
from solidcopy.reports.gather import gather
from solidcopy.reports.map_tables import map_shares_csv, map_thresholds_csv
from solidcopy.reports.page import ShownPage, page_html, sampled, shown_page
from solidcopy.reports.reported_tables import reported_csv
from solidcopy.reports.samples import sample_facts
from solidcopy.reports.tables import curves_csv, facts_json, write_trials_csv
from solidcopy.reports.whole_file import put_bytes, put_lines, put_text

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
    pdf: Path | None
    """None where none was asked for."""

    @property
    def csvs(self) -> tuple[Path, ...]:
        """All tables."""
        reported = () if self.reported_csv is None else (self.reported_csv,)
        return (self.curves_csv, self.trials_csv, *self.map_csvs, *reported)

    @property
    def all(self) -> tuple[Path, ...]:
        """Every file of the report."""
        pdf = () if self.pdf is None else (self.pdf,)
        return (self.html, *pdf, self.json, *self.csvs, *self.svgs)


@dataclass(frozen=True, slots=True)
class Report:
    """A report as written."""

    facts: CampaignFacts
    headline: str
    paths: ReportPaths


def write_report(
    campaign: JournalReader | Path, out_folder: Path, *, with_pdf: bool = False
) -> Report:
    """Build the report of a campaign, finished or not.

    The same journal gives the same bytes: no clock is read.

    Args:
        campaign: an open journal, or the folder of a campaign.
        out_folder: made if missing; files of an earlier report are replaced.
        with_pdf: the page as PDF besides; otherwise one of an earlier state is removed.
    Raises: JournalError if there is no journal, or if the folder cannot be written.
    """
    if isinstance(campaign, Path):
        with JournalReader(campaign) as reader:
            shown = _gathered(reader, campaign.resolve().name)
            return _write(reader, *shown, out_folder, with_pdf=with_pdf)
    return _write(campaign, *_gathered(campaign, "CAMPAIGN-FOLDER"), out_folder, with_pdf=with_pdf)


def _gathered(reader: JournalReader, folder_name: str) -> tuple[CampaignFacts, ShownPage]:
    facts = gather(reader)
    names = [condition.name for condition in facts.conditions]
    samples = tuple(sample_facts(reader, facts, names.index(name)) for name in sampled(facts))
    return facts, shown_page(facts, samples, folder_name=folder_name)


def _write(
    reader: JournalReader,
    facts: CampaignFacts,
    page: ShownPage,
    out_folder: Path,
    *,
    with_pdf: bool,
) -> Report:
    """Every file anew. Where no PDF is asked for, one of another page than this goes."""
    html, pdf = page_html(page), out_folder / "report.pdf"
    with_pdf = with_pdf or (pdf.is_file() and _is_same(out_folder / "report.html", html))
    try:
        out_folder.mkdir(parents=True, exist_ok=True)
        paths = ReportPaths(
            html=put_text(out_folder / "report.html", html),
            json=put_text(out_folder / "facts.json", facts_json(facts)),
            curves_csv=put_text(out_folder / "curves.csv", curves_csv(facts)),
            trials_csv=put_lines(
                out_folder / "trials.csv",
                lambda file: write_trials_csv(reader.rows(), reader.axis_unit, file),
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
            pdf=_put_pdf(pdf, page if with_pdf else None),
        )
    except OSError as error:
        raise JournalError(
            f"{out_folder}: the report cannot be written ({error.strerror}); choose another folder"
        ) from None
    return Report(facts, answer(facts).headline, paths)


def _is_same(file: Path, text: str) -> bool:
    try:
        return file.read_bytes() == text.encode("utf-8")
    except FileNotFoundError:
        return False


def _svg_file(svg: str) -> str:
    return f'<?xml version="1.0" encoding="utf-8"?>\n{svg}'


def _put_pdf(path: Path, page: ShownPage | None) -> Path | None:
    if page is None:
        path.unlink(missing_ok=True)  # it would tell of an earlier state than the page beside it
        return None
    from solidcopy.reports.pdf import page_pdf  # noqa: PLC0415  (a typesetter that few runs need)

    return put_bytes(path, page_pdf(page))
