"""The demo site, and a small project in each kind of state that a record must keep."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from datetime import datetime, timedelta, timezone
from io import BytesIO
from itertools import count
from pathlib import Path

import pytest
from PIL import Image

from commission.archive import write_record
from commission.definitions.load import load_form
from commission.definitions.model import Form
from commission.project import ProjectFile
from commission.project.scenario import project_from_scenario
from commission.resources import demo_units_folder
from commission.validation.site import SiteResults, site_results

BEGAN = datetime(2026, 9, 14, 8, 0, tzinfo=timezone(timedelta(hours=-6)))


@pytest.fixture(scope="session")
def shipped_form() -> Form:
    return load_form()


@pytest.fixture(scope="session")
def demo_file(tmp_path_factory: pytest.TempPathFactory, shipped_form: Form) -> Path:
    path = tmp_path_factory.mktemp("demo") / "demo.rtuproject"
    project_from_scenario(demo_units_folder(), path, shipped_form).close()
    return path


@pytest.fixture(scope="session")
def demo_site(demo_file: Path, shipped_form: Form) -> Iterator[SiteResults]:
    with ProjectFile.open(demo_file, read_only=True) as project:
        yield site_results(project, shipped_form)


@pytest.fixture(scope="session")
def demo_record(demo_site: SiteResults, tmp_path_factory: pytest.TempPathFactory) -> Path:
    return write_record(demo_site, tmp_path_factory.mktemp("record") / "demo.record.json")


SMALL = """
name = "page"
title = "Page"
[[field]]
name = "count"
label = "Circuits"
kind = "integer"
[[field]]
name = "outdoor_f"
label = "Outdoor"
unit = "°F"
decimals = 1
[[field]]
name = "suction_psig"
label = "Suction pressure"
repeat = "circuit"
unit = "psig"
decimals = 1
[[field]]
name = "volts_v"
label = "Voltage"
unit = "V"
[[field]]
name = "drive"
label = "Drive"
kind = "choice"
choices = ["belt", "direct"]
[[field]]
name = "remark"
label = "Remark"
kind = "note"
required = false
[[quantity]]
name = "half_volts_v"
label = "Half the voltage"
unit = "V"
formula = "volts_v * 0.5"
source = "Definition"
[[check]]
name = "volts_right"
label = "Voltage"
judges = "volts_v"
limit = "range"
severity = "stop"
"""
REPEAT = """
[[repeat]]
name = "circuit"
label = "Circuit {n}"
count = "count"
maximum = 4
"""


@pytest.fixture(scope="session")
def small_form() -> Form:
    from builders import form_of

    return form_of("[section]\n" + SMALL, REPEAT)


def picture(shade: int) -> bytes:
    out = BytesIO()
    Image.new("L", (8, 8), shade).save(out, "PNG")
    return out.getvalue()


@pytest.fixture
def small_file(tmp_path: Path, small_form: Form) -> Path:
    """A project with every kind of row: superseded, withdrawn, removed, renamed, not applicable."""
    ticks, numbers = count(), count(1)
    path = tmp_path / "small.rtuproject"
    with ProjectFile.create(
        path,
        form_id=small_form.id,
        form_version=small_form.version,
        form_hash=small_form.content_hash,
        title="Yard “5” = 100 % Δ",
        clock=lambda: BEGAN + timedelta(minutes=next(ticks)),
        new_id=lambda: f"id-{next(numbers)}",
    ) as project:
        fill_small(project)
    return path


def fill_small(project: ProjectFile) -> None:
    person = project.add_person(
        "Ines Tallow", "Example Air Balance", "Balancer", "", "i@example.org"
    )
    project.update_person(person.id, role="Balancing technician")
    gone = project.add_person("Left Again")
    project.remove_person(gone.id)
    meter = project.add_instrument("voltmeter", serial="V-1", percent_of_reading=0.5, unit="V")
    gauge = project.add_instrument(
        "gauge", span=500.0, percent_of_span=1.0, unit="psig", calibration_due="2027-01-01"
    )
    project.person_id = person.id
    project.set_setting("window.page", "page")
    project.set_setting("coverage_factor", 2.5)
    unit = project.add_unit("RTU-1").id
    project.rename_unit(unit, "RTU-1A")
    other = project.add_unit("RTU-2").id
    project.record(other, "volts_v", value=1.0)
    project.remove_unit(other)
    project.record(unit, "count", value=2.0)
    project.record(unit, "outdoor_f", value=-4.0, note='=HYPERLINK("x")', entered="-20 °C")
    project.record(unit, "suction_psig", (1,), 118.0, instrument_id=gauge.id)
    project.record(unit, "suction_psig", (1,), 118.5, instrument_id=gauge.id)
    project.record(unit, "suction_psig", (2,), not_applicable="circuit not charged")
    project.record(unit, "volts_v", value=207.0, instrument_id=meter.id)
    project.record(unit, "volts_v", value=209.0, instrument_id=meter.id, pass_name="as left")
    project.record(unit, "drive", value="belt")
    project.record(unit, "remark", value="=1+1\nsecond line, “quoted”")
    project.record(unit, "drive", value="direct", pass_name="retest 1")
    project.withdraw(unit, "drive", pass_name="retest 1", note="slip")
    project.record(unit, "of_an_older_form", (3, 1), 5.0)
    project.set_limit(unit, "volts_right", (), {"high": 208.0, "low": 187.2}, origin="Plate")
    project.set_limit(unit, "half", (), {"low": 1.0}, origin="x")
    project.clear_limit(unit, "half")
    project.add_override(unit, "volts_right", person_name="Ines Tallow", reason="Utility told")
    first = project.add_deficiency(unit, "Voltage high", check="volts_right", owner="Ines Tallow")
    project.update_deficiency(first.id, correction="Tap changed", status="corrected")
    project.add_photo(unit, picture(40), caption="Plate", name="volts_v")
    gone_photo = project.add_photo(unit, picture(220), caption="Blurred")
    project.remove_photo(gone_photo.id)
    project.add_signature(
        unit, "", "recorded", person_id=person.id, printed_name="Ines Tallow", statement="Mine."
    )
    project.add_trend_log(
        unit,
        "roof 1.csv",
        b"packed samples",
        file_sha256="0" * 64,
        read_as={"delimiter": ";", "columns": [{"place": 1, "threshold": 2.0}]},
        facts={"samples": 2, "zone": "Δ", "interval_s": None},
        findings=[{"rule": "fan_loaded", "rows": [[0, 1]], "count": 1}],
    )
    project.set_trend_limit(unit, "fan_start_s", 45, "Sheet, page 2")
    project.set_trend_limit(unit, "fan_start_s", 50, "Sheet, page 3")
    witness_small(project, unit)


def witness_small(project: ProjectFile, unit: str) -> None:
    """Two draws, and a witness's reading that was taken out and given again."""
    read = [(name, index) for name, index in project.readings(unit)]
    project.draw_sample(unit, read, 0.2)
    project.draw_sample(unit, read, 0.5)
    name, index = read[0]
    for value in (1.5, None, 2.5):
        project.record_witnessed(unit, name, index, value, pass_name="as found", note="again")


@pytest.fixture
def small_site(small_file: Path, small_form: Form) -> Iterator[SiteResults]:
    with ProjectFile.open(small_file) as project:
        yield site_results(project, small_form)


@pytest.fixture
def later_copy(demo_file: Path, tmp_path: Path) -> Path:
    """A copy of the demo project to go on with."""
    path = tmp_path / "later.rtuproject"
    shutil.copyfile(demo_file, path)
    return path
