"""The units of a site beside one another: what is judged, unit by unit, with charts."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import xlsxwriter

from commission.definitions.model import Check, Key, Level, Quantity, Severity
from commission.formula.evaluate import State
from commission.units import convert
from commission.validation.results import UnitResults
from commission.workbook.addresses import column_letters
from commission.workbook.appearance import number_format
from commission.workbook.book import Book
from commission.workbook.charts import dress
from commission.workbook.layout import is_numeric
from commission.workbook.page_cells import conversion
from commission.workbook.sheet import Sheet

ACROSS = "Across units"
_MOST_VALUES, _FEWEST_UNITS = 12, 2
_HEAD = 3
_FIRST = _HEAD + 1
_CHART_PX, _CHART_ROWS, _CHART_COLUMNS = (560, 300), 16, 5


def compared_keys(book: Book) -> list[Key]:
    """Return the first results that at least two units have and a check of theirs judges."""
    found: list[Key] = []
    for key in _judged_keys(book):
        known = sum(results.value(*key).number is not None for results in book.site.units)
        if key not in found and known >= _FEWEST_UNITS:
            found.append(key)
    return found[:_MOST_VALUES]


def _judged_keys(book: Book) -> Iterator[Key]:
    form = book.site.form
    for section in form.sections:
        if section.level is Level.PROJECT:
            continue
        for check in section.checks:
            if check.parts and check.severity is not Severity.NOTE and _is_number(book, check):
                members = {i for unit in book.site.units for i in unit.asked_members(check.name)}
                yield from (Key(check.judges, index) for index in sorted(members))


def _is_number(book: Book, check: Check) -> bool:
    judged = book.site.form.by_name[check.judges]
    return isinstance(judged, Quantity) and is_numeric(judged)


def write_across(workbook: xlsxwriter.Workbook, book: Book, sheet: Sheet, keys: list[Key]) -> None:
    """Write a row for each unit, a column for each value, and below them the charts."""
    units = book.site.units
    sheet.columns([18, *[15] * len(keys)])
    sheet.text(0, 0, ACROSS, "title")
    sheet.worksheet.set_row(0, 24)
    remark = "Live: each cell shows what stands on its unit's page. Charts draw what is a number."
    sheet.text(1, 0, remark, "subtitle")
    sheet.text(_HEAD, 0, "Unit", "head")
    for column, key in enumerate(keys, start=1):
        sheet.text(_HEAD, column, _head(units, key), "head")
    for row, results in enumerate(units, start=_FIRST):
        sheet.text(row, 0, results.tag, "label")
        for column, key in enumerate(keys, start=1):
            _value(book, sheet, (row, column), results, key, len(keys))
    last = _FIRST + len(units) - 1
    sheet.fit_rows(_HEAD, last)
    sheet.worksheet.freeze_panes(_FIRST, 1)
    below = _charts(workbook, book, sheet, keys, last)
    sheet.protect()
    sheet.worksheet.print_area(0, 0, below, max(len(keys), 2 * _CHART_COLUMNS))
    site = book.site
    footer = f"{site.form.id} {site.form.version}, project revision {site.project.revision}"
    sheet.printed(left=site.project.title, right=ACROSS, repeat=None, footer=footer)


def _head(units: tuple[UnitResults, ...], key: Key) -> str:
    unit = units[0].shown_unit(key.name)
    having = next(results for results in units if key.index in results.members(key.name))
    return f"{having.label(key)}, {unit}".removesuffix(", ")


def _value(
    book: Book, sheet: Sheet, place: tuple[int, int], results: UnitResults, key: Key, width: int
) -> None:
    """Write a value as shown, and beside the table what charts draw: nothing for a word."""
    row, column = place
    owner = row - _FIRST + 1
    name = book.addresses.value(owner, key)
    beside = width + 1 + column
    entry = book.plan.entries[key.name]
    if name is None:
        sheet.text(row, column, "", "cell")
        sheet.formula(row, beside, "NA()", "#N/A", "further")
        return
    unit, shown = entry.unit, results.shown_unit(key.name)
    value = results.value(*key)
    formula = conversion(name, unit, shown) if unit != shown else f'IF({name}="","",{name})'
    now: Any = "" if value.state is not State.KNOWN else value.number
    if isinstance(now, float):
        now = convert(now, unit, shown)
    elif value.state is State.NOT_APPLICABLE:
        now = "n/a"
    elif value.state is State.FAULT:
        now = "out of range"
    decimals = entry.decimals if unit == shown else None
    number = now if isinstance(now, float) else None
    sheet.formula(row, column, formula, now, "number", number_format(number, decimals))
    cell = f"{column_letters(column)}{row + 1}"
    drawn = now if isinstance(now, float) else "#N/A"
    sheet.formula(row, beside, f"IF(ISNUMBER({cell}),{cell},NA())", drawn, "further")


def _charts(
    workbook: xlsxwriter.Workbook, book: Book, sheet: Sheet, keys: list[Key], last: int
) -> int:
    """Put the charts below the table, two abreast; return the last row they take."""
    units, width = book.site.units, len(keys)
    top = last + 2
    for number, key in enumerate(keys):
        column = width + 2 + number
        chart = workbook.add_chart({"type": "column"})
        chart.add_series({
            "categories": [ACROSS, _FIRST, 0, last, 0],
            "values": [ACROSS, _FIRST, column, last, column],
            "fill": {"color": "#2F7F86"},
            "gap": 80,
        })  # fmt: skip
        unit = units[0].shown_unit(key.name)
        dress(chart, _head(units, key), "", unit)
        chart.set_legend({"none": True})
        chart.set_size({"width": _CHART_PX[0], "height": _CHART_PX[1]})
        row = top + (number // 2) * _CHART_ROWS
        sheet.worksheet.insert_chart(row, (number % 2) * _CHART_COLUMNS, chart)
    rows = (width + 1) // 2
    return top + rows * _CHART_ROWS
