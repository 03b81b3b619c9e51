"""A table of the literature typed and pasted at the window, with real key presses."""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QApplication, QPushButton

from commission.definitions.load import load_form
from commission.definitions.model import Form
from commission.validation.session import Session
from commission.wizard.table_input import TableInput
from commission.wizard.window import MainWindow
from wizard.at_the_window import field_row, open_page, place_of, press, stored, type_text

TOP = """
id = "tables_test"
version = "1"
title = "A form with tables"
sections = ["tables.toml"]
"""
TABLES = """
[section]
name = "tables"
title = "Tables of the literature"
stage = "Job"
[[field]]
name = "speed_rpm"
label = "Fan speed"
unit = "rpm"
[[field]]
name = "static_inwc"
label = "External static"
unit = "in. w.c."
[[field]]
name = "fan_speed_table"
label = "Fan table: speed by airflow and external static"
kind = "table"
rows = {label = "Airflow", unit = "cfm", decimals = 0}
columns = {label = "External static", unit = "in. w.c.", decimals = 2}
body = {label = "Fan speed", unit = "rpm", decimals = 0}
possible = [10, 6000]
how = "From the unit's literature."
[[field]]
name = "chart_table"
label = "Charging chart: subcooling by outdoor temperature"
kind = "table"
rows = {label = "Outdoor dry bulb", unit = "°F", decimals = 0}
body = {label = "Subcooling", unit = "Δ°F", decimals = 1}
[[quantity]]
name = "airflow_cfm"
label = "Airflow by the fan table"
unit = "cfm"
formula = "row_from_table(fan_speed_table, speed_rpm, static_inwc)"
source = "Linear interpolation"
decimals = 0
"""
KEPT = "/\t0.2\t0.4\n1600\t600\t700\n2000\t700\t800"


@pytest.fixture(scope="session")
def form(tmp_path_factory: pytest.TempPathFactory) -> Form:
    folder = tmp_path_factory.mktemp("tables_form")
    (folder / "rooftop_unit.toml").write_text(TOP, encoding="utf-8")
    (folder / "tables.toml").write_text(TABLES, encoding="utf-8")
    return load_form(folder)


@pytest.fixture
def project_path(tmp_path: Path, form: Form) -> Path:
    path = tmp_path / "tables.rtuproject"
    with Session.create(path, form, "Small job") as session:
        unit = session.add_unit("RTU-1")
        session.enter(unit.id, "speed_rpm", (), "650")
        session.enter(unit.id, "static_inwc", (), "0.2")
    return path


def _table(window: MainWindow, name: str = "fan_speed_table") -> TableInput:
    made = field_row(open_page(window, "tables"), name).input
    assert isinstance(made, TableInput)
    return made


def _pictured(window: MainWindow, name: str) -> None:
    folder = os.environ.get("COMMISSION_PICTURES")
    if folder:
        QApplication.processEvents()
        window.grab().save(f"{folder}/{name}.png")


def test_typed_with_tab_and_enter_it_is_read_at_once(window: MainWindow) -> None:
    table = _table(window)
    table.cells.setFocus()
    for cell in ("0.2", "0.4"):  # across, with Tab
        type_text(cell)
        press(Qt.Key.Key_Tab)
    press(Qt.Key.Key_Tab)  # past the empty column, to the first row
    for cell in ("1600", "600", "700", "2000", "700", "800"):
        type_text(cell)
        press(Qt.Key.Key_Tab)
    assert table.text() == KEPT
    _pictured(window, "table_typed")
    press(Qt.Key.Key_Tab)
    QApplication.processEvents()
    assert stored(window, "fan_speed_table") == KEPT
    unit = place_of(window).document.units()[0]
    value = place_of(window).document.results(unit.id).value("airflow_cfm")
    assert value.number == pytest.approx(1800)


def test_enter_goes_down_a_column(window: MainWindow) -> None:
    table = _table(window, "chart_table")
    table.cells.setFocus()
    for cell in ("85", "95", "105"):
        type_text(cell)
        press(Qt.Key.Key_Return)
    assert [table.cells.item(row, 0).text() for row in range(3)] == ["85", "95", "105"]
    assert table.cells.rowCount() >= 4  # a row more than is filled


def _paste(text: str) -> None:
    QApplication.clipboard().setText(text)
    press(Qt.Key.Key_V, Qt.KeyboardModifier.ControlModifier)


@pytest.mark.parametrize(
    "block",
    [
        "\t0.2\t0.4\n1600\t600\t700\n2000\t700\t800\n",
        "cfm\t0,2\t0,4\r\n1600\t600\t700\r\n2000\t700\t800\r\n",
        "0.2 0.4\n1,600 600 700\n2,000 700 800",
        ",0.2,0.4\n2000,700,800\n1600,600,700\n",
    ],
)
def test_a_pasted_block_is_stored_at_once(window: MainWindow, block: str) -> None:
    table = _table(window)
    table.cells.setFocus()
    _paste(block)
    assert stored(window, "fan_speed_table") == KEPT
    row = field_row(open_page(window, "tables"), "fan_speed_table")
    assert "2 rows × 2 columns" in row.message.text()
    _pictured(window, "table_pasted")


def test_faults_are_told_in_place_and_the_cells_kept(window: MainWindow) -> None:
    table = _table(window)
    row = field_row(open_page(window, "tables"), "fan_speed_table")
    table.cells.setFocus()
    _paste("\t0.2\t0.4\n1600\t600\tabc\n2000\t9000\t800")
    assert "row 1600, column 0.4: 'abc' is not a number" in row.message.text()
    assert "9,000 rpm cannot be" in row.message.text()
    assert stored(window, "fan_speed_table") is None
    assert table.cells.item(1, 2).text() == "abc"
    _pictured(window, "table_faults")


def test_rows_and_columns_can_be_taken_out_and_undone(window: MainWindow) -> None:
    table = _table(window)
    table.cells.setFocus()
    _paste("\t0.2\t0.4\n1600\t600\t700\n2000\t700\t800")
    table.cells.setCurrentCell(1, 1)
    buttons = {one.text().strip(): one for one in table.findChildren(QPushButton)}
    buttons["Take out row"].click()
    assert stored(window, "fan_speed_table") == "/\t0.2\t0.4\n2000\t700\t800"
    table.cells.setCurrentCell(1, 2)
    buttons["Take out column"].click()
    assert stored(window, "fan_speed_table") == "/\t0.2\n2000\t700"
    place_of(window).document.undo()
    place_of(window).document.undo()
    assert stored(window, "fan_speed_table") == KEPT


def test_not_applicable_needs_its_reason(window: MainWindow) -> None:
    table = _table(window)
    row = field_row(open_page(window, "tables"), "fan_speed_table")
    table.reason.setFocus()
    type_text("n/a")
    press(Qt.Key.Key_Return)
    assert "needs its reason" in row.message.text()
    type_text(" none published")
    press(Qt.Key.Key_Return)
    unit = place_of(window).document.units()[0]
    value = place_of(window).document.results(unit.id).value("fan_speed_table")
    assert value.reason == "none published"


def test_si_shows_and_takes_si(
    make_window: Callable[..., MainWindow], project_path: Path, form: Form
) -> None:
    with Session.open(project_path, form) as session:
        session.project.set_setting("unit_system", "SI")
    window = make_window()
    window.open_project(project_path)
    table = _table(window)
    assert "m³/h" in table.legend.text() or "L/s" in table.legend.text()
    table.cells.setFocus()
    _paste("\t50\t100\n1000\t600\t700\n1200\t700\t800")
    kept = stored(window, "fan_speed_table")
    assert kept is not None and "\t0.2007" in kept
    assert table.text().splitlines()[1] == "1000\t600\t700"
    press(Qt.Key.Key_Tab)
    assert stored(window, "fan_speed_table") == kept


def test_a_stored_table_is_shown_again(
    make_window: Callable[..., MainWindow], project_path: Path, form: Form
) -> None:
    with Session.open(project_path, form) as session:
        session.enter(session.units()[0].id, "fan_speed_table", (), KEPT)
    window = make_window()
    window.open_project(project_path)
    table = _table(window)
    assert table.text() == KEPT
    assert table.cells.item(2, 0).text() == "2000"
