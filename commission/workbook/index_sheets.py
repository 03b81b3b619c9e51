"""The sheets that find things: all pages with live counts, all stops with live verdicts."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from commission.definitions.model import Check, Field, Key, Severity
from commission.formula.evaluate import State
from commission.formula.excel import quoted
from commission.language import spoken, to_say
from commission.validation.verdict import Outcome, Verdict
from commission.workbook.addresses import Cell, column_letters, joined_ranges
from commission.workbook.book import PAGES, STOPS, Book
from commission.workbook.layout import FIRST_ROW, CheckRow, Column, EntryRow, GridRow, Page
from commission.workbook.sheet import Sheet
from commission.workbook.words import tab

COUNTED = (Outcome.PASS, Outcome.FAIL, Outcome.INCONCLUSIVE, Outcome.MISSING)
INDEX_HEAD = 3
INDEX_FIRST = INDEX_HEAD + 1
COUNT_HEADS = (
    to_say("Passed"),
    to_say("Failed"),
    to_say("Inconclusive"),
    to_say("Missing"),
    to_say("Stops"),
    to_say("To read"),
)
_PAGE_HEADS = (to_say("Unit"), to_say("Page"), *COUNT_HEADS)
_FIRST_COUNT, _STOPS_COLUMN, _UNREAD_COLUMN = 2, 6, 7
_STOP_HEADS = (
    to_say("No."),
    to_say("Unit"),
    to_say("Sheet"),
    to_say("Check"),
    to_say("Verdict now"),
    to_say("Gone past by, and why"),
)
_NUMBER_COLUMN, _SHEET_COLUMN, _VERDICT_COLUMN = 0, 2, 4


@dataclass(frozen=True, slots=True)
class StopLine:
    """One stop check of one member, with where its verdict stands."""

    page: Page
    check: Check
    key: Key
    verdict: Verdict


def stop_lines(book: Book) -> list[StopLine]:
    """Return every stop check of the workbook, in the order of the pages, and note how many."""
    lines = [
        StopLine(page, check, Key(check.name, index), page.results.verdict(check.name, index))
        for page in book.pages
        for check, index in _checks_of(page)
        if check.severity is Severity.STOP
    ]
    book.stop_count = len(lines)
    return lines


def _checks_of(page: Page) -> Iterator[tuple[Check, tuple[int, ...]]]:
    for row in page.rows:
        if isinstance(row, CheckRow | EntryRow) and row.check is not None:
            yield row.check, row.index


def count_column(outcome: Outcome) -> int:
    """Return the column of a count on the sheet of pages."""
    return _FIRST_COUNT + COUNTED.index(outcome)


@dataclass(frozen=True, slots=True)
class PageCounts:
    """What the sheet of pages says of one page now."""

    outcomes: dict[Outcome, int]
    stops: int
    unread: int


def counts_of(page: Page) -> PageCounts:
    """Return the counts of a page, over the rows that its sheet has."""
    found = [page.results.verdict(check.name, index) for check, index in _checks_of(page)]
    outcomes = {which: sum(v.outcome is which for v in found) for which in COUNTED}
    unread = sum(page.results.value(*key).state is State.MISSING for key in _required(page))
    return PageCounts(outcomes, sum(verdict.stops for verdict in found), unread)


def _required(page: Page) -> Iterator[Key]:
    for row in page.rows:
        if not isinstance(row, EntryRow | GridRow):
            continue
        if not (isinstance(row.entry, Field) and row.entry.required):
            continue
        for index in (row.index,) if isinstance(row, EntryRow) else row.indexes:
            if index is not None:
                yield Key(row.entry.name, index)


def write_pages(book: Book, sheet: Sheet, counts: list[PageCounts]) -> None:
    """Write the sheet of pages: a link and live counts for each."""
    sheet.columns([16, 52, 11, 11, 13, 11, 11, 11])
    _head(
        sheet,
        to_say("Pages"),
        to_say("Counts follow the sheets. “To read”: required cells still empty."),
    )
    for column, text in enumerate(_PAGE_HEADS):
        sheet.text(INDEX_HEAD, column, text, "head" if column < _FIRST_COUNT else "head_center")
    for row, (page, count) in enumerate(zip(book.pages, counts, strict=True), INDEX_FIRST):
        sheet.text(row, 0, page.results.tag or "Project", "label")
        sheet.link(row, 1, page.sheet, page.section.title, "link_cell")
        _counts(book, sheet, page, row, count)
    last = INDEX_FIRST + len(book.pages) - 1
    if book.pages:
        sheet.worksheet.autofilter(INDEX_HEAD, 0, last, len(_PAGE_HEADS) - 1)
    _finish(book, sheet, PAGES, last)


def _counts(book: Book, sheet: Sheet, page: Page, row: int, count: PageCounts) -> None:
    verdicts = _verdict_range(page)
    for outcome in COUNTED:
        column = count_column(outcome)
        if verdicts:
            formula = f'COUNTIF({verdicts},"{outcome}")'
            sheet.formula(row, column, formula, count.outcomes[outcome], "count")
        else:
            sheet.number(row, column, 0, "count")
    sheets, verdicts_now = stop_column(book, _SHEET_COLUMN), stop_column(book, _VERDICT_COLUMN)
    stops = f'COUNTIFS({sheets},{quoted(page.sheet)},{verdicts_now},"fail")'
    sheet.formula(row, _STOPS_COLUMN, stops, count.stops, "count")
    ranges = joined_ranges(_entry_cells(book, page))
    if ranges:
        unread = "+".join(f"COUNTBLANK({part})" for part in ranges.split(","))
        sheet.formula(row, _UNREAD_COLUMN, unread, count.unread, "count")
    else:
        sheet.number(row, _UNREAD_COLUMN, 0, "count")


def _verdict_range(page: Page) -> str:
    if Column.VERDICT not in page.columns:
        return ""
    column = page.columns[Column.VERDICT]
    first, last = Cell(page.sheet, FIRST_ROW, column), Cell(page.sheet, page.last_row, column)
    return f"{first.absolute}:{last.local}"


def _entry_cells(book: Book, page: Page) -> Iterator[Cell]:
    for key in _required(page):
        cell = book.addresses.cell(page.owner, key)
        if cell is not None:
            yield cell


def stop_column(book: Book, column: int) -> str:
    """Return a column of the sheet of stops, below its head."""
    letters = column_letters(column)
    last = INDEX_FIRST + max(book.stop_count, 1)
    return f"'{tab(STOPS)}'!${letters}${INDEX_FIRST + 1}:${letters}${last}"


def write_stops(book: Book, sheet: Sheet, lines: list[StopLine]) -> None:
    """Write the sheet of stops: each with its live verdict, those that stand numbered."""
    sheet.columns([8, 16, 34, 62, 16, 50])
    remark = to_say(
        "A stop makes starting or running unsafe while it fails. Those that fail are numbered."
    )
    _head(sheet, "Stops", remark)
    sheet.texts(INDEX_HEAD, _STOP_HEADS, "head")
    standing = 0
    for row, line in enumerate(lines, start=INDEX_FIRST):
        standing += line.verdict.stops
        _stop_line(book, sheet, row, line, standing if line.verdict.stops else "")
    last = INDEX_FIRST + max(len(lines), 1) - 1
    sheet.outcomes((INDEX_FIRST, _VERDICT_COLUMN, last, _VERDICT_COLUMN))
    _finish(book, sheet, STOPS, last)


def _stop_line(book: Book, sheet: Sheet, row: int, line: StopLine, number: float | str) -> None:
    letters = column_letters(_VERDICT_COLUMN)
    here, above = f"{letters}{row + 1}", f"{letters}${INDEX_FIRST + 1}:{letters}{row + 1}"
    counted = f'IF({here}="fail",COUNTIF({above},"fail"),"")'
    sheet.formula(row, _NUMBER_COLUMN, counted, number, "count")
    sheet.text(row, 1, line.page.results.tag or "Project", "label")
    sheet.link(row, _SHEET_COLUMN, line.page.sheet, line.page.sheet, "link_cell")
    sheet.text(row, 3, line.page.results.label(line.key), "cell")
    name = book.addresses.value(line.page.owner, line.key) or '""'
    sheet.formula(row, _VERDICT_COLUMN, name, str(line.verdict.outcome), "verdict")
    override = line.page.results.override_of(line.verdict)
    text = f"{override.person_name}: {override.reason}" if override else ""
    sheet.text(row, 5, text, "cell")


def _head(sheet: Sheet, title: str, remark: str) -> None:
    sheet.text(0, 0, title, "title")
    sheet.worksheet.set_row(0, 24)
    sheet.text(1, 0, remark, "subtitle")


def _finish(book: Book, sheet: Sheet, title: str, last: int) -> None:
    sheet.fit_rows(INDEX_HEAD, last)
    sheet.worksheet.freeze_panes(INDEX_FIRST, 0)
    sheet.protect()
    site = book.site
    footer = spoken(
        "{id} {version}, project revision {revision}",
        id=site.form.id,
        version=site.form.version,
        revision=site.project.revision,
    )
    repeat = (INDEX_HEAD, INDEX_HEAD)
    sheet.printed(left=site.project.title, right=title, repeat=repeat, footer=footer)
