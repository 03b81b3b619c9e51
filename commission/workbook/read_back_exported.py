"""What the entry cells held at export, kept on the hidden sheet for the way back.

A reading's history has no revision, so what a workbook was sent out with is written into it:
one row for each cell that a hand may type in, found again by the cell's defined name.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from commission.definitions.model import Check, Field, Key, Kind
from commission.errors import IncomingFileError, ReadingError
from commission.formula.evaluate import Content, State, Value
from commission.formula.excel import NOT_APPLICABLE
from commission.language import spoken, to_say
from commission.units import convert
from commission.validation.table_entry import shown_chart
from commission.workbook.addresses import Cell, column_letters
from commission.workbook.book import FACTOR_NAME, META, RULE_NAME, SUMMARY, Book
from commission.workbook.entry_cells import stored_value
from commission.workbook.layout import CheckRow, EntryRow, GridRow, Page, is_numeric
from commission.workbook.limit_units import form_unit_of, limit_in_unit, shown_unit_of
from commission.workbook.read_back_formulas import with_names
from commission.workbook.sheet import Sheet
from commission.workbook.texts import cell_text
from commission.workbook.typed_tables import TYPED, TypedTable
from commission.workbook.words import tab

RULE_LABEL, FACTOR_LABEL = to_say("Decision rule"), to_say("Coverage factor k")
EXPORTED_NAME = "exported_values"
FORMULAS_NAME = "exported_formulas"
SHEETS_NAME = "exported_sheets"
INDEX_NAME = "index_of_volumes"
READING, TABLE, SETTING = "reading", "table", "setting"
BESIDE_READING, BESIDE_LIMIT = "open_small", "entry_small"
OPEN_STYLES = frozenset({BESIDE_READING, BESIDE_LIMIT})
OpenTexts = dict[tuple[str, int, str], str]
"""Sheet, row and style of a free text -> what was written there."""

_FIRST_COLUMN = 3  # behind the rows of the sheet that say whose workbook it is
_FORMULA, _VALUE = "formula", "value"
_HEAD = (
    "name", "owner", "entry", "index", "what", "unit", "held as", "held", "label", "sheet",
    "row", "beside",
)  # fmt: skip
LAST_COLUMN = _FIRST_COLUMN + len(_HEAD) - 1


@dataclass(frozen=True, slots=True)
class ExportedCell:
    """One cell to be typed in, as it was sent out.

    `what` is "reading", "table", "setting" or a part of a limit; `unit` is the one the cell
    shows (of a table: the unit system); `held` is None for an empty cell and for one with a
    formula (a default limit), which `is_formula` says.
    `sheet`, `row` and `label` are where it stood, to notice that rows have been sorted;
    `beside` is the free text of its row: how a reading is known, where a limit comes from.
    """

    name: str
    owner: int
    key: Key
    what: str
    unit: str
    is_formula: bool
    held: Content | None
    label: str
    sheet: str
    row: int
    beside: str


def entry_content(field: Field, value: Value, unit: str) -> Content | None:
    """Return what an entry cell of a field holds, in `unit`, for a value of the project."""
    if value.state is State.NOT_APPLICABLE:
        return NOT_APPLICABLE
    if is_numeric(field):
        return None if value.number is None else convert(value.number, field.unit, unit)
    text = str(value.content) if value.content is not None else ""
    return cell_text(text) or None


def exported_rows(book: Book, noted: Mapping[tuple[str, int, str], str]) -> Iterator[ExportedCell]:
    """Yield every cell of a book that a hand may type in, page by page."""
    yield from _settings(book)
    for table in book.typed_tables.values():
        yield _table(book, table)
    for page in book.pages:
        for number, row in page.numbered():
            if isinstance(row, EntryRow):
                if isinstance(row.entry, Field) and row.entry.kind is not Kind.TABLE:
                    beside = noted.get((page.sheet, number, BESIDE_READING), "")
                    key = Key(row.entry.name, row.index)
                    yield _reading(book, page, number, key, row.label, beside)
                if row.check is not None:
                    yield from _limit(book, page, number, row.check, row, noted)
            elif isinstance(row, CheckRow):
                yield from _limit(book, page, number, row.check, row, noted)
            elif isinstance(row, GridRow) and isinstance(row.entry, Field):
                for index in row.indexes:
                    if index is not None:
                        key = Key(row.entry.name, index)
                        yield _reading(book, page, number, key, row.label, "")


def _reading(
    book: Book, page: Page, number: int, key: Key, label: str, beside: str
) -> ExportedCell:
    field = book.plan.entries[key.name]
    assert isinstance(field, Field)
    unit = page.results.shown_unit(field.name)
    name = book.addresses.further(page.owner, key, "shown")
    name = name or book.addresses.value(page.owner, key) or ""
    held = entry_content(field, stored_value(page.results, key), unit)
    return ExportedCell(
        name, page.owner, key, READING, unit, False, held, label, page.sheet, number, beside
    )


def _settings(book: Book) -> Iterator[ExportedCell]:
    decision = book.site.pages.calculation.decision
    held = ((RULE_NAME, RULE_LABEL, str(decision.rule)),
            (FACTOR_NAME, FACTOR_LABEL, decision.coverage_factor))  # fmt: skip
    for name, label, value in held:
        row = book.addresses.names[name].row
        yield ExportedCell(
            name, 0, Key(name), SETTING, "", False, value, label, tab(SUMMARY), row, ""
        )


def _table(book: Book, table: TypedTable) -> ExportedCell:
    results, key = table.page.results, table.key
    value = stored_value(results, key)
    held: Content | None = None
    if value.state is State.NOT_APPLICABLE:
        held = NOT_APPLICABLE
    elif value.content is not None:
        held = kept_chart(table.asked, str(value.content), results.unit_system)
    name = f"{table.name}_body_{TYPED}"
    return ExportedCell(
        name, table.page.owner, key, TABLE, results.unit_system, False, held,
        table.asked.label, table.tab, 0, "",
    )  # fmt: skip


def kept_chart(field: Field, text: str, unit_system: str) -> str | None:
    """Return a typed table on one line, as its sheet shows it; None for a text that is none.

    Fourteen digits: what is compared, and the largest table fits a cell.
    """
    try:
        chart = shown_chart(field, text, unit_system)
    except ReadingError:
        return None
    rows = [[_digits(row), *map(_digits, line)]
            for row, line in zip(chart.rows, chart.body, strict=True)]  # fmt: skip
    heads = [["/", *map(_digits, chart.columns)]] if chart.columns else []
    return "|".join(";".join(line) for line in (*heads, *rows))


def _digits(number: float | None) -> str:
    return "" if number is None else f"{number:.14g}"


def _limit(
    book: Book,
    page: Page,
    number: int,
    check: Check,
    row: EntryRow | CheckRow,
    noted: Mapping[tuple[str, int, str], str],
) -> Iterator[ExportedCell]:
    key = Key(check.name, row.index)
    limits = page.results.calculation.limits
    given = limits.get(key) or limits.get(Key(check.name))
    beside = noted.get((page.sheet, number, BESIDE_LIMIT), "")
    for part in check.parts:
        held = given.parts.get(part) if given is not None else None
        is_formula = held is None and getattr(check, part) is not None
        unit = shown_unit_of(check, part, page.results.unit_system)
        if held is not None:
            held = limit_in_unit(part, held, form_unit_of(check, part), unit)
        name = book.addresses.further(page.owner, key, f"{part}_shown")
        name = name or book.addresses.further(page.owner, key, part) or ""
        yield ExportedCell(
            name, page.owner, key, part, unit, is_formula, held, row.label, page.sheet,
            number, beside,
        )  # fmt: skip


# -- formulas and sheets -----------------------------------------------------------------


def exported_formulas(book: Book, written: Mapping[Cell, str]) -> Iterator[tuple[str, str]]:
    """Yield each named cell that was given a formula, its references as names.

    Args:
        written: The formulas of the pages by their cells, without "=".
    """
    names = {(cell.sheet, cell.local.replace("$", "")): name for name, cell in _named(book)}
    for name, cell in _named(book):
        formula = written.get(cell)
        if formula is not None:
            yield name, with_names(formula, cell.sheet, names)


def _named(book: Book) -> Iterable[tuple[str, Cell]]:
    return book.addresses.names.items()


def write_list(sheet: Sheet, first: int, lines: Iterable[Sequence[str]]) -> str:
    """Write lines of texts on the hidden sheet from a column on; return the range they fill."""
    worksheet, plain = sheet.worksheet, sheet.style("plain_text")
    last, number = first + 1, 0
    for number, line in enumerate(lines):
        for place, text in enumerate(line, start=first):
            worksheet.write_string(number, place, text, plain)
    return hidden_range(first, last, number)


def hidden_range(first: int, last: int, row: int) -> str:
    """Return columns `first` to `last` of the hidden sheet down to a row, all from 0."""
    return f"='{META}'!${column_letters(first)}$1:${column_letters(last)}${row + 1}"


def read_formulas(rows: Iterable[Sequence[Any]]) -> dict[str, str]:
    """Return name and formula of the lines of the range `FORMULAS_NAME`."""
    return {str(line[0]): str(line[1]) for line in rows if len(line) > 1 and line[0] and line[1]}


# -- on the hidden sheet -----------------------------------------------------------------


def write_exported(sheet: Sheet, rows: Iterable[ExportedCell]) -> str:
    """Write the rows beside what says whose workbook it is; return the range they fill."""
    worksheet, plain = sheet.worksheet, sheet.style("plain_text")
    number = 0
    for place, text in enumerate(_HEAD, start=_FIRST_COLUMN):
        worksheet.write_string(0, place, text, plain)
    for number, row in enumerate(rows, start=1):
        for place, content in enumerate(_stored(row), start=_FIRST_COLUMN):
            if isinstance(content, str) and content:
                worksheet.write_string(number, place, cell_text(content), plain)
            elif isinstance(content, int | float):
                worksheet.write_number(number, place, content, plain)
    return hidden_range(_FIRST_COLUMN, LAST_COLUMN, number)


def _stored(row: ExportedCell) -> tuple[Content | None, ...]:
    index = ",".join(map(str, row.key.index))
    held_as = _FORMULA if row.is_formula else _VALUE
    return (
        row.name, float(row.owner), row.key.name, index, row.what, row.unit, held_as, row.held,
        row.label, row.sheet, float(row.row), row.beside,
    )  # fmt: skip


def read_exported(rows: Iterable[tuple[Any, ...]]) -> list[ExportedCell]:
    """Return the rows of the range `EXPORTED_NAME`, its head first.

    Raises:
        IncomingFileError: The hidden sheet is not as it was written.
    """
    lines = iter(rows)
    head = tuple(next(lines, ()))
    if head != _HEAD:
        raise meta_changed()
    try:
        return [_restored(line) for line in lines]
    except (TypeError, ValueError, OverflowError):
        raise meta_changed() from None


def meta_changed() -> IncomingFileError:
    """Return the fault that the hidden sheet, which says what was exported, is another."""
    return IncomingFileError(
        spoken(
            "its hidden sheet {meta}, which says what was exported, has been changed or was "
            "written by another version. Export the workbook again and copy the readings over.",
            meta=META,
        )
    )


def _restored(line: tuple[Any, ...]) -> ExportedCell:
    name, owner, entry, index, what, unit, held_as, held, label, sheet, row, beside = line
    if not (isinstance(name, str) and isinstance(entry, str) and isinstance(what, str)):
        raise TypeError
    if held_as not in (_FORMULA, _VALUE) or isinstance(held, bool):
        raise ValueError
    if isinstance(held, int):
        held = float(held)
    if held is not None and not isinstance(held, str | float):
        raise TypeError
    members = tuple(int(part) for part in str(index or "").split(",") if part)
    return ExportedCell(
        name, int(owner), Key(entry, members), what, str(unit or ""), held_as == _FORMULA, held,
        str(label or ""), str(sheet or ""), int(row), str(beside or ""),
    )  # fmt: skip
