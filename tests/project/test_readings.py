"""Readings: recorded at once, never overwritten, by pass."""

from __future__ import annotations

import math
import sqlite3
import tempfile
from datetime import datetime, timedelta, timezone
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from commission.errors import ProjectFileError, ReadingError
from commission.project import Entered, ProjectFile, pass_rank

FIELD = ("suction_psig", (1,))
MOUNTAIN = timezone(timedelta(hours=-6))


def test_a_reading_comes_back_with_all_that_was_told(project, unit_id):
    gauge = project.add_instrument("gauge", unit="psig", plus_minus=1.0)
    agent = project.add_person("Ada Rowan")
    stored = project.record(
        unit_id,
        *FIELD,
        118.5,
        entered="817 kPa",
        note="steady",
        instrument_id=gauge.id,
        person_id=agent.id,
        source="window",
    )
    assert project.readings(unit_id) == {FIELD: stored}
    assert (stored.value, stored.entered, stored.note) == (118.5, "817 kPa", "steady")
    assert (stored.instrument_id, stored.person_id) == (gauge.id, agent.id)
    assert datetime.fromisoformat(stored.at).utcoffset() is not None


def test_the_person_at_the_window_is_named_unless_another_is(project, unit_id):
    project.person_id = "agent"
    assert project.record(unit_id, "a", (), 1.0).person_id == "agent"
    assert project.record(unit_id, "a", (), 1.0, person_id="helper").person_id == "helper"
    assert project.rows("reading")[-1]["entered_by"] == "agent"


def test_a_later_reading_supersedes_and_history_keeps_both(project, unit_id):
    first = project.record(unit_id, *FIELD, 118.0)
    second = project.record(unit_id, *FIELD, 121.0)
    assert (first.supersedes, second.supersedes) == ("", first.id)
    assert project.history(unit_id, *FIELD) == [first, second]
    assert project.readings(unit_id)[FIELD] == second


def test_the_last_entry_counts_though_the_computer_s_clock_was_set_back(path):
    times = iter([datetime(2026, 9, 14, hour, tzinfo=MOUNTAIN) for hour in range(20, 0, -1)])
    made = ProjectFile.create(
        path, title="", form_id="", form_version="", form_hash="", clock=lambda: next(times)
    )
    with made as project:
        unit_id = project.add_unit("RTU-1").id
        project.record(unit_id, *FIELD, 118.0)
        project.record(unit_id, *FIELD, 121.0)
        assert project.readings(unit_id)[FIELD].value == 121.0
        assert project.rename_unit(unit_id, "AHU-1") in project.units()


def test_members_of_a_repeat_are_apart(project, unit_id):
    project.record(unit_id, "volts", (1,), 480.0)
    project.record(unit_id, "volts", (2,), 478.0)
    assert {key[1]: r.value for key, r in project.readings(unit_id).items()} == {
        (1,): 480.0,
        (2,): 478.0,
    }


def test_the_latest_pass_counts_whatever_the_order_of_entry(project, unit_id):
    for pass_name, value in (
        ("retest 2", 4.0),
        ("as left", 2.0),
        ("as found", 1.0),
        ("retest 10", 5.0),
        ("retest 1", 3.0),
    ):
        project.record(unit_id, *FIELD, value, pass_name=pass_name)
    assert project.readings(unit_id)[FIELD].value == 5.0
    assert project.passes(unit_id) == ["as found", "as left", "retest 1", "retest 2", "retest 10"]
    for pass_name, value in (("as found", 1.0), ("as left", 2.0), ("retest 3", 4.0)):
        assert project.readings(unit_id, pass_name)[FIELD].value == value
    assert project.readings_of_pass(unit_id, "retest 1")[FIELD].value == 3.0


def test_a_field_without_as_left_shows_as_found(project, unit_id):
    project.record(unit_id, "a", (), 1.0)
    project.record(unit_id, "b", (), 2.0, pass_name="as left")
    assert {key[0]: r.value for key, r in project.readings(unit_id).items()} == {"a": 1.0, "b": 2.0}
    assert [key[0] for key in project.readings(unit_id, "as found")] == ["a"]


def test_clearing_reads_as_unread_and_does_not_fall_back(project, unit_id):
    project.record(unit_id, *FIELD, 118.0)
    project.record(unit_id, *FIELD, 121.0, pass_name="as left")
    project.record(unit_id, *FIELD, None, pass_name="as left")
    assert project.readings(unit_id)[FIELD].is_unread
    assert not project.readings(unit_id, "as found")[FIELD].is_unread


def test_withdrawing_lets_the_earlier_pass_show_again(project, unit_id):
    project.record(unit_id, *FIELD, 118.0)
    project.record(unit_id, *FIELD, 121.0, pass_name="as left")
    withdrawn = project.withdraw(unit_id, *FIELD, pass_name="as left", note="wrong circuit")
    assert withdrawn.withdrawn
    assert project.readings(unit_id)[FIELD].value == 118.0
    assert project.passes(unit_id) == ["as found"]
    assert len(project.history(unit_id, *FIELD)) == 3
    project.record(unit_id, *FIELD, 122.0, pass_name="as left")
    assert project.readings(unit_id)[FIELD].value == 122.0


def test_not_applicable_keeps_its_reason(project, unit_id):
    reading = project.record(unit_id, *FIELD, None, not_applicable="no port fitted")
    assert not reading.is_unread
    assert project.readings(unit_id)[FIELD].not_applicable == "no port fitted"


@pytest.mark.parametrize(
    ("entry", "message"),
    [
        ({"value": math.nan}, "nan is not a number"),
        ({"value": math.inf}, "inf is not a number"),
        ({"value": True}, "'yes' and 'no'"),
        ({"value": 1.0, "not_applicable": "none fitted"}, "also marked not applicable"),
        ({"value": 1.0, "pass_name": "as fond"}, "'as found', 'as left' or 'retest 1'"),
        ({"value": 1.0, "pass_name": "retest 0"}, "retest"),
        ({"value": "a\x00b"}, "character 2"),
        ({"value": "\ud800"}, "cannot be printed or stored"),
        ({"value": 1.0, "note": "\x07"}, "character 1"),
    ],
)
def test_impossible_readings_are_refused_and_nothing_is_kept(project, unit_id, entry, message):
    before = project.revision
    with pytest.raises(ReadingError, match=message):
        project.record(unit_id, "a", (), **entry)
    assert project.revision == before
    assert project.readings(unit_id) == {}


@pytest.mark.parametrize("index", [(0,), (-1,), (1.0,), (True,)])
def test_members_count_from_one(project, unit_id, index):
    with pytest.raises(ReadingError, match="count from 1"):
        project.record(unit_id, "a", index, 1.0)


def test_an_unknown_unit_is_refused(project):
    with pytest.raises(ProjectFileError, match="no unit with id 'nobody'"):
        project.record("nobody", "a", (), 1.0)


def test_many_are_kept_together_or_not_at_all(project, unit_id):
    good = [Entered(unit_id, "a", (n,), float(n)) for n in (1, 2, 3)]
    assert [r.value for r in project.record_many(good)] == [1.0, 2.0, 3.0]
    revision = project.revision
    with pytest.raises(ReadingError):
        project.record_many([Entered(unit_id, "b", (), 1.0), Entered(unit_id, "c", (), math.inf)])
    assert project.revision == revision
    assert ("b", ()) not in project.readings(unit_id)
    assert project.record_many([]) == []


def test_a_transaction_keeps_all_or_nothing(project, unit_id):
    with pytest.raises(ZeroDivisionError), project.transaction("The copy"):
        project.add_unit("RTU-2")
        project.record(unit_id, "a", (), 1.0)
        raise ZeroDivisionError
    assert [unit.tag for unit in project.units()] == ["RTU-1"]
    assert project.readings(unit_id) == {}
    with project.transaction("The copy"):
        project.add_unit("RTU-2")
    assert len(project.units()) == 2


def test_a_part_that_fails_leaves_nothing_behind_in_a_transaction_that_goes_on(project, unit_id):
    bad = [Entered(unit_id, "b", (), 1.0), Entered(unit_id, "c", (), math.inf)]
    with project.transaction("The copy"):
        project.record(unit_id, "a", (), 1.0)
        with pytest.raises(ReadingError):
            project.record_many(bad)
        project.record(unit_id, "d", (), 1.0)
    assert [name for name, _ in project.readings(unit_id)] == ["a", "d"]
    numbers = [row["number"] for row in project.rows("reading")]
    assert numbers == [project.revision - 1, project.revision]


@pytest.mark.parametrize("kind", ["reading", "person"])
def test_nothing_is_kept_of_a_transaction_that_the_disk_broke(project, unit_id, kind):
    """A full disk rolls the whole back at once; a caller that goes on must not keep halves."""
    project._connection.execute("PRAGMA max_page_count = 1")
    before = project.revision
    with pytest.raises(ProjectFileError, match="NOT kept"), project.transaction("The copy"):
        for number in range(1, 500):
            try:
                if kind == "reading":
                    project.record(unit_id, "a", (number,), 1.0, note="x" * 400)
                else:
                    project.add_person("x" * 400)
            except sqlite3.Error:
                project._connection.execute("PRAGMA max_page_count = 100000")
    assert (project.readings(unit_id), project.people()) == ({}, [])
    assert project.revision == before
    assert project.record(unit_id, "a", (1,), 1.0).value == 1.0


def test_revision_counts_committed_rows(project, unit_id):
    before = project.revision
    project.record_many([Entered(unit_id, "a", (n,), float(n)) for n in range(1, 6)])
    assert project.revision == before + 5
    numbers = [
        row["number"] for kind in ("setting", "unit", "reading") for row in project.rows(kind)
    ]
    assert sorted(numbers) == list(range(1, project.revision + 1))
    assert [row["name"] for row in project.rows("reading", since=before + 4)] == ["a"]


def test_project_level_readings_stand_apart(project, unit_id):
    project.record("", "elevation_ft", (), 5200.0)
    assert project.readings("")[("elevation_ft", ())].value == 5200.0
    assert project.readings(unit_id) == {}


def test_two_crews_rows_merge_by_time_of_entry(project, unit_id):
    """Both superseded the same reading: the one entered later counts, not the row added later."""
    first = project.record(unit_id, *FIELD, 1.0)
    project.record(unit_id, *FIELD, 2.0)
    row = dict(project.rows("reading")[-1])
    earlier = {
        "number": row["number"] + 1,
        "id": "other-crew",
        "value": 3.0,
        "supersedes": first.id,
        "at": "2026-09-14T07:00:00-06:00",
    }
    names = ", ".join(f'"{name}"' for name in row)
    project._connection.execute(
        f"INSERT INTO reading ({names}) VALUES ({', '.join('?' * len(row))})",
        list((row | earlier).values()),
    )
    assert project.readings(unit_id)[FIELD].value == 2.0
    later = "UPDATE reading SET at = '2026-09-14T23:00:00+00:00' WHERE id = 'other-crew'"
    project._connection.execute(later)
    assert project.readings(unit_id)[FIELD].value == 3.0


def test_the_hash_follows_the_readings_that_count(project, unit_id):
    project.record(unit_id, "a", (), 1.0)
    project.record(unit_id, "b", (), 1.0)
    both, only_a = project.readings_hash(unit_id), project.readings_hash(unit_id, ["a"])
    project.record(unit_id, "b", (), 2.0)
    assert project.readings_hash(unit_id) != both
    assert project.readings_hash(unit_id, ["a"]) == only_a
    project.record(unit_id, "b", (), 1.0)
    assert project.readings_hash(unit_id) == both


def test_pass_rank_orders_passes():
    assert [pass_rank(p) for p in ("as found", "as left", "retest 1", "retest 12")] == [0, 1, 2, 13]


PRINTABLE = st.text(st.characters(exclude_categories=("Cs", "Cc")) | st.sampled_from("\t\n\r"))


@settings(max_examples=100, deadline=None)
@given(
    values=st.lists(
        st.tuples(
            st.one_of(st.none(), st.floats(allow_nan=False, allow_infinity=False), PRINTABLE),
            PRINTABLE,
            st.lists(st.integers(1, 999), max_size=3).map(tuple),
        ),
        min_size=1,
        max_size=8,
    )
)
def test_every_value_and_text_comes_back_the_same_after_reopening(values):
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "a.rtuproject"
        with ProjectFile.create(path, title="", form_id="", form_version="", form_hash="") as made:
            unit_id = made.add_unit("RTU-1").id
            stored = made.record_many(
                Entered(unit_id, f"f{n}", index, value, entered=text, note=text)
                for n, (value, text, index) in enumerate(values)
            )
        with ProjectFile.open(path, read_only=True) as again:
            found = again.readings(unit_id)
    assert list(found.values()) == stored
    for n, (value, text, index) in enumerate(values):
        reading = found[(f"f{n}", index)]
        assert (reading.value, reading.note, type(reading.value)) == (value, text, type(value))


def test_a_note_written_later_does_not_move_when_it_was_read(project, unit_id):
    """The clock of the file goes on with each row; calibration is held to the day of reading."""
    read = project.record(unit_id, *FIELD, 118.5, entered="118.5")
    project.record(unit_id, "other_psig", (), 1.0)
    noted = project.record(unit_id, *FIELD, 118.5, entered="118.5", note="steady")
    changed = project.record(unit_id, *FIELD, 118.5, entered="118.5", note="steady, full load")
    assert len({read.at, noted.at, changed.at}) == 3
    standing = project.readings(unit_id)[FIELD]
    assert (standing.id, standing.note, standing.at) == (changed.id, changed.note, read.at)
    assert [one.at for one in project.history(unit_id, *FIELD)] == [read.at, noted.at, changed.at]
    again = project.record(unit_id, *FIELD, 118.5, entered="118.5", note="steady, full load")
    assert project.readings(unit_id)[FIELD].at == again.at  # read once more, at that time
    other = project.record(unit_id, *FIELD, 119.0, entered="119.0", note="drifted")
    assert project.readings(unit_id)[FIELD].at == other.at
