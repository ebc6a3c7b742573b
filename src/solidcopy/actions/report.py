"""Write the report of a campaign."""

from pathlib import Path

from solidcopy.actions.folder import REPORT_FOLDER, existing_folder
from solidcopy.reports.write import Report
from solidcopy.reports.write import write_report as write_files


def write_report(source: Path, out: Path | None, *, with_pdf: bool = False) -> Report:
    """The report of a campaign, finished or not; in its folder unless `out` names another."""
    folder = existing_folder(source)
    return write_files(folder, out or folder / REPORT_FOLDER, with_pdf=with_pdf)
