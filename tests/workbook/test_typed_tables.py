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
[[field]]
name = "speed_rpm"
label = "Fan speed"
unit = "rpm"
[[field]]
name = "static_inwc"
label = "External static"
unit = "in. w.c."
[[field]]
name = "outdoor_f"
label = "Outdoor dry bulb"
unit = "°F"
[[field]]
name = "fan_speed_table"
label = "Fan table: speed by airflow and external static"
kind = "table"
rows = {label = "Airflow", unit = "cfm", decimals = 0}
columns = {label = "External static", unit = "in. w.c.", decimals = 2}
body = {label = "Fan speed", unit = "rpm", decimals = 0}
[[field]]
name = "chart_table"
label = "Charging chart: subcooling by outdoor temperature"
kind = "table"
rows = {label = "Outdoor dry bulb", unit = "°F", decimals = 0}
body = {label = "Subcooling", unit = "Δ°F", decimals = 1}
[[field]]
name = "empty_table"
label = "A table that nobody typed"
kind = "table"
rows = {label = "Airflow", unit = "cfm"}
body = {label = "Fan speed", unit = "rpm"}
[[quantity]]
name = "airflow_cfm"
label = "Airflow by the fan table"
unit = "cfm"
formula = "row_from_table(fan_speed_table, speed_rpm, static_inwc)"
source = "Linear interpolation"
[[quantity]]
name = "asked_f"
label = "Subcooling the chart asks"
unit = "Δ°F"
formula = "from_table(chart_table, outdoor_f)"
source = "Linear interpolation"
[[quantity]]
name = "unknown_rpm"
label = "Speed by the empty table"
unit = "rpm"
formula = "from_table(empty_table, airflow_cfm)"
source = "Linear interpolation"
"""
FAN = "/\t0.2\t0.4\t0.6\n1600\t600\t700\n2000\t700\t800\t900\n2400\t800\t900\t1000"
CHART = "75\t9\n85\t10\n95\t11.5\n105\t13"
EDITED = FAN.replace("2000\t700", "2000\t760")


@pytest.fixture(scope="module")
def form(tmp_path_factory: pytest.TempPathFactory) -> Form:
    folder = tmp_path_factory.mktemp("tables_form")
    (folder / "rooftop_unit.toml").write_text(TOP, encoding="utf-8")
    (folder / "tables.toml").write_text(TABLES, encoding="utf-8")
    return load_form(folder)


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
