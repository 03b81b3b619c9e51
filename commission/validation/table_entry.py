"""A table typed or pasted from the literature -> the text under which it is kept, or why not.

Cells are parted by tabs, semicolons, bars or, failing those, blanks or commas; numbers have
a decimal point or comma; an empty cell or a dash is a corner that the literature leaves
empty. Lines in falling order are put in rising order. All faults are told at once.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace

from commission.definitions.model import Axis, Field
from commission.engineering.chart import Chart, from_text, refuse_unfit
from commission.errors import AmbiguousNumberError, ReadingError
from commission.formula.figures import ended, with_unit
from commission.language import spoken, spoken_count, to_say
from commission.units import convert, shown_unit

_MOST_CHARACTERS = 60_000
_MOST_TOLD = 6
_EMPTY = ("", "-", "–", "—", "−", "*", "...", "…")
ParseNumber = Callable[[str], tuple[float, str, bool]]
Cells = list[list[str]]


def understand_table(
    asked: Field, text: str, unit_system: str, parse_number: ParseNumber
) -> tuple[str, str]:
    """Return the kept text of a table, in the form's units, and a remark.

    Args:
        text: A line a row; where the table has columns, they stand on the first line and
            the corner above the rows is left empty. Numbers are in the units that the
            project shows ("IP" or "SI").
    Raises:
        ReadingError: All that is wrong, each with its place.
    """
    if len(text) > _MOST_CHARACTERS:
        raise ReadingError(
            spoken(
                "{label}: {count:,} characters; at most {most_characters:,}. Paste the table "
                "alone.",
                label=asked.label,
                count=len(text),
                most_characters=_MOST_CHARACTERS,
            )
        )
    typed = _Typed(asked, unit_system, parse_number)
    chart, remark = typed.chart(cells_of(text))
    return chart.to_text(), remark


def cells_of(text: str) -> Cells:
    """Return the cells of a block of text as a spreadsheet or a hand gives it."""
    lines = [line.rstrip("\r") for line in text.strip("\r\n").split("\n")]
    lines = [line for line in lines if line.strip()]
    for mark in "\t;|":
        if any(mark in line for line in lines):
            return [[cell.strip() for cell in line.split(mark)] for line in lines]
    if any(re.search(r"\S\s+\S", line.replace(", ", ",")) for line in lines):
        return [line.split() for line in lines]
    return [[cell.strip() for cell in line.split(",")] for line in lines]


@dataclass
class _Typed:
    asked: Field
    unit_system: str
    parse_number: ParseNumber
    faults: list[str] = field(default_factory=list)

    def chart(self, cells: Cells) -> tuple[Chart, str]:
        heads, lines = self._parted(cells)
        columns = [self._axis(text, self.asked.columns, to_say("column")) for text in heads]
        rows = [self._axis(line[0], self.asked.rows, to_say("row")) for line in lines]
        wide = max(len(columns), 1)
        body = [self._values(line, heads, wide) for line in lines]
        self._refuse()
        chart, sorted_ = _in_order([r or 0.0 for r in rows], [c or 0.0 for c in columns], body)
        try:
            refuse_unfit(chart.rows, chart.columns, chart.body)
        except ReadingError as error:
            raise error.at(self.asked.label) from None
        return chart, "; ".join([size_of(chart), *sorted_])

    def _parted(self, cells: Cells) -> tuple[list[str], Cells]:
        """Return the heads of the columns and the lines under them."""
        if self.asked.columns is None:
            headless = [line for line in cells if not self._is_heading(line)]
            return [], headless
        first, rest = (cells[0], cells[1:]) if cells else ([], [])
        if first and rest and len(first) == len(rest[0]) - 1 and self._is_number(first[0]):
            return first, rest  # the empty corner was lost on the way
        if first and self._is_number(first[0]):
            self.faults.append(
                spoken(
                    "the first line holds the columns ({label}), its corner left empty; '{first}' "
                    "stands there",
                    label=self.asked.columns.label,
                    first=first[0],
                )
            )
        while first and not first[-1]:
            first = first[:-1]
        return first[1:], rest

    def _is_heading(self, line: Sequence[str]) -> bool:
        return not any(self._is_number(cell) for cell in line)

    def _is_number(self, cell: str) -> bool:
        try:
            return not self.parse_number(cell)[1]
        except ReadingError:
            return False

    def _axis(self, cell: str, axis: Axis | None, what: str) -> float | None:
        assert axis is not None
        value = self._number(cell, axis.unit, f"{spoken(what)} '{cell}'")
        if value is None and cell in _EMPTY:
            self.faults.append(
                spoken("a {what} has values but no {label}", what=spoken(what), label=axis.label)
            )
        return value

    def _values(self, line: Sequence[str], heads: Sequence[str], wide: int) -> list[float | None]:
        cells = list(line[1:])
        while len(cells) > wide and cells[-1] in _EMPTY:
            cells.pop()
        if len(cells) > wide:
            self.faults.append(
                spoken(
                    "row {line} has {count} values for {wide}",
                    line=line[0],
                    count=len(cells),
                    wide=wide,
                )
            )
        cells = (cells + [""] * wide)[:wide]
        found = []
        for at, cell in enumerate(cells):
            place = (
                spoken("row {line}, column {heads}", line=line[0], heads=heads[at])
                if heads
                else spoken("row {line}", line=line[0])
            )
            found.append(self._value(cell, place))
        return found

    def _value(self, cell: str, place: str) -> float | None:
        assert self.asked.body is not None
        value = self._number(cell, self.asked.body.unit, place)
        bounds = self.asked.possible
        if value is not None and bounds and not bounds[0] <= value <= bounds[1]:
            low, high = (self._shown(bound) for bound in bounds)
            self.faults.append(
                spoken(
                    "{place}: {shown} cannot be ({low} to {high})",
                    place=place,
                    shown=self._shown(value),
                    low=low,
                    high=high,
                )
            )
        return value

    def _shown(self, value: float) -> str:
        assert self.asked.body is not None
        unit = shown_unit(self.asked.body.unit, self.unit_system)
        return with_unit(float(convert(value, self.asked.body.unit, unit)), unit)

    def _number(self, cell: str, unit: str, place: str) -> float | None:
        if cell in _EMPTY:
            return None
        try:
            number, suffix, _ = self.parse_number(cell)
        except AmbiguousNumberError as error:
            self.faults.append(f"{place}: {str(error).rstrip('.')}")
            return None
        except ReadingError:
            number, suffix = 0.0, cell
        if suffix:
            self.faults.append(spoken("{place}: '{cell}' is not a number", place=place, cell=cell))
            return None
        return convert(number, shown_unit(unit, self.unit_system), unit)

    def _refuse(self) -> None:
        if not self.faults:
            return
        told = self.faults[:_MOST_TOLD]
        more = len(self.faults) - len(told)
        listed = "; ".join(told) + (spoken("; and {more} more", more=more) if more else "")
        raise ReadingError(
            spoken(
                "{label}: {faults} Type digits, and leave empty what the literature leaves empty.",
                label=self.asked.label,
                faults=ended(listed),
            )
        )


def _in_order(
    rows: list[float], columns: list[float], body: list[list[float | None]]
) -> tuple[Chart, list[str]]:
    """Return the table with its lines in rising order, and words on what was moved."""
    words = []
    down = sorted(range(len(rows)), key=rows.__getitem__)
    across = sorted(range(len(columns)), key=columns.__getitem__)
    if down != list(range(len(rows))):
        words.append(spoken("rows put in rising order"))
    if across != list(range(len(columns))):
        words.append(spoken("columns put in rising order"))
    lines = tuple(tuple(body[row][at] for at in across or (0,)) for row in down)
    chart = Chart(tuple(rows[row] for row in down), tuple(columns[at] for at in across), lines)
    return chart, words


def size_of(chart: Chart) -> str:
    """Return what a table holds, in a few words, such as "6 rows × 5 columns"."""
    rows = spoken_count("{count} row", "{count} rows", len(chart.rows))
    if not chart.columns:
        return rows
    return f"{rows} × " + spoken_count("{count} column", "{count} columns", len(chart.columns))


def size_of_text(text: str) -> str:
    """Return what a kept text holds; "out of range" for one that is no table."""
    try:
        return size_of(from_text(text))
    except ReadingError:
        return "out of range"


def shown_text(asked: Field, text: str, unit_system: str) -> str:
    """Return a kept table as it is typed in the units shown; a text that is none as it is."""
    try:
        return shown_chart(asked, text, unit_system).to_text()
    except ReadingError:
        return text


def shown_chart(asked: Field, text: str, unit_system: str) -> Chart:
    """Return a kept table with its numbers in the units that the project shows."""
    chart = from_text(text)
    if unit_system == "IP":
        return chart
    assert asked.rows is not None and asked.body is not None
    columns = asked.columns or asked.rows
    return replace(
        chart,
        rows=tuple(_shown_in(value, asked.rows, unit_system) for value in chart.rows),
        columns=tuple(_shown_in(value, columns, unit_system) for value in chart.columns),
        body=tuple(
            tuple(None if v is None else _shown_in(v, asked.body, unit_system) for v in line)
            for line in chart.body
        ),
    )


def _shown_in(value: float, axis: Axis, unit_system: str) -> float:
    shown = shown_unit(axis.unit, unit_system)
    # Twelve digits: what a conversion there and back leaves of a typed number.
    return value if shown == axis.unit else float(f"{convert(value, axis.unit, shown):.12g}")


def bracket_words(asked: Field, text: str, row: float, column: float | None) -> str:
    """Return the lines and values of a table between which it is read, in the form's units."""
    assert asked.rows is not None and asked.body is not None
    bracket = from_text(text).bracket(row, column)
    rows = _listed(bracket.rows, asked.rows)
    heads = (
        spoken(" and {listed}", listed=_listed(bracket.columns, asked.columns))
        if asked.columns
        else ""
    )
    values = "; ".join(_listed(line, asked.body) for line in bracket.values)
    return spoken("the table has {values} at {rows}{heads}", values=values, rows=rows, heads=heads)


def _listed(values: Sequence[float], axis: Axis) -> str:
    shown = [with_unit(value, axis.unit, axis.decimals) for value in values]
    if len(shown) == 2:
        return spoken(
            "{low} and {high}",
            low=shown[0].removesuffix(axis.unit).rstrip(),
            high=shown[1],
        )
    return shown[0]
