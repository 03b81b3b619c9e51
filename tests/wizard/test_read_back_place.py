"""A workbook brought home in the window, with real keys: compared, looked through, taken."""

from __future__ import annotations

import time
from pathlib import Path
from typing import Any

import pytest
from openpyxl import load_workbook
from PySide6.QtCore import QMimeData, QPointF, Qt, QUrl
from PySide6.QtGui import QDropEvent
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication
from pytestqt.qtbot import QtBot

from commission.validation.site import site_results
from commission.wizard.dialogs import Dialogs
from commission.wizard.read_back_place import ReadBackPlace
from commission.wizard.window import MainWindow
from commission.workbook import write_workbook
from wizard.at_the_window import focused, place_of, press, stored, type_text

CONTROL = Qt.KeyboardModifier.ControlModifier
SHIFT = Qt.KeyboardModifier.ShiftModifier
WITHIN = 60_000


def put(book: Any, name: str, value: object) -> None:
    sheet, cell = book.defined_names[name].attr_text.rsplit("!", 1)
    book[sheet.strip("'")][cell.replace("$", "")] = value


def returned(window: MainWindow, folder: Path, values: dict[str, object]) -> Path:
    """Export the open project, and give it back with other contents in named cells."""
    session = place_of(window).document.session
    path = write_workbook(site_results(session.project, session.form), folder / "out.xlsx")
    book = load_workbook(path)
    for name, value in values.items():
        put(book, name, value)
    book.save(folder / "back.xlsx")
    return folder / "back.xlsx"


def go(window: MainWindow) -> ReadBackPlace:
    """Go there by its key."""
    QTest.keyClick(window, Qt.Key.Key_E, CONTROL | SHIFT)
    place = place_of(window).place("read_back")
    assert isinstance(place, ReadBackPlace)
    assert place_of(window).stack.currentWidget() is place
    return place


def wait_for(qtbot: QtBot, place: ReadBackPlace) -> None:
    qtbot.waitUntil(lambda: place.job is None and not place._waiting, timeout=WITHIN)


def standings(place: ReadBackPlace) -> dict[str, str]:
    assert place.review is not None
    return {place.review.rows[n].name: word for n, word in place._standings.items()}


@pytest.fixture
def place(window: MainWindow, tmp_path: Path, qtbot: QtBot) -> ReadBackPlace:
    """A workbook in which two readings were typed, one was misspelt, and one is in conflict."""
    document = place_of(window).document
    unit_id = document.units()[0].id
    document.enter(unit_id, _key("control_v"), "24")
    values = {
        "u1_rated_v": 230,
        "p_site_name": "North roof",
        "u1_motors": "a few",
        "u1_control_v": 25.5,
    }
    path = returned(window, tmp_path, values)
    document.enter(unit_id, _key("control_v"), "26")
    made = go(window)
    assert focused() is made.path
    type_text(str(path))
    press(Qt.Key.Key_Return)
    assert made.job is not None
    wait_for(qtbot, made)
    return made


def _key(name: str) -> Any:
    from commission.definitions.model import Key

    return Key(name)


def test_rows_are_taken_by_keys_one_and_all(
    window: MainWindow, place: ReadBackPlace, qtbot: QtBot
) -> None:
    assert standings(place) == {
        "u1_rated_v": "changed",
        "p_site_name": "changed",
        "u1_motors": "not clear",
        "u1_control_v": "conflict",
    }
    assert focused() is place.list
    words = [place.model.index(row, 0).data() for row in range(place.model.rowCount())]
    at = words.index("conflict")
    place.list.selectRow(0)
    for _ in range(at):
        press(Qt.Key.Key_Down)
    assert [shown.text() for shown in place.detail.values] == ["24 V", "25.50 V", "26 V"]
    assert "in the project now" in place.detail.sentence.text()
    assert stored(window, "control_v") == 26.0
    press(Qt.Key.Key_Return)
    wait_for(qtbot, place)
    assert stored(window, "control_v") == 25.5
    assert standings(place)["u1_control_v"] == "entered"
    assert stored(window, "rated_v") != 230.0
    press(Qt.Key.Key_Return, CONTROL)
    wait_for(qtbot, place)
    assert stored(window, "rated_v") == 230.0
    assert standings(place) == {
        "u1_rated_v": "entered",
        "p_site_name": "entered",
        "u1_motors": "not clear",
        "u1_control_v": "entered",
    }
    session = place_of(window).document.session
    reading = session.project.readings(place_of(window).document.units()[0].id)["rated_v", ()]
    assert reading.source == "workbook"
    assert session.source == "window"
    assert "3 entered" not in place_of(window).strip.words.text()  # two by that key
    assert "2 entered" in place_of(window).strip.words.text()


def test_what_cannot_be_entered_stays_with_its_reason(
    window: MainWindow, place: ReadBackPlace
) -> None:
    words = [place.model.index(row, 0).data() for row in range(place.model.rowCount())]
    place.list.selectRow(words.index("not understood"))
    assert not place.detail.take.isVisible()
    assert "a few" in place.detail.sentence.text()
    press(Qt.Key.Key_Return)
    assert standings(place)["u1_motors"] == "not clear"
    assert stored(window, "motors") != "a few"


def test_undo_takes_an_accepted_reading_back(
    window: MainWindow, place: ReadBackPlace, qtbot: QtBot
) -> None:
    before = stored(window, "rated_v")
    press(Qt.Key.Key_Return, CONTROL)
    wait_for(qtbot, place)
    assert stored(window, "rated_v") == 230.0
    for _ in range(2):
        QTest.keyClick(window, Qt.Key.Key_Z, CONTROL)
    assert stored(window, "rated_v") == before


def test_a_file_is_dropped_or_chosen_and_a_strange_one_refused(
    make_window, project_path: Path, tmp_path: Path, qtbot: QtBot
) -> None:
    strange = tmp_path / "strange.xlsx"
    strange.write_bytes(b"PK no zip")
    window = make_window(Dialogs(choose_workbook=lambda _parent: strange))
    window.open_project(project_path)
    place = go(window)
    urls = QMimeData()
    urls.setUrls([QUrl.fromLocalFile(str(strange))])
    drop = QDropEvent(
        QPointF(5, 5),
        Qt.DropAction.CopyAction,
        urls,
        Qt.MouseButton.LeftButton,
        Qt.KeyboardModifier.NoModifier,
    )
    place.dropEvent(drop)
    assert place.job is not None
    wait_for(qtbot, place)
    assert "damaged or cut short" in place.remarks.text()
    place.remarks.setText("")
    place._choose()
    wait_for(qtbot, place)
    assert "damaged or cut short" in place.remarks.text()
    assert place.review is None


def test_the_window_stays_free_and_cancel_ends_the_reading(
    window: MainWindow, tmp_path: Path, qtbot: QtBot
) -> None:
    path = returned(window, tmp_path, {})
    place = go(window)
    place.open_file(path)
    assert place.job is not None
    assert focused() is place.cancel
    longest, last = 0.0, time.monotonic()
    for _ in range(20):
        QApplication.processEvents()
        QTest.qWait(5)
        longest, last = max(longest, time.monotonic() - last), time.monotonic()
    assert longest < 2.0
    if place.job is not None:
        press(Qt.Key.Key_Space)
        wait_for(qtbot, place)
        assert place.review is None
        assert "Cancelled" in place_of(window).strip.words.text()


def test_export_leads_there(window: MainWindow) -> None:
    place_of(window).go("export")
    export = place_of(window).place("export")
    export.back.setFocus()  # type: ignore[attr-defined]
    press(Qt.Key.Key_Space)
    assert isinstance(place_of(window).stack.currentWidget(), ReadBackPlace)
