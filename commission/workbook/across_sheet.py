"""The units of a site beside one another: the numbers that a form names, with charts."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import groupby
from typing import Any

import xlsxwriter

from commission.definitions.model import Check, Key, Level, Quantity, Severity
from commission.formula.evaluate import State
from commission.language import spoken, to_say
from commission.units import convert
from commission.validation.results import UnitResults
from commission.workbook.addresses import column_letters
from commission.workbook.appearance import FONT, number_format
from commission.workbook.book import ACROSS, Book
from commission.workbook.charts import dress
from commission.workbook.layout import is_numeric
from commission.workbook.page_cells import conversion
from commission.workbook.sheet import Sheet
from commission.workbook.words import tab

_FEWEST_UNITS, _MOST_JUDGED = 2, 12
_FIRST_ROW = 3
_ABREAST = 15  # numbers side by side; more would be too small to read on paper
_WIDTHS = (18.0, *[15.0] * _ABREAST)
_CHART_PX, _CHART_ROWS, _CHART_COLUMNS, _CHARTS_ABREAST = (540, 300), 16, 5, 3
_TONES = ("#2F7F86", "#23444D", "#8FBFC3", "#C9D2D6")  # told apart on a black and white print


def compared_keys(book: Book) -> list[Key]:
    """Return the numbers set side by side: each has a value in two units at least.

    They are those that the form names (`across`), or, where it names none, the first results
    that a check of theirs judges.
    """
    form = book.site.form
    names = list(form.across) or list(dict.fromkeys(_judged_names(book)))[:_MOST_JUDGED]
    found: list[Key] = []
    for name in names:
        members = {index for unit in book.site.units for index in unit.asked_members(name)}
        found += [key for key in (Key(name, i) for i in sorted(members)) if _is_known(book, key)]
    return found


def _is_known(book: Book, key: Key) -> bool:
    having = (key.index in unit.asked_members(key.name) for unit in book.site.units)
    known = [
        unit
        for unit, asked in zip(book.site.units, having, strict=True)
        if asked and unit.value(*key).number is not None
    ]
    return len(known) >= _FEWEST_UNITS


def _judged_names(book: Book) -> Iterator[str]:
    form = book.site.form
    for section in form.sections:
        if section.level is Level.PROJECT:
            continue
        for check in section.checks:
            if check.parts and check.severity is not Severity.NOTE and _is_number(book, check):
                yield check.judges


def _is_number(book: Book, check: Check) -> bool:
    judged = book.site.form.by_name[check.judges]
    return isinstance(judged, Quantity) and is_numeric(judged)


@dataclass(frozen=True)
class _Column:
    """Where a number stands: the row of its heading, its column, and that of what is drawn."""

    head: int
    column: int

    @property
    def drawn(self) -> int:
        return _ABREAST + 1 + self.column


class _Writing:
    """The sheet being written: bands of numbers below one another, then the charts."""

    def __init__(
        self, workbook: xlsxwriter.Workbook, book: Book, sheet: Sheet, keys: Sequence[Key]
    ) -> None:
        self.workbook, self.book, self.sheet = workbook, book, sheet
        self.units = book.site.units
        self.groups = [list(members) for _, members in groupby(keys, lambda key: key.name)]
        self.columns: dict[Key, _Column] = {}

    def write(self) -> None:
        """Write the tables and below them the charts, and set the sheet up to print."""
        sheet, site = self.sheet, self.book.site
        sheet.columns(_WIDTHS)
        sheet.text(0, 0, ACROSS, "title")
        sheet.worksheet.set_row(0, 24)
        remark = to_say(
            "Live: each cell shows what stands on its unit's page. Charts draw what is a number."
        )
        sheet.text(1, 0, remark, "subtitle")
        bands = list(_bands(self.groups))
        row = _FIRST_ROW
        for band in bands:
            self._band(row, band)
            row += len(self.units) + 2
        one_head = _FIRST_ROW + 1 if len(bands) == 1 else 0
        sheet.worksheet.freeze_panes(one_head, 1)
        below, breaks = self._charts(row)
        sheet.protect()
        sheet.worksheet.print_area(0, 0, below, _ABREAST)
        sheet.worksheet.set_h_pagebreaks(breaks)
        footer = spoken(
            "{id} {version}, project revision {revision}",
            id=site.form.id,
            version=site.form.version,
            revision=site.project.revision,
        )
        sheet.printed(left=site.project.title, right=ACROSS, repeat=None, footer=footer)

    def _band(self, head: int, keys: Sequence[Key]) -> None:
        """Write one table: a heading row, and a row for each unit."""
        self.sheet.text(head, 0, "Unit", "head")
        for column, key in enumerate(keys, start=1):
            self.columns[key] = _Column(head, column)
            self.sheet.text(head, column, self._heading(key), "head")
        for owner, results in enumerate(self.units, start=1):
            self.sheet.text(head + owner, 0, results.tag, "label")
            for key in keys:
                self._value(owner, results, key)
        self.sheet.fit_rows(head, head + len(self.units))

    def _unit(self, key: Key) -> str:
        return self.units[0].shown_unit(key.name)

    def _value(self, owner: int, results: UnitResults, key: Key) -> None:
        """Write a value as shown, and beside the tables what charts draw: no word, no zero."""
        at, sheet = self.columns[key], self.sheet
        row = at.head + owner
        name = self.book.addresses.value(owner, key)
        if name is None:
            sheet.text(row, at.column, "", "cell")
            sheet.formula(row, at.drawn, "NA()", "#N/A", "further")
            return
        entry = self.book.plan.entries[key.name]
        unit, shown = entry.unit, results.shown_unit(key.name)
        formula = conversion(name, unit, shown) if unit != shown else f'IF({name}="","",{name})'
        now = _shown(results, key, unit, shown)
        number = now if isinstance(now, float) else None
        decimals = entry.decimals if unit == shown else None
        sheet.formula(row, at.column, formula, now, "number", number_format(number, decimals))
        cell = f"{column_letters(at.column)}{row + 1}"
        drawn = now if isinstance(now, float) else "#N/A"
        sheet.formula(row, at.drawn, f"IF(ISNUMBER({cell}),{cell},NA())", drawn, "further")

    def _charts(self, top: int) -> tuple[int, list[int]]:
        """Put a chart of each group below the tables; return the last row, and page breaks."""
        rows = -(-len(self.groups) // _CHARTS_ABREAST)
        for number, members in enumerate(self.groups):
            down, along = divmod(number, _CHARTS_ABREAST)
            place = top + down * _CHART_ROWS, along * _CHART_COLUMNS
            self.sheet.worksheet.insert_chart(*place, self._chart(members))
        bottom = top + rows * _CHART_ROWS
        starts = [top + row * _CHART_ROWS for row in range(rows)]
        return bottom, list(self._breaks(starts))

    def _breaks(self, starts: Sequence[int]) -> Iterator[int]:
        """Yield the rows of charts before which a printed page ends, so that none is cut."""
        paper = self.sheet.paper
        room = paper.points_for(paper.percent_for(dict(enumerate(_WIDTHS))))
        used = sum(self.sheet.height(row) for row in range(starts[0])) % room
        for start in starts:
            needed = sum(self.sheet.height(row) for row in range(start, start + _CHART_ROWS))
            if used + needed > room:
                yield start
                used = 0.0
            used += needed

    def _chart(self, members: Sequence[Key]) -> Any:
        """Return a chart of one number: at each unit a bar for each of its members."""
        chart = self.workbook.add_chart({"type": "column"})
        for number, key in enumerate(members):
            at = self.columns[key]
            first, last = at.head + 1, at.head + len(self.units)
            chart.add_series({
                "name": self._having(key).member_label(*key) or self._having(key).label(key),
                "categories": [tab(ACROSS), first, 0, last, 0],
                "values": [tab(ACROSS), first, at.drawn, last, at.drawn],
                "fill": {"color": _TONES[number % len(_TONES)]},
                "gap": 80,
            })  # fmt: skip
        alone = len(members) == 1
        key = members[0]
        title = self._having(key).label(key) if alone else self.book.plan.entries[key.name].label
        dress(chart, title, "", self._unit(key), from_zero=self._is_from_zero(members))
        legend = {"position": "bottom", "font": {"name": FONT, "size": 9}}
        chart.set_legend({"none": True} if alone else legend)
        chart.set_size({"width": _CHART_PX[0], "height": _CHART_PX[1]})
        return chart

    def _is_from_zero(self, members: Sequence[Key]) -> bool:
        """Whether bars begin at zero, as their lengths then can be compared.

        A temperature or a difference of two may be typed below zero later on.
        """
        if "°" in self._unit(members[0]):
            return False
        numbers = (
            unit.value(*key).number
            for key in members
            for unit in self.units
            if key.index in unit.asked_members(key.name)
        )
        return all(number is None or number >= 0 for number in numbers)

    def _having(self, key: Key) -> UnitResults:
        return next(unit for unit in self.units if key.index in unit.members(key.name))

    def _heading(self, key: Key) -> str:
        return f"{self._having(key).label(key)}, {self._unit(key)}".removesuffix(", ")


def write_across(
    workbook: xlsxwriter.Workbook, book: Book, sheet: Sheet, keys: Sequence[Key]
) -> None:
    """Write a row for each unit, a column for each number, and below them the charts."""
    _Writing(workbook, book, sheet, keys).write()


def _bands(groups: Sequence[Sequence[Key]]) -> Iterator[list[Key]]:
    """Yield as many numbers as stand side by side; the members of one keep together."""
    band: list[Key] = []
    for members in groups:
        if band and len(band) + len(members) > _ABREAST:
            yield band
            band = []
        for key in members:  # more members than stand side by side go on below
            if len(band) == _ABREAST:
                yield band
                band = []
            band.append(key)
    if band:
        yield band


def _shown(results: UnitResults, key: Key, unit: str, shown: str) -> Any:
    """Return what a cell shows of a value before anything is edited."""
    value = results.value(*key)
    if value.state is State.NOT_APPLICABLE:
        return "n/a"
    if value.state is State.FAULT:
        return "out of range"
    if value.state is not State.KNOWN:
        return ""
    return convert(value.number, unit, shown) if value.number is not None else ""
