"""One line of a page: a field with its input, a computed quantity, or a check alone."""

from __future__ import annotations

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QKeyEvent, QMouseEvent
from PySide6.QtWidgets import QFrame, QGridLayout, QLabel, QPushButton, QVBoxLayout, QWidget

from commission.definitions.model import Check, Field, Key, Kind, Quantity
from commission.formula.evaluate import State
from commission.formula.figures import uncertainty_figure
from commission.language import spoken
from commission.units import convert
from commission.validation.results import UnitResults
from commission.wizard.appearance import Appearance
from commission.wizard.document import Document
from commission.wizard.inputs import input_for
from commission.wizard.instruments import InstrumentPicker
from commission.wizard.parts import button, label, reveal, row
from commission.wizard.reading_history import HistoryView
from commission.wizard.table_input import TableInput
from commission.wizard.verdict_view import VerdictView, is_answer_itself

_LABEL_WIDTH = 208
_FIRST_VERDICT_ROW = 5  # below what is said of the entry itself
_TOLD = {
    "How": "How to find this, and what was read before",
    "History": "What was read before",
}
_LEFT = Qt.AlignmentFlag.AlignVCenter | Qt.AlignmentFlag.AlignLeft
_TOP = Qt.AlignmentFlag.AlignTop | Qt.AlignmentFlag.AlignLeft
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
        self.grid = QGridLayout(self)
        self.grid.setContentsMargins(px(12), px(8), px(12), px(8))
        self.grid.setHorizontalSpacing(px(10))
        self.grid.setVerticalSpacing(px(4))
        self.grid.setColumnMinimumWidth(0, px(_LABEL_WIDTH))
        self.grid.setColumnStretch(4, 1)

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
                sign_width=_LABEL_WIDTH,
            )
            view.deficiency_wanted.connect(self.deficiency_wanted)
            self.verdicts.append(view)
            place = max(self.grid.rowCount(), _FIRST_VERDICT_ROW)
            self.grid.addWidget(view, place, 0, 1, 5)

    def refresh(self, changed: frozenset[Key] | None = None) -> None:
        """Show what is known now; `changed` None means that anything may have changed."""
        raise NotImplementedError

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
        self.refresh()

    def _build(self) -> None:
        px = self.appearance.px
        entry = self.field
        words = entry.label if entry.required else f"{entry.label} (optional)"
        named = label(words)
        named.setFixedWidth(px(_LABEL_WIDTH))
        named.setBuddy(self.input.editor())
        unit = self.results.shown_unit(entry.name)
        self.input.set_name(entry.label, " ".join(filter(None, (unit, entry.how))))
        middle = _LEFT
        self.grid.addWidget(named, 0, 0, middle)
        is_number = entry.kind in (Kind.NUMBER, Kind.INTEGER, Kind.DATE, Kind.TIME)
        if is_number:
            self.input.setFixedWidth(px(124))
            self.grid.addWidget(self.input, 0, 1, middle)
            self.unit_label = label(unit, "unit", wraps=False)
            self.unit_label.setFixedWidth(px(60))
            self.grid.addWidget(self.unit_label, 0, 2, middle)
        elif entry.kind is Kind.CHOICE:
            longest = max(self.fontMetrics().horizontalAdvance(one) for one in entry.choices)
            self.input.setFixedWidth(min(max(px(194), longest + px(64)), px(380)))
            self.grid.addWidget(self.input, 0, 1, 1, 2, middle)
        else:
            self.grid.addWidget(self.input, 0, 1, 1, 2)
            self.grid.setColumnStretch(1, 3 if entry.kind in _WIDE else 0)
        self._build_tools()
        if entry.kind is Kind.TABLE:
            for widget in (named, self.how_button):
                self.grid.setAlignment(widget, _TOP)
        self.message = label("")
        self.message.hide()
        self.grid.addWidget(self.message, 1, 1, 1, 4)
        if entry.caution:
            self.grid.addWidget(
                label(spoken("Caution: {caution}", caution=entry.caution), "warning"), 4, 1, 1, 4
            )

    def _build_tools(self) -> None:
        px = self.appearance.px
        told = "How" if self.field.how else "History"
        self.how_button = button(told, self.toggle_help, "quiet")
        self.how_button.setCheckable(True)
        self.how_button.setFixedWidth(px(66))
        self.how_button.setToolTip(f"{_TOLD[told]} (F1)")
        self.how_button.setAccessibleName(f"{_TOLD[told]}: {self.field.label}")
        kept = self.how_button.sizePolicy()
        kept.setRetainSizeWhenHidden(True)
        self.how_button.setSizePolicy(kept)
        self.grid.addWidget(self.how_button, 0, 3, _LEFT)
        tools = row(px(8))
        self.grid.addLayout(tools, 0, 4, _LEFT)
        measured = self.field.kind in (Kind.NUMBER, Kind.INTEGER) and self.field.instrument
        if measured:
            self.picker = InstrumentPicker(
                self.document, self.field.instrument, self.field.label, self.appearance, self
            )
            self.picker.setFixedWidth(px(176))
            self.picker.picked.connect(self._picked)
            self.document.instrument_chosen.connect(self._chosen_elsewhere)
            tools.addWidget(self.picker)
        if self.field.photo:
            ink = self.appearance.palette["accent"]
            self.photo_button = button(spoken("Photo"), self._want_photo, "quiet", "photo", ink)
            self.photo_button.setToolTip(spoken("Add a photo of this; Ctrl+Shift+V pastes one"))
            self.show_photo_count(0)
            tools.addWidget(self.photo_button)

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
                    words += f"\nInstrument: {self.field.instrument}."
                self.how = label(words, "how")
                self.how.hide()
                self.grid.addWidget(self.how, 2, 0, 1, 5)
            self.history = HistoryView(self.document, self.unit_id, self.key, self.appearance)
            self.history.hide()
            self.grid.addWidget(self.history, 3, 0, 1, 5)
        shown = not self.history.isVisibleTo(self)
        if self.how is not None:
            self.how.setVisible(shown)
        self.history.refresh()
        self.history.setVisible(shown)
        self.how_button.setChecked(shown)
        self._show_how_button()

    def _show_how_button(self) -> None:
        """Offer the history where there is one."""
        read = self.results.reading(*self.key) is not None
        opened = self.how_button.isChecked()
        self.how_button.setVisible(bool(self.field.how) or read or opened)
        if self.history is not None and opened:
            self.history.refresh()

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

    def _say(self, refusal: str, remark: str, warning: str) -> None:
        text = refusal or "  ".join(filter(None, (remark, warning)))
        role = "error" if refusal else "warning" if warning else "remark"
        self.input.set_tone("error" if refusal else "")
        if self.message.text() != text or self.message.property("role") != role:
            self.message.setText(text)
            _restyle(self.message, role)
        self.message.setVisible(bool(text))

    def refresh(self, changed: frozenset[Key] | None = None) -> None:
        asked = self.is_asked()
        reveal(self, asked)
        if not asked:
            return
        if changed is None or self.key in changed:
            self._show_stored()
        for view in self.verdicts:
            if changed is None or view.key in changed or not view.isVisibleTo(self):
                view.refresh()
                self._hide_plain(view)

    def _show_stored(self) -> None:
        if not self.refused:
            self.input.set_stored(self.document.shown_text(self.unit_id, self.key))
        if self.picker is not None:
            self.picker.refill(self.document.instrument_id(self.unit_id, self.key))
        self._show_how_button()
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
        if shown and other_pass and reading is not None:
            self.message.setText(spoken("Read {pass_name}", pass_name=reading.pass_name))
            _restyle(self.message, "muted")
            self.message.show()
        elif self.message.property("role") == "muted":
            self.message.hide()

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


class QuantityRow(EntryRow):
    """A computed value, live, with its uncertainty; its working on request."""

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
        assert isinstance(entry, Quantity)
        self.quantity = entry
        self.value = label("", "value")
        self.work_button = button(spoken("Work"), self.toggle_help, "quiet")
        self.work_button.setCheckable(True)
        self.work_button.setToolTip(spoken("How this was worked out (Space)"))
        self.work_button.setAccessibleName(
            spoken("How this was worked out: {label}", label=entry.label)
        )
        self.work: QLabel | None = None
        named = label(entry.label)
        named.setFixedWidth(appearance.px(_LABEL_WIDTH))
        self.grid.addWidget(named, 0, 0, _LEFT)
        self.grid.addWidget(self.value, 0, 1, 1, 2)
        self.grid.addWidget(self.work_button, 0, 3)
        self.grid.setColumnStretch(1, 3)
        self.grid.setColumnStretch(4, 0)
        self.add_verdicts(checks, entry.label)
        self.refresh()

    def toggle_help(self) -> None:
        if self.work is None:
            self.work = label("", "work")
            self.work.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
            self.work.hide()
            self.grid.addWidget(self.work, 1, 0, 1, 5)
        shown = not self.work.isVisibleTo(self)
        self.work.setVisible(shown)
        self.work_button.setChecked(shown)
        self._show_work()

    def _show_work(self) -> None:
        if self.work is not None and self.work.isVisibleTo(self):
            self.work.setText(work_words(self.results, self.key, self.quantity))

    def refresh(self, changed: frozenset[Key] | None = None) -> None:
        asked = self.is_asked()
        reveal(self, asked)
        if not asked:
            return
        if changed is None or self.key in changed:
            text, role = value_words(self.results, self.key)
            self.value.setText(text)
            self.value.setAccessibleName(f"{self.quantity.label}: {text}")
            _restyle(self.value, role)
            self._show_work()
        for view in self.verdicts:
            if changed is None or view.key in changed or not view.isVisibleTo(self):
                view.refresh()

    def mousePressEvent(self, event: QMouseEvent) -> None:
        if self.childAt(event.position().toPoint()) in (self.value, None):
            self.toggle_help()
        super().mousePressEvent(event)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            self.toggle_help()
        else:
            super().keyPressEvent(event)

    def input_widget(self) -> QWidget:
        return self.work_button


class CheckRow(EntryRow):
    """A check that judges something of another page."""

    def __init__(self, document: Document, unit_id: str, key: Key, appearance: Appearance) -> None:
        super().__init__(document, unit_id, key, appearance)
        check = document.check_of(key.name)
        named = label(check.label)
        named.setFixedWidth(appearance.px(_LABEL_WIDTH))
        self.grid.addWidget(named, 1, 0, Qt.AlignmentFlag.AlignTop)
        view = VerdictView(document, unit_id, key, appearance, named=False)
        view.deficiency_wanted.connect(self.deficiency_wanted)
        self.verdicts.append(view)
        self.grid.addWidget(view, 1, 1, 1, 4)
        self.refresh()

    def refresh(self, changed: frozenset[Key] | None = None) -> None:
        asked = self.is_asked()
        reveal(self, asked)
        for view in self.verdicts:
            if asked and (changed is None or view.key in changed):
                view.refresh()

    def input_widget(self) -> QWidget:
        return self.verdicts[0].change


def value_words(results: UnitResults, key: Key) -> tuple[str, str]:
    """Return a quantity's value with its uncertainty, and the role of its label."""
    value = results.value(*key)
    if value.state is State.MISSING:
        return (f"needs {value.reason}" if value.reason else "not known yet"), "muted"
    if value.state is State.NOT_APPLICABLE:
        return f"n/a: {value.reason}", "muted"
    if value.state is State.FAULT:
        return value.reason or "out of range", "error"
    text = results.shown(*key)
    return f"{text}{plus_minus(results, key)}", "value"


def plus_minus(results: UnitResults, key: Key) -> str:
    """Return "  ± 0.4 Δ°F" where an instrument is named, or ""."""
    expanded = results.expanded(*key)
    if not expanded:
        return ""
    unit = results.calculation.plan.entries[key.name].unit
    shown = results.shown_unit(key.name)
    # An uncertainty is a difference: °F to °C is a step of 5/9, without the offset.
    steps = {"°F": "Δ°F", "°C": "K"}
    scaled = convert(expanded, steps.get(unit, unit), steps.get(shown, shown)) if unit else expanded
    return f"  ± {uncertainty_figure(scaled)} {steps.get(shown, shown)}".rstrip()


def work_words(results: UnitResults, key: Key, quantity: Quantity) -> str:
    """Return the shown work, the source, and what dominates the uncertainty."""
    work = results.work(*key)
    lines = [str(work) if work is not None else "Not worked out yet."]
    if quantity.source:
        lines.append(f"Source: {quantity.source}")
    dominating = results.dominating_reading(*key)
    if dominating is not None:
        lines.append(f"Its uncertainty comes most from: {results.label(dominating)}")
    return "\n".join(lines)


def _restyle(widget: QWidget, role: str) -> None:
    if widget.property("role") != role:
        widget.setProperty("role", role)
        widget.style().unpolish(widget)
        widget.style().polish(widget)


def column_of(parent: QWidget) -> QVBoxLayout:
    """Return the layout in which rows stand without gaps."""
    layout = QVBoxLayout(parent)
    layout.setContentsMargins(0, 0, 0, 0)
    layout.setSpacing(0)
    return layout
