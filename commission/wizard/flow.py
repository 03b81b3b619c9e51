"""A row of widgets that goes on in the next line where the width ends."""

from __future__ import annotations

from PySide6.QtCore import QMargins, QPoint, QRect, QSize, Qt
from PySide6.QtWidgets import QLayout, QLayoutItem


class FlowLayout(QLayout):
    """Lays widgets out as words are: left to right, each as wide as it likes to be.

    A widget that may grow (its size policy is expanding) takes what is left of its line.
    """

    def __init__(self, spacing: int, line_spacing: int) -> None:
        super().__init__()
        self._items: list[QLayoutItem] = []
        self._line_spacing = line_spacing
        self.setSpacing(spacing)
        self.setContentsMargins(0, 0, 0, 0)

    def addItem(self, item: QLayoutItem) -> None:
        self._items.append(item)

    def count(self) -> int:
        return len(self._items)

    def itemAt(self, place: int) -> QLayoutItem | None:
        return self._items[place] if 0 <= place < len(self._items) else None

    def takeAt(self, place: int) -> QLayoutItem | None:
        return self._items.pop(place) if 0 <= place < len(self._items) else None

    def expandingDirections(self) -> Qt.Orientation:
        return Qt.Orientation(0)

    def hasHeightForWidth(self) -> bool:
        return True

    def heightForWidth(self, width: int) -> int:
        return self._lay_out(QRect(0, 0, width, 0), only_measure=True)

    def setGeometry(self, rect: QRect) -> None:
        super().setGeometry(rect)
        self._lay_out(rect, only_measure=False)

    def sizeHint(self) -> QSize:
        margins = self.contentsMargins()
        widths = [item.sizeHint().width() for item in self._shown()]
        height = max((item.sizeHint().height() for item in self._shown()), default=0)
        width = sum(widths) + self.spacing() * max(0, len(widths) - 1)
        return _with_margins(QSize(width, height), margins)

    def minimumSize(self) -> QSize:
        size = QSize()
        for item in self._shown():
            size = size.expandedTo(item.minimumSize())
        return _with_margins(size, self.contentsMargins())

    def _shown(self) -> list[QLayoutItem]:
        return [item for item in self._items if not item.isEmpty()]

    def _lay_out(self, rect: QRect, *, only_measure: bool) -> int:
        """Place all lines, or only work out their height."""
        margins = self.contentsMargins()
        room = rect.marginsRemoved(margins)
        y = room.top()
        for line in self._lines(room.width()):
            height = max(item.sizeHint().height() for item in line)
            if not only_measure:
                self._place(line, QRect(room.left(), y, room.width(), height))
            y += height + self._line_spacing
        return max(0, y - self._line_spacing - room.top()) + margins.top() + margins.bottom()

    def _lines(self, width: int) -> list[list[QLayoutItem]]:
        lines: list[list[QLayoutItem]] = []
        used = 0
        for item in self._shown():
            wanted = _needed(item)
            if lines and used + self.spacing() + wanted <= width:
                lines[-1].append(item)
                used += self.spacing() + wanted
            else:
                lines.append([item])
                used = wanted
        return lines

    def _place(self, line: list[QLayoutItem], rect: QRect) -> None:
        spare = rect.width() - self.spacing() * (len(line) - 1)
        spare = max(0, spare - sum(_needed(item) for item in line))
        growing = [item for item in line if _grows(item)]
        x = rect.left()
        for item in line:
            extra = spare // len(growing) if item in growing else 0
            most = min(item.maximumSize().width(), rect.width())
            width = min(_needed(item) + extra, most)
            size = QSize(width, min(item.sizeHint().height(), rect.height()))
            top = rect.top() + (rect.height() - size.height()) // 2
            item.setGeometry(QRect(QPoint(x, top), size))
            x += width + self.spacing()


def _grows(item: QLayoutItem) -> bool:
    return bool(item.expandingDirections() & Qt.Orientation.Horizontal)


def _needed(item: QLayoutItem) -> int:
    """Return the width below which an item goes to the next line."""
    return item.minimumSize().width() if _grows(item) else item.sizeHint().width()


def _with_margins(size: QSize, margins: QMargins) -> QSize:
    return size + QSize(margins.left() + margins.right(), margins.top() + margins.bottom())
