"""The current cell of a table in full: how to read it, its instrument, work, verdict and limit."""

from __future__ import annotations

from PySide6.QtCore import Qt, QTimer, Signal
from PySide6.QtWidgets import QFrame, QVBoxLayout, QWidget

from commission.definitions.model import Check, Field, Key, Quantity
from commission.language import spoken
from commission.wizard.appearance import Appearance, set_role
from commission.wizard.grid_model import GridModel
from commission.wizard.instruments import InstrumentPicker
from commission.wizard.note_line import NoteLine
from commission.wizard.parts import (
    bring_into_view,
    button,
    clear,
    column,
    label,
    next_in_focus,
    reveal,
    stretch_last,
    wrapping_row,
)
from commission.wizard.passes import PassesLine
from commission.wizard.reading_history import HistoryView
from commission.wizard.value_words import value_words, work_words
from commission.wizard.verdict_view import VerdictView


class CellDetail(QFrame):
    """The current cell in full, a round of the loop after it became the current one.

    A hand that runs down a column does not wait for what stands below it; whoever asks for the
    verdicts (`views`) gets those of the current cell.
    """

    deficiency_wanted = Signal(str, object)
    photo_wanted = Signal(object)

    def __init__(self, model: GridModel, appearance: Appearance, after: QWidget) -> None:
        """Make it below the table `after`, from which Tab comes here."""
        super().__init__()
        self.after = after
        self.setProperty("role", "nested")
        self._model = model
        self._appearance = appearance
        self._key: Key | None = None
        self._views: list[VerdictView] = []
        self._is_due = False
        self._due_soon = QTimer(self)
        self._due_soon.setSingleShot(True)
        self._due_soon.setInterval(0)
        self._due_soon.timeout.connect(self.catch_up)
        model.document.closing.connect(self._due_soon.stop)
        self.picker: InstrumentPicker | None = None
        self.passes: PassesLine | None = None
        px = appearance.px
        self._column = QVBoxLayout(self)
        self._column.setContentsMargins(px(12), px(8), px(12), px(8))
        self._column.setSpacing(px(4))
        self._title = label("", "heading")
        self._answer = label("")
        self._value = label("", "value")
        self._more = label("", "work")
        self._how = label("", "muted")
        self._due = label("", "warning")
        for part in (self._title, self._answer, self._value, self._more, self._how, self._due):
            self._column.addWidget(part)
            part.hide()
        self._title.show()
        self.hide()
        self._inner = column(px(4))
        self._column.addLayout(self._inner)
        self._offer(px)

    def _offer(self, px) -> None:
        """Make what is offered below: history, note, photo."""
        self.history: HistoryView | None = None
        self.history_button = button(spoken("History"), self.toggle_history, "quiet")
        self.history_button.setCheckable(True)
        self.history_button.setToolTip(spoken("What was read before (F1)"))
        self.photo_button = button(
            spoken("Photo"), self._want_photo, "quiet", "photo", self._accent
        )
        self.note_button = button(spoken("Note"), self.write_note, "quiet")
        self.note_button.setToolTip(spoken("Write a note on this reading (Ctrl+M)"))
        self.noted: NoteLine | None = None
        self._note = column()
        self._column.addLayout(self._note)
        tools = wrapping_row(px(8))
        tools.addWidget(self.history_button)
        tools.addWidget(self.note_button)
        tools.addWidget(self.photo_button)
        self._column.addLayout(stretch_last(tools))
        self._past = column()
        self._column.addLayout(self._past)

    @property
    def views(self) -> list[VerdictView]:
        """The verdicts on the current cell."""
        self.catch_up()
        return self._views

    @property
    def _accent(self) -> str:
        return self._appearance.palette["accent"]

    def _want_photo(self) -> None:
        self.photo_wanted.emit(self._key)

    def toggle_history(self) -> None:
        """Show or hide what was read in the current cell before; it stays so for the next."""
        self.catch_up()
        opened = self.history is None and isinstance(self._entry(), Field)
        self.history_button.setChecked(opened)
        self._show_history()
        if self.history is not None:
            bring_into_view(self.history)

    def start(self) -> None:
        """Put the focus on what can be chosen for the current cell: instrument, limits, history."""
        self.catch_up()
        items = [self._inner.itemAt(place) for place in range(self._inner.count())]
        inner = [
            item.widget()
            for item in items
            if item is not None and not isinstance(item.widget(), PassesLine)
        ]
        offered = [one.change if isinstance(one, VerdictView) else one for one in inner]
        for widget in (*offered, self.history_button):
            if widget is not None and widget.isVisible() and widget.isEnabled():
                widget.setFocus(Qt.FocusReason.ShortcutFocusReason)
                return

    def write_note(self) -> None:
        """Begin to type a note on the current cell's reading."""
        self.catch_up()
        if isinstance(self._entry(), Field):
            self._note_line().edit()

    def _note_line(self) -> NoteLine:
        assert self._key is not None
        if self.noted is None:
            document, unit_id = self._model.document, self._model.unit_id
            self.noted = NoteLine(document, unit_id, self._key, self._appearance)
            self.noted.left.connect(lambda: self.after.setFocus(Qt.FocusReason.OtherFocusReason))
            self._note.addWidget(self.noted)
        return self.noted

    def _show_note(self, key: Key) -> None:
        has_one = bool(self._model.document.note(self._model.unit_id, key))
        if self.noted is not None or has_one:
            self._note_line().refresh()

    def _entry(self) -> object:
        return self._model.entry(self._key) if self._key is not None else None

    def _show_history(self) -> None:
        clear(self._past)
        self.history = None
        if self._key is not None and self.history_button.isChecked():
            document, unit_id = self._model.document, self._model.unit_id
            if isinstance(self._entry(), Field):
                self.history = HistoryView(document, unit_id, self._key, self._appearance)
                self._past.addWidget(self.history)
                self.history.stand_after(self.history_button)

    def show_key(self, key: Key | None) -> None:
        """Show another cell, or the same one as it is now."""
        if key != self._key:
            self._key = key
            self._is_due = True
            self._due_soon.start()
        else:
            self.refresh()

    def catch_up(self) -> None:
        """Show the current cell now."""
        if self._is_due:
            self._is_due = False
            self._due_soon.stop()
            self._rebuild()
            self.refresh()

    def _rebuild(self) -> None:
        clear(self._inner)
        clear(self._note)
        self.noted = None
        self._views = []
        self.picker = self.passes = None
        key = self._key
        if key is None:
            return
        entry = self._model.entry(key)
        document, unit_id = self._model.document, self._model.unit_id
        self._show_history()
        name = self._model.results.label(key)
        self.history_button.setVisible(isinstance(entry, Field))
        self.history_button.setAccessibleName(spoken("What was read before: {name}", name=name))
        self.note_button.setVisible(isinstance(entry, Field))
        self.note_button.setAccessibleName(spoken("Write a note: {name}", name=name))
        self.photo_button.setVisible(isinstance(entry, Field) and entry.photo)
        self.photo_button.setAccessibleName(spoken("Add a photo: {name}", name=name))
        self.passes = PassesLine(document, unit_id, key, self._appearance)
        if isinstance(entry, Field) and entry.instrument and not entry.choices:
            picker = self.picker = InstrumentPicker(
                document, entry.instrument, entry.label, self._appearance, self
            )
            picker.setMaximumWidth(self._appearance.px(300))
            picker.refill(document.instrument_id(unit_id, key))
            picker.picked.connect(self._picked)
            self._inner.addWidget(picker)
            picker.show()  # now, not a round later: F4 may lead to it with the next key
        for check_key in self._check_keys(key):
            view = VerdictView(document, unit_id, check_key, self._appearance)
            view.deficiency_wanted.connect(self.deficiency_wanted)
            self._views.append(view)
            self._inner.addWidget(view)
        self._inner.addWidget(self.passes)
        before = self.after
        for made in filter(None, (self.picker, *self._views)):
            before = next_in_focus(before, made)

    def _check_keys(self, key: Key) -> list[Key]:
        entry = self._model.entry(key)
        if isinstance(entry, Check):
            return [key]
        verdicts = self._model.results.verdicts_on(*key)
        return [Key(verdict.check.name, verdict.index) for verdict in verdicts]

    def _picked(self, instrument_id: str) -> None:
        """Name the instrument of this reading and of its like in the table."""
        if self._key is not None:
            members = self._model.results.asked_members(self._key.name)
            keys = [Key(self._key.name, index) for index in members]
            self._model.document.choose_instrument(self._model.unit_id, keys, instrument_id)

    def refresh(self) -> None:
        """Show what is known of the current cell now."""
        if self._is_due:
            return  # all of it is shown then
        key = self._key
        reveal(self, key is not None)
        if key is None:
            return
        self._title.setText(self._model.results.label(key))
        entry = self._model.entry(key)
        self._say_answer(key)
        is_quantity = isinstance(entry, Quantity)
        self._value.setVisible(is_quantity)
        self._more.setVisible(is_quantity)
        self._say_value(key)
        how = entry.how if isinstance(entry, Field) else ""
        self._how.setText(how)
        self._how.setVisible(bool(how))
        reading = self._model.results.reading(*key)
        read_at = reading.at if reading is not None and not reading.is_unread else ""
        due = self.picker.past_due_words(read_at) if self.picker is not None else ""
        self._due.setText(due)
        self._due.setVisible(bool(due))
        if self.history is not None:
            self.history.refresh()
        self._show_note(key)
        for view in self._views:
            view.refresh()
        if self.passes is not None:
            self.passes.refresh([view.key for view in self._views])

    def show_typed(self, changed: frozenset[Key]) -> None:
        """Show what follows from a reading that is typed and not stored yet."""
        if self._key in changed:
            self._say_value(self._key)
        for view in self.views:
            if view.key in changed:
                view.refresh()

    def _say_value(self, key: Key) -> None:
        entry = self._model.entry(key)
        if isinstance(entry, Quantity):
            text, role = value_words(self._model.results, key)
            self._value.setText(text)
            self._value.setProperty("role", role)
            self._more.setText(work_words(self._model.results, key, entry))

    def _say_answer(self, key: Key) -> None:
        refusal = self._model.refusals.sentences.get(key, "")
        answer = self._model.answers.get(key)
        said = refusal or (
            " ".join(filter(None, (answer.remark, answer.warning))) if answer else ""
        )
        role = "error" if refusal else "warning" if answer and answer.warning else "remark"
        self._answer.setText(said)
        self._answer.setVisible(bool(said))
        set_role(self._answer, role)
