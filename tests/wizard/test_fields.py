"""Fields on a page: errors in place, n/a, units, relevance, undo, choices, instruments."""

from __future__ import annotations

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QApplication, QLabel, QLineEdit
from pytestqt.qtbot import QtBot

from commission.wizard.window import MainWindow
from wizard.at_the_window import (
    field_row,
    focused,
    open_page,
    outcome,
    place_of,
    press,
    stored,
    type_text,
)

REFUSED = [
    ("volts", "control_v", "abc", "is not a number"),
    ("volts", "control_v", "999", "cannot be"),
    ("volts", "control_v", "24 psig", "does not measure what is asked"),
    ("volts", "control_v", "n/a", "needs its reason"),
    ("setup", "motors", "1.5", "not a whole number"),
    ("setup", "phases", "7", "is none of 1, 3"),
]


@pytest.mark.parametrize(("section", "name", "text", "said"), REFUSED)
def test_refusal_is_said_in_place_and_the_text_kept(
    window: MainWindow, section: str, name: str, text: str, said: str
) -> None:
    page = open_page(window, section)
    row = field_row(page, name)
    before = stored(window, name)
    row.input.editor().setFocus()
    press(Qt.Key.Key_A, Qt.KeyboardModifier.ControlModifier)
    type_text(text)
    press(Qt.Key.Key_Return)
    assert said in row.message.text()
    assert row.message.isVisible()
    assert row.input.text() == text
    assert stored(window, name) == before
    assert QApplication.activeModalWidget() is None


def test_refused_text_is_tried_again_and_the_error_goes_when_it_is_right(
    window: MainWindow,
) -> None:
    row = field_row(open_page(window, "volts"), "control_v")
    row.input.editor().setFocus()
    type_text("24x")
    press(Qt.Key.Key_Tab)
    assert "24x" in row.input.text()
    assert row.message.isVisible()
    row.input.editor().setFocus()
    press(Qt.Key.Key_End)
    press(Qt.Key.Key_Backspace)
    press(Qt.Key.Key_Return)
    assert not row.message.isVisible()
    assert stored(window, "control_v") == 24


def test_slip_of_unit_is_warned_of_but_kept(window: MainWindow) -> None:
    row = field_row(open_page(window, "volts"), "control_v")
    row.input.editor().setFocus()
    type_text("140")
    press(Qt.Key.Key_Return)
    assert "unusual here" in row.message.text()
    assert stored(window, "control_v") == 140


def test_other_unit_is_converted_and_said(window: MainWindow) -> None:
    place_of(window)
    page = open_page(window, "setup")
    row = field_row(page, "heat")
    row.input.editor().setFocus()
    press(Qt.Key.Key_A, Qt.KeyboardModifier.ControlModifier)
    type_text("gas")
    press(Qt.Key.Key_Return)
    gas = field_row(open_page(window, "gas"), "gas_inwc")
    gas.input.editor().setFocus()
    type_text("1 kPa")
    press(Qt.Key.Key_Return)
    assert "taken as 4.0" in gas.message.text()
    assert stored(window, "gas_inwc") == pytest.approx(4.01463, rel=1e-4)  # NIST SP 811: in. w.c.
    assert gas.input.text().startswith("4.01")


def test_any_field_takes_not_applicable_with_a_reason(window: MainWindow) -> None:
    row = field_row(open_page(window, "volts"), "control_v")
    row.input.editor().setFocus()
    type_text("n/a no transformer")
    press(Qt.Key.Key_Return)
    assert outcome(window, "control_in_range") == "not applicable"
    assert row.input.text() == "n/a no transformer"


def test_item_answers_by_one_key_and_n_a_asks_for_its_reason(window: MainWindow) -> None:
    row = field_row(open_page(window, "safety"), "guards_fitted")
    row.input.setFocus()
    type_text("n")
    assert stored(window, "guards_fitted") == "not done"
    assert outcome(window, "guards_fitted_done") == "fail"
    row.input.setFocus()
    type_text("a")
    assert focused() is row.input.reason  # type: ignore[attr-defined]
    type_text("no fan")
    press(Qt.Key.Key_Return)
    assert outcome(window, "guards_fitted_done") == "not applicable"


def test_configuration_changes_pages_and_members_at_once(window: MainWindow) -> None:
    page = open_page(window, "setup")
    pages = place_of(window).pages
    assert "gas" not in [section.name for section in pages.navigation.pages()]
    row = field_row(page, "heat")
    row.input.editor().setFocus()
    press(Qt.Key.Key_A, Qt.KeyboardModifier.ControlModifier)
    type_text("gas")
    press(Qt.Key.Key_Return)
    pages.settle()
    assert pages.navigation.neighbour("volts", 1) == "gas"


def test_configuration_change_reshapes_a_page_that_was_built(window: MainWindow) -> None:
    from wizard.at_the_window import grid

    volts = open_page(window, "volts")
    assert len(grid(volts, "supply_v").model.shape.columns) == 3
    row = field_row(open_page(window, "setup"), "phases")
    row.input.editor().setFocus()
    press(Qt.Key.Key_A, Qt.KeyboardModifier.ControlModifier)
    type_text("1")
    press(Qt.Key.Key_Return)
    again = open_page(window, "volts")
    assert again is volts
    assert grid(again, "supply_v").model.shape.columns == ("L1-L2",)


def test_undo_and_redo_go_to_the_field(window: MainWindow) -> None:
    row = field_row(open_page(window, "volts"), "control_v")
    row.input.editor().setFocus()
    type_text("24")
    press(Qt.Key.Key_Return)
    open_page(window, "safety")
    workplace = place_of(window)
    workplace.undo()
    page = workplace.pages.page
    assert page is not None
    assert page.section.name == "volts"
    assert stored(window, "control_v") is None
    assert row.input.text() == ""
    assert focused() is row.input.editor()
    workplace.redo()
    assert stored(window, "control_v") == 24
    assert row.input.text() == "24"
    assert "Put again" in workplace.strip.words.text()


def test_undo_by_its_key_while_a_field_is_focused(window: MainWindow) -> None:
    row = field_row(open_page(window, "volts"), "control_v")
    row.input.editor().setFocus()
    type_text("24")
    press(Qt.Key.Key_Return)
    row.input.editor().setFocus()
    press(Qt.Key.Key_Z, Qt.KeyboardModifier.ControlModifier)
    assert stored(window, "control_v") is None
    press(Qt.Key.Key_Y, Qt.KeyboardModifier.ControlModifier)
    assert stored(window, "control_v") == 24


def test_how_to_read_it_opens_by_f1_and_the_keys_elsewhere(window: MainWindow) -> None:
    row = field_row(open_page(window, "volts"), "control_v")
    row.input.editor().setFocus()
    press(Qt.Key.Key_F1)
    assert row.how is not None
    assert row.how.isVisible()
    assert "Transformer secondary" in row.how.text()
    press(Qt.Key.Key_F1)
    assert not row.how.isVisible()
    place_of(window).go("board")
    press(Qt.Key.Key_F1)
    assert window.help.isVisible()
    press(Qt.Key.Key_Escape)
    assert not window.help.isVisible()


def test_shown_work_follows_the_readings(window: MainWindow, qtbot: QtBot) -> None:
    from commission.wizard.value_row import QuantityRow

    workplace = place_of(window)
    unit = workplace.document.units()[0]
    from wizard.at_the_window import key

    for number, text in enumerate(("460", "467", "450"), start=1):
        workplace.document.enter(unit.id, key("supply_v", number), text)
    page = open_page(window, "volts")
    row = next(
        one
        for one in page.blocks
        if isinstance(one, QuantityRow) and one.key.name == "imbalance_percent"
    )
    row.work_button.setFocus()
    press(Qt.Key.Key_Space)
    assert row.work is not None
    # NEMA MG 1, 14.36.5: 460, 467 and 450 V are 1.96 % out of balance.
    assert row.value.text() == "1.96 %"
    assert "1.96 %" in row.work.text()
    assert "467" in row.work.text()


def test_instrument_gives_the_value_its_uncertainty(window: MainWindow) -> None:
    from wizard.at_the_window import key

    workplace = place_of(window)
    document = workplace.document
    unit = document.units()[0]
    meter = document.session.project.add_instrument(
        "multimeter", serial="E-1", percent_of_reading=1.0, unit="V"
    )
    document.refresh()
    page = open_page(window, "volts")
    row = field_row(page, "control_v")
    row.input.editor().setFocus()
    type_text("24")
    press(Qt.Key.Key_Return)
    assert row.picker is not None
    row.picker.setCurrentIndex(row.picker.findData(meter.id))
    row.picker.activated.emit(row.picker.currentIndex())
    assert document.results(unit.id).reading("control_v").instrument_id == meter.id
    assert document.results(unit.id).expanded("control_v") == pytest.approx(
        2 * 0.24 / 3**0.5, rel=1e-6
    )  # JCGM 100, 4.3.7: a rectangular distribution's half-width over the root of three
    # It is proposed for, and kept with, the next reading of its kind.
    document.enter(unit.id, key("supply_v", 1), "460")
    assert document.results(unit.id).reading("supply_v", (1,)).instrument_id == meter.id


def test_accessible_names_and_buddies(window: MainWindow) -> None:
    page = open_page(window, "volts")
    row = field_row(page, "control_v")
    assert row.input.editor().accessibleName() == "Control voltage"
    buddies = [label.buddy() for label in row.findChildren(QLabel) if label.buddy() is not None]
    assert row.input.editor() in buddies


def test_reading_of_an_earlier_pass_does_not_displace_a_later_one(window: MainWindow) -> None:
    from wizard.at_the_window import key

    document = place_of(window).document
    unit = document.units()[0]
    document.choose_pass("as left")
    document.enter(unit.id, key("control_v"), "25")
    document.choose_pass("as found")
    document.enter(unit.id, key("control_v"), "20")
    assert document.results(unit.id).value("control_v").number == 25
    assert "stays in force" in place_of(window).strip.words.text()


def test_twenty_thousand_texts_do_not_end_the_program(window: MainWindow) -> None:
    """PySide6 6.12.0 lost a reference to None with each call, and ended on Python 3.11."""
    row = field_row(open_page(window, "volts"), "control_v")
    line = row.input.editor()
    assert isinstance(line, QLineEdit)
    for number in range(20_000):
        line.setText(str(number))
        row.message.setText(str(number))
    assert line.text() == "19999"
