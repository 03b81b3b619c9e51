"""A form beside a list: one record of the project's registers, typed and kept."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

from PySide6.QtCore import (
    QAbstractTableModel,
    QModelIndex,
    QPersistentModelIndex,
    QRect,
    Qt,
    Signal,
)
from PySide6.QtGui import QFont, QFontMetrics, QKeyEvent, QResizeEvent, QShowEvent
from PySide6.QtWidgets import (
    QAbstractItemView,
    QComboBox,
    QFrame,
    QGridLayout,
    QHeaderView,
    QLabel,
    QLineEdit,
    QPlainTextEdit,
    QPushButton,
    QScrollArea,
    QTableView,
    QVBoxLayout,
    QWidget,
)

from commission.language import spoken
from commission.wizard.appearance import Appearance
from commission.wizard.choice import Choice, fill
from commission.wizard.finder import Finder
from commission.wizard.parts import button, label, stretch_last, wrapping_row

_NARROW = 700
_WRAPPED = int(Qt.TextFlag.TextWordWrap)

Place = QModelIndex | QPersistentModelIndex


@dataclass(frozen=True, slots=True)
class Asked:
    """One input of a form: a line, several lines, or a choice of (text, data) pairs.

    `is_found` is a choice among many, found by typing part of it; what is offered is given to
    its `Finder` when the form is shown.
    """

    name: str
    words: str
    hint: str = ""
    is_long: bool = False
    choices: tuple[tuple[str, str], ...] = ()
    is_found: bool = False


@dataclass(frozen=True, slots=True)
class _Parts:
    """What a form is made of."""

    title: QLabel
    refusal: QLabel
    keep: QPushButton
    inputs: dict[str, QWidget]


class RecordForm(QScrollArea):
    """Inputs one under the other, and what keeps them; built when first needed.

    Signals:
        kept: the values by name.
        given_up: close without keeping.
        typed: something in it was changed, and is not kept yet.
        chosen: the name of an input, after another of its choices was taken.
    """

    kept = Signal(dict)
    given_up = Signal()
    typed = Signal()
    chosen = Signal(str)

    def __init__(
        self,
        asked: Sequence[Asked],
        appearance: Appearance,
        extras: Sequence[tuple[int, QWidget]] = (),
    ) -> None:
        """Make it; `extras` are further buttons with their places among its own."""
        super().__init__()
        self.setWidgetResizable(True)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self._appearance = appearance
        self._asked = tuple(asked)
        self._extras = tuple(extras)
        self._before: dict[str, str] = {}

    @property
    def is_built(self) -> bool:
        """Whether it was needed already."""
        return self.widget() is not None

    @property
    def inputs(self) -> dict[str, QWidget]:
        """The inputs by name."""
        return self._parts.inputs

    @property
    def title(self) -> QLabel:
        """What is asked for."""
        return self._parts.title

    @property
    def refusal(self) -> QLabel:
        """Why it is not kept."""
        return self._parts.refusal

    @property
    def keep(self) -> QPushButton:
        """The button that keeps what is typed."""
        return self._parts.keep

    @cached_property
    def _parts(self) -> _Parts:
        """Build it: a place is shown sooner without the forms that nobody has asked for."""
        title, refusal = label("", "heading"), label("", "error")
        refusal.hide()
        keep = button(spoken("Keep"), self._keep, "primary")
        card = QFrame()
        card.setProperty("role", "card")
        px = self._appearance.px
        outer = QVBoxLayout(card)
        outer.setContentsMargins(px(16), px(12), px(16), px(12))
        outer.setSpacing(px(8))
        outer.addWidget(title)
        inputs: dict[str, QWidget] = {}
        outer.addLayout(self._grid(inputs))
        outer.addWidget(refusal)
        buttons = wrapping_row(px(8))
        buttons.addWidget(keep)
        buttons.addWidget(button(spoken("Close"), self.given_up.emit, "quiet"))
        for place, made in self._extras:
            buttons.insertWidget(place, made)
        outer.addLayout(stretch_last(buttons))
        outer.addStretch(1)
        self.setWidget(card)
        return _Parts(title, refusal, keep, inputs)

    def _grid(self, inputs: dict[str, QWidget]) -> QGridLayout:
        px = self._appearance.px
        grid = QGridLayout()
        grid.setVerticalSpacing(px(6))
        grid.setHorizontalSpacing(px(10))
        grid.setColumnMinimumWidth(0, px(104))
        grid.setColumnStretch(1, 1)
        for place, asked in enumerate(self._asked):
            made = self._input(asked)
            named = label(asked.words)
            named.setFixedWidth(px(104))
            named.setBuddy(made)
            made.setAccessibleName(asked.words)
            inputs[asked.name] = made
            top = Qt.AlignmentFlag.AlignTop if asked.is_long else Qt.AlignmentFlag.AlignVCenter
            grid.addWidget(named, place, 0, top)
            grid.addWidget(made, place, 1)
        return grid

    def _input(self, asked: Asked) -> QWidget:
        if asked.is_found:
            found = Finder(self._appearance, asked.hint)
            found.setToolTip(asked.hint)
            found.editTextChanged.connect(self.typed)
            found.confirmed.connect(self._keep)
            return found
        if asked.choices:
            box = Choice(self._appearance)
            fill(box, asked.choices, asked.choices[0][1])
            box.activated.connect(self.typed)
            box.activated.connect(lambda _place: self.chosen.emit(asked.name))
            return box
        if asked.is_long:
            note = QPlainTextEdit()
            note.setTabChangesFocus(True)
            note.setFixedHeight(self._appearance.px(64))
            note.setPlaceholderText(asked.hint)
            note.setToolTip(asked.hint)
            note.textChanged.connect(self.typed)
            return note
        line = QLineEdit()
        line.setPlaceholderText(asked.hint)
        line.setToolTip(asked.hint)
        line.returnPressed.connect(self._keep)
        line.textEdited.connect(self.typed)
        return line

    def show_record(self, title: str, values: Mapping[str, str], word: str = "") -> None:
        """Show a record, or an empty one for a new entry."""
        self.title.setText(title)
        self.keep.setText(word or spoken("Keep"))
        self.refuse("")
        for asked in self._asked:
            self._put(self.inputs[asked.name], values.get(asked.name, ""))
        self._before = self.values()
        self.show()

    def _put(self, widget: QWidget, text: str) -> None:
        if isinstance(widget, Finder):
            widget.put(text)
        elif isinstance(widget, QComboBox):
            place = widget.findData(text)
            if place < 0 and text:
                widget.addItem(text, text)
                place = widget.count() - 1
            widget.setCurrentIndex(max(place, 0))
        elif isinstance(widget, QPlainTextEdit):
            widget.setPlainText(text)
        elif isinstance(widget, QLineEdit):
            widget.setText(text)

    def values(self) -> dict[str, str]:
        """Return what is typed, by name."""
        return {name: _text_of(widget).strip() for name, widget in self.inputs.items()}

    def half_typed(self) -> dict[str, str]:
        """Return what is typed and not kept yet, by name; empty where nothing is."""
        return self.values() if self.is_changed else {}

    def put_half_typed(self, values: Mapping[str, str]) -> None:
        """Put in what was typed once, as if it had just been typed; nothing is kept."""
        for name in self.inputs.keys() & values.keys():
            self._put(self.inputs[name], values[name])

    @property
    def is_changed(self) -> bool:
        """Whether something was typed that is not kept yet."""
        return not self.isHidden() and self.values() != self._before

    def start(self, name: str = "") -> None:
        """Put the cursor into an input (the first by default)."""
        widget = self.inputs[name or self._asked[0].name]
        widget.setFocus(Qt.FocusReason.OtherFocusReason)

    def _keep(self) -> None:
        finders = [one for one in self.inputs.values() if isinstance(one, Finder)]
        unclear = [one for one in finders if one.refusal()]
        if unclear:
            self.refusal.setText("\n".join(one.refusal() for one in unclear))
            self.refusal.show()
            unclear[0].setFocus(Qt.FocusReason.OtherFocusReason)
        else:
            self.kept.emit(self.values())

    def refuse(self, sentence: str) -> None:
        """Say why it is not kept; empty when it is."""
        self.refusal.setText(sentence)
        self.refusal.setVisible(bool(sentence))
        if not sentence:
            self._before = self.values()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        control = event.modifiers() & Qt.KeyboardModifier.ControlModifier
        if event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter) and control:
            if self.isVisible():  # a line may have kept it by this very key
                self._keep()
        elif event.key() == Qt.Key.Key_Escape:
            self.given_up.emit()
        else:
            super().keyPressEvent(event)


def _text_of(widget: QWidget) -> str:
    if isinstance(widget, Finder):
        return widget.data()
    if isinstance(widget, QComboBox):
        return str(widget.currentData() or "")
    if isinstance(widget, QPlainTextEdit):
        return widget.toPlainText()
    return widget.text() if isinstance(widget, QLineEdit) else ""


class ListModel(QAbstractTableModel):
    """Records as rows of texts; each row knows its record's id."""

    def __init__(self, titles: Sequence[str]) -> None:
        super().__init__()
        self._titles = tuple(titles)
        self.ids: list[str] = []
        self._rows: list[tuple[str, ...]] = []

    def fill(self, rows: Sequence[tuple[str, tuple[str, ...]]]) -> None:
        """Show other records: (id, texts)."""
        self.beginResetModel()
        self.ids = [record for record, _ in rows]
        self._rows = [texts for _, texts in rows]
        self.endResetModel()

    def texts(self) -> Sequence[tuple[str, ...]]:
        """Return what the rows show."""
        return self._rows

    def rowCount(self, parent: Place = QModelIndex()) -> int:  # noqa: B008
        return 0 if parent.isValid() else len(self._rows)

    def columnCount(self, parent: Place = QModelIndex()) -> int:  # noqa: B008
        return 0 if parent.isValid() else len(self._titles)

    def data(self, place: Place, role: int = Qt.ItemDataRole.DisplayRole) -> object:
        if role in (Qt.ItemDataRole.DisplayRole, Qt.ItemDataRole.ToolTipRole) and place.isValid():
            return self._rows[place.row()][place.column()]
        return None

    def headerData(
        self, section: int, orientation: Qt.Orientation, role: int = Qt.ItemDataRole.DisplayRole
    ) -> object:
        if role == Qt.ItemDataRole.DisplayRole and orientation == Qt.Orientation.Horizontal:
            return self._titles[section]
        return None


class RecordList(QTableView):
    """A list of records with wrapped texts; Enter or a click opens one.

    Signals:
        opened: a record's id.
    """

    opened = Signal(str)

    def __init__(
        self,
        model: ListModel,
        widths: Sequence[int],
        name: str,
        look: Appearance,
        extras: Sequence[int] = (),
    ) -> None:
        """Make the list; the columns `extras` are left out where there is little room."""
        super().__init__()
        self._extras = tuple(extras)
        self._model = model
        self._widths = tuple(widths)
        self._appearance = look
        self.setModel(model)
        self.setAccessibleName(name)
        self.setWordWrap(True)
        self.setObjectName("records")
        self.setShowGrid(False)
        self.setTabKeyNavigation(False)
        self.setSelectionBehavior(QAbstractItemView.SelectionBehavior.SelectRows)
        self.setSelectionMode(QAbstractItemView.SelectionMode.SingleSelection)
        self.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
        # Only where the longest words of all columns are wider than the window.
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAsNeeded)
        self.setHorizontalScrollMode(QAbstractItemView.ScrollMode.ScrollPerPixel)
        self.setVerticalScrollMode(QAbstractItemView.ScrollMode.ScrollPerPixel)
        self.verticalHeader().hide()
        header = self.horizontalHeader()
        header.setDefaultAlignment(Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter)
        header.setSectionResizeMode(QHeaderView.ResizeMode.Fixed)
        header.setHighlightSections(False)
        self.clicked.connect(lambda place: self._open(place))
        self._fitted_to = -1
        model.modelReset.connect(self._filled)

    def _filled(self) -> None:
        self._fitted_to = -1
        self._fit_if_seen()

    def _fit_if_seen(self) -> None:
        """Measure the texts once there is somebody to see them, and once for each width."""
        if self.isVisible() and self.viewport().width() != self._fitted_to:
            self.fit()

    def fit(self) -> None:
        """Share the width among the columns, and give each row the height of its texts."""
        px = self._appearance.px
        room = self._fitted_to = self.viewport().width()
        left_out = self._extras if room < px(_NARROW) else ()
        shares = [0 if n in left_out else width for n, width in enumerate(self._widths)]
        least = [0 if n in left_out else self._least(n) for n in range(len(shares))]
        widths = _shared(room, shares, least)
        for column, width in enumerate(widths):
            self.setColumnHidden(column, column in left_out)
            self.setColumnWidth(column, width)
        metrics = self.fontMetrics()
        boxes = [QRect(0, 0, max(width - px(22), 20), 10_000) for width in widths]
        for row_number, texts in enumerate(self._model.texts()):
            heights = [px(30)]
            for column, text in enumerate(texts):
                if column not in left_out:
                    heights.append(metrics.boundingRect(boxes[column], _WRAPPED, text).height())
            self.setRowHeight(row_number, max(heights) + px(14))

    def _least(self, column: int) -> int:
        """Return how wide a column must be for the longest word in it."""
        metrics, px = self.fontMetrics(), self._appearance.px
        bold = QFont(self.font())
        bold.setBold(True)
        title = str(self._model.headerData(column, Qt.Orientation.Horizontal) or "")
        words = {word for texts in self._model.texts() for word in texts[column].split()}
        widths = [metrics.horizontalAdvance(word) for word in words]
        return max(QFontMetrics(bold).horizontalAdvance(title), *widths, 0) + px(24)

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self._fit_if_seen()

    def showEvent(self, event: QShowEvent) -> None:
        super().showEvent(event)
        self._fit_if_seen()

    def _open(self, place: QModelIndex) -> None:
        if place.isValid():
            self.opened.emit(self._model.ids[place.row()])

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter, Qt.Key.Key_Space):
            self._open(self.currentIndex())
        else:
            super().keyPressEvent(event)


def _shared(room: int, shares: Sequence[int], least: Sequence[int]) -> list[int]:
    """Share a width by shares, but give nobody less than its least; the others give way."""
    widths = [room * share // sum(shares) for share in shares]
    for place, width in enumerate(least):
        widths[place] = max(widths[place], width)
    over = sum(widths) - room
    for place in sorted(range(len(widths)), key=lambda n: least[n] - widths[n]):
        if over <= 0:
            break
        given = min(over, widths[place] - least[place])
        widths[place] -= given
        over -= given
    return widths


Act = Callable[[], object]
