"""Functional tests run step by step, by key presses alone, with a clock that is moved by hand."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QApplication, QLabel

from commission.definitions.load import load_form
from commission.definitions.model import Form
from commission.project import ProjectFile
from commission.validation.session import Session
from commission.wizard.drawing_view import DrawingView
from commission.wizard.inputs import Group
from commission.wizard.stepper_place import StepperPlace
from commission.wizard.window import MainWindow
from wizard.at_the_window import focused, open_page, place_of, press, type_text

CONTROL = Qt.KeyboardModifier.ControlModifier
CONFIGURATION = {
    "phases": "3", "cooling_stages": "1", "circuits": "1", "compressors": "1",
    "condenser_fans": "1", "fan_speed_control": "one speed", "heat_type": "gas",
    "gas_valve": "one stage", "heat_stages": "1", "draft_inducers": "1",
    "ignition": "direct spark", "economizer": "none", "outdoor_damper": "none",
    "relief": "none", "control_kind": "thermostat", "vent_pressure_switch_fitted": "yes",
    "phase_monitor_fitted": "yes", "rollout_switch_fitted": "no",
}  # fmt: skip
GUARDS = ("gas_leak_test_passed", "gas_purged", "gas_protections_not_bypassed", "vent_clear",
          "carbon_monoxide_alarm_worn")  # fmt: skip


class Clock:
    """A clock that is moved by hand."""

    def __init__(self) -> None:
        self.now = 50.0

    def __call__(self) -> float:
        return self.now


@pytest.fixture(scope="module")
def shipped() -> Form:
    return load_form()


@pytest.fixture
def gas_project(tmp_path: Path, shipped: Form) -> Path:
    path = tmp_path / "gas.rtuproject"
    with Session.create(path, shipped, "Depot roof") as session:
        unit = session.add_unit("RTU-1")
        for name, text in CONFIGURATION.items():
            session.enter(unit.id, name, (), text)
        for name in GUARDS:
            session.enter(unit.id, name, (), "done")
    return path


@pytest.fixture
def window(make_window: Callable[..., MainWindow], gas_project: Path, shipped: Form) -> MainWindow:
    made = make_window(load=lambda: shipped)
    made.open_project(gas_project)
    return made


@pytest.fixture
def clock(window: MainWindow) -> Clock:
    """Give the stepper a clock of ours before it is first gone to."""
    made = Clock()
    place = place_of(window).place("tests")
    assert isinstance(place, StepperPlace)
    place.use_clock(made)
    return made


def stepper(window: MainWindow) -> StepperPlace:
    place = place_of(window).stack.currentWidget()
    assert isinstance(place, StepperPlace)
    return place


def run_from(window: MainWindow, page: str) -> StepperPlace:
    """Open a page, go to its tests by key, and into the first step."""
    open_page(window, page)
    press(Qt.Key.Key_R, CONTROL)
    press(Qt.Key.Key_Return)
    QApplication.processEvents()
    return stepper(window)


def kept(window: MainWindow, name: str, pass_name: str = "as found") -> object:
    """Return what the project file itself holds in one pass, read anew from the disk."""
    with ProjectFile.open(place_of(window).path, read_only=True) as project:
        unit = project.units()[0]
        history = [one for one in project.history(unit.id, name) if one.pass_name == pass_name]
        return history[-1].value if history else None


def light(clock: Clock, times: tuple[float, ...] = (1.84, 6.0, 31.0, 2.4, 44.0)) -> None:
    """Press the stopwatch at the call, and after each of these seconds."""
    press(Qt.Key.Key_Space)
    for seconds in times:
        clock.now += seconds
        press(Qt.Key.Key_Space)


def test_the_page_leads_to_its_own_tests(window: MainWindow, clock: Clock) -> None:
    place = run_from(window, "functional_gas_heat")
    assert place.test is not None and place.test.name == "gas_chain"
    assert place.title.text() == "RTU-1: Gas heat: the chain from call to flame and back"
    assert place.where.text() == "step 1 of 2, kept as 'as found'"


def test_one_key_starts_at_the_call_and_marks_each_event(window: MainWindow, clock: Clock) -> None:
    place = run_from(window, "functional_gas_heat")
    assert place.view is not None
    assert place.view.told.text() == "Space: the call is made now, the clock starts."
    light(clock)
    assert kept(window, "inducer_start_s") == 1.8
    assert kept(window, "vent_switch_close_s") == 6.0
    assert kept(window, "prepurge_s") == 31.0
    assert kept(window, "ignition_trial_s") == 2.4
    assert kept(window, "heating_fan_on_delay_s") == 44.0
    assert place.view.clock.text() == "85.2 s"
    assert place.view.told.text() == "All events are marked."


def test_a_live_verdict_with_its_limit_stands_beside_each_mark(
    window: MainWindow, clock: Clock
) -> None:
    place = run_from(window, "functional_gas_heat")
    light(clock, (45.0,))
    assert place.view is not None
    row = place.view.rows[0].field
    assert row is not None and row.verdicts
    told = " ".join(one.text() for one in row.verdicts[0].findChildren(QLabel))
    assert "fail" in told and "45.0 s is above the high limit 30.0 s" in told


def test_yes_and_no_by_one_key_then_the_next_step(window: MainWindow, clock: Clock) -> None:
    place = run_from(window, "functional_gas_heat")
    light(clock)
    assert isinstance(focused(), Group)
    for letter in "yyyy":
        type_text(letter)
    assert kept(window, "inducer_starts_first") == "yes"
    assert kept(window, "heating_fan_starts_after_delay") == "yes"
    assert focused() is place.next
    press(Qt.Key.Key_PageDown)
    assert place.number == 1 and place.view is not None
    light(clock, (1.0, 15.0, 106.0))
    assert kept(window, "gas_off_s") == 1.0
    assert kept(window, "heating_fan_off_delay_s") == 121.0
    assert any(one.drawing.shapes for one in place.findChildren(DrawingView))
    press(Qt.Key.Key_PageUp)
    assert place.number == 0


def test_a_dangerous_mark_is_a_stop_at_once_with_what_to_do(
    window: MainWindow, clock: Clock
) -> None:
    place = run_from(window, "functional_gas_heat")
    light(clock)
    type_text("yn")
    assert place.view is not None
    assert place.view.danger.isVisible()
    assert "Remove the call, close the manual gas valve" in place.view.danger_words.text()
    assert "STOP" in place.list.items.currentItem().text()
    assert QApplication.activeModalWidget() is None
    press(Qt.Key.Key_Delete)  # the focus is on the mark after it
    place.view.editors()[6].setFocus()
    type_text("y")
    assert not place.view.danger.isVisible()


def test_a_retest_keeps_the_run_before(window: MainWindow, clock: Clock) -> None:
    place = run_from(window, "functional_gas_heat")
    light(clock)
    press(Qt.Key.Key_F5)
    assert place.where.text() == "step 1 of 2, kept as 'retest 1'"
    light(clock, (3.0,))
    assert kept(window, "inducer_start_s") == 1.8
    assert kept(window, "inducer_start_s", "retest 1") == 3.0
    assert place.view is not None
    runs = place.view.rows[0].runs
    QApplication.processEvents()
    assert runs.isVisible() and runs.text() == "Runs kept: as found: 1.8 s; retest 1: 3.0 s"
    press(Qt.Key.Key_F5)
    light(clock, (2.0,))
    assert kept(window, "inducer_start_s", "retest 2") == 2.0
    press(Qt.Key.Key_B, CONTROL)
    assert place_of(window).document.session.pass_name == "as found"


def test_the_first_run_is_no_retest(window: MainWindow, clock: Clock) -> None:
    run_from(window, "functional_gas_heat")
    press(Qt.Key.Key_F5)
    assert place_of(window).document.session.pass_name == "as found"
    assert place_of(window).strip.words.text().startswith("Nothing is marked yet")


def test_a_time_can_be_typed_and_a_field_marked_not_applicable(
    window: MainWindow, clock: Clock
) -> None:
    run_from(window, "functional_gas_heat")
    type_text("2.5 s")
    press(Qt.Key.Key_Return)
    assert kept(window, "inducer_start_s") == 2.5
    type_text("n/a no tap")
    press(Qt.Key.Key_Return)
    with ProjectFile.open(place_of(window).path, read_only=True) as project:
        reading = project.readings(project.units()[0].id)[("vent_switch_close_s", ())]
    assert reading.not_applicable == "no tap"


def test_the_clock_goes_back_to_zero_and_keeps_what_is_marked(
    window: MainWindow, clock: Clock
) -> None:
    place = run_from(window, "functional_gas_heat")
    light(clock, (2.0,))
    press(Qt.Key.Key_F6)
    assert place.view is not None and not place.view.run.is_running
    assert place.view.clock.text() == "0.0 s"
    assert kept(window, "inducer_start_s") == 2.0
    light(clock, (4.0,))
    assert kept(window, "inducer_start_s") == 4.0


def test_an_event_out_of_its_order_is_refused_in_words(window: MainWindow, clock: Clock) -> None:
    place = run_from(window, "functional_gas_heat")
    assert place.view is not None
    press(Qt.Key.Key_Space)
    place.view.run._came = {"call": clock.now}
    prepurge = place.view.rows[2].mark
    with pytest.raises(Exception, match="Vent pressure switch closes"):
        place.view.run.mark(prepurge)


def test_a_page_that_is_closed_closes_its_steps(window: MainWindow, clock: Clock) -> None:
    document = place_of(window).document
    unit = document.units()[0].id
    document.session.enter(unit, "gas_purged", (), "not done")
    document.refresh()
    open_page(window, "functional_gas_heat")
    press(Qt.Key.Key_R, CONTROL)
    place = stepper(window)
    assert place.view is not None and not place.view.body.isEnabled()
    press(Qt.Key.Key_Space)
    assert not place.view.run.is_running
    assert place.view.guard.isVisible()


def test_signals_and_the_list_by_keyboard(window: MainWindow, clock: Clock) -> None:
    place = run_from(window, "functional_fan")
    place.start()
    press(Qt.Key.Key_Home)
    assert place.title.text() == "RTU-1: signals"
    told = {one.text() for one in place.area.findChildren(QLabel)}
    assert {"R", "C", "G", "Y1", "W1"} <= told
    assert "draft inducer, igniter, gas valve, flame, indoor fan" in told
    press(Qt.Key.Key_PageDown)
    assert place.test is not None and place.test.name == "calls"
    press(Qt.Key.Key_PageDown)
    assert place.number == 1
    place.start()
    press(Qt.Key.Key_Escape)
    page = place_of(window).pages.page
    assert page is not None and page.section.name == "functional_fan"


def test_an_undo_goes_back_to_the_page_of_the_mark(window: MainWindow, clock: Clock) -> None:
    run_from(window, "functional_gas_heat")
    light(clock, (2.0,))
    press(Qt.Key.Key_Z, CONTROL)
    assert kept(window, "inducer_start_s") is None
