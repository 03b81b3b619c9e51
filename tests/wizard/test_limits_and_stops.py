"""Limits edited in place, pages closed by a stop and opened by name and reason, deficiencies."""

from __future__ import annotations

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QApplication, QLabel, QPushButton
from pytestqt.qtbot import QtBot

from commission.project import ProjectFile
from commission.wizard.deficiency_log import DeficiencyLog
from commission.wizard.limit_editor import LimitEditor
from commission.wizard.verdict_view import VerdictView
from commission.wizard.window import MainWindow
from wizard.at_the_window import (
    field_row,
    focused,
    key,
    open_page,
    outcome,
    place_of,
    press,
    stored,
    type_text,
)

CONTROL = Qt.KeyboardModifier.ControlModifier


def enter(window: MainWindow, name: str, *index: int, text: str) -> None:
    """Enter a reading of the unit."""
    document = place_of(window).document
    assert document.enter(document.units()[0].id, key(name, *index), text).refusal == ""


def view_of(window: MainWindow, check: str) -> VerdictView:
    """Return the verdict of a check on the page that is open."""
    page = place_of(window).pages.page
    assert page is not None
    return next(
        view
        for view in page.findChildren(VerdictView)
        if view.key.name == check and view.isVisible()
    )


def open_editor(view: VerdictView) -> LimitEditor:
    """Open the limit editor by keys."""
    view.change.setFocus()
    press(Qt.Key.Key_Space)
    assert view.editor is not None
    return view.editor


def test_limit_is_typed_with_its_origin_and_the_verdict_follows(window: MainWindow) -> None:
    page = open_page(window, "volts")
    row = field_row(page, "control_v")
    row.input.editor().setFocus()
    type_text("24,5")
    press(Qt.Key.Key_Return)
    assert outcome(window, "control_in_range") == "missing"
    editor = open_editor(row.verdicts[0])
    assert focused() is editor.parts["low"]
    type_text("22")
    press(Qt.Key.Key_Tab)
    type_text("28,0")
    press(Qt.Key.Key_Return)
    assert "say where the limit comes from" in editor.refusal.text()
    editor.origin.setFocus()
    type_text("Manual, page 4, 2026-01-05")
    press(Qt.Key.Key_Return)
    assert row.verdicts[0].editor is None
    assert outcome(window, "control_in_range") == "pass"
    assert "Manual, page 4" in row.verdicts[0].limit.text()
    with ProjectFile.open(place_of(window).path, read_only=True) as project:
        limit = project.limits(project.units()[0].id)[("control_in_range", ())]
        assert dict(limit.parts) == {"low": 22, "high": 28}


def test_limit_faults_are_all_said_in_place(window: MainWindow) -> None:
    page = open_page(window, "volts")
    editor = open_editor(field_row(page, "control_v").verdicts[0])
    type_text("x")
    press(Qt.Key.Key_Return)
    assert "Low" in editor.refusal.text()
    assert "High: enter a number" in editor.refusal.text()
    editor.parts["low"].setText("30")
    editor.parts["high"].setText("28")
    editor.origin.setText("Manual")
    press(Qt.Key.Key_Return)
    assert "low 30 is above high 28" in editor.refusal.text()
    press(Qt.Key.Key_Escape)
    assert field_row(page, "control_v").verdicts[0].editor is None
    assert QApplication.activeModalWidget() is None


def test_default_limit_is_marked_and_confirmed(window: MainWindow) -> None:
    for number, text in enumerate(("460", "467", "450"), start=1):
        enter(window, "supply_v", number, text=text)
    open_page(window, "volts")
    view = view_of(window, "imbalance_small")
    assert view.sign.word.text() == "pass"
    assert "default, not confirmed: common practice" in view.limit.text()
    editor = open_editor(view)
    editor.confirm.setFocus()
    press(Qt.Key.Key_Space)
    assert "default, confirmed" in view.limit.text()
    editor = open_editor(view)
    editor.back.setFocus()
    press(Qt.Key.Key_Space)
    assert "not confirmed" in view.limit.text()


def test_limit_that_is_taken_back_leaves_the_projects_limit(window: MainWindow) -> None:
    enter(window, "control_v", text="24")
    document = place_of(window).document
    project = document.session.project
    project.set_limit("", "control_in_range", (), {"low": 20, "high": 30}, origin="Site rule")
    document.refresh()
    row = field_row(open_page(window, "volts"), "control_v")
    editor = open_editor(row.verdicts[0])
    assert editor.shared.isVisible()
    assert not editor.back.isVisible()
    editor.parts["low"].setText("25")
    editor.origin.setText("Manual")
    editor.origin.setFocus()
    press(Qt.Key.Key_Return)
    assert outcome(window, "control_in_range") == "fail"
    editor = open_editor(row.verdicts[0])
    assert not editor.shared.isVisible()
    editor.back.setFocus()
    press(Qt.Key.Key_Space)
    assert outcome(window, "control_in_range") == "pass"
    assert "Site rule" in row.verdicts[0].limit.text()


def test_stop_marked_not_applicable_by_nobody_keeps_the_page_closed(window: MainWindow) -> None:
    enter(window, "locked_out", text="n/a no disconnect here")
    page = open_page(window, "volts")
    assert page.guard.isVisible()
    said = [one.text() for one in page.guard.findChildren(QLabel)]
    assert any(
        "marked not applicable, but nobody is named: choose who you are at the top and answer "
        "again, on 'Power off'" in text
        for text in said
    )
    press(Qt.Key.Key_N, CONTROL | Qt.KeyboardModifier.ShiftModifier)
    type_text("A. Person")
    press(Qt.Key.Key_Return)
    QApplication.processEvents()
    page.refresh_frame()
    said = [one.text() for one in page.guard.findChildren(QLabel) if one.isVisible()]
    assert any("nobody is named: answer again" in text for text in said)
    # Passing by does not answer it; Enter on the same answer does, by name.
    safety = open_page(window, "safety")
    row = field_row(safety, "locked_out")
    row.input.setFocus()
    press(Qt.Key.Key_Tab)
    assert open_page(window, "volts").guard.isVisible()
    open_page(window, "safety")
    row.input.setFocus()
    press(Qt.Key.Key_A)
    press(Qt.Key.Key_Return)
    assert not open_page(window, "volts").guard.isVisible()
    with ProjectFile.open(place_of(window).path, read_only=True) as project:
        reading = project.readings(project.units()[0].id)[("locked_out", ())]
        assert reading.not_applicable == "no disconnect here"
        assert reading.person_id == project.people()[0].id


def test_limit_of_one_member_only(window: MainWindow) -> None:
    for number in (1, 2, 3):
        enter(window, "supply_v", number, text="460")
    document = place_of(window).document
    unit = document.units()[0]
    page = open_page(window, "volts")
    from wizard.at_the_window import grid

    table = grid(page, "supply_v")
    table.view.setFocus()
    table.view.setCurrentIndex(table.model.place_of(key("supply_in_range", 2)))
    press(Qt.Key.Key_Return)
    editor = table.detail.views[0].editor
    assert editor is not None
    editor.everywhere.setChecked(False)
    editor.parts["low"].setText("465")
    editor.parts["high"].setText("475")
    editor.origin.setText("Manual")
    editor.save()
    assert [outcome(window, "supply_in_range", (n,)) for n in (1, 2, 3)] == ["pass", "fail", "pass"]
    assert document.results(unit.id).limit("supply_in_range", (1,)).origin != "Manual"


def test_page_is_closed_until_its_guard_is_passed(window: MainWindow) -> None:
    enter(window, "locked_out", text="not done")
    page = open_page(window, "volts")
    assert page.guard.isVisible()
    assert not page.body.isEnabled()
    assert not field_row(page, "control_v").input.editor().isEnabled()
    assert page.head.sign.word.text() == "blocked"
    # The focus is on the way to what has to be settled; it leads there.
    press(Qt.Key.Key_Space)
    there = place_of(window).pages.page
    assert there is not None
    assert there.section.name == "safety"
    assert there.banner.isVisible()
    assert "Lockout applied" in there.banner.words.text()
    type_text("d")
    again = open_page(window, "volts")
    assert not again.guard.isVisible()
    assert again.body.isEnabled()


def test_going_on_in_spite_of_a_stop_takes_a_name_and_a_reason(
    window: MainWindow, qtbot: QtBot
) -> None:
    enter(window, "locked_out", text="not done")
    page = open_page(window, "volts")
    past = next(
        made
        for made in page.guard.findChildren(QPushButton)
        if made.accessibleName().startswith("Go on in spite of this")
    )
    past.setFocus()
    press(Qt.Key.Key_Space)
    form = page.guard.form
    assert form is not None
    assert focused() is form.name
    type_text("A. Person")
    press(Qt.Key.Key_Return)
    assert "needs a name and a reason" in form.refusal.text()
    assert not page.body.isEnabled()
    form.reason.setFocus()
    type_text("Control power only, disconnect open")
    press(Qt.Key.Key_Return)
    qtbot.waitUntil(page.body.isEnabled)
    assert not page.guard.isVisible()
    with ProjectFile.open(place_of(window).path, read_only=True) as project:
        override = project.overrides()[0]
        assert override.person_name == "A. Person"
        assert override.reason == "Control power only, disconnect open"
    safety = open_page(window, "safety")
    assert "A. Person goes on: Control power only" in safety.banner.words.text()


def test_stops_are_said_on_the_board(window: MainWindow) -> None:
    enter(window, "locked_out", text="not done")
    workplace = place_of(window)
    workplace.go("board")
    workplace.board.model.settle()
    said = workplace.board.model.stops_in_words()
    assert len(said) == 1
    assert said[0][1] == "safety"
    assert said[0][2].startswith("RTU-1: Lockout applied")
    assert workplace.board._stops.isVisible()


def test_failed_verdict_makes_a_deficiency(window: MainWindow) -> None:
    for number, text in enumerate(("460", "467", "430"), start=1):
        enter(window, "supply_v", number, text=text)
    open_page(window, "volts")
    view = view_of(window, "imbalance_small")
    assert view._deficiency is not None
    view._deficiency.setFocus()
    press(Qt.Key.Key_Space)
    log = place_of(window).place("deficiencies")
    assert isinstance(log, DeficiencyLog)
    values = log.form.values()
    assert "at most 2" in values["requirement"]
    assert "above the high limit" in values["description"]
    assert "Balance the phases" in values["correction"]
    type_text("Electrician")
    press(Qt.Key.Key_Return)
    with ProjectFile.open(place_of(window).path, read_only=True) as project:
        deficiency = project.deficiencies()[0]
        assert deficiency.owner == "Electrician"
        assert deficiency.check == "imbalance_small"
        assert deficiency.unit_id == project.units()[0].id
    assert place_of(window).header.places["deficiencies"].text() == "Deficiencies (1)"
    # Opened again from the list and closed out.
    log.list.setFocus()
    log.list.selectRow(0)
    press(Qt.Key.Key_Return)
    log.form.inputs["status"].setCurrentText("corrected")  # type: ignore[attr-defined]
    press(Qt.Key.Key_Return, Qt.KeyboardModifier.ControlModifier)
    assert place_of(window).document.session.project.deficiencies()[0].status == "corrected"
    assert place_of(window).header.places["deficiencies"].text() == "Deficiencies"


def test_deficiency_without_a_description_is_refused_in_place(window: MainWindow) -> None:
    place_of(window).go("deficiencies")
    log = place_of(window).place("deficiencies")
    assert isinstance(log, DeficiencyLog)
    log.ask_new()
    log.form.inputs["owner"].setFocus()
    press(Qt.Key.Key_Return)
    assert "description" in log.form.refusal.text()
    assert place_of(window).document.session.project.deficiencies() == []
    assert stored(window, "rated_v") == 460
