"""The scenario's site typed into the window: project, people, instruments, settings, units."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QApplication, QComboBox, QLineEdit, QPlainTextEdit, QPushButton

from commission.project.scenario_reading import Entry, Scenario
from commission.wizard.deficiency_log import DeficiencyLog
from commission.wizard.export_place import ExportPlace
from commission.wizard.finder import Finder
from commission.wizard.people_and_instruments import PeopleAndInstruments
from commission.wizard.record_form import RecordForm
from commission.wizard.settings_place import SettingsPlace
from commission.wizard.sign_off import SignOff
from commission.wizard.window import MainWindow
from commission.wizard.workplace import Workplace
from wizard.typist import CONTROL, SHIFT, Keyboard, TypistLostError


class SiteTypist:
    """Types what belongs to the whole project."""

    def __init__(self, window: MainWindow, scenario: Scenario) -> None:
        self.window = window
        self.scenario = scenario
        self.keys = Keyboard()

    @property
    def workplace(self) -> Workplace:
        """The open project."""
        assert self.window.workplace is not None
        return self.window.workplace

    def begin(self) -> None:
        """A new project by Ctrl+N and its title."""
        self.keys.press(Qt.Key.Key_N, CONTROL)
        self.keys.type(self.scenario.title)
        self.keys.press(Qt.Key.Key_Return)

    def type_settings(self) -> None:
        """Choose the scenario's decision rule and unit system, and type its factor."""
        self.keys.press(Qt.Key.Key_Comma, CONTROL)
        place = self.workplace.place("settings")
        assert isinstance(place, SettingsPlace)
        given = self.scenario.settings
        for name, box in (("decision_rule", place.rule), ("unit_system", place.units)):
            if name in given and box.currentData() != given[name]:
                self.keys.tab_to(box)
                self.keys.choose(box, box.findData(given[name]))
        if "coverage_factor" in given:
            self.keys.tab_to(place.factor)
            self.keys.replace(f"{given['coverage_factor']:g}")
            self.keys.press(Qt.Key.Key_Return)

    def type_registers(self, instruments: set[str]) -> None:
        """Type all people, and the instruments that are used."""
        self.keys.press(Qt.Key.Key_I, CONTROL)
        place = self.workplace.place("people")
        assert isinstance(place, PeopleAndInstruments)
        for person in self.scenario.people.values():
            self._add(place, "Add a person", place.person_form, person)
        for key, instrument in self.scenario.instruments.items():
            if key in instruments:
                self._add(place, "Add an instrument", place.instrument_form, instrument)

    def _add(self, place: PeopleAndInstruments, word: str, form: RecordForm, entry: Entry) -> None:
        button = next(one for one in place.findChildren(QPushButton) if one.text() == word)
        self.keys.tab_to(button, back=True)
        self.keys.press(Qt.Key.Key_Space)
        self.fill(form, entry)
        self.keys.press(Qt.Key.Key_Return)
        if form.isVisible():
            raise TypistLostError(f"{word}: {form.refusal.text() or 'it was not kept'}")

    def fill(self, form: RecordForm, entry: Mapping[str, object]) -> None:
        """Fill a form whose first input has the focus, from top to bottom."""
        for name, widget in form.inputs.items():
            if name not in entry or not widget.isEnabled():
                continue
            self.keys.tab_to(widget)
            text = str(entry[name])
            if isinstance(widget, Finder):
                if widget.data() != text:
                    self.keys.replace(widget.itemText(widget.findData(text)) if text else "")
            elif isinstance(widget, QComboBox):
                if widget.currentData() != text:
                    self.keys.choose(widget, widget.findData(text))
            elif isinstance(widget, QPlainTextEdit | QLineEdit):
                self.keys.replace(text)

    def record_as(self, name: str) -> None:
        """Say who records, by Ctrl+Shift+N."""
        self.keys.press(Qt.Key.Key_N, CONTROL | SHIFT)
        self.keys.replace(name)
        self.keys.press(Qt.Key.Key_Return)

    def add_unit(self, tag: str) -> None:
        """Add a unit on the board."""
        self.keys.press(Qt.Key.Key_B, CONTROL)
        board = self.workplace.board
        board.model.settle()
        self.keys.tab_to(board.add_button, back=True)
        self.keys.press(Qt.Key.Key_Space)
        self.keys.type(tag)
        self.keys.press(Qt.Key.Key_Return)
        if tag not in [unit.tag for unit in self.workplace.document.units()]:
            raise TypistLostError(f"unit {tag} was not added: {board.form.refusal.text()}")

    def choose_pass(self, name: str) -> None:
        """Choose the pass in the head of the window."""
        box = self.workplace.header.passes
        if box.currentData() == name:
            return
        self.keys.press(Qt.Key.Key_B, CONTROL)
        self.keys.tab_to(box, back=True)
        self.keys.choose(box, box.findData(name))

    def type_deficiency(self, entry: Entry) -> None:
        """Fill the form of a deficiency that is open, and record it."""
        log = self.workplace.place("deficiencies")
        assert isinstance(log, DeficiencyLog)
        kept = ("status", "about")  # as the window proposes them
        texts = {name: "" for name in log.form.inputs if name not in kept} | entry
        del texts["unit_id"]
        self.fill(log.form, texts)
        self.keys.press(Qt.Key.Key_Return, CONTROL)
        if log.form.isVisible():
            raise TypistLostError(f"deficiency: {log.form.refusal.text()}")

    def new_deficiency(self, unit_id: str, entry: Entry) -> None:
        """A deficiency that follows from no verdict, on the log itself."""
        self.keys.press(Qt.Key.Key_D, CONTROL)
        log = self.workplace.place("deficiencies")
        assert isinstance(log, DeficiencyLog)
        self.keys.tab_to(log.add_button, back=True)
        self.keys.press(Qt.Key.Key_Space)
        box = log.form.inputs["unit_id"]
        assert isinstance(box, QComboBox)
        if box.currentData() != unit_id:
            self.keys.choose(box, box.findData(unit_id))
        self.type_deficiency(entry)

    def sign(self, unit_id: str, role: str, name: str, statement: str, page: str = "") -> None:
        """Sign for a unit, or for one page of it, by Ctrl+G."""
        self.keys.press(Qt.Key.Key_G, CONTROL)
        place = self.workplace.place("sign_off")
        assert isinstance(place, SignOff)
        self.keys.press(Qt.Key.Key_Home, CONTROL)
        for _ in range(place.model.ids.index(unit_id)):
            self.keys.press(Qt.Key.Key_Down)
        self.keys.press(Qt.Key.Key_Return)
        panel = place.panel
        if panel.unit_id != unit_id:
            raise TypistLostError("another unit is open to sign")
        self.keys.tab_to(panel.pages, back=True)
        for box, wanted in (
            (panel.pages, panel.pages.findData(page)),
            (panel.role, panel.role.findData(role)),
            (panel.person, panel.person.findText(name)),
        ):
            self.keys.tab_to(box)
            if box.currentIndex() != wanted:
                self.keys.choose(box, wanted)
        self.keys.tab_to(panel.statement)
        self.keys.type(statement)
        self.keys.press(Qt.Key.Key_Return, CONTROL)
        if panel.refusal.isVisible():
            raise TypistLostError(panel.refusal.text())

    def export(self, card: int, path: Path) -> None:
        """Write one output where its line says, and wait until it is there."""
        self.keys.press(Qt.Key.Key_E, CONTROL)
        place = self.workplace.place("export")
        assert isinstance(place, ExportPlace)
        made = place.cards[card]
        self.keys.tab_to(made.target)
        self.keys.replace(str(path))
        self.keys.press(Qt.Key.Key_Return)
        while made.job is not None:
            QApplication.processEvents()
            made.job and made.job.wait(20)
        if not path.exists():
            raise TypistLostError(made.result.text())
