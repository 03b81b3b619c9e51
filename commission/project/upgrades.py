"""Numbered upgrades: upgrade n brings a file of version n - 1 to version n.

A new file is an empty one brought to the newest version by the same steps, so the stored
text of its tables is the same as that of an upgraded file. Released entries never change.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from commission.errors import ProjectFileError
from commission.language import spoken
from commission.project.schema import TREND_TABLES, VERSION_1, WITNESS_TABLES


@dataclass(frozen=True, slots=True)
class Upgrade:
    """One step. `minimum_reader` is the oldest program version able to read the result."""

    summary: str
    statements: tuple[str, ...]
    minimum_reader: int


_NOISE_AND_SIGNATURES = (
    "ALTER TABLE instrument ADD COLUMN repeatability REAL NOT NULL DEFAULT 0",
    "ALTER TABLE instrument ADD COLUMN resolution REAL NOT NULL DEFAULT 0",
    "ALTER TABLE signature ADD COLUMN hash_kind TEXT NOT NULL DEFAULT 'readings'",
)

UPGRADES: tuple[Upgrade, ...] = (
    Upgrade("first version", VERSION_1, minimum_reader=1),
    # An older program would leave the noise out of every uncertainty, and call signatures
    # changed that are not: it must not read on.
    Upgrade(
        "trend logs; noise of instruments; what a signature covers; witnessed readings",
        (*TREND_TABLES, *_NOISE_AND_SIGNATURES, *WITNESS_TABLES),
        minimum_reader=2,
    ),
)

_MINIMUM_READER = (
    "INSERT INTO meta (key, value) VALUES ('minimum_reader', ?) "
    "ON CONFLICT (key) DO UPDATE SET value = excluded.value"
)


def take_step(connection: sqlite3.Connection, version: int, upgrade: Upgrade) -> None:
    """Bring the file to `version` inside the transaction that the caller has begun."""
    for statement in upgrade.statements:
        connection.execute(statement)
    connection.execute(_MINIMUM_READER, (str(upgrade.minimum_reader),))
    connection.execute(f"PRAGMA user_version = {version:d}")


def expected_schema(version: int, upgrades: Sequence[Upgrade] = UPGRADES) -> dict[str, str]:
    """Return name -> stored text of every table and index that a file of `version` has."""
    connection = sqlite3.connect(":memory:", isolation_level=None)
    try:
        for number, upgrade in enumerate(upgrades[:version], start=1):
            take_step(connection, number, upgrade)
        return stored_schema(connection)
    finally:
        connection.close()


def stored_schema(connection: sqlite3.Connection) -> dict[str, str]:
    """Return name -> text of everything declared in a file (SQLite's own entries left out)."""
    rows = connection.execute(
        "SELECT type || ' ' || name, sql FROM sqlite_schema WHERE sql IS NOT NULL"
    )
    return {str(name): str(text) for name, text in rows}


def upgrade_file(
    connection: sqlite3.Connection, path: Path, version: int, upgrades: Sequence[Upgrade]
) -> list[Path]:
    """Bring an older file to the newest version; return the copies kept, one for each step.

    Raises:
        ProjectFileError: a copy could not be made or a step failed. The file is then at
            the last version reached, whole.
    """
    copies = []
    for number in range(version + 1, len(upgrades) + 1):
        copies.append(keep_copy(connection, path, number - 1))
        _upgrade_once(connection, path, number, upgrades[number - 1])
    return copies


def _upgrade_once(
    connection: sqlite3.Connection, path: Path, number: int, upgrade: Upgrade
) -> None:
    try:
        connection.execute("BEGIN IMMEDIATE")
        take_step(connection, number, upgrade)
        connection.execute("COMMIT")
    except sqlite3.Error as fault:
        if connection.in_transaction:
            connection.execute("ROLLBACK")
        raise ProjectFileError(
            spoken(
                "{path}: the upgrade to file version {number} ({summary}) failed: {fault}. The "
                "file is unchanged by it; make room on the disk or move the file to another "
                "folder, and open it again.",
                path=path,
                number=number,
                summary=upgrade.summary,
                fault=fault,
            )
        ) from fault


def keep_copy(connection: sqlite3.Connection, path: Path, version: int) -> Path:
    """Write a whole copy beside the file, never over an earlier one; return its path."""
    target = _free_name(path, version)
    partial = target.with_name(target.name + ".part")
    try:
        copy = sqlite3.connect(partial)
        try:
            connection.backup(copy)
        finally:
            copy.close()
        partial.replace(target)
    except (sqlite3.Error, OSError) as fault:
        partial.unlink(missing_ok=True)
        raise ProjectFileError(
            spoken(
                "{path}: no copy could be kept before the upgrade from file version {version} "
                "({fault}), so the file was not upgraded. Make room on the disk, or move the "
                "file to a folder that can be written to, and open it again.",
                path=path,
                version=version,
                fault=fault,
            )
        ) from fault
    return target


def _free_name(path: Path, version: int) -> Path:
    target = path.with_name(f"{path.name}.v{version}.bak")
    number = 2
    while target.exists():
        target = path.with_name(f"{path.name}.v{version}-{number}.bak")
        number += 1
    return target


def upgraded_in_memory(
    connection: sqlite3.Connection, version: int, upgrades: Sequence[Upgrade]
) -> sqlite3.Connection:
    """Return an upgraded copy in memory of an older file that must not be written to."""
    copy = sqlite3.connect(":memory:", isolation_level=None)
    connection.backup(copy)
    for number in range(version + 1, len(upgrades) + 1):
        take_step(copy, number, upgrades[number - 1])
    return copy
