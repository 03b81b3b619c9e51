"""What a spreadsheet from outside holds: plain cells, whichever kind of file it came in.

Values keep their kind: a number is a float, a text a str, a day or time of day what the
spreadsheet made of it. `Formula` and `Unread` are texts that must not be taken for readings.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime, time
from pathlib import Path


class Formula(str):
    """The text of a formula behind its "="."""

    __slots__ = ()


class Unread(str):
    """What is shown but is no reading: TRUE, #DIV/0!."""

    __slots__ = ()


CellValue = float | str | date | datetime | time | Formula | Unread
Rows = dict[int, dict[int, CellValue]]


@dataclass(frozen=True, slots=True)
class IncomingSheet:
    """One sheet; rows and columns count from 1, and empty cells are not in it."""

    title: str
    visible: bool
    rows: Mapping[int, Mapping[int, CellValue]]

    @property
    def last_row(self) -> int:
        """The number of the last row that holds anything, 0 for none."""
        return max(self.rows, default=0)

    @property
    def last_column(self) -> int:
        """The number of the last column that holds anything, 0 for none."""
        return max((max(row, default=0) for row in self.rows.values()), default=0)

    def value(self, row: int, column: int) -> CellValue | None:
        """Return what a cell holds, or None."""
        return self.rows.get(row, {}).get(column)

    def text(self, row: int, column: int) -> str:
        """Return what a cell holds as it would be typed, "" for nothing."""
        value = self.value(row, column)
        return "" if value is None else shown(value)


@dataclass(frozen=True, slots=True)
class IncomingTables:
    """A file that passed the gate: its sheets, and in sentences what of it is not read."""

    path: Path
    set_aside: tuple[str, ...]
    sheets: tuple[IncomingSheet, ...]
    names: Mapping[str, str] = field(default_factory=dict)


def shown(value: CellValue) -> str:
    """Return a cell's content as it is typed here: digits without end, ISO days and times."""
    if isinstance(value, Formula):
        return f"={value}"
    if isinstance(value, str):
        return value.strip()
    if isinstance(value, datetime) and value.time() == time(0):
        return value.date().isoformat()
    if isinstance(value, datetime | date | time):
        return value.isoformat()
    number = float(value)
    return str(int(number)) if number.is_integer() and abs(number) < 1e15 else repr(number)
