"""Opening: what is not a whole project file of ours is refused, and never written to.

SQLite's file format (sqlite.org/fileformat2.html, "The Database Header") gives the places of
the bytes that are changed here: journal mode 18-19, user_version 60, application_id 68.
"""

from __future__ import annotations

import os
import shutil
import sqlite3
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path

import pytest

from commission.errors import ProjectFileError
from commission.project import ProjectFile, opening
from commission.project.schema import APPLICATION_ID
from commission.project.upgrades import UPGRADES

ROOT = Path(__file__).parents[2]
FORM = {"form_id": "f", "form_version": "1", "form_hash": "h"}


@pytest.fixture
def closed(project, unit_id, path) -> Path:
    """A closed file with 300 readings."""
    with project.transaction():
        for number in range(1, 301):
            project.record(unit_id, "volts", (number,), 480.0, note="off load, at the disconnect")
    project.close()
    return path


def refused(path: Path, message: str) -> None:
    """Opening must fail with the file's name and the message, and leave every byte."""
    before = path.read_bytes()
    names = sorted(path.parent.iterdir())
    with pytest.raises(ProjectFileError, match=message) as caught:
        ProjectFile.open(path)
    assert path.name in str(caught.value)
    assert path.read_bytes() == before
    assert sorted(path.parent.iterdir()) == names


def changed(path: Path, place: int, new: bytes) -> None:
    data = bytearray(path.read_bytes())
    data[place : place + len(new)] = new
    path.write_bytes(data)


def test_a_new_file_is_one_whole_file_of_our_kind(closed):
    head = closed.read_bytes()[:100]
    assert int.from_bytes(head[68:72], "big") == APPLICATION_ID
    assert int.from_bytes(head[60:64], "big") == len(UPGRADES)
    assert head[18:20] == b"\x01\x01"
    assert list(closed.parent.iterdir()) == [closed]


def test_each_commit_is_flushed_and_rolled_back_from_a_journal(project):
    def pragma(name: str) -> object:
        return project._connection.execute(f"PRAGMA {name}").fetchone()[0]

    assert pragma("journal_mode") == "delete"
    assert pragma("synchronous") == 2  # FULL
    assert (pragma("trusted_schema"), pragma("cell_size_check")) == (0, 1)


def test_an_existing_file_is_never_replaced(closed, tmp_path):
    before = closed.read_bytes()
    with pytest.raises(ProjectFileError, match="there is a file of this name already"):
        ProjectFile.create(closed, title="", **FORM)
    assert closed.read_bytes() == before
    with pytest.raises(ProjectFileError, match="Choose another folder"):
        ProjectFile.create(tmp_path / "absent" / "a.rtuproject", title="", **FORM)


def test_a_title_that_cannot_be_stored_leaves_no_file(tmp_path):
    with pytest.raises(Exception, match="cannot be printed"):
        ProjectFile.create(tmp_path / "a.rtuproject", title="\x00", **FORM)
    assert list(tmp_path.iterdir()) == []


def test_an_absent_file_is_named(tmp_path):
    with pytest.raises(ProjectFileError, match="No such file"):
        ProjectFile.open(tmp_path / "a.rtuproject")
    assert list(tmp_path.iterdir()) == []


def test_a_folder_is_no_file(tmp_path):
    with pytest.raises(ProjectFileError, match="cannot be read"):
        ProjectFile.open(tmp_path)


def test_an_empty_file_is_refused(tmp_path):
    (tmp_path / "a.rtuproject").write_bytes(b"")
    refused(tmp_path / "a.rtuproject", "is empty")


@pytest.mark.parametrize("content", [b"PK\x03\x04" + bytes(500), b"SQLite format 3\x00", b"x"])
def test_a_foreign_file_is_refused(tmp_path, content):
    (tmp_path / "a.rtuproject").write_bytes(content)
    refused(tmp_path / "a.rtuproject", "is not a project file of this program")


def test_a_database_of_another_program_is_refused(tmp_path):
    other = sqlite3.connect(tmp_path / "a.rtuproject")
    other.execute("CREATE TABLE reading (id)")
    other.close()
    refused(tmp_path / "a.rtuproject", "is not a project file of this program")


@pytest.mark.parametrize("share", [0.02, 0.3, 0.6, 0.999])
def test_a_file_cut_short_is_refused(closed, share):
    size = closed.stat().st_size
    os.truncate(closed, max(100, int(size * share)))
    refused(closed, f"is cut short: .* of {size} bytes")


def test_a_damaged_page_is_found(closed):
    pages = closed.stat().st_size // 4096
    found = 0
    whole = closed.read_bytes()
    for page in range(1, pages):
        closed.write_bytes(whole)
        changed(closed, page * 4096, os.urandom(64))
        refused(closed, "is damaged|its tables are not those")
        found += 1
    assert found == pages - 1 > 10


def test_a_trigger_or_view_of_a_stranger_is_refused(closed):
    for statement, name in (
        ("CREATE TRIGGER t AFTER INSERT ON reading BEGIN DELETE FROM reading; END", "trigger t"),
        ("CREATE VIEW v AS SELECT * FROM reading", "view v"),
        ("CREATE TABLE extra (a)", "table extra"),
    ):
        copy = closed.with_name("changed.rtuproject")
        shutil.copy(closed, copy)
        other = sqlite3.connect(copy)
        other.execute(statement)
        other.commit()
        other.close()
        refused(copy, f"unexpected {name}")


def test_a_missing_table_is_refused(closed):
    other = sqlite3.connect(closed)
    other.execute("DROP TABLE signature")
    other.close()
    refused(closed, "missing table signature")


def test_another_journal_mode_is_refused(closed):
    changed(closed, 18, b"\x02\x02")
    refused(closed, "switched its journal mode")


# --- newer files


def test_a_newer_file_opens_for_reading_with_the_reason(closed):
    changed(closed, 60, (99).to_bytes(4, "big"))
    before = closed.read_bytes()
    with ProjectFile.open(closed) as project:
        assert project.read_only
        assert "newer program (file version 99" in project.read_only_reason
        unit = project.units()[0]
        assert len(project.readings(unit.id)) == 300
        with pytest.raises(ProjectFileError, match="NOT kept: the file is open read-only"):
            project.record(unit.id, "volts", (1,), 1.0)
    assert closed.read_bytes() == before


def test_a_newer_file_that_this_program_cannot_understand_is_refused(closed):
    other = sqlite3.connect(closed)
    other.execute("UPDATE meta SET value = '99' WHERE key = 'minimum_reader'")
    other.execute("PRAGMA user_version = 99")
    other.commit()
    other.close()
    refused(closed, "needs one that knows file version 99")


def test_a_newer_file_without_our_columns_is_refused(closed):
    other = sqlite3.connect(closed)
    other.execute("ALTER TABLE reading RENAME COLUMN note TO remark")
    other.execute("PRAGMA user_version = 99")
    other.commit()
    other.close()
    refused(closed, "missing reading.note")


# --- folders and media that cannot be written to


def test_reading_only_leaves_no_trace(closed):
    before = closed.read_bytes()
    with ProjectFile.open(closed, read_only=True) as project:
        assert project.read_only_reason == "it was opened for reading only"
        assert len(project.readings(project.units()[0].id)) == 300
    assert closed.read_bytes() == before


@pytest.mark.parametrize("protected", ["file", "folder"])
def test_write_protection_is_told_simulated(closed, monkeypatch, protected):
    """Simulated: `os.access` is made to answer no, since root may write anywhere."""
    place = closed if protected == "file" else closed.parent
    access = os.access
    monkeypatch.setattr(
        opening.os, "access", lambda path, mode: Path(path) != place and access(path, mode)
    )
    with ProjectFile.open(closed) as project:
        assert "cannot be written to" in project.read_only_reason
        assert len(project.units()) == 1


@pytest.fixture
def protected_folder() -> Iterator[Path]:
    """A folder that others than root may read but not write to."""
    folder = Path(tempfile.mkdtemp(prefix="protected"))
    folder.chmod(0o755)
    yield folder
    folder.chmod(0o755)
    shutil.rmtree(folder)


OPEN_AND_TELL = """
import os, sys
from commission.errors import ProjectFileError
from commission.project import ProjectFile
if "without rights" in sys.argv and os.geteuid() == 0:
    os.setgroups([])
    os.setgid(65534)
    os.setuid(65534)  # nobody: mode bits count again
try:
    with ProjectFile.open(sys.argv[1]) as project:
        print("reason:", project.read_only_reason)
        print("units:", len(project.units()))
except ProjectFileError as fault:
    print("refused:", fault)
"""


def opened_without_rights(path: Path) -> str:
    """Open in a process that may not write: as nobody if we are root, else as we are."""
    (path.parent).chmod(0o555)
    for name in path.parent.iterdir():
        name.chmod(0o444)
    done = subprocess.run(
        [sys.executable, "-c", OPEN_AND_TELL, str(path), "without rights"],
        capture_output=True,
        text=True,
        check=False,
        cwd="/",
        timeout=60,
        env={"PYTHONPATH": str(ROOT), "PYTHONDONTWRITEBYTECODE": "1"},
    )
    assert done.returncode == 0, done.stderr
    return done.stdout


@pytest.mark.skipif(os.name != "posix", reason="needs users and mode bits as POSIX has them")
def test_a_folder_without_write_permission_opens_for_reading(closed, protected_folder):
    copy = protected_folder / "a.rtuproject"
    shutil.copy(closed, copy)
    said = opened_without_rights(copy)
    assert "reason: a.rtuproject is write-protected" in said
    assert "units: 1" in said


# --- a save that was cut off


def interrupted_copy(closed: Path, folder: Path) -> Path:
    """Copy file and journal in the middle of a commit: what a power cut leaves."""
    copy = folder / "cut.rtuproject"
    writer = sqlite3.connect(closed, isolation_level=None)
    writer.execute("PRAGMA cache_size = 2")  # so that pages reach the file before the commit
    writer.execute("BEGIN IMMEDIATE")
    writer.execute("UPDATE reading SET value = 0.0, note = 'half written'")
    shutil.copy(closed, copy)
    shutil.copy(f"{closed}-journal", f"{copy}-journal")
    writer.execute("ROLLBACK")
    writer.close()
    return copy


def test_a_save_cut_off_is_rolled_back(closed, tmp_path):
    copy = interrupted_copy(closed, tmp_path)
    assert b"half written" in copy.read_bytes()
    with ProjectFile.open(copy) as project:
        assert not project.read_only
        found = project.readings(project.units()[0].id)
        assert {reading.value for reading in found.values()} == {480.0}
    assert not Path(f"{copy}-journal").exists()


@pytest.mark.skipif(os.name != "posix", reason="needs users and mode bits as POSIX has them")
def test_a_save_cut_off_is_refused_where_it_cannot_be_rolled_back(closed, protected_folder):
    copy = interrupted_copy(closed, protected_folder)
    said = opened_without_rights(copy)
    assert "refused:" in said
    assert "saving was interrupted" in said
    assert "cut.rtuproject-journal" in said


# --- two windows


def test_a_second_window_reads_only_and_says_who_has_the_file(project, unit_id, path):
    with ProjectFile.open(path) as second:
        assert second.read_only
        assert f"process {os.getpid()}" in second.read_only_reason
        project.record(unit_id, "a", (), 1.0)
        assert second.readings(unit_id)[("a", ())].value == 1.0
        assert second.revision == project.revision
        with pytest.raises(ProjectFileError, match="NOT kept"):
            second.record(unit_id, "a", (), 2.0)
    project.close()
    with ProjectFile.open(path) as third:
        assert not third.read_only


def test_a_window_of_another_process_is_seen(project, path):
    done = subprocess.run(
        [sys.executable, "-c", OPEN_AND_TELL, str(path)],
        capture_output=True,
        text=True,
        check=True,
        env={"PYTHONPATH": str(ROOT)},
        timeout=60,
    )
    assert f"process {os.getpid()}" in done.stdout


def test_taking_over_stops_the_first_window(project, unit_id, path):
    with ProjectFile.open(path, take_over=True) as second:
        assert not second.read_only
        second.record(unit_id, "a", (), 2.0)
        with pytest.raises(ProjectFileError, match="has taken the file over"):
            project.record(unit_id, "a", (), 1.0)
        assert project.read_only
        assert [reading.value for reading in second.history(unit_id, "a")] == [2.0]
    project.close()


def test_a_copy_of_an_open_file_is_free(project, unit_id, path, tmp_path):
    project.record(unit_id, "a", (), 1.0)
    shutil.copy(path, tmp_path / "copy.rtuproject")
    with ProjectFile.open(tmp_path / "copy.rtuproject") as copy:
        assert not copy.read_only


def test_a_window_on_another_computer_is_respected(closed):
    with ProjectFile.open(closed) as project:
        project._connection.execute("UPDATE holder SET host = 'truck-2', token = 'theirs'")
    with ProjectFile.open(closed) as second:
        assert "computer truck-2" in second.read_only_reason
    with ProjectFile.open(closed, take_over=True) as third:
        assert not third.read_only


@pytest.mark.parametrize("stale", ["process = 4194304999", "process_started = 'long ago'", ""])
def test_a_window_that_is_gone_does_not_hold_the_file(closed, stale):
    with ProjectFile.open(closed) as project:
        project._connection.execute("UPDATE holder SET token = 'theirs'")
        if stale:
            project._connection.execute(f"UPDATE holder SET {stale}")
        if "started" in stale:  # a living process, but not the one that opened the file
            project._connection.execute("UPDATE holder SET process = ?", [os.getppid()])
    with ProjectFile.open(closed) as second:
        assert not second.read_only


def test_closing_twice_is_harmless_and_a_closed_file_says_so(project):
    project.close()
    project.close()
    with pytest.raises(ProjectFileError, match="the file is still open"):
        project.units()


def test_save_copy_gives_a_whole_file_of_the_same_project(project, unit_id, tmp_path):
    project.record(unit_id, "a", (), 1.0)
    project.save_copy(tmp_path / "copy.rtuproject")
    with ProjectFile.open(tmp_path / "copy.rtuproject") as copy:
        assert not copy.read_only
        assert copy.uuid == project.uuid
        assert copy.readings(unit_id) == project.readings(unit_id)
    with pytest.raises(ProjectFileError, match="already"):
        project.save_copy(tmp_path / "copy.rtuproject")
