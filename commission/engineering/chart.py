"""A table typed from a unit's literature: kept as text, read between its lines.

Rows and, where it has them, columns are given in rising order; corners may be empty. Between
the lines a table is read linearly in each direction; nothing is read outside it, nor next
to a corner that it leaves empty.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

from commission.errors import ReadingError
from commission.language import spoken, to_say

MOST_ROWS = 60
MOST_COLUMNS = 30
_CORNER = "/"
_ROW, _COLUMN = to_say("row"), to_say("column")
_ROWS, _COLUMNS = to_say("rows"), to_say("columns")
# Spreadsheets compare numbers to about 14 digits; a place on a line must be one for both.
_LAST_BITS = 2.0**-48
_SOURCE_NEEDED = to_say("Take the reading inside the table, or use another method.")


@dataclass(frozen=True, slots=True)
class Place:
    """Where a value lies among the lines of one direction.

    `low` and `high` count from 0 and are the same on a line; `share` is 0 at `low` and would
    be 1 at `high`.
    """

    low: int
    high: int
    share: float


@dataclass(frozen=True, slots=True)
class Bracket:
    """The lines and the up to four values between which a table is read."""

    rows: tuple[float, ...]
    columns: tuple[float, ...]
    values: tuple[tuple[float, ...], ...]


@dataclass(frozen=True, slots=True)
class Chart:
    """A table of one or two directions.

    `columns` is empty for a table of one direction; `body` holds one line a row and one
    value a column (one in all where there are no columns), None where it is left empty.
    """

    rows: tuple[float, ...]
    columns: tuple[float, ...]
    body: tuple[tuple[float | None, ...], ...]

    def read(self, row: float, column: float | None = None) -> float:
        """Return the value at a row and a column, linearly between the lines.

        Raises:
            ReadingError: Outside the table, next to an empty corner, or a direction too
                many or too few.
        Source: bilinear interpolation, Press et al., Numerical Recipes, 3rd ed., 3.6.
        """
        down, across = self.down(row), self.across(column)
        upper = self._along(down.low, across, row, column)
        if down.low == down.high:
            return upper
        lower = self._along(down.high, across, row, column)
        return _between(upper, lower, down.share)

    def row_at(self, value: float, column: float | None = None) -> float:
        """Return the row at which the table, at a column, has a value: `read` turned round.

        Raises:
            ReadingError: The values do not all rise or all fall down that column, or the
                value or the column is outside.
        """
        across = self.across(column)
        rows_and_values = self._run(across)
        pairs = list(itertools.pairwise(rows_and_values))
        rising = all(first[1] < second[1] for first, second in pairs)
        falling = all(first[1] > second[1] for first, second in pairs)
        if not pairs or not (rising or falling):
            raise ReadingError(
                spoken(
                    "the values of the table do not all rise, or all fall, from row to "
                    "row{at_column}, so more than one row could be meant. Read the table the other "
                    "way round, or use another method.",
                    at_column=_at_column(column),
                )
            )
        for (row, here), (next_row, there) in pairs:
            if min(here, there) <= value <= max(here, there):
                return row + (value - here) * (next_row - row) / (there - here)
        return self._end_of(rows_and_values, value, column)

    def _end_of(
        self, profile: Sequence[tuple[float, float]], value: float, column: float | None
    ) -> float:
        """Return the row of an end that a value misses by its last bits only, else refuse."""
        for row, here in (profile[0], profile[-1]):
            if _alike(value, here):
                return row
        least, most = sorted((profile[0][1], profile[-1][1]))
        raise ReadingError(
            spoken(
                "{value:.6g} is outside what the table has{at_column}: {least:g} to {most:g}. "
                "It is never read beyond its ends. {cure}",
                value=value,
                at_column=_at_column(column),
                least=least,
                most=most,
                cure=spoken(_SOURCE_NEEDED),
            )
        )

    def bracket(self, row: float, column: float | None = None) -> Bracket:
        """Return the lines and values between which `read` goes.

        Raises:
            ReadingError: As `read`.
        """
        self.read(row, column)
        down, across = self.down(row), self.across(column)
        lines = tuple(dict.fromkeys((down.low, down.high)))
        heads = tuple(dict.fromkeys((across.low, across.high)))
        return Bracket(
            tuple(self.rows[line] for line in lines),
            tuple(self.columns[head] for head in heads) if self.columns else (),
            tuple(tuple(self.body[line][head] or 0.0 for head in heads) for line in lines),
        )

    def down(self, row: float) -> Place:
        """Return where a row lies among the table's rows.

        Raises:
            ReadingError: Outside the table.
        """
        return _placed(_ROWS, self.rows, row)

    def across(self, column: float | None = None) -> Place:
        """Return where a column lies among the table's columns (None: it has none).

        Raises:
            ReadingError: Outside the table, or a direction too many or too few.
        """
        if (column is None) is not (not self.columns):
            raise ReadingError(
                spoken(
                    "the table has columns: say at which. Type the table in the form it is asked."
                )
                if self.columns
                else spoken("the table has no columns. Type the table in the form it is asked.")
            )
        return Place(0, 0, 0.0) if column is None else _placed(_COLUMNS, self.columns, column)

    def _along(self, line: int, across: Place, row: float, column: float | None) -> float:
        """Return the value on one line of the table, between two of its columns."""
        low, high = self.body[line][across.low], self.body[line][across.high]
        if low is None or high is None:
            raise ReadingError(
                spoken(
                    "{row:.6g}{at_column} lies next to a corner that the table leaves empty (row "
                    "{line:g}). {cure}",
                    row=row,
                    at_column=_at_column(column),
                    line=self.rows[line],
                    cure=spoken(_SOURCE_NEEDED),
                )
            )
        return low if across.low == across.high else _between(low, high, across.share)

    def profile(self, across: Place) -> list[float | None]:
        """Return the values down one place between columns, None beside an empty corner."""
        found: list[float | None] = []
        for line in self.body:
            low, high = line[across.low], line[across.high]
            if low is None or high is None:
                found.append(None)
            else:
                found.append(
                    low if across.low == across.high else _between(low, high, across.share)
                )
        return found

    def _run(self, across: Place) -> list[tuple[float, float]]:
        """Return (row, value) down one place between columns, in one run without a gap."""
        found: list[tuple[float, float]] = []
        last = -1
        for line, value in enumerate(self.profile(across)):
            if value is None:
                continue
            if found and line != last + 1:
                raise ReadingError(
                    spoken(
                        "the table leaves row {row:g} empty between filled ones. Fill it in, or "
                        "take the row out.",
                        row=self.rows[line - 1],
                    )
                )
            last = line
            found.append((self.rows[line], value))
        return found

    def to_text(self) -> str:
        """Return the text under which a table is kept: tabs between values, a line a row."""
        lines = [[_CORNER, *map(written, self.columns)]] if self.columns else []
        for row, values in zip(self.rows, self.body, strict=True):
            lines.append([written(row), *("" if v is None else written(v) for v in values)])
        return "\n".join("\t".join(line).rstrip("\t") for line in lines)


@lru_cache(maxsize=512)
def from_text(text: str) -> Chart:
    """Return the table that a kept text holds.

    Raises:
        ReadingError: The text is no such table; the message has the line and the cure.
    """
    lines = [line.split("\t") for line in text.strip("\r\n").splitlines() if line.strip()]
    columns: tuple[float, ...] = ()
    if lines and lines[0][0].strip() in ("", _CORNER):
        columns = tuple(_number(cell, 1) for cell in lines.pop(0)[1:])
    rows = tuple(_number(line[0], at) for at, line in enumerate(lines, start=1))
    wide = max(len(columns), 1)
    body = []
    for at, line in enumerate(lines, start=1):
        cells = [None if not cell.strip() else _number(cell, at) for cell in line[1:]]
        if len(cells) > wide:
            raise ReadingError(
                spoken(
                    "line {at} of the table has {count} values for {wide} column(s). Take out "
                    "what is too many.",
                    at=at,
                    count=len(cells),
                    wide=wide,
                )
            )
        body.append(tuple(cells + [None] * (wide - len(cells))))
    refuse_unfit(rows, columns, body)
    return Chart(rows, columns, tuple(body))


def refuse_unfit(
    rows: Sequence[float], columns: Sequence[float], body: Sequence[Sequence[float | None]]
) -> None:
    """Refuse a table without a value, too large, or whose lines do not rise.

    Raises:
        ReadingError: What is wrong, and the cure.
    """
    if not rows or all(value is None for line in body for value in line):
        raise ReadingError(spoken("the table has no value. Type or paste it from the literature."))
    if len(rows) > MOST_ROWS or len(columns) > MOST_COLUMNS:
        raise ReadingError(
            spoken(
                "the table has {rows} rows and {columns} columns; at most {most_rows} and "
                "{most_columns}. Keep the part round the readings.",
                rows=len(rows),
                columns=len(columns),
                most_rows=MOST_ROWS,
                most_columns=MOST_COLUMNS,
            )
        )
    for what, lines in ((_ROW, rows), (_COLUMN, columns)):
        for first, second in itertools.pairwise(lines):
            if not first < second:
                raise ReadingError(
                    spoken(
                        "{what} {second:g} stands after {first:g}; they stand in rising order, "
                        "each once. Correct the one mistyped.",
                        what=spoken(what),
                        second=second,
                        first=first,
                    )
                )


def written(number: float) -> str:
    """Return a number with all its digits and no needless ones."""
    number = float(number)
    return repr(int(number)) if number.is_integer() and abs(number) < 1e15 else repr(number)


def _between(low: float, high: float, share: float) -> float:
    return (1 - share) * low + share * high


def _alike(first: float, second: float) -> bool:
    return math.isclose(first, second, rel_tol=_LAST_BITS)


def _at_column(column: float | None) -> str:
    return "" if column is None else spoken(" at column {column:.6g}", column=column)


def _number(cell: str, line: int) -> float:
    try:
        number = float(cell)
    except ValueError:
        number = math.nan
    if not math.isfinite(number):
        raise ReadingError(
            spoken(
                "'{cell}' on line {line} of the table is not a number. Type digits with a "
                "decimal point.",
                cell=cell.strip(),
                line=line,
            )
        )
    return number


def _placed(what: str, lines: Sequence[float], at: float) -> Place:
    for number, line in enumerate(lines):
        if _alike(at, line):
            return Place(number, number, 0.0)
        if number and lines[number - 1] < at < line:
            share = (at - lines[number - 1]) / (line - lines[number - 1])
            return Place(number - 1, number, share)
    span = (
        spoken("{low:g} to {high:g}", low=lines[0], high=lines[-1])
        if len(lines) > 1
        else spoken("{low:g} only", low=lines[0])
    )
    raise ReadingError(
        spoken(
            "{at:.6g} is outside the {lines} of the table: {span}. It is never read beyond "
            "its ends. {cure}",
            at=at,
            lines=spoken(what),
            span=span,
            cure=spoken(_SOURCE_NEEDED),
        )
    )
