"""Charts of the readings on a page: what a figure of the form names, as the spreadsheet's own.

They draw the entry cells themselves, so they follow what is typed. A spreadsheet draws a word
as zero, so a figure with an "n/a" among its readings has no chart.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

import xlsxwriter

from commission.definitions.model import Figure, FigureKind, Key
from commission.formula.evaluate import State
from commission.language import to_say
from commission.workbook.addresses import Cell, joined_ranges
from commission.workbook.appearance import FONT
from commission.workbook.book import Book
from commission.workbook.layout import EntryRow, Page
from commission.workbook.sheet import Sheet

CHART_ROWS, _GAP = 17, 1  # rows of the usual height that a chart takes, and before it
WIDTH_PX, HEIGHT_PX = 860, 330
_INKS = ("#23444D", "#B45309", "#2F7F86", "#7F1D1D", "#463566", "#5B6870")
_MARKS = ("circle", "square", "diamond", "triangle", "x", "plus")
_DASHES = ("solid", "dash", "round_dot", "long_dash", "dash_dot", "square_dot")


def write_charts(
    workbook: xlsxwriter.Workbook, book: Book, page: Page, sheet: Sheet
) -> list[tuple[int, int]]:
    """Put a page's charts below its rows; return the rows that each takes."""
    taken: list[tuple[int, int]] = []
    for figure in page.section.figures:
        series = list(_series(book, page, figure))
        if not series:
            continue
        first = (taken[-1][1] if taken else page.last_row) + 1 + _GAP
        chart = line_chart(workbook, figure.label, series, *_axes(page, figure))
        sheet.worksheet.insert_chart(first, 0, chart, {"object_position": 2})
        taken.append((first, first + CHART_ROWS))
    return taken


def line_chart(
    workbook: xlsxwriter.Workbook,
    title: str,
    series: Sequence[dict[str, Any]],
    along: str,
    up: str,
) -> Any:
    """Return a chart of lines with marks; no two series share colour, mark and dash."""
    chart = workbook.add_chart({"type": "line"})
    for number, one in enumerate(series):
        at = number % len(_INKS)
        round_ = (number // len(_INKS)) % len(_DASHES)
        ink = _INKS[at]
        line = {"color": ink, "width": 1.5, "dash_type": _DASHES[(at + round_) % len(_DASHES)]}
        fill = {"color": ink}
        marker = {"type": _MARKS[at], "size": 6, "fill": fill, "border": fill}
        chart.add_series({**one, "line": line, "marker": marker})
    dress(chart, title, along, up)
    chart.set_size({"width": WIDTH_PX, "height": HEIGHT_PX})
    if len(series) == 1:
        chart.set_legend({"none": True})
    else:
        chart.set_legend({"position": "right", "font": _face(9)})
    return chart


def dress(chart: Any, title: str, along: str, up: str, *, from_zero: bool = False) -> None:
    """Give a chart its title, named axes and quiet grid."""
    chart.set_title({"name": title, "name_font": {**_face(11), "bold": True}, "overlay": False})
    grid = {"visible": True, "line": {"color": "#C9D2D6", "width": 0.5}}
    ends = {"name_font": _face(9), "num_font": _face(9), "label_position": "low"}
    chart.set_x_axis({"name": along, **ends})
    least = {"min": 0} if from_zero else {}
    chart.set_y_axis({"name": up, "major_gridlines": grid, **ends, **least})
    chart.show_na_as_empty_cell()
    chart.show_blanks_as("gap")


def _face(size: float) -> dict[str, Any]:
    return {"name": FONT, "size": size, "bold": False}


def _series(book: Book, page: Page, figure: Figure) -> Iterator[dict[str, Any]]:
    """Yield what a figure draws as lines, none where nothing is read."""
    if figure.kind is FigureKind.PRESSURE_PROFILE and not figure.repeat:
        yield from _along_points(book, page, figure)
    elif figure.kind is FigureKind.TRAVERSE:
        yield from _by_lines(book, page, figure.uses["velocity"])


def _axes(page: Page, figure: Figure) -> tuple[str, str]:
    if figure.kind is FigureKind.TRAVERSE:
        velocity = figure.uses["velocity"]
        return to_say("Point on its line"), _named(page, velocity, to_say("Velocity"))
    return "", _named(page, figure.points[0].uses["static"], to_say("Static pressure"))


def _named(page: Page, name: str, word: str) -> str:
    return f"{word}, {page.results.shown_unit(name)}"


def _along_points(book: Book, page: Page, figure: Figure) -> Iterator[dict[str, Any]]:
    keys = [Key(point.uses["static"]) for point in figure.points]
    cells = _drawable(book, page, keys)
    if cells is None:
        return
    rows = {row.entry.name: number for number, row in page.numbered() if isinstance(row, EntryRow)}
    labels = [Cell(page.sheet, rows[key.name], 0) for key in keys]
    yield {"values": _reference(cells), "categories": _reference(labels), "name": figure.label}


def _by_lines(book: Book, page: Page, name: str) -> Iterator[dict[str, Any]]:
    members = page.results.asked_members(name)
    if not members or any(len(index) != 2 for index in members):
        return
    if _drawable(book, page, [Key(name, index) for index in members]) is None:
        return
    repeat = page.results.form.repeats[page.results.form.by_name[name].repeat[0]]
    for line in sorted({index[0] for index in members}):
        keys = [Key(name, index) for index in members if index[0] == line]
        cells = _drawable(book, page, keys)
        if cells is not None:
            yield {"values": _reference(cells), "name": repeat.member_label(line)}


def _drawable(book: Book, page: Page, keys: Sequence[Key]) -> list[Cell] | None:
    """Return the shown cells of readings, or None if none is a number or one is a word."""
    states = [page.results.value(*key).state for key in keys]
    if State.KNOWN not in states or {State.NOT_APPLICABLE, State.FAULT} & set(states):
        return None
    cells = [shown_cell(book, page.owner, key) for key in keys]
    found = [cell for cell in cells if cell is not None and cell.sheet == page.sheet]
    return found if len(found) == len(keys) else None


def shown_cell(book: Book, owner: int, key: Key) -> Cell | None:
    """Return the cell in which a value is shown or typed."""
    shown = book.addresses.further(owner, key, "shown")
    return book.addresses.names[shown] if shown else book.addresses.cell(owner, key)


def _reference(cells: Sequence[Cell]) -> str:
    joined = joined_ranges(cells)
    return f"=({joined})" if "," in joined else f"={joined}"
