"""From the start screen to a verdict, by key presses alone."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QApplication
from pytestqt.qtbot import QtBot

from commission.definitions.model import Key
from commission.errors import ProjectFileError
from commission.project import ProjectFile
from commission.wizard.start_screen import StartScreen
from commission.wizard.verdict_view import VerdictView
from commission.wizard.window import MainWindow
from wizard.at_the_window import (
    field_row,
    focused,
    grid,
    outcome,
    place_of,
    press,
    stored,
    type_text,
)

CONTROL = Qt.KeyboardModifier.ControlModifier


def make_project_with_a_unit(window: MainWindow) -> None:
    """A new project by Ctrl+N, a unit by the board's button, reached by Tab."""
    press(Qt.Key.Key_N, CONTROL)
    type_text("Depot roof")
    press(Qt.Key.Key_Return)
    workplace = place_of(window)
    board = workplace.board
    board.model.settle()
    assert "add the first unit" in board.next_words.text()
    while focused() is not board.add_button:
        press(Qt.Key.Key_Tab)
    press(Qt.Key.Key_Space)
    type_text("RTU-1")
    press(Qt.Key.Key_Return)
    assert [unit.tag for unit in workplace.document.units()] == ["RTU-1"]
    assert focused() is board.table


def test_new_project_to_verdict_by_keys_alone(
    make_window: Callable[..., MainWindow], qtbot: QtBot, own_folder: Path
) -> None:
    window = make_window()
    make_project_with_a_unit(window)
    assert (own_folder / "depot_roof.rtuproject").exists()
    workplace = place_of(window)
    assert workplace.document.session.project.title == "Depot roof"
    # Enter opens the unit's first page with the cursor in its first field.
    workplace.board.model.settle()
    press(Qt.Key.Key_Return)
    page = workplace.pages.page
    assert page is not None
    assert page.section.name == "setup"
    for text in ("3", "2", "none", "460"):
        type_text(text)
        press(Qt.Key.Key_Return)
    assert stored(window, "phases") == "3"
    assert stored(window, "rated_v") == 460

    # Next page: done by the letter D, and on to the volts.
    assert focused() is workplace.pages.next
    press(Qt.Key.Key_Space)
    type_text("ddy")
    assert stored(window, "locked_out") == "done"
    assert stored(window, "meter_proved") == "yes"
    press(Qt.Key.Key_PageDown, CONTROL)
    page = workplace.pages.page
    assert page is not None
    assert page.section.name == "volts"
    for text in ("471,2", "468.4", "400"):
        type_text(text)
        press(Qt.Key.Key_Tab)
    assert stored(window, "supply_v", (1,)) == 471.2
    assert outcome(window, "supply_in_range", (1,)) == "pass"
    assert outcome(window, "supply_in_range", (3,)) == "fail"
    table = grid(page, "supply_v")
    words = [view.sentence.text() for view in table.findChildren(VerdictView) if view.isVisible()]
    assert any("400.0 V is below the low limit 414.0 V by 14.0" in one for one in words)


def test_verdict_follows_each_key_before_it_is_stored(window: MainWindow, qtbot: QtBot) -> None:
    from wizard.at_the_window import open_page

    workplace = place_of(window)
    unit = workplace.document.units()[0]
    refusal = workplace.document.set_limit(
        unit.id, Key("control_in_range"), {"low": 22, "high": 28}, "Manual, page 4"
    )
    assert refusal == ""
    page = open_page(window, "volts")
    row = field_row(page, "control_v")
    row.input.editor().setFocus()
    type_text("2")
    assert row.verdicts[0].sign.word.text() == "fail"
    type_text("5")
    assert row.verdicts[0].sign.word.text() == "pass"
    assert stored(window, "control_v") is None
    press(Qt.Key.Key_Escape)
    assert row.input.text() == ""
    assert row.verdicts[0].sign.word.text() == "missing"
    type_text("31")
    press(Qt.Key.Key_Return)
    assert row.verdicts[0].sign.word.text() == "fail"
    assert stored(window, "control_v") == 31


def test_closing_the_window_enters_what_is_being_typed(
    window: MainWindow, project_path: Path
) -> None:
    from wizard.at_the_window import open_page

    page = open_page(window, "volts")
    field_row(page, "control_v").input.editor().setFocus()
    type_text("24.5")
    window.close()
    with ProjectFile.open(project_path, read_only=True) as project:
        unit = project.units()[0]
        assert project.readings(unit.id)[("control_v", ())].value == 24.5


def test_refused_file_is_said_on_the_start_screen(
    make_window: Callable[..., MainWindow], tmp_path: Path
) -> None:
    window = make_window()
    foreign = tmp_path / "foreign.rtuproject"
    foreign.write_text("not a project", encoding="utf-8")
    window.open_project(foreign)
    assert isinstance(window.start, StartScreen)
    assert "is not a project file of this program" in window.start.said.text()
    assert window.workplace is None


def test_recent_files_are_remembered_and_a_lost_one_is_named(
    make_window: Callable[..., MainWindow], project_path: Path, tmp_path: Path
) -> None:
    first = make_window()
    first.open_project(project_path)
    first.close()
    second = make_window()
    assert second.start is not None
    assert [made.text().split("\n")[0] for made in second.start.recent_buttons] == ["small"]
    second.close()
    project_path.rename(tmp_path / "moved.rtuproject")
    third = make_window()
    assert third.start is not None
    assert "not there any more" in third.start.recent_buttons[0].text()
    assert not third.start.recent_buttons[0].isEnabled()


def test_project_file_dropped_on_the_window_opens(
    make_window: Callable[..., MainWindow], project_path: Path, qtbot: QtBot
) -> None:
    from PySide6.QtCore import QMimeData, QPointF, QUrl
    from PySide6.QtGui import QDropEvent

    window = make_window()
    data = QMimeData()
    data.setUrls([QUrl.fromLocalFile(str(project_path))])
    event = QDropEvent(
        QPointF(10, 10),
        Qt.DropAction.CopyAction,
        data,
        Qt.MouseButton.LeftButton,
        Qt.KeyboardModifier.NoModifier,
    )
    window.dropEvent(event)
    qtbot.waitUntil(lambda: window.workplace is not None, timeout=10_000)
    assert place_of(window).path == project_path


def test_a_fault_in_a_slot_becomes_a_sentence(
    window: MainWindow, own_folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    strip = place_of(window).strip
    window.catch(ProjectFileError, ProjectFileError("small: the disk is full."), None)
    assert strip.words.text() == "small: the disk is full."
    window.catch(ValueError, ValueError("odd"), None)
    assert "Something went wrong in the program (ValueError('odd'))" in strip.words.text()
    assert "odd" in (own_folder / "faults.txt").read_text(encoding="utf-8")
    assert QApplication.activeModalWidget() is None
    assert capsys.readouterr().err == ""


def test_second_window_reads_only_and_says_so(
    window: MainWindow, make_window: Callable[..., MainWindow], project_path: Path
) -> None:
    second = make_window()
    second.open_project(project_path)
    assert "Open for reading only" in place_of(second).strip.words.text()
    document = place_of(second).document
    answer = document.enter(document.units()[0].id, Key("control_v"), "24")
    assert "was NOT kept" in answer.refusal
    assert "was NOT kept" in place_of(second).strip.words.text()
    assert outcome(second, "control_in_range") == "missing"


def test_new_project_never_replaces_a_file(
    make_window: Callable[..., MainWindow], own_folder: Path
) -> None:
    there = own_folder / "depot.rtuproject"
    there.write_text("mine", encoding="utf-8")
    window = make_window()
    press(Qt.Key.Key_N, CONTROL)
    press(Qt.Key.Key_Return)
    assert window.start is not None
    assert "needs a title" in window.start.new_form.refusal.text()
    type_text("Depot")
    press(Qt.Key.Key_Return)
    assert "there is a file of this name already" in window.start.new_form.refusal.text()
    assert there.read_text(encoding="utf-8") == "mine"
    assert window.workplace is None
