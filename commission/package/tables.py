"""The one table of the package: measured columns, rows that wrap, a header that repeats.

Cells are plain strings, broken into lines by us: many times faster than a paragraph in each,
and nothing that a person typed can be taken for markup.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any, Literal

from reportlab.platypus import Flowable

from commission.language import spoken
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
from commission.package.table_tags import Reads, TableTags
from commission.package.typesetting import broken, plain, read_on, width_of

_MOST_LINES = 44  # of one row; a longer text goes on in further rows
LEAD = 8.0  # points before a column of words that follows one of figures
_FEWEST_ROWS = 2  # of a table that goes on on another page, on either side
_SLACK = 0.5  # points, so that rounding breaks no line
_MOST_OF_A_PAGE = 560.0  # points; a table that breaks badly at any row is broken anyhow


@dataclass(frozen=True, slots=True)
class Column:
    """A column: its title, its share of the table's width, and how its cells stand.

    `lead` is room in points before its cells, where a column of figures ends right before it.
    """

    title: str
    share: float
    align: str = "left"
    lead: float = 0.0


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

    @property
    def place(self) -> str:
        """The place to which the cell is a link, or ""."""
        return self.link or self.goes_to or self.page_of


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


def title_width(column: Column) -> float:
    """Return the width, points, at which a column's title stands on one line."""
    return width_of(plain(column.title), BOLD, TABLE_SIZE) + 2 * PAD_X + column.lead


def _lines(text: str) -> list[str]:
    return plain(text).split("\n")


class DataTable(Flowable):  # type: ignore[misc]
    """Rows under a header; splits between rows and repeats the header.

    `reads` says what it is to a screen reader: a table, a list of labels each with its value
    ("pairs"), or a list of places ("contents"). By default a table if it has a header, and
    pairs if it has none.
    """

    marks_itself = True

    def __init__(
        self,
        columns: Sequence[Column],
        rows: Sequence[Row],
        header: bool = True,
        size: float = TABLE_SIZE,
        leading: float = TABLE_LEADING,
        pad: float = PAD_Y,
        reads: Reads | Literal[""] = "",
    ) -> None:
        super().__init__()
        self.columns, self.rows = columns, rows
        self.with_header = header and any(column.title for column in columns)
        self.size, self.leading, self.pad = size, leading, pad
        self.reads: Reads = reads or ("table" if self.with_header else "pairs")
        self._tags = TableTags(self.reads, len(columns))
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
        """Return the height of the header and the fewest rows after which the table breaks well."""
        self.wrap(width, 0)
        last = len(self._laid) - _FEWEST_ROWS
        places = (n for n in range(_FEWEST_ROWS, last + 1) if self._may_break_after(n))
        fewest = next(places, len(self._laid))
        height = sum(laid.height for laid in (*self._head, *self._laid[:fewest]))
        return min(height, _MOST_OF_A_PAGE)

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
            own, lead = self.columns[place].align, self.columns[place].lead
            if not isinstance(given, Cell):
                cell = Cell(given, align=own)
            else:
                cell = given if given.align or own == "left" else replace(given, align=own)
            width = sum(self._widths[place : place + cell.span])
            lines = broken(cell.text, cell.font, self.size, round(width - lead - 2 * PAD_X, 1))
            cells.append((cell, x + lead, width - lead, lines))
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

    def natural_widths(self) -> list[float]:
        """Return the width of each column that breaks no line; cells over several count nowhere."""
        titles = [Cell(column.title, BOLD) for column in self.columns]
        widths = [0.0] * len(self.columns)
        for cells in ([*titles] if self.with_header else [], *(row.cells for row in self.rows)):
            place = 0
            for given in cells:
                cell = given if isinstance(given, Cell) else Cell(given)
                if cell.span == 1:
                    own = max(width_of(line, cell.font, self.size) for line in _lines(cell.text))
                    own += 2 * PAD_X + self.columns[place].lead + _SLACK if own else 0.0
                    widths[place] = max(widths[place], own)
                place += cell.span
        return widths

    def narrowed(self, width: float) -> DataTable | None:
        """Return the table laid out for a narrower place, or None if it would break lines there."""
        natural = self.natural_widths()
        room = width - sum(natural)
        if room < 0:
            return None
        shown = sum(own > 0 for own in natural) or 1
        columns = [
            replace(column, share=own + room / shown if own else 0.0)
            for column, own in zip(self.columns, natural, strict=True)
        ]
        return DataTable(
            columns, self.rows, self.with_header, self.size, self.leading, self.pad, self.reads
        )

    # -- splitting -----------------------------------------------------------------

    def split(self, width: float, height: float) -> list[Flowable]:
        """Return the part that fits and the rest, or nothing if no row fits."""
        self.wrap(width, height)
        fits = self._fitting(height)
        if not fits or fits == len(self._laid):
            return [self] if fits else []
        return [self._part(self._laid[:fits]), self._part(self._laid[fits:])]

    def _fitting(self, height: float) -> int:
        """Return how many rows to set on this page; none to begin on the next one."""
        used = sum(laid.height for laid in self._head)
        most = 0
        for laid in self._laid:
            used += laid.height
            if used > height:
                break
            most += 1
        count = self._well_broken(most)
        return most if count == 0 and height > _MOST_OF_A_PAGE else count

    def _well_broken(self, most: int) -> int:
        """Return the largest number of rows up to `most` after which the table breaks well."""
        whole = len(self._laid)
        if most == whole:
            return most
        count = min(most, whole - _FEWEST_ROWS)
        while count >= _FEWEST_ROWS and not self._may_break_after(count):
            count -= 1
        return count if count >= _FEWEST_ROWS else 0

    def _may_break_after(self, count: int) -> bool:
        """Return whether a row is the last of what belongs together: no heading, no value alone."""
        row = self._laid[count - 1].row
        return row.ruled and not row.group

    def _part(self, laid: list[_Laid]) -> DataTable:
        part = DataTable(
            self.columns, [], self.with_header, self.size, self.leading, self.pad, self.reads
        )
        part._tags = self._tags
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
        with self.canv.artifact():
            self._draw_tints(rows)
            self._draw_rules(rows)
        elements = self._draw_text(rows)
        for (laid, foot), found in zip(rows, elements, strict=True):
            if laid.row.key:
                self.canv.mark_place(laid.row.key, foot + laid.height + 2)
            self._draw_references(laid, foot, found)

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

    def _draw_text(self, rows: Sequence[tuple[_Laid, float]]) -> list[list[int]]:
        """Draw all text; return the element of each cell of each row."""
        text = self.canv.beginText()
        tags, code, marking = self._tags, text._code, not self.canv.is_marking
        font, colour = "", None
        elements = []
        for row_number, (laid, y) in enumerate(rows):
            first = y + laid.height - self.pad - self.size
            is_head = row_number < len(self._head)
            found = tags.row(self.canv.structure, [cell for cell, *_ in laid.cells], is_head)
            elements.append(found)
            for (cell, x, width, lines), element in zip(laid.cells, found, strict=True):
                if not any(lines):
                    continue
                if marking:
                    code.append(tags.opening(self.canv, element))
                if cell.font != font:
                    font = cell.font
                    text.setFont(font, self.size)
                ink = ACCENT if cell.link else cell.colour
                if ink is not colour:
                    colour = ink
                    text.setFillColor(ink)
                heard = lines if len(lines) == 1 else read_on(cell.text, lines)
                for number, said in enumerate(heard):
                    start = self._start(cell, x, width, lines[number])
                    # As the library's own text origin, in a third of its time.
                    code.append(f"1 0 0 1 {start:.2f} {first - number * self.leading:.2f} Tm")
                    code.append(text._formatText(said))
                if marking:
                    code.append("EMC")
        self.canv.drawText(text)
        return elements

    def _start(self, cell: Cell, x: float, width: float, line: str) -> float:
        if cell.align == "right":
            return x + width - PAD_X - width_of(line, cell.font, self.size)
        if cell.align == "centre":
            return x + (width - width_of(line, cell.font, self.size)) / 2
        return x + PAD_X

    def _draw_references(self, laid: _Laid, y: float, elements: Sequence[int]) -> None:
        """Draw the page numbers known only at the end, and make the links."""
        for (cell, x, width, _), element in zip(laid.cells, elements, strict=True):
            if cell.page_of:
                baseline = y + laid.height - self.pad - self.size
                with self.canv.piece("Link", element):
                    self.canv.draw_page_of(cell.page_of, x + width - PAD_X, baseline, self.size)
            if cell.place:
                area = (x, y, x + width, y + laid.height)
                told = (
                    spoken("{text}, to its page", text=cell.text.splitlines()[0])
                    if cell.text
                    else spoken("To this page")
                )
                self.canv.link_element(cell.place, area, element, told)
