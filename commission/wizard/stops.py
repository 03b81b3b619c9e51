"""Stops in the window: why a page is closed, and the one way past: a name and a reason."""

from __future__ import annotations

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QFrame, QGridLayout, QLineEdit, QPushButton, QVBoxLayout, QWidget

from commission.definitions.model import Key, Section
from commission.language import spoken, spoken_count, to_say
from commission.validation.verdict import Outcome, Verdict
from commission.wizard.appearance import Appearance
from commission.wizard.document import Document
from commission.wizard.parts import (
    SignLabel,
    bring_into_view,
    button,
    clear,
    column,
    label,
    reveal,
    stretch_last,
    wrapping_row,
)
from commission.wizard.sign import STOP_SIGN
from commission.wizard.states import going_on

_MOST_LISTED = 5
_ANSWER = to_say("marked not applicable, but nobody is named: answer again, on '{page}'.")
_WHO_AND_ANSWER = to_say(
    "marked not applicable, but nobody is named: choose who you are at the top and answer "
    "again, on '{page}'."
)
_ENOUGH = to_say("Enter on the same answer is enough.")


class OverrideForm(QFrame):
    """Who goes on in spite of one stop, and why; typed in place and recorded.

    Signals:
        done: recorded, or given up.
    """

    done = Signal()

    def __init__(
        self, document: Document, unit_id: str, verdict: Verdict, appearance: Appearance
    ) -> None:
        super().__init__()
        self.setProperty("role", "card")
        self._document = document
        self._unit_id = unit_id
        self._verdict = verdict
        px = appearance.px
        self.name = QLineEdit(_present_person(document))
        self.reason = QLineEdit()
        self.refusal = label("", "error")
        self.refusal.hide()
        self.record = button(spoken("Record and go on"), self._record, "primary")
        grid = QGridLayout(self)
        grid.setContentsMargins(px(12), px(10), px(12), px(10))
        grid.setVerticalSpacing(px(6))
        grid.setColumnStretch(1, 1)
        caution = spoken(
            "This stands on the first page of the turnover package. It does not make the work "
            "safe: the unit's literature, local codes and licensed practice decide."
        )
        grid.addWidget(label(caution, "muted"), 0, 0, 1, 2)
        for place, (words, line) in enumerate(
            ((spoken("Name"), self.name), (spoken("Reason"), self.reason)), start=1
        ):
            named = label(words)
            named.setBuddy(line)
            line.setAccessibleName(
                spoken(
                    "{words}, to go on in spite of {label}", words=words, label=verdict.check.label
                )
            )
            line.returnPressed.connect(self._record)
            grid.addWidget(named, place, 0)
            grid.addWidget(line, place, 1)
        grid.addWidget(self.refusal, 3, 0, 1, 2)
        buttons = wrapping_row(px(8))
        buttons.addWidget(self.record)
        buttons.addWidget(button(spoken("Do not go on"), self.done.emit, "quiet"))
        grid.addLayout(stretch_last(buttons), 4, 0, 1, 2)

    def _record(self) -> None:
        refusal = self._document.override_stop(
            self._unit_id, self._verdict, self.name.text(), self.reason.text()
        )
        self.refusal.setText(refusal)
        self.refusal.setVisible(bool(refusal))
        if not refusal:
            self.done.emit()

    def keyPressEvent(self, event) -> None:
        if event.key() == Qt.Key.Key_Escape:
            self.done.emit()
        else:
            super().keyPressEvent(event)


class GuardNotice(QFrame):
    """The stops that close a page. Hidden while there are none.

    Signals:
        go_wanted: the key of the check that has to be settled first.
    """

    go_wanted = Signal(object)

    def __init__(
        self, document: Document, unit_id: str, section: Section, appearance: Appearance
    ) -> None:
        super().__init__()
        self.setProperty("role", "stop_frame")
        self._document = document
        self._unit_id = unit_id
        self._section = section
        self._appearance = appearance
        self._shown: tuple[object, ...] = ()
        self._all_shown = False
        self._ways: list[QPushButton] = []
        self.form: OverrideForm | None = None
        self.form_key: Key | None = None
        px = appearance.px
        layout = QVBoxLayout(self)
        layout.setContentsMargins(px(16), px(12), px(16), px(12))
        layout.setSpacing(px(6))
        head = wrapping_row(px(10))
        sign = SignLabel(appearance, 22)
        sign.show_sign(STOP_SIGN)
        head.addWidget(sign, 0, Qt.AlignmentFlag.AlignTop)
        self.title = label("", "heading")
        head.addWidget(self.title, 1)
        layout.addLayout(head)
        self._lines = column(px(4))
        layout.addLayout(self._lines)
        self.hide()

    def blocking(self) -> list[Verdict]:
        """Return the stops that close the page now."""
        return self._document.results(self._unit_id).blocking(self._section)

    def refresh(self) -> None:
        """Show the stops as they stand."""
        blocking = self.blocking()
        named = bool(self._document.session.person_id)
        shown = (named, *((v.check.name, v.index, v.outcome, v.sentence) for v in blocking))
        reveal(self, bool(blocking))
        if shown == self._shown:
            return
        self._shown = shown
        self._rebuild(blocking)

    def _rebuild(self, blocking: list[Verdict]) -> None:
        self.form = None
        self._ways = []
        clear(self._lines)
        count = len(blocking)
        self.title.setText(
            spoken_count(
                "One thing comes before this page. Until then it is closed.",
                "{count} things come before this page. Until then it is closed.",
                count,
            )
        )
        listed = blocking if self._all_shown else blocking[:_MOST_LISTED]
        for verdict in listed:
            self._lines.addWidget(self._line(verdict))
        if len(listed) < count:
            more = button(
                spoken("Show the other {count}", count=count - len(listed)), self._show_all, "quiet"
            )
            self._lines.addWidget(more, 0, Qt.AlignmentFlag.AlignLeft)

    def focus_first(self) -> None:
        """Put the focus on the way to the first stop."""
        if self._ways:
            self._ways[0].setFocus(Qt.FocusReason.OtherFocusReason)

    def _show_all(self) -> None:
        self._all_shown = True
        self._rebuild(self.blocking())

    def _line(self, verdict: Verdict) -> QWidget:
        px = self._appearance.px
        key = Key(verdict.check.name, verdict.index)
        results = self._document.results(self._unit_id)
        page = self._document.form.section_by_name[verdict.check.section]
        line = QWidget()
        layout = QVBoxLayout(line)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.setSpacing(px(4))
        name = results.label(key)
        top = wrapping_row(px(8))
        why = _why_closed(verdict, page.title, bool(self._document.session.person_id))
        top.addWidget(label(f"{name}: {why}"), 1)
        go = button(spoken("Go there"), lambda: self.go_wanted.emit(key))
        go.setAccessibleName(spoken("Go there: {name}", name=name))
        self._ways.append(go)
        past = button(spoken("Go on in spite of this"), lambda: self._ask(verdict, layout), "quiet")
        past.setAccessibleName(spoken("Go on in spite of this: {name}", name=name))
        top.addWidget(go, 0, Qt.AlignmentFlag.AlignTop)
        top.addWidget(past, 0, Qt.AlignmentFlag.AlignTop)
        layout.addLayout(top)
        return line

    def _ask(self, verdict: Verdict, layout: QVBoxLayout) -> None:
        key = Key(verdict.check.name, verdict.index)
        was_open = self.form is not None and self.form_key == key
        self._close_form()
        if was_open:
            return
        self.form, self.form_key = (
            OverrideForm(self._document, self._unit_id, verdict, self._appearance),
            key,
        )
        self.form.done.connect(self._close_form)
        layout.addWidget(self.form)
        bring_into_view(self.form)
        empty = self.form.reason if self.form.name.text() else self.form.name
        empty.setFocus(Qt.FocusReason.OtherFocusReason)

    def _close_form(self) -> None:
        if self.form is not None:
            self.form.hide()
            self.form.deleteLater()
            self.form = None


class StopBanner(QFrame):
    """The failed stops of the page itself, in words. Hidden while there are none."""

    def __init__(
        self, document: Document, unit_id: str, section: Section, appearance: Appearance
    ) -> None:
        super().__init__()
        self.setProperty("role", "stop_frame")
        self._document = document
        self._unit_id = unit_id
        self._section = section
        px = appearance.px
        line = wrapping_row(px(10))
        sign = SignLabel(appearance, 22)
        sign.show_sign(STOP_SIGN)
        line.addWidget(sign, 0, Qt.AlignmentFlag.AlignTop)
        self.words = label("")
        line.addWidget(self.words, 1)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(px(16), px(12), px(16), px(12))
        layout.addLayout(line)
        self.hide()

    def refresh(self) -> None:
        """Show the stops as they stand."""
        results = self._document.results(self._unit_id)
        stops = [verdict for verdict in results.verdicts(self._section) if verdict.stops]
        reveal(self, bool(stops))
        if not stops:
            return
        lines = [spoken("Stop the work here until this is put right.")]
        for verdict in stops:
            name = results.label(Key(verdict.check.name, verdict.index))
            override = results.override_of(verdict)
            past = f" {going_on(override)}" if override else ""
            lines.append(f"{name}: {verdict.sentence}{past}")
        self.words.setText("\n".join(lines))


def _why_closed(verdict: Verdict, page: str, somebody_records: bool) -> str:
    """Return why a stop still closes a page, and what opens it."""
    if verdict.outcome in (Outcome.FAIL, Outcome.INCONCLUSIVE):
        return verdict.sentence
    if verdict.outcome is not Outcome.NOT_APPLICABLE:
        return spoken("not answered yet, on '{page}'", page=page)
    words = _ANSWER if somebody_records else _WHO_AND_ANSWER
    said = spoken(words, page=page)
    return said if verdict.index else f"{said} {spoken(_ENOUGH)}"


def _present_person(document: Document) -> str:
    session = document.session
    people = {person.id: person.name for person in session.project.people()}
    return people.get(session.person_id, "")
