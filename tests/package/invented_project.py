"""A small form and an invented project in it, with every kind of thing a package shows."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from io import BytesIO
from itertools import count
from pathlib import Path

from PIL import Image

from commission.definitions.load import load_form
from commission.definitions.model import Form
from commission.project import ProjectFile

FORM = """
id = "small_unit"
version = "1"
title = "Small unit for tests"
sections = ["job.toml", "supply.toml", "cooling.toml", "grid.toml"]

[[repeat]]
name = "circuit"
label = "Circuit {n}"
count = "circuits"
maximum = 12
[[repeat]]
name = "leg"
label = "{member}"
members = ["L1", "L2", "L3"]
count = "3"
maximum = 3
"""
JOB = """
[section]
name = "job"
title = "Job"
level = "project"
[[field]]
name = "site_name"
label = "Site"
kind = "text"
[[field]]
name = "site_address"
label = "Address"
kind = "note"
required = false
[[field]]
name = "barometer_psia"
label = "Barometer"
unit = "psia"
symbol = "p_atm"
decimals = 2
"""
SUPPLY = """
[section]
name = "supply"
title = "Electrical supply"
cautions = ["Energised work."]
[[field]]
name = "locked_out"
label = "Lockout applied"
kind = "item"
severity = "stop"
cure = "Apply the lockout."
[[field]]
name = "circuits"
label = "Circuits"
kind = "integer"
[[field]]
name = "supply_v"
label = "Supply voltage"
unit = "V"
symbol = "U"
decimals = 1
instrument = "voltmeter"
[[field]]
name = "rated_v"
label = "Rated voltage"
unit = "V"
symbol = "U_r"
decimals = 0
[[field]]
name = "remark"
label = "Remark"
kind = "note"
required = false
[[quantity]]
name = "deviation_percent"
label = "Deviation from rated voltage"
unit = "%"
symbol = "d_U"
decimals = 1
formula = "100 * (supply_v - rated_v) / rated_v"
source = "Definition"
[[check]]
name = "deviation_small"
label = "Supply voltage near rated"
judges = "deviation_percent"
limit = "range"
severity = "fail"
low = -10
high = 10
basis = "common practice"
cure = "Have the supply corrected."
"""
COOLING = """
[section]
name = "cooling"
title = "Cooling circuits"
repeat = "circuit"
guarded_by = ["locked_out_done"]
[[field]]
name = "suction_line_f"
label = "Suction line temperature"
unit = "°F"
symbol = "t_s"
decimals = 1
[[field]]
name = "dew_point_f"
label = "Dew point"
unit = "°F"
symbol = "t_dew"
decimals = 1
[[quantity]]
name = "superheat_f"
label = "Suction superheat"
unit = "Δ°F"
symbol = "SH"
decimals = 1
formula = "suction_line_f - dew_point_f"
source = "Definition"
[[check]]
name = "superheat_in_range"
label = "Suction superheat"
judges = "superheat_f"
limit = "range"
severity = "fail"
cure = "Look at charge and airflow first."
"""
GRID = """
[section]
name = "grid"
title = "Compressor amps"
[[field]]
name = "amps_a"
label = "Compressor amps"
repeat = ["circuit", "leg"]
unit = "A"
symbol = "I"
decimals = 1
[[check]]
name = "amps_low"
label = "Compressor amps, each leg"
judges = "amps_a"
limit = "at most"
severity = "fail"
high = 40
basis = "common practice"
cure = "Check voltage and head."
"""

FILES = {"rooftop_unit": FORM, "job": JOB, "supply": SUPPLY, "cooling": COOLING, "grid": GRID}


def small_form_in(folder: Path) -> Form:
    for name, text in FILES.items():
        (folder / f"{name}.toml").write_text(text, encoding="utf-8")
    return load_form(folder)


def steady_clock() -> Callable[[], datetime]:
    """Return a clock that ticks a minute a call."""
    minutes = count()
    begin = datetime(2026, 9, 14, 8, 0, tzinfo=UTC)
    return lambda: begin + timedelta(minutes=next(minutes))


def steady_ids() -> Callable[[], str]:
    numbers = count(1)
    return lambda: f"00000000-0000-4000-8000-{next(numbers):012d}"


def new_project(path: Path, form: Form, title: str = "Invented yard") -> ProjectFile:
    return ProjectFile.create(
        path,
        form_id=form.id,
        form_version=form.version,
        form_hash=form.content_hash,
        title=title,
        clock=steady_clock(),
        new_id=steady_ids(),
    )


def fill(project: ProjectFile) -> None:
    """Enter one unit with a stop passed over, a failure, two passes and a late instrument."""
    person = project.add_person("Ada Quill", "Roof Works", "agent", "L-77")
    meter = project.add_instrument(
        "voltmeter", serial="V9", percent_of_reading=0.5, unit="V", calibration_due="2026-01-31"
    )
    project.record("", "site_name", (), "North hall")
    project.record("", "barometer_psia", (), 14.2)
    unit = project.add_unit("RTU-1").id
    for name, value in (("locked_out", "not done"), ("circuits", 2.0), ("rated_v", 460.0)):
        project.record(unit, name, (), value, person_id=person.id)
    project.record(unit, "supply_v", (), 401.5, instrument_id=meter.id, note="gusty")
    project.record(unit, "supply_v", (), 448.4, instrument_id=meter.id, pass_name="as left")
    for circuit, (line, dew) in enumerate(((58.2, 46.1), (71.9, 44.0)), 1):
        project.record(unit, "suction_line_f", (circuit,), line)
        project.record(unit, "dew_point_f", (circuit,), dew)
    project.record(unit, "suction_line_f", (2,), 55.4, pass_name="as left")
    for circuit in (1, 2):
        for leg in (1, 2, 3):
            project.record(unit, "amps_a", (circuit, leg), 30.0 + circuit * 4 + leg)
    project.set_limit(unit, "superheat_in_range", (), {"low": 8, "high": 11.5}, origin="IOM p. 9")
    project.add_override(unit, "locked_out_done", person_name="Ben Oar", reason="temporary guard")
    project.add_deficiency(
        unit,
        "Circuit 2 short of charge",
        check="superheat_in_range",
        index=(2,),
        owner="Roof Works",
    )
    project.add_signature(
        unit, "", "recorded", person_id=person.id, printed_name="Ada Quill", statement="As read."
    )
    picture = BytesIO()
    Image.new("RGB", (80, 60), "#336699").save(picture, "PNG")
    project.add_photo(unit, picture.getvalue(), name="supply_v", caption="Meter on L1")
    project.add_unit("RTU-2")
