"""A small form with typed tables, and what is typed into them."""

from __future__ import annotations

from pathlib import Path

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
HOLED_FIELD = """
[[field]]
name = "holed_table"
label = "Saturation by the literature"
kind = "table"
rows = {label = "Temperature", unit = "°F", decimals = 0}
body = {label = "Pressure", unit = "psig", decimals = 1}
[[field]]
name = "airflow_typed_cfm"
label = "Airflow to look up"
unit = "cfm"
[[quantity]]
name = "typed_rpm"
label = "Speed by a table typed in the sheet"
unit = "rpm"
formula = "from_table(empty_table, airflow_typed_cfm)"
source = "Linear interpolation"
[[field]]
name = "pressure_psig"
label = "Pressure"
unit = "psig"
[[quantity]]
name = "saturated_f"
label = "Saturated temperature"
unit = "°F"
formula = "row_from_table(holed_table, pressure_psig)"
source = "Linear interpolation"
"""
FAN = "/\t0.2\t0.4\t0.6\n1600\t600\t700\n2000\t700\t800\t900\n2400\t800\t900\t1000"
CHART = "75\t9\n85\t10\n95\t11.5\n105\t13"
EDITED = FAN.replace("2000\t700", "2000\t760")
HOLED = "20\t43\n40\t69\n60\t102\n80\t144"


def write_tables_form(folder: Path) -> Path:
    """Write the form's files; return the folder."""
    (folder / "rooftop_unit.toml").write_text(TOP, encoding="utf-8")
    (folder / "tables.toml").write_text(TABLES + HOLED_FIELD, encoding="utf-8")
    return folder
