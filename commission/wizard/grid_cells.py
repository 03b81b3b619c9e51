"""What a table of repeats draws: names of rows, cells, and the editor in a cell."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import (
    QEvent,
    QModelIndex,
    QObject,
    QPersistentModelIndex,
    QRect,
    QRectF,
    QSize,
    Qt,
)
from PySide6.QtGui import QFont, QFontMetrics, QKeyEvent, QPainter
from PySide6.QtWidgets import (
    QAbstractItemDelegate,
    QComboBox,
    QLineEdit,
    QStyledItemDelegate,
    QStyleOptionViewItem,
    QWidget,
)

from commission.definitions.model import Field
from commission.language import spoken
from commission.wizard.appearance import Appearance
from commission.wizard.choice import Choice
from commission.wizard.grid_model import GridModel
from commission.wizard.icon import draw
from commission.wizard.parts import SizedHeader

if TYPE_CHECKING:
    from commission.wizard.grid_view import GridView

Place = QModelIndex | QPersistentModelIndex

_WRAP = Qt.AlignmentFlag.AlignVCenter | Qt.AlignmentFlag.AlignLeft | Qt.TextFlag.TextWordWrap
DOWN_KEYS = (Qt.Key.Key_Return, Qt.Key.Key_Enter)
NOTE_SIZE = 15  # of the slip at the end of a cell whose reading has a note, pixels at 100 %


class RowHeader(SizedHeader):
    """Names of rows, wrapped, with the unit or the limit in a second line."""

    def __init__(self, model: GridModel, appearance: Appearance, parent: QWidget) -> None:
        super().__init__(Qt.Orientation.Vertical, parent)
        self._model = model
        self._appearance = appearance

    def texts(self, row: int) -> tuple[str, str]:
        """Return a row's name and the smaller line below."""
        if row >= len(self._model.shape.rows):
            return "", ""
        return self._model.shape.rows[row], self._model.limit_note(row)

    def _fonts(self) -> tuple[QFont, QFont]:
        plain, small = QFont(self.font()), QFont(self.font())
        plain.setPixelSize(self._appearance.px(14))
        small.setPixelSize(self._appearance.px(13))
        return plain, small

    def drawn_metrics(self) -> QFontMetrics:
        return QFontMetrics(self._fonts()[0])

    def widest_name(self) -> int:
        """Return how wide the names would be on one line."""
        metrics = QFontMetrics(self._fonts()[0])
        widths = [metrics.horizontalAdvance(name) for name in self._model.shape.rows]
        return max(widths, default=0) + self._appearance.px(24)

    def longest_word(self) -> int:
        """Return how wide the longest word of the names is, and the room round it."""
        plain, small = (QFontMetrics(font) for font in self._fonts())
        widths = [0]
        for row in range(len(self._model.shape.rows)):
            name, note = self.texts(row)
            widths += [plain.horizontalAdvance(word) for word in name.split()]
            widths += [small.horizontalAdvance(word) for word in note.split()]
        return max(widths) + self._appearance.px(24)

    def height_for(self, row: int, width: int) -> int:
        """Return how high a row must be for its name."""
        px = self._appearance.px
        room = QRect(0, 0, width - px(20), 10_000)
        total = px(14)
        for text, font in zip(self.texts(row), self._fonts(), strict=True):
            if text:
                flags = int(Qt.TextFlag.TextWordWrap)
                total += QFontMetrics(font).boundingRect(room, flags, text).height()
        return max(total, px(44))

    def paintSection(self, painter: QPainter, rect: QRect, row: int) -> None:
        px, palette = self._appearance.px, self._appearance.palette
        painter.save()
        painter.fillRect(rect, palette["sunken"])
        painter.setPen(palette["line"])
        painter.drawLine(rect.bottomLeft(), rect.bottomRight())
        painter.drawLine(rect.topRight(), rect.bottomRight())
        inner = rect.adjusted(px(10), px(4), -px(10), -px(4))
        (name, note), (plain, small) = self.texts(row), self._fonts()
        painter.setFont(plain)
        painter.setPen(palette["ink"])
        flags = int(Qt.TextFlag.TextWordWrap) | int(Qt.AlignmentFlag.AlignLeft)
        used = painter.fontMetrics().boundingRect(inner, flags, name)
        if not note:
            painter.drawText(inner, int(_WRAP), name)
        else:
            painter.setFont(small)
            below = painter.fontMetrics().boundingRect(inner, flags, note).height()
            spare = max(0, (inner.height() - used.height() - below) // 2)
            painter.drawText(inner.adjusted(0, spare + used.height(), 0, 0), flags, note)
            painter.setFont(plain)
            painter.drawText(inner.adjusted(0, spare, 0, 0), flags, name)
        painter.restore()


class CellDelegate(QStyledItemDelegate):
    """Draws a cell, and makes the editor in it."""

    def __init__(self, view: GridView, model: GridModel, appearance: Appearance) -> None:
        super().__init__(view)
        self._view = view
        self._model = model
        self._appearance = appearance

    def paint(self, painter: QPainter, option: QStyleOptionViewItem, place: Place) -> None:
        key = self._model.key_at(place)
        if key is None:
            return
        cell = self._model.cell(key)
        px, palette = self._appearance.px, self._appearance.palette
        painter.save()
        current = self._view.currentIndex() == place
        selection = self._view.selectionModel()
        ground = "surface" if self._model.is_field(place) else "sunken"
        selected = selection.isSelected(place) and not current
        painter.fillRect(option.rect, palette["accent_ground" if selected else ground])
        font = QFont(option.font)
        font.setPixelSize(px(14))
        font.setBold(cell.tone not in ("", "muted"))
        painter.setFont(font)
        inner = option.rect.adjusted(px(6), 0, -px(6), 0)
        if cell.sign is not None:
            size = px(16)
            top = inner.center().y() - size / 2
            colour = palette[cell.sign.colour]
            draw(painter, cell.sign.icon, colour, QRectF(inner.left(), top, size, size))
            inner = inner.adjusted(size + px(5), 0, 0, 0)
        if self._model.noted(key):
            size = px(NOTE_SIZE)
            top = inner.center().y() - size / 2
            place_of_note = QRectF(inner.right() - size, top, size, size)
            draw(painter, "noted", palette["note"], place_of_note)
            inner = inner.adjusted(0, 0, -size - px(5), 0)
        painter.setPen(palette[_TONES.get(cell.tone, cell.tone)])
        text = cell.text
        if cell.tone == "error":
            text = f"! {text}"
        shown = painter.fontMetrics().elidedText(text, Qt.TextElideMode.ElideRight, inner.width())
        painter.drawText(inner, Qt.AlignmentFlag.AlignVCenter | Qt.AlignmentFlag.AlignLeft, shown)
        if current:
            self._frame(painter, option.rect)
        painter.restore()

    def _frame(self, painter: QPainter, rect: QRect) -> None:
        has_focus = self._view.hasFocus()
        width = self._appearance.px(3 if has_focus else 1)
        pen = painter.pen()
        pen.setColor(self._appearance.palette["focus" if has_focus else "edge"])
        pen.setWidth(width)
        painter.setPen(pen)
        edge = width // 2 + 1
        painter.drawRect(rect.adjusted(edge, edge, -edge, -edge))

    def sizeHint(self, option: QStyleOptionViewItem, place: Place) -> QSize:
        return QSize(self._appearance.px(70), self._appearance.px(44))

    def createEditor(self, parent: QWidget, option: QStyleOptionViewItem, place: Place) -> QWidget:
        key = self._model.key_at(place)
        assert key is not None
        entry = self._model.entry(key)
        assert isinstance(entry, Field)
        name = self._model.results.label(key)
        unit_id, document = self._model.unit_id, self._model.document
        if entry.choices:
            box = Choice(self._appearance, parent)
            box.let_type()
            box.addItems([spoken(choice) for choice in entry.choices])
            box.setAccessibleName(name)
            box.activated.connect(lambda _place: self._finish(box))
            box.line.textEdited.connect(lambda text: document.preview(unit_id, key, text))
            return box
        line = QLineEdit(parent)
        line.setAccessibleName(name)
        line.setAccessibleDescription(entry.how)
        line.textEdited.connect(lambda text: document.preview(unit_id, key, text))
        return line

    def _finish(self, editor: QWidget) -> None:
        self.commitData.emit(editor)
        self.closeEditor.emit(editor, QAbstractItemDelegate.EndEditHint.NoHint)
        # What was entered may have changed which rows there are: Qt then drops the editor, and
        # with it the focus, and what is typed next would go nowhere.
        self._view.setFocus(Qt.FocusReason.OtherFocusReason)

    def setEditorData(self, editor: QWidget, place: Place) -> None:
        if editor.property("filled"):
            return  # Qt asks again when the cell changes; what is being typed stays
        editor.setProperty("filled", True)
        text = str(place.data(Qt.ItemDataRole.EditRole) or "")
        if isinstance(editor, Choice):
            editor.setCurrentIndex(editor.findText(text))
            editor.setEditText(text)
            editor.line.selectAll()
        elif isinstance(editor, QLineEdit):
            editor.setText(text)
            editor.selectAll()

    def setModelData(self, editor: QWidget, model: QObject, place: Place) -> None:
        if isinstance(editor, QComboBox):
            self._model.setData(place, editor.currentText())
        elif isinstance(editor, QLineEdit):
            self._model.setData(place, editor.text())

    def eventFilter(self, editor: QObject, event: QEvent) -> bool:
        if event.type() == QEvent.Type.KeyPress and isinstance(editor, QWidget):
            assert isinstance(event, QKeyEvent)
            pressed = event.key()
            if pressed in DOWN_KEYS:
                self._finish(editor)
                self._view.go_down()
                return True
            if pressed in (Qt.Key.Key_Tab, Qt.Key.Key_Backtab):
                self._finish(editor)
                self._view.go_along(1 if pressed == Qt.Key.Key_Tab else -1)
                return True
            if pressed == Qt.Key.Key_Escape:
                self._view.drop_preview()
        return super().eventFilter(editor, event)

    def updateEditorGeometry(
        self, editor: QWidget, option: QStyleOptionViewItem, place: Place
    ) -> None:
        editor.setGeometry(option.rect)


_TONES = {"": "ink", "value": "ink", "error": "fail"}
