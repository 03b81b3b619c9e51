"""A table of the literature, typed or pasted: rows down, columns across, values within.

There is always one empty row and one empty column more, so nothing needs to be added by a
button. Enter goes down, Tab goes right and on to the next row; Ctrl+V pastes a block.
"""

from __future__ import annotations

from PySide6.QtCore import QEvent, QObject, Qt, QTimer, Signal
from PySide6.QtGui import (
    QColor,
    QFocusEvent,
    QGuiApplication,
    QKeyEvent,
    QKeySequence,
    QResizeEvent,
)
from PySide6.QtWidgets import (
    QAbstractItemView,
    QHeaderView,
    QLineEdit,
    QPushButton,
    QStyledItemDelegate,
    QTableWidget,
    QTableWidgetItem,
    QVBoxLayout,
    QWidget,
)

from commission.definitions.model import Axis, Field
from commission.engineering.chart import MOST_COLUMNS, MOST_ROWS
from commission.language import spoken
from commission.units import shown_unit
from commission.validation.table_entry import cells_of
from commission.wizard.appearance import Appearance
from commission.wizard.flow import FlowLayout
from commission.wizard.inputs import Input
from commission.wizard.parts import button, hint, label

_CORNER = "/"
_LEAST_ROWS, _LEAST_COLUMNS = 4, 5
_NEXT_KEYS = (Qt.Key.Key_Return, Qt.Key.Key_Enter)


class TableInput(Input):
    """The cells of a typed table, their units above, a line for "n/a" below."""

    def __init__(self, field: Field, appearance: Appearance, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.field = field
        self.appearance = appearance
        self.legend = label("", "muted")
        self.cells = _Cells(field, appearance, self)
        self.reason = QLineEdit(self)
        hint(self.reason, spoken("n/a and the reason, if there is no such table"))
        self.reason.setToolTip(self.reason.placeholderText())
        self.reason.setAccessibleName(
            spoken("{label}: not applicable, with the reason", label=field.label)
        )
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.setSpacing(appearance.px(6))
        layout.addWidget(self.legend)
        layout.addWidget(self.cells)
        layout.addLayout(self._tools())
        layout.addWidget(self.reason)
        self.setTabOrder(self.findChildren(QPushButton)[-1], self.reason)
        self.setFocusProxy(self.cells)
        self.cells.left.connect(self._leave)
        self.cells.changed.connect(lambda: self.typed.emit(self.text()))
        self.cells.pasted.connect(self._leave)
        self.reason.editingFinished.connect(self._leave)
        self.show_units("IP")
        self.show_text("")

    def _tools(self) -> FlowLayout:
        tools = FlowLayout(self.appearance.px(8), self.appearance.px(4))
        paste = button(spoken("Paste"), self.cells.paste, "quiet")
        paste.setToolTip(spoken("Paste a block copied from a spreadsheet (Ctrl+V)"))
        row = button(spoken("Take out row"), self.cells.take_out_row, "quiet")
        row.setToolTip(spoken("Take the current row out of the table"))
        tools.addWidget(paste)
        tools.addWidget(row)
        if self.field.columns is not None:
            column = button(spoken("Take out column"), self.cells.take_out_column, "quiet")
            column.setToolTip(spoken("Take the current column out of the table"))
            tools.addWidget(column)
        return tools

    def show_units(self, unit_system: str) -> None:
        """Say what stands down, across and within, in the units that the project shows."""

        def named(axis: Axis | None) -> str:
            assert axis is not None
            unit = shown_unit(axis.unit, unit_system)
            return f"{axis.label}, {unit}" if unit else axis.label

        parts = [spoken("Down: {axis}", axis=named(self.field.rows))]
        if self.field.columns is not None:
            parts.append(spoken("Across: {axis}", axis=named(self.field.columns)))
        parts.append(spoken("Values: {axis}", axis=named(self.field.body)))
        self.legend.setText("      ".join(parts))

    def text(self) -> str:
        return self.reason.text().strip() or self.cells.text()

    def show_text(self, text: str) -> None:
        marked = text.casefold().startswith("n/a")
        self.reason.setText(text if marked else "")
        self.cells.show_text("" if marked else text)

    def set_stored(self, text: str) -> None:
        busy = self.cells.is_in_use() and self.text() != self._stored
        self._stored = text
        if not busy and self.text() != text:
            self.show_text(text)

    def editor(self) -> QWidget:
        return self.cells


class _Editing(QStyledItemDelegate):
    """A cell being typed: Tab and Enter store it and go on."""

    def __init__(self, cells: _Cells) -> None:
        super().__init__(cells)
        self._cells = cells

    def eventFilter(self, editor: QObject, event: QEvent) -> bool:
        keys = (*_NEXT_KEYS, Qt.Key.Key_Tab, Qt.Key.Key_Backtab)
        if isinstance(event, QKeyEvent) and event.type() == QEvent.Type.KeyPress:
            key = Qt.Key(event.key())
            if key not in keys:
                return super().eventFilter(editor, event)
            self.commitData.emit(editor)
            self.closeEditor.emit(editor, QStyledItemDelegate.EndEditHint.NoHint)
            self._cells.go_on(key)
            return True
        return super().eventFilter(editor, event)


class _Cells(QTableWidget):
    """The cells; the first line holds the columns where the table has them.

    Signals:
        left: the focus has gone elsewhere.
        changed: a cell was typed.
        pasted: a block was pasted.
    """

    left = Signal()
    changed = Signal()
    pasted = Signal()

    def __init__(self, field: Field, appearance: Appearance, parent: QWidget) -> None:
        super().__init__(parent)
        self._field = field
        self._appearance = appearance
        self._is_filling = False
        self.setAccessibleName(field.label)
        self.horizontalHeader().hide()
        self.verticalHeader().hide()
        self.verticalHeader().setDefaultSectionSize(appearance.px(44))
        self.horizontalHeader().setSectionResizeMode(QHeaderView.ResizeMode.Fixed)
        self.horizontalHeader().setDefaultSectionSize(appearance.px(84))
        self.setTabKeyNavigation(False)
        self.setSelectionMode(QAbstractItemView.SelectionMode.ContiguousSelection)
        triggers = QAbstractItemView.EditTrigger
        self.setEditTriggers(
            triggers.AnyKeyPressed | triggers.DoubleClicked | triggers.EditKeyPressed
        )
        self.setItemDelegate(_Editing(self))
        self.cellChanged.connect(self._cell_changed)

    @property
    def _head(self) -> int:
        """How many lines stand above the rows: one where the table has columns."""
        return 1 if self._field.columns is not None else 0

    # -- text ----------------------------------------------------------------------

    def text(self) -> str:
        """Return what is typed, a line a row, without rows and columns that are empty."""
        lines = [
            [self._cell(row, column) for column in range(self.columnCount())]
            for row in range(self.rowCount())
        ]
        kept = [
            at for at in range(self.columnCount()) if at == 0 or any(line[at] for line in lines)
        ]
        lines = [[line[at] for at in kept] for line in lines]
        rows = [line for line in lines[self._head :] if any(line)]
        if not rows and not any(any(line) for line in lines):
            return ""
        if self._head:
            lines[0][0] = _CORNER
            rows.insert(0, lines[0])
        return "\n".join("\t".join(line).rstrip("\t") for line in rows)

    def show_text(self, text: str) -> None:
        """Show a stored table."""
        lines = [line.split("\t") for line in text.split("\n")] if text else []
        if self._head and lines:
            lines[0][0] = ""
        self._is_filling = True
        self.clearContents()
        self._fit(len(lines), max((len(line) for line in lines), default=0))
        for row, line in enumerate(lines):
            for column, cell in enumerate(line):
                self._set(row, column, cell)
        self._is_filling = False
        self._dress()

    def _cell(self, row: int, column: int) -> str:
        item = self.item(row, column)
        return item.text().strip() if item is not None else ""

    def _set(self, row: int, column: int, text: str) -> None:
        item = self.item(row, column)
        if item is None:
            item = QTableWidgetItem()
            self.setItem(row, column, item)
        item.setText(text)

    def _cell_changed(self, row: int, column: int) -> None:
        if self._is_filling:
            return
        self._is_filling = True
        self._fit(row + 1, column + 1, shrink=False)
        self._is_filling = False
        self._dress()
        self.changed.emit()

    def _fit(self, rows: int, columns: int, shrink: bool = True) -> None:
        """Have one empty row and column more than are filled."""
        rows = min(max(rows + 1, _LEAST_ROWS + self._head), MOST_ROWS + self._head)
        columns = min(max(columns + 1, _LEAST_COLUMNS), MOST_COLUMNS + 1) if self._head else 2
        self.setRowCount(rows if shrink else max(rows, self.rowCount()))
        self.setColumnCount(columns if shrink else max(columns, self.columnCount()))

    def _dress(self) -> None:
        """Tint the cells of the lines, and be as high as the rows."""
        self._is_filling = True
        tint = QColor(self._appearance.palette["accent_ground"])
        right = Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter
        for row in range(self.rowCount()):
            for column in range(self.columnCount()):
                item = self.item(row, column)
                if item is None:
                    item = QTableWidgetItem()
                    self.setItem(row, column, item)
                item.setTextAlignment(right)
                if column == 0 or row < self._head:
                    item.setBackground(tint)
                if self._head and row == column == 0:
                    item.setFlags(Qt.ItemFlag.ItemIsEnabled)
        self._is_filling = False
        self._fit_height()

    def _fit_height(self) -> None:
        """Be as high as the rows, and as the bar below them where they are wider than the page."""
        frame = 2 * self.frameWidth()
        bar = self.horizontalScrollBar().sizeHint().height()
        height = self.rowCount() * self.verticalHeader().defaultSectionSize() + frame
        wide = self.columnCount() * self.horizontalHeader().defaultSectionSize()
        needs_bar = wide > self.width() - frame
        self.setFixedHeight(height + (bar if needs_bar else 0))

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        if event.oldSize().width() != event.size().width():
            self._fit_height()

    # -- by hand ---------------------------------------------------------------------

    def is_in_use(self) -> bool:
        """Return whether a cell has, or is being given, the focus."""
        focus = self.window().focusWidget()
        return focus is not None and (focus is self or self.isAncestorOf(focus))

    def take_out_row(self) -> None:
        """Take the current row out."""
        if self.currentRow() >= self._head:
            self.removeRow(self.currentRow())
            self._take_up()

    def take_out_column(self) -> None:
        """Take the current column out."""
        if self.currentColumn() > 0:
            self.removeColumn(self.currentColumn())
            self._take_up()

    def _take_up(self) -> None:
        text = self.text()
        self.show_text(text)
        self.changed.emit()
        self.pasted.emit()

    def paste(self) -> None:
        """Put the clipboard's block in at the current cell; a whole table anywhere in the head."""
        block = cells_of(QGuiApplication.clipboard().text())
        if not block:
            return
        row, column = max(self.currentRow(), 0), max(self.currentColumn(), 0)
        if not self.text():
            row = column = 0
        if self._head and row == 0 and len(block) > 1 and len(block[0]) == len(block[1]) - 1:
            block[0].insert(0, "")
        wide = max(len(line) for line in block)
        self._is_filling = True
        self._fit(row + len(block), column + wide, shrink=False)
        for down, line in enumerate(block):
            for across, cell in enumerate(line):
                at = (row + down, column + across)
                inside = at[0] < self.rowCount() and at[1] < self.columnCount()
                if inside and not (self._head and at == (0, 0)):
                    self._set(*at, cell)
        self._is_filling = False
        self._dress()
        self.changed.emit()
        self.pasted.emit()

    def event(self, event: QEvent) -> bool:
        """Keep Ctrl+V and Tab for the table."""
        if event.type() == QEvent.Type.ShortcutOverride:
            assert isinstance(event, QKeyEvent)
            if event.matches(QKeySequence.StandardKey.Paste):
                event.accept()
                return True
        if event.type() == QEvent.Type.KeyPress and isinstance(event, QKeyEvent):
            back = event.key() == Qt.Key.Key_Backtab
            if event.key() in (Qt.Key.Key_Tab, Qt.Key.Key_Backtab) and self._step(back):
                return True
        return super().event(event)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.matches(QKeySequence.StandardKey.Paste):
            self.paste()
        elif event.key() in (Qt.Key.Key_Delete, Qt.Key.Key_Backspace):
            for item in self.selectedItems():
                item.setText("")
        elif event.key() in _NEXT_KEYS:
            self._down()
        else:
            super().keyPressEvent(event)

    def go_on(self, key: Qt.Key) -> None:
        """Go where a hand goes after a cell: Tab right, Enter down."""
        if key in _NEXT_KEYS:
            self._down()
        elif not self._step(key == Qt.Key.Key_Backtab):
            self.focusNextPrevChild(key != Qt.Key.Key_Backtab)

    def _down(self) -> None:
        if self.currentRow() + 1 < self.rowCount():
            self.setCurrentCell(self.currentRow() + 1, self.currentColumn())

    def _step(self, back: bool) -> bool:
        """Go to the next cell; False at an end, where Tab leaves the table."""
        row, column = self.currentRow(), self.currentColumn() + (-1 if back else 1)
        if not back and column == 1 and row >= self._head and not self._cell(row, 0):
            return False  # the empty row at the end
        filled = self._filled_columns()
        if column >= filled and not back:
            row, column = row + 1, 0
        elif column < 0:
            row, column = row - 1, filled - 1
        after_empty = not back and row > self._head and not self._cell(row - 1, 0)
        past = row >= self.rowCount() or after_empty
        if row < 0 or past or (row, column) == (0, 0):
            return False
        self.setCurrentCell(row, column)
        return True

    def _filled_columns(self) -> int:
        """Return how many columns Tab passes: the filled ones, in the head one more."""
        if not self._head:
            return self.columnCount()
        heads = [at for at in range(1, self.columnCount()) if self._cell(0, at)]
        filled = max(heads, default=0) + 1
        return min(filled + (self.currentRow() == 0), self.columnCount())

    def focusInEvent(self, event: QFocusEvent) -> None:
        if self.currentRow() < 0:  # the corner itself takes nothing
            self.setCurrentCell(0, 1 if self._head else 0)
        super().focusInEvent(event)

    def focusOutEvent(self, event: QFocusEvent) -> None:
        super().focusOutEvent(event)
        QTimer.singleShot(0, self, self._tell_left)

    def _tell_left(self) -> None:
        if not self.is_in_use():
            self.left.emit()
