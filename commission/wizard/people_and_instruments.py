"""Who records and witnesses, and what is measured with, calibration past due said in words."""

from __future__ import annotations

from typing import Any

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QVBoxLayout, QWidget

from commission.errors import CommissionError
from commission.language import spoken
from commission.project import Instrument, Person
from commission.project.registers import ACCURACY_TERMS
from commission.validation.entry import parse_number
from commission.wizard.appearance import Appearance
from commission.wizard.document import Document
from commission.wizard.instruments import past_due
from commission.wizard.parts import button, label, row
from commission.wizard.record_form import Asked, ListModel, RecordForm, RecordList

_PERSON = (
    Asked("name", "Name"),
    Asked("company", "Company"),
    Asked("role", "Role", "Commissioning agent, technician ..."),
    Asked("licence", "Licence"),
    Asked("email", "E-mail"),
)
_INSTRUMENT = (
    Asked("kind", "Kind", "multimeter, gauge, thermometer ..."),
    Asked("make", "Make"),
    Asked("model", "Model"),
    Asked("serial", "Serial no."),
    Asked("range_text", "Range", "0 to 800 psig"),
    Asked("unit", "Unit", "of span and accuracy, such as psig"),
    Asked("span", "Span", "number, in that unit"),
    Asked("percent_of_reading", "Accuracy, % of reading"),
    Asked("percent_of_span", "Accuracy, % of span"),
    Asked("plus_minus", "Accuracy, plus or minus", "in that unit"),
    Asked("repeatability", "Repeatability, plus or minus", "in that unit; anew for each reading"),
    Asked("resolution", "Resolution", "smallest step shown, in that unit"),
    Asked("calibrated_on", "Calibrated on", "2026-03-31"),
    Asked("calibration_due", "Due", "2027-03-31"),
)
_NUMBERS = ACCURACY_TERMS


class PeopleAndInstruments(QWidget):
    """Two lists, one form for each."""

    def __init__(self, document: Document, appearance: Appearance) -> None:
        super().__init__()
        self.setObjectName("ground")
        self._document = document
        self._person = ""
        self._instrument = ""
        px = appearance.px
        self.people = ListModel(("Name", "Company", "Role", "Licence"))
        self.people_list = RecordList(self.people, (28, 28, 24, 20), "People", appearance, (3,))
        self.instruments = ListModel(("Instrument", "Serial no.", "Accuracy", "Calibration due"))
        self.instrument_list = RecordList(
            self.instruments, (28, 18, 26, 28), "Instruments", appearance
        )
        self.person_form = RecordForm(_PERSON, appearance)
        self.instrument_form = RecordForm(_INSTRUMENT, appearance)
        for form in (self.person_form, self.instrument_form):
            form.setFixedWidth(px(400))
            form.given_up.connect(form.hide)
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
        both = row(px(12))
        lists = QVBoxLayout()
        lists.setSpacing(px(8))
        for title, word, ask, shown, share in (
            ("People", "Add a person", self.ask_person, self.people_list, 2),
            ("Instruments", "Add an instrument", self.ask_instrument, self.instrument_list, 3),
        ):
            head = row(px(10))
            head.addWidget(label(title, "title"), 1)
            head.addWidget(button(word, ask))
            lists.addLayout(head)
            lists.addWidget(shown, share)
        both.addLayout(lists, 1)
        both.addWidget(self.person_form)
        both.addWidget(self.instrument_form)
        layout.addLayout(both, 1)

    def refresh(self) -> None:
        """Show both lists as they are now."""
        project = self._document.session.project
        self.people.fill(
            [(one.id, (one.name, one.company, one.role, one.licence)) for one in project.people()]
        )
        self.instruments.fill([(one.id, _instrument_texts(one)) for one in project.instruments()])

    # -- people --------------------------------------------------------------------

    def ask_person(self) -> None:
        """Ask for a new person."""
        self._person = ""
        self.instrument_form.hide()
        self.person_form.show_record("New person", {}, "Add")
        self.person_form.start()

    def _open_person(self, record: str) -> None:
        people = self._document.session.project.people()
        person = next(one for one in people if one.id == record)
        self._person = record
        self.instrument_form.hide()
        values = {asked.name: getattr(person, asked.name) for asked in _PERSON}
        self.person_form.show_record("Person", values, "Keep the changes")
        self.person_form.start()

    def _keep_person(self, values: dict[str, str]) -> None:
        project, edited = self._document.session.project, self._person
        made: list[Person] = []

        def act() -> None:
            if edited:
                project.update_person(edited, **values)
            else:
                made.append(project.add_person(**values))

        refusal = self._document.attempt(act, spoken("{values} is kept.", values=values["name"]))
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
        self.instrument_form.show_record("New instrument", {}, "Add")
        self.instrument_form.start()

    def _open_instrument(self, record: str) -> None:
        instruments = self._document.session.project.instruments()
        instrument = next(one for one in instruments if one.id == record)
        self._instrument = record
        self.person_form.hide()
        values = {asked.name: _as_text(getattr(instrument, asked.name)) for asked in _INSTRUMENT}
        self.instrument_form.show_record("Instrument", values, "Keep the changes")
        self.instrument_form.start()

    def _keep_instrument(self, values: dict[str, str]) -> None:
        project, edited = self._document.session.project, self._instrument

        def act() -> None:
            content = _numbers_read(values)
            if edited:
                project.update_instrument(edited, **content)
            else:
                project.add_instrument(str(content.pop("kind")), **content)

        refusal = self._document.attempt(
            act, spoken("The {values} is kept.", values=values["kind"])
        )
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
    name = " ".join(filter(None, (one.kind, one.make, one.model)))
    due = past_due(one)
    return (name, one.serial, _accuracy(one), f"{one.calibration_due} {due and '(past due)'}")


def _accuracy(one: Instrument) -> str:
    terms = [
        f"{one.percent_of_reading:g} % of reading" if one.percent_of_reading else "",
        f"{one.percent_of_span:g} % of span" if one.percent_of_span else "",
        f"{one.plus_minus:g} {one.unit}".strip() if one.plus_minus else "",
    ]
    said = " + ".join(term for term in terms if term)
    shared = f"± ({said})" if " + " in said else f"± {said}" if said else ""
    noise = [
        f"repeats ± {one.repeatability:g} {one.unit}".strip() if one.repeatability else "",
        f"step {one.resolution:g} {one.unit}".strip() if one.resolution else "",
    ]
    return ", ".join(filter(None, (shared, *noise))) or "not stated"
