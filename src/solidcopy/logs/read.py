"""Read a log of any layout, and confess what that took."""

import json
from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime

from solidcopy.errors import LogError
from solidcopy.logs import words
from solidcopy.logs.columns import Columns, asked_roles, columns_of, with_text_place
from solidcopy.logs.confession import Confession, Weight, listed
from solidcopy.logs.days import Moment, Source
from solidcopy.logs.entry import Entry, Line, LogReading, ReadOptions, Role
from solidcopy.logs.layout import Block, Dialect, Lines, sorted_lines
from solidcopy.logs.records import whole_records
from solidcopy.logs.rows import SENT, Heard, RowReader, is_sent
from solidcopy.logs.stamps import utc_of
from solidcopy.logs.table import Table, table_of
from solidcopy.logs.text_file import TextFile, read_text

Asked = tuple[Role, ...] | Mapping[str, Role] | None

CUT = "half written: the file ends in the middle of the line"


def read_log(
    content: bytes, *, name: str, modified_utc: datetime, options: ReadOptions | None = None
) -> LogReading:
    """All received messages of a log, with what was assumed and dropped.

    Args:
        content: the bytes of the file.
        name: of the file; a date or a year in it counts where the lines have none.
        modified_utc: when the file was last written; counts where nothing else dates it.
        options: what the user says about the file.
    Raises: LogError if the file is empty or no text, or an option cannot be used.
    """
    chosen = options or ReadOptions()
    return _Reader(read_text(content, name), name, modified_utc, chosen).reading()


class _Reader:
    """One file on its way to entries."""

    def __init__(
        self, text: TextFile, name: str, modified_utc: datetime, options: ReadOptions
    ) -> None:
        self._text = text
        self._name = name
        self._modified_utc = modified_utc
        self._options = options
        self._asked: Asked = asked_roles(options.columns) if options.columns else None
        self._confession = Confession([f"encoding: {text.encoding}"], list(text.assumptions))
        self._is_local = False
        """A heading says that the times are local."""
        is_open = text.is_last_line_open and not options.keep_last_line
        self._open_line = text.lines[-1] if is_open else None

    def reading(self) -> LogReading:
        """The whole way."""
        lines = _listed_members(self._text.lines, self._confession)
        records = whole_records(lines)
        if len(records) < len(lines):
            self._confession.found.append(
                f"quoted cells go over several lines: {len(lines)} lines are {len(records)}"
            )
        lines = records
        named = self._asked if isinstance(self._asked, Mapping) else {}
        ordered = sorted_lines(lines, frozenset(named))
        self._refuse_unknown(named, ordered)
        heard = self._heard(ordered)
        source = Source(
            self._name,
            self._modified_utc,
            ordered.dates,
            self._is_local,
            next((line.number for line in ordered.remarks if words.says_utc(line.raw)), None),
        )
        moments = [Moment(item.line.number, block, item.piece, item.when) for block, item in heard]
        utc = utc_of(moments, source, self._options, self._confession)
        entries = self._entries([item for _, item in heard], utc)
        self._confess_lines(ordered)
        return LogReading(
            entries=entries,
            found=tuple(self._confession.found),
            assumptions=tuple(self._confession.assumptions),
            dropped=self._confession.dropped(),
            question=self._confession.question(),
            n_lines=len(self._text.lines),
        )

    def _refuse_unknown(self, named: Mapping[str, Role], ordered: Lines) -> None:
        """LogError for a column that the user names and the file does not have."""
        if not named:
            return
        tables = [table_of(block) for block in ordered.blocks]
        have = [name.strip() for table in tables for name in table.names]
        known = {name.lower() for name in have}
        most = max((len(table.names) for table in tables), default=0)
        for name in named:
            if name not in known and not (name.isdigit() and 1 <= int(name) <= most):
                listed_names = ", ".join(dict.fromkeys(have)) or "none"
                raise LogError(f'--columns: there is no column "{name}"; there are {listed_names}')

    def _heard(self, ordered: Lines) -> list[tuple[int, Heard]]:
        """Received messages with the number of their block, in the order of their lines."""
        heard: list[tuple[int, Heard]] = []
        for number, block in enumerate(ordered.blocks):
            is_alone = len(ordered.blocks) > 1 and len(block.rows) == 1
            if is_alone and block.rows[0].line is self._open_line:
                self._drop("another layout than the lines around it", [block.rows[0].line])
                continue
            heard += [(number, item) for item in self._heard_in(block)]
            del block.rows[1:]  # cells take more room than all that is kept of them
        kept = [pair for pair in heard if not self._is_cut(pair[1])]
        return sorted(kept, key=lambda pair: pair[1].line.number)

    def _is_cut(self, item: Heard) -> bool:
        """Whether the file ends in the middle of an entry's text, for all one can tell."""
        if item.line is not self._open_line:
            return False
        where = f"the file has no line end after line {item.line.number}, so"
        if item.line.raw.rstrip().endswith(item.text.split()[-1]):
            self._confession.assume(f"{where} its text may be cut: dropped", "--keep-last-line")
            self._confession.drop(CUT, [item.line])
            return True
        self._confession.assume(f"{where} its last figure may be cut: kept")
        return False

    def _drop(self, reason: str, lines: Iterable[Line]) -> None:
        """As the confession has it, but an unfinished last line has a reason of its own."""
        lines = list(lines)
        self._confession.drop(CUT, [line for line in lines if line is self._open_line])
        self._confession.drop(reason, [line for line in lines if line is not self._open_line])

    def _heard_in(self, block: Block) -> Iterable[Heard]:
        sent = []
        if block.dialect is Dialect.BLANKS:
            sent = [row.line for row in block.rows if is_sent(row.cells)]
            self._confession.drop(SENT, sent)
            numbers = {line.number for line in sent}
            block.rows = [row for row in block.rows if row.line.number not in numbers]
        if not block.rows:
            return []
        table = self._table(block)
        self._drop("another layout than the lines around it", table.broken)
        if not table.rows:
            return []
        columns = columns_of(table, self._asked)
        missing = [role.value for role in (Role.TIME, Role.TEXT) if columns.place(role) is None]
        if missing:
            self._confess_unread(table, missing)
            return []
        self._confess_columns(table, columns)
        reader = RowReader(table, columns, self._options, self._confession)
        heard = list(reader.heard())
        if reader.has_unsure_snr:
            self._confess_snr(table, columns)
        clock = words.clock_named(table.names[columns.places(Role.TIME)[0]])
        self._is_local |= clock == "local"
        return heard

    def _table(self, block: Block) -> Table:
        if isinstance(self._asked, tuple):
            return table_of(block, len(self._asked), with_text_place(self._asked))
        return table_of(block)

    def _confess_unread(self, table: Table, missing: Sequence[str]) -> None:
        what = " and no ".join(missing)
        self._drop(f"no {what} column was found", [row.line for row in table.rows])
        example = table.rows[0]
        cells = " | ".join(cell.strip() for cell in example.cells)
        self._confession.ask(
            Weight.COLUMNS,
            f"Which column is the {' and which the '.join(missing)} in line "
            f"{example.line.number}: {cells}?",
            "--columns",
        )

    def _confess_columns(self, table: Table, columns: Columns) -> None:
        numbers = [row.line.number for row in table.rows]
        shown = [
            f"{role.value} = {name}" if table.heading else f"{place}: {role.value}"
            for place, (name, role) in enumerate(zip(table.names, columns.roles, strict=True), 1)
            if role is not Role.OTHER
        ]
        unread = [
            name
            for name, role in zip(table.names, columns.roles, strict=True)
            if role is Role.OTHER and name.strip()
        ]
        kept = f"; kept unread: {', '.join(unread)}" if unread else ""
        comma = "; decimal comma" if columns.decimal == "," else ""
        self._confession.found.append(
            f"lines {numbers[0]} to {numbers[-1]} ({len(numbers)}): {table.dialect.value}; "
            f"{', '.join(shown)}{kept}{comma}"
        )
        for said in columns.assumptions:
            self._confession.assume(said.sentence, said.option)

    def _confess_snr(self, table: Table, columns: Columns) -> None:
        place = columns.place(Role.SNR)
        assert place is not None
        self._confession.assume(
            f"the SNR ({table.names[place]}) was not used, as its reference bandwidth is not "
            "said; everything else was",
            "--snr-reference-hz",
        )
        self._confession.ask(
            Weight.SNR_REFERENCE,
            f"To which bandwidth in Hz does the SNR ({table.names[place]}) refer?",
            "--snr-reference-hz",
        )

    def _entries(self, heard: Sequence[Heard], utc: Mapping[int, datetime]) -> tuple[Entry, ...]:
        entries: dict[tuple[object, ...], Entry] = {}
        twice: list[Line] = []
        for item in heard:
            stamp = utc.get(item.line.number)
            if stamp is None:
                self._confession.drop("a date or time that does not exist", [item.line])
                continue
            entry = Entry(
                line=item.line,
                utc=stamp,
                text=item.text,
                snr_db=item.numbers.get(Role.SNR),
                snr_reference_hz=item.numbers.get(Role.SNR_REFERENCE),
                audio_hz=item.numbers.get(Role.AUDIO),
                time_offset_s=item.numbers.get(Role.OFFSET),
                dial_hz=item.numbers.get(Role.DIAL),
                other=item.other,
            )
            if entry.content() in entries:
                twice.append(item.line)
            else:
                entries[entry.content()] = entry
        self._confession.drop("the same as an earlier line", twice)
        return tuple(sorted(entries.values(), key=lambda e: (e.utc, e.line.number)))

    def _confess_lines(self, ordered: Lines) -> None:
        self._drop("empty", ordered.empty)
        for reason, lines in (
            ("no time on it", ordered.remarks),
            ("another layout than the lines around it", ordered.strays),
        ):
            self._confession.drop(SENT, [line for line in lines if is_sent(_tokens(line))])
            self._drop(reason, [line for line in lines if not is_sent(_tokens(line))])
        self._drop("a heading again", ordered.repeated)
        starts = [block.rows[0].line.number for block in ordered.blocks if block.rows]
        if len(starts) > 1:
            self._confession.found.append(f"{len(starts)} layouts, beginning at {listed(starts)}")


def _tokens(line: Line) -> list[str]:
    return line.raw.replace(";", " ").replace(",", " ").replace("|", " ").split()


def _listed_members(lines: Sequence[Line], confession: Confession) -> Sequence[Line]:
    """One JSON list of objects becomes JSON lines."""
    if not lines or not lines[0].raw.lstrip().startswith("["):
        return lines
    try:
        members = json.loads("\n".join(line.raw for line in lines))
    except json.JSONDecodeError:
        return lines
    if not isinstance(members, list):
        raise LogError("a JSON file must hold a list of objects, or one object on each line")
    confession.assume("the file is one JSON list: line numbers count its members")
    return [Line(n, json.dumps(member, ensure_ascii=False)) for n, member in enumerate(members, 1)]
