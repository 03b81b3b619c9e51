"""One line of a page: a field with its input, a computed quantity, or a check alone."""

from __future__ import annotations

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QFont, QFontMetrics
from PySide6.QtWidgets import QFrame, QGridLayout, QLabel, QPushButton, QVBoxLayout, QWidget

from commission.definitions.model import Check, Field, Key, Kind
from commission.language import spoken, to_say
from commission.validation.results import UnitResults
from commission.validation.sentences import pass_words
from commission.wizard.appearance import Appearance, set_role
from commission.wizard.document import Document
from commission.wizard.inputs import SegmentInput, input_for
from commission.wizard.instruments import InstrumentPicker
from commission.wizard.note_line import NoteLine
from commission.wizard.parts import button, column, label, next_in_focus, reveal, wrapping_row
from commission.wizard.passes import PassesLine
from commission.wizard.reading_history import HistoryView
from commission.wizard.table_input import TableInput
from commission.wizard.verdict_view import VerdictView, is_answer_itself

LABEL_WIDTH = 208
WIDE_FROM = 740
"""From this width on (at 100 %), names, inputs and instruments stand side by side."""
_FIRST_VERDICT_ROW = 8  # below what is said of the entry itself
_TOLD = {
    to_say("How"): to_say("How to find this, and what was read before"),
    to_say("History"): to_say("What was read before"),
}
LEFT = Qt.AlignmentFlag.AlignVCenter | Qt.AlignmentFlag.AlignLeft
_TOP = Qt.AlignmentFlag.AlignTop | Qt.AlignmentFlag.AlignLeft
_WIDEST_CHOICE, _WIDEST_NARROW_CHOICE = 340, 290
_ANY_WIDTH = 16_777_215  # Qt's own largest
_WIDE = (Kind.TEXT, Kind.NOTE, Kind.TABLE)


class EntryRow(QFrame):
    """What all lines have: a document, a unit, one key, and verdicts below.

    Signals:
        deficiency_wanted: unit id and check key, from a failed verdict.
        wants_next: the person is done here.
        photo_wanted: the key of a field that a photo is asked of.
    """

    deficiency_wanted = Signal(str, object)
    photo_wanted = Signal(object)
    wants_next = Signal()

    def __init__(self, document: Document, unit_id: str, key: Key, appearance: Appearance) -> None:
        super().__init__()
        self.setProperty("role", "entry")
        self.document = document
        self.unit_id = unit_id
        self.key = key
        self.appearance = appearance
        self.verdicts: list[VerdictView] = []
        px = appearance.px
        self.named: QLabel | None = None
        self._is_narrow = False
        outer = QVBoxLayout(self)
        outer.setContentsMargins(px(12), px(8), px(12), px(8))
        outer.setSpacing(px(2))
        self._above = column()
        self.grid = QGridLayout()
        outer.addLayout(self._above)
        outer.addLayout(self.grid)
        self.grid.setHorizontalSpacing(px(10))
        self.grid.setVerticalSpacing(px(4))
        self.grid.setColumnMinimumWidth(0, px(LABEL_WIDTH))
        self.grid.setColumnStretch(4, 1)
        document.rested.connect(self._rested)

    def _rested(self) -> None:
        """Offer at the verdicts what waited while a number was typed."""
        for view in self.verdicts:
            view.offer_due()

    @property
    def results(self) -> UnitResults:
        """The unit's live results."""
        return self.document.results(self.unit_id)

    def is_asked(self) -> bool:
        """Return whether the configuration has this line."""
        exists = self.key.index in self.results.members(self.key.name)
        return exists and self.results.relevant(*self.key)

    def add_verdicts(self, checks: tuple[Check, ...], title: str) -> None:
        """Put the verdicts of these checks below."""
        for check in checks:
            view = VerdictView(
                self.document,
                self.unit_id,
                Key(check.name, self.key.index),
                self.appearance,
                named=check.label != title,
                sign_width=LABEL_WIDTH,
            )
            view.deficiency_wanted.connect(self.deficiency_wanted)
            self.verdicts.append(view)
            place = max(self.grid.rowCount(), _FIRST_VERDICT_ROW)
            self.grid.addWidget(view, place, 0, 1, 5)
        self.passes = PassesLine(self.document, self.unit_id, self.key, self.appearance)
        place = max(self.grid.rowCount(), _FIRST_VERDICT_ROW)
        self.grid.addWidget(self.passes, place, 1, 1, 4)

    def refresh_passes(self) -> None:
        """Show as found, as left and retests beside one another."""
        self.passes.refresh([view.key for view in self.verdicts])

    def refresh(self, changed: frozenset[Key] | None = None, *, stored: bool = True) -> None:
        """Show what is known now.

        Args:
            changed: the keys that were computed anew; None means that anything may differ.
            stored: False where what has changed was only typed so far.
        """
        raise NotImplementedError

    def add_name(self, words: str, row_number: int, place: Qt.AlignmentFlag) -> QLabel:
        """Put the line's name at its left; where there is little room it stands above."""
        self.named = label(words)
        self.named.setFixedWidth(self.appearance.px(LABEL_WIDTH))
        self._name_place = (row_number, place)
        self.grid.addWidget(self.named, row_number, 0, place)
        return self.named

    def set_narrow(self, narrow: bool) -> None:
        """Stand in less width, or side by side again."""
        if narrow == self._is_narrow or self.named is None:
            return
        self._is_narrow = narrow
        width = self.appearance.px(LABEL_WIDTH)
        if narrow:
            self.grid.removeWidget(self.named)
            self.named.setMinimumWidth(1)
            self.named.setMaximumWidth(_ANY_WIDTH)
            self._above.addWidget(self.named)
        else:
            self._above.removeWidget(self.named)
            self.named.setFixedWidth(width)
            row_number, place = self._name_place
            self.grid.addWidget(self.named, row_number, 0, place)
        self.grid.setColumnMinimumWidth(0, 0 if narrow else width)
        for view in self.verdicts:
            view.set_narrow(narrow)

    def input_widget(self) -> QWidget | None:
        """Return what takes the focus when a person comes to this line."""
        return None

    def toggle_help(self) -> None:
        """Show or hide how it is measured, or how it was worked out."""

    def show_photo_count(self, count: int) -> None:
        """Say how many photos there are of it."""


class FieldRow(EntryRow):
    """A field: label, input, unit, how to measure, instrument; what is wrong with it below."""

    def __init__(
        self,
        document: Document,
        unit_id: str,
        key: Key,
        appearance: Appearance,
        checks: tuple[Check, ...] = (),
    ) -> None:
        super().__init__(document, unit_id, key, appearance)
        entry = document.session.plan.entries[key.name]
        assert isinstance(entry, Field)
        self.field = entry
        self.refused = False
        self.how: QLabel | None = None
        self.history: HistoryView | None = None
        self.noted: NoteLine | None = None
        self.photo_button: QPushButton | None = None
        self.picker: InstrumentPicker | None = None
        is_table = entry.kind is Kind.TABLE
        make = TableInput if is_table else input_for
        self.input = make(entry, appearance, self)
        self._build()
        self.add_verdicts(checks, entry.label)
        self.input.typed.connect(self._typed)
        self.input.entered.connect(self._entered)
        self.input.confirmed.connect(self._confirmed)
        self.input.left_unchanged.connect(self._left)
        self.input.wants_next.connect(self.wants_next)
        if isinstance(self.input, SegmentInput):
            self.input.group.entered.connect(self._tell_keys)
        self.refresh()

    def _build(self) -> None:
        px = self.appearance.px
        entry = self.field
        words = entry.label if entry.required else spoken("{label} (optional)", label=entry.label)
        top = _TOP if entry.kind is Kind.TABLE else LEFT
        self.add_name(words, 0, top).setBuddy(self.input.editor())
        unit = self.results.shown_unit(entry.name)
        self.input.set_name(entry.label, " ".join(filter(None, (unit, entry.how))))
        middle = LEFT
        is_number = entry.kind in (Kind.NUMBER, Kind.INTEGER, Kind.DATE, Kind.TIME)
        if is_number:
            self.input.setFixedWidth(px(124))
            self.grid.addWidget(self.input, 0, 1, middle)
            self.unit_label = label(unit, "unit", wraps=False)
            self.unit_label.setFixedWidth(px(60))
            self.grid.addWidget(self.unit_label, 0, 2, middle)
        elif entry.kind is Kind.CHOICE:
            font = QFont(self.font())
            font.setPixelSize(px(14))
            widths = QFontMetrics(font)
            longest = max(widths.horizontalAdvance(spoken(one)) for one in entry.choices)
            self._choice_width = max(px(194), longest + px(72))
            self.input.setFixedWidth(min(self._choice_width, px(_WIDEST_CHOICE)))
            self.grid.addWidget(self.input, 0, 1, 1, 2, middle)
        else:
            self.grid.addWidget(self.input, 0, 1, 1, 2)
            self.grid.setColumnStretch(1, 3 if entry.kind in _WIDE else 0)
            if entry.kind in _WIDE and not entry.photo:
                self.grid.setColumnStretch(4, 0)  # no tools there
        self._build_tools()
        if entry.kind is Kind.TABLE:
            self.grid.setAlignment(self.how_button, _TOP)
        self.message = label("")
        self.message.hide()
        self.grid.addWidget(self.message, 2, 1, 1, 4)
        self.due = label("", "warning")
        self.due.hide()
        self.grid.addWidget(self.due, 3, 1, 1, 4)
        if entry.caution:
            self.grid.addWidget(
                label(spoken("Caution: {caution}", caution=entry.caution), "warning"), 6, 1, 1, 4
            )

    def _build_tools(self) -> None:
        px = self.appearance.px
        told = "How" if self.field.how else "History"
        self.how_button = button(spoken(told), self.toggle_help, "quiet")
        self.how_button.setCheckable(True)
        font = QFont(self.font())
        font.setPixelSize(px(14))
        words = [QFontMetrics(font).horizontalAdvance(spoken(word)) for word in _TOLD]
        room = px(16) + 2 * self.appearance.line_width
        self.how_button.setFixedWidth(max(px(66), max(words) + room))
        self.how_button.setToolTip(f"{spoken(_TOLD[told])} (F1)")
        self.how_button.setAccessibleName(f"{spoken(_TOLD[told])}: {self.field.label}")
        kept = self.how_button.sizePolicy()
        kept.setRetainSizeWhenHidden(True)
        self.how_button.setSizePolicy(kept)
        self.grid.addWidget(self.how_button, 0, 3, LEFT)
        tools = self._tools = wrapping_row(px(8))
        self.tools = QWidget()
        self.tools.setLayout(tools)
        self.grid.addWidget(self.tools, 0, 4, LEFT)
        measured = self.field.kind in (Kind.NUMBER, Kind.INTEGER) and self.field.instrument
        if measured:
            self.picker = InstrumentPicker(
                self.document, self.field.instrument, self.field.label, self.appearance, self
            )
            self.picker.keep_between(px(140), px(176))
            self.picker.picked.connect(self._picked)
            self.document.instrument_chosen.connect(self._chosen_elsewhere)
            tools.addWidget(self.picker)
        if self.field.photo:
            ink = self.appearance.palette["accent"]
            self.photo_button = button(spoken("Photo"), self._want_photo, "quiet", "photo", ink)
            self.photo_button.setToolTip(spoken("Add a photo of this; Ctrl+Shift+V pastes one"))
            self.show_photo_count(0)
            tools.addWidget(self.photo_button)

    def set_narrow(self, narrow: bool) -> None:
        if narrow != self._is_narrow and self.field.kind is Kind.CHOICE:
            most = self.appearance.px(_WIDEST_NARROW_CHOICE if narrow else _WIDEST_CHOICE)
            self.input.setFixedWidth(min(self._choice_width, most))
        if narrow != self._is_narrow:
            kept = self.how_button.sizePolicy()
            kept.setRetainSizeWhenHidden(not narrow)
            self.how_button.setSizePolicy(kept)
            if narrow:
                self._tools.insertWidget(0, self.how_button)
                self.grid.addWidget(self.tools, 1, 0, 1, 5, LEFT)
            else:
                self._tools.removeWidget(self.how_button)
                top = _TOP if self.field.kind is Kind.TABLE else LEFT
                self.grid.addWidget(self.how_button, 0, 3, top)
                self.grid.addWidget(self.tools, 0, 4, LEFT)
        super().set_narrow(narrow)

    def _want_photo(self) -> None:
        self.photo_wanted.emit(self.key)

    def show_photo_count(self, count: int) -> None:
        if self.photo_button is not None:
            self.photo_button.setText(
                spoken(" Photo ({count})", count=count) if count else spoken(" Photo")
            )
            self.photo_button.setAccessibleName(
                spoken("Add a photo: {label}, {count} so far", label=self.field.label, count=count)
            )

    def toggle_help(self) -> None:
        """Show how it is read and what was read before, or hide both."""
        if self.history is None:
            if self.field.how:
                words = self.field.how
                if self.field.instrument:
                    words += "\n" + spoken(
                        "Instrument: {instrument}.", instrument=spoken(self.field.instrument)
                    )
                self.how = label(words, "how")
                self.how.hide()
                self.grid.addWidget(self.how, 4, 0, 1, 5)
            self.history = HistoryView(self.document, self.unit_id, self.key, self.appearance)
            self.history.hide()
            self.grid.addWidget(self.history, 5, 0, 1, 5)
            self.history.stand_after(self.how_button)
        shown = not self.history.isVisibleTo(self)
        if self.how is not None:
            self.how.setVisible(shown)
        self.history.refresh()
        self.history.setVisible(shown)
        self.how_button.setChecked(shown)
        self._show_how_button()
        self._note_line().refresh(offered=shown)

    def _note_line(self) -> NoteLine:
        """Return the note's line, made when there is a note or somebody asks for one."""
        if self.noted is None:
            self.noted = NoteLine(self.document, self.unit_id, self.key, self.appearance)
            self.noted.left.connect(self._note_left)
            self.grid.addWidget(self.noted, 7, 0, 1, 5)
            next_in_focus(self.how_button, self.noted)
        return self.noted

    def _note_left(self) -> None:
        self.input.editor().setFocus(Qt.FocusReason.OtherFocusReason)

    def write_note(self) -> None:
        """Begin to type a note on this reading."""
        self._note_line().edit()

    def _show_note(self) -> None:
        if self.noted is not None or self.document.note(self.unit_id, self.key):
            self._note_line().refresh(offered=self.how_button.isChecked())

    def _show_how_button(self) -> None:
        """Offer the history where there is one."""
        read = self.results.reading(*self.key) is not None
        opened = self.how_button.isChecked()
        self.how_button.setVisible(bool(self.field.how) or read or opened)
        if self.history is not None and opened:
            self.history.refresh()

    def _tell_keys(self) -> None:
        """Say once which keys answer, to a person who comes to such a field the first time."""
        if not self.document.keys_told and isinstance(self.input, SegmentInput):
            self.document.keys_told = True
            keys = self.input.keys_in_words()
            self.document.said.emit(spoken("Keys: {keys}. F1 tells how.", keys=keys), False)

    def _typed(self, text: str) -> None:
        answer = self.document.preview(self.unit_id, self.key, text)
        # Half a word is not wrong yet: refusals are said when the field is left.
        self._say("", answer.remark, answer.warning)

    def _entered(self, text: str) -> None:
        chosen = self.picker.currentData() if self.picker is not None else None
        self.refused = True  # until it is known: the text stays while results are told
        answer = self.document.enter(self.unit_id, self.key, text, chosen)
        self.refused = bool(answer.refusal)
        if self.refused:
            self.input.reject_text()
        else:
            self.input.set_stored(self.document.shown_text(self.unit_id, self.key))
        self._say(answer.refusal, answer.remark, answer.warning)

    def _confirmed(self, text: str) -> None:
        """Enter on an "n/a" that nobody stands for: it is answered again, by name."""
        if self.document.waives_for_nobody(self.unit_id, self.key):
            self._entered(text)

    def _left(self) -> None:
        if not self.refused:
            self.document.drop_preview(self.unit_id, self.key)

    def _picked(self, instrument_id: str) -> None:
        self.document.choose_instrument(self.unit_id, [self.key], instrument_id)

    def _chosen_elsewhere(self, kind: str) -> None:
        """Propose the instrument that was just named for another reading of its kind."""
        if self.picker is not None and kind == self.field.instrument:
            self.picker.refill(self.document.instrument_id(self.unit_id, self.key))
            self._say_past_due("")

    def _say(self, refusal: str, remark: str, warning: str) -> None:
        text = refusal or "  ".join(filter(None, (remark, warning)))
        role = "error" if refusal else "warning" if warning else "remark"
        self.input.set_tone("error" if refusal else "")
        if self.message.text() != text or self.message.property("role") != role:
            self.message.setText(text)
            set_role(self.message, role)
        self.message.setVisible(bool(text))

    def refresh(self, changed: frozenset[Key] | None = None, *, stored: bool = True) -> None:
        asked = self.is_asked()
        reveal(self, asked)
        if not asked:
            return
        if stored and (changed is None or self.key in changed):
            self._show_stored()
        for view in self.verdicts:
            if changed is None or view.key in changed or not view.isVisibleTo(self):
                view.refresh()
                self._hide_plain(view)
        if changed is None:
            self.refresh_passes()

    def _show_stored(self) -> None:
        if not self.refused:
            self.input.set_stored(self.document.shown_text(self.unit_id, self.key))
        if self.picker is not None:
            self.picker.refill(self.document.instrument_id(self.unit_id, self.key))
        self._show_how_button()
        self._show_note()
        if isinstance(self.input, TableInput):
            self.input.show_units(self.results.unit_system)
        if hasattr(self, "unit_label"):
            self.unit_label.setText(self.results.shown_unit(self.key.name))
        reading = self.results.reading(*self.key)
        other_pass = (
            reading is not None
            and not reading.is_unread
            and (reading.pass_name != self.document.session.pass_name)
        )
        shown = not self.message.isVisibleTo(self) or self.message.property("role") == "muted"
        self._say_past_due(reading.at if reading is not None and not reading.is_unread else "")
        if shown and other_pass and reading is not None:
            self.message.setText(spoken("Read {when}", when=pass_words(reading.pass_name)))
            set_role(self.message, "muted")
            self.message.show()
        elif self.message.property("role") == "muted":
            self.message.hide()

    def _say_past_due(self, read_at: str) -> None:
        """Say in words that the instrument of this reading is past its calibration date."""
        words = self.picker.past_due_words(read_at) if self.picker is not None else ""
        self.due.setText(words)
        self.due.setVisible(bool(words))

    def mark_not_applicable(self) -> None:
        """Begin "n/a" with the reason given last, selected, so that Enter is all that is left."""
        self.input.mark_not_applicable(self.document.last_reason)

    def _hide_plain(self, view: VerdictView) -> None:
        verdict = self.results.verdicts_on(*self.key) if view.isVisibleTo(self) else []
        own = [one for one in verdict if one.check.name == view.key.name]
        if own and is_answer_itself(own[0], self.field.kind):
            view.hide()

    def forget_refusal(self) -> None:
        """Show what is stored again, after an undo from elsewhere."""
        self.refused = False
        self._say("", "", "")
        self.input.show_text(self.document.shown_text(self.unit_id, self.key))
        self.input.set_stored(self.document.shown_text(self.unit_id, self.key))

    def input_widget(self) -> QWidget:
        return self.input.editor()

    def typed_text(self) -> str:
        """Return what stands in the field and is not stored; "" where nothing differs."""
        typed = self.input.text()
        stored = self.document.shown_text(self.unit_id, self.key)
        return typed if typed.strip() != stored.strip() else ""

    def put_typed(self, text: str) -> None:
        """Put a text into the field as if it had just been typed; nothing is stored."""
        self.input.show_text(text)
        self._typed(text)


def column_of(parent: QWidget) -> QVBoxLayout:
    """Return the layout in which rows stand without gaps."""
    layout = QVBoxLayout(parent)
    layout.setContentsMargins(0, 0, 0, 0)
    layout.setSpacing(0)
    return layout
