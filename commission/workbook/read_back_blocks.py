"""The block of a typed table in a sheet that came back -> the text that a person would type.

The block is found by the names of its ranges, which grow with rows and columns inserted in
them. Lines typed right below or beside it are read too: whoever typed them meant them.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass

from commission.language import spoken
from commission.workbook.addresses import column_letters
from commission.workbook.incoming_tables import (
    CellValue,
    Formula,
    IncomingSheet,
    Unread,
    shown,
)
from commission.workbook.read_back_cells import Holds, ReturnedCell, one_line
from commission.workbook.typed_tables import TYPED

_END = f"_body_{TYPED}"
_RANGE = re.compile(
    r"^=?\$?(?:'((?:[^']|'')+)'|([^'!\[\]]+))!\$?([A-Za-z]{1,3})\$?([1-9]\d{0,6})"
    r"(?::\$?([A-Za-z]{1,3})\$?([1-9]\d{0,6}))?$"
)
_MOST = 400  # rows or columns of one table that are looked at
_CORNER = "/"


@dataclass(frozen=True, slots=True)
class Block:
    """Where a range stands: sheet, first and last row and column, counted from 1."""

    sheet: IncomingSheet
    first_row: int
    first_column: int
    last_row: int
    last_column: int

    @property
    def place(self) -> str:
        """The range as a person would find it."""
        ends = (
            f"{column_letters(self.first_column - 1)}{self.first_row}",
            f"{column_letters(self.last_column - 1)}{self.last_row}",
        )
        return f"{self.sheet.title}!{':'.join(ends)}"


def block_at(where: str, sheets: Mapping[str, IncomingSheet]) -> Block | None:
    """Return the range a name refers to, or None if it is gone."""
    found = _RANGE.match(where)
    title = (found[1] or found[2]).replace("''", "'") if found else ""
    if found is None or title not in sheets:
        return None
    first, last = _number_of(found[3]), _number_of(found[5] or found[3])
    return Block(sheets[title], int(found[4]), first, int(found[6] or found[4]), last)


def returned_table(
    name: str, names: Mapping[str, str], sheets: Mapping[str, IncomingSheet]
) -> ReturnedCell | str:
    """Return a table as one text, or in words why it cannot be found.

    Args:
        name: The defined name of its values, which ends in "_body_typed".
    """
    start = name.removesuffix(_END)
    wanted = (f"{start}_rows_{TYPED}", name, f"{start}_columns_{TYPED}")
    found = {end: block_at(names.get(end, ""), sheets) for end in wanted}
    rows, body, columns = (found[end] for end in wanted)
    if rows is None or body is None or (columns is None and wanted[2] in names):
        gone = next(end for end in wanted if found[end] is None)
        return spoken(
            "its block of cells was deleted (the name {gone}). Enter the table by hand.", gone=gone
        )
    return _Reading(body, rows.first_column, columns.first_row if columns else None).cell()


@dataclass(frozen=True, slots=True)
class _Reading:
    body: Block
    row_heads: int
    column_heads: int | None

    def cell(self) -> ReturnedCell:
        """Return the block as one cell: what is odd in it, else its text."""
        rows = self._line(self.body.first_row, self.body.last_row, self._head_of_row)
        columns = [self.body.first_column]
        if self.column_heads is not None:
            ends = self.body.first_column, self.body.last_column
            columns = self._line(*ends, self._head_of_column)
        rows = [row for row in rows if self._holds(row, [self.row_heads, *columns])]
        heads = [] if self.column_heads is None else [self.column_heads]
        columns = [column for column in columns if self._is_used(column, [*heads, *rows])]
        odd = self._odd(rows, columns)
        if odd is not None:
            return odd
        if not rows and not columns:
            return ReturnedCell(self.body.place, Holds.NOTHING)
        return ReturnedCell(self.body.place, Holds.TEXT, self._text(rows, columns))

    def _head_of_row(self, row: int) -> CellValue | None:
        return self.body.sheet.value(row, self.row_heads)

    def _head_of_column(self, column: int) -> CellValue | None:
        return self.body.sheet.value(self.column_heads or 0, column)

    def _line(self, first: int, last: int, head: Callable[[int], CellValue | None]) -> list[int]:
        """Return the rows or columns of the block and those typed right behind it."""
        last = min(last, first + _MOST)
        while isinstance(head(last + 1), float) and last < first + _MOST:
            last += 1
        return list(range(first, last + 1))

    def _holds(self, row: int, columns: list[int]) -> bool:
        return any(not _is_empty(self.body.sheet.value(row, column)) for column in columns)

    def _is_used(self, column: int, rows: list[int]) -> bool:
        if self.column_heads is None:
            return bool(rows)
        return any(not _is_empty(self.body.sheet.value(row, column)) for row in rows)

    def _odd(self, rows: list[int], columns: list[int]) -> ReturnedCell | None:
        """Return the first cell that holds a formula, an error or the like."""
        heads = [] if self.column_heads is None else [self.column_heads]
        places = [(row, column) for row in heads for column in columns]
        places += [(row, column) for row in rows for column in (self.row_heads, *columns)]
        for row, column in places:
            value = self.body.sheet.value(row, column)
            if isinstance(value, Formula | Unread):
                kind = Holds.FORMULA if isinstance(value, Formula) else Holds.OTHER
                place = f"{self.body.sheet.title}!{column_letters(column - 1)}{row}"
                return ReturnedCell(place, kind, shown(value))
        return None

    def _text(self, rows: list[int], columns: list[int]) -> str:
        lines = []
        if self.column_heads is not None:
            lines.append([_CORNER, *(self._typed(self.column_heads, at) for at in columns)])
        for row in rows:
            lines.append([self._typed(row, at) for at in (self.row_heads, *columns)])
        return "\n".join("\t".join(line) for line in lines)

    def _typed(self, row: int, column: int) -> str:
        value = self.body.sheet.value(row, column)
        return "" if value is None else one_line(shown(value))


def _is_empty(value: CellValue | None) -> bool:
    return value is None or (isinstance(value, str) and not value.strip())


def _number_of(letters: str) -> int:
    number = 0
    for letter in letters.upper():
        number = number * 26 + ord(letter) - 64
    return number
