"""Typed tables in the turnover package: printed as typed, and named in the shown work."""

from __future__ import annotations

import subprocess
from pathlib import Path

from commission.definitions.load import load_form
from commission.package import write_package
from commission.validation.session import Session

TOP = 'id = "t"\nversion = "1"\ntitle = "Tables"\nsections = ["tables.toml"]\n'
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
name = "fan_speed_table"
label = "Fan table"
kind = "table"
symbol = "fan table"
rows = {label = "Airflow", unit = "cfm", decimals = 0}
columns = {label = "External static", unit = "in. w.c.", decimals = 2}
body = {label = "Fan speed", unit = "rpm", decimals = 0}
[[quantity]]
name = "airflow_cfm"
label = "Airflow by the fan table"
unit = "cfm"
formula = "row_from_table(fan_speed_table, speed_rpm, static_inwc)"
source = "Linear interpolation"
decimals = 0
"""
WIDE = 13


def test_a_table_is_printed_whole_and_its_values_stand_in_the_work(tmp_path: Path) -> None:
    (tmp_path / "rooftop_unit.toml").write_text(TOP, encoding="utf-8")
    (tmp_path / "tables.toml").write_text(TABLES, encoding="utf-8")
    statics = [round(0.1 * at, 1) for at in range(1, WIDE + 1)]
    lines = ["/\t" + "\t".join(map(str, statics))]
    for row in range(4):
        values = (str(600 + 100 * row + 10 * at) for at in range(WIDE))
        lines.append("\t".join([str(1600 + 400 * row), *values]))
    lines[-1] = lines[-1].rpartition("\t")[0]  # a corner that the literature leaves empty
    with Session.create(tmp_path / "t.rtuproject", load_form(tmp_path), "Small job") as session:
        unit = session.add_unit("RTU-1")
        session.enter(unit.id, "fan_speed_table", (), "\n".join(lines))
        session.enter(unit.id, "speed_rpm", (), "675")
        session.enter(unit.id, "static_inwc", (), "0.35")
        path = write_package(session.site(), tmp_path / "t.pdf")
    command = ["pdftotext", "-layout", str(path), "-"]
    text = subprocess.run(command, capture_output=True, text=True, check=True).stdout
    told = " ".join(text.split())
    assert "4 rows × 13 columns" in told
    assert "Fan table, as typed (Fan speed, rpm; across: External static, in. w.c.)" in told
    assert "(continued)" in told  # thirteen columns are more than go side by side
    assert "1,600 600 610 620 630 640 650 660 670 680 690" in told
    assert "2,800 1,000 1,010 –" in told
    assert "the table has 620 and 630 rpm; 720 and 730 rpm at 1,600 and 2,000 cfm" in told
