"""A list to choose from, as all of the window draws it."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import QPointF, Qt
from PySide6.QtGui import (
    QColor,
    QEnterEvent,
    QFont,
    QFontMetrics,
    QPainter,
    QPaintEvent,
    QPen,
    QWheelEvent,
)
from PySide6.QtWidgets import (
    QComboBox,
    QLineEdit,
    QSizePolicy,
    QStyle,
    QStyleOptionComboBox,
    QStylePainter,
    QWidget,
)

from commission.wizard.appearance import Appearance

_EDGES = 56  # padding at both sides, and the arrow


class Choice(QComboBox):
    """A list to choose from, with a drawn arrow, deaf to a scrolling wheel."""

    line: QLineEdit
    """Where one types, after `let_type`."""

    def __init__(self, appearance: Appearance, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._appearance = appearance
        self._told = ""
        self.arrow_colour = appearance.palette["muted"]
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        self.setSizeAdjustPolicy(QComboBox.SizeAdjustPolicy.AdjustToMinimumContentsLengthWithIcon)
        self.setMinimumContentsLength(6)
        self.setMaxVisibleItems(16)

    def let_type(self, line: QLineEdit | None = None) -> None:
        """Let a person type into it; what is typed is never added to the list."""
        self.setEditable(True)
        self.setInsertPolicy(QComboBox.InsertPolicy.NoInsert)
        self.line = line or QLineEdit(self)
        self.setLineEdit(self.line)

    def hold_longest(self, least: int = 0) -> None:
        """Be wide enough for the longest of its words, and at least so many pixels."""
        words = [self.itemText(place) for place in range(self.count())]
        self.setMinimumWidth(max(least, self.width_for(words)))

    def width_for(self, words: Sequence[str]) -> int:
        """Return how wide it must be to show the longest of some words, pixels."""
        font = QFont(self.font())
        font.setPixelSize(self._appearance.px(14))
        metrics = QFontMetrics(font)
        longest = max((metrics.horizontalAdvance(one) for one in words), default=0)
        return longest + self._appearance.pad(_EDGES) + self._appearance.px(8)

    def toolTip(self) -> str:
        """Return what is said beside the pointer: always the choice in full as well."""
        told, chosen = self._told, self.currentText()
        return told if chosen in told else "\n".join(filter(None, (told, chosen)))

    def setToolTip(self, text: str) -> None:
        """Take what is said beside the pointer, before the choice."""
        self._told = text
        super().setToolTip(text)

    def enterEvent(self, event: QEnterEvent) -> None:
        # Here, since a list has hundreds of events of other kinds, and most pages many lists.
        super().setToolTip(self.toolTip())
        super().enterEvent(event)

    def short_words(self) -> str:
        """Return what the closed list says where its words have no room; "" for their beginning."""
        return ""

    def wheelEvent(self, event: QWheelEvent) -> None:
        event.ignore()

    def paintEvent(self, event: QPaintEvent) -> None:
        if self.isEditable():
            super().paintEvent(event)
        else:
            self._paint_closed()
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        size = self._appearance.px(4.5)
        x, y = self.width() - self._appearance.pad(16), self.height() / 2 - size / 2
        pen = QPen(QColor(self.arrow_colour), self._appearance.px(2))
        pen.setCapStyle(Qt.PenCapStyle.RoundCap)
        painter.setPen(pen)
        corners = [QPointF(x - size, y), QPointF(x, y + size), QPointF(x + size, y)]
        painter.drawPolyline(corners)
        painter.end()

    def _paint_closed(self) -> None:
        """Draw the closed list, a text too long for it ending in three points."""
        painter = QStylePainter(self)
        option = QStyleOptionComboBox()
        self.initStyleOption(option)
        control = QStyle.ComplexControl.CC_ComboBox
        field = QStyle.SubControl.SC_ComboBoxEditField
        painter.drawComplexControl(control, option)
        room = self.style().subControlRect(control, option, field, self).width()
        words, room = option.currentText, room - self._appearance.px(8)
        if option.fontMetrics.horizontalAdvance(words) > room:
            words = self.short_words() or words
        option.currentText = option.fontMetrics.elidedText(words, Qt.TextElideMode.ElideRight, room)
        painter.drawControl(QStyle.ControlElement.CE_ComboBoxLabel, option)
        painter.end()


def fill(box: QComboBox, items: Sequence[tuple[str, str]], chosen: str) -> None:
    """Put (text, data) pairs into a box and choose one by its data, telling nobody."""
    box.blockSignals(True)
    box.clear()
    for text, data in items:
        box.addItem(text, data)
    box.setCurrentIndex(max(0, box.findData(chosen)))
    box.blockSignals(False)
