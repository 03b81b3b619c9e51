"""The table of repeats on the screen: typing starts editing, Enter goes down, Tab right."""

from __future__ import annotations

from PySide6.QtCore import QEvent, QModelIndex, QObject, QRect, QRectF, QSize, Qt, Signal
from PySide6.QtGui import (
    QFont,
    QFontMetrics,
    QGuiApplication,
    QKeyEvent,
    QKeySequence,
    QPainter,
    QResizeEvent,
)
from PySide6.QtWidgets import (
    QAbstractItemDelegate,
    QAbstractItemView,
    QComboBox,
    QHeaderView,
    QLineEdit,
    QStyledItemDelegate,
    QStyleOptionViewItem,
    QTableView,
    QWidget,
)

from commission.definitions.model import Field, Key, Kind
from commission.wizard.appearance import Appearance
from commission.wizard.grid_model import GridModel
from commission.wizard.icon import draw
from commission.wizard.inputs import Choice
from commission.wizard.page_layout import Crossed
from commission.wizard.parts import reveal

_WRAP = Qt.AlignmentFlag.AlignVCenter | Qt.AlignmentFlag.AlignLeft | Qt.TextFlag.TextWordWrap
_DOWN_KEYS = (Qt.Key.Key_Return, Qt.Key.Key_Enter)
_ITEM_KEYS = {Kind.ITEM: {"D": "done", "N": "not done"}, Kind.YES_NO: {"Y": "yes", "N": "no"}}


class RowHeader(QHeaderView):
    """Names of rows, wrapped, with the unit or the limit in a second line."""

    def __init__(self, model: GridModel, appearance: Appearance, parent: QWidget) -> None:
        super().__init__(Qt.Orientation.Vertical, parent)
        self._model = model
        self._appearance = appearance
        self.setSectionResizeMode(QHeaderView.ResizeMode.Fixed)

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

    def height_for(self, row: int, width: int) -> int:
        """Return how high a row must be for its name."""
        px = self._appearance.px
        room = QRect(0, 0, width - px(20), 10_000)
        total = px(14)
        for text, font in zip(self.texts(row), self._fonts(), strict=True):
            if text:
                flags = int(Qt.TextFlag.TextWordWrap)
                total += QFontMetrics(font).boundingRect(room, flags, text).height()
        return max(total, px(40))

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

    def paint(self, painter: QPainter, option: QStyleOptionViewItem, place: QModelIndex) -> None:
        key = self._model.key_at(place)
        if key is None:
            return
        cell = self._model.cell(key)
        px, palette = self._appearance.px, self._appearance.palette
        painter.save()
        current = self._view.currentIndex() == place
        ground = "surface" if self._model.is_field(place) else "sunken"
        selected = place in self._view.selectedIndexes() and not current
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

    def sizeHint(self, option: QStyleOptionViewItem, place: QModelIndex) -> QSize:
        return QSize(self._appearance.px(70), self._appearance.px(40))

    def createEditor(
        self, parent: QWidget, option: QStyleOptionViewItem, place: QModelIndex
    ) -> QWidget:
        key = self._model.key_at(place)
        assert key is not None
        entry = self._model.entry(key)
        assert isinstance(entry, Field)
        name = self._model.results.label(key)
        unit_id, document = self._model.unit_id, self._model.document
        if entry.choices:
            box = Choice(self._appearance, parent)
            box.setEditable(True)
            box.setInsertPolicy(QComboBox.InsertPolicy.NoInsert)
            box.addItems(list(entry.choices))
            box.setAccessibleName(name)
            box.activated.connect(lambda _place: self._finish(box))
            box.lineEdit().textEdited.connect(lambda text: document.preview(unit_id, key, text))
            return box
        line = QLineEdit(parent)
        line.setAccessibleName(name)
        line.setAccessibleDescription(entry.how)
        line.textEdited.connect(lambda text: document.preview(unit_id, key, text))
        return line

    def _finish(self, editor: QWidget) -> None:
        self.commitData.emit(editor)
        self.closeEditor.emit(editor, QAbstractItemDelegate.EndEditHint.NoHint)

    def setEditorData(self, editor: QWidget, place: QModelIndex) -> None:
        text = str(place.data(Qt.ItemDataRole.EditRole) or "")
        if isinstance(editor, QComboBox):
            editor.setCurrentIndex(editor.findText(text))
            editor.setEditText(text)
            editor.lineEdit().selectAll()
        elif isinstance(editor, QLineEdit):
            editor.setText(text)
            editor.selectAll()

    def setModelData(self, editor: QWidget, model: QObject, place: QModelIndex) -> None:
        text = editor.currentText() if isinstance(editor, QComboBox) else editor.text()
        self._model.setData(place, text)

    def eventFilter(self, editor: QObject, event: QEvent) -> bool:
        if event.type() == QEvent.Type.KeyPress and isinstance(editor, QWidget):
            assert isinstance(event, QKeyEvent)
            moves = {
                **dict.fromkeys(_DOWN_KEYS, self._view.go_down),
                Qt.Key.Key_Tab: lambda: self._view.go_along(1),
                Qt.Key.Key_Backtab: lambda: self._view.go_along(-1),
            }
            move = moves.get(event.key())
            if move is not None:
                self._finish(editor)
                move()
                return True
            if event.key() == Qt.Key.Key_Escape:
                self._view.drop_preview()
        return super().eventFilter(editor, event)

    def updateEditorGeometry(
        self, editor: QWidget, option: QStyleOptionViewItem, place: QModelIndex
    ) -> None:
        editor.setGeometry(option.rect)


_TONES = {"": "ink", "value": "ink", "error": "fail"}


class GridView(QTableView):
    """A table as high as its rows; it scrolls sideways only if its columns cannot fit.

    Signals:
        moved: the current key (None when there is none).
        said: sentences about a pasted block.
        verdict_opened: Enter on a check.
    """

    moved = Signal(object)
    said = Signal(list)
    opened = Signal(object)

    def __init__(self, model: GridModel, appearance: Appearance, name: str) -> None:
        super().__init__()
        self._model = model
        self._appearance = appearance
        self.setModel(model)
        self.setItemDelegate(CellDelegate(self, model, appearance))
        self.rows = RowHeader(model, appearance, self)
        self.setVerticalHeader(self.rows)
        self.setAccessibleName(name)
        self.setTabKeyNavigation(False)
        self.setCornerButtonEnabled(False)
        self.setSelectionMode(QAbstractItemView.SelectionMode.ContiguousSelection)
        self.setVerticalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.setHorizontalScrollMode(QAbstractItemView.ScrollMode.ScrollPerPixel)
        triggers = QAbstractItemView.EditTrigger
        self.setEditTriggers(
            triggers.AnyKeyPressed | triggers.DoubleClicked | triggers.EditKeyPressed
        )
        header = self.horizontalHeader()
        header.setSectionResizeMode(QHeaderView.ResizeMode.Fixed)
        header.setHighlightSections(False)
        header.setStretchLastSection(True)
        header.setDefaultAlignment(
            Qt.AlignmentFlag.AlignLeft
            | Qt.AlignmentFlag.AlignVCenter
            | Qt.AlignmentFlag(Qt.TextFlag.TextWordWrap)
        )
        model.modelReset.connect(self.fit)
        self.fit()

    # -- size ----------------------------------------------------------------------

    def fit(self) -> None:
        """Give columns and rows their room, and the table its height."""
        px = self._appearance.px
        room = max(self.width(), px(300))
        count = self._model.columnCount()
        crossed = isinstance(self._model.block, Crossed) or not any(self._model.shape.row_notes)
        label_width = px(130) if crossed or count > 4 else px(236)
        if count > 4 and not crossed:
            label_width = px(190)
        self.rows.setFixedWidth(label_width)
        least = px(62) if count > 6 else px(84)
        width = max(least, (room - label_width - 4) // max(count, 1))
        for column in range(count):
            self.setColumnWidth(column, width)
        header = self.horizontalHeader()
        header.setFixedHeight(self._header_height(width))
        total = header.height()
        for row in range(self._model.rowCount()):
            height = self.rows.height_for(row, label_width)
            self.setRowHeight(row, height)
            total += height
        overflowing = label_width + count * width > room
        self.setFixedHeight(total + 4 + (px(16) if overflowing else 0))
        reveal(self, bool(count and self._model.rowCount()))

    def _header_height(self, width: int) -> int:
        px = self._appearance.px
        metrics = self.horizontalHeader().fontMetrics()
        room = QRect(0, 0, width - px(18), 10_000)
        flags = int(Qt.TextFlag.TextWordWrap)
        heights = [
            metrics.boundingRect(room, flags, name).height() for name in self._model.shape.columns
        ]
        return max([*heights, px(18)]) + px(14)

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        if event.oldSize().width() != event.size().width():
            self.fit()

    # -- moving --------------------------------------------------------------------

    def currentChanged(self, current: QModelIndex, previous: QModelIndex) -> None:
        super().currentChanged(current, previous)
        self.moved.emit(self._model.key_at(current))

    def go_down(self) -> None:
        """Go to the next field below, then to the top of the next column."""
        self._go(self._fields_by_column(), 1)

    def go_along(self, step: int) -> None:
        """Go to the next field to the right, then to the next line; leave at the end."""
        if not self._go(self._fields_by_row(), step):
            self.focusNextPrevChild(step > 0)

    def _go(self, places: list[QModelIndex], step: int) -> bool:
        current = self.currentIndex()
        if current in places:
            target = places.index(current) + step
        else:
            target = 0 if step > 0 else len(places) - 1
        if not 0 <= target < len(places):
            return False
        self.setCurrentIndex(places[target])
        return True

    def _fields_by_row(self) -> list[QModelIndex]:
        model = self._model
        return [
            model.index(row, column)
            for row in range(model.rowCount())
            for column in range(model.columnCount())
            if model.is_field(model.index(row, column))
        ]

    def _fields_by_column(self) -> list[QModelIndex]:
        return sorted(self._fields_by_row(), key=lambda place: (place.column(), place.row()))

    def first_place(self) -> None:
        """Make the first field current, if nothing is."""
        if not self.currentIndex().isValid():
            places = self._fields_by_row()
            self.setCurrentIndex(places[0] if places else self._model.index(0, 0))

    def focusInEvent(self, event) -> None:
        super().focusInEvent(event)
        if event.reason() == Qt.FocusReason.BacktabFocusReason:
            places = self._fields_by_row()
            if places:
                self.setCurrentIndex(places[-1])
        elif event.reason() == Qt.FocusReason.TabFocusReason:
            self.setCurrentIndex(QModelIndex())
        self.first_place()

    def current_key(self) -> Key | None:
        """Return the key of the current cell."""
        return self._model.key_at(self.currentIndex())

    def drop_preview(self) -> None:
        """Compute the current cell from what is stored again."""
        key = self.current_key()
        if key is not None and self._model.is_field(self.currentIndex()):
            self._model.document.drop_preview(self._model.unit_id, key)

    # -- keys ----------------------------------------------------------------------

    def keyPressEvent(self, event: QKeyEvent) -> None:
        key = self.current_key()
        if event.matches(QKeySequence.StandardKey.Paste):
            self.paste(QGuiApplication.clipboard().text())
        elif event.matches(QKeySequence.StandardKey.Copy):
            QGuiApplication.clipboard().setText(self.copied())
        elif event.key() in _DOWN_KEYS:
            if key is not None and not self._model.is_field(self.currentIndex()):
                self.opened.emit(key)
            else:
                self.go_down()
        elif event.key() in (Qt.Key.Key_Tab, Qt.Key.Key_Backtab):
            self.go_along(1 if event.key() == Qt.Key.Key_Tab else -1)
        elif event.key() in (Qt.Key.Key_Delete, Qt.Key.Key_Backspace):
            self.empty_selected()
        elif not self._answer_by_letter(event, key):
            super().keyPressEvent(event)

    def event(self, event: QEvent) -> bool:
        # Qt takes Tab for the focus before keyPressEvent sees it.
        if event.type() == QEvent.Type.KeyPress and isinstance(event, QKeyEvent):
            plain = event.modifiers() in (
                Qt.KeyboardModifier.NoModifier,
                Qt.KeyboardModifier.ShiftModifier,
            )
            if plain and event.key() in (Qt.Key.Key_Tab, Qt.Key.Key_Backtab):
                self.keyPressEvent(event)
                return True
        return super().event(event)

    def _answer_by_letter(self, event: QKeyEvent, key: Key | None) -> bool:
        if key is None or not self._model.is_field(self.currentIndex()):
            return False
        entry = self._model.entry(key)
        assert isinstance(entry, Field)
        letters = _ITEM_KEYS.get(entry.kind)
        letter = event.text().upper()
        if not letters or event.modifiers() & ~Qt.KeyboardModifier.ShiftModifier:
            return False
        if letter in letters:
            self._model.setData(self.currentIndex(), letters[letter])
            self.go_down()
            return True
        if letter == "A":
            self.edit(self.currentIndex())
            editor = self.indexWidget(self.currentIndex()) or self.focusWidget()
            if isinstance(editor, QComboBox):
                editor.setEditText("n/a ")
                editor.lineEdit().end(False)
            return True
        return False

    def empty_selected(self) -> None:
        """Clear the readings of the selected cells."""
        for place in self.selectedIndexes() or [self.currentIndex()]:
            key = self._model.key_at(place)
            if key is not None and self._model.is_field(place) and self._model.cell(key).text:
                self._model.enter(key, "")
        self._model.changed()
        self.moved.emit(self.current_key())

    # -- blocks --------------------------------------------------------------------

    def copied(self) -> str:
        """Return the selected cells as tab-separated text."""
        places = self.selectedIndexes() or [self.currentIndex()]
        rows: dict[int, dict[int, str]] = {}
        for place in places:
            if place.isValid():
                rows.setdefault(place.row(), {})[place.column()] = str(place.data() or "")
        return "\n".join(
            "\t".join(text for _, text in sorted(cells.items()))
            for _, cells in sorted(rows.items())
        )

    def paste(self, text: str) -> list[str]:
        """Enter a tab-separated block from the current cell on; return all refusals.

        Lines of the table that are computed or judged are passed over, since a block from a
        spreadsheet holds readings only.
        """
        block = [line.split("\t") for line in text.rstrip("\r\n").splitlines()]
        start = self.currentIndex()
        rows, columns = self._field_rows(start.row()), self._field_columns(start.column())
        refusals: list[str] = []
        kept = 0
        for down, cells in enumerate(block):
            for across, typed in enumerate(cells):
                fits = down < len(rows) and across < len(columns)
                place = self._model.index(rows[down], columns[across]) if fits else QModelIndex()
                key = self._model.key_at(place)
                if key is None or not self._model.is_field(place):
                    refusals.append(
                        f"Row {down + 1}, column {across + 1} of the block ('{typed}'): "
                        "there is no cell for it here."
                    )
                    continue
                refusal = self._model.enter(key, typed)
                member = self._model.results.member_label(*key)
                kept += not refusal
                if refusal:
                    refusals.append(f"{member}: {refusal}")
        self._model.changed()
        counted = f"{kept} reading{'s' * (kept != 1)} pasted"
        self.said.emit([f"{counted}.", *refusals])
        return refusals

    def _field_rows(self, first: int) -> list[int]:
        model = self._model
        columns = range(model.columnCount())
        return [
            row
            for row in range(max(first, 0), model.rowCount())
            if any(model.is_field(model.index(row, column)) for column in columns)
        ]

    def _field_columns(self, first: int) -> list[int]:
        model = self._model
        rows = range(model.rowCount())
        return [
            column
            for column in range(max(first, 0), model.columnCount())
            if any(model.is_field(model.index(row, column)) for row in rows)
        ]
