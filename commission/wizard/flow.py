"""Rows of widgets that go on in the next line where the width ends."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from PySide6.QtCore import QMargins, QPoint, QRect, QSize, Qt
from PySide6.QtWidgets import QBoxLayout, QHBoxLayout, QLabel, QLayout, QLayoutItem, QSizePolicy

_LETTERS = 22  # that a line of a wrapping text should hold, or it goes to the next line


@dataclass(frozen=True, slots=True)
class _Piece:
    """One thing in a row: the width it needs, and its part of what a line has to spare."""

    item: QLayoutItem
    need: int
    share: int


class FlowLayout(QLayout):
    """Lays widgets out as words are: left to right, each as wide as it likes to be.

    A widget that may grow (its size policy is expanding) takes what is left of its line.
    """

    def __init__(self, spacing: int, line_spacing: int) -> None:
        super().__init__()
        self._items: list[QLayoutItem] = []
        self._known: list[_Piece] | None = None
        self._heights: dict[int, int] = {}
        self._line_spacing = line_spacing
        self.setSpacing(spacing)
        self.setContentsMargins(0, 0, 0, 0)

    def invalidate(self) -> None:
        self._known = None
        self._heights = {}
        super().invalidate()

    def addItem(self, item: QLayoutItem) -> None:
        self._items.append(item)
        self.invalidate()

    def count(self) -> int:
        return len(self._items)

    def itemAt(self, place: int) -> QLayoutItem | None:
        return self._items[place] if 0 <= place < len(self._items) else None

    def takeAt(self, place: int) -> QLayoutItem | None:
        if not 0 <= place < len(self._items):
            return None
        item = self._items.pop(place)
        self.invalidate()
        return item

    def expandingDirections(self) -> Qt.Orientation:
        return Qt.Orientation(0)

    def hasHeightForWidth(self) -> bool:
        return True

    def heightForWidth(self, width: int) -> int:
        height = self._heights.get(width)
        if height is None:
            height = _flowed(self, self._pieces(), QRect(0, 0, width, 0), self._line_spacing)
            self._heights[width] = height
        return height

    def setGeometry(self, rect: QRect) -> None:
        super().setGeometry(rect)
        _flowed(self, self._pieces(), rect, self._line_spacing, placing=True)

    def sizeHint(self) -> QSize:
        pieces = self._pieces()
        widths = [piece.item.sizeHint().width() for piece in pieces]
        height = max((piece.item.sizeHint().height() for piece in pieces), default=0)
        width = sum(widths) + self.spacing() * max(0, len(widths) - 1)
        return _with_margins(QSize(width, height), self.contentsMargins())

    def minimumSize(self) -> QSize:
        size = QSize()
        for piece in self._pieces():
            size = size.expandedTo(piece.item.minimumSize())
        return _with_margins(size, self.contentsMargins())

    def _pieces(self) -> list[_Piece]:
        if self._known is None:
            shown = [item for item in self._items if not item.isEmpty()]
            self._known = [_Piece(item, _needed(item, 0), int(_grows(item))) for item in shown]
        return self._known


class WrappingRow(QHBoxLayout):
    """A row like any other where it fits, and as many lines as it needs where it does not.

    A text that wraps needs the width of some letters, of itself if it is shorter, or of its
    longest word if that is longer. What was worked out is kept until Qt says that something in the
    row has changed.
    """

    def __init__(self, spacing: int, letters: int = _LETTERS) -> None:
        super().__init__()
        self._letters = letters
        self._known: list[_Piece] | None = None
        self._heights: dict[int, int] = {}
        self.setSpacing(spacing)
        self.setContentsMargins(0, 0, 0, 0)

    def invalidate(self) -> None:
        self._known = None
        self._heights = {}
        super().invalidate()

    def hasHeightForWidth(self) -> bool:
        return True

    def heightForWidth(self, width: int) -> int:
        height = self._heights.get(width)
        if height is None:
            rect = QRect(0, 0, width, 0)
            height = self._heights[width] = _flowed(self, self._pieces(), rect, self.spacing())
        return height

    def minimumHeightForWidth(self, width: int) -> int:
        return self.heightForWidth(width)

    def minimumSize(self) -> QSize:
        least = super().minimumSize()
        needs = [
            max(piece.item.minimumSize().width(), _longest_word(piece.item))
            for piece in self._pieces()
            if piece.need
        ]
        edges = self.contentsMargins()
        least.setWidth(max(needs, default=0) + edges.left() + edges.right())
        return least

    def setGeometry(self, rect: QRect) -> None:
        # Not QHBoxLayout's own: it shares the width by the stretch factors alone, whatever a
        # piece needs.
        QLayout.setGeometry(self, rect)
        _flowed(self, self._pieces(), rect, self.spacing(), placing=True)

    def _pieces(self) -> list[_Piece]:
        if self._known is None:
            self._known = self._pieces_anew()
        return self._known

    def _pieces_anew(self) -> list[_Piece]:
        # As in Qt: where anything has a stretch factor, only what has one grows.
        stretches = [self.stretch(place) for place in range(self.count())]
        found: list[_Piece] = []
        for place, stretch in enumerate(stretches):
            item = self.itemAt(place)
            if item is None or (item.isEmpty() and item.spacerItem() is None):
                continue
            share = stretch if any(stretches) else int(_grows(item))
            found.append(_Piece(item, _needed(item, self._letters), share))
        return found


def _flowed(
    layout: QLayout,
    pieces: Iterable[_Piece],
    rect: QRect,
    line_spacing: int,
    *,
    placing: bool = False,
) -> int:
    """Return the height of pieces laid out in lines; put them there too, if `placing`."""
    margins, spacing = layout.contentsMargins(), layout.spacing()
    room = rect.marginsRemoved(margins)
    y = room.top()
    for line in _lines(pieces, room.width(), spacing):
        widths = _widths(line, room.width(), spacing)
        heights = [_height(piece.item, width) for piece, width in zip(line, widths, strict=True)]
        if placing:
            x = room.left()
            for piece, width, height in zip(line, widths, heights, strict=True):
                if piece.item.layout() is not None:
                    height = max(heights)  # columns begin at the same height
                at_top = piece.item.alignment() & Qt.AlignmentFlag.AlignTop
                top = y if at_top else y + (max(heights) - height) // 2
                piece.item.setGeometry(QRect(QPoint(x, top), QSize(width, height)))
                x += width + spacing
        y += max(heights) + line_spacing
    return max(0, y - line_spacing - room.top()) + margins.top() + margins.bottom()


def _lines(pieces: Iterable[_Piece], width: int, spacing: int) -> list[list[_Piece]]:
    lines: list[list[_Piece]] = []
    used = 0
    for piece in pieces:
        if lines and used + spacing + piece.need <= width:
            lines[-1].append(piece)
            used += spacing + piece.need
        else:
            lines.append([piece])
            used = piece.need
    return [line for line in lines if any(piece.need for piece in line)]


def _widths(line: Sequence[_Piece], width: int, spacing: int) -> list[int]:
    """Share a line's width: what each needs, and the rest among those that grow."""
    spare = max(0, width - spacing * (len(line) - 1) - sum(piece.need for piece in line))
    most = [min(piece.item.maximumSize().width(), width) for piece in line]
    widths = [max(0, min(piece.need, limit)) for piece, limit in zip(line, most, strict=True)]
    growing = [place for place, piece in enumerate(line) if piece.share]
    while growing:
        shares = sum(line[place].share for place in growing)
        given = {place: spare * line[place].share // shares for place in growing}
        full = [place for place in growing if widths[place] + given[place] >= most[place]]
        for place in full or growing:  # what one cannot take is the others'
            taken = min(given[place], most[place] - widths[place]) if full else given[place]
            widths[place] += taken
            spare -= taken
        growing = [place for place in growing if place not in full] if full else []
    return widths


def _height(item: QLayoutItem, width: int) -> int:
    return item.heightForWidth(width) if item.hasHeightForWidth() else item.sizeHint().height()


def _grows(item: QLayoutItem) -> bool:
    return bool(item.expandingDirections() & Qt.Orientation.Horizontal)


def _needed(item: QLayoutItem, letters: int) -> int:
    """Return the width below which an item goes to the next line, pixels."""
    words = _shrinking(item)
    if words is not None and letters:
        metrics = words.fontMetrics()
        whole = metrics.horizontalAdvance(words.text()) + 2
        return max(
            min(whole, metrics.averageCharWidth() * letters),
            _longest_word(item),
            words.minimumWidth(),
        )
    inner = item.layout()
    if inner is not None:
        return _needed_inside(inner, letters)
    if item.spacerItem() is not None:
        return 0
    return item.minimumSize().width() if _grows(item) else item.sizeHint().width()


def _needed_inside(layout: QLayout, letters: int) -> int:
    items = [layout.itemAt(place) for place in range(layout.count())]
    needs = [_needed(one, letters) for one in items if one is not None and not one.isEmpty()]
    sideways = (QBoxLayout.Direction.LeftToRight, QBoxLayout.Direction.RightToLeft)
    if isinstance(layout, QBoxLayout) and layout.direction() in sideways:
        return sum(needs) + layout.spacing() * max(0, len(needs) - 1)
    return max([*needs, 0])


def _shrinking(item: QLayoutItem) -> QLabel | None:
    """Return a text that wraps or shortens itself where it has too little room."""
    widget = item.widget()
    if not isinstance(widget, QLabel):
        return None
    shortens = widget.sizePolicy().horizontalPolicy() == QSizePolicy.Policy.Ignored
    return widget if shortens or widget.wordWrap() else None


def _wrapped(item: QLayoutItem) -> QLabel | None:
    widget = item.widget()
    return widget if isinstance(widget, QLabel) and widget.wordWrap() else None


def _longest_word(item: QLayoutItem) -> int:
    """Return how wide the longest word of a wrapping text is, pixels; 0 for anything else."""
    words = _wrapped(item)
    if words is None:
        return 0
    metrics = words.fontMetrics()
    return max((metrics.horizontalAdvance(word) for word in words.text().split()), default=0) + 2


def _with_margins(size: QSize, margins: QMargins) -> QSize:
    return size + QSize(margins.left() + margins.right(), margins.top() + margins.bottom())
