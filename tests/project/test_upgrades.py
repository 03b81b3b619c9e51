"""Upgrades: numbered, a copy kept before each, whole or not at all.

The steps after the newest in this file are made up to try the mechanism.
"""

from __future__ import annotations

import shutil
import sqlite3
from pathlib import Path

import pytest

from commission.errors import ProjectFileError
from commission.project import HASH_KINDS, ProjectFile, opening
from commission.project import upgrades as upgrades_module
from commission.project.schema import TABLES
from commission.project.upgrades import UPGRADES, Upgrade, expected_schema

SPECIMENS = Path(__file__).parents[1] / "specimens"

NEWEST = len(UPGRADES)
WEATHER = Upgrade("weather", ("CREATE TABLE weather (id TEXT PRIMARY KEY) STRICT",), 1)
COLOUR = Upgrade("colour", ("ALTER TABLE unit ADD COLUMN colour TEXT NOT NULL DEFAULT ''",), 1)
BROKEN = Upgrade(
    "broken", ("CREATE TABLE half (id TEXT) STRICT", "INSERT INTO nowhere VALUES (1)"), 1
)


@pytest.fixture
def closed(project, unit_id, path) -> Path:
    project.record(unit_id, "volts", (1,), 480.0)
    project.close()
    return path


def version_of(path: Path) -> int:
    return int.from_bytes(path.read_bytes()[60:64], "big")


def test_the_tables_declared_are_the_tables_made():
    connection = sqlite3.connect(":memory:", isolation_level=None)
    for number, upgrade in enumerate(UPGRADES, start=1):
        upgrades_module.take_step(connection, number, upgrade)
    for table in TABLES.values():
        rows = connection.execute(f"PRAGMA table_info({table.name})").fetchall()
        assert {row[1] for row in rows} == set(table.all_columns)
    connection.close()
    assert all(
        text.endswith("STRICT")
        for name, text in expected_schema(1).items()
        if name.startswith("table")
    )


def test_an_older_file_is_upgraded_step_by_step_with_a_copy_before_each(closed):
    before = closed.read_bytes()
    with ProjectFile.open(closed, upgrades=(*UPGRADES, WEATHER, COLOUR)) as project:
        assert not project.read_only
        assert [copy.name for copy in project.kept_copies] == [
            f"{closed.name}.v{NEWEST}.bak",
            f"{closed.name}.v{NEWEST + 1}.bak",
        ]
        unit = project.units()[0]
        assert project.readings(unit.id)[("volts", (1,))].value == 480.0
    assert version_of(closed) == NEWEST + 2
    first, second = (closed.with_name(f"{closed.name}.v{NEWEST + n}.bak") for n in (0, 1))
    assert (version_of(first), version_of(second)) == (NEWEST, NEWEST + 1)
    assert len(first.read_bytes()) == len(before)
    with ProjectFile.open(first) as old:
        assert old.readings(unit.id)[("volts", (1,))].value == 480.0


def test_a_file_of_this_version_is_not_copied(closed):
    with ProjectFile.open(closed) as project:
        assert project.kept_copies == ()
    assert list(closed.parent.iterdir()) == [closed]


def test_an_earlier_copy_is_never_replaced(closed):
    taken = closed.with_name(f"{closed.name}.v{NEWEST}.bak")
    taken.write_text("precious")
    with ProjectFile.open(closed, upgrades=(*UPGRADES, WEATHER)) as project:
        assert project.kept_copies == (closed.with_name(f"{closed.name}.v{NEWEST}-2.bak"),)
    assert taken.read_text() == "precious"


def test_a_step_that_fails_leaves_the_file_as_it_was_and_free(closed):
    with pytest.raises(
        ProjectFileError, match=rf"upgrade to file version {NEWEST + 2} \(broken\) failed"
    ):
        ProjectFile.open(closed, upgrades=(*UPGRADES, WEATHER, BROKEN))
    assert version_of(closed) == NEWEST + 1
    with ProjectFile.open(closed, upgrades=(*UPGRADES, WEATHER)) as project:
        assert not project.read_only
        assert len(project.units()) == 1


def test_without_a_copy_there_is_no_upgrade(closed, monkeypatch):
    def no_room(self, *_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(Path, "replace", no_room)
    with pytest.raises(ProjectFileError, match=r"no copy could be kept .* was not upgraded"):
        ProjectFile.open(closed, upgrades=(*UPGRADES, WEATHER))
    assert version_of(closed) == NEWEST
    assert list(closed.parent.iterdir()) == [closed]


def test_an_older_file_that_cannot_be_written_to_is_read_through_an_upgraded_copy(closed):
    before = closed.read_bytes()
    steps = (*UPGRADES, WEATHER, COLOUR)
    with ProjectFile.open(closed, read_only=True, upgrades=steps) as project:
        assert project._connection.execute("PRAGMA user_version").fetchone()[0] == NEWEST + 2
        assert project.units()[0].tag == "RTU-1"
        with pytest.raises(ProjectFileError, match="read-only"):
            project.add_unit("RTU-2")
    assert closed.read_bytes() == before


def test_a_schema_that_is_not_of_its_version_is_refused(closed):
    other = sqlite3.connect(closed)
    other.execute(f"PRAGMA user_version = {NEWEST + 1}")
    other.close()
    with pytest.raises(
        ProjectFileError,
        match=f"not those of file version {NEWEST + 1}: missing table weather",
    ):
        opening.check_file(closed, (*UPGRADES, WEATHER))


# --- a file of each released version


def test_there_is_a_specimen_of_every_version():
    names = {path.name for path in SPECIMENS.glob("version_*.rtuproject")}
    assert names == {f"version_{n}.rtuproject" for n in range(1, len(UPGRADES) + 1)}


@pytest.mark.parametrize("version", range(1, len(UPGRADES) + 1))
def test_a_specimen_opens_and_tells_what_it_told_then(version, tmp_path):
    path = tmp_path / "specimen.rtuproject"
    shutil.copy(SPECIMENS / f"version_{version}.rtuproject", path)
    assert version_of(path) == version
    with ProjectFile.open(path) as project:
        assert not project.read_only
        assert project.title == "Specimen yard"
        assert project.decision_rule == "guarded acceptance"
        (unit,) = project.units()
        assert [r.value for r in project.history(unit.id, "suction_psig", (1,))] == [118.5, 121.25]
        assert project.readings(unit.id)[("suction_psig", (1,))].pass_name == "as left"
        assert project.readings(unit.id)[("note_text", ())].value == "Δ°F, 5 µA, “quoted”\n2nd line"
        assert project.readings(unit.id)[("smoke_test", ())].not_applicable == "no detector"
        assert dict(project.limits(unit.id)[("rise_in_range", ())].parts) == {
            "low": 30.0,
            "high": 60.0,
        }
        (instrument,) = project.instruments()
        assert (instrument.span, instrument.plus_minus) == (500.0, 1.0)
        noise = (instrument.repeatability, instrument.resolution)
        assert noise == ((0.4, 0.1) if version > 1 else (0.0, 0.0))
        assert [p.name for p in project.people()] == ["Ada Rowan"]
        assert [d.status for d in project.deficiencies()] == ["corrected"]
        assert [o.reason for o in project.overrides()] == ["seen by the fan"]
        if version > 1:
            (log,) = project.trend_logs()
            assert (log.name, log.facts["interval_s"]) == ("roof 1.csv", 1.5)
            assert log.data == b"packed samples"
            assert project.trend_limits(unit.id)["fan_start_s"].value == 45.0
        (photo,) = project.photos()
        assert photo.data[:3] == b"\xff\xd8\xff"
        (signature,) = project.signatures()
        assert signature.hash_kind == HASH_KINDS[version > 1]
        assert project.is_signed_still(signature)
        project.set_limit(unit.id, "rise_in_range", (), {"low": 25}, origin="Sheet, page 9")
        assert project.is_signed_still(signature) == (version == 1)
