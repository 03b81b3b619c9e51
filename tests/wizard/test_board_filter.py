"""The board's filters by keys, and a hundred units that scroll without a halt."""

from __future__ import annotations

import time
from collections.abc import Callable
from pathlib import Path

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication

from commission.definitions.model import Form
from commission.validation.session import Session
from commission.wizard.board import Board
from commission.wizard.window import MainWindow
from wizard.at_the_window import place_of, press

_UNITS = 100


@pytest.fixture
def several_path(tmp_path: Path, form: Form) -> Path:
    """A-1 fails, A-2 is stopped, A-3 is all done, A-4 was recorded by Ida Berg."""
    path = tmp_path / "several.rtuproject"
    setup = {"phases": "1", "motors": "1", "heat": "none", "rated_v": "230"}
    done = setup | {"locked_out": "done", "guards_fitted": "done", "meter_proved": "yes"}
    with Session.create(path, form, "Several") as session:
        ida = session.project.add_person("Ida Berg").id
        for tag, answers in (
            ("A-1", done | {"guards_fitted": "not done"}),
            ("A-2", setup | {"locked_out": "not done"}),
            ("A-3", done),
            ("A-4", setup),
        ):
            unit = session.add_unit(tag).id
            session.person_id = ida if tag == "A-4" else ""
            for name, text in answers.items():
                session.enter(unit, name, (), text)
            if tag == "A-3":
                session.enter(unit, "supply_v", (1,), "230")
                session.enter(unit, "motor_a", (1, 1), "4")
                session.enter(unit, "control_v", (), "24")
                session.set_limit(unit, "control_in_range", (), {"low": 20, "high": 30}, "plate")
    return path


@pytest.fixture
def board(make_window: Callable[..., MainWindow], several_path: Path) -> Board:
    window = make_window()
    window.open_project(several_path)
    board = place_of(window).board
    board.model.settle()
    board.table.setFocus()
    return board


def _tags(board: Board) -> list[str]:
    return [board._document.tag(unit_id) for unit_id in board.model.unit_ids]


def test_each_filter_by_its_key(board: Board) -> None:
    assert _tags(board) == ["Project", "A-1", "A-2", "A-3", "A-4"]
    press(Qt.Key.Key_2)
    assert _tags(board) == ["A-1", "A-2"]
    press(Qt.Key.Key_3)
    assert _tags(board) == ["A-2"]
    press(Qt.Key.Key_4)
    assert "A-3" not in _tags(board) and "A-4" in _tags(board)
    press(Qt.Key.Key_1)
    assert len(_tags(board)) == 5


def test_mine_is_what_i_recorded_or_must_put_right(board: Board) -> None:
    press(Qt.Key.Key_5)
    assert _tags(board) == []
    assert "Nobody is named" in board.filter.nothing.text()
    document = board._document
    document.record_as("Ida Berg")
    board.model.settle()
    assert _tags(board) == ["A-4"]
    a1 = next(unit.id for unit in document.units() if unit.tag == "A-1")
    document.session.project.add_deficiency(a1, description="Guard", owner="ida berg")
    board.show_only("mine")
    assert _tags(board) == ["A-1", "A-4"]


def test_counts_stand_on_the_buttons_and_next_looks_at_all_units(board: Board) -> None:
    assert board.filter.buttons["failing"].text() == "Failing (2)"
    assert board.filter.buttons["stopped"].text() == "Stopped (1)"
    press(Qt.Key.Key_3)
    assert board.model.next_to_do() is not None
    assert "4 units" in board.totals.text()


def test_an_empty_filter_says_so_in_place(board: Board) -> None:
    document = board._document
    a2 = next(unit.id for unit in document.units() if unit.tag == "A-2")
    press(Qt.Key.Key_3)
    document.remove_unit(a2, "not ours")
    board.model.settle()
    assert _tags(board) == []
    assert board.filter.nothing.isVisible() and "No unit is stopped" in board.filter.nothing.text()


def test_a_unit_just_added_shows_whatever_the_filter(board: Board) -> None:
    press(Qt.Key.Key_3)
    board.form.ask_new()
    board.form.tag.setText("A-9")
    press(Qt.Key.Key_Return)
    assert "A-9" in _tags(board)


def test_a_hundred_units_scroll_without_a_halt(
    make_window: Callable[..., MainWindow],
    tmp_path: Path,
    form: Form,
    capsys: pytest.CaptureFixture[str],
) -> None:
    path = tmp_path / "hundred.rtuproject"
    with Session.create(path, form, "A hundred") as session:
        for number in range(_UNITS):
            session.add_unit(f"RTU-{number + 1}")
    window = make_window()
    window.open_project(path)
    board = place_of(window).board
    board.model.settle()
    board.model.open_all(True)
    board.table.setFocus()
    # The project's own row has a page that no unit has: keys go up and down in a unit's column.
    cells = [board.model.index(1, column) for column in range(board.model.columnCount())]
    board.table.setCurrentIndex(next(c for c in cells if c.flags() & Qt.ItemFlag.ItemIsEnabled))
    QTest.qWait(50)
    slowest, furthest = 0.0, 0
    for key in (*[Qt.Key.Key_PageDown] * 12, *[Qt.Key.Key_PageUp] * 12, *[Qt.Key.Key_Down] * 40):
        began = time.perf_counter()
        press(key)
        board.table.viewport().repaint()
        QApplication.processEvents()
        slowest = max(slowest, time.perf_counter() - began)
        furthest = max(furthest, board.table.verticalScrollBar().value())
    with capsys.disabled():
        print(f"\n{_UNITS} units, every page: slowest key to paint {slowest * 1000:.1f} ms")
    # How long a key may take belongs to tests/bench; here the keys must really have scrolled.
    assert furthest > 0
    at = board.table.visualRect(board.table.currentIndex())
    assert board.table.viewport().rect().intersects(at)


def test_up_and_down_go_past_the_project_row_and_come_back_to_the_column(board: Board) -> None:
    """The project's own row has its page in one column, the units theirs in the others."""
    table, model = board.table, board.model
    board.window().resize(1024, 760)  # a page of keys is all of its rows
    QApplication.processEvents()
    model.open_all(True)
    titles = [one.title for one in model.columns]
    site, volts = titles.index("Site"), titles.index("Supply volts")
    table.setCurrentIndex(model.index(0, site))
    press(Qt.Key.Key_Down)
    assert (table.currentIndex().row(), titles[table.currentIndex().column()]) == (1, "Set-up")
    table.setCurrentIndex(model.index(2, volts))
    for wanted in ((1, volts), (0, site), (0, site)):
        press(Qt.Key.Key_Up)
        assert (table.currentIndex().row(), table.currentIndex().column()) == wanted
    press(Qt.Key.Key_Down)
    assert (table.currentIndex().row(), table.currentIndex().column()) == (1, volts)
    press(Qt.Key.Key_PageDown)
    assert (table.currentIndex().row(), table.currentIndex().column()) == (4, volts)
    press(Qt.Key.Key_PageUp)
    assert (table.currentIndex().row(), table.currentIndex().column()) == (0, site)
    press(Qt.Key.Key_Right)
    assert table.currentIndex().column() == site  # there is no other page of the project
    press(Qt.Key.Key_Down)
    assert titles[table.currentIndex().column()] == "Set-up"
