"""Every outcome of a campaign in columns, as the open format Parquet has them."""

from collections.abc import Iterable
from itertools import islice
from typing import Any, BinaryIO

from solidcopy.campaigns.journal import JournalRow
from solidcopy.errors import ExportError
from solidcopy.reports.trial_columns import TRIAL_COLUMNS, Kind, trial_values

ROWS_AT_ONCE = 1 << 14
"""Held in memory, and one group of rows in the file."""


def write_trials_parquet(rows: Iterable[JournalRow], axis_unit: str, file: BinaryIO) -> int:
    """Every outcome as one row, streamed; each column says what it means in its own notes.

    Args:
        axis_unit: of the plan's axis; empty if it has none.
    Returns: number of outcomes written.
    Raises: ExportError if the library for it is not installed.
    """
    arrow, parquet = _libraries()
    schema = _schema(arrow)
    left, n_rows = iter(rows), 0
    with parquet.ParquetWriter(file, schema, compression="zstd") as writer:
        while some := list(islice(left, ROWS_AT_ONCE)):
            columns = zip(*(trial_values(row, axis_unit) for row in some), strict=True)
            arrays = [
                arrow.array(column, field.type)
                for column, field in zip(columns, schema, strict=True)
            ]
            writer.write_table(arrow.Table.from_arrays(arrays, schema=schema))
            n_rows += len(some)
    return n_rows


def _libraries() -> tuple[Any, Any]:
    try:
        import pyarrow  # noqa: PLC0415  (an extra that few need)
        import pyarrow.parquet  # noqa: PLC0415
    except ImportError:
        raise ExportError(
            "a .parquet file needs the library pyarrow, which is not installed here: give "
            "`pip install 'solidcopy[parquet]'`, or export to a .csv file"
        ) from None
    return pyarrow, pyarrow.parquet


def _schema(arrow: Any) -> Any:
    types = {
        Kind.WORDS: arrow.string(),
        Kind.COUNT: arrow.int64(),
        Kind.NUMBER: arrow.float64(),
    }
    return arrow.schema(
        [
            arrow.field(column.name, types[column.kind], metadata={"meaning": column.meaning})
            for column in TRIAL_COLUMNS
        ]
    )
