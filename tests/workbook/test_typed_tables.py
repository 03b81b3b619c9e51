"""Typed tables in the workbook: live blocks, edited in place, in the units that are shown."""

from __future__ import annotations

from pathlib import Path

import pytest
from openpyxl import load_workbook

from commission.definitions.load import load_form
from commission.definitions.model import Form
from commission.project import ProjectFile
from commission.validation.session import Session
from commission.validation.site import site_results
from commission.workbook import write_workbook
from recalculation import recalculate
from workbook.tables_form import CHART, EDITED, FAN, HOLED, write_tables_form


@pytest.fixture(scope="module")
def form(tmp_path_factory: pytest.TempPathFactory) -> Form:
    return load_form(write_tables_form(tmp_path_factory.mktemp("tables_form")))


@pytest.mark.recalculation
@pytest.mark.parametrize("unit_system", ["IP", "SI"])
def test_an_edited_table_gives_what_python_gives(
    unit_system: str, form: Form, tmp_path: Path
) -> None:
    path = tmp_path / "t.rtuproject"
    with Session.create(path, form, "Small job") as session:
        unit = session.add_unit("RTU-1")
        for name, text in (
            ("speed_rpm", "730"),
            ("static_inwc", "0.25"),
            ("outdoor_f", "91"),
            ("fan_speed_table", FAN),
            ("chart_table", CHART),
            ("holed_table", HOLED),
            ("pressure_psig", "80"),
        ):
            session.enter(unit.id, name, (), text)
        session.project.set_setting("unit_system", unit_system)
    with ProjectFile.open(path) as project:
        written = write_workbook(site_results(project, form), tmp_path / "t.xlsx")
        before = site_results(project, form).units[0]
        project.record(before.unit_id, "fan_speed_table", (), EDITED)
        after = site_results(project, form).units[0]
    read = load_workbook(written)
    unedited = _value(written, tmp_path / "as_is", "u1_airflow_cfm")
    assert unedited == pytest.approx(before.value("airflow_cfm").number, rel=1e-9)
    assert _value(written, tmp_path / "as_is", "u1_asked_f") == pytest.approx(10.9)
    assert _value(written, tmp_path / "as_is", "u1_unknown_rpm") in ("", None)
    assert _value(written, tmp_path / "as_is", "u1_saturated_f") == pytest.approx(46 + 2 / 3)
    assert _value(written, tmp_path / "as_is", "u1_fan_speed_table") == "3 rows × 3 columns"
    sheet = read["RTU-1 Fan speed table"]
    place = next(c.coordinate for row in sheet["B7:B9"] for c in row if c.value == 700)
    sheet[place].value = 760
    read.save(tmp_path / "edited.xlsx")
    edited = _value(tmp_path / "edited.xlsx", tmp_path / "recalculated", "u1_airflow_cfm")
    assert edited == pytest.approx(after.value("airflow_cfm").number, rel=1e-9)
    assert edited != pytest.approx(unedited)


@pytest.mark.recalculation
def test_lines_out_of_order_are_no_table(form: Form, tmp_path: Path) -> None:
    with Session.create(tmp_path / "t.rtuproject", form, "Small job") as session:
        unit = session.add_unit("RTU-1")
        session.enter(unit.id, "chart_table", (), CHART)
        session.enter(unit.id, "outdoor_f", (), "91")
        written = write_workbook(session.site(), tmp_path / "t.xlsx")
    book = load_workbook(written)
    book["RTU-1 Chart table"]["A8"].value = 200
    book.save(tmp_path / "edited.xlsx")
    folder = tmp_path / "recalculated"
    assert _value(tmp_path / "edited.xlsx", folder, "u1_chart_table") == "out of range"
    assert _value(tmp_path / "edited.xlsx", folder, "u1_asked_f") in ("", None)
    book["RTU-1 Chart table"]["A8"].value = 85
    book["RTU-1 Chart table"]["A11"].value = 115
    book["RTU-1 Chart table"]["B11"].value = 14
    book.save(tmp_path / "longer.xlsx")
    longer = _value(tmp_path / "longer.xlsx", tmp_path / "more", "u1_chart_table")
    assert longer == "5 rows"


def _value(path: Path, folder: Path, name: str) -> object:
    done = folder / path.name
    done = done if done.is_file() else recalculate(path, folder)
    book = load_workbook(done, data_only=True)
    sheet, cell = book.defined_names[name].attr_text.rsplit("!", 1)
    return book[sheet.strip("'$")][cell.replace("$", "")].value


@pytest.mark.recalculation
@pytest.mark.parametrize("unit_system", ["IP", "SI"])
def test_spare_lines_and_an_empty_sheet_are_live(
    unit_system: str, form: Form, tmp_path: Path
) -> None:
    """A line typed below, a line inserted and a table typed anew are read, in any units."""
    with Session.create(tmp_path / "t.rtuproject", form, "Small job") as session:
        unit = session.add_unit("RTU-1")
        session.enter(unit.id, "holed_table", (), HOLED)
        session.enter(unit.id, "pressure_psig", (), "170")
        session.enter(unit.id, "airflow_typed_cfm", (), "1100")
        session.project.set_setting("unit_system", unit_system)
        session.refresh()
        written = write_workbook(session.site(), tmp_path / "t.xlsx")
    assert _value(written, tmp_path / "as_is", "u1_saturated_f") == "out of range"
    book = load_workbook(written)
    system = {"IP": (100.0, 196.0), "SI": (37.0 + 7 / 9, 196.0 * 6.894757293168)}[unit_system]
    sheet = book["RTU-1 Holed table"]
    sheet["A11"].value, sheet["B11"].value = system
    empty, cfm = book["RTU-1 Empty table"], {"IP": 1.0, "SI": 0.47194745}[unit_system]
    for row, (airflow, speed) in enumerate(((1000, 600), (1200, 700)), start=7):
        empty.cell(row, 1).value, empty.cell(row, 2).value = airflow * cfm, speed
    book.save(tmp_path / "more.xlsx")
    folder = tmp_path / "recalculated"
    found = _value(tmp_path / "more.xlsx", folder, "u1_saturated_f")
    assert found == pytest.approx(80 + 20 * (170 - 144) / (196 - 144), rel=1e-9)
    assert _value(tmp_path / "more.xlsx", folder, "u1_typed_rpm") == pytest.approx(650, rel=1e-7)
