"""All outcomes of a campaign in one table for other programs."""

from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any, BinaryIO

from solidcopy.actions.folder import existing_folder
from solidcopy.campaigns.journal import JournalReader
from solidcopy.errors import ExportError
from solidcopy.reports.tables import write_trials_csv
from solidcopy.reports.trials_parquet import write_trials_parquet
from solidcopy.reports.whole_file import put_by, put_lines

ENDINGS = (".csv", ".parquet")


@dataclass(frozen=True, slots=True)
class Exported:
    """A table as written."""

    path: str
    n_outcomes: int
    n_bytes: int

    def text(self) -> str:
        """For a person."""
        return f"{self.n_outcomes} outcomes, {self.n_bytes / 1e6:.1f} MB: {self.path}"

    def as_dict(self) -> dict[str, Any]:
        """For a program."""
        return asdict(self)


def export(source: Path, out: Path, *, may_replace: bool = False) -> Exported:
    """Write all outcomes that a campaign's plan asks for, one a line, as they are at one moment.

    Memory does not grow with their number. The file appears whole or not at all.

    Args:
        source: campaign folder or plan file.
        out: its ending says which kind of table: .csv or .parquet.
        may_replace: write over a file that is there.
    Raises: JournalError if nothing was begun; ExportError if the file cannot be written.
    """
    folder = existing_folder(source)
    if out.suffix.lower() not in ENDINGS:
        raise ExportError(
            f"{out}: the ending says which kind of table is written; allowed are "
            f"{' and '.join(ENDINGS)}"
        )
    if out.exists() and not may_replace:
        raise ExportError(f"{out} exists: choose another file, or add --replace")
    with JournalReader(folder) as reader, reader.snapshot():
        try:
            n_outcomes = _write(reader, out)
        except OSError as error:
            raise ExportError(
                f"{out}: cannot be written ({error.strerror or error}); nothing was left there; "
                "make room or choose another place"
            ) from None
    return Exported(str(out.resolve()), n_outcomes, out.stat().st_size)


def _write(reader: JournalReader, out: Path) -> int:
    rows, unit, written = reader.rows(), reader.axis_unit, []

    def in_columns(file: BinaryIO) -> None:
        written.append(write_trials_parquet(rows, unit, file))

    if out.suffix.lower() == ".parquet":
        put_by(out, in_columns)
    else:
        put_lines(out, lambda file: written.append(write_trials_csv(rows, unit, file)))
    return written[0]
