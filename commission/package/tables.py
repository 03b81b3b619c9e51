"""The one table of the package: measured columns, rows that wrap, a header that repeats.

Cells are plain strings, broken into lines by us: many times faster than a paragraph in each,
and nothing that a person typed can be taken for markup.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

from reportlab.platypus import Flowable

from commission.package.look import (
    ACCENT,
    BOLD,
    INK,
    PAD_X,
    PAD_Y,
    QUIET,
    REGULAR,
    RULE,
    STEP,
    TABLE_LEADING,
    TABLE_SIZE,
    TINT,
)
from commission.package.typesetting import broken, width_of

_MOST_LINES = 44  # of one row; a longer text goes on in further rows


@dataclass(frozen=True, slots=True)
class Column:
    """A column: its title, its share of the table's width, and how its cells stand."""

    title: str
    share: float
    align: str = "left"


@dataclass(frozen=True, slots=True)
class Cell:
    """A cell's text and how it is set.

    `link` makes it a link in the link's ink, `goes_to` one in its own ink; `page_of` sets the
    page number of a place, linked, instead of a text.
    """

    text: str = ""
    font: str = REGULAR
    colour: Any = INK
    span: int = 1
    link: str = ""
    goes_to: str = ""
    page_of: str = ""
    align: str = ""


@dataclass(frozen=True, slots=True)
class Row:
    """A row; a `group` row is tinted and stays with the row after it."""

    cells: Sequence[Cell | str]
    key: str = ""
    group: bool = False
    ruled: bool = True


@dataclass(slots=True)
class _Laid:
    """A row measured: for each cell its place, width and lines."""

    row: Row
    cells: list[tuple[Cell, float, float, tuple[str, ...]]]
    height: float


class DataTable(Flowable):  # type: ignore[misc]
    """Rows under a header; splits between rows and repeats the header."""

    def __init__(
        self,
        columns: Sequence[Column],
        rows: Sequence[Row],
        header: bool = True,
        size: float = TABLE_SIZE,
        leading: float = TABLE_LEADING,
        pad: float = PAD_Y,
    ) -> None:
        super().__init__()
        self.columns, self.rows = columns, rows
        self.with_header = header and any(column.title for column in columns)
        self.size, self.leading, self.pad = size, leading, pad
        self.spaceBefore, self.spaceAfter = 2.0, STEP
        self._laid: list[_Laid] = []
        self._head: list[_Laid] = []
        self._laid_width = -1.0

    # -- measuring -----------------------------------------------------------------

    def wrap(self, width: float, height: float) -> tuple[float, float]:
        """Measure every row for this width, once."""
        if width != self._laid_width:
            self._lay(width)
        self.width = width
        self.height = sum(laid.height for laid in (*self._head, *self._laid))
        return width, self.height

    def least_height(self, width: float) -> float:
        """Return the height of the header and the first rows that belong together."""
        self.wrap(width, 0)
        height = sum(laid.height for laid in self._head)
        for number, laid in enumerate(self._laid):
            height += laid.height
            if not laid.row.group and number >= min(1, len(self._laid) - 1):
                break
        return height

    def _lay(self, width: float) -> None:
        whole = sum(column.share for column in self.columns)
        self._widths = [width * column.share / whole for column in self.columns]
        self._laid_width = width
        titles = [Cell(column.title, BOLD, QUIET) for column in self.columns]
        self._head = [self._measured(Row(titles))] if self.with_header else []
        self._laid = [laid for row in self.rows for laid in self._in_pieces(self._measured(row))]

    def _measured(self, row: Row) -> _Laid:
        place, x, cells, most = 0, 0.0, [], 1
        for given in row.cells:
            own = self.columns[place].align
            if not isinstance(given, Cell):
                cell = Cell(given, align=own)
            else:
                cell = given if given.align or own == "left" else replace(given, align=own)
            width = sum(self._widths[place : place + cell.span])
            lines = broken(cell.text, cell.font, self.size, round(width - 2 * PAD_X, 1))
            cells.append((cell, x, width, lines))
            most = max(most, len(lines))
            place, x = place + cell.span, x + width
        return _Laid(row, cells, most * self.leading + 2 * self.pad)

    def _in_pieces(self, laid: _Laid) -> list[_Laid]:
        """Return the row, or several of at most `_MOST_LINES` lines each."""
        most = max(len(lines) for *_, lines in laid.cells)
        if most <= _MOST_LINES:
            return [laid]
        pieces = []
        for first in range(0, most, _MOST_LINES):
            cells = [
                (cell, x, width, lines[first : first + _MOST_LINES])
                for cell, x, width, lines in laid.cells
            ]
            count = max(len(lines) for *_, lines in cells)
            row = laid.row if first == 0 else replace(laid.row, key="")
            pieces.append(_Laid(row, cells, count * self.leading + 2 * self.pad))
        return pieces

    # -- splitting -----------------------------------------------------------------

    def split(self, width: float, height: float) -> list[Flowable]:
        """Return the part that fits and the rest, or nothing if no row fits."""
        self.wrap(width, height)
        fits = self._fitting(height)
        if not fits or fits == len(self._laid):
            return [self] if fits else []
        return [self._part(self._laid[:fits]), self._part(self._laid[fits:])]

    def _fitting(self, height: float) -> int:
        used = sum(laid.height for laid in self._head)
        count = 0
        for laid in self._laid:
            used += laid.height
            if used > height:
                break
            count += 1
        if count == len(self._laid) - 1 > 3:
            count -= 1  # a row does not stand alone on the next page
        while count and count < len(self._laid) and self._laid[count - 1].row.group:
            count -= 1
        return count

    def _part(self, laid: list[_Laid]) -> DataTable:
        part = DataTable(self.columns, [], self.with_header, self.size, self.leading, self.pad)
        part._laid, part._head = laid, self._head
        part._laid_width, part._widths = self._laid_width, self._widths
        return part

    # -- drawing -------------------------------------------------------------------

    def draw(self) -> None:
        """Draw tints, then rules, then all text in one text object, from the top."""
        rows: list[tuple[_Laid, float]] = []
        y = self.height
        for laid in (*self._head, *self._laid):
            y -= laid.height
            rows.append((laid, y))
        self._draw_tints(rows)
        self._draw_rules(rows)
        self._draw_text(rows)
        for laid, foot in rows:
            if laid.row.key:
                self.canv.mark_place(laid.row.key, foot + laid.height + 2)
            self._draw_references(laid, foot)

    def _draw_tints(self, rows: Sequence[tuple[_Laid, float]]) -> None:
        self.canv.setFillColor(TINT)
        for laid, y in rows:
            if laid.row.group:
                self.canv.rect(0, y, self.width, laid.height, stroke=0, fill=1)

    def _draw_rules(self, rows: Sequence[tuple[_Laid, float]]) -> None:
        head, body = rows[: len(self._head)], rows[len(self._head) :]
        for colour, weight, places in (
            (INK, 0.7, [y for _, y in head]),
            (RULE, 0.3, [y for laid, y in body if laid.row.ruled]),
        ):
            if places:
                self.canv.setStrokeColor(colour)
                self.canv.setLineWidth(weight)
                self.canv.lines([(0, y, self.width, y) for y in places])

    def _draw_text(self, rows: Sequence[tuple[_Laid, float]]) -> None:
        text = self.canv.beginText()
        font, colour = "", None
        for laid, y in rows:
            first = y + laid.height - self.pad - self.size
            for cell, x, width, lines in laid.cells:
                if not any(lines):
                    continue
                if cell.font != font:
                    font = cell.font
                    text.setFont(font, self.size)
                ink = ACCENT if cell.link else cell.colour
                if ink is not colour:
                    colour = ink
                    text.setFillColor(ink)
                for number, line in enumerate(lines):
                    text.setTextOrigin(
                        self._start(cell, x, width, line), first - number * self.leading
                    )
                    text.textLine(line)
        self.canv.drawText(text)

    def _start(self, cell: Cell, x: float, width: float, line: str) -> float:
        if cell.align == "right":
            return x + width - PAD_X - width_of(line, cell.font, self.size)
        if cell.align == "centre":
            return x + (width - width_of(line, cell.font, self.size)) / 2
        return x + PAD_X

    def _draw_references(self, laid: _Laid, y: float) -> None:
        """Draw the page numbers known only at the end, and make the links."""
        for cell, x, width, _ in laid.cells:
            place = cell.link or cell.goes_to or cell.page_of
            if cell.page_of:
                baseline = y + laid.height - self.pad - self.size
                self.canv.draw_page_of(cell.page_of, x + width - PAD_X, baseline, self.size)
            if place:
                self.canv.link_to(place, (x, y, x + width, y + laid.height))
