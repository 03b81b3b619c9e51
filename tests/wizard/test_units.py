"""Units on the board: put in order, removed with a reason, and put back."""

from __future__ import annotations

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QApplication, QPushButton

from commission.project import ProjectFile
from commission.wizard.board import Board
from commission.wizard.window import MainWindow
from wizard.at_the_window import focused, key, open_page, place_of, press, type_text

ALT = Qt.KeyboardModifier.AltModifier


@pytest.fixture
def board(window: MainWindow) -> Board:
    """A board of three units."""
    workplace = place_of(window)
    for tag in ("RTU-2", "RTU-3"):
        workplace.document.add_unit(tag)
    workplace.go("board")
    workplace.board.model.settle()
    return workplace.board


def tags(window: MainWindow) -> list[str]:
    """Return the units' tags in order, read anew from the disk."""
    with ProjectFile.open(place_of(window).path, read_only=True) as project:
        return [unit.tag for unit in project.units()]


def test_units_are_put_in_order_by_keys(window: MainWindow, board: Board) -> None:
    board.table.setFocus()
    board.table.setCurrentIndex(board.model.index(3, 1))
    press(Qt.Key.Key_Up, ALT)
    assert tags(window) == ["RTU-1", "RTU-3", "RTU-2"]
    current = board.table.currentIndex()
    assert (current.row(), current.column()) == (2, 1)
    press(Qt.Key.Key_Up, ALT)
    press(Qt.Key.Key_Up, ALT)
    assert "RTU-3 is first already" in place_of(window).strip.words.text()
    press(Qt.Key.Key_Down, ALT)
    assert tags(window) == ["RTU-1", "RTU-3", "RTU-2"]
    board.table.setCurrentIndex(board.model.index(0, 0))
    press(Qt.Key.Key_Down, ALT)
    assert "own pages stand first" in place_of(window).strip.words.text()


def test_units_are_put_in_order_by_buttons(window: MainWindow, board: Board) -> None:
    board.table.setCurrentIndex(board.model.index(1, 0))
    board.change_button.setFocus()
    press(Qt.Key.Key_Space)
    board.form.down.setFocus()
    press(Qt.Key.Key_Space)
    press(Qt.Key.Key_Space)
    assert tags(window) == ["RTU-2", "RTU-3", "RTU-1"]
    assert board.table.currentIndex().row() == 3
    press(Qt.Key.Key_Space)
    assert "is last already" in board.form.refusal.text()


def test_unit_is_removed_with_a_reason_and_put_back(window: MainWindow, board: Board) -> None:
    workplace = place_of(window)
    unit = workplace.document.units()[1]
    open_page(window, "setup", "RTU-2")
    workplace.document.enter(unit.id, key("rated_v"), "208")
    workplace.go("board")
    board.table.setCurrentIndex(board.model.index(2, 0))
    board.change_button.setFocus()
    press(Qt.Key.Key_Space)
    assert board.form.title.text() == "RTU-2"
    board.form.remove.setFocus()
    press(Qt.Key.Key_Space)
    assert focused() is board.form.reason
    press(Qt.Key.Key_Return)
    assert "Say why RTU-2 is removed" in board.form.refusal.text()
    type_text("On another contract")
    press(Qt.Key.Key_Return)
    assert tags(window) == ["RTU-1", "RTU-3"]
    assert focused() is board.table
    board.model.settle()
    assert board.totals.text().startswith("2 units (1 removed)")
    # Its page is gone, and undo passes over it.
    assert all(owner != unit.id for owner, _ in workplace.pages._built)
    assert workplace.document.session.can_undo() is False
    assert workplace.document.tag(unit.id) == "RTU-2 (removed)"
    board.change_button.setFocus()
    press(Qt.Key.Key_Space)
    back = next(
        made
        for made in board.form.findChildren(QPushButton)
        if made.accessibleName() == "Put RTU-2 back" and made.isVisible()
    )
    said = [one.text() for one in board.form.findChildren(type(board.form.refusal))]
    assert "RTU-2 was removed: On another contract" in said
    back.setFocus()
    press(Qt.Key.Key_Space)
    assert "RTU-2" in tags(window)
    assert workplace.document.results(unit.id).value("rated_v").number == 208
    assert QApplication.activeModalWidget() is None


def test_last_unit_can_be_removed_and_put_back(window: MainWindow) -> None:
    workplace = place_of(window)
    workplace.go("board")
    board = workplace.board
    unit = workplace.document.units()[0]
    open_page(window, "volts")
    workplace.go("board")
    assert workplace.document.remove_unit(unit.id, "sold") == ""
    board.model.settle()
    assert board.change_button.isEnabled()
    workplace.start_search()
    press(Qt.Key.Key_PageDown, Qt.KeyboardModifier.ControlModifier)
    workplace.go("board")
    board.change_button.click()
    assert not board.form.remove.isVisible()
    assert workplace.document.restore_unit(unit.id) == ""
    assert tags(window) == ["RTU-1"]


def test_taken_tag_keeps_a_unit_removed_and_says_so(window: MainWindow, board: Board) -> None:
    document = place_of(window).document
    unit = document.units()[2]
    document.remove_unit(unit.id, "replaced")
    document.add_unit("RTU-3")
    board.form.ask_change(document.units()[0].id)
    board.form._restore(unit.id)
    assert "has a unit RTU-3 already" in board.form.refusal.text()
    assert board.form.refusal.isVisible()
