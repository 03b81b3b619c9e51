"""Tables typed from the literature: a sheet each, to be edited, read live by the formulas.

`<name>_rows_typed`, `<name>_columns_typed` and `<name>_body_typed` are what is typed, `<name>`
being the defined name of the field's own cell; `<name>_rows` and so on are what formulas read.
Both are the same ranges, unless the project shows other units than the form's: then a second
block computes the form's from what stands in the first.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

from commission.definitions.model import Axis, Field, Key, Kind
from commission.engineering.chart import Chart
from commission.formula.excel import NOT_APPLICABLE, OUT_OF_RANGE, quoted
from commission.language import ENGLISH, language, spoken, to_say
from commission.units import UNITS, shown_unit
from commission.workbook.addresses import column_letters
from commission.workbook.appearance import number_format
from commission.workbook.layout import Column, EntryRow, Page
from commission.workbook.sheet import Sheet
from commission.workbook.texts import tab_name

if TYPE_CHECKING:
    from commission.workbook.book import Book

_HEAD = 5  # title, project, note, empty, what is across; then the columns' own line
_SPARE_ROWS, _SPARE_COLUMNS = 4, 2
_LEAST_ROWS, _LEAST_COLUMNS = 12, 8
TYPED = "typed"


@dataclass(frozen=True)
class TypedTable:
    """One table of one unit and where its block stands."""

    page: Page
    key: Key
    asked: Field
    name: str
    tab: str

    @property
    def chart(self) -> Chart | None:
        """What is typed, in the units that the project shows."""
        return self.page.results.table(*self.key)

    @property
    def size(self) -> tuple[int, int]:
        """Rows and columns of the block, spare ones included."""
        rows = len(self.chart.rows) if self.chart else 0
        columns = len(self.chart.columns) if self.chart else 0
        wide = max(columns + _SPARE_COLUMNS, _LEAST_COLUMNS) if self.asked.columns else 1
        return max(rows + _SPARE_ROWS, _LEAST_ROWS), wide

    @property
    def axes(self) -> tuple[Axis, Axis | None, Axis]:
        """What stands down, across and within."""
        assert self.asked.rows is not None and self.asked.body is not None
        return self.asked.rows, self.asked.columns, self.asked.body

    @property
    def converted(self) -> bool:
        """Whether the project shows other units than the form's."""
        return any(axis and self.shown(axis) != axis.unit for axis in self.axes)

    def shown(self, axis: Axis) -> str:
        """Return the unit in which a direction is shown."""
        return shown_unit(axis.unit, self.page.results.unit_system)

    @property
    def working_head(self) -> int:
        """The line of columns of the block that formulas read."""
        return _HEAD + self.size[0] + 4 if self.converted else _HEAD

    def ranges(self) -> Iterator[tuple[str, str]]:
        """Yield the defined names of the block with what they refer to."""
        rows, columns = self.size
        for head, end in ((self.working_head, ""), (_HEAD, f"_{TYPED}")):
            yield f"{self.name}_rows{end}", self._range(head + 1, 0, rows, 1)
            yield f"{self.name}_body{end}", self._range(head + 1, 1, rows, columns)
            if self.asked.columns is not None:
                yield f"{self.name}_columns{end}", self._range(head, 1, 1, columns)

    def _range(self, row: int, column: int, rows: int, columns: int) -> str:
        first = f"${column_letters(column)}${row + 1}"
        last = f"${column_letters(column + columns - 1)}${row + rows}"
        return f"'{self.tab}'!{first}:{last}"

    def state(self) -> str:
        """Return the formula of the field's own cell: how much is typed, or out of order."""
        reading = self.page.results.reading(*self.key)
        if reading is not None and reading.not_applicable:
            return quoted(NOT_APPLICABLE)
        rows, columns = f"COUNT({self.name}_rows)", f"COUNT({self.name}_columns)"
        words = f'{rows}&IF({rows}=1," row"," rows")'
        faults = self._disorder(f"{self.name}_rows", self.size[0], down=True)
        if self.asked.columns:
            words += f'&" × "&{columns}&IF({columns}=1," column"," columns")'
            faults += "+" + self._disorder(f"{self.name}_columns", self.size[1], down=False)
        checked = f"IF({faults}>0,{quoted(OUT_OF_RANGE)},{words})"
        return f'IF(COUNT({self.name}_body_{TYPED})=0,"",{checked})'

    def _disorder(self, lines: str, count: int, down: bool) -> str:
        def run(first: int, last: int) -> str:
            ends = (f"{at}" if down else f"1,{at}" for at in (first, last))
            return ":".join(f"INDEX({lines},{end})" for end in ends)

        if count == 1:
            return "0"
        before, after = run(1, count - 1), run(2, count)
        there = f"(1-ISNUMBER({after})*ISNUMBER({before})*({before}<{after}))"
        return f"SUMPRODUCT(ISNUMBER({after})*{there})"


def typed_tables(book: Book, page: Page) -> Iterator[TypedTable]:
    """Yield the typed tables of a page, each with a sheet of its own."""
    for _, row in page.numbered():
        if not isinstance(row, EntryRow) or not isinstance(row.entry, Field):
            continue
        if row.entry.kind is Kind.TABLE:
            key = Key(row.entry.name, row.index)
            name = book.addresses.value(page.owner, key) or ""
            words = row.entry.name if language() == ENGLISH else row.entry.label
            tab = tab_name(page.results.tag, words, book.taken_tabs)
            yield TypedTable(page, key, row.entry, name, tab)


def write_state(book: Book, page: Page, sheet: Sheet, place: tuple[int, int], key: Key) -> None:
    """Write the cell of a table field on its page: how much is typed, and the way to it."""
    from commission.workbook.book import condition_text

    table = book.typed_tables[page.owner, key]
    now = page.results.shown(*key)
    condition = condition_text(page.section, table.asked.when, book.references(page, key))
    state = table.state()
    formula = f"IF({condition},{state},{quoted(NOT_APPLICABLE)})" if condition else state
    cell = book.addresses.cell(page.owner, key)
    if cell is not None and (cell.row, cell.column) != place:  # formulas read a working cell
        sheet.formula(cell.row, cell.column, formula, now, "result_text")
        formula = table.name
    sheet.formula(*place, formula, now, "result_text")
    sheet.reserve(place[0], now, sheet.widths.get(place[1], 8.0), "result_text")
    if Column.UNIT in page.columns:
        sheet.link(place[0], page.columns[Column.UNIT], table.tab, to_say("its sheet"))


def write_typed_table(book: Book, sheet: Sheet, table: TypedTable) -> None:
    """Write one table on its sheet."""
    _Block(book, sheet, table).write()


@dataclass
class _Block:
    book: Book
    sheet: Sheet
    table: TypedTable

    def write(self) -> None:
        """Write title, note, the block to be typed in, and the block that formulas read."""
        table, sheet = self.table, self.sheet
        rows, columns = table.size
        sheet.columns([22, *[10] * max(columns, 8)])
        tag = table.page.results.tag
        sheet.text(0, 0, f"{tag}: {table.asked.label}" if tag else table.asked.label, "title")
        sheet.worksheet.set_row(0, 24)
        sheet.text(1, 0, self.book.site.project.title, "subtitle")
        sheet.across(2, 0, max(columns, 8), self._note(), "note")
        self._heads(_HEAD, shown=True)
        self._typed()
        if table.converted:
            head = table.working_head
            sheet.across(
                head - 2,
                0,
                max(columns, 8),
                to_say("In the form's units, as formulas read it"),
                "note",
            )
            self._heads(head, shown=False)
            self._computed()
        sheet.fit_rows(1, table.working_head + rows)
        sheet.worksheet.freeze_panes(_HEAD + 1, 1)
        sheet.protect()
        site = self.book.site
        footer = spoken(
            "{id} {version}, project revision {revision}",
            id=site.form.id,
            version=site.form.version,
            revision=site.project.revision,
        )
        right = f"{tag} {table.asked.label}".strip()
        sheet.printed(left=site.project.title, right=right, repeat=(0, _HEAD), footer=footer)

    def _note(self) -> str:
        return to_say(
            "Typed from the unit's literature. Lines stand in rising order; corners that "
            "the literature leaves empty stay empty; nothing is read beyond the ends. Spare "
            "lines may be filled."
        )

    def _heads(self, head: int, shown: bool) -> None:
        rows, columns, body = self.table.axes

        def named(axis: Axis) -> str:
            unit = self.table.shown(axis) if shown else axis.unit
            return f"{axis.label}, {unit}" if unit else axis.label

        across = f"{named(body)}, by {named(columns)}" if columns else named(body)
        for column in range(self.table.size[1] + 1):
            self.sheet.text(head - 1, column, "", "band")
        self.sheet.text(head - 1, 1, across, "band")
        self.sheet.text(head, 0, named(rows), "head")
        if columns is None:
            self.sheet.text(head, 1, "", "head")

    def _typed(self) -> None:
        chart, (rows, columns) = self.table.chart, self.table.size
        down, across, within = self.table.axes
        for column in range(columns if across else 0):
            given = chart.columns[column] if chart and column < len(chart.columns) else None
            self._entry(_HEAD, column + 1, given, across)
        for row in range(rows):
            given = chart.rows[row] if chart and row < len(chart.rows) else None
            self._entry(_HEAD + 1 + row, 0, given, down)
            line = chart.body[row] if chart and row < len(chart.rows) else ()
            for column in range(columns):
                value = line[column] if column < len(line) else None
                self._entry(_HEAD + 1 + row, column + 1, value, within)

    def _entry(self, row: int, column: int, value: float | None, axis: Axis | None) -> None:
        assert axis is not None
        decimals = axis.decimals if self.table.shown(axis) == axis.unit else None
        shown = number_format(value, decimals)
        if value is None:
            self.sheet.worksheet.write_blank(row, column, None, self.sheet.style("entry", shown))
        else:
            self.sheet.number(row, column, value, "entry", shown)
        self.sheet.choices(
            row, column,
            {"validate": "custom", "value": f"=ISNUMBER({column_letters(column)}{row + 1})",
             "error_title": spoken("Not as asked"), "error_message": spoken("A number, or empty.")},
        )  # fmt: skip

    def _computed(self) -> None:
        """Write the form's numbers as formulas of the typed ones, those of spare lines too."""
        (rows, columns), head = self.table.size, self.table.working_head
        down, across, within = self.table.axes
        chart = self.table.chart
        for column in range(columns if across else 0):
            assert across is not None
            given = chart.columns[column] if chart and column < len(chart.columns) else None
            self._conversion((head, column + 1), f"columns_{TYPED},1,{column + 1}", given, across)
        for row in range(rows):
            given = chart.rows[row] if chart and row < len(chart.rows) else None
            self._conversion((head + row + 1, 0), f"rows_{TYPED},{row + 1}", given, down)
            line = chart.body[row] if chart and row < len(chart.rows) else ()
            for column in range(columns):
                value = line[column] if column < len(line) else None
                source = f"body_{TYPED},{row + 1},{column + 1}"
                self._conversion((head + row + 1, column + 1), source, value, within, empty=0.0)

    def _conversion(
        self,
        place: tuple[int, int],
        source: str,
        value: float | None,
        axis: Axis,
        empty: float | str = "",
    ) -> None:
        """Write one number in the form's unit.

        `empty` stands where nothing is typed: 0 within the body, since its columns are added up
        with weights, which a text would spoil; look-ups ask of the typed cell if it is empty.
        """
        given, wanted = UNITS[self.table.shown(axis)], UNITS[axis.unit]
        factor = given.scale / wanted.scale
        shift = (given.offset - wanted.offset) / wanted.scale
        typed = f"INDEX({self.table.name}_{source})"
        converted = f"{typed}*{factor!r}+{shift!r}" if shift else f"{typed}*{factor!r}"
        nothing = repr(int(empty)) if isinstance(empty, float) else quoted(empty)
        formula = f"IF(ISNUMBER({typed}),{converted},{nothing})"
        if value is None:
            unseen = f"{number_format(None, axis.decimals)};-{number_format(None, axis.decimals)};"
            self.sheet.formula(*place, formula, empty, "number", unseen)
            return
        number = value * factor + shift
        self.sheet.formula(*place, formula, number, "number", number_format(number, axis.decimals))
