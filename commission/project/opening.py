"""Opening a project file: every reason not to, found before anything is written.

The header is read as plain bytes first; then the file is opened read-only and checked
(whole, ours, no strangers in its schema); only then may it be opened for writing.
"""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from urllib.parse import quote

from commission.errors import ProjectFileError
from commission.language import spoken, to_say
from commission.project.schema import APPLICATION_ID, TABLES
from commission.project.upgrades import Upgrade, expected_schema, stored_schema

_MAGIC = b"SQLite format 3\x00"
_RESTORE = to_say("Restore it from a copy (a kept .bak file, a mailed or backed-up one).")
BUSY_SECONDS = 3.0


@dataclass(frozen=True, slots=True)
class Header:
    """What the first 100 bytes say (SQLite file format, "The Database Header")."""

    file_version: int
    page_size: int
    pages: int
    pages_are_sure: bool


def read_header(path: Path) -> Header:
    """Read and judge the first 100 bytes.

    Raises:
        ProjectFileError: absent, unreadable, not a project file, or cut short.
    """
    try:
        with path.open("rb") as stream:
            head = stream.read(100)
        size = path.stat().st_size
    except OSError as fault:
        raise ProjectFileError(
            spoken(
                "{path}: cannot be read ({strerror}). Check the name and that the disk is there.",
                path=path,
                strerror=fault.strerror,
            )
        ) from fault
    _refuse_foreign(path, head)
    header = _parse_header(head)
    expected = header.pages * header.page_size
    if header.pages_are_sure and size < expected and not is_interrupted(path):
        raise ProjectFileError(
            spoken(
                "{path}: is cut short: {size} of {expected} bytes are there. Copy or send it "
                "again from where it came. {restore}",
                path=path,
                size=size,
                expected=expected,
                restore=spoken(_RESTORE),
            )
        )
    return header


def _refuse_foreign(path: Path, head: bytes) -> None:
    if not head:
        raise ProjectFileError(
            spoken("{path}: is empty (0 bytes). {restore}", path=path, restore=spoken(_RESTORE))
        )
    is_database = head[:16] == _MAGIC and len(head) == 100
    if not is_database or int.from_bytes(head[68:72], "big") != APPLICATION_ID:
        raise ProjectFileError(
            spoken(
                "{path}: is not a project file of this program. Choose a file that ends in "
                ".rtuproject; if this is one, it is damaged: restore it from a copy.",
                path=path,
            )
        )
    if head[18:20] != b"\x01\x01":
        raise ProjectFileError(
            spoken(
                "{path}: another program has switched its journal mode, so it no longer stands "
                "alone as one file. With that program, set the journal mode to DELETE, or "
                "restore it from a copy.",
                path=path,
            )
        )


def _parse_header(head: bytes) -> Header:
    def number(start: int, length: int = 4) -> int:
        return int.from_bytes(head[start : start + length], "big")

    page_size = 65536 if number(16, 2) == 1 else number(16, 2)
    # The page count holds only if the change counter agrees with "version valid for".
    return Header(number(60), page_size, number(28), number(24) == number(92))


def is_interrupted(path: Path) -> bool:
    """Whether saving was cut off, and SQLite must first roll back from the journal beside it."""
    try:
        return path.with_name(path.name + "-journal").stat().st_size > 0
    except OSError:
        return False


def connect(path: Path, mode: str) -> sqlite3.Connection:
    """Open the file, `mode` "ro" or "rw", with the settings every connection has."""
    place = path.resolve().as_posix()
    address = "file://" + quote(place if place.startswith("/") else "/" + place)
    connection = sqlite3.connect(
        f"{address}?mode={mode}", uri=True, isolation_level=None, timeout=BUSY_SECONDS
    )
    try:
        set_pragmas(connection)
    except sqlite3.Error:
        connection.close()
        raise
    return connection


def set_pragmas(connection: sqlite3.Connection) -> None:
    """Distrust the schema, check cells, and flush each commit to the disk."""
    for pragma in (
        "trusted_schema = OFF",
        "cell_size_check = ON",
        "foreign_keys = ON",
        "synchronous = FULL",
        "temp_store = MEMORY",
    ):
        connection.execute(f"PRAGMA {pragma}")


def why_not_writable(path: Path) -> str:
    """Return why the file cannot be written to, or "". The journal needs the folder too."""
    if not os.access(path, os.W_OK):
        return spoken(
            "{name} is write-protected, or on a medium that cannot be written to; copy it "
            "to a place that can, to go on there",
            name=path.name,
        )
    if not os.access(path.resolve().parent, os.W_OK):
        return spoken(
            "the folder {parent} cannot be written to; copy the file to one that can, to go "
            "on there",
            parent=path.resolve().parent,
        )
    return ""


def check_file(path: Path, upgrades: Sequence[Upgrade]) -> int:
    """Judge a file without writing to it; return its version.

    The one exception: a save that was cut off is first rolled back by SQLite itself.

    Raises:
        ProjectFileError: whatever keeps the file from being opened.
    """
    read_header(path)
    _roll_back_interrupted(path)
    version = read_header(path).file_version
    connection = connect(path, "ro")
    try:
        check_whole(connection, path)
        if version > len(upgrades):
            check_readable_version(connection, path, len(upgrades))
        check_schema(connection, path, version, upgrades)
    finally:
        connection.close()
    return version


def _roll_back_interrupted(path: Path) -> None:
    if not is_interrupted(path):
        return
    try:
        connection = connect(path, "rw" if not why_not_writable(path) else "ro")
        try:
            # Any read makes SQLite roll back; a journal that another window uses is left alone.
            connection.execute("SELECT count(*) FROM sqlite_schema").fetchone()
        finally:
            connection.close()
    except sqlite3.OperationalError as fault:
        raise ProjectFileError(
            spoken(
                "{path}: saving was interrupted, and the file cannot be put in order here "
                "({fault}). Copy it together with {name}-journal to a folder that can be "
                "written to, and open it there.",
                path=path,
                fault=fault,
                name=path.name,
            )
        ) from fault


def check_whole(connection: sqlite3.Connection, path: Path) -> None:
    """Raise ProjectFileError if any page or row of the file is damaged."""
    answer = connection.execute("PRAGMA quick_check(1)").fetchone()[0]
    if answer != "ok":
        raise ProjectFileError(_damaged(path, answer))


def _damaged(path: Path, finding: object) -> str:
    return spoken(
        "{path}: is damaged ({finding}) and was not changed. {restore}",
        path=path,
        finding=" ".join(str(finding).split()),
        restore=spoken(_RESTORE),
    )


def cannot_open(path: Path, fault: sqlite3.Error) -> ProjectFileError:
    """Return what SQLite's refusal to open or read a file means to a person."""
    if getattr(fault, "sqlite_errorname", "").startswith(("SQLITE_CORRUPT", "SQLITE_NOTADB")):
        return ProjectFileError(_damaged(path, fault))
    return ProjectFileError(
        spoken(
            "{path}: cannot be opened ({fault}). If another program is using it, wait until "
            "that has ended; else restore the file from a copy.",
            path=path,
            fault=fault,
        )
    )


def check_schema(
    connection: sqlite3.Connection, path: Path, version: int, upgrades: Sequence[Upgrade]
) -> None:
    """Raise ProjectFileError on any table, index, trigger or view that is not ours.

    A file newer than this program must hold no trigger or view, and all columns known here.
    """
    found = stored_schema(connection)
    if version <= len(upgrades):
        expected = expected_schema(version, upgrades)
        strange = sorted(name for name in found if expected.get(name) != found[name])
        absent = sorted(name for name in expected if name not in found)
    else:
        strange = sorted(name for name in found if name.split()[0] in ("trigger", "view"))
        absent = _absent_columns(connection)
    if strange or absent:
        parts = [spoken("unexpected {strange}", strange=", ".join(strange))] * bool(strange)
        parts += [spoken("missing {absent}", absent=", ".join(absent))] * bool(absent)
        raise ProjectFileError(
            spoken(
                "{path}: its tables are not those of file version {version}: {parts}. Another "
                "program has changed it. {restore}",
                path=path,
                version=version,
                parts="; ".join(parts),
                restore=spoken(_RESTORE),
            )
        )


def _absent_columns(connection: sqlite3.Connection) -> list[str]:
    absent = []
    for table in TABLES.values():
        rows = connection.execute("SELECT name FROM pragma_table_info(?)", (table.name,))
        known = {name for (name,) in rows}
        absent += [f"{table.name}.{name}" for name in table.all_columns if name not in known]
    return absent


def check_readable_version(connection: sqlite3.Connection, path: Path, newest: int) -> None:
    """Raise ProjectFileError if the file says that this program is too old to read it."""
    row = connection.execute("SELECT value FROM meta WHERE key = 'minimum_reader'").fetchone()
    needed = int(row[0]) if row and str(row[0]).isdecimal() else newest
    if needed > newest:
        raise ProjectFileError(
            spoken(
                "{path}: was written by a newer program and needs one that knows file version "
                "{needed}; this one knows {newest}. Install the newer program; the file is "
                "unchanged.",
                path=path,
                needed=needed,
                newest=newest,
            )
        )
