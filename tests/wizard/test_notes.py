"""A note on a reading: by keys, by its button, kept in the file, undone, shown again."""

from __future__ import annotations

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QApplication, QLineEdit

from commission.project import ProjectFile
from commission.wizard.reading_history import past_readings
from commission.wizard.window import MainWindow
from wizard.at_the_window import (
    field_row,
    focused,
    grid,
    key,
    open_page,
    place_of,
    press,
    stored,
    type_text,
)

CONTROL = Qt.KeyboardModifier.ControlModifier


def noted(window: MainWindow, name: str, index: tuple[int, ...] = ()) -> str | None:
    """Return the note that the file itself holds."""
    with ProjectFile.open(place_of(window).path, read_only=True) as project:
        unit = project.units()[0]
        reading = project.readings(unit.id).get((name, index))
        return None if reading is None else reading.note


def test_a_note_is_written_by_keys_and_the_reading_stays_what_it_was(window: MainWindow) -> None:
    place_of(window).document.record_as("A. Reader")
    row = field_row(open_page(window, "volts"), "control_v")
    row.input.editor().setFocus()
    type_text("24.5")
    press(Qt.Key.Key_M, CONTROL)  # what is being typed is entered first
    assert isinstance(focused(), QLineEdit) and focused().accessibleName() == (
        "Note on Control voltage"
    )
    place_of(window).document.record_as("B. Writer")
    assert row.noted is not None
    row.noted.line.setFocus()
    type_text("Meter on its second range.")
    press(Qt.Key.Key_Return)
    assert noted(window, "control_v") == "Meter on its second range."
    assert stored(window, "control_v") == 24.5
    assert focused() is row.input.editor()
    assert row.noted.words.text() == "Note: Meter on its second range."
    document = place_of(window).document
    read = document.results(document.units()[0].id).reading("control_v", ())
    assert read is not None
    assert document.person_name(read.person_id) == "A. Reader"  # who noted is not who read
    first = document.session.history(document.units()[0].id, "control_v")[0]
    assert read.at == first.at
    press(Qt.Key.Key_F1)
    assert row.history is not None and "Meter on its second range." in row.history.words()
    found = past_readings(document, document.units()[0].id, key("control_v"))
    assert [one.note for one in found] == ["", "Meter on its second range."]


def test_a_note_is_changed_dropped_undone_and_put_again(window: MainWindow) -> None:
    row = field_row(open_page(window, "volts"), "control_v")
    row.input.editor().setFocus()
    press(Qt.Key.Key_M, CONTROL)  # nothing is read: why not may be noted all the same
    type_text("Panel would not open.")
    press(Qt.Key.Key_Return)
    assert noted(window, "control_v") == "Panel would not open."
    assert stored(window, "control_v") is None
    found = past_readings(
        place_of(window).document, place_of(window).document.units()[0].id, key("control_v")
    )
    assert [one.value for one in found] == ["not read"]
    press(Qt.Key.Key_M, CONTROL)
    type_text("Wrong")
    press(Qt.Key.Key_Escape)
    assert noted(window, "control_v") == "Panel would not open."
    press(Qt.Key.Key_M, CONTROL)
    type_text("Panel rusted shut.")
    press(Qt.Key.Key_Tab)  # left by Tab: kept as well
    assert noted(window, "control_v") == "Panel rusted shut."
    press(Qt.Key.Key_Z, CONTROL)
    assert noted(window, "control_v") == "Panel would not open."
    assert "the note on RTU-1, Control voltage" in place_of(window).strip.words.text()
    press(Qt.Key.Key_Y, CONTROL)
    assert noted(window, "control_v") == "Panel rusted shut."
    press(Qt.Key.Key_M, CONTROL)
    press(Qt.Key.Key_Delete)
    press(Qt.Key.Key_Return)
    assert noted(window, "control_v") == ""


def test_a_note_on_a_cell_of_a_table_and_by_its_button(window: MainWindow) -> None:
    table = grid(open_page(window, "volts"), "motor_a")
    table.view.setFocus()
    table.view.setCurrentIndex(table.model.place_of(key("motor_a", 2, 1)))
    type_text("9.5")
    press(Qt.Key.Key_M, CONTROL)
    type_text("Clamp on the return leg.")
    press(Qt.Key.Key_Return)
    assert stored(window, "motor_a", (2, 1)) == 9.5
    assert noted(window, "motor_a", (2, 1)) == "Clamp on the return leg."
    assert focused() is table.view
    press(Qt.Key.Key_Up)
    assert table.detail.noted is None
    press(Qt.Key.Key_Down)
    assert table.detail.noted is not None
    assert table.detail.noted.words.text() == "Note: Clamp on the return leg."
    press(Qt.Key.Key_F4)
    while focused() is not table.detail.note_button:
        press(Qt.Key.Key_Tab)
    press(Qt.Key.Key_Space)
    assert focused() is table.detail.noted.line
    press(Qt.Key.Key_Escape)
    assert noted(window, "motor_a", (2, 1)) == "Clamp on the return leg."


def test_another_instrument_keeps_the_note_and_another_value_does_not(window: MainWindow) -> None:
    document = place_of(window).document
    meter = document.session.project.add_instrument("multimeter", serial="E-1")
    unit_id, place = document.units()[0].id, key("control_v")
    document.enter(unit_id, place, "24.5")
    assert document.write_note(unit_id, place, "Second range.") == ""
    document.choose_instrument(unit_id, [place], meter.id)
    assert noted(window, "control_v") == "Second range."
    document.enter(unit_id, place, "25")
    assert noted(window, "control_v") == ""  # it was said of the other reading


def test_a_note_does_not_answer_for_a_stop_that_nobody_answers_for(window: MainWindow) -> None:
    """A stop marked n/a holds its pages until a person is named; its note's writer is not."""
    document = place_of(window).document
    unit_id, place = document.units()[0].id, key("locked_out")
    document.enter(unit_id, place, "n/a no disconnect")
    volts = document.form.section_by_name["volts"]
    assert document.results(unit_id).blocking(volts)
    document.record_as("B. Writer")
    assert document.write_note(unit_id, place, "Seen by me.") == ""
    assert noted(window, "locked_out") == "Seen by me."
    assert document.results(unit_id).blocking(volts)
    QApplication.processEvents()


def test_signatures_hold_when_a_note_is_written(window: MainWindow) -> None:
    document = place_of(window).document
    unit_id = document.units()[0].id
    document.enter(unit_id, key("control_v"), "24.5")
    project = document.session.project
    signed = project.add_signature(
        unit_id, "", "recorded", person_id="", printed_name="A. Reader", statement=""
    )
    assert document.write_note(unit_id, key("control_v"), "Second range.") == ""
    assert project.is_signed_still(signed)


def test_away_from_a_field_it_says_where_a_note_belongs(window: MainWindow) -> None:
    press(Qt.Key.Key_M, CONTROL)
    assert "Go to a field first" in place_of(window).strip.words.text()
