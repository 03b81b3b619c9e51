"""What was ever read in a field: passes side by side, who, when, with what."""

from __future__ import annotations

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QApplication, QLabel

from commission.wizard.reading_history import past_readings
from commission.wizard.window import MainWindow
from wizard.at_the_window import (
    field_row,
    grid,
    key,
    open_page,
    place_of,
    press,
    type_text,
)


def shown_in(view) -> list[str]:
    """Return the texts of a history."""
    QApplication.processEvents()
    return [one.text() for one in view.findChildren(QLabel) if one.isVisible()]


def test_history_says_pass_value_who_when_and_instrument(window: MainWindow) -> None:
    document = place_of(window).document
    unit_id = document.units()[0].id
    meter = document.session.project.add_instrument("multimeter", serial="E-1")
    document.record_as("A. Person")
    document.enter(unit_id, key("control_v"), "24", meter.id)
    document.choose_pass("as left")
    document.enter(unit_id, key("control_v"), "26,5", meter.id)
    row = field_row(open_page(window, "volts"), "control_v")
    row.input.editor().setFocus()
    press(Qt.Key.Key_F1)
    assert row.history is not None
    texts = shown_in(row.history)
    assert texts[:4] == ["As found", "24.0 V", "As left (counts now)", "26.5 V"]
    assert texts.count("A. Person") == 2
    assert texts.count("multimeter E-1") == 2
    assert "26.5 V (counts now)" in texts
    found = past_readings(document, unit_id, key("control_v"))
    assert [one.value for one in found] == ["24.0 V", "26.5 V"]
    assert all(len(one.when) == len("2026-03-31 14:05") for one in found)
    press(Qt.Key.Key_F1)
    assert not row.history.isVisible()


def test_history_follows_what_is_typed_undone_and_cleared(window: MainWindow) -> None:
    row = field_row(open_page(window, "volts"), "control_v")
    row.input.editor().setFocus()
    press(Qt.Key.Key_F1)
    assert row.history is not None
    assert shown_in(row.history) == ["Nothing was read here yet."]
    type_text("24")
    press(Qt.Key.Key_Return)
    assert "24.0 V (counts now)" in shown_in(row.history)
    place_of(window).undo()
    place_of(window).pages.settle()  # a round of the loop later
    texts = shown_in(row.history)
    assert "taken back" in texts
    assert not any("counts now" in text for text in texts)
    document = place_of(window).document
    document.enter(document.units()[0].id, key("control_v"), "n/a no control circuit")
    place_of(window).pages.settle()
    assert "n/a: no control circuit (counts now)" in shown_in(row.history)


def test_field_without_how_to_offers_its_history_once_it_was_read(window: MainWindow) -> None:
    page = open_page(window, "setup")
    row = field_row(page, "rated_v")
    assert row.how_button.text() == "History"
    assert row.how_button.isVisible()
    site = place_of(window).pages.open("", "site")
    name = field_row(site, "site_name")
    assert not name.how_button.isVisible()
    name.input.editor().setFocus()
    press(Qt.Key.Key_A, Qt.KeyboardModifier.ControlModifier)
    type_text("Depot")
    press(Qt.Key.Key_Return)
    assert name.how_button.isVisible()
    name.how_button.setFocus()
    press(Qt.Key.Key_Space)
    assert name.history is not None
    assert "Depot (counts now)" in shown_in(name.history)


def test_history_of_a_cell_by_f1_stays_open_for_the_next_cell(window: MainWindow) -> None:
    document = place_of(window).document
    unit_id = document.units()[0].id
    for number, text in enumerate(("460", "467"), start=1):
        document.enter(unit_id, key("supply_v", number), text)
    table = grid(open_page(window, "volts"), "supply_v")
    assert table.focus_key(key("supply_v", 1))
    press(Qt.Key.Key_F1)
    assert table.detail.history is not None
    assert "460.0 V (counts now)" in shown_in(table.detail.history)
    press(Qt.Key.Key_Tab)
    assert "467.0 V (counts now)" in shown_in(table.detail.history)
    press(Qt.Key.Key_F1)
    assert table.detail.history is None
    press(Qt.Key.Key_F1)
    assert table.focus_key(key("supply_in_range", 1))
    assert table.detail.history is None
    assert not table.detail.history_button.isVisible()


def test_long_history_is_shown_on_request(window: MainWindow) -> None:
    document = place_of(window).document
    unit_id = document.units()[0].id
    for number in range(12):
        document.enter(unit_id, key("control_v"), str(20 + number))
    row = field_row(open_page(window, "volts"), "control_v")
    row.how_button.setFocus()
    press(Qt.Key.Key_Space)
    assert row.history is not None
    assert "20.0 V" not in shown_in(row.history)
    row.history._show_all()
    assert "20.0 V" in shown_in(row.history)
    assert "20.0 V" in row.history.words()
