"""A sample drawn and witnessed at the window, with real key presses."""

from __future__ import annotations

from pathlib import Path

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QApplication

from commission.definitions.model import Form, Key
from commission.project import ProjectFile
from commission.validation.session import Session
from commission.validation.witnessing import Agreement, verification
from commission.wizard.window import MainWindow
from commission.wizard.witness_place import WitnessPlace
from wizard.at_the_window import place_of, press, type_text

PAIRS = (1, 2, 3)


@pytest.fixture
def project_path(project_path: Path, form: Form) -> Path:
    """The small project, with three supply voltages recorded by Ada, and Ben to witness."""
    with Session.open(project_path, form) as session:
        session.person_id = session.project.add_person("Ada Rowan").id
        session.project.add_person("Ben Hollis")
        meter = session.project.add_instrument("multimeter", serial="1", unit="V", plus_minus=1).id
        session.project.add_instrument("multimeter", serial="2", unit="V", plus_minus=1)
        session.refresh()
        for index in PAIRS:
            session.enter(session.units()[0].id, "supply_v", (index,), "460", meter)
    return project_path


def witness_place(window: MainWindow) -> WitnessPlace:
    """Go there by its keys."""
    press(Qt.Key.Key_G, Qt.KeyboardModifier.ControlModifier | Qt.KeyboardModifier.ShiftModifier)
    place = place_of(window).place("witness")
    assert isinstance(place, WitnessPlace)
    QApplication.processEvents()
    return place


def draw_all(place: WitnessPlace, name: str = "Ben Hollis") -> None:
    """Choose the witness, type 100 % and draw, by keys."""
    assert place.witnesses.hasFocus()
    for _ in range(place.witnesses.findText(name)):
        press(Qt.Key.Key_Down)
    press(Qt.Key.Key_Tab)
    assert place.share.hasFocus()
    place.share.selectAll()
    type_text("100")
    press(Qt.Key.Key_Return)
    QApplication.processEvents()


def agreements(window: MainWindow) -> list[Agreement]:
    document = place_of(window).document
    unit = document.units()[0]
    found = verification(document.session.project, document.results(unit.id))
    return [line.agreement for line in found.lines if line.key.name == "supply_v"]


def pick_second_meter(place: WitnessPlace, key: Key) -> None:
    picker = place.lines[key].instrument
    picker.setFocus()
    for _ in range(picker.findText("multimeter 2") - picker.currentIndex()):
        press(Qt.Key.Key_Down)


def test_drawn_and_witnessed_by_keys(window: MainWindow) -> None:
    place = witness_place(window)
    draw_all(place)
    assert set(place.lines) >= {Key("supply_v", (index,)) for index in PAIRS}
    pick_second_meter(place, Key("supply_v", (1,)))
    # Named once, it is shown at the other readings of its kind.
    assert place.lines[Key("supply_v", (3,))].instrument.currentText() == "multimeter 2"
    place.lines[Key("supply_v", (1,))].input.editor().setFocus()
    for text in ("460.5", "470"):
        type_text(text)
        press(Qt.Key.Key_Return)
        QApplication.processEvents()
    assert agreements(window) == [Agreement.AGREES, Agreement.DIFFERS, Agreement.AWAITED]
    line = place.lines[Key("supply_v", (2,))]
    assert line.sign.word.text() == "differs"
    assert "Ada Rowan" in line.recorded.text()
    assert "Ben Hollis" in line.outcome.text()
    # 1 V either way: u = 1 / sqrt 3 each, U = 2 u, root of the sum of squares 1.63 V.
    assert "at most 1.63 V" in line.outcome.text()
    with ProjectFile.open(place_of(window).path, read_only=True) as project:
        unit = project.units()[0].id
        assert project.readings(unit)[("supply_v", (2,))].value == 460.0
        assert project.witness_readings(unit)[("supply_v", (2,), "as found")].value == 470.0


def test_a_draw_and_a_reading_are_undone(window: MainWindow) -> None:
    place = witness_place(window)
    draw_all(place)
    place.lines[Key("supply_v", (1,))].input.editor().setFocus()
    type_text("461")
    press(Qt.Key.Key_Return)
    assert agreements(window)[0] is Agreement.UNDECIDED
    place_of(window).undo()
    assert agreements(window)[0] is Agreement.AWAITED
    place_of(window).undo()
    assert agreements(window) == []
    place_of(window).redo()
    assert agreements(window) == [Agreement.AWAITED] * 3


def test_who_recorded_does_not_witness(window: MainWindow) -> None:
    place = witness_place(window)
    draw_all(place, "Ada Rowan")
    line = place.lines[Key("supply_v", (1,))]
    line.input.editor().setFocus()
    type_text("461")
    press(Qt.Key.Key_Return)
    assert "recorded by the same person" in line.refusal.text()
    assert line.refusal.isVisible()
    assert agreements(window)[0] is Agreement.AWAITED


@pytest.mark.parametrize(
    ("typed", "said"),
    [("0", "at most 1"), ("many", "not a number"), ("20 kPa", "percentage"), ("101", "at most 1")],
)
def test_an_impossible_share_is_said_in_place(window: MainWindow, typed: str, said: str) -> None:
    place = witness_place(window)
    place.share.setFocus()
    place.share.selectAll()
    type_text(typed)
    press(Qt.Key.Key_Return)
    assert place.refusal.isVisible()
    assert said in place.refusal.text()
    assert agreements(window) == []
