"""What a place does where the window leaves it little room: it scrolls, or stacks its parts."""

from __future__ import annotations

from PySide6.QtCore import QEvent, QObject, QSize, Qt
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import (
    QAbstractScrollArea,
    QBoxLayout,
    QScrollArea,
    QSizePolicy,
    QStackedWidget,
    QTableView,
    QVBoxLayout,
    QWidget,
)
from shiboken6 import isValid

from commission.wizard.appearance import Appearance
from commission.wizard.in_sight import InSight
from commission.wizard.whole import Whole

_ANY_WIDTH = 16_777_215  # Qt's own largest


class RoomyStack(QStackedWidget):
    """Shows one of several widgets, and asks for as much height as that one needs, no more.

    Qt's own asks for the height of the highest of them, and in a column for the height that
    all their texts would like, though what can be scrolled needs less.
    """

    def __init__(self) -> None:
        super().__init__()
        self.currentChanged.connect(lambda _place: self.updateGeometry())

    def hasHeightForWidth(self) -> bool:
        return False

    def minimumSizeHint(self) -> QSize:
        shown = self.currentWidget()
        if shown is None:
            return QSize()
        return QSize(shown.minimumSizeHint().width(), needed_height(shown, self.width()))

    def sizeHint(self) -> QSize:
        return self.minimumSizeHint()

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        if event.oldSize().width() != event.size().width():
            self.updateGeometry()


def needed_height(widget: QWidget, width: int) -> int:
    """Return the least height of a widget that is `width` pixels wide."""
    layout = widget.layout()
    if isinstance(widget, QStackedWidget) or layout is None or not layout.hasHeightForWidth():
        least = widget.minimumSizeHint().height()
    else:
        least = layout.totalMinimumHeightForWidth(max(width, 1))
    return max(least, widget.minimumHeight())


def _height_of_column(column: QVBoxLayout, width: int) -> int:
    """Return the least height of a column whose stacks ask for what they show now."""
    total = 0
    for place in range(column.count()):
        item = column.itemAt(place)
        widget = item.widget() if item is not None else None
        if widget is None or widget.isHidden():
            continue
        shown = widget.currentWidget() if isinstance(widget, RoomyStack) else widget
        total += needed_height(shown, width) if shown is not None else 0
    return total


class FittedArea(QScrollArea):
    """Holds what fills the window, and scrolls it up and down where the window is too low.

    Where it fits, there is no bar, and nothing of this is seen. What gets the focus is brought
    into view. Whether there is a bar is decided once for each size: what needs less height
    when it is narrower would else show and hide it without end.
    """

    def __init__(self, column: QVBoxLayout) -> None:
        """Make it of a column of widgets without margins and gaps."""
        super().__init__()
        self._is_fitting = False
        self._column = column
        content = column.parentWidget()
        assert content is not None
        self.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.setVerticalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.setWidget(content)
        content.installEventFilter(self)
        self._in_sight = InSight(content)
        self._wholes: list[Whole] = []

    # -- fitting -------------------------------------------------------------------

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self._fit()

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        if event.type() == QEvent.Type.LayoutRequest and watched is self.widget():
            self._fit()
        return super().eventFilter(watched, event)

    def take_whole(self, whole: Whole) -> None:
        """Hear of a form or list inside, which lets its own bar go where this one scrolls."""
        self._wholes = [one for one in self._wholes if isValid(one) and one is not whole]
        self._wholes.append(whole)
        self._fit()

    def _fit(self) -> None:
        content = self.widget()
        if content is None or self._is_fitting:
            return
        self._is_fitting = True
        width, height = self.width(), self.height()
        needed = _height_of_column(self._column, width)
        policy = Qt.ScrollBarPolicy
        there = (one for one in self._wholes if isValid(one))
        shown = [one for one in there if one.is_stacked and one.area.isVisible()]
        lets_go = needed - sum(one.extra for one in shown) > height
        for one in shown:
            one.hold(lets_go)
        if needed > height:
            width -= self.verticalScrollBar().sizeHint().width()
            needed = _height_of_column(self._column, width)
        is_low = width < self.width()
        self.setVerticalScrollBarPolicy(
            policy.ScrollBarAlwaysOn if is_low else policy.ScrollBarAlwaysOff
        )
        content.resize(max(width, content.minimumSizeHint().width()), max(height, needed))
        self._is_fitting = False

    def minimumSizeHint(self) -> QSize:
        content = self.widget()
        width = content.minimumSizeHint().width() if content is not None else 0
        return QSize(width, 0)

    def sizeHint(self) -> QSize:
        return self.minimumSizeHint()


class Beside(QWidget):
    """A list and what belongs to one of its lines: side by side, or one below the other.

    Below `narrow` pixels at 100 % they are stacked, each with a height to be used in.
    """

    def __init__(
        self,
        first: QWidget,
        others: tuple[QWidget, ...],
        width: int,
        appearance: Appearance,
        narrow: int = 760,
    ) -> None:
        """Make it of a list and the widgets beside it, these `width` pixels wide at 100 %."""
        super().__init__()
        self._first, self._others = first, others
        self._width = appearance.px(width)
        self._narrow = appearance.px(narrow)
        self._list_height, self._form_height = appearance.px(110), appearance.px(200)
        self._is_narrow = False
        self._line = QBoxLayout(QBoxLayout.Direction.LeftToRight, self)
        self._line.setContentsMargins(0, 0, 0, 0)
        self._line.setSpacing(appearance.pad(12))
        self._line.addWidget(first, 1)
        for other in others:
            other.setFixedWidth(self._width)
            self._line.addWidget(other)
        tables = [first] if isinstance(first, QTableView) else first.findChildren(QTableView)
        self._lists = [Whole(table, table.minimumHeight()) for table in tables]
        self._forms = [Whole(one, 0) for one in others if isinstance(one, QAbstractScrollArea)]
        for whole in (*self._lists, *self._forms):
            whole.set_stacked(False)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Expanding)

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self._stack(event.size().width() < self._narrow)

    def _stack(self, narrow: bool) -> None:
        if narrow == self._is_narrow:
            return
        self._is_narrow = narrow
        directions = QBoxLayout.Direction
        self._line.setDirection(directions.TopToBottom if narrow else directions.LeftToRight)
        if isinstance(self._first, QTableView):
            self._lists[0].set_least(self._list_height if narrow else 0)
        for form in self._forms:
            form.set_least(self._form_height if narrow else 0)
        for whole in (*self._lists, *self._forms):
            whole.set_stacked(narrow)
        for other in self._others:
            other.setMinimumWidth(0 if narrow else self._width)
            other.setMaximumWidth(_ANY_WIDTH if narrow else self._width)
            self._line.setStretchFactor(other, 2 if narrow else 0)
