"""The table of repeats on the screen: typing starts editing, Enter goes down, Tab right."""

from __future__ import annotations

from PySide6.QtCore import QEvent, QModelIndex, QRect, Qt, Signal
from PySide6.QtGui import (
    QFocusEvent,
    QFont,
    QFontMetrics,
    QGuiApplication,
    QKeyEvent,
    QKeySequence,
    QResizeEvent,
)
from PySide6.QtWidgets import (
    QAbstractItemView,
    QLineEdit,
    QTableView,
)

from commission.definitions.model import Field, Key
from commission.language import spoken, spoken_count
from commission.wizard.appearance import Appearance
from commission.wizard.choice import Choice
from commission.wizard.grid_cells import DOWN_KEYS, NOTE_SIZE, CellDelegate, Place, RowHeader
from commission.wizard.grid_model import GridModel
from commission.wizard.inputs import choice_keys
from commission.wizard.parts import SizedHeader, reveal

_WIDEST_CELL = 200  # pixels at 100 %; what is longer ends in three points, and is told below


def spread(room: int, needed: list[int]) -> list[int]:
    """Return the widths needed, and what is left of the room shared among them."""
    spare = max(0, room - sum(needed)) // max(len(needed), 1)
    return [width + spare for width in needed]


class GridView(QTableView):
    """A table as high as its rows; it scrolls sideways only if its columns cannot fit.

    Signals:
        moved: the current key (None when there is none).
        said: sentences about a pasted block.
        opened: Enter on a check.
        below_wanted: F4; to the instrument and the limits of the current cell.
        ended: Enter on the last field.
    """

    moved = Signal(object)
    said = Signal(list)
    opened = Signal(object)
    below_wanted = Signal()
    ended = Signal()

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
        self.columns = SizedHeader(Qt.Orientation.Horizontal, self)
        self.columns.setStretchLastSection(True)
        self.setHorizontalHeader(self.columns)
        model.modelReset.connect(self.fit)
        model.document.committed.connect(self._committed)
        self._needs: list[int] = []

    # -- size ----------------------------------------------------------------------

    def fit(self) -> None:
        """Give columns and rows their room as their words need it now, and the table its height."""
        self._needs = [self._needed(column) for column in range(self._model.columnCount())]
        self._arrange()

    def hold(self, changed: frozenset[Key]) -> None:
        """Widen the columns if what has changed needs more room than it has."""
        for key in changed:
            place = self._model.place_of(key)
            if place.isValid() and self._cell_need(key) > self._needs[place.column()]:
                self.fit()
                return

    def _committed(self, unit_id: str, changed: frozenset[Key]) -> None:
        """Show the mark of a note that was just written, or take it away."""
        own = self._model.own(changed) if unit_id == self._model.unit_id else frozenset()
        if own:
            self.hold(own)
            self._model.changed(own)

    def _arrange(self) -> None:
        px = self._appearance.px
        room = max(self.width(), px(300))
        count = self._model.columnCount()
        most = min(px(236) if count <= 4 else px(190), room * 2 // 5)
        label_width = max(px(110), min(most, self.rows.widest_name()), self.rows.longest_word())
        self.rows.set_thickness(label_width)
        least = px(62) if count > 6 else px(84)
        share = max(least, (room - label_width - 6) // max(count, 1))
        needed = [max(least, width) for width in self._needs]
        widths = [max(share, width) for width in needed]
        if sum(widths) > room - label_width - 6 >= sum(needed):
            widths = spread(room - label_width - 6, needed)
        for column, width in enumerate(widths):
            self.setColumnWidth(column, width)
        total = self._header_height(min([*widths, room]))
        self.columns.set_thickness(total)
        for row in range(self._model.rowCount()):
            height = self.rows.height_for(row, label_width)
            self.setRowHeight(row, height)
            total += height
        overflowing = label_width + sum(widths) > room
        policy = Qt.ScrollBarPolicy
        self.setHorizontalScrollBarPolicy(
            policy.ScrollBarAsNeeded if overflowing else policy.ScrollBarAlwaysOff
        )
        self.setFixedHeight(total + 6 + (px(16) if overflowing else 0))
        reveal(self, bool(count and self._model.rowCount()))

    def _needed(self, column: int) -> int:
        """Return how wide a column must be for what its cells say, up to a limit."""
        keys = [line[column] for line in self._model.shape.keys if column < len(line)]
        heads = self._bold().horizontalAdvance
        title = self._model.shape.columns[column].split()
        head = max((heads(word) for word in title), default=0) + self._appearance.px(20)
        return max([head, *(self._cell_need(key) for key in keys)])

    def _cell_need(self, key: Key) -> int:
        px = self._appearance.px
        cell = self._model.cell(key)
        sign = px(21) if cell.sign is not None else 0
        note = px(NOTE_SIZE + 5) if self._model.noted(key) else 0
        width = self._bold().horizontalAdvance(cell.text) + sign + note + px(14)
        return min(width, px(_WIDEST_CELL))

    def _bold(self) -> QFontMetrics:
        font = QFont(self.font())
        font.setPixelSize(self._appearance.px(14))
        font.setBold(True)
        return QFontMetrics(font)

    def _header_height(self, width: int) -> int:
        px = self._appearance.px
        metrics = self.columns.drawn_metrics()
        room = QRect(0, 0, width - px(18), 10_000)
        flags = int(Qt.TextFlag.TextWordWrap)
        heights = [
            metrics.boundingRect(room, flags, name).height() for name in self._model.shape.columns
        ]
        return max([*heights, px(18)]) + px(14)

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        if event.oldSize().width() != event.size().width():
            self._arrange()

    # -- moving --------------------------------------------------------------------

    def currentChanged(self, current: Place, previous: Place) -> None:
        super().currentChanged(current, previous)
        self.moved.emit(self._model.key_at(current))

    def go_down(self) -> None:
        """Go to the next field below, then to the top of the next column; leave at the end."""
        if not self._go(self._fields_by_column(), 1):
            self.ended.emit()

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

    def first_place(self, *, anew: bool = False) -> None:
        """Make the first field current, if nothing is, or in any case."""
        if anew or not self.currentIndex().isValid():
            places = self._fields_by_row()
            self.setCurrentIndex(places[0] if places else self._model.index(0, 0))

    def focusInEvent(self, event: QFocusEvent) -> None:
        super().focusInEvent(event)
        self.first_place()
        places = self._fields_by_row()
        ends = {Qt.FocusReason.TabFocusReason: (-1, 0), Qt.FocusReason.BacktabFocusReason: (0, -1)}
        left_at, begin_at = ends.get(event.reason(), (0, 0))
        if places and left_at != begin_at and self.currentIndex() == places[left_at]:
            # Left at its end before: who comes round again begins anew.
            self.setCurrentIndex(places[begin_at])

    def current_key(self) -> Key | None:
        """Return the key of the current cell."""
        return self._model.key_at(self.currentIndex())

    def drop_preview(self) -> None:
        """Compute the current cell from what is stored again."""
        key = self.current_key()
        if key is not None and self._model.is_field(self.currentIndex()):
            self._model.document.drop_preview(self._model.unit_id, key)

    def _cell_editor(self) -> QLineEdit | None:
        """Return the line in which the current cell is being typed, if it is."""
        if self.state() != QAbstractItemView.State.EditingState:
            return None
        editor = self.indexWidget(self.currentIndex()) or self.focusWidget()
        if isinstance(editor, Choice):
            return editor.line
        return editor if isinstance(editor, QLineEdit) else None

    def typed_text(self) -> str:
        """Return what is being typed into the current cell; "" where nothing is."""
        line = self._cell_editor()
        return line.text() if line is not None else ""

    def mark_not_applicable(self) -> None:
        """Begin "n/a" in the current cell with the reason given last, selected."""
        key, reason = self.current_key(), self._model.document.last_reason
        if key is not None and self.put_typed(key, f"n/a {reason}"):
            line = self._cell_editor()
            assert line is not None
            line.setSelection(len("n/a "), len(reason))

    def put_typed(self, key: Key, text: str) -> bool:
        """Put a text into a cell as if it had just been typed; nothing is stored."""
        place = self._model.place_of(key)
        if not place.isValid() or not self._model.is_field(place):
            return False
        self.setCurrentIndex(place)
        self.edit(place)
        line = self._cell_editor()
        if line is None:
            return False
        line.setText(text)
        line.textEdited.emit(text)
        return True

    # -- keys ----------------------------------------------------------------------

    def keyPressEvent(self, event: QKeyEvent) -> None:
        key = self.current_key()
        if event.matches(QKeySequence.StandardKey.Paste):
            self.paste(QGuiApplication.clipboard().text())
        elif event.matches(QKeySequence.StandardKey.Copy):
            QGuiApplication.clipboard().setText(self.copied())
        elif event.key() in DOWN_KEYS:
            if key is not None and not self._model.is_field(self.currentIndex()):
                self.opened.emit(key)
            else:
                self.go_down()
        elif event.key() in (Qt.Key.Key_Tab, Qt.Key.Key_Backtab):
            self.go_along(1 if event.key() == Qt.Key.Key_Tab else -1)
        elif event.key() == Qt.Key.Key_F4:
            self.below_wanted.emit()
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
        letters = choice_keys(entry)
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
            if isinstance(editor, Choice):
                editor.setEditText("n/a ")
                editor.line.end(False)
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
                        spoken(
                            "Row {row}, column {column} of the block ('{typed}'): there is no "
                            "cell for it here.",
                            row=down + 1,
                            column=across + 1,
                            typed=typed,
                        )
                    )
                    continue
                refusal = self._model.enter(key, typed)
                member = self._model.results.member_label(*key)
                kept += not refusal
                if refusal:
                    refusals.append(f"{member}: {refusal}")
        self._model.changed()
        counted = spoken_count("{count} reading pasted.", "{count} readings pasted.", kept)
        self.said.emit([counted, *refusals])
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
