"""An equipment schedule comes in by keys, by the desktop's dialog, and dropped on the board."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from openpyxl import Workbook
from PySide6.QtCore import QMimeData, QPointF, Qt, QUrl
from PySide6.QtGui import QDragEnterEvent, QDropEvent
from PySide6.QtWidgets import QApplication, QWidget
from pytestqt.qtbot import QtBot

from commission.definitions.load import load_form
from commission.definitions.model import Form
from commission.validation.session import Session
from commission.wizard.dialogs import Dialogs
from commission.wizard.schedule_place import SchedulePlace
from commission.wizard.window import MainWindow
from wizard.at_the_window import focused, place_of, press, type_text
from wizard.typist import SHIFT, Keyboard

CONTROL = Qt.KeyboardModifier.ControlModifier

# Made up, as drawings have them: a title, heads, units below, notes at the end.
CSV = """ROOFTOP UNIT SCHEDULE,,,,,,,,,
MCA,Mark,Supply air,ESP,Total cooling,V/PH/HZ,Heat,Compressors,RLA 2,Colour
(A),,(CFM),(IN WC),(MBH),,,,(A),
41.2,RTU-1,"4,000",0.75,120,460/3/60,Gas,2,8.2,grey
x12,RTU-2,3500,0.6 ,10 tons,208/230-3-60,Elec,1,9,grey
50,RTU-1,1,1,1,460/3/60,Gas,1,1,red
44,RTU-3,2000,0.5,60,460/3/60,Gas,1,,grey
,,,,,,,,,
NOTES: 1. Curb by others.,,,,,,,,,
"""


@pytest.fixture(scope="module")
def shipped() -> Form:
    return load_form()


@pytest.fixture
def csv_path(tmp_path: Path) -> Path:
    made = tmp_path / "schedule.csv"
    made.write_text(CSV, encoding="utf-8")
    return made


@pytest.fixture
def open_window(
    make_window: Callable[..., MainWindow], tmp_path: Path, shipped: Form
) -> Callable[..., MainWindow]:
    def made(dialogs: Dialogs | None = None) -> MainWindow:
        path = tmp_path / "job.rtuproject"
        Session.create(path, shipped, "Scheduled").close()
        window = make_window(dialogs, load=lambda: shipped)
        window.open_project(path)
        return window

    return made


def schedule_of(window: MainWindow) -> SchedulePlace:
    made = place_of(window).place("schedule")
    assert isinstance(made, SchedulePlace)
    return made


def wait_for(qtbot: QtBot, place: SchedulePlace) -> None:
    qtbot.waitUntil(lambda: place.job is None and place._steps is None, timeout=20_000)


def tags(window: MainWindow) -> list[str]:
    return [unit.tag for unit in place_of(window).document.units()]


def test_units_are_looked_through_and_added_by_keys(
    open_window: Callable[..., MainWindow], csv_path: Path, qtbot: QtBot
) -> None:
    window = open_window()
    press(Qt.Key.Key_L, CONTROL)
    place = schedule_of(window)
    assert focused() is place.path
    type_text(str(csv_path))
    press(Qt.Key.Key_Return)
    wait_for(qtbot, place)
    assert tags(window) == []  # nothing is added by looking
    assert focused() is place.units
    assert [place.model.index(n, 1).data() for n in range(3)] == ["RTU-1", "RTU-2", "RTU-3"]
    assert place.tabs[1].text() == "Columns (10, 1 not read)"
    heads = [place.columns_of.index(n, 1).data() for n in range(10)]
    taken = [place.columns_of.index(n, 2).data() for n in range(10)]
    assert dict(zip(heads, taken, strict=True))["Colour"] == "not read"
    assert dict(zip(heads, taken, strict=True))["Mark"] == "the unit's tag"
    faults = " ".join(
        str(place.faults_of.index(n, 1).data()) for n in range(place.faults_of.rowCount())
    )
    assert "x12" in faults and "RTU-1" in faults
    press(Qt.Key.Key_Down)
    press(Qt.Key.Key_Space)  # RTU-2 stays out
    assert place.model.index(1, 0).data() == "left out"
    assert place.add.text() == "Add 2 units"
    press(Qt.Key.Key_Return, CONTROL)
    wait_for(qtbot, place)
    assert tags(window) == ["RTU-1", "RTU-3"]
    document = place_of(window).document
    unit = document.units()[0].id
    reading = document.results(unit).reading("design_airflow_cfm", ())
    assert reading is not None and (reading.value, reading.source) == (4000.0, "schedule")
    assert document.session.source == "window"
    board = place_of(window).board
    assert board.table.hasFocus() and board._current_unit() == unit
    assert "2 units added" in place_of(window).strip.words.text()


def test_a_schedule_dropped_on_the_board_is_read(
    open_window: Callable[..., MainWindow], csv_path: Path, qtbot: QtBot
) -> None:
    window = open_window()
    board = place_of(window).board
    _drop(board, csv_path)
    wait_for(qtbot, schedule_of(window))
    assert schedule_of(window).add.text() == "Add 3 units"
    assert place_of(window).stack.currentWidget() is schedule_of(window)


def _drop(widget: QWidget, path: Path) -> None:
    mime = QMimeData()
    mime.setUrls([QUrl.fromLocalFile(str(path))])
    action, no_key = Qt.DropAction.CopyAction, Qt.KeyboardModifier.NoModifier
    left = Qt.MouseButton.LeftButton
    enter = QDragEnterEvent(QPointF(50, 50).toPoint(), action, mime, left, no_key)
    QApplication.sendEvent(widget, enter)
    assert enter.isAccepted()
    QApplication.sendEvent(widget, QDropEvent(QPointF(50, 50), action, mime, left, no_key))


def test_the_button_is_where_a_unit_is_added(
    open_window: Callable[..., MainWindow], csv_path: Path, qtbot: QtBot
) -> None:
    window = open_window(Dialogs(choose_schedule=lambda _parent: csv_path))
    board = place_of(window).board
    board.add_button.setFocus()
    press(Qt.Key.Key_Space)
    board.form.schedule.setFocus()
    press(Qt.Key.Key_Space)
    place = schedule_of(window)
    place._choose()
    wait_for(qtbot, place)
    assert len(place.standings) == 3


def test_what_is_no_schedule_is_a_sentence_in_place(
    open_window: Callable[..., MainWindow], tmp_path: Path, qtbot: QtBot
) -> None:
    window = open_window()
    other = tmp_path / "prose.csv"
    other.write_text("Dear all,\nplease find nothing.\n", encoding="utf-8")
    place_of(window).read_schedule(other)
    place = schedule_of(window)
    wait_for(qtbot, place)
    assert "no row of heads" in place.said.text() and place.said.isVisible()
    assert not place.units.isVisible() and focused() is place.path


def test_adding_can_be_stopped_and_what_was_added_is_said(
    open_window: Callable[..., MainWindow], csv_path: Path, qtbot: QtBot
) -> None:
    window = open_window()
    place_of(window).read_schedule(csv_path)
    place = schedule_of(window)
    wait_for(qtbot, place)
    place.add_chosen()
    assert focused() is place.cancel
    press(Qt.Key.Key_Space)
    assert tags(window) == ["RTU-1"]
    assert "not whole" in place_of(window).strip.words.text()
    place.add_chosen()  # the rest
    wait_for(qtbot, place)
    assert tags(window) == ["RTU-1", "RTU-2", "RTU-3"]


def test_closing_while_reading_and_while_adding(
    open_window: Callable[..., MainWindow], csv_path: Path, qtbot: QtBot
) -> None:
    window = open_window()
    place_of(window).read_schedule(csv_path)
    place = schedule_of(window)
    wait_for(qtbot, place)
    place.add_chosen()
    window.close()
    QApplication.processEvents()
    assert window.workplace is None


def columns_of(place: SchedulePlace) -> dict[str, str]:
    """Return what each head is taken as."""
    model = place.columns_of
    return {
        str(model.index(n, 1).data()): str(model.index(n, 2).data())
        for n in range(model.rowCount())
    }


def to_column(keys: Keyboard, place: SchedulePlace, head: str) -> None:
    """Go to a column in the list of columns, and open it."""
    keys.tab_to(place.columns.list, back=focused() is not place.columns.list)
    keys.press(Qt.Key.Key_Home, CONTROL)
    while place.columns_of.index(place.columns.list.currentIndex().row(), 1).data() != head:
        keys.press(Qt.Key.Key_Down)
    keys.press(Qt.Key.Key_Return)
    assert place.columns.asking.isVisible()


def test_a_column_is_taken_as_something_else_by_keys(
    open_window: Callable[..., MainWindow], csv_path: Path, qtbot: QtBot
) -> None:
    window = open_window()
    keys = Keyboard()
    place_of(window).read_schedule(csv_path)
    place = schedule_of(window)
    wait_for(qtbot, place)
    press(Qt.Key.Key_Down)
    press(Qt.Key.Key_Space)  # RTU-2 stays out, whatever the columns are
    keys.tab_to(place.tabs[1], back=True)
    keys.press(Qt.Key.Key_Space)
    assert focused() is place.columns.list
    to_column(keys, place, "Colour")
    keys.type("area serv")
    keys.press(Qt.Key.Key_Down)
    keys.press(Qt.Key.Key_Return)  # from the list of matches
    keys.press(Qt.Key.Key_Return)
    wait_for(qtbot, place)
    assert columns_of(place)["Colour"] == "Area served"
    assert focused() is place.columns.list
    assert place.model.index(1, 0).data() == "left out"
    to_column(keys, place, "ESP")
    keys.type("not read")
    keys.tab_to(place.columns.take)
    keys.press(Qt.Key.Key_Space)
    wait_for(qtbot, place)
    assert columns_of(place)["ESP"] == "not read"
    keys.tab_to(place.tabs[0], back=True)
    keys.press(Qt.Key.Key_Space)
    keys.press(Qt.Key.Key_Return, CONTROL)
    wait_for(qtbot, place)
    document = place_of(window).document
    assert tags(window) == ["RTU-1", "RTU-3"]
    results = document.results(document.units()[0].id)
    served = results.reading("area_served", ())
    assert served is not None and served.value == "grey"
    assert results.reading("design_external_static_inwc", ()) is None


def test_taken_twice_the_first_is_not_read_and_a_tag_there_must_be(
    open_window: Callable[..., MainWindow], csv_path: Path, qtbot: QtBot
) -> None:
    window = open_window()
    keys = Keyboard()
    place_of(window).read_schedule(csv_path)
    place = schedule_of(window)
    wait_for(qtbot, place)
    keys.tab_to(place.tabs[1], back=True)
    keys.press(Qt.Key.Key_Space)
    to_column(keys, place, "Mark")
    keys.type("not read")
    keys.tab_to(place.columns.take)
    keys.press(Qt.Key.Key_Space)
    assert "must hold the units' tags" in place.columns.refusal.text()
    assert columns_of(place)["Mark"] == "the unit's tag"
    keys.press(Qt.Key.Key_Escape)
    to_column(keys, place, "Colour")
    keys.type("the unit's tag")
    keys.tab_to(place.columns.take)
    keys.press(Qt.Key.Key_Space)
    wait_for(qtbot, place)
    assert columns_of(place)["Mark"] == "not read"
    assert [place.model.index(n, 1).data() for n in range(place.model.rowCount())] == [
        "grey",
        "red",
    ]
    to_column(keys, place, "MCA")
    keys.press(Qt.Key.Key_Return)
    assert "Say what the column is" in place.columns.refusal.text()
    keys.press(Qt.Key.Key_Backtab, SHIFT)
    assert focused() is place.columns.list


def test_a_column_is_opened_by_the_mouse_as_well(
    open_window: Callable[..., MainWindow], csv_path: Path, qtbot: QtBot
) -> None:
    window = open_window()
    place_of(window).read_schedule(csv_path)
    place = schedule_of(window)
    wait_for(qtbot, place)
    qtbot.mouseClick(place.tabs[1], Qt.MouseButton.LeftButton)
    view = place.columns.list
    cell = view.visualRect(place.columns_of.index(0, 1)).center()
    qtbot.mouseClick(view.viewport(), Qt.MouseButton.LeftButton, pos=cell)
    assert place.columns.asking.isVisible() and focused() is place.columns.finder
    type_text("Maximum overcurrent")
    place.columns.finder.put("nameplate_mocp_a")
    qtbot.mouseClick(place.columns.take, Qt.MouseButton.LeftButton)
    wait_for(qtbot, place)
    assert "MOCP" in columns_of(place)["MCA"] or "overcurrent" in columns_of(place)["MCA"]


# Heads of no schedule that we know: none of them is told, or the tag's is not.
NO_TAG = CSV.replace(",Mark,", ",Rooftop,")
UNKNOWN = """Kenn;Wo;Farbe
RTU-7;Hall;grey
RTU-8;Shop;red
"""


def _without_tags(tmp_path: Path, content: str, ending: str) -> Path:
    made = tmp_path / f"unknown{ending}"
    if ending == ".csv":
        made.write_text(content, encoding="utf-8")
        return made
    book = Workbook()
    sheet = book.active
    assert sheet is not None
    for line in content.splitlines():
        sheet.append(line.split(";" if ";" in content else ","))
    book.save(made)
    return made


@pytest.mark.parametrize("ending", [".csv", ".xlsx"])
def test_where_no_tag_is_known_a_column_is_taken_as_it_by_keys(
    ending: str, open_window: Callable[..., MainWindow], tmp_path: Path, qtbot: QtBot
) -> None:
    window = open_window()
    keys = Keyboard()
    place_of(window).read_schedule(_without_tags(tmp_path, UNKNOWN, ending))
    place = schedule_of(window)
    wait_for(qtbot, place)
    assert place.said.isVisible() and "units' tags" in place.said.text()
    assert not place.add.isEnabled() and place.model.rowCount() == 0
    assert focused() is place.columns.list
    assert columns_of(place) == {"Kenn": "not read", "Wo": "not read", "Farbe": "not read"}
    to_column(keys, place, "Wo")
    keys.type("area serv")
    keys.press(Qt.Key.Key_Down)
    keys.press(Qt.Key.Key_Return)
    keys.press(Qt.Key.Key_Return)
    assert "as the tag first" in place.columns.refusal.text()  # whose row it is comes first
    keys.press(Qt.Key.Key_Escape)
    to_column(keys, place, "Kenn")
    keys.type("the unit's tag")
    keys.tab_to(place.columns.take)
    keys.press(Qt.Key.Key_Space)
    wait_for(qtbot, place)
    assert not place.said.isVisible()
    to_column(keys, place, "Wo")
    keys.type("area serv")
    keys.press(Qt.Key.Key_Down)
    keys.press(Qt.Key.Key_Return)
    keys.press(Qt.Key.Key_Return)
    wait_for(qtbot, place)
    keys.tab_to(place.tabs[0], back=True)
    keys.press(Qt.Key.Key_Space)
    keys.press(Qt.Key.Key_Return, CONTROL)
    wait_for(qtbot, place)
    assert tags(window) == ["RTU-7", "RTU-8"]
    document = place_of(window).document
    served = document.results(document.units()[1].id).reading("area_served", ())
    assert served is not None and served.value == "Shop"


def test_where_no_tag_is_known_a_column_is_taken_as_it_by_the_mouse(
    open_window: Callable[..., MainWindow], tmp_path: Path, qtbot: QtBot
) -> None:
    window = open_window()
    place_of(window).read_schedule(_without_tags(tmp_path, NO_TAG, ".csv"))
    place = schedule_of(window)
    wait_for(qtbot, place)
    assert place.said.isVisible() and place.columns.list.isVisible()
    known = columns_of(place)
    assert known["Rooftop"] == "not read" and known["RLA 2"] != "not read"
    view = place.columns.list
    cell = view.visualRect(place.columns_of.index(list(known).index("Rooftop"), 1)).center()
    qtbot.mouseClick(view.viewport(), Qt.MouseButton.LeftButton, pos=cell)
    type_text("the unit's tag")
    qtbot.mouseClick(place.columns.take, Qt.MouseButton.LeftButton)
    wait_for(qtbot, place)
    qtbot.mouseClick(place.tabs[0], Qt.MouseButton.LeftButton)
    assert [place.model.index(n, 1).data() for n in range(3)] == ["RTU-1", "RTU-2", "RTU-3"]
    qtbot.mouseClick(place.add, Qt.MouseButton.LeftButton)
    wait_for(qtbot, place)
    assert tags(window) == ["RTU-1", "RTU-2", "RTU-3"]
