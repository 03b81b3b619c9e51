"""Archive records into the store: each whole or not at all, none twice."""

from __future__ import annotations

import hashlib
import zlib
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, Table, insert, select

from commission.archive.files import Progress, silent
from commission.archive.rebuild import record_bytes, record_content
from commission.archive.record import SUFFIX
from commission.archive.store.opening import Store
from commission.archive.store.reading import Record, UnitRows, entry_rows, record_row, unit_rows
from commission.archive.store.tables import ENTRY, READ_VALUE, RECORD, SAID, UNIT, VERDICT
from commission.errors import CommissionError, ProjectFileError, StoreError
from commission.language import spoken

_COMPRESSION = 1  # a record is mostly the same words: more effort gains a tenth, and costs thrice
_ENTRY_KEY = ("form_hash", "name", "unit", "label", "kind")


@dataclass(frozen=True, slots=True)
class Added:
    """What became of one file: `was_there` if these very bytes were in the store already."""

    path: Path
    record_id: int
    units: int
    was_there: bool = False
    fault: str = ""


def record_paths(places: Iterable[Path]) -> list[Path]:
    """Return the record files among files and folders (all *.record.json below a folder).

    Raises:
        StoreError: a folder holds none, or a name is neither file nor folder.
    """
    paths: list[Path] = []
    for place in places:
        if place.is_dir():
            found = sorted(place.rglob(f"*{SUFFIX}"))
            if not found:
                raise StoreError(
                    spoken(
                        "{place}: no archive record (*{suffix}) is in this folder. "
                        "'commission archive' "
                        "writes one.",
                        place=place,
                        suffix=SUFFIX,
                    )
                )
            paths += found
        elif place.exists():
            paths.append(place)
        else:
            raise StoreError(spoken("{place}: there is no such file. Check the name.", place=place))
    return list(dict.fromkeys(paths))


def add_records(
    store: Store, paths: Sequence[Path], progress: Progress | None = None
) -> Iterator[Added]:
    """Add records one by one, yielding what became of each.

    A file that is no record has its `fault` told and stops nothing; a fault of the store does.

    Raises:
        StoreError: the store refuses or is gone; the records told of before are in it.
    """
    tell = progress or silent
    for done, path in enumerate(paths):
        tell(done, len(paths), path.name)
        try:
            yield add_record(store, path)
        except ProjectFileError as fault:
            yield Added(path, 0, 0, fault=str(fault))
    tell(len(paths), len(paths), "done")


def add_record(store: Store, path: Path, *, now: Callable[[], datetime] | None = None) -> Added:
    """Add one archive record in one transaction.

    The same bytes are added once. A later record of the same project or unit stands beside
    the earlier; searches show the newest.

    Args:
        now: gives the time of adding (default: the computer's clock).
    Raises:
        ProjectFileError: the file is no archive record that can be read.
        StoreError: it could not be kept; then nothing of it is in the store.
    """
    path = Path(path)
    data = record_bytes(path)
    sha256 = hashlib.sha256(data).hexdigest()
    moment = now() if now is not None else datetime.now().astimezone()
    if store.read_only:
        raise StoreError(
            spoken(
                "{name}: {record} was NOT added: the store is open read-only.",
                name=store.name,
                record=path.name,
            )
        )
    with store.transaction(spoken("{name} was NOT added", name=path.name)) as connection:
        there = connection.execute(select(RECORD.c.id).where(RECORD.c.sha256 == sha256)).scalar()
        if there is not None:
            return Added(path, there, 0, was_there=True)
        content = record_content(path, data)
        row, units = _understood(path, content)
        row |= {"sha256": sha256, "size": len(data), "content": zlib.compress(data, _COMPRESSION)}
        row["added_at"] = moment.isoformat(timespec="seconds")
        record_id = _insert_one(connection, RECORD, row)
        entries = _entry_ids(connection, content)
        for unit in units:
            _add_unit(connection, record_id, unit, entries)
    return Added(path, record_id, len(units))


def _understood(path: Path, content: Record) -> tuple[dict[str, Any], list[UnitRows]]:
    try:
        return record_row(content), list(unit_rows(content))
    except (KeyError, TypeError, ValueError, AttributeError, CommissionError) as fault:
        raise ProjectFileError(
            spoken(
                "{path}: cannot be taken into the store: {name} at {fault}. Take the record as "
                "it was written.",
                path=path,
                name=type(fault).__name__,
                fault=fault,
            )
        ) from fault


def _insert_one(connection: Connection, table: Table, row: dict[str, Any]) -> int:
    key = connection.execute(insert(table).values(row)).inserted_primary_key
    assert key is not None
    return int(key[0])


def _entry_ids(connection: Connection, content: Record) -> dict[str, int]:
    """Return name -> id of the record's fields and quantities, those that are new added."""
    form_hash = content["form"]["hash"]
    wanted = {
        name: (tuple(row[part] for part in _ENTRY_KEY), row)
        for name, row in entry_rows(content).items()
    }
    held = _held_entries(connection, form_hash)
    new = [row for key, row in wanted.values() if key not in held]
    if new:
        connection.execute(insert(ENTRY), new)
        held = _held_entries(connection, form_hash)
    return {name: held[key] for name, (key, _) in wanted.items()}


def _held_entries(connection: Connection, form_hash: str) -> dict[tuple[Any, ...], int]:
    columns = [ENTRY.c[name] for name in _ENTRY_KEY]
    rows = connection.execute(select(ENTRY.c.id, *columns).where(ENTRY.c.form_hash == form_hash))
    return {tuple(row[1:]): row[0] for row in rows}


def _add_unit(
    connection: Connection, record_id: int, rows: UnitRows, entries: dict[str, int]
) -> None:
    unit_key = _insert_one(connection, UNIT, {**rows.unit, "record_id": record_id})
    values = [
        {"entry_id": entries[value["name"]]} | {k: v for k, v in value.items() if k != "name"}
        for value in rows.values
    ]
    for table, found in ((READ_VALUE, values), (VERDICT, rows.verdicts), (SAID, rows.said)):
        if found:
            connection.execute(insert(table), [{"unit_key": unit_key} | row for row in found])
