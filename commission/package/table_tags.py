"""What the rows and cells of a table are to a screen reader: a table's, or a list's."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal, Protocol

from commission.package.structure import Structure
from commission.package.tagging import ARTIFACT, Tag, TaggedCanvas

Reads = Literal["table", "pairs", "contents"]
_NONE = -1
_COLUMN_SCOPE, _ROW_SCOPE = "/Scope/Column", "/Scope/Row"
_LIST_KINDS = {"pairs": ("L", "LI"), "contents": ("TOC", "TOCI")}


class Told(Protocol):
    """What must be known of a cell."""

    @property
    def text(self) -> str: ...  # noqa: D102
    @property
    def span(self) -> int: ...  # noqa: D102
    @property
    def place(self) -> str: ...  # noqa: D102


class TableTags:
    """The elements of one table, on however many pages it stands.

    A header's cells are headings of their columns, a row's first cell is the heading of the
    row; a header repeated on a further page is an artifact (ISO 14289-1, 7.5 and 7.8).
    """

    def __init__(self, reads: Reads, columns: int) -> None:
        self.reads, self.columns = reads, columns
        self._tag = Tag()
        self._has_head = False

    def row(self, structure: Structure, cells: Sequence[Told], is_head: bool) -> list[int]:
        """Add a row's elements; return for each cell the one that its text belongs to.

        A cell that is a link has an element of its own for it; -1 stands for an artifact.
        """
        if self.reads != "table":
            return self._items(structure, cells)
        if is_head:
            if self._has_head:
                return [_NONE] * len(cells)
            self._has_head = True
        row = structure.add("TR", self._tag.of(structure, "Table"))
        found = [
            self._cell(structure, row, cell, is_head, is_first=number == 0)
            for number, cell in enumerate(cells)
        ]
        rest = self.columns - sum(cell.span for cell in cells)
        if rest > 0:
            structure.add("TD", row, _attributes("", rest))
        return found

    def opening(self, canvas: TaggedCanvas, element: int) -> str:
        """Return the operator that opens the text of a cell."""
        if element == _NONE:
            return ARTIFACT
        return canvas.opening(canvas.structure.kind_of(element), element)

    def _cell(
        self, structure: Structure, row: int, cell: Told, is_head: bool, *, is_first: bool
    ) -> int:
        heads = bool(cell.text) and (is_head or is_first)
        scope = (_COLUMN_SCOPE if is_head else _ROW_SCOPE) if heads else ""
        element = structure.add("TH" if heads else "TD", row, _attributes(scope, cell.span))
        return structure.add("Link", element) if cell.place else element

    def _items(self, structure: Structure, cells: Sequence[Told]) -> list[int]:
        """Return the elements of a row of a list: each label with the value after it."""
        whole, item_kind = _LIST_KINDS[self.reads]
        found, item, has_label = [], _NONE, False
        for cell in cells:
            if not cell.text and not cell.place:
                found.append(_NONE)
                continue
            if item == _NONE or has_label is False:
                item = structure.add(item_kind, self._tag.of(structure, whole))
            kind = "LBody" if has_label else "Lbl"
            kind = "Reference" if self.reads == "contents" else kind
            has_label = not has_label
            element = structure.add(kind, item)
            found.append(structure.add("Link", element) if cell.place else element)
        return found


def _attributes(scope: str, span: int) -> str:
    """Return a cell's table attributes (ISO 32000-1, 14.8.5.7)."""
    wide = f"/ColSpan {span}" if span > 1 else ""
    return f"/A<</O/Table{scope}{wide}>>" if scope or wide else ""
