"""A program that is killed opens again at the project, page and field where a person was."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QPushButton
from pytestqt.qtbot import QtBot

from commission.definitions.model import Key
from commission.wizard.deficiency_log import DeficiencyLog
from commission.wizard.people_and_instruments import PeopleAndInstruments
from commission.wizard.preferences import config_folder
from commission.wizard.record_form import RecordForm
from commission.wizard.sign_off import SignOff
from commission.wizard.sign_panel import SignPanel
from commission.wizard.tracing import here
from commission.wizard.whereabouts import Trace, Whereabouts, left_behind
from commission.wizard.window import MainWindow
from commission.wizard.workplace import PLACES
from wizard.at_the_window import (
    field_row,
    focused,
    grid,
    open_page,
    place_of,
    press,
    stored,
    type_text,
)
from wizard.typist import CONTROL, SHIFT, Keyboard

_TRACED_MS = 300

_KILLED = """
import sys
sys.path.insert(0, {tests!r})
from pathlib import Path
from PySide6.QtCore import QTimer
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QPushButton
from commission.definitions.load import load_form
from commission.wizard.application import prepared_application
from commission.wizard.preferences import Preferences
from commission.wizard.window import MainWindow
from commission.wizard.workplace import PLACES
import at_the_window as hand

app = prepared_application()
window = MainWindow(None, Preferences.load(), lambda: load_form(Path({form!r})))
window.show()
window.activateWindow()
window.open_project(Path({project!r}))
page = hand.open_page(window, "volts")
hand.field_row(page, "control_v").input.editor().setFocus()
hand.type_text("24,5")
QTest.qWait(400)
print("typed", flush=True)
app.exec()
"""


@pytest.fixture
def traced(window: MainWindow) -> MainWindow:
    QTest.qWait(_TRACED_MS)
    return window


def test_killed_with_half_a_reading_typed_it_opens_there_again(
    make_window: Callable[..., MainWindow],
    project_path: Path,
    form_folder: Path,
    own_folder: Path,
    qtbot: QtBot,
) -> None:
    script = _KILLED.format(
        tests=str(Path(__file__).parent), form=str(form_folder), project=str(project_path)
    )
    told = {**os.environ, "COMMISSION_CONFIG_DIR": str(own_folder)}
    with subprocess.Popen([sys.executable, "-c", script], stdout=subprocess.PIPE, env=told) as run:
        assert run.stdout is not None
        assert run.stdout.readline() == b"typed\n"
        assert left_behind() == []  # it is running: nothing is lost
        run.send_signal(signal.SIGKILL)
    window = make_window()
    window.begin()
    assert window.workplace is not None
    assert window.workplace.path.resolve() == project_path.resolve()
    page = window.workplace.page_at_hand()
    assert page is not None and page.section.name == "volts"
    row = field_row(page, "control_v")
    assert row.input.editor() is focused()
    assert row.input.text() == "24,5"
    assert stored(window, "control_v") is None
    assert "24,5" in window.workplace.strip.words.text()
    press(Qt.Key.Key_Return)
    assert stored(window, "control_v") == 24.5
    assert left_behind() == []


def test_a_cell_half_typed_comes_back_as_typed(traced: MainWindow) -> None:
    page = open_page(traced, "volts")
    block = grid(page, "motor_a")
    block.focus_key(Key("motor_a", (2, 3)))
    type_text("7.")
    assert traced.workplace is not None
    found = here(traced.workplace)
    assert (found.page, found.key, found.typed) == ("volts", Key("motor_a", (2, 3)), "7.")
    press(Qt.Key.Key_Escape)
    assert page.put_typed(Key("motor_a", (2, 3)), "7.")
    type_text("4")
    press(Qt.Key.Key_Return)
    assert stored(traced, "motor_a", (2, 3)) == 7.4


def test_closed_in_order_nothing_is_left_behind(
    make_window: Callable[..., MainWindow], traced: MainWindow, own_folder: Path
) -> None:
    open_page(traced, "volts")
    QTest.qWait(_TRACED_MS)
    assert list((own_folder / "open_now").glob("*.json"))
    traced.close()
    assert not list((own_folder / "open_now").glob("*.json"))
    again = make_window()
    again.begin()
    assert again.workplace is None


def test_another_look_leaves_one_trace(traced: MainWindow, own_folder: Path) -> None:
    traced.preferences.percent = 115
    traced._look_changed()
    QTest.qWait(_TRACED_MS)
    assert len(list((own_folder / "open_now").glob("*.json"))) == 1


def test_a_page_or_project_that_is_gone_is_said_and_nothing_else(
    make_window: Callable[..., MainWindow], project_path: Path, tmp_path: Path
) -> None:
    def leave(where: Whereabouts) -> None:
        trace = Trace()
        trace.note(where)
        trace._lock.unlock()

    leave(Whereabouts(str(project_path.resolve()), "no unit", "no page", "no field", (1,), "9"))
    window = make_window()
    window.begin()
    assert window.workplace is not None
    assert window.workplace.page_at_hand() is None
    assert "without closing" in window.workplace.strip.words.text()
    window.close()
    leave(Whereabouts(str(tmp_path / "gone.rtuproject")))
    window = make_window()
    window.begin()
    assert window.start is not None and "is gone" in window.start.said.text()


def test_a_named_project_opens_where_it_was_and_others_as_ever(
    make_window: Callable[..., MainWindow], window: MainWindow, project_path: Path
) -> None:
    assert window.workplace is not None
    unit = window.workplace.document.units()[0].id
    window.close()
    trace = Trace()
    trace.note(Whereabouts(str(project_path.resolve()), unit, "volts"))
    trace._lock.unlock()
    again = make_window()
    again.begin(project_path.resolve())
    assert again.workplace is not None
    page = again.workplace.page_at_hand()
    assert page is not None and page.section.name == "volts"


@pytest.mark.parametrize("place", PLACES)
def test_each_place_is_noted_and_come_back_to(
    make_window: Callable[..., MainWindow], traced: MainWindow, project_path: Path, place: str
) -> None:
    assert traced.workplace is not None
    traced.workplace.go(place)
    found = here(traced.workplace)
    assert (found.place, found.page) == (place, "")
    traced.close()
    trace = Trace()
    trace.note(found)
    trace._lock.unlock()
    again = make_window()
    again.begin()
    assert again.workplace is not None
    assert again.workplace.place_at_hand() == place
    assert "This is where you were" in again.workplace.strip.words.text()
    assert again.focusWidget() is not None


def test_a_trace_of_an_earlier_version_and_of_no_such_place(
    make_window: Callable[..., MainWindow], project_path: Path
) -> None:
    trace = Trace()
    trace.note(Whereabouts(str(project_path.resolve()), place="attic"))
    trace._lock.unlock()
    window = make_window()
    window.begin()
    assert window.workplace is not None and window.workplace.place_at_hand() == "board"


def reopened(make_window: Callable[..., MainWindow], window: MainWindow) -> MainWindow:
    """Leave a window as a crash does: its trace stays; begin again."""
    QTest.qWait(_TRACED_MS)
    assert window.workplace is not None
    found = here(window.workplace)
    folder = config_folder() / "open_now"
    kept = json.loads(next(folder.glob("*.json")).read_text(encoding="utf-8"))
    assert kept["form"] == found.form  # written down as it was typed
    window.close()
    trace = Trace()
    trace.note(found)
    trace._lock.unlock()
    again = make_window()
    again.begin()
    return again


def test_a_deficiency_half_typed_stands_in_its_form_again(
    make_window: Callable[..., MainWindow], traced: MainWindow
) -> None:
    keys = Keyboard()
    keys.press(Qt.Key.Key_D, CONTROL | SHIFT)
    log = place_of(traced).place("deficiencies")
    assert isinstance(log, DeficiencyLog)
    keys.choose(keys.focused(), 1)  # RTU-1
    keys.tab_to(log.about)
    keys.replace("Control voltage, Supply volts")
    keys.tab_to(log.form.inputs["description"])
    keys.type("Hums at")
    again = reopened(make_window, traced)
    log = place_of(again).place("deficiencies")
    assert isinstance(log, DeficiencyLog) and log.form.isVisible()
    assert "stands there again" in place_of(again).strip.words.text()
    assert place_of(again).document.session.project.deficiencies() == []
    keys.tab_to(log.form.inputs["description"])
    keys.press(Qt.Key.Key_End, CONTROL)
    keys.type(" full load.")
    keys.press(Qt.Key.Key_Return, CONTROL)
    found = place_of(again).document.session.project.deficiencies()
    assert [(one.description, one.check) for one in found] == [("Hums at full load.", "control_v")]
    assert found[0].unit_id == place_of(again).document.units()[0].id


@pytest.mark.parametrize(
    ("word", "name", "text"),
    [("Add a person", "name", "I. Ber"), ("Add an instrument", "serial", "E-1")],
)
def test_a_person_or_instrument_half_typed_stands_in_its_form_again(
    make_window: Callable[..., MainWindow], traced: MainWindow, word: str, name: str, text: str
) -> None:
    keys = Keyboard()

    def place(window: MainWindow) -> PeopleAndInstruments:
        made = place_of(window).place("people")
        assert isinstance(made, PeopleAndInstruments)
        return made

    def form(window: MainWindow) -> RecordForm:
        return place(window).instrument_form if name == "serial" else place(window).person_form

    keys.press(Qt.Key.Key_I, CONTROL)
    button = next(one for one in place(traced).findChildren(QPushButton) if one.text() == word)
    keys.tab_to(button, back=True)
    keys.press(Qt.Key.Key_Return)
    keys.tab_to(form(traced).inputs[name])
    keys.type(text)
    again = reopened(make_window, traced)
    assert form(again).isVisible() and form(again).values()[name] == text
    assert form(again).is_changed
    assert place_of(again).document.session.project.people() == []
    assert place_of(again).document.session.project.instruments() == []


def test_a_statement_half_typed_stands_in_its_form_again(
    make_window: Callable[..., MainWindow], traced: MainWindow
) -> None:
    document = place_of(traced).document
    unit_id = document.units()[0].id
    person = document.session.project.add_person("A. Person")

    def panel(window: MainWindow) -> SignPanel:
        made = place_of(window).place("sign_off")
        assert isinstance(made, SignOff)
        return made.panel

    keys = Keyboard()
    keys.press(Qt.Key.Key_G, CONTROL)
    keys.press(Qt.Key.Key_Return)
    panel(traced).choose_page("volts")
    keys.choose(panel(traced).role, 1)  # witnessed by
    keys.tab_to(panel(traced).person)
    keys.press(Qt.Key.Key_Down)
    keys.tab_to(panel(traced).statement)
    keys.type("Seen, but")
    again = reopened(make_window, traced)
    form = panel(again)
    assert (form.unit_id, form.page) == (unit_id, "volts")
    assert form.statement.toPlainText() == "Seen, but" and form.statement is focused()
    assert "stands there again" in place_of(again).strip.words.text()
    project = place_of(again).document.session.project
    assert project.signatures() == []
    keys.type(" the meter was cold.")
    keys.press(Qt.Key.Key_Return, CONTROL)
    [signed] = project.signatures()
    assert (signed.unit_id, signed.section, signed.role) == (unit_id, "volts", "witnessed")
    assert signed.person_id == person.id
    assert signed.statement.startswith("Seen, but the meter was cold.")


def test_a_statement_for_a_unit_that_is_gone_is_not_put_to_another(
    make_window: Callable[..., MainWindow], window: MainWindow, project_path: Path
) -> None:
    window.close()
    trace = Trace()
    form = {"unit_id": "no unit", "statement": "Seen."}
    trace.note(Whereabouts(str(project_path.resolve()), place="sign_off", form=form))
    trace._lock.unlock()
    again = make_window()
    again.begin()
    place = place_of(again).place("sign_off")
    assert isinstance(place, SignOff)
    assert place.panel.statement.toPlainText() == ""
    assert "stands there again" not in place_of(again).strip.words.text()
