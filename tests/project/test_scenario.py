"""Scenario folders become project files; all their faults are told at once."""

from __future__ import annotations

import hashlib
from datetime import datetime
from pathlib import Path

import pytest

from commission.definitions.load import load_form
from commission.definitions.model import Form
from commission.errors import FormError, ProjectFileError
from commission.project import ProjectFile
from commission.project.scenario import project_from_scenario
from commission.project.signatures import signed_names

FORM_FILES = {
    "rooftop_unit.toml": """
id = "small_form"
version = "1"
title = "A small form"
sections = ["project.toml", "electrical.toml"]
[[repeat]]
name = "circuit"
label = "Circuit {n}"
count = "circuits"
maximum = 4
[[repeat]]
name = "leg"
label = "{member}"
members = ["L1", "L2", "L3"]
count = "3"
maximum = 3
""",
    "project.toml": """
[section]
name = "project"
title = "Project"
level = "project"
[[field]]
name = "elevation_ft"
label = "Elevation"
unit = "ft"
""",
    "electrical.toml": """
[section]
name = "electrical"
title = "Electrical"
[[field]]
name = "circuits"
label = "Circuits"
kind = "integer"
[[field]]
name = "suction_psig"
label = "Suction"
unit = "psig"
repeat = "circuit"
possible = [-14.7, 800]
[[field]]
name = "amps_a"
label = "Amps"
unit = "A"
repeat = ["circuit", "leg"]
[[field]]
name = "metering"
label = "Metering"
kind = "choice"
choices = ["expansion valve", "fixed orifice"]
[[field]]
name = "smoke_fitted"
label = "Smoke detector fitted"
kind = "yes_no"
[[field]]
name = "rotation"
label = "Rotation right"
kind = "item"
severity = "stop"
[[field]]
name = "started_on"
label = "Started on"
kind = "date"
[[field]]
name = "started_at"
label = "Started at"
kind = "time"
[[field]]
name = "remark"
label = "Remark"
kind = "note"
required = false
[[check]]
name = "suction_in_range"
label = "Suction"
judges = "suction_psig"
limit = "range"
severity = "fail"
[[check]]
name = "amps_near"
label = "Amps"
judges = "amps_a"
limit = "target"
severity = "fail"
""",
}

SITE = """
title = "Test yard"
began = 2026-09-14T08:00:00-06:00
default_person = "agent"
[settings]
decision_rule = "guarded acceptance"
[readings]
elevation_ft = 5200
[[person]]
key = "agent"
name = "Ada Rowan"
company = "Example Balancing"
[[person]]
key = "owner"
name = "Bo Lind"
[[instrument]]
key = "gauge"
kind = "gauge"
unit = "psig"
span = 500
percent_of_span = 0.5
calibrated_on = 2026-01-10
calibration_due = "2027-01-10"
[[instrument]]
key = "clamp"
kind = "ammeter"
unit = "A"
"""

UNIT_1 = """
tag = "RTU-1"
[as_found.configuration]
circuits = 2
metering = "fixed orifice"
smoke_fitted = true
rotation = "done"
started_on = 2026-09-14
started_at = 09:30:00
[as_found.cooling]
suction_psig = [118.5, ""]
amps_a = [[21.0, 21.5, 20.9], [{ value = 19, instrument = "clamp", note = "hunting" }, "", 20]]
[as_left.cooling]
suction_psig = ["", { value = 121, person = "owner", entered = "834 kPa" }]
remark = { not_applicable = "nothing to say" }
[instruments]
suction_psig = "gauge"
[limits]
suction_in_range = { low = 100, high = 130.5, origin = "Sheet, page 4" }
amps_near = [[{ target = 21, tolerance = 2, origin = "Nameplate" }], [{ confirmed = true }]]
[[deficiency]]
check = "suction_in_range"
index = [2]
description = "charge low"
due = 2026-09-20
status = "corrected"
[[override]]
check = "rotation_done"
person_name = "Ada Rowan"
reason = "proved by the fan"
[[signature]]
section = "electrical"
role = "recorded"
person = "agent"
statement = "as read"
"""


@pytest.fixture(scope="module")
def form(tmp_path_factory) -> Form:
    folder = tmp_path_factory.mktemp("forms")
    for name, text in FORM_FILES.items():
        (folder / name).write_text(text, encoding="utf-8")
    return load_form(folder)


@pytest.fixture
def folder(tmp_path) -> Path:
    made = tmp_path / "scenario"
    made.mkdir()
    write(made, "site.toml", SITE)
    write(made, "rtu_1.toml", UNIT_1)
    return made


def write(folder: Path, name: str, text: str) -> None:
    (folder / name).write_text(text, encoding="utf-8")


def faults_of(folder: Path, form: Form, tmp_path: Path) -> list[str]:
    with pytest.raises(FormError) as caught:
        project_from_scenario(folder, tmp_path / "a.rtuproject", form)
    assert not (tmp_path / "a.rtuproject").exists()
    return list(caught.value.faults)


def test_a_folder_becomes_a_project_file(folder, form, tmp_path):
    with project_from_scenario(folder, tmp_path / "a.rtuproject", form) as project:
        assert (project.title, project.decision_rule) == ("Test yard", "guarded acceptance")
        assert (project.form_id, project.form_hash) == ("small_form", form.content_hash)
        agent, owner = project.people()
        gauge, clamp = project.instruments()
        assert (gauge.calibrated_on, gauge.calibration_due) == ("2026-01-10", "2027-01-10")
        assert project.readings("")[("elevation_ft", ())].value == 5200.0
        (unit,) = project.units()
        now = project.readings(unit.id)
        assert {
            key: reading.value for key, reading in now.items() if reading.value is not None
        } == {
            ("circuits", ()): 2.0,
            ("metering", ()): "fixed orifice",
            ("smoke_fitted", ()): "yes",
            ("rotation", ()): "done",
            ("started_on", ()): "2026-09-14",
            ("started_at", ()): "09:30:00",
            ("suction_psig", (1,)): 118.5,
            ("suction_psig", (2,)): 121.0,
            ("amps_a", (1, 1)): 21.0,
            ("amps_a", (1, 2)): 21.5,
            ("amps_a", (1, 3)): 20.9,
            ("amps_a", (2, 1)): 19.0,
            ("amps_a", (2, 3)): 20.0,
        }
        assert ("suction_psig", (2,)) not in project.readings(unit.id, "as found")
        suction, amps = now[("suction_psig", (2,))], now[("amps_a", (2, 1))]
        assert (suction.pass_name, suction.entered) == ("as left", "834 kPa")
        assert (suction.instrument_id, suction.person_id) == (gauge.id, owner.id)
        assert (amps.instrument_id, amps.note, amps.person_id) == (clamp.id, "hunting", agent.id)
        assert now[("remark", ())].not_applicable == "nothing to say"
        assert {r.source for r in now.values()} == {"demo"}
        limits = project.limits(unit.id)
        assert dict(limits[("suction_in_range", ())].parts) == {"low": 100.0, "high": 130.5}
        assert limits[("amps_near", (1, 1))].origin == "Nameplate"
        assert limits[("amps_near", (2, 1))].confirmed
        (deficiency,) = project.deficiencies(unit.id)
        assert (deficiency.index, deficiency.due, deficiency.person_id) == (
            (2,),
            "2026-09-20",
            agent.id,
        )
        assert project.overrides(unit.id)[0].reason == "proved by the fan"
        (signature,) = project.signatures(unit.id)
        assert project.is_signed_still(signature, *signed_names(form, "electrical"))
        assert (signature.person_id, signature.printed_name) == (agent.id, "Ada Rowan")


def test_times_run_from_the_start_and_the_window_goes_on_with_its_own_clock(folder, form, tmp_path):
    with project_from_scenario(folder, tmp_path / "a.rtuproject", form) as project:
        unit_id = project.units()[0].id
        times = [datetime.fromisoformat(row["at"]) for row in project.rows("reading")]
        assert times == sorted(times)
        began = datetime.fromisoformat("2026-09-14T08:00:00-06:00")
        assert 0 < (times[0] - began).total_seconds() < 600
        now = project.record(unit_id, "circuits", (), 2.0)
        assert datetime.fromisoformat(now.at).utcoffset() == datetime.now().astimezone().utcoffset()


def test_the_same_folder_gives_the_same_rows(folder, form, tmp_path):
    digests = set()
    for name in ("a", "b"):
        path = tmp_path / f"{name}.rtuproject"
        with project_from_scenario(folder, path, form) as project:
            rows = [
                row for kind in ("reading", "limit_entry", "person") for row in project.rows(kind)
            ]
            digests.add(hashlib.sha256(repr(rows).encode()).hexdigest())
            uuid = project.uuid
    assert len(digests) == 1
    with ProjectFile.open(tmp_path / "a.rtuproject") as first:
        assert first.uuid == uuid


def test_units_come_in_the_order_of_their_numbers(folder, form, tmp_path):
    for number in (10, 2):
        write(
            folder, f"rtu_{number}.toml", f'tag = "RTU-{number}"\n[configuration]\ncircuits = 1\n'
        )
    with project_from_scenario(folder, tmp_path / "a.rtuproject", form) as project:
        assert [unit.tag for unit in project.units()] == ["RTU-1", "RTU-2", "RTU-10"]
        assert project.readings(project.units()[1].id)[("circuits", ())].value == 1.0


def test_an_existing_project_is_left_alone(folder, form, tmp_path):
    (tmp_path / "a.rtuproject").write_text("precious")
    with pytest.raises(ProjectFileError, match="already"):
        project_from_scenario(folder, tmp_path / "a.rtuproject", form)
    assert (tmp_path / "a.rtuproject").read_text() == "precious"


FAULTS = [
    (
        'suction_psig = [118.5, ""]',
        "suctoin_psig = [1]",
        "'suctoin_psig' is no field of the form. Did you mean 'suction_psig'?",
    ),
    ('suction_psig = [118.5, ""]', "suction_psig = 118.5", "once for each circuit; give a list"),
    ('suction_psig = [118.5, ""]', "suction_psig = [1,2,3,4,5]", "5 values for circuit, of which"),
    ('suction_psig = [118.5, ""]', "suction_psig = [900]", "can only be -14.7 to 800 in psig"),
    ('suction_psig = [118.5, ""]', 'suction_psig = ["118"]', "is a number in psig; '118' is none"),
    ('suction_psig = [118.5, ""]', "suction_psig = [true]", "is a number"),
    ('suction_psig = [118.5, ""]', "suction_psig = [nan]", "is a number"),
    ('suction_psig = [118.5, ""]', "suction_psig = [[1]]", "a list stands where one value"),
    ("circuits = 2", "circuits = 2.5", "is a whole number"),
    ("circuits = 2", "circuits = [2]", "is asked once, not repeated"),
    ("circuits = 2", "elevation_ft = 2", "is asked once for the project: give it in site.toml"),
    ("circuits = 2", "circuits = { value = 2, not_applicable = 'x' }", "drop one"),
    ("circuits = 2", "circuits = { valeu = 2 }", "Did you mean 'value'"),
    ("circuits = 2", "circuits = { value = 2, instrument = 'gage' }", "Did you mean 'gauge'"),
    ("circuits = 2", "circuits = { value = 2, person = 'agnt' }", "Did you mean 'agent'"),
    ('"fixed orifice"', '"fixed orfice"', "Did you mean 'fixed orifice'"),
    ("smoke_fitted = true", 'smoke_fitted = "maybe"', "is one of yes, no"),
    ('rotation = "done"', 'rotation = "yes"', "is one of done, not done"),
    ("started_on = 2026-09-14", 'started_on = "14.9."', "is a date like 2026-09-14"),
    ("started_on = 2026-09-14", "started_on = 5", "is a date; 5 is none"),
    ("started_at = 09:30:00", 'started_at = "soon"', "is a time like 14:30"),
    ('suction_psig = "gauge"', 'suction_psig = "gage"', "has the key 'gage'. Did you mean 'gauge'"),
    ('suction_psig = "gauge"', 'suction = "gauge"', "is no field of the form"),
    ("suction_in_range =", "suction_in_rnge =", "is no check of the form. Did you mean"),
    ("low = 100, high = 130.5", "low = 140, high = 130.5", "low 140 is above high 130.5"),
    ("low = 100, high = 130.5", "target = 140", "target is no part of a limit 'range'; it has low"),
    ("low = 100, high = 130.5", "low = 'x'", "low is a number or decimal number; 'x' is none"),
    ("low = 100, high = 130.5", "lwo = 1", "Did you mean 'low'"),
    ("low = 100, high = 130.5, origin", "origin", "says nothing"),
    ('status = "corrected"', 'status = "correctd"', "Did you mean 'corrected'"),
    ('description = "charge low"', "", "deficiency 1: description is missing"),
    ("index = [2]", "index = [0]", "index holds member numbers from 1"),
    ("index = [2]", "index = 2", "index is a list"),
    ('reason = "proved by the fan"', 'reason = " "', "override 1: reason is missing"),
    ('check = "rotation_done"', 'check = "rotation"', "Did you mean 'rotation_done'"),
    ('section = "electrical"', 'section = "electric"', "Did you mean 'electrical'"),
    ('role = "recorded"', 'role = "saw"', "role is one of recorded, witnessed, accepted"),
    ('person = "agent"\nstatement', 'person = "agnt"\nstatement', "Did you mean 'agent'"),
    ('tag = "RTU-1"', "", "tag is missing"),
    ('tag = "RTU-1"', 'tag = "RTU-1"\ntags = 1', "Did you mean 'tag'"),
    ('tag = "RTU-1"', 'tag = "RTU-1"\nbegan = 2026-09-14T08:00:00', "a time with its offset"),
    ("[as_left.cooling]", "[as_lft.cooling]", "Did you mean 'as_left'"),
    ("[as_left.cooling]", "[as_left]", "is a table"),
    ("[[override]]", "[override]", "write [[override]] before each"),
    ("[as_left.cooling]", "[as_found.twice]\ncircuits = 3\n[as_left.cooling]", "given twice"),
    ("[as_left.cooling]", "not toml", "is not TOML"),
]


@pytest.mark.parametrize(("old", "new", "told"), FAULTS, ids=range(len(FAULTS)))
def test_a_fault_in_a_unit_file_names_file_rule_and_cure(folder, form, tmp_path, old, new, told):
    assert old in UNIT_1
    write(folder, "rtu_1.toml", UNIT_1.replace(old, new))
    faults = faults_of(folder, form, tmp_path)
    assert any(told in fault for fault in faults), faults
    assert all(fault.startswith("rtu_1.toml") for fault in faults)


SITE_FAULTS = [
    ('title = "Test yard"', "", "title is missing"),
    ("began = 2026-09-14T08:00:00-06:00", "", "began is missing"),
    ('default_person = "agent"', 'default_person = "agnt"', "Did you mean 'agent'"),
    ('"guarded acceptance"', '"guarded"', "is none of simple acceptance, guarded acceptance"),
    ("elevation_ft = 5200", "circuits = 5200", "is asked for each unit"),
    ('key = "owner"', 'key = "agent"', "key 'agent' is used twice"),
    ('key = "owner"', "", "person 2: key is missing"),
    ('unit = "psig"', 'unit = "psgi"', "psgi"),
    ("span = 500", "spam = 500", "Did you mean 'span'"),
    ('company = "Example Balancing"', "company = 5", "company is a text; 5 is none"),
    ("[settings]", "[setings]", "Did you mean 'settings'"),
]


@pytest.mark.parametrize(("old", "new", "told"), SITE_FAULTS, ids=range(len(SITE_FAULTS)))
def test_a_fault_in_the_site_file_is_told(folder, form, tmp_path, old, new, told):
    assert old in SITE
    write(folder, "site.toml", SITE.replace(old, new, 1))
    faults = faults_of(folder, form, tmp_path)
    assert any(told in fault and fault.startswith("site.toml") for fault in faults), faults


def test_all_faults_of_all_files_are_told_at_once(folder, form, tmp_path):
    write(folder, "site.toml", SITE.replace("elevation_ft", "elevaton_ft"))
    write(folder, "rtu_1.toml", UNIT_1.replace("circuits", "circuts").replace("low = ", "lwo = "))
    write(folder, "rtu_2.toml", 'tag = "rtu-1"\n')
    told = faults_of(folder, form, tmp_path)
    for beginning in (
        "site.toml, [readings]: 'elevaton_ft'",
        "rtu_1.toml, [as_found.configuration]",
        "rtu_1.toml, [limits] suction_in_range",
        "rtu_2.toml: tag 'rtu-1'",
    ):
        assert any(fault.startswith(beginning) for fault in told), (beginning, told)


def test_a_folder_without_files_says_so(form, tmp_path):
    (tmp_path / "empty").mkdir()
    told = faults_of(tmp_path / "empty", form, tmp_path)
    assert any("site.toml: cannot be read" in fault for fault in told)
    assert any("has no unit file" in fault for fault in told)
