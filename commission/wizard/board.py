"""The board: all units and pages at a glance, the stops in words, and what to do next."""

from __future__ import annotations

from functools import partial

from PySide6.QtCore import QModelIndex, QRect, QSize, Qt, Signal
from PySide6.QtGui import (
    QDragEnterEvent,
    QDropEvent,
    QFont,
    QFontMetrics,
    QKeyEvent,
    QPainter,
    QResizeEvent,
)
from PySide6.QtWidgets import (
    QAbstractItemView,
    QFrame,
    QPushButton,
    QStyledItemDelegate,
    QStyleOptionViewItem,
    QTableView,
    QVBoxLayout,
    QWidget,
)

from commission.language import spoken, spoken_count
from commission.wizard.appearance import Appearance
from commission.wizard.board_filter import ALL, BoardFilter
from commission.wizard.board_filter import KEYS as FILTER_KEYS
from commission.wizard.board_model import BoardModel, Place
from commission.wizard.document import Document
from commission.wizard.icon import pixmap
from commission.wizard.incoming_file import dropped_file
from commission.wizard.parts import (
    SignLabel,
    SizedHeader,
    button,
    clear,
    column,
    label,
    wrapping_row,
)
from commission.wizard.schedule_place import KINDS as SCHEDULE_KINDS
from commission.wizard.sign import STOP_SIGN
from commission.wizard.unit_form import UnitForm
from commission.wizard.whole import Whole

_MOST_STOPS = 3
_LEAST_TABLE = 150
_LOW = 740  # in a window lower than this one stop is told, and how many more there are
_MOVES: dict[int, int] = {Qt.Key.Key_Up: -1, Qt.Key.Key_Down: 1}
_VERTICAL = QAbstractItemView.CursorAction
_STEPS = {
    _VERTICAL.MoveUp: -1,
    _VERTICAL.MoveDown: 1,
    _VERTICAL.MovePageUp: -1,
    _VERTICAL.MovePageDown: 1,
}
_SPACE_KEYS = (Qt.Key.Key_Return, Qt.Key.Key_Enter, Qt.Key.Key_Space)


class BoardDelegate(QStyledItemDelegate):
    """Draws a state: icon, word, and counts below."""

    def __init__(self, view: QTableView, model: BoardModel, appearance: Appearance) -> None:
        super().__init__(view)
        self._view = view
        self._model = model
        self._appearance = appearance

    def sizeHint(self, option: QStyleOptionViewItem, place: Place) -> QSize:
        return QSize(self._appearance.px(104), self._appearance.px(50))

    def paint(self, painter: QPainter, option: QStyleOptionViewItem, place: Place) -> None:
        px, palette = self._appearance.px, self._appearance.palette
        cell = self._model.cell(place.row(), place.column())
        painter.save()
        painter.fillRect(option.rect, palette["surface" if cell is not None else "sunken"])
        if cell is None or cell.sign is None:
            painter.restore()
            return
        grave = cell.sign.colour in ("stop", "fail")
        if grave:
            painter.fillRect(option.rect, palette[f"{cell.sign.colour}_ground"])
        inner = option.rect.adjusted(px(8), px(5), -px(4), -px(4))
        colour = palette[cell.sign.colour]
        size = px(18)
        ratio = self._view.devicePixelRatioF()
        painter.drawPixmap(inner.topLeft(), pixmap(cell.sign.icon, colour, size, ratio))
        font = QFont(option.font)
        font.setPixelSize(px(13))
        font.setBold(True)
        painter.setFont(font)
        painter.setPen(colour)
        first = QRect(inner.left() + size + px(6), inner.top(), inner.width() - size - px(6), size)
        word = painter.fontMetrics().elidedText(
            cell.sign.word, Qt.TextElideMode.ElideRight, first.width()
        )
        painter.drawText(first, int(Qt.AlignmentFlag.AlignVCenter), word)
        font.setBold(False)
        font.setPixelSize(px(12))
        painter.setFont(font)
        painter.setPen(palette["muted"])
        below = QRect(inner.left(), inner.top() + size + px(3), inner.width(), px(18))
        words = painter.fontMetrics().elidedText(
            cell.words, Qt.TextElideMode.ElideRight, below.width()
        )
        painter.drawText(below, int(Qt.AlignmentFlag.AlignVCenter), words)
        if self._view.currentIndex() == place and self._view.hasFocus():
            pen = painter.pen()
            pen.setColor(palette["focus"])
            pen.setWidth(px(3))
            painter.setPen(pen)
            painter.drawRect(option.rect.adjusted(2, 2, -2, -2))
        painter.restore()


class BoardTable(QTableView):
    """Units down, stages across; Enter or a click opens a page, + opens a stage.

    Signals:
        opened: unit id and section name.
        move_wanted: unit id, up (-1) or down (1) in the order.
        filter_wanted: the name of a filter, by its key.
    """

    opened = Signal(str, str)
    move_wanted = Signal(str, int)
    filter_wanted = Signal(str)

    def __init__(self, model: BoardModel, appearance: Appearance) -> None:
        super().__init__()
        self._model = model
        self._appearance = appearance
        self._kept_column: int | None = None
        self.setModel(model)
        self.setItemDelegate(BoardDelegate(self, model, appearance))
        self.setAccessibleName(spoken("Units and pages"))
        self.setSelectionMode(QAbstractItemView.SelectionMode.SingleSelection)
        self.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
        self.setTabKeyNavigation(False)
        self.setCornerButtonEnabled(False)
        self.setHorizontalScrollMode(QAbstractItemView.ScrollMode.ScrollPerPixel)
        self.stages = SizedHeader(Qt.Orientation.Horizontal, self)
        self.stages.setSectionsClickable(True)
        self.stages.setToolTip(spoken("Open this stage into its pages, or close it"))
        self.stages.sectionClicked.connect(lambda place: model.toggle(model.columns[place].stage))
        self.setHorizontalHeader(self.stages)
        self.tags = SizedHeader(Qt.Orientation.Vertical, self)
        self.tags.setDefaultSectionSize(appearance.px(50))
        self.setVerticalHeader(self.tags)
        self.clicked.connect(self._open)
        model.modelReset.connect(self.fit)
        model.worked_out.connect(self.fit)
        self.fit()

    def fit(self) -> None:
        """Give each column its share of the width, never less than its words need."""
        px = self._appearance.px
        columns = self._model.columns
        tags = [str(self._model.headerData(n, Qt.Orientation.Vertical)) for n in self._rows()]
        metrics = self.stages.drawn_metrics()
        longest = max([metrics.horizontalAdvance(tag) for tag in tags], default=0)
        label_width = min(max(px(92), longest + px(28)), px(200))
        self.tags.set_thickness(label_width)
        needed = self._needed(metrics)
        spare = self.width() - label_width - px(18) - sum(needed)
        share = min(px(60), max(0, spare // max(len(columns), 1)))
        flags = int(Qt.TextFlag.TextWordWrap)
        heights = [px(32)]
        for place, width in enumerate(needed):
            self.setColumnWidth(place, width + share)
            box = QRect(0, 0, width + share - px(20), 10_000)
            heights.append(metrics.boundingRect(box, flags, columns[place].title).height())
        self.stages.set_thickness(max(heights) + px(12))

    def _rows(self) -> range:
        return range(self._model.rowCount())

    def _needed(self, heads: QFontMetrics) -> list[int]:
        """Return the widths that the words of the columns need."""
        px = self._appearance.px
        word, small = QFont(self.font()), QFont(self.font())
        word.setPixelSize(px(13))
        word.setBold(True)
        small.setPixelSize(px(12))
        firsts, belows = QFontMetrics(word), QFontMetrics(small)
        found = []
        for place, one in enumerate(self._model.columns):
            cells = [self._model.cell(row_number, place) for row_number in self._rows()]
            shown = {(c.sign.word, c.words) for c in cells if c is not None and c.sign is not None}
            longest = max(one.title.split(), key=len, default="")
            found.append(
                max(
                    px(128) if one.is_page else px(86),
                    heads.horizontalAdvance(longest) + px(22),
                    *(firsts.horizontalAdvance(first) + px(38) for first, _ in shown),
                    *(belows.horizontalAdvance(below) + px(16) for _, below in shown),
                )
            )
        return found

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self.fit()

    def _open(self, place: QModelIndex) -> None:
        cell = self._model.cell(place.row(), place.column()) if place.isValid() else None
        if cell is not None and cell.target:
            self.opened.emit(self._model.unit_ids[place.row()], cell.target)

    def focusInEvent(self, event) -> None:
        super().focusInEvent(event)
        if not self.currentIndex().isValid() and self._model.rowCount():
            self.setCurrentIndex(self._model.index(0, 0))

    def moveCursor(
        self, action: QAbstractItemView.CursorAction, modifiers: Qt.KeyboardModifier
    ) -> QModelIndex:
        """Up and down go on where a unit has no page in this column, and come back to it.

        The project's own row has its pages in columns of its own.
        """
        here = self.currentIndex()
        if action not in _STEPS or not here.isValid():
            self._kept_column = None
            return super().moveCursor(action, modifiers)
        if self._kept_column is None or self._model.nearest(here.row(), self._kept_column) != here:
            self._kept_column = here.column()
        paging = action in (_VERTICAL.MovePageUp, _VERTICAL.MovePageDown)
        by = max(1, self.viewport().height() // max(self.rowHeight(0), 1) - 1) if paging else 1
        last = self._model.rowCount() - 1
        row_number = min(max(here.row() + by * _STEPS[action], 0), last)
        found = self._model.nearest(row_number, self._kept_column)
        return found if found.isValid() else here

    def keyPressEvent(self, event: QKeyEvent) -> None:
        current = self.currentIndex()
        moving = event.key() in _MOVES and event.modifiers() == Qt.KeyboardModifier.AltModifier
        if moving and current.isValid():
            self.move_wanted.emit(self._model.unit_ids[current.row()], _MOVES[event.key()])
        elif event.key() in _SPACE_KEYS:
            self._open(current)
        elif event.text() in FILTER_KEYS:
            self.filter_wanted.emit(FILTER_KEYS[event.text()])
        elif event.text() in ("+", "-") and current.isValid():
            stage = self._model.columns[current.column()].stage
            if (stage in self._model.opened) == (event.text() == "-"):
                unit = current.row()
                self._model.toggle(stage)
                places = [n for n, one in enumerate(self._model.columns) if one.stage == stage]
                self.setCurrentIndex(self._model.index(unit, places[0]))
        else:
            super().keyPressEvent(event)


class Board(QWidget):
    """The project's first place.

    Signals:
        page_wanted: unit id and section name.
        schedule_wanted: a schedule's path, or None.
    """

    page_wanted = Signal(str, str)
    schedule_wanted = Signal(object)

    def __init__(self, document: Document, appearance: Appearance) -> None:
        super().__init__()
        self.setObjectName("ground")
        self._document = document
        self._appearance = appearance
        self._next: tuple[str, str, str] | None = None
        self._told: tuple[list[tuple[str, str, str]], int] | None = None
        px = appearance.px
        self.model = BoardModel(document)
        self.table = BoardTable(self.model, appearance)
        self.title = label(document.session.project.title or spoken("Project"), "title")
        self.totals = label("", "muted")
        self.form = UnitForm(document, appearance)
        self.filter = BoardFilter(document, appearance)
        self.next_words = label("")
        self.next_button = button(spoken("Go on there"), self._go_next, "primary")
        self._stops = QFrame()
        self._stops.setProperty("role", "stop_frame")
        self._stop_lines = column()
        self._lay_out(px)
        self.table.opened.connect(self.page_wanted)
        self.table.move_wanted.connect(self._move)
        self.table.filter_wanted.connect(self.show_only)
        self.filter.chosen.connect(self.show_only)
        document.recording_changed.connect(self._filter_anew)
        self.form.added.connect(self._unit_added)
        self.form.moved.connect(self._show_unit)
        self.form.closed.connect(self._to_table)
        self.form.schedule_wanted.connect(lambda: self.schedule_wanted.emit(None))
        self.setAcceptDrops(True)
        self.model.settled.connect(self.refresh_words)
        document.committed.connect(lambda unit_id, _keys: self.model.forget(unit_id))
        document.replaced.connect(self._everything)
        document.units_changed.connect(self._everything)
        self.refresh_words()

    def _lay_out(self, px) -> None:
        layout = QVBoxLayout(self)
        layout.setContentsMargins(px(20), px(10), px(20), px(12))
        layout.setSpacing(px(8))
        head = wrapping_row(px(8))
        names = column(px(2))
        names.addWidget(self.title)
        names.addWidget(self.totals)
        head.addLayout(names, 1)
        self.add_button = self._tool(spoken("Add unit"), self._add, "add")
        self.change_button = self._tool(spoken("Change unit"), self._change, "")
        self.change_button.setToolTip(spoken("Rename, move or remove a unit, or put one back"))
        self.open_button = self._tool(spoken("Show every page"), self._toggle_all, "")
        self.open_button.setCheckable(True)
        for made in (self.open_button, self.change_button, self.add_button):
            head.addWidget(made, 0, Qt.AlignmentFlag.AlignVCenter)
        layout.addLayout(head)
        layout.addWidget(self.form)
        inner = wrapping_row(px(12))
        sign = SignLabel(self._appearance, 22)
        sign.show_sign(STOP_SIGN)
        inner.addWidget(sign, 0, Qt.AlignmentFlag.AlignTop)
        inner.addLayout(self._stop_lines, 1)
        inner.setContentsMargins(px(14), px(6), px(14), px(6))
        self._stops.setLayout(inner)
        layout.addWidget(self._stops)
        self._next_frame = QFrame()
        self._next_frame.setProperty("role", "card")
        line = wrapping_row(px(12))
        line.setContentsMargins(px(14), px(5), px(8), px(5))
        line.addWidget(self.next_words, 1)
        line.addWidget(self.next_button)
        self._next_frame.setLayout(line)
        layout.addWidget(self._next_frame)
        layout.addWidget(self.filter)
        self._whole = Whole(self.table, px(_LEAST_TABLE))
        layout.addWidget(self.table, 1)

    def _tool(self, text: str, act, picture: str) -> QPushButton:
        return button(text, act, "", picture, self._appearance.palette["ink"])

    # -- following -----------------------------------------------------------------

    def _everything(self) -> None:
        self.model.reload()

    def refresh_words(self) -> None:
        """Say in words what stands still and what comes next."""
        self.title.setText(self._document.session.project.title or spoken("Project"))
        self.totals.setText(self.model.totals())
        self._show_filter()
        self._show_stops()
        self._next = self.model.next_to_do()
        if len(self.model.all_ids) == 1:
            self.next_words.setText(spoken("Next: add the first unit by its tag."))
            self.next_button.setText(spoken("Add a unit"))
        elif self._next is None:
            self.next_words.setText(
                spoken("Nothing waits to be read. See what fails, then export.")
            )
        else:
            self.next_words.setText(spoken("Next: {what}", what=self._next[2]))
            self.next_button.setText(spoken("Go on there"))
        has_next = self._next is not None or len(self.model.all_ids) == 1
        self.next_button.setVisible(has_next)
        changeable = len(self.model.all_ids) > 1 or bool(self._document.removed_units())
        self.change_button.setEnabled(changeable)

    def _show_stops(self) -> None:
        stops = self.model.stops_in_words()
        most = self._most_stops()
        if (stops, most) == self._told:
            return
        self._told = (stops, most)
        clear(self._stop_lines)
        self._stops.hide()  # until all is in it: each line would be laid out for itself
        if not stops:
            return
        count = len(stops)
        heading = spoken_count("One stop stands.", "{count} stops stand.", count)
        self._stop_lines.addWidget(label(heading, "stop"))
        for unit_id, name, sentence in stops[:most]:
            line = wrapping_row(self._appearance.px(8))
            line.addWidget(label(sentence), 1)
            go = button(spoken("Go there"), partial(self.page_wanted.emit, unit_id, name), "quiet")
            go.setAccessibleName(spoken("Go there: {sentence}", sentence=sentence))
            line.addWidget(go, 0, Qt.AlignmentFlag.AlignTop)
            self._stop_lines.addLayout(line)
        if count > most:
            more = count - most
            rest = spoken("and {count} more: see STOP in the table", count=more)
            self._stop_lines.addWidget(label(rest, "muted"))
        self._stops.show()

    def _show_filter(self) -> None:
        self.filter.refresh(self.model.filter, self.model.counts(), not self.model.unit_ids)

    def show_only(self, name: str) -> None:
        """Show the units of one filter, and stay on the unit at hand if it is among them."""
        current = self._current_unit()
        had_one = self.table.currentIndex().isValid()
        self.model.show_only(name)
        self._show_filter()
        if self.model.unit_ids:
            kept = had_one and current in self.model.unit_ids
            self._show_unit(current if kept else self.model.unit_ids[0])

    def _filter_anew(self) -> None:
        if self.model.filter == "mine":
            self.show_only("mine")

    # -- acting --------------------------------------------------------------------

    def _go_next(self) -> None:
        if len(self.model.all_ids) == 1:
            self._add()
        elif self._next is not None:
            self.page_wanted.emit(self._next[0], self._next[1])

    def _current_unit(self) -> str:
        place = self.table.currentIndex()
        return self.model.unit_ids[place.row()] if place.isValid() else ""

    def _add(self) -> None:
        self.form.ask_new(self._current_unit())

    def _change(self) -> None:
        unit_id = self._current_unit() or self.model.all_ids[-1]
        self.form.ask_change(unit_id)

    def _unit_added(self, unit_id: str) -> None:
        self.table.setFocus(Qt.FocusReason.OtherFocusReason)
        self._show_unit(unit_id)

    def _show_unit(self, unit_id: str, column_number: int = 0) -> None:
        if unit_id not in self.model.unit_ids:
            self.show_only(ALL)  # a unit that was just added shows, whatever the filter
        row_number = self.model.unit_ids.index(unit_id)
        self.table.setCurrentIndex(self.model.index(row_number, column_number))

    def _move(self, unit_id: str, by: int) -> None:
        column_number = self.table.currentIndex().column()
        refusal = self._document.move_unit(unit_id, by)
        if refusal:
            self._document.said.emit(refusal, False)
        self._show_unit(unit_id, column_number)

    def entry(self) -> QWidget:
        """Return where work goes on: the table, or the first unit that is to be added."""
        return self.table if self._document.units() else self.next_button

    def show_unit(self, unit_id: str) -> None:
        """Come to a unit in the table."""
        self._unit_added(unit_id)

    def dragEnterEvent(self, event: QDragEnterEvent) -> None:
        if dropped_file(event.mimeData(), SCHEDULE_KINDS) is not None:
            event.acceptProposedAction()

    def dropEvent(self, event: QDropEvent) -> None:
        path = dropped_file(event.mimeData(), SCHEDULE_KINDS)
        if path is not None:
            event.acceptProposedAction()
            self.schedule_wanted.emit(path)

    def _to_table(self) -> None:
        self.table.setFocus(Qt.FocusReason.OtherFocusReason)

    def _toggle_all(self) -> None:
        self.model.open_all(self.open_button.isChecked())
        self.open_button.setText(
            spoken("Show stages only")
            if self.open_button.isChecked()
            else spoken("Show every page")
        )

    def resizeEvent(self, event: QResizeEvent) -> None:
        """A low window keeps its height for the table."""
        super().resizeEvent(event)
        if self._told is not None and self._told[1] != self._most_stops():
            self._show_stops()

    def _most_stops(self) -> int:
        """Return how many stops are told: of the window, since the board may be scrolled in it."""
        return _MOST_STOPS if self.window().height() >= self._appearance.px(_LOW) else 1

    def showEvent(self, event) -> None:
        super().showEvent(event)
        self.model.watch(True)

    def hideEvent(self, event) -> None:
        super().hideEvent(event)
        self.model.watch(False)
