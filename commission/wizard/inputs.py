"""Where a person types or chooses: one widget for each kind of answer, all with one face.

Each tells what is typed (`typed`) and what is to be stored (`entered`: Enter, Tab, leaving).
None of them refuses a key; what cannot be meant is said beside the field.
"""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import QEvent, QObject, QSize, Qt, Signal
from PySide6.QtGui import (
    QColor,
    QDragEnterEvent,
    QFocusEvent,
    QFont,
    QFontMetrics,
    QKeyEvent,
    QKeySequence,
    QPainter,
    QPaintEvent,
    QPen,
    QTextCursor,
)
from PySide6.QtWidgets import (
    QGroupBox,
    QHBoxLayout,
    QLineEdit,
    QPlainTextEdit,
    QPushButton,
    QVBoxLayout,
    QWidget,
)

from commission.definitions.model import ITEM_CHOICES, YES_NO_CHOICES, Field, Kind
from commission.language import spoken
from commission.wizard.appearance import Appearance, set_role
from commission.wizard.choice import Choice

NOT_APPLICABLE = "n/a"


class Input(QWidget):
    """What all inputs have: a text, an error tone, an accessible name.

    Signals:
        typed: the text while it is typed.
        entered: a text to be stored.
        left_unchanged: nothing was typed.
        confirmed: Enter on the text that is stored already.
        wants_next: the person is done here.
    """

    typed = Signal(str)
    entered = Signal(str)
    left_unchanged = Signal()
    confirmed = Signal(str)
    wants_next = Signal()

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._stored = ""

    def text(self) -> str:
        """Return the text as it stands."""
        raise NotImplementedError

    def show_text(self, text: str) -> None:
        """Show a stored text, without telling anybody."""
        raise NotImplementedError

    def set_stored(self, text: str) -> None:
        """Show what is stored, unless a person is in the middle of typing something else."""
        busy = self.editor().hasFocus() and self.text() != self._stored
        self._stored = text
        if not busy:
            self.show_text(text)

    def editor(self) -> QWidget:
        """Return the widget that takes the focus."""
        raise NotImplementedError

    def set_tone(self, tone: str) -> None:
        """Show the error tone ("error"), or none ("")."""
        set_role(self.editor(), tone, "tone")

    def set_name(self, name: str, description: str) -> None:
        """Name the input for assistive technology."""
        self.editor().setAccessibleName(name)
        self.editor().setAccessibleDescription(description)

    def _leave(self) -> None:
        if self.text().strip() != self._stored.strip():
            self._stored = self.text()
            self.entered.emit(self.text())
        else:
            self.left_unchanged.emit()

    def _leave_by_enter(self) -> None:
        """Enter says the same again on purpose; Tab only passes by."""
        same = self.text().strip() == self._stored.strip()
        self._leave()
        if same:
            self.confirmed.emit(self.text())

    def mark_not_applicable(self, reason: str) -> None:
        """Begin "n/a", with a reason proposed and selected."""
        line = self.line_of()
        if line is None:
            return
        line.setFocus(Qt.FocusReason.ShortcutFocusReason)
        begin = f"{NOT_APPLICABLE} "
        line.setText(f"{begin}{reason}")
        line.setSelection(len(begin), len(reason))
        line.setModified(True)
        self.typed.emit(self.text())

    def line_of(self) -> QLineEdit | None:
        """Return the line in which a person types, or None where there is no single one."""
        return None

    def reject_text(self) -> None:
        """Keep the refused text, so that leaving the field again tries it again."""
        self._stored = "\0"


class _Line(QLineEdit):
    """A line that selects all when reached by a key, and takes Escape as "as it was"."""

    left = Signal()
    escaped = Signal()

    def focusInEvent(self, event: QFocusEvent) -> None:
        super().focusInEvent(event)
        if event.reason() != Qt.FocusReason.MouseFocusReason:
            self.selectAll()

    def focusOutEvent(self, event: QFocusEvent) -> None:
        super().focusOutEvent(event)
        if event.reason() != Qt.FocusReason.PopupFocusReason:
            self.left.emit()
            self.setModified(False)
            self.setCursorPosition(0)  # the beginning of a long text is what tells

    def dragEnterEvent(self, event: QDragEnterEvent) -> None:
        _only_words(event, super().dragEnterEvent)

    def event(self, event: QEvent) -> bool:
        if _leaves_undo_to_window(event, self.isModified()):
            event.ignore()
            return False
        return super().event(event)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() == Qt.Key.Key_Escape:
            self.escaped.emit()
            return
        super().keyPressEvent(event)


def _leaves_undo_to_window(event: QEvent, is_typing: bool) -> bool:
    """Return whether Ctrl+Z or Ctrl+Y means the last entry, not the last letter."""
    if is_typing or event.type() != QEvent.Type.ShortcutOverride:
        return False
    assert isinstance(event, QKeyEvent)
    keys = QKeySequence.StandardKey
    return event.matches(keys.Undo) or event.matches(keys.Redo)


def _only_words(event: QDragEnterEvent, take: Callable[[QDragEnterEvent], None]) -> None:
    """Leave files to the page: they are photos, and their names no reading."""
    if event.mimeData().hasUrls():
        event.ignore()
    else:
        take(event)


class LineInput(Input):
    """Number, text, date or time: one line."""

    def __init__(self, field: Field, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.line = _Line(self)
        layout = _flush(QHBoxLayout(self))
        layout.addWidget(self.line)
        self.setFocusProxy(self.line)
        hint = {Kind.DATE: "2026-03-31", Kind.TIME: "14:05"}.get(field.kind, "")
        self.line.setPlaceholderText(hint)
        self.line.textEdited.connect(self.typed)
        self.line.left.connect(self._leave)
        self.line.escaped.connect(self._as_it_was)
        self.line.returnPressed.connect(self._enter)

    def _enter(self) -> None:
        self._leave_by_enter()
        self.line.setModified(False)
        self.wants_next.emit()

    def _as_it_was(self) -> None:
        if self._stored != "\0":
            self.line.setText(self._stored)
        self.line.selectAll()
        self.typed.emit(self.line.text())

    def text(self) -> str:
        return self.line.text()

    def line_of(self) -> QLineEdit:
        return self.line

    def show_text(self, text: str) -> None:
        if self.line.text() != text:
            self.line.setText(text)
            if not self.line.hasFocus():
                self.line.setCursorPosition(0)

    def editor(self) -> QWidget:
        return self.line


class _Note(QPlainTextEdit):
    """Several lines; it leaves dropped files to the page."""

    left = Signal()

    def dragEnterEvent(self, event: QDragEnterEvent) -> None:
        _only_words(event, super().dragEnterEvent)

    def event(self, event: QEvent) -> bool:
        if _leaves_undo_to_window(event, self.document().isModified()):
            event.ignore()
            return False
        return super().event(event)

    def focusOutEvent(self, event: QFocusEvent) -> None:
        super().focusOutEvent(event)
        self.left.emit()
        self.document().setModified(False)


class NoteInput(Input):
    """Several lines of text. Tab leaves it."""

    def __init__(self, appearance: Appearance, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.note = _Note(self)
        self.note.setTabChangesFocus(True)
        self.note.setFixedHeight(appearance.px(84))
        layout = _flush(QHBoxLayout(self))
        layout.addWidget(self.note)
        self.setFocusProxy(self.note)
        self.note.textChanged.connect(lambda: self.typed.emit(self.text()))
        self.note.left.connect(self._leave)

    def text(self) -> str:
        return self.note.toPlainText()

    def mark_not_applicable(self, reason: str) -> None:
        self.note.setFocus(Qt.FocusReason.ShortcutFocusReason)
        self.note.setPlainText(f"{NOT_APPLICABLE} {reason}")
        self.note.moveCursor(QTextCursor.MoveOperation.End)

    def show_text(self, text: str) -> None:
        if self.note.toPlainText() != text:
            self.note.blockSignals(True)
            self.note.setPlainText(text)
            self.note.blockSignals(False)

    def editor(self) -> QWidget:
        return self.note


class ChoiceInput(Input):
    """One of several words: open the list (Down, F4), or type the beginning of a word."""

    def __init__(self, field: Field, appearance: Appearance, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.box = Choice(appearance, self)
        line = _Line(self.box)
        self.box.let_type(line)
        self._words = {spoken(choice): choice for choice in field.choices}
        self.box.addItems(list(self._words))
        self.box.setCurrentIndex(-1)
        layout = _flush(QHBoxLayout(self))
        layout.addWidget(self.box)
        self.setFocusProxy(self.box)
        line.textEdited.connect(self.typed)
        line.left.connect(self._leave)
        line.returnPressed.connect(self._enter)
        line.escaped.connect(self._as_it_was)
        self.box.activated.connect(lambda _place: self._leave())

    def _enter(self) -> None:
        self._leave_by_enter()
        self.wants_next.emit()

    def _as_it_was(self) -> None:
        self.show_text("" if self._stored == "\0" else self._stored)
        self.typed.emit(self.text())

    def line_of(self) -> QLineEdit:
        return self.box.line

    def text(self) -> str:
        """Return the choice as it is stored, whichever language it is shown in."""
        typed = self.box.currentText()
        return self._words.get(typed, typed)

    def show_text(self, text: str) -> None:
        shown = next((words for words, choice in self._words.items() if choice == text), text)
        self.box.blockSignals(True)
        self.box.setCurrentIndex(self.box.findText(shown))
        self.box.setEditText(shown)
        self.box.blockSignals(False)

    def editor(self) -> QWidget:
        return self.box


class Group(QGroupBox):
    """What belongs together and takes the focus as one; its keys go to what holds it.

    Qt tells screen readers of a group box as of a group, and of a widget of our own as of a
    plain area.

    Signals:
        entered: it has the focus now.
    """

    entered = Signal()

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)

    def focusInEvent(self, event: QFocusEvent) -> None:
        super().focusInEvent(event)
        self.entered.emit()


class _Segment(QPushButton):
    """One answer; its word is bold once it is chosen, and has the room for it from the first."""

    def __init__(self, word: str, appearance: Appearance, parent: QWidget) -> None:
        super().__init__(word, parent)
        self._appearance = appearance

    def sizeHint(self) -> QSize:
        # The style sheet has a least width of its own, and takes away one that is set here.
        bold = QFont(self.font())
        bold.setPixelSize(self._appearance.px(14))
        bold.setBold(True)
        words = QFontMetrics(bold).horizontalAdvance(self.text()) + self._appearance.px(34)
        return super().sizeHint().expandedTo(QSize(max(self._appearance.px(64), words), 0))

    def minimumSizeHint(self) -> QSize:
        return self.sizeHint()


class SegmentInput(Input):
    """Done / not done / n/a, or yes / no / n/a: one key each, and a finger's width each."""

    def __init__(self, field: Field, appearance: Appearance, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._label = field.label
        self._value = ""
        self._keys = choice_keys(field)
        self.buttons: dict[str, QPushButton] = {}
        column = _flush(QVBoxLayout(self))
        self.group = Group(self)
        row = _flush(QHBoxLayout(self.group))
        for letter, word in (*self._keys.items(), ("A", NOT_APPLICABLE)):
            row.addWidget(self._button(letter, word, appearance))
        line = _flush(QHBoxLayout())
        line.addWidget(self.group)
        line.addStretch(1)
        column.addLayout(line)
        self.reason = _Line(self)
        self.reason.setPlaceholderText(spoken("Reason, then Enter"))
        self.reason.setAccessibleName(spoken("{label}: why it does not apply", label=field.label))
        self.reason.hide()
        column.addWidget(self.reason)
        self.setFocusProxy(self.group)
        self._frame = FocusFrame(self.group, appearance)
        self.reason.returnPressed.connect(self._enter_reason)
        self.reason.left.connect(self._leave)
        self.reason.textEdited.connect(lambda text: self.typed.emit(f"n/a {text}"))
        self.reason.escaped.connect(self._give_up_reason)

    def _button(self, letter: str, word: str, appearance: Appearance) -> QPushButton:
        shown = spoken(word) if word != NOT_APPLICABLE else word
        button = _Segment(shown, appearance, self)
        button.setCheckable(True)
        button.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        set_role(button, "segment", "kind")
        button.setToolTip(spoken("{word} (key {letter})", word=shown, letter=letter))
        button.setAccessibleName(f"{self._label}: {shown}")
        button.clicked.connect(lambda _=False, word=word: self._choose(word))
        self.buttons[word] = button
        return button

    def keys_in_words(self) -> str:
        """Return which key gives which answer."""
        told = [f"{letter}: {spoken(word)}" for letter, word in self._keys.items()]
        return ", ".join([*told, f"A: {NOT_APPLICABLE}"])

    def _choose(self, word: str) -> None:
        if word == NOT_APPLICABLE:
            self._mark(word)
            self.reason.show()
            self.reason.setFocus(Qt.FocusReason.ShortcutFocusReason)
            return
        self._value = word
        self.reason.hide()
        self._mark(word)
        self._leave()

    def mark_not_applicable(self, reason: str) -> None:
        self._choose(NOT_APPLICABLE)
        self.reason.setText(reason)
        self.reason.selectAll()
        self.typed.emit(self.text())

    def _give_up_reason(self) -> None:
        self.show_text(self._stored)
        self.setFocus(Qt.FocusReason.OtherFocusReason)

    def _enter_reason(self) -> None:
        self._leave_by_enter()
        self.wants_next.emit()

    def _mark(self, word: str) -> None:
        for name, button in self.buttons.items():
            button.setChecked(name == word)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        letter = event.text().upper()
        plain = not event.modifiers() & ~Qt.KeyboardModifier.ShiftModifier
        if plain and letter in self._keys:
            self._choose(self._keys[letter])
            self.wants_next.emit()
        elif plain and letter == "A":
            self._choose(NOT_APPLICABLE)
        elif event.key() in (Qt.Key.Key_Left, Qt.Key.Key_Right):
            self._step(1 if event.key() == Qt.Key.Key_Right else -1)
        elif event.key() in (Qt.Key.Key_Delete, Qt.Key.Key_Backspace):
            self._value = ""
            self._mark("")
            self.reason.hide()
            self._leave()
        elif event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            self.confirmed.emit(self.text())
            self.wants_next.emit()
        else:
            super().keyPressEvent(event)

    def _step(self, by: int) -> None:
        words = list(self._keys.values())
        place = words.index(self._value) + by if self._value in words else 0
        self._choose(words[max(0, min(place, len(words) - 1))])

    def text(self) -> str:
        if self.buttons[NOT_APPLICABLE].isChecked():
            return f"n/a {self.reason.text()}".strip()
        return self._value

    def show_text(self, text: str) -> None:
        is_reason = text.startswith(NOT_APPLICABLE)
        self._value = "" if is_reason else text
        self._mark(NOT_APPLICABLE if is_reason else text)
        self.reason.setVisible(is_reason)
        self.reason.setText(text.removeprefix(NOT_APPLICABLE).strip() if is_reason else "")

    def set_stored(self, text: str) -> None:
        busy = self.reason.hasFocus() and self.text() != self._stored
        self._stored = text
        if not busy:
            self.show_text(text)

    def editor(self) -> QWidget:
        return self.group

    def set_tone(self, tone: str) -> None:
        set_role(self.reason, tone, "tone")


class FocusFrame(QWidget):
    """A frame drawn over a widget of ours that has the focus, as inputs have theirs."""

    def __init__(
        self, target: QWidget, appearance: Appearance, over: QWidget | None = None
    ) -> None:
        """Frame `target`, or in its stead the area `over` in which it is scrolled."""
        super().__init__(over or target)
        self._target = target
        self._over = over or target
        self._appearance = appearance
        self.setAttribute(Qt.WidgetAttribute.WA_TransparentForMouseEvents)
        for watched in {target, self._over}:
            watched.installEventFilter(self)

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        if event.type() == QEvent.Type.Resize and watched is self._over:
            self.setGeometry(self._over.rect())
            self.raise_()
        elif event.type() in (QEvent.Type.FocusIn, QEvent.Type.FocusOut):
            self.update()
        return super().eventFilter(watched, event)

    def paintEvent(self, event: QPaintEvent) -> None:
        if self._target.hasFocus():
            painter = QPainter(self)
            width = self._appearance.px(3)
            painter.setPen(QPen(QColor(self._appearance.palette["focus"]), width))
            edge = width // 2
            painter.drawRect(self.rect().adjusted(edge, edge, -edge - 1, -edge - 1))
            painter.end()


def choice_keys(field: Field) -> dict[str, str]:
    """Return the key of each of two words: its first letter in the language spoken here.

    "n/a" is A in every language. Other kinds of field have no such keys.
    """
    words = {Kind.ITEM: ITEM_CHOICES, Kind.YES_NO: YES_NO_CHOICES}.get(field.kind, ())
    return {spoken(word)[:1].upper(): word for word in words}


def input_for(field: Field, appearance: Appearance, parent: QWidget | None = None) -> Input:
    """Return the input that a field's kind asks for."""
    if field.kind in (Kind.ITEM, Kind.YES_NO):
        return SegmentInput(field, appearance, parent)
    if field.kind is Kind.CHOICE:
        return ChoiceInput(field, appearance, parent)
    if field.kind is Kind.NOTE:
        return NoteInput(appearance, parent)
    return LineInput(field, parent)


def _flush(layout):
    layout.setContentsMargins(0, 0, 0, 0)
    layout.setSpacing(0 if isinstance(layout, QHBoxLayout) else 4)
    return layout
