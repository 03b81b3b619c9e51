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
            cell = given if isinstance(given, Cell) else Cell(given)
            if not cell.align:
                cell = replace(cell, align=self.columns[place].align)
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
        """Draw header and rows from the top."""
        y = self.height
        for laid in self._head:
            y -= laid.height
            self._draw_row(laid, y)
            self._line(y, INK, 0.7)
        for laid in self._laid:
            y -= laid.height
            if laid.row.group:
                self.canv.setFillColor(TINT)
                self.canv.rect(0, y, self.width, laid.height, stroke=0, fill=1)
            if laid.row.key:
                self.canv.mark_place(laid.row.key, y + laid.height + 2)
            self._draw_row(laid, y)
            if laid.row.ruled:
                self._line(y, RULE, 0.3)

    def _line(self, y: float, colour: Any, weight: float) -> None:
        self.canv.setStrokeColor(colour)
        self.canv.setLineWidth(weight)
        self.canv.line(0, y, self.width, y)

    def _draw_row(self, laid: _Laid, y: float) -> None:
        canvas = self.canv
        first = y + laid.height - self.pad - self.size
        for cell, x, width, lines in laid.cells:
            canvas.setFillColor(ACCENT if cell.link else cell.colour)
            canvas.setFont(cell.font, self.size)
            for number, line in enumerate(lines):
                if line:
                    self._draw_line(cell, x, width, first - number * self.leading, line)
            if cell.page_of:
                canvas.draw_page_of(cell.page_of, x + width - PAD_X, first, self.size)
            place = cell.link or cell.goes_to or cell.page_of
            if place:
                canvas.link_to(place, (x, y, x + width, y + laid.height))

    def _draw_line(self, cell: Cell, x: float, width: float, y: float, line: str) -> None:
        if cell.align == "right":
            self.canv.drawRightString(x + width - PAD_X, y, line)
        elif cell.align == "centre":
            offset = (width - width_of(line, cell.font, self.size)) / 2
            self.canv.drawString(x + offset, y, line)
        else:
            self.canv.drawString(x + PAD_X, y, line)
