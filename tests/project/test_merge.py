"""Two crews' files joined: nothing lost, order of joining of no matter, conflicts shown."""

from __future__ import annotations

import os
import shutil
import tempfile
import time
from collections.abc import Callable
from datetime import datetime, timedelta, timezone
from io import BytesIO
from itertools import count
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image

from commission.errors import ProjectFileError
from commission.project import AS_LEFT, ProjectFile
from commission.project.merge import (
    merge_projects,
    numbered_anew,
    project_from_rows,
    stored_photos,
    stored_rows,
)
from commission.project.merge_report import merge_rows
from commission.project.schema import TABLES
from tests.killing import Killed, moments

FORM = {"form_id": "packaged_rooftop_unit", "form_version": "0.1", "form_hash": "abc"}
ZONE = timezone(timedelta(hours=-6))
BEGAN = datetime(2026, 9, 14, 8, 0, tzinfo=ZONE)


def ids(prefix: str) -> Callable[[], str]:
    numbers = count(1)
    return lambda: f"{prefix}-{next(numbers)}"


def ticking(start_minute: int = 0, step_s: int = 60) -> Callable[[], datetime]:
    ticks = count()
    return lambda: BEGAN + timedelta(minutes=start_minute, seconds=step_s * next(ticks))


@pytest.fixture
def base(tmp_path: Path) -> Path:
    path = tmp_path / "base.rtuproject"
    with ProjectFile.create(
        path, title="Yard", clock=ticking(), new_id=ids("base"), **FORM
    ) as project:
        project.person_id = project.add_person("Ines Tallow").id
        unit = project.add_unit("RTU-1").id
        project.record(unit, "supply_v", value=208.0)
        project.set_limit(unit, "supply_ok", parts={"low": 187.0}, origin="Plate")
    return path


def crew(base: Path, name: str, start_minute: int = 100, step_s: int = 60) -> ProjectFile:
    path = base.with_name(f"{name}.rtuproject")
    shutil.copyfile(base, path)
    project = ProjectFile.open(path, clock=ticking(start_minute, step_s), new_id=ids(name))
    project.person_id = project.people()[0].id
    return project


def picture(shade: int) -> bytes:
    out = BytesIO()
    Image.new("L", (8, 8), shade).save(out, "PNG")
    return out.getvalue()


def contents(path: Path) -> tuple[object, ...]:
    with ProjectFile.open(path, read_only=True) as project:
        return project.uuid, project.made_at, stored_rows(project), dict(stored_photos(project))


def row_ids(path: Path) -> set[tuple[str, str]]:
    with ProjectFile.open(path, read_only=True) as project:
        return {(kind, row["id"]) for kind, rows in stored_rows(project).items() for row in rows}


def test_rows_of_both_crews_are_all_there(base: Path, tmp_path: Path) -> None:
    with crew(base, "a") as ours, crew(base, "b") as theirs:
        unit = ours.units()[0].id
        ours.record(unit, "fan_amps_a", value=6.5)
        theirs.record(unit, "gas_inwc", value=3.5)
        theirs.add_unit("RTU-2")
    report = merge_projects(ours.path, theirs.path, tmp_path / "both.rtuproject")
    assert row_ids(report.path) == row_ids(ours.path) | row_ids(theirs.path)
    assert (report.only_ours, report.only_theirs, report.conflicts) == (1, 2, ())
    with ProjectFile.open(report.path) as both:
        readings = {name: r.value for (name, _), r in both.readings(unit).items()}
        assert readings == {"supply_v": 208.0, "fan_amps_a": 6.5, "gas_inwc": 3.5}
        assert [found.tag for found in both.units()] == ["RTU-1", "RTU-2"]
        assert not both.read_only


def test_both_inputs_stay_byte_for_byte(base: Path, tmp_path: Path) -> None:
    with crew(base, "a") as ours, crew(base, "b") as theirs:
        ours.add_unit("RTU-2")
    before = ours.path.read_bytes(), theirs.path.read_bytes()
    merge_projects(ours.path, theirs.path, tmp_path / "both.rtuproject")
    assert (ours.path.read_bytes(), theirs.path.read_bytes()) == before


def test_two_readings_of_one_field_are_shown_and_the_later_counts(
    base: Path, tmp_path: Path
) -> None:
    with crew(base, "a", 100) as ours, crew(base, "b", 200) as theirs:
        unit = ours.units()[0].id
        ours.record(unit, "supply_v", value=207.0)
        theirs.record(unit, "supply_v", value=205.5)
    report = merge_projects(ours.path, theirs.path, tmp_path / "both.rtuproject")
    (conflict,) = report.conflicts
    assert (conflict.kind, conflict.unit, conflict.in_force) == ("reading", "RTU-1", "theirs")
    assert conflict.what == "supply_v, as found"
    assert conflict.ours.startswith("207 (Ines Tallow, 2026-09-14T09:40")
    assert conflict.theirs.startswith("205.5 (")
    with ProjectFile.open(report.path) as both:
        assert both.readings(unit)["supply_v", ()].value == 205.5
        assert [r.value for r in both.history(unit, "supply_v")] == [208.0, 207.0, 205.5]
    header, rows = merge_rows(report)
    assert len(rows) == 1 and len(rows[0]) == len(header)


def test_the_same_answer_twice_is_no_conflict(base: Path, tmp_path: Path) -> None:
    with crew(base, "a") as ours, crew(base, "b", 300) as theirs:
        for project in (ours, theirs):
            project.record(project.units()[0].id, "supply_v", value=207.0)
    assert not merge_projects(ours.path, theirs.path, tmp_path / "both.rtuproject").conflicts


def test_a_conflict_is_shown_once_only(base: Path, tmp_path: Path) -> None:
    with crew(base, "a") as ours, crew(base, "b", 300) as theirs, crew(base, "c", 400) as third:
        for value, project in enumerate((ours, theirs), start=200):
            project.record(project.units()[0].id, "supply_v", value=float(value))
        third.add_unit("RTU-9")
    both = merge_projects(ours.path, theirs.path, tmp_path / "both.rtuproject")
    assert len(both.conflicts) == 1
    assert not merge_projects(both.path, third.path, tmp_path / "all.rtuproject").conflicts


@pytest.mark.parametrize(
    ("kind", "change"),
    [
        ("limit", lambda p, n: p.set_limit(p.units()[0].id, "supply_ok", (), {"low": 180.0 + n})),
        ("setting", lambda p, n: p.set_setting("coverage_factor", 2.0 + n / 10)),
        ("person", lambda p, n: p.update_person(p.people()[0].id, role=f"Role {n}")),
        ("unit", lambda p, n: p.rename_unit(p.units()[0].id, f"RTU-{n}{n}")),
        ("unit tag", lambda p, n: p.add_unit("RTU-7")),
        ("deficiency number", lambda p, n: p.add_deficiency(p.units()[0].id, f"Fault {n}")),
    ],
)
def test_each_kind_of_conflict_is_shown(base: Path, tmp_path: Path, kind: str, change) -> None:
    with crew(base, "a") as ours, crew(base, "b", 300) as theirs:
        change(ours, 1)
        change(theirs, 2)
    report = merge_projects(ours.path, theirs.path, tmp_path / "both.rtuproject")
    assert [conflict.kind for conflict in report.conflicts] == [kind]
    assert report.conflicts[0].ours != report.conflicts[0].theirs
    assert "1 conflict to look at" in report.sentence


def test_readings_of_a_unit_that_the_other_crew_removed_are_kept(
    base: Path, tmp_path: Path
) -> None:
    with crew(base, "a") as ours, crew(base, "b") as theirs:
        unit = ours.units()[0].id
        ours.remove_unit(unit)
        theirs.record(unit, "gas_inwc", value=3.5)
    report = merge_projects(ours.path, theirs.path, tmp_path / "both.rtuproject")
    (conflict,) = report.conflicts
    assert (conflict.kind, conflict.ours) == ("removed unit", "removed")
    with ProjectFile.open(report.path) as both:
        both.restore_unit(unit)
        assert both.readings(unit)["gas_inwc", ()].value == 3.5


def test_files_begun_apart_are_joined_and_said_to_be(base: Path, tmp_path: Path) -> None:
    other = tmp_path / "other.rtuproject"
    clock = ticking(500)
    with ProjectFile.create(other, title="Yard B", clock=clock, new_id=ids("o"), **FORM) as project:
        project.add_unit("rtu-1")
    report = merge_projects(other, base, tmp_path / "both.rtuproject")
    assert {"project", "setting", "unit tag"} == {c.kind for c in report.conflicts}
    with ProjectFile.open(base) as first, ProjectFile.open(report.path) as both:
        assert (both.uuid, both.made_at) == (first.uuid, first.made_at)
        assert both.title == "Yard B"  # set later


def test_a_chain_entered_within_one_second_keeps_its_order(base: Path, tmp_path: Path) -> None:
    with crew(base, "a", 100, step_s=0) as ours, crew(base, "b", 100, step_s=0) as theirs:
        unit = ours.units()[0].id
        for value in (9.0, 8.0, 7.0, 6.0):
            ours.record(unit, "fan_amps_a", value=value, pass_name=AS_LEFT)
    report = merge_projects(theirs.path, ours.path, tmp_path / "both.rtuproject")
    with ProjectFile.open(report.path) as both:
        assert [r.value for r in both.history(unit, "fan_amps_a")] == [9.0, 8.0, 7.0, 6.0]


def test_a_clock_set_back_does_not_turn_history_round(base: Path, tmp_path: Path) -> None:
    with crew(base, "a", -500) as ours:
        unit = ours.units()[0].id
        ours.record(unit, "supply_v", value=201.0)
    report = merge_projects(ours.path, base, tmp_path / "both.rtuproject")
    with ProjectFile.open(report.path) as both:
        assert [r.value for r in both.history(unit, "supply_v")] == [208.0, 201.0]
        assert both.readings(unit)["supply_v", ()].value == 201.0


def test_photos_of_both_crews_are_there(base: Path, tmp_path: Path) -> None:
    with crew(base, "a") as ours, crew(base, "b") as theirs:
        for shade, project in ((50, ours), (200, theirs)):
            project.add_photo(project.units()[0].id, picture(shade), caption=f"shade {shade}")
    report = merge_projects(ours.path, theirs.path, tmp_path / "both.rtuproject")
    with ProjectFile.open(report.path) as both:
        assert sorted(photo.caption for photo in both.photos()) == ["shade 200", "shade 50"]
        assert all(photo.data.startswith(b"\xff\xd8") for photo in both.photos())


def test_a_file_that_is_there_is_not_replaced(base: Path, tmp_path: Path) -> None:
    for there in (base, tmp_path / "there"):
        there.touch()
        kept = there.read_bytes()
        with pytest.raises(ProjectFileError, match="of this name already"):
            merge_projects(base, base, there)
        assert there.read_bytes() == kept


def test_other_forms_and_newer_files_are_refused(base: Path, tmp_path: Path) -> None:
    other = tmp_path / "other.rtuproject"
    ProjectFile.create(other, title="", form_id="boiler", form_version="1", form_hash="").close()
    with pytest.raises(ProjectFileError, match="only projects of one form"):
        merge_projects(base, other, tmp_path / "x")
    data = bytearray(other.read_bytes())
    data[60:64] = (99).to_bytes(4, "big")
    other.write_bytes(data)
    with pytest.raises(ProjectFileError, match="newer program"):
        merge_projects(base, other, tmp_path / "x")
    assert not (tmp_path / "x").exists()


def test_a_changed_row_is_refused(base: Path, tmp_path: Path) -> None:
    import sqlite3

    changed = tmp_path / "changed.rtuproject"
    shutil.copyfile(base, changed)
    connection = sqlite3.connect(changed)
    connection.execute("UPDATE reading SET value = 480.0")
    connection.commit()
    connection.close()
    with pytest.raises(ProjectFileError, match="rows never change"):
        merge_projects(base, changed, tmp_path / "x")
    assert sorted(p.name for p in tmp_path.iterdir()) == ["base.rtuproject", "changed.rtuproject"]


def test_a_full_disk_leaves_nothing(base: Path, tmp_path: Path, monkeypatch) -> None:
    from commission.project import merge, opening

    def small(path: Path, mode: str):
        connection = opening_connect(path, mode)
        connection.execute("PRAGMA max_page_count = 20")
        return connection

    opening_connect = opening.connect
    monkeypatch.setattr(merge.opening, "connect", small)
    with pytest.raises(ProjectFileError, match="make room"):
        merge_projects(base, base, tmp_path / "x")
    assert [p.name for p in tmp_path.iterdir()] == ["base.rtuproject"]


# --- property: the order of joining is of no matter

KINDS = (
    *("read", "withdraw", "limit", "setting", "unit", "rename", "deficiency", "corrected"),
    *("photo", "photo gone", "override", "sign", "instrument", "recalibrated", "log", "log limit"),
)
ACTIONS = st.lists(
    st.tuples(
        st.sampled_from(KINDS),
        st.integers(0, 2),
        st.integers(0, 5),
        st.sampled_from([0, 0, 1, 60]),
    ),
    max_size=8,
)


PICTURES = tuple(picture(shade) for shade in (40, 220))


class _Hand:
    """Plays actions in a project; times move on by what each action says."""

    def __init__(self, project: ProjectFile, clock: list[datetime]) -> None:
        self.project, self.clock = project, clock

    def play(self, actions: list[tuple[str, int, int, int]]) -> None:
        for what, place, number, seconds in actions:
            self.clock[0] += timedelta(seconds=seconds)
            try:
                self.act(what, place, number)
            except ProjectFileError:
                continue  # a tag that is taken

    def act(self, what: str, place: int, number: int) -> None:
        project = self.project
        units = project.units()
        unit = units[place % len(units)].id
        if what == "read":
            project.record(unit, f"field_{place}", value=float(number))
        elif what == "withdraw":
            project.withdraw(unit, f"field_{place}", pass_name="as found")
        elif what == "limit":
            project.set_limit(unit, "check", parts={"low": float(number)}, origin="x")
        elif what == "setting":
            project.set_setting("coverage_factor", 1.0 + number / 2)
        elif what == "unit":
            project.add_unit(f"RTU-{number}")
        elif what == "rename":
            project.rename_unit(unit, f"R{number}")
        elif what == "deficiency":
            project.add_deficiency(unit, f"fault {number}")
        else:
            self.act_on_lists(what, unit, number)

    def act_on_lists(self, what: str, unit: str, number: int) -> None:
        project = self.project
        if what == "corrected":
            for found in project.deficiencies(unit)[:1]:
                project.update_deficiency(found.id, status="corrected", correction=f"c{number}")
        elif what == "photo":
            project.add_photo(unit, PICTURES[number % 2], caption=f"photo {number}")
        elif what == "photo gone":
            for photo in project.photos(unit)[:1]:
                project.remove_photo(photo.id)
        elif what == "override":
            project.add_override(unit, "check", person_name=f"P{number}", reason="seen")
        elif what == "sign":
            project.add_signature(
                unit, "", "recorded", person_id="p", printed_name=f"P{number}", statement=""
            )
        elif what == "instrument":
            project.add_instrument("gauge", serial=f"G{number}", resolution=number / 10)
        elif what == "recalibrated":
            for one in project.instruments()[:1]:
                project.update_instrument(one.id, repeatability=number / 10)
        elif what == "log":
            project.add_trend_log(
                unit, f"log {number}", bytes([number % 2]), read_as={}, facts={}, findings=[]
            )
        else:
            project.set_trend_limit(unit, "delay_s", float(number), "the literature")


def _state(path: Path) -> object:
    """Return all that counts in a file: what a reader of the project sees."""
    with ProjectFile.open(path, read_only=True) as project:
        return (
            [project.setting(name) for name in ("title", "coverage_factor")],
            [(u, project.readings(u.id), project.limits(u.id)) for u in project.units()],
            project.people(),
            project.deficiencies(),
            [(photo.id, photo.caption, photo.data) for photo in project.photos()],
            project.overrides(),
            [(one, project.is_signed_still(one)) for one in project.signatures()],
            project.instruments(),
            [(log.id, log.name, log.read_data()) for log in project.trend_logs()],
            [project.trend_limits(u.id) for u in project.units()],
        )


@settings(max_examples=int(os.environ.get("COMMISSION_MERGES", "25")), deadline=None)
@given(st.tuples(ACTIONS, ACTIONS, ACTIONS, ACTIONS))
def test_merging_is_commutative_associative_and_idempotent(plans) -> None:
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        clock = [BEGAN]
        base = folder / "base.rtuproject"
        with ProjectFile.create(
            base, title="Yard", clock=lambda: clock[0], new_id=ids("base"), **FORM
        ) as project:
            project.add_unit("RTU-A")
            _Hand(project, clock).play(plans[0])
        crews = []
        for letter, plan in zip("abc", plans[1:], strict=True):
            path = folder / f"{letter}.rtuproject"
            shutil.copyfile(base, path)
            now = [clock[0]]
            with ProjectFile.open(path, clock=lambda now=now: now[0], new_id=ids(letter)) as copy:
                _Hand(copy, now).play(plan)
            crews.append(path)
        a, b, c = crews
        numbers = count()

        def merged(one: Path, other: Path) -> Path:
            return merge_projects(one, other, folder / f"m{next(numbers)}.rtuproject").path

        ab, bc = merged(a, b), merged(b, c)
        assert contents(ab) == contents(merged(b, a))
        left, right = merged(ab, c), merged(a, bc)
        assert contents(left) == contents(right) == contents(merged(merged(c, a), b))
        assert _state(left) == _state(right)
        assert contents(merged(left, a)) == contents(left) == contents(merged(left, left))
        assert row_ids(left) == row_ids(a) | row_ids(b) | row_ids(c)


def test_order_follows_from_rows_alone(base: Path) -> None:
    with ProjectFile.open(base) as project:
        rows = stored_rows(project)
    turned = {kind: list(reversed(found)) for kind, found in rows.items()}
    assert numbered_anew(turned) == numbered_anew(rows)
    numbers = sorted(row["number"] for kind in TABLES for row in numbered_anew(rows)[kind])
    assert numbers == list(range(1, len(numbers) + 1))


# --- a project from rows alone


def test_rows_make_the_same_project(base: Path, tmp_path: Path) -> None:
    uuid, made_at, rows, photos = contents(base)
    again = tmp_path / "again.rtuproject"
    project_from_rows(
        again, project_uuid=uuid, made_at=made_at, rows=rows, photos=photos.items()
    ).close()
    assert contents(again) == contents(base)
    with ProjectFile.open(again) as project:
        assert project.record(project.units()[0].id, "fan_amps_a", value=1.0).value == 1.0


@pytest.mark.parametrize(
    ("kind", "column", "value", "said"),
    [
        ("reading", "value", float("nan"), "value cannot be nan"),
        ("reading", "pass_name", "as painted", "a pass is"),
        ("reading", "index", "0", "members count from 1"),
        ("reading", "index", "x", "invalid literal"),
        ("reading", "at", "yesterday", "is no time"),
        ("reading", "at", "2026-09-14T08:00:00", "no offset"),
        ("reading", "removed", 2, "removed cannot be 2"),
        ("reading", "name", "a\x00b", "name cannot be"),
        ("limit_entry", "parts", '{"lowest": 1}', "not those of a limit"),
        ("setting", "value", 7.0, "enter a text"),
        ("unit", "order", 2**70, "order cannot be"),
        ("unit", "colour", "red", "unknown colour"),
        ("unit", "id", "", "no id"),
        ("unit", "number", 1, "used twice"),
    ],
)
def test_impossible_rows_are_refused(
    base: Path, tmp_path: Path, kind: str, column: str, value: object, said: str
) -> None:
    uuid, made_at, rows, _ = contents(base)
    rows[kind][0][column] = value
    place = tmp_path / "again.rtuproject"
    with pytest.raises(ProjectFileError, match=said):
        project_from_rows(place, project_uuid=uuid, made_at=made_at, rows=rows)
    assert not place.exists()


# --- killed while merging

MERGE = """
from commission.project.merge import merge_projects
def run(argument):
    ours, theirs, into = argument.split("|")
    print("merging", flush=True)
    merge_projects(ours, theirs, into)
"""


@pytest.mark.skipif(os.name != "posix", reason="SIGKILL is POSIX")
def test_a_merge_that_is_killed_leaves_both_files_and_a_whole_one_or_none(
    base: Path, tmp_path: Path
) -> None:
    sides = []
    for name in ("a", "b"):
        with crew(base, name) as project:
            unit = project.units()[0].id
            for number in range(1, 400):
                project.record(unit, f"field_{name}", (number,), float(number))
            project.add_photo(unit, picture(len(sides)))
        sides.append(tmp_path / f"{name}.rtuproject")
    before = [side.read_bytes() for side in sides]
    wanted = row_ids(sides[0]) | row_ids(sides[1])
    outcome = []
    with Killed(MERGE) as merging:
        began = time.monotonic()
        merging.run("|".join(map(str, (*sides, tmp_path / "first.rtuproject"))), None)
        whole_s = time.monotonic() - began
        for number, moment in enumerate(moments(20261125, 1.2 * whole_s)):
            into = tmp_path / f"merged_{number}.rtuproject"
            merging.run("|".join(map(str, (*sides, into))), moment, first="merging")
            outcome.append(into.exists())
            if into.exists():
                assert row_ids(into) == wanted
            else:  # what is left beside it is in nobody's way
                assert merge_projects(*sides, into).rows_written == len(wanted)
    assert [side.read_bytes() for side in sides] == before
    assert not all(outcome)
