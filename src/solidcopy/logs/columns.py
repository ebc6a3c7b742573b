"""What the columns of a table hold: by what the user says, by their headings, by their cells."""

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

from solidcopy.errors import LogError
from solidcopy.logs import figures, words
from solidcopy.logs.clock import parse_clock, parse_compact_clock, parse_days, parse_instant
from solidcopy.logs.entry import Assumption, Role
from solidcopy.logs.layout import NAMED
from solidcopy.logs.numbers import decimal_mark, parse_number
from solidcopy.logs.table import MOST, Table

NUMERIC = (Role.SNR, Role.SNR_REFERENCE, Role.AUDIO, Role.OFFSET, Role.DIAL)
SINGLE = (*NUMERIC, Role.TIME, Role.DATE, Role.DIRECTION)
"""Roles that one column has; several columns of text are joined."""


@dataclass(frozen=True, slots=True)
class Columns:
    """Roles of all columns of a table."""

    roles: tuple[Role, ...]
    decimal: str
    """The decimal mark."""
    assumptions: tuple[Assumption, ...] = ()

    def places(self, role: Role) -> list[int]:
        """Columns that have a role."""
        return [place for place, one in enumerate(self.roles) if one is role]

    def place(self, role: Role) -> int | None:
        """The first column that has a role."""
        return next(iter(self.places(role)), None)


def asked_roles(text: str) -> tuple[Role, ...] | Mapping[str, Role]:
    """The words of `--columns`: roles in order, or roles by heading or number.

    Raises: LogError with what is allowed.
    """
    allowed = ", ".join(role.value for role in Role)
    by_name: dict[str, Role] = {}
    in_order: list[Role] = []
    for item in filter(None, (part.strip() for part in text.split(","))):
        word, equals, heading = item.partition("=")
        if word.strip() not in list(Role):
            raise LogError(f'--columns: "{word.strip()}" is no role; roles are {allowed}')
        if equals:
            by_name[heading.strip().lower()] = Role(word.strip())
        else:
            in_order.append(Role(word))
    if by_name and in_order:
        raise LogError('--columns: write all as "role=heading" or all as roles in order')
    if not by_name and not in_order:
        raise LogError(f"--columns: names no role; roles are {allowed}")
    return by_name or tuple(in_order)


def columns_of(table: Table, asked: tuple[Role, ...] | Mapping[str, Role] | None) -> Columns:
    """Roles of a table's columns, with what had to be assumed."""
    n_columns = len(table.names)
    decimal = decimal_mark(
        cell for place in range(n_columns) for cell in table.column(place) if _has_mark(cell)
    )
    said = () if decimal.is_certain else (
        Assumption('numbers like "1,234" were read with a comma between thousands'),
    )  # fmt: skip
    finder = _Finder(table, decimal.mark)
    if isinstance(asked, tuple) and len(asked) == n_columns:
        return Columns(asked, decimal.mark, said)
    if isinstance(asked, Mapping):
        finder.take_asked(asked)
    finder.take_headings()
    finder.take_cells()
    return Columns(tuple(finder.roles), decimal.mark, (*said, *finder.assumptions))


def _has_mark(cell: str) -> bool:
    """Times and dates hold points as well; they say nothing about decimals."""
    return not (parse_clock(cell) or parse_days(cell) or parse_instant(cell))


def _scale(unit: str, name: str) -> float:
    """To Hz and s, from units that stand behind a number or in the heading."""
    named = (unit, *words.plain(name).split())
    return 1000.0 if "khz" in named else 0.001 if "ms" in named else 1.0


def _says_something(cell: str) -> bool:
    """A mere mark such as "--" or "?" stands for a missing value."""
    return any(character.isalnum() for character in cell)


class _Finder:
    """Gives roles to columns, best evidence first."""

    def __init__(self, table: Table, decimal: str) -> None:
        self._table = table
        self._cells = [table.column(place) for place in range(len(table.names))]
        self._numbers = [
            [
                number.value * _scale(number.unit, name)
                for cell in cells
                if (number := parse_number(cell, decimal)) and number.unit != "%"
            ]
            for name, cells in zip(table.names, self._cells, strict=True)
        ]
        self._is_taken = [False] * len(self._cells)
        self.roles = [Role.OTHER] * len(self._cells)
        self.assumptions: list[Assumption] = []
        self._guessed: list[str] = []

    def take_asked(self, asked: Mapping[str, Role]) -> None:
        for place, name in enumerate(self._table.names):
            role = asked.get(name.strip().lower()) or asked.get(str(place + 1))
            if role is not None:
                self._give(place, role)

    def take_headings(self) -> None:
        """Roles that headings announce and cells do not contradict."""
        if self._table.heading is None:
            return
        for place, name in enumerate(self._table.names):
            role = self._announced(place, name)
            if self._is_taken[place] or role is None or not self._cells[place]:
                continue
            if not self._suits(place, role):
                self.assumptions.append(
                    Assumption(
                        f'column "{name}" is headed like {role.value} but '
                        f'"{self._cells[place][0]}" is none; it was kept unread',
                        "--columns",
                    )
                )
                self._is_taken[place] = True
            elif role in SINGLE and role in self.roles and not self._names_cells():
                continue
            else:
                self._give(place, role)

    def take_cells(self) -> None:
        """Roles that the cells alone show, for those that no heading gave."""
        self._guess(Role.TIME, lambda place: self._share(place, parse_instant))
        self._guess(Role.TIME, lambda place: self._share(place, parse_clock))
        self._guess(Role.TIME, self._compact_time)
        if not self._has_dates():
            self._guess(Role.DATE, self._date)
        self._guess(Role.DIRECTION, self._direction)
        self._guess(Role.TEXT, self._wordiness)
        if self._table.heading is None:
            for role, form in figures.BY_FIGURES.items():
                self._guess_number(role, form)
        if self._guessed:
            guessed = ", ".join(self._guessed)
            self.assumptions.append(Assumption(f"by its figures, {guessed}", "--columns"))

    def _announced(self, place: int, name: str) -> Role | None:
        role = words.role_of(name)
        numbers = self._numbers[place]
        if role is Role.SNR_REFERENCE and numbers and min(numbers) < figures.MIN_BANDWIDTH_HZ:
            return Role.SNR  # the heading names the bandwidth, the cells hold the SNR
        if role is Role.TIME and self._share(place, parse_days) and not self._is_time(place):
            return Role.DATE
        if words.is_frequency(name) and numbers:
            found = Role.AUDIO if figures.is_audio(numbers) else Role.DIAL
            self._guessed.append(f'"{name}" looks like {found.value}')
            return found
        if role is Role.AUDIO and numbers and min(numbers) > figures.MAX_AUDIO_HZ:
            return Role.DIAL
        if role is Role.OFFSET and not figures.fits(role, numbers) and figures.is_audio(numbers):
            self._guessed.append(f'"{name}" looks like {Role.AUDIO.value}')
            return Role.AUDIO
        return role

    def _suits(self, place: int, role: Role) -> bool:
        if role in NUMERIC:
            numbers = self._numbers[place]
            return len(numbers) >= 0.5 * len(self._cells[place]) and figures.fits(role, numbers)
        if role is Role.TIME:
            return self._is_time(place)
        if role is Role.DATE:
            return self._share(place, parse_days) > 0
        if role is Role.DIRECTION:
            return self._share(place, words.direction_of) > 0
        return True

    def _is_time(self, place: int) -> bool:
        forms = (parse_clock, parse_instant, parse_compact_clock)
        return any(self._share(place, form) > 0 for form in forms)

    def _share(self, place: int, parse: Callable[[str], object]) -> float:
        """Share of a column's cells of one form; 0 if it is not nearly all."""
        cells = self._cells[place]
        n_read = sum(parse(cell) is not None for cell in cells)
        return n_read / len(cells) if cells and n_read >= MOST * len(cells) else 0.0

    def _has_dates(self) -> bool:
        return Role.DATE in self.roles or any(
            role is Role.TIME and self._share(place, parse_instant)
            for place, role in enumerate(self.roles)
        )

    def _compact_time(self, place: int) -> float:
        """Six digits rather than four, and of several such the one that changes most."""
        share = self._share(place, parse_compact_clock)
        if not share or len({len(cell.strip()) for cell in self._cells[place]}) > 1:
            return 0.0
        n_digits = len(re.sub(r"\D", "", self._cells[place][0]))
        return share * (10.0 * (n_digits == 6) + len(set(self._cells[place])) / len(self._cells))

    def _date(self, place: int) -> float:
        return self._share(place, parse_days)

    def _direction(self, place: int) -> float:
        found = {words.direction_of(cell) for cell in self._cells[place]}
        has_word = any(len(cell.strip()) > 1 for cell in self._cells[place])
        is_direction = found and None not in found and (len(found) == 2 or has_word)
        return 1.0 if is_direction else 0.0

    def _wordiness(self, place: int) -> float:
        """Mean number of words with letters; a label that never changes is no message."""
        cells = self._cells[place]
        if not cells or (len(cells) > 2 and len(set(cells)) == 1 and " " not in cells[0]):
            return 0.0
        n_words = [len(re.findall(r"\S*[A-Za-z]\S*", cell)) for cell in cells]
        is_text = sum(n > 0 for n in n_words) >= MOST * len(cells)
        return (
            sum(n_words) / len(cells) if is_text and not self._share(place, parse_number) else 0.0
        )

    def _guess(self, role: Role, merit: Callable[[int], float]) -> None:
        """Give a role to the free column of highest merit, if no column has it yet."""
        if role in self.roles:
            return
        free = [place for place, is_taken in enumerate(self._is_taken) if not is_taken]
        best = max(free, key=merit, default=None)
        if best is not None and merit(best) > 0:
            self._give(best, role)

    def _guess_number(self, role: Role, is_such: Callable[[Sequence[float]], bool]) -> None:
        """Give a role to the one free column whose figures suit; to none if several do."""
        if role in self.roles:
            return
        free = [
            place
            for place, numbers in enumerate(self._numbers)
            if not self._is_taken[place]
            and len(numbers) >= MOST * max(1, sum(map(_says_something, self._cells[place])))
            and is_such(numbers)
        ]
        is_snr_known = role is not Role.OFFSET or Role.SNR in self.roles
        if len(free) == 1 and is_snr_known:
            self._give(free[0], role)
            self._guessed.append(f"{self._table.names[free[0]]} looks like {role.value}")
        elif free:
            named = " and ".join(self._table.names[place] for place in free)
            could = role.value if is_snr_known else f"{role.value} or {Role.SNR.value}"
            self.assumptions.append(Assumption(f"{named} could be {could}: not read", "--columns"))
            for place in free:
                self._is_taken[place] = True

    def _names_cells(self) -> bool:
        return self._table.dialect in NAMED

    def _give(self, place: int, role: Role) -> None:
        self.roles[place] = role
        self._is_taken[place] = True


def with_text_place(roles: tuple[Role, ...]) -> int | None:
    """Where the text stands among roles given in order; None unless one column has it."""
    return roles.index(Role.TEXT) if roles.count(Role.TEXT) == 1 else None
