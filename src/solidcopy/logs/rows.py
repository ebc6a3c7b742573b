"""From the rows of a table to what each says: a time, a text and the figures beside it."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

from solidcopy.logs import words
from solidcopy.logs.clock import When, parse_days, parse_when
from solidcopy.logs.columns import Columns
from solidcopy.logs.confession import Confession, listed
from solidcopy.logs.entry import Line, ReadOptions, Role
from solidcopy.logs.figures import dial_hz
from solidcopy.logs.layout import NAMED, Row
from solidcopy.logs.numbers import N_REMEMBERED, eased, parse_number
from solidcopy.logs.table import Table

NO_TIME = "no time that can be read"
NO_TEXT = "no message text"
SENT = "sent, not received"


@dataclass(frozen=True, slots=True)
class Heard:
    """One row, before its time is known in UTC."""

    line: Line
    piece: int
    """As of its row."""
    when: When
    text: str
    numbers: dict[Role, float]
    other: dict[str, str]


def is_sent(tokens: Sequence[str]) -> bool:
    """Whether a line marks itself as transmitted before any word of its text."""
    for token in tokens:
        if eased(token).lower().strip("[]():.") in words.SENT_WORDS:
            return True
        if any(character.isalpha() for character in token) and not parse_when(token):
            return False
    return False


class RowReader:
    """Reads the rows of one table."""

    def __init__(
        self, table: Table, columns: Columns, options: ReadOptions, confession: Confession
    ) -> None:
        self._table = table
        self._columns = columns
        self._options = options
        self._confession = confession
        # A log may have millions of rows: what all of them share is looked up once.
        self._places = {role: columns.places(role) for role in Role}
        self._others_at = [
            (place, name, role)
            for place, (name, role) in enumerate(zip(table.names, columns.roles, strict=True))
            if role in (Role.OTHER, Role.SNR)
        ]
        clock = words.clock_named(table.names[self._places[Role.TIME][0]])
        self._is_in_utc = clock == "UTC" and options.times_in is None
        self._whens: dict[tuple[str, str], When | None] = {}
        """Of the last cells: many lines have one slot."""
        self._blank: dict[Role, list[int]] = {}
        """Lines whose cell holds no number, by role."""
        self._strange: dict[Role, str] = {}
        self._unsure_snr = False

    @property
    def has_unsure_snr(self) -> bool:
        """Whether an SNR was met whose reference bandwidth nobody named."""
        return self._unsure_snr

    def heard(self) -> Iterator[Heard]:
        """All rows that hold a received message; the others go into the confession."""
        dropped: dict[str, list[Line]] = {}
        for row in self._table.rows:
            found = self._read(row)
            if isinstance(found, Heard):
                yield found
            else:
                dropped.setdefault(found, []).append(row.line)
        for reason, lines in dropped.items():
            self._confession.drop(reason, lines)
        for role, numbers in self._blank.items():
            self._confession.assume(
                f"no number in the {role.value} cell of {listed(numbers)} (e.g. "
                f'"{self._strange[role]}"): left empty'
            )

    def _read(self, row: Row) -> Heard | str:
        direction = self._cell(row, Role.DIRECTION)
        if direction and words.direction_of(direction) == "sent":
            return SENT
        text = " ".join(
            row.cells[place].strip() for place in self._text_places(row) if row.cells[place].strip()
        )
        when = self._when(row)
        if when is None:
            return NO_TIME
        if not text:
            return NO_TEXT
        numbers = dict(self._numbers(row))
        return Heard(row.line, row.piece, when, text, numbers, self._others(row, numbers))

    def _text_places(self, row: Row) -> list[int]:
        """All columns of text; where lines name their cells, the first that holds any."""
        places = self._places[Role.TEXT]
        if self._table.dialect in NAMED:
            return [place for place in places if row.cells[place].strip()][:1]
        return places

    def _cell(self, row: Row, role: Role) -> str:
        """The first cell of a role that holds something."""
        for place in self._places[role]:
            if cell := row.cells[place].strip():
                return cell
        return ""

    def _when(self, row: Row) -> When | None:
        cells = self._cell(row, Role.TIME), self._cell(row, Role.DATE)
        if cells not in self._whens:
            if len(self._whens) >= N_REMEMBERED:
                self._whens.clear()
            self._whens[cells] = self._parsed_when(*cells)
        return self._whens[cells]

    def _parsed_when(self, cell: str, date_cell: str) -> When | None:
        when = parse_when(cell) if cell else None
        if when is not None and not when.is_epoch and when.days is None and date_cell:
            days = parse_days(date_cell)
            when = None if days is None else replace(when, days=days)
        if when is not None and self._is_in_utc and when.offset_s is None:
            when = replace(when, offset_s=0)
        return when

    def _numbers(self, row: Row) -> Iterator[tuple[Role, float]]:
        for role in (Role.SNR, Role.AUDIO, Role.OFFSET, Role.DIAL):
            cell = self._cell(row, role)
            if not cell:
                continue
            number = parse_number(cell, self._columns.decimal)
            if number is None:
                self._blank.setdefault(role, []).append(row.line.number)
                self._strange.setdefault(role, cell)
                continue
            place = next(p for p in self._places[role] if row.cells[p].strip())
            unit = number.unit or _unit_named(self._table.names[place])
            value = number.value
            if role is Role.DIAL:
                value = dial_hz(value, unit)
            elif role is Role.SNR:
                reference_hz = self._reference_hz(row, self._table.names[place])
                if reference_hz is None:
                    self._unsure_snr = True
                    continue
                yield Role.SNR_REFERENCE, reference_hz
            yield role, value * _FACTORS.get((role, unit), 1.0)

    def _reference_hz(self, row: Row, name: str) -> float | None:
        """Of the row's own cell, else of the heading; what the user says goes before both."""
        if self._options.snr_reference_hz is not None:
            return self._options.snr_reference_hz
        number = parse_number(self._cell(row, Role.SNR_REFERENCE), self._columns.decimal)
        if number is not None and number.value > 0.0:
            return number.value * (1000.0 if number.unit == "khz" else 1.0)
        return words.reference_hz(name)

    def _others(self, row: Row, numbers: dict[Role, float]) -> dict[str, str]:
        """Cells without a role, and the SNR that could not be used."""
        return {
            name: cell
            for place, name, role in self._others_at
            if (role is Role.OTHER or Role.SNR not in numbers)
            and (cell := row.cells[place].strip())
        }


@lru_cache(maxsize=N_REMEMBERED)
def _unit_named(heading: str) -> str:
    """The unit in a heading; "" if it names none."""
    return next(filter(_UNITS.__contains__, words.plain(heading).split()), "")


_UNITS = frozenset(("mhz", "khz", "hz", "ms"))
_FACTORS = {(Role.AUDIO, "khz"): 1000.0, (Role.OFFSET, "ms"): 0.001}
