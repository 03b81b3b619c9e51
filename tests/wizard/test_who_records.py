"""Who records and in which pass: asked once in place, and remembered between openings."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from PySide6.QtCore import Qt

from commission.wizard.preferences import Preferences
from commission.wizard.window import MainWindow
from wizard.at_the_window import field_row, focused, key, open_page, place_of, press, type_text

CONTROL_SHIFT = Qt.KeyboardModifier.ControlModifier | Qt.KeyboardModifier.ShiftModifier


def test_first_entry_in_nobodys_name_asks_once_and_takes_no_focus(window: MainWindow) -> None:
    who = place_of(window).who
    row = field_row(open_page(window, "volts"), "control_v")
    assert not who.isVisible()
    row.input.editor().setFocus()
    type_text("24")
    press(Qt.Key.Key_Return)
    assert who.isVisible()
    assert not who.isAncestorOf(focused())
    who.later.setFocus()
    press(Qt.Key.Key_Space)
    assert not who.isVisible()
    row.input.editor().setFocus()
    type_text("25")
    press(Qt.Key.Key_Return)
    assert not who.isVisible()


def test_name_is_typed_by_keys_and_stands_with_what_follows(window: MainWindow) -> None:
    workplace = place_of(window)
    row = field_row(open_page(window, "volts"), "control_v")
    row.input.editor().setFocus()
    type_text("24")
    press(Qt.Key.Key_Tab)
    row.input.editor().setFocus()
    press(Qt.Key.Key_N, CONTROL_SHIFT)
    assert focused() is workplace.who.name
    press(Qt.Key.Key_Return)
    assert "Type a name" in workplace.who.refusal.text()
    type_text("A. Person")
    press(Qt.Key.Key_Return)
    assert not workplace.who.isVisible()
    assert focused() is row.input.editor()
    assert workplace.header.people.currentText() == "A. Person"
    type_text("25")
    press(Qt.Key.Key_Return)
    project = workplace.document.session.project
    unit_id = workplace.document.units()[0].id
    names = [reading.person_id for reading in project.history(unit_id, "control_v")]
    assert names == ["", project.people()[0].id]


def test_known_name_is_not_added_again(window: MainWindow) -> None:
    document = place_of(window).document
    person = document.session.project.add_person("A. Person")
    assert document.record_as(" a. person ") == ""
    assert document.session.person_id == person.id
    assert len(document.session.project.people()) == 1


def test_person_and_pass_are_remembered_between_openings(
    make_window: Callable[..., MainWindow], project_path: Path
) -> None:
    first = make_window()
    first.open_project(project_path)
    document = place_of(first).document
    document.record_as("A. Person")
    document.choose_pass("as left")
    person_id = document.session.person_id
    first.close()
    again = make_window()
    again.open_project(project_path)
    workplace = place_of(again)
    assert workplace.document.session.person_id == person_id
    assert workplace.document.session.pass_name == "as left"
    assert workplace.header.people.currentText() == "A. Person"
    assert workplace.header.passes.currentText() == "as left"
    said = workplace.strip.words.text()
    assert said == "As last time: recorded as 'as left', by A. Person."
    workplace.document.enter(workplace.document.units()[0].id, key("control_v"), "24")
    assert not workplace.who.isVisible()


def test_what_is_remembered_and_no_longer_there_is_passed_over(
    make_window: Callable[..., MainWindow], project_path: Path
) -> None:
    preferences = Preferences.load()
    window = make_window()
    window.open_project(project_path)
    uuid = place_of(window).document.session.project.uuid
    window.close()
    preferences.remember_recording(uuid, "somebody gone", "no such pass")
    again = make_window()
    again.open_project(project_path)
    session = place_of(again).document.session
    assert (session.person_id, session.pass_name) == ("", "as found")


def test_only_the_last_forty_projects_are_remembered() -> None:
    preferences = Preferences()
    for number in range(50):
        preferences.remember_recording(f"project {number}", "p", "as found")
    assert len(preferences.recording) == 40
    assert Preferences.load().recording_of("project 49") == ("p", "as found")
    assert Preferences.load().recording_of("project 3") == ("", "")
