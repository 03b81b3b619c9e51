"""Who records and witnesses, and what is measured with, calibration past due said in words."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QVBoxLayout, QWidget

from commission.errors import CommissionError
from commission.language import spoken, to_say
from commission.project import Instrument, Person
from commission.project.registers import ACCURACY_TERMS
from commission.validation.entry import parse_number
from commission.wizard.appearance import Appearance
from commission.wizard.document import Document
from commission.wizard.instruments import past_due
from commission.wizard.parts import button, label, wrapping_row
from commission.wizard.record_form import Asked, ListModel, RecordForm, RecordList
from commission.wizard.room import Beside

_PERSON = (
    Asked("name", to_say("Name")),
    Asked("company", to_say("Company")),
    Asked("role", to_say("Role"), to_say("Commissioning agent, technician ...")),
    Asked("licence", to_say("Licence")),
    Asked("email", to_say("E-mail")),
)
_INSTRUMENT = (
    Asked("kind", to_say("Kind"), to_say("multimeter, gauge, thermometer ...")),
    Asked("make", to_say("Make")),
    Asked("model", to_say("Model")),
    Asked("serial", to_say("Serial no.")),
    Asked("range_text", to_say("Range"), "0 to 800 psig"),
    Asked("unit", to_say("Unit"), to_say("of span and accuracy, such as psig")),
    Asked("span", to_say("Span"), to_say("number, in that unit")),
    Asked("percent_of_reading", to_say("Accuracy, % of reading")),
    Asked("percent_of_span", to_say("Accuracy, % of span")),
    Asked("plus_minus", to_say("Accuracy, plus or minus"), to_say("in that unit")),
    Asked(
        "repeatability",
        to_say("Repeatability, plus or minus"),
        to_say("in that unit; anew for each reading"),
    ),
    Asked("resolution", to_say("Resolution"), to_say("smallest step shown, in that unit")),
    Asked("calibrated_on", to_say("Calibrated on"), "2026-03-31"),
    Asked("calibration_due", to_say("Due"), "2027-03-31"),
)
_LEAST_LIST = 100
_NUMBERS = ACCURACY_TERMS


class PeopleAndInstruments(QWidget):
    """Two lists, one form for each."""

    def __init__(self, document: Document, appearance: Appearance) -> None:
        super().__init__()
        self.setObjectName("ground")
        self._document = document
        self._appearance = appearance
        self._person = ""
        self._instrument = ""
        px = appearance.px
        self.people = ListModel(
            tuple(spoken(title) for title in ("Name", "Company", "Role", "Licence"))
        )
        self.people_list = RecordList(
            self.people, (28, 28, 24, 20), spoken("People"), appearance, (3,)
        )
        self.instruments = ListModel(
            (
                spoken("Instrument"),
                spoken("Serial no."),
                spoken("Accuracy"),
                spoken("Calibration due"),
            )
        )
        self.instrument_list = RecordList(
            self.instruments, (28, 18, 26, 28), spoken("Instruments"), appearance
        )
        self.person_form = RecordForm(_PERSON, appearance)
        self.instrument_form = RecordForm(_INSTRUMENT, appearance)
        for form in (self.person_form, self.instrument_form):
            form.given_up.connect(form.hide)
            form.typed.connect(document.typing)
            form.hide()
        self.person_form.kept.connect(self._keep_person)
        self.instrument_form.kept.connect(self._keep_instrument)
        self.people_list.opened.connect(self._open_person)
        self.instrument_list.opened.connect(self._open_instrument)
        self._lay_out(px)
        self.refresh()

    def _lay_out(self, px) -> None:
        layout = QVBoxLayout(self)
        layout.setContentsMargins(px(20), px(14), px(20), px(14))
        layout.setSpacing(px(10))
        left = QWidget()
        lists = QVBoxLayout(left)
        lists.setContentsMargins(0, 0, 0, 0)
        lists.setSpacing(px(8))
        for title, word, ask, shown, share in (
            (spoken("People"), spoken("Add a person"), self.ask_person, self.people_list, 2),
            (
                spoken("Instruments"),
                spoken("Add an instrument"),
                self.ask_instrument,
                self.instrument_list,
                3,
            ),
        ):
            head = wrapping_row(px(10))
            head.addWidget(label(title, "title"), 1)
            head.addWidget(button(word, ask))
            lists.addLayout(head)
            shown.setMinimumHeight(px(_LEAST_LIST))
            lists.addWidget(shown, share)
        forms = (self.person_form, self.instrument_form)
        layout.addWidget(Beside(left, forms, 440, self._appearance), 1)

    def refresh(self) -> None:
        """Show both lists as they are now."""
        project = self._document.session.project
        self.people.fill(
            [(one.id, (one.name, one.company, one.role, one.licence)) for one in project.people()]
        )
        self.instruments.fill([(one.id, _instrument_texts(one)) for one in project.instruments()])

    def half_typed(self) -> dict[str, str]:
        """Return what stands in a form and is not kept yet."""
        for form, record in (
            (self.person_form, self._person),
            (self.instrument_form, self._instrument),
        ):
            typed = form.half_typed()
            if typed:
                return {**typed, "record": record}
        return {}

    def put_half_typed(self, typed: Mapping[str, str]) -> None:
        """Open the form of a person or an instrument with what was typed once."""
        project, record = self._document.session.project, typed.get("record", "")
        if "serial" not in typed:
            form = self.person_form
            known = {one.id for one in project.people()}
            self._open_person(record) if record in known else self.ask_person()
        else:
            form = self.instrument_form
            known = {one.id for one in project.instruments()}
            self._open_instrument(record) if record in known else self.ask_instrument()
        form.put_half_typed(typed)

    # -- people --------------------------------------------------------------------

    def ask_person(self) -> None:
        """Ask for a new person."""
        self._person = ""
        self.instrument_form.hide()
        self.person_form.show_record(spoken("New person"), {}, spoken("Add"))
        self.person_form.start()

    def _open_person(self, record: str) -> None:
        people = self._document.session.project.people()
        person = next(one for one in people if one.id == record)
        self._person = record
        self.instrument_form.hide()
        values = {asked.name: getattr(person, asked.name) for asked in _PERSON}
        self.person_form.show_record(spoken("Person"), values, spoken("Keep the changes"))
        self.person_form.start()

    def _keep_person(self, values: dict[str, str]) -> None:
        project, edited = self._document.session.project, self._person
        made: list[Person] = []

        def act() -> None:
            if edited:
                project.update_person(edited, **values)
            else:
                made.append(project.add_person(**values))

        refusal = self._document.attempt(act, spoken("{name} is kept.", name=values["name"]))
        self.person_form.refuse(refusal)
        if not refusal:
            if made and not self._document.session.person_id:
                self._document.choose_person(made[0].id)
            self._finish(self.person_form, self.people_list)

    # -- instruments -----------------------------------------------------------------

    def ask_instrument(self) -> None:
        """Ask for a new instrument."""
        self._instrument = ""
        self.person_form.hide()
        self.instrument_form.show_record(spoken("New instrument"), {}, spoken("Add"))
        self.instrument_form.start()

    def _open_instrument(self, record: str) -> None:
        instruments = self._document.session.project.instruments()
        instrument = next(one for one in instruments if one.id == record)
        self._instrument = record
        self.person_form.hide()
        values = {asked.name: _as_text(getattr(instrument, asked.name)) for asked in _INSTRUMENT}
        self.instrument_form.show_record(spoken("Instrument"), values, spoken("Keep the changes"))
        self.instrument_form.start()

    def _keep_instrument(self, values: dict[str, str]) -> None:
        project, edited = self._document.session.project, self._instrument

        def act() -> None:
            content = _numbers_read(values)
            if edited:
                project.update_instrument(edited, **content)
            else:
                project.add_instrument(str(content.pop("kind")), **content)

        refusal = self._document.attempt(act, spoken("The {kind} is kept.", kind=values["kind"]))
        self.instrument_form.refuse(refusal)
        if not refusal:
            self._finish(self.instrument_form, self.instrument_list)

    def _finish(self, form: RecordForm, shown: RecordList) -> None:
        form.hide()
        self._document.refresh()
        self.refresh()
        shown.setFocus(Qt.FocusReason.OtherFocusReason)


def _as_text(value: object) -> str:
    if isinstance(value, float):
        return f"{value:g}" if value else ""
    return "" if value is None else str(value)


def _numbers_read(values: dict[str, str]) -> dict[str, Any]:
    """Return the values with the accuracy terms as numbers.

    Raises:
        CommissionError: A term is not a number.
    """
    content: dict[str, Any] = dict(values)
    for asked in _INSTRUMENT:
        if asked.name not in _NUMBERS:
            continue
        text = values[asked.name]
        nothing: float | None = None if asked.name == "span" else 0.0
        try:
            content[asked.name] = parse_number(text)[0] if text else nothing
        except CommissionError as error:
            raise error.at(asked.words) from None
    return content


def _instrument_texts(one: Instrument) -> tuple[str, ...]:
    name = " ".join(filter(None, (spoken(one.kind), one.make, one.model)))
    due = past_due(one)
    return (
        name,
        one.serial,
        _accuracy(one),
        f"{one.calibration_due} {due and spoken('(past due)')}",
    )


def _accuracy(one: Instrument) -> str:
    terms = [
        spoken("{percent} % of reading", percent=f"{one.percent_of_reading:g}")
        if one.percent_of_reading
        else "",
        spoken("{percent} % of span", percent=f"{one.percent_of_span:g}")
        if one.percent_of_span
        else "",
        f"{one.plus_minus:g} {one.unit}".strip() if one.plus_minus else "",
    ]
    said = " + ".join(term for term in terms if term)
    shared = f"± ({said})" if " + " in said else f"± {said}" if said else ""
    noise = [
        spoken("repeats ± {number}", number=f"{one.repeatability:g} {one.unit}".strip())
        if one.repeatability
        else "",
        spoken("step {number}", number=f"{one.resolution:g} {one.unit}".strip())
        if one.resolution
        else "",
    ]
    return ", ".join(filter(None, (shared, *noise))) or spoken("not stated")
