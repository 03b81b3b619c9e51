"""What makes a roof's readings quick to enter: n/a by one key, passes beside one another,
instruments remembered, decimal commas pasted, and why a verdict is as it is."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication
from pytestqt.qtbot import QtBot

from commission.definitions.model import Key
from commission.wizard.key_help import KEYS
from commission.wizard.value_row import QuantityRow
from commission.wizard.window import MainWindow
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


def _na_of(window: MainWindow, name: str, index: tuple[int, ...] = ()) -> str:
    workplace = place_of(window)
    unit = workplace.document.units()[0]
    reading = workplace.document.results(unit.id).reading(name, index)
    return reading.not_applicable if reading is not None else ""


def test_one_key_begins_n_a_and_proposes_the_reason_given_last(window: MainWindow) -> None:
    page = open_page(window, "volts")
    field_row(page, "control_v").input.editor().setFocus()
    press(Qt.Key.Key_F8)
    type_text("no transformer")
    press(Qt.Key.Key_Return)
    assert _na_of(window, "control_v") == "no transformer"
    page = open_page(window, "safety")
    field_row(page, "meter_proved").input.setFocus()
    press(Qt.Key.Key_F8)
    press(Qt.Key.Key_Return)  # the same reason: nothing to type
    assert _na_of(window, "meter_proved") == "no transformer"


def test_one_key_begins_n_a_in_a_choice_a_cell_and_an_item(window: MainWindow) -> None:
    page = open_page(window, "volts")
    grid(page, "supply_v").focus_key(Key("supply_v", (2,)))
    press(Qt.Key.Key_F8)
    type_text("no leg")
    press(Qt.Key.Key_Return)
    assert _na_of(window, "supply_v", (2,)) == "no leg"
    page = open_page(window, "safety")
    field_row(page, "guards_fitted").input.setFocus()
    press(Qt.Key.Key_F8)
    type_text("open frame")
    press(Qt.Key.Key_Return)
    assert _na_of(window, "guards_fitted") == "open frame"
    page = open_page(window, "setup")
    field_row(page, "heat").input.editor().setFocus()
    press(Qt.Key.Key_F8)
    type_text("none made")
    press(Qt.Key.Key_Return)
    assert _na_of(window, "heat") == "none made"


def test_n_a_away_from_a_field_is_said(window: MainWindow) -> None:
    press(Qt.Key.Key_F8)
    assert "field first" in place_of(window).strip.words.text()


def _read(window: MainWindow, volts: tuple[str, str, str], control: str) -> None:
    page = open_page(window, "volts")
    block = grid(page, "supply_v")
    for number, text in enumerate(volts, start=1):
        block.focus_key(Key("supply_v", (number,)))
        type_text(text)
        press(Qt.Key.Key_Return)
    row = field_row(page, "control_v")
    row.input.editor().setFocus()
    type_text(control)
    press(Qt.Key.Key_Return)


def test_passes_stand_side_by_side_with_their_verdicts(window: MainWindow) -> None:
    _read(window, ("480", "460", "440"), "24")
    page = open_page(window, "volts")
    row = field_row(page, "control_v")
    imbalance = next(
        b for b in page.blocks if isinstance(b, QuantityRow) and b.key.name == "imbalance_percent"
    )
    assert not row.passes.isVisibleTo(row)
    document = place_of(window).document
    document.choose_pass("as left")
    _read(window, ("461", "460", "459"), "26")
    place_of(window).pages.settle()
    shown = [(one.pass_name, one.value, one.counts) for one in row.passes.shown]
    assert shown == [("as found", "24.0 V", False), ("as left", "26.0 V", True)]
    assert row.passes.isVisibleTo(row)
    signs = [(one.pass_name, one.sign.word if one.sign else "") for one in imbalance.passes.shown]
    assert [word.casefold() for _, word in signs] == ["fail", "pass"]
    assert "as found" in row.passes.accessibleName().casefold()
    grid(page, "supply_v").focus_key(Key("supply_v", (1,)))
    passes = grid(page, "supply_v").detail.passes
    assert passes is not None
    assert [one.value for one in passes.shown] == ["480.0 V", "461.0 V"]
    assert [one.sign.word.casefold() for one in passes.shown if one.sign] == ["pass", "pass"]


def test_an_undo_and_an_earlier_pass_change_what_stands_beside(window: MainWindow) -> None:
    _read(window, ("480", "460", "440"), "24")
    document = place_of(window).document
    document.choose_pass("as left")
    _read(window, ("461", "460", "459"), "26")
    row = field_row(open_page(window, "volts"), "control_v")
    place_of(window).pages.settle()
    assert len(row.passes.shown) == 2
    document.choose_pass("as found")
    unit = document.units()[0].id
    document.enter(unit, Key("control_v"), "23")
    place_of(window).pages.settle()
    assert [one.value for one in row.passes.shown] == ["23.0 V", "26.0 V"]
    document.undo()
    place_of(window).pages.settle()
    assert [one.value for one in row.passes.shown] == ["24.0 V", "26.0 V"]


def test_instrument_is_remembered_by_kind_over_openings_and_past_due_is_said(
    make_window: Callable[..., MainWindow], window: MainWindow, project_path: Path
) -> None:
    document = place_of(window).document
    project = document.session.project
    meter = project.add_instrument("multimeter", serial="M-7", calibration_due="2020-01-31")
    document.refresh()
    row = field_row(open_page(window, "volts"), "control_v")
    assert row.picker is not None
    place = row.picker.findData(meter.id)
    row.picker.setFocus()
    row.picker.setCurrentIndex(place)
    row.picker.activated.emit(place)
    assert "2020-01-31" in row.due.text() and row.due.isVisibleTo(row)
    window.close()
    again = make_window()
    again.open_project(project_path)
    row = field_row(open_page(again, "volts"), "control_v")
    assert row.picker is not None and row.picker.currentData() == meter.id
    row.input.editor().setFocus()
    type_text("24")
    press(Qt.Key.Key_Return)
    document = place_of(again).document
    reading = document.results(document.units()[0].id).reading("control_v", ())
    assert reading is not None and reading.instrument_id == meter.id


@pytest.mark.parametrize("block", ["460,5\t461,25\t459", "460.5\t461.25\t459.0"])
def test_block_with_decimal_commas_or_points(window: MainWindow, block: str) -> None:
    page = open_page(window, "volts")
    grid(page, "supply_v").focus_key(Key("supply_v", (1,)))
    QApplication.clipboard().setText(block)
    press(Qt.Key.Key_V, Qt.KeyboardModifier.ControlModifier)
    assert [stored(window, "supply_v", (n,)) for n in (1, 2, 3)] == [460.5, 461.25, 459.0]


def test_why_shows_the_work_and_the_readings_that_would_explain_it(
    window: MainWindow, qtbot: QtBot
) -> None:
    _read(window, ("480", "460", "452"), "24")
    page = open_page(window, "volts")
    imbalance = next(
        b for b in page.blocks if isinstance(b, QuantityRow) and b.key.name == "imbalance_percent"
    )
    view = imbalance.verdicts[0]
    view.why_button.setFocus()
    press(Qt.Key.Key_Space)
    why = view.why
    assert why is not None and "3.45 %" in why.work.text()
    qtbot.waitUntil(lambda: "in place of" in why.explaining.text(), timeout=10_000)
    # Largest deviation 2 % of the mean, the others as they are: worked out by hand.
    # L1-L2 = x is highest: x = 1.02 mean, mean = (x + 912) / 3 -> mean 460.6, x = 469.8
    assert "Supply voltage, L1-L2: 469.8 V in place of 480.0 V" in why.explaining.text()
    assert focused() is view.why_button
    press(Qt.Key.Key_Space)
    assert view.why is None


def test_a_click_on_a_verdict_shows_why(window: MainWindow) -> None:
    _read(window, ("480", "460", "440"), "24")
    page = open_page(window, "volts")
    imbalance = next(
        b for b in page.blocks if isinstance(b, QuantityRow) and b.key.name == "imbalance_percent"
    )
    view = imbalance.verdicts[0]
    QTest.mouseClick(view.sentence, Qt.MouseButton.LeftButton)
    assert view.why is not None
    view.toggle_why()


def test_the_list_of_keys_names_every_key_of_the_window(window: MainWindow) -> None:
    from PySide6.QtGui import QShortcut

    listed = " ".join(key for _, keys in KEYS for key, _ in keys)
    for shortcut in window.findChildren(QShortcut):
        key = shortcut.key().toString().replace("PgDown", "PgDn").replace("PgUp", "PgUp")
        if key == "Ctrl+Shift+Z":
            continue  # redo once more, as some desktops have it
        assert key in listed, key
