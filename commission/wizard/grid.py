"""A table of repeats with what belongs to it: the current cell in full, and what is wrong."""

from __future__ import annotations

from PySide6.QtCore import QRect, Qt, QTimer, Signal
from PySide6.QtWidgets import QFrame, QVBoxLayout, QWidget

from commission.definitions.model import Check, Field, Key, Quantity
from commission.language import spoken, to_say
from commission.validation.verdict import Outcome
from commission.wizard.appearance import Appearance
from commission.wizard.document import Document
from commission.wizard.grid_model import GridModel
from commission.wizard.grid_view import GridView
from commission.wizard.instruments import InstrumentPicker
from commission.wizard.note_line import NoteLine
from commission.wizard.page_layout import Crossed, Shared
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

_HINT = to_say(
    "Type to fill a cell. Enter goes down, Tab goes right, and a block copied from a "
    "spreadsheet can be pasted."
)
_MOST_LISTED = 12


class CellDetail(QFrame):
    """The current cell in full: how to read it, its instrument, work, verdict and limit."""

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
        self.views: list[VerdictView] = []
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
    def _accent(self) -> str:
        return self._appearance.palette["accent"]

    def _want_photo(self) -> None:
        self.photo_wanted.emit(self._key)

    def toggle_history(self) -> None:
        """Show or hide what was read in the current cell before; it stays so for the next."""
        opened = self.history is None and isinstance(self._entry(), Field)
        self.history_button.setChecked(opened)
        self._show_history()
        if self.history is not None:
            bring_into_view(self.history)

    def start(self) -> None:
        """Put the focus on what can be chosen for the current cell: instrument, limits, history."""
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
            self._rebuild()
        self.refresh()

    def _rebuild(self) -> None:
        clear(self._inner)
        clear(self._note)
        self.noted = None
        self.views = []
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
        for check_key in self._check_keys(key):
            view = VerdictView(document, unit_id, check_key, self._appearance)
            view.deficiency_wanted.connect(self.deficiency_wanted)
            self.views.append(view)
            self._inner.addWidget(view)
        self._inner.addWidget(self.passes)
        before = self.after
        for made in filter(None, (self.picker, *self.views)):
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
        for view in self.views:
            view.refresh()
        if self.passes is not None:
            self.passes.refresh([view.key for view in self.views])

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
        if self._answer.property("role") != role:
            self._answer.setProperty("role", role)
            self._answer.style().unpolish(self._answer)
            self._answer.style().polish(self._answer)


class GridBlock(QFrame):
    """One table of a page.

    Signals:
        deficiency_wanted: unit id and check key.
        photo_wanted: the key of a field that a photo is asked of.
        wants_next: the person is done here.
    """

    deficiency_wanted = Signal(str, object)
    photo_wanted = Signal(object)
    wants_next = Signal()

    def __init__(
        self, document: Document, unit_id: str, block: Shared | Crossed, appearance: Appearance
    ) -> None:
        super().__init__()
        self.setProperty("role", "entry")
        self._appearance = appearance
        self.model = GridModel(document, unit_id, block)
        title = unit = ""
        if isinstance(block, Crossed):
            title = block.entry.label
            unit = self.model.results.shown_unit(block.entry.name)
        self.view = GridView(self.model, appearance, title or spoken("Readings by member"))
        self.detail = CellDetail(self.model, appearance, self.view)
        self.said = label("", "warning")
        self.said.hide()
        self._problems = column(appearance.px(2))
        self._listed: tuple[Key, ...] = ()
        self._hint_said = False
        self._problem_views: list[VerdictView] = []
        self._made_problems: dict[Key, VerdictView] = {}
        self._problems_are_due = False
        self._problems_due = QTimer(self)
        self._problems_due.setSingleShot(True)
        self._problems_due.setInterval(0)
        self._problems_due.timeout.connect(self._list_problems)
        document.closing.connect(self._problems_due.stop)
        document.rested.connect(self._rested)
        self._lay_out(f"{title}, {unit}" if unit else title)
        self.view.moved.connect(self._moved)
        self.view.opened.connect(self._opened)
        self.view.below_wanted.connect(self.detail.start)
        self.view.ended.connect(self.wants_next)
        self.view.said.connect(self._say)
        self.detail.deficiency_wanted.connect(self.deficiency_wanted)
        self.detail.photo_wanted.connect(self.photo_wanted)
        self.refresh()

    def _lay_out(self, title: str) -> None:
        px = self._appearance.px
        layout = QVBoxLayout(self)
        layout.setContentsMargins(px(12), px(10), px(12), px(12))
        layout.setSpacing(px(8))
        if title:
            layout.addWidget(label(title, "heading"))
        layout.addWidget(self.view)
        layout.addWidget(self.said)
        layout.addWidget(self.detail)
        layout.addLayout(self._problems)

    def _moved(self, key: Key | None) -> None:
        if key is not None and not self._hint_said:
            self._hint_said = True
            self.model.document.said.emit(spoken(_HINT), False)
        self.detail.show_key(key)
        self._list_problems()

    def _opened(self, key: Key) -> None:
        """Enter on a check: edit its limit below."""
        self.detail.show_key(key)
        for view in self.detail.views:
            if view.key == key and view.change.isVisibleTo(self):
                view.edit_limit()

    def _say(self, sentences: list[str]) -> None:
        self.said.setText("\n".join(sentences))
        self.said.setVisible(bool(sentences))

    def is_asked(self) -> bool:
        """Return whether the configuration has any cell of this table."""
        return bool(self.model.shape.rows and self.model.shape.columns)

    def refresh(self, changed: frozenset[Key] | None = None, *, stored: bool = True) -> None:
        """Show what is known now.

        Args:
            changed: the keys that were computed anew; None means that anything may differ.
            stored: False where what has changed was only typed so far.
        """
        if changed is None:
            self.reshape()
            self.view.fit()
        own = self.model.own(changed) if changed is not None else None
        self.model.changed(own)
        if own:
            self.view.hold(own)
        if stored or changed is None:
            self.detail.refresh()
        else:
            self.detail.show_typed(changed)
        if changed is None:
            self._list_problems()
        elif self.model.document.is_typing:  # the cell says it at once, the sentences below later
            self._problems_are_due = True
        else:
            self._problems_due.start()

    def _rested(self) -> None:
        """Say below what waited while a number was typed."""
        for view in (*self.detail.views, *self._problem_views):
            view.offer_due()
        if self._problems_are_due:
            self._list_problems()

    def reshape(self) -> None:
        """Take on the lines and members that are asked now."""
        current = self.view.current_key()
        if self.model.reshape():
            if current is not None:
                self.view.setCurrentIndex(self.model.place_of(current))
            self._list_problems()
        reveal(self, self.is_asked())
        if self._problems_due.isActive():  # something was stored
            self._list_problems()

    def _list_problems(self) -> None:
        """Say in words what the table can only show as a sign: everything that is wrong."""
        self._problems_due.stop()
        self._problems_are_due = False
        wrong = (Outcome.FAIL, Outcome.INCONCLUSIVE)
        found = tuple(
            Key(verdict.check.name, verdict.index)
            for verdict in self.model.verdicts()
            if verdict.outcome in wrong
        )[:_MOST_LISTED]
        if found != self._listed:
            self._listed = found
            self._problem_views = [self._problem(key) for key in found]
            for view in self._made_problems.values():
                if view.key not in found:
                    view.hide()
        shown_above = {view.key for view in self.detail.views}
        for view in self._problem_views:
            if view.key in shown_above:
                view.hide()
            else:
                view.refresh()

    def _problem(self, key: Key) -> VerdictView:
        """Return the view of a verdict; kept, since half a number often fails and the whole not."""
        if key in self._made_problems:
            view = self._made_problems[key]
            self._problems.removeWidget(view)  # to stand in the order of the list
            self._problems.addWidget(view)
            return view
        document, unit_id = self.model.document, self.model.unit_id
        view = VerdictView(document, unit_id, key, self._appearance, with_member=True)
        view.deficiency_wanted.connect(self.deficiency_wanted)
        self._problems.addWidget(view)
        self._made_problems[key] = view
        return view

    def focus_key(self, key: Key) -> bool:
        """Make the cell of a key current and focused; return whether it is here."""
        place = self.model.place_of(key)
        if not place.isValid():
            return False
        self.view.setFocus(Qt.FocusReason.OtherFocusReason)
        self.view.setCurrentIndex(place)
        return True

    def begin(self) -> None:
        """Come to the first field."""
        self.view.setFocus(Qt.FocusReason.OtherFocusReason)
        self.view.first_place(anew=True)

    def has_unread(self) -> bool:
        """Return whether a reading that is asked is not there."""
        model = self.model
        return any(
            isinstance(entry := model.entry(key), Field)
            and entry.required
            and model.results.relevant(*key)
            and not model.cell(key).text
            for keys in model.shape.keys
            for key in keys
        )

    def current_rect(self) -> QRect:
        """Return where the current cell is, in the table's own pixels."""
        return self.view.visualRect(self.view.currentIndex())

    def input_widget(self) -> QWidget:
        """Return what takes the focus."""
        return self.view

    def mark_not_applicable(self) -> None:
        """Begin "n/a" in the current cell."""
        self.view.mark_not_applicable()

    def write_note(self) -> None:
        """Begin to type a note on the current cell's reading."""
        self.detail.write_note()

    def toggle_help(self) -> None:
        """How to read stands below the table already; what was read before is added to it."""
        self.detail.toggle_history()
