"""A page of the form as a sheet: entry cells, live results, limits and verdicts."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import xlsxwriter

from commission.definitions.model import Field, Key
from commission.language import spoken, to_say
from commission.validation.verdict import Outcome
from commission.workbook.appearance import tab_colour
from commission.workbook.book import PAGES, Book
from commission.workbook.charts import write_charts
from commission.workbook.guards import guard_formulas
from commission.workbook.layout import (
    FIRST_ROW,
    HEAD_ROW,
    BandRow,
    CautionRow,
    CheckRow,
    Column,
    EntryRow,
    GridHeadRow,
    GridRow,
    GuardRow,
    IntroRow,
    Page,
    Row,
)
from commission.workbook.page_breaks import page_breaks
from commission.workbook.page_cells import PageCells
from commission.workbook.remarks import remark
from commission.workbook.sheet import Sheet
from commission.workbook.words import tab


def write_page(
    book: Book, page: Page, sheet: Sheet, workbook: xlsxwriter.Workbook | None = None
) -> None:
    """Write one page on its sheet, with its charts if the workbook to make them in is given."""
    writer = _PageWriter(book, page, sheet, PageCells(book, page, sheet))
    writer.head()
    for number, row in page.numbered():
        writer.row(number, row)
    writer.finish(write_charts(workbook, book, page, sheet) if workbook is not None else ())


@dataclass
class _PageWriter:
    book: Book
    page: Page
    sheet: Sheet
    cells: PageCells

    def head(self) -> None:
        """Write title, whose page it is, and the head of the columns."""
        page, sheet = self.page, self.sheet
        sheet.columns([page.widths[column] for column in page.columns])
        whose = f"{page.results.tag}: " if page.results.tag else ""
        sheet.text(0, 0, f"{whose}{page.section.title}", "title")
        sheet.worksheet.set_row(0, 24)
        sheet.heights[0] = 24.0
        sheet.text(1, 0, self.book.site.project.title, "subtitle")
        sheet.link(1, self._last, tab(PAGES), to_say("All pages"))
        for column, place in page.columns.items():
            sheet.text(HEAD_ROW, place, str(column), "head")

    @property
    def _last(self) -> int:
        return self.page.last_printed

    def finish(self, charts: Sequence[tuple[int, int]] = ()) -> None:
        """Freeze, colour, protect and set up for print."""
        sheet, page = self.sheet, self.page
        sheet.worksheet.freeze_panes(FIRST_ROW, 1)
        sheet.worksheet.set_tab_color(tab_colour(page.owner))
        sheet.fit_rows(HEAD_ROW, page.last_row)
        self._colours()
        sheet.protect()
        site = self.book.site
        sheet.printed(
            left=site.project.title,
            right=f"{page.results.tag} {page.section.title}".strip(),
            repeat=(0, HEAD_ROW),
            footer=spoken(
                "{id} {version}, project revision {revision}",
                id=site.form.id,
                version=site.form.version,
                revision=site.project.revision,
            ),
        )
        self._pages(charts)

    def _pages(self, charts: Sequence[tuple[int, int]]) -> None:
        """Leave working columns out of print, and keep together what belongs together."""
        sheet, page = self.sheet, self.page
        last = charts[-1][1] if charts else page.last_row
        if any(page.has_working(key) for key in page.all_keys()):
            sheet.worksheet.print_area(0, 0, last, self._last)
        widths = {place: sheet.widths[place] for place in range(self._last + 1)}
        percent = sheet.paper.percent_for(widths)
        breaks = page_breaks(page, sheet.height, sheet.paper.points_for(percent), charts)
        if breaks:
            sheet.worksheet.set_h_pagebreaks(breaks)

    def _colours(self) -> None:
        """Lay the colours of verdict words over the verdict column, and quieten "n/a"."""
        first, last = FIRST_ROW, self.page.last_row
        if Column.VERDICT in self.page.columns:
            place = self.page.columns[Column.VERDICT]
            self.sheet.outcomes((first, place, last, place))
        for number, row in self.page.numbered():
            if isinstance(row, GuardRow):
                colours = {"clear": Outcome.PASS, "held": Outcome.FAIL}
                self.sheet.words((number, 1, number, 1), colours)
        quiet = {"type": "cell", "criteria": "==", "value": '"n/a"'}
        quiet["format"] = self.sheet.style.quiet()
        self.sheet.worksheet.conditional_format(first, 1, last, max(self._last - 1, 1), quiet)

    # -- rows ------------------------------------------------------------------------

    def row(self, number: int, row: Row) -> None:
        """Write one row."""
        match row:
            case IntroRow(text):
                self.sheet.across(number, 0, self._last, text, "intro")
            case CautionRow(text):
                self.sheet.across(
                    number, 0, self._last, spoken("Caution: {value}", value=text), "caution"
                )
            case GuardRow():
                self._guard(number, row)
            case BandRow(text):
                for place in range(self._last + 1):
                    self.sheet.text(number, place, text if place == 0 else "", "band")
            case EntryRow():
                self._entry(number, row)
            case CheckRow():
                self._check_row(number, row)
            case GridHeadRow():
                self._grid_head(number, row)
            case GridRow():
                self._grid_row(number, row)

    def _guard(self, number: int, row: GuardRow) -> None:
        """Write whether the stops before this page are clear, and which are not, live."""
        clear, state, waiting, now = guard_formulas(self.book, self.page, row.keys)
        self._ruled(number)
        self.sheet.text(number, 0, to_say("Stops that must be clear before this page"), "label")
        self.sheet.formula(number, 1, clear, state, "verdict")
        self.sheet.merge(number, 2, self._last, "text")
        self.sheet.formula(number, 2, waiting, now, "text")
        self.sheet.reserve(number, now, sum(list(self.page.widths.values())[2:]), "text")

    def _entry(self, number: int, row: EntryRow) -> None:
        cells, key = self.cells, Key(row.entry.name, row.index)
        self._ruled(number)
        self.sheet.text(number, 0, row.label, "label")
        cells.value(number, row.entry, key)
        cells.instrument(number, key)
        words = [remark(self.book, self.page, key), cells.uncertainty(number, key)]
        if row.check is not None:
            words.append(cells.check(number, row.check, row.index, row.entry.label))
        # The reason of an n/a typed here has its place beside the reading.
        self._words(number, words, "open_small" if isinstance(row.entry, Field) else "small")

    def _check_row(self, number: int, row: CheckRow) -> None:
        self._ruled(number)
        self.sheet.text(number, 0, row.label, "further")
        self.cells.judged(number, row.check, row.index)
        self._words(number, [self.cells.check(number, row.check, row.index, row.check.label)])

    def _ruled(self, number: int) -> None:
        for place in range(1, self._last + 1):
            self.sheet.blank(number, place, "cell")

    def _words(self, number: int, words: list[str], style: str = "small") -> None:
        text = "\n".join(part for part in words if part)
        self.sheet.text(number, self.page.columns[Column.HOW], text, style)

    def _grid_head(self, number: int, row: GridHeadRow) -> None:
        shown = self.page.results.shown_unit(row.entry.name)
        unit = f", {shown}" if shown else ""
        self.sheet.text(number, 0, f"{row.entry.label}{unit}", "band")
        for column in range(1, self._last + 1):
            label = row.labels[column - 1] if column <= len(row.labels) else ""
            self.sheet.text(number, column, label, "band_right")
        index = next(index for index in row.indexes if index is not None)
        if self.page.has_working(Key(row.entry.name, index)):
            for column, label in enumerate(row.labels, start=1):
                text = f"{label}, {row.entry.unit}".removesuffix(", ")
                self.sheet.text(number, self.page.grid_column(column), text, "band_right")

    def _grid_row(self, number: int, row: GridRow) -> None:
        self.sheet.text(number, 0, row.label, "label")
        for column, index in enumerate(row.indexes, start=1):
            if index is not None:
                self.cells.grid_value(number, column, Key(row.entry.name, index))
