"""Repeats as tables: keys, pasting, refusals, verdicts and limits."""

from __future__ import annotations

from PySide6.QtCore import QItemSelection, QItemSelectionModel, Qt
from PySide6.QtGui import QGuiApplication
from PySide6.QtWidgets import QLineEdit

from commission.wizard.grid import GridBlock
from commission.wizard.window import MainWindow
from wizard.at_the_window import (
    focused,
    grid,
    key,
    open_page,
    outcome,
    place_of,
    press,
    stored,
    type_text,
)


def supply_table(window: MainWindow) -> GridBlock:
    table = grid(open_page(window, "volts"), "supply_v")
    table.view.setFocus()
    table.view.setCurrentIndex(table.model.place_of(key("supply_v", 1)))
    return table


def select_first_row(table: GridBlock) -> None:
    """Select a whole row, whatever modifier an earlier test's key press left behind."""
    model = table.model
    row = QItemSelection(model.index(0, 0), model.index(0, model.columnCount() - 1))
    table.view.selectionModel().select(row, QItemSelectionModel.SelectionFlag.ClearAndSelect)


def amps_table(window: MainWindow) -> GridBlock:
    table = grid(open_page(window, "volts"), "motor_a")
    table.view.setFocus()
    table.view.setCurrentIndex(table.model.place_of(key("motor_a", 1, 1)))
    return table


def test_rows_are_entries_with_their_checks_and_columns_are_members(window: MainWindow) -> None:
    table = supply_table(window)
    assert table.model.shape.columns == ("L1-L2", "L2-L3", "L3-L1")
    assert table.model.shape.rows == ("Supply voltage", "Supply voltage near rated")
    assert table.model.limit_note(1) == "414.0 to 506.0 V"


def test_two_repeats_cross(window: MainWindow) -> None:
    table = amps_table(window)
    assert table.model.shape.rows == ("Motor 1", "Motor 2")
    assert table.model.shape.columns == ("L1-L2", "L2-L3", "L3-L1")


def test_typing_edits_and_enter_goes_down_in_a_crossed_table(window: MainWindow) -> None:
    table = amps_table(window)
    type_text("10")
    press(Qt.Key.Key_Return)
    assert table.view.current_key() == key("motor_a", 2, 1)
    type_text("11")
    press(Qt.Key.Key_Return)
    assert table.view.current_key() == key("motor_a", 1, 2)
    assert stored(window, "motor_a", (1, 1)) == 10
    assert stored(window, "motor_a", (2, 1)) == 11


def test_tab_goes_right_and_leaves_at_the_end(window: MainWindow) -> None:
    table = supply_table(window)
    for text in ("460", "461", "462"):
        type_text(text)
        press(Qt.Key.Key_Tab)
    assert [stored(window, "supply_v", (n,)) for n in (1, 2, 3)] == [460, 461, 462]
    assert not table.isAncestorOf(focused()) or focused() is not table.view


def test_verdict_follows_the_keys_in_a_cell_and_escape_takes_it_back(window: MainWindow) -> None:
    supply_table(window)
    type_text("400")
    assert outcome(window, "supply_in_range", (1,)) == "fail"
    press(Qt.Key.Key_Escape)
    assert outcome(window, "supply_in_range", (1,)) == "missing"
    assert stored(window, "supply_v", (1,)) is None


def test_refused_text_stays_in_its_cell_with_its_sentence(window: MainWindow) -> None:
    table = supply_table(window)
    type_text("46o")
    press(Qt.Key.Key_Tab)
    table.view.setCurrentIndex(table.model.place_of(key("supply_v", 1)))
    assert table.model.cell(key("supply_v", 1)).text == "46o"
    assert table.model.cell(key("supply_v", 1)).tone == "error"
    assert "'o' is not a unit" in table.detail._answer.text()
    assert stored(window, "supply_v", (1,)) is None
    type_text("460")
    press(Qt.Key.Key_Tab)
    assert table.model.cell(key("supply_v", 1)).tone == ""
    assert stored(window, "supply_v", (1,)) == 460


def test_block_is_pasted_and_all_refusals_listed(window: MainWindow) -> None:
    table = amps_table(window)
    QGuiApplication.clipboard().setText("10,5\tx\t12\n9\t-3\t8\n1\t2\t3\n")
    press(Qt.Key.Key_V, Qt.KeyboardModifier.ControlModifier)
    assert stored(window, "motor_a", (1, 1)) == 10.5
    assert stored(window, "motor_a", (1, 3)) == 12
    assert stored(window, "motor_a", (2, 1)) == 9
    said = table.said.text().splitlines()
    assert said[0] == "4 readings pasted."
    assert any("Motor 1 · L2-L3" in line and "'x' is not a number" in line for line in said)
    assert any("Motor 2 · L2-L3" in line and "cannot be" in line for line in said)
    assert sum("there is no cell for it here" in line for line in said) == 3
    assert table.model.cell(key("motor_a", 1, 2)).text == "x"


def test_block_passes_over_lines_that_are_judged(window: MainWindow) -> None:
    table = supply_table(window)
    assert table.view.paste("460\t461\t462") == []
    assert [stored(window, "supply_v", (n,)) for n in (1, 2, 3)] == [460, 461, 462]
    assert table.view.paste("460\n461") != []


def test_delete_clears_the_selected_cells(window: MainWindow) -> None:
    table = supply_table(window)
    table.view.paste("460\t461\t462")
    select_first_row(table)
    press(Qt.Key.Key_Delete)
    assert [stored(window, "supply_v", (n,)) for n in (1, 2, 3)] == [None, None, None]


def test_copied_cells_are_tab_separated(window: MainWindow) -> None:
    table = supply_table(window)
    table.view.paste("460\t461\t462")
    select_first_row(table)
    press(Qt.Key.Key_C, Qt.KeyboardModifier.ControlModifier)
    assert QGuiApplication.clipboard().text() == "460\t461\t462"


def test_enter_on_a_verdict_edits_its_limit(window: MainWindow) -> None:
    table = supply_table(window)
    table.view.setCurrentIndex(table.model.place_of(key("supply_in_range", 1)))
    press(Qt.Key.Key_Return)
    editor = table.detail.views[0].editor
    assert editor is not None
    assert focused() is editor.parts["low"]
    assert editor.parts["low"].text() == "414"


def test_editor_of_a_cell_is_named_for_assistive_technology(window: MainWindow) -> None:
    supply_table(window)
    type_text("4")
    editor = focused()
    assert isinstance(editor, QLineEdit)
    assert editor.accessibleName() == "Supply voltage, L1-L2"
    press(Qt.Key.Key_Escape)
    assert place_of(window).document.session.can_undo() is False


def test_columns_fit_the_table_and_rows_fit_their_names(window: MainWindow) -> None:
    for name in ("supply_v", "motor_a"):
        view = grid(open_page(window, "volts"), name).view
        columns = sum(view.columnWidth(n) for n in range(view.model().columnCount()))
        assert view.rows.width() + columns <= view.width()
        assert view.rows.width() <= 240
        rows = sum(view.rowHeight(n) for n in range(view.model().rowCount()))
        assert view.columns.height() + rows <= view.height()


def test_enter_alone_goes_from_table_to_table_and_on_to_the_next_field(window: MainWindow) -> None:
    amps = amps_table(window)
    amps.view.setCurrentIndex(amps.model.place_of(key("motor_a", 1, 2)))  # left in its middle
    supply_table(window)
    for text in ("460", "461", "462"):
        type_text(text)
        press(Qt.Key.Key_Return)
    assert focused() is amps.view
    assert amps.view.current_key() == key("motor_a", 1, 1)  # a table is begun at its beginning
    for text in ("10", "11", "12", "13", "14", "15", "24"):
        type_text(text)
        press(Qt.Key.Key_Return)
    assert stored(window, "supply_v", (3,)) == 462
    assert stored(window, "motor_a", (2, 3)) == 15
    assert stored(window, "control_v") == 24
    assert "last page" in place_of(window).strip.words.text()
