"""What was told to be kept is in the file, whatever happens to program, disk or name."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from commission.errors import ProjectFileError
from commission.project import Entered, ProjectFile
from tests.killing import KILLS, Killed, moments

ROOT = Path(__file__).parents[2]
FORM = {"form_id": "f", "form_version": "1", "form_hash": "h"}

RECORD_WITHOUT_END = """
from commission.project import ProjectFile
def run(argument):
    path, told = argument.split("|")
    project = ProjectFile.open(path)
    assert not project.read_only, project.read_only_reason
    unit_id = project.units()[0].id
    number = int(told)
    while True:
        number += 1
        project.record(unit_id, "volts", (number,), float(number))
        print(number, flush=True)
"""


def start(script: str, *arguments: str) -> subprocess.Popen[str]:
    return subprocess.Popen(
        [sys.executable, "-c", script, *arguments],
        text=True,
        cwd="/",
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        env={"PYTHONPATH": str(ROOT)},
    )


@pytest.mark.skipif(os.name != "posix", reason="SIGKILL is POSIX")
def test_nothing_committed_is_lost_when_the_program_is_killed(path):
    with ProjectFile.create(path, title="Yard", **FORM) as project:
        unit_id = project.add_unit("RTU-1").id
    told = 0
    with Killed(RECORD_WITHOUT_END) as writer:
        for moment in moments(20260914, 0.12):
            said = writer.run(f"{path}|{told}", moment, first=str(told + 1))
            assert all(line.isdecimal() for line in said), said
            told = int(said[-1])
            with ProjectFile.open(path) as project:
                assert not project.read_only, project.read_only_reason
                numbers = {index[0] for _, index in project.readings(unit_id)}
            assert numbers >= set(range(1, told + 1))
            # At most one more: committed, but killed before it could be told.
            assert numbers <= set(range(1, told + 2))
            told = max(numbers)
    assert told > 3 * KILLS


def test_a_full_disk_is_told_and_the_file_stays_whole(project, unit_id, path):
    project.record(unit_id, "volts", (1,), 480.0)
    project._connection.execute("PRAGMA max_page_count = 1")  # SQLite: never below the size now
    revision = project.revision
    with pytest.raises(ProjectFileError) as caught:
        for number in range(2, 1000):
            project.record(unit_id, "volts", (number,), 480.0, note="x" * 500)
            revision = project.revision
    assert "The reading volts[" in str(caught.value)
    assert "was NOT kept: the disk is full" in str(caught.value)
    assert "Make room on the disk" in str(caught.value)
    assert project.revision == revision
    project._connection.execute("PRAGMA max_page_count = 1000000")
    project.record(unit_id, "volts", (999,), 481.0)
    project.close()
    with ProjectFile.open(path) as again:
        found = again.readings(unit_id)
        assert found[("volts", (1,))].value == 480.0
        assert found[("volts", (999,))].value == 481.0
        assert again.revision == revision + 1


def test_a_full_disk_keeps_none_of_many(project, unit_id):
    project._connection.execute("PRAGMA max_page_count = 1")
    before = project.readings(unit_id)
    many = [Entered(unit_id, "volts", (n,), 480.0, note="x" * 500) for n in range(1, 200)]
    with pytest.raises(ProjectFileError, match="199 readings, none of them, was NOT kept"):
        project.record_many(many)
    assert project.readings(unit_id) == before


RECORD_UNTIL_REFUSED = """
import resource, sys
from pathlib import Path
from commission.errors import ProjectFileError
from commission.project import ProjectFile
path = Path(sys.argv[1])
project = ProjectFile.open(path)
unit_id = project.units()[0].id
room = path.stat().st_size + 20_000
resource.setrlimit(resource.RLIMIT_FSIZE, (room, room))
kept = 0
try:
    while True:
        project.record(unit_id, "volts", (kept + 1,), 480.0, note="x" * 300)
        kept += 1
except ProjectFileError as fault:
    print(kept, fault)
"""


@pytest.mark.skipif(sys.platform == "win32", reason="file size limits are POSIX")
def test_a_write_that_the_system_refuses_loses_nothing_before_it(project, unit_id, path):
    """The system's own refusal: the process may not make the file longer."""
    project.close()
    out, errors = start(RECORD_UNTIL_REFUSED, str(path)).communicate(timeout=60)
    assert "was NOT kept" in out, out + errors
    kept = int(out.split()[0])
    assert kept > 10
    with ProjectFile.open(path) as again:
        assert len(again.readings(unit_id)) == kept


def test_a_file_moved_away_is_told(project, unit_id, path):
    elsewhere = path.with_name("elsewhere.rtuproject")
    path.rename(elsewhere)
    with pytest.raises(ProjectFileError, match=r"NOT kept: the file has been moved, renamed"):
        project.record(unit_id, "a", (), 1.0)
    elsewhere.rename(path)
    project.record(unit_id, "a", (), 2.0)
    assert [reading.value for reading in project.history(unit_id, "a")] == [2.0]


def test_another_program_in_the_way_is_told(project, unit_id, path, monkeypatch):
    import sqlite3

    project._connection.execute("PRAGMA busy_timeout = 50")
    other = sqlite3.connect(path, isolation_level=None)
    other.execute("BEGIN EXCLUSIVE")
    with pytest.raises(ProjectFileError, match="another program is using the file"):
        project.record(unit_id, "a", (), 1.0)
    other.execute("ROLLBACK")
    other.close()
    assert project.record(unit_id, "a", (), 1.0).value == 1.0


def test_a_clock_without_offset_is_refused(path):
    from datetime import datetime

    with pytest.raises(ProjectFileError, match="without its offset"):
        ProjectFile.create(path, title="", clock=lambda: datetime(2026, 9, 14), **FORM)
    assert not path.exists()
