"""Two crews' project files joined row by row, and a project file made from rows alone.

Rows are never changed and carry ids of their own, so joining is the union of both files' rows
and nothing can be lost. The joined rows are numbered anew by an order that follows from the
rows alone (time, then place in the chain of superseding, then id): it does not matter which
file comes first, nor in which order three files are joined.
"""

from __future__ import annotations

import contextlib
import json
import os
import sqlite3
import uuid
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from datetime import datetime
from pathlib import Path
from typing import Any

from commission.errors import CommissionError, ProjectFileError
from commission.language import spoken
from commission.project import opening
from commission.project.file import ProjectFile, _claim_name
from commission.project.journal import Clock, Row, _moment, index_from
from commission.project.merge_report import Conflict, MergeReport, conflicts_between
from commission.project.records import LIMIT_PARTS, pass_rank
from commission.project.registers import ACCURACY_TERMS
from commission.project.schema import APPLICATION_ID, TABLES, Table
from commission.project.settings import checked_setting
from commission.project.upgrades import UPGRADES, take_step
from commission.project.witness import checked_share, population_from

__all__ = [
    "Conflict",
    "MergeReport",
    "merge_projects",
    "project_from_rows",
    "stored_photos",
    "stored_rows",
    "stored_trends",
]

Rows = Mapping[str, Sequence[Row]]
"""Kind (a name in `TABLES`) -> stored rows, in the order committed."""

_INTEGERS = frozenset({"number", "removed", "order", "confirmed", "deficiency_number"})
_REALS = (frozenset(ACCURACY_TERMS) | {"limit_value", "share"}) - {"span"}
_MOST_FAULTS = 20


# --- reading and writing whole projects


def stored_rows(project: ProjectFile) -> dict[str, list[Row]]:
    """Return every row of a project, superseded and removed ones too, by kind."""
    return {kind: project.rows(kind) for kind in TABLES}


def stored_photos(project: ProjectFile) -> Iterator[tuple[str, bytes]]:
    """Yield (SHA-256, bytes) of every picture that the file holds, in the order of the hashes."""
    for row in project._select("SELECT sha256 FROM photo_data ORDER BY sha256"):
        yield row["sha256"], project._photo_bytes(row["sha256"])


def stored_trends(project: ProjectFile) -> Iterator[tuple[str, bytes]]:
    """Yield (SHA-256, packed samples) of every trend log, in the order of the hashes."""
    for row in project._select("SELECT sha256 FROM trend_data ORDER BY sha256"):
        yield row["sha256"], project._trend_bytes(row["sha256"])


def project_from_rows(
    path: str | os.PathLike[str],
    *,
    project_uuid: str,
    made_at: str,
    rows: Rows,
    photos: Iterable[tuple[str, bytes]] = (),
    trends: Iterable[tuple[str, bytes]] = (),
    clock: Clock | None = None,
) -> ProjectFile:
    """Make a new project file that holds exactly these rows, and open it.

    Args:
        project_uuid: the project's own id; `made_at` when it was made, ISO 8601 with offset.
        rows: with their numbers, ids, times and history, as `stored_rows` gives them.
        photos: SHA-256 and bytes of the pictures.
        trends: SHA-256 and packed samples of the trend logs.
        clock: the opened project's clock (default: the computer's).
    Raises:
        ProjectFileError: a row that no project file can hold (all such faults, the first
            twenty in words), the file exists, or it cannot be written; then nothing is left.
    """
    place = Path(path)
    faults = list(_faults_of(rows, project_uuid, made_at))
    if faults:
        shown = faults[:_MOST_FAULTS]
        more = [spoken("... and {count} more.", count=len(faults) - len(shown))] * (
            len(faults) > len(shown)
        )
        raise ProjectFileError("\n".join(f"{place}: {fault}" for fault in (*shown, *more)))
    _write_file(place, {"project_uuid": project_uuid, "made_at": made_at}, rows, photos, trends)
    return ProjectFile.open(place) if clock is None else ProjectFile.open(place, clock=clock)


def _write_file(
    place: Path,
    meta: Mapping[str, str],
    rows: Rows,
    photos: Iterable[tuple[str, bytes]],
    trends: Iterable[tuple[str, bytes]],
) -> None:
    """Write all in one transaction under another name, then put it in its place."""
    _refuse_existing(place)
    beside = place.with_name(f".{place.name}.{uuid.uuid4().hex[:8]}.part")
    try:
        _claim_name(beside)
        _fill(beside, meta, rows, photos, trends)
        _put_in_place(beside, place)
    except (sqlite3.Error, OSError) as fault:
        raise ProjectFileError(
            spoken(
                "{place}: the project could not be written ({fault}). Choose another folder or "
                "make room on the disk; nothing is left there, and the files read are "
                "unchanged.",
                place=place,
                fault=fault,
            )
        ) from fault
    finally:
        for left in (beside, beside.with_name(beside.name + "-journal")):
            with contextlib.suppress(OSError):  # the medium is gone, and the file with it
                left.unlink(missing_ok=True)


def _put_in_place(beside: Path, place: Path) -> None:
    """Give a whole file its name, in one step where the medium can link files."""
    try:
        os.link(beside, place)
    except FileExistsError:
        _refuse_existing(place)
        raise
    except OSError:  # a stick's file system has no links
        _claim_name(place)
        beside.replace(place)


def _refuse_existing(place: Path) -> None:
    if place.exists():
        raise ProjectFileError(
            spoken(
                "{place}: there is a file of this name already; it was left as it is. Choose "
                "another name.",
                place=place,
            )
        )


def _fill(
    place: Path,
    meta: Mapping[str, str],
    rows: Rows,
    photos: Iterable[tuple[str, bytes]],
    trends: Iterable[tuple[str, bytes]],
) -> None:
    connection = opening.connect(place, "rw")
    try:
        connection.execute("PRAGMA journal_mode = DELETE")
        connection.execute("BEGIN IMMEDIATE")
        connection.execute(f"PRAGMA application_id = {APPLICATION_ID}")
        for version, upgrade in enumerate(UPGRADES, start=1):
            take_step(connection, version, upgrade)
        connection.executemany("INSERT INTO meta (key, value) VALUES (?, ?)", meta.items())
        for kind, table in TABLES.items():
            columns = table.all_columns
            names = ", ".join(f'"{name}"' for name in columns)
            marks = ", ".join("?" * len(columns))
            connection.executemany(
                f"INSERT INTO {kind} ({names}) VALUES ({marks})",
                ([row[name] for name in columns] for row in rows.get(kind, ())),
            )
        connection.executemany("INSERT OR IGNORE INTO photo_data VALUES (?, ?)", photos)
        connection.executemany("INSERT OR IGNORE INTO trend_data VALUES (?, ?)", trends)
        connection.execute("COMMIT")
    finally:
        connection.close()


# --- what a project file can hold


def _faults_of(rows: Rows, project_uuid: str, made_at: str) -> Iterator[str]:
    if not project_uuid:
        yield spoken("the project has no id of its own.")
    if _time_fault(made_at):
        yield spoken(
            "the project's made_at '{made_at}' {time_fault}",
            made_at=made_at,
            time_fault=_time_fault(made_at),
        )
    yield from (
        spoken("'{kind}' is no kind of row.", kind=kind) for kind in rows if kind not in TABLES
    )
    numbers: set[int] = set()
    for kind, table in TABLES.items():
        ids: set[str] = set()
        for place, row in enumerate(rows.get(kind, ()), start=1):
            called = spoken("{kind} row {place}", kind=kind, place=place)
            faults = list(_row_faults(table, row))
            yield from (f"{called}: {fault}" for fault in faults)
            if faults:
                continue
            if row["number"] in numbers:
                yield spoken(
                    "{called}: number {number} is used twice.", called=called, number=row["number"]
                )
            if row["id"] in ids:
                yield spoken("{called}: id {id} is used twice.", called=called, id=row["id"])
            numbers.add(row["number"])
            ids.add(row["id"])


def _row_faults(table: Table, row: Row) -> Iterator[str]:
    absent = [name for name in table.all_columns if name not in row]
    strange = [name for name in row if name not in table.all_columns]
    if absent:
        yield spoken("{absent} missing.", absent=", ".join(absent))
    if strange:
        yield spoken("unknown {map}.", map=", ".join(map(str, strange)))
    wrong = [
        name for name in table.all_columns if name in row and not _is_storable(name, row[name])
    ]
    yield from (spoken("{name} cannot be {row!r:.60}.", name=name, row=row[name]) for name in wrong)
    if not absent and not wrong:
        yield from _meaning_faults(table, row)


def _is_storable(name: str, value: object) -> bool:
    if name in _INTEGERS:
        flags = name in ("removed", "confirmed")
        return (
            isinstance(value, int)
            and not isinstance(value, bool)
            and (value in (0, 1) if flags else 0 < value < 2**63)
        )
    if name in _REALS:
        return _is_finite(value)
    if name == "span":
        return value is None or _is_finite(value)
    if name == "value":
        return value is None or _is_finite(value) or _is_text(value)
    return _is_text(value)


def _is_finite(value: object) -> bool:
    return isinstance(value, float) and value - value == 0.0


def _is_text(value: object) -> bool:
    if not isinstance(value, str):
        return False
    try:
        value.encode()
    except UnicodeEncodeError:  # half a surrogate pair
        return False
    return value.isprintable() or not any(c < " " and c not in "\t\n\r" for c in value)


def _meaning_faults(table: Table, row: Row) -> Iterator[str]:
    """Yield what would stop the file from being read back, beyond the type of each column."""
    if not row["id"]:
        yield spoken("no id.")
    if fault := _time_fault(row["at"]):
        yield f"at '{row['at']}' {fault}"
    tests: list[Callable[[], object]] = []
    if "index" in row:
        tests.append(lambda: _checked_index(row["index"]))
    if table.name in ("reading", "witness_reading"):
        tests.append(lambda: pass_rank(row["pass_name"]))
    elif table.name == "witness_draw":
        tests.append(lambda: population_from(row["population"]))
        tests.append(lambda: checked_share(row["share"]))
    elif table.name == "limit_entry":
        tests.append(lambda: _checked_parts(row["parts"]))
    elif table.name == "setting":
        tests.append(lambda: checked_setting(row["name"], row["value"]))
    for test in tests:
        try:
            test()
        except (CommissionError, ValueError, TypeError, RecursionError) as fault:
            yield str(fault)


def _time_fault(text: str) -> str:
    try:
        moment = datetime.fromisoformat(text)
    except (ValueError, TypeError):
        return spoken("is no time (ISO 8601).")
    return "" if moment.tzinfo else spoken("has no offset from UTC.")


def _checked_index(text: str) -> None:
    if any(number < 1 for number in index_from(text)):
        raise ValueError(spoken("index '{value}': members count from 1.", value=text))


def _checked_parts(text: str) -> None:
    parts = json.loads(text)
    known = isinstance(parts, dict) and set(parts) <= set(LIMIT_PARTS)
    if not known or not all(_is_finite(float(number)) for number in parts.values()):
        raise ValueError(spoken("parts {value:.60} are not those of a limit.", value=text))


# --- joining two files


def merge_projects(
    ours: str | os.PathLike[str], theirs: str | os.PathLike[str], into: str | os.PathLike[str]
) -> MergeReport:
    """Join two project files of one site into a third; both stay as they are.

    Where both crews changed one thing, both rows are kept, the later one counts, and the
    report shows the two. Units are joined by their id: copies of one file, or files that
    were merged before, have them in common.

    Raises:
        ProjectFileError: a file cannot be read or was written by a newer program, the forms
            are of different kinds, one row differs between the files, or `into` exists or
            cannot be written.
    """
    _refuse_existing(Path(into))
    for path in (ours, theirs):
        _refuse_newer(Path(path))
    with (
        ProjectFile.open(ours, read_only=True) as first,
        ProjectFile.open(theirs, read_only=True) as second,
    ):
        _refuse_other_form(first, second)
        our_rows, their_rows = stored_rows(first), stored_rows(second)
        joined = numbered_anew(_union(our_rows, their_rows, first.path, second.path))
        conflicts = conflicts_between(our_rows, their_rows, joined)
        if first.uuid != second.uuid:
            conflicts = [_other_origin(first, second), *conflicts]
        older = min(first, second, key=lambda project: (_moment(project.made_at), project.uuid))
        _write_file(
            Path(into),
            {"project_uuid": older.uuid, "made_at": older.made_at},
            joined,
            _photos_of(first, second),
            _trends_of(first, second),
        )
    return _report(Path(into), our_rows, their_rows, conflicts)


def _photos_of(*projects: ProjectFile) -> Iterator[tuple[str, bytes]]:
    for project in projects:
        yield from stored_photos(project)


def _trends_of(*projects: ProjectFile) -> Iterator[tuple[str, bytes]]:
    for project in projects:
        yield from stored_trends(project)


def _refuse_newer(path: Path) -> None:
    version = opening.read_header(path).file_version
    if version > len(UPGRADES):
        raise ProjectFileError(
            spoken(
                "{path}: was written by a newer program (file version {version}, this program "
                "knows {count}). Merge with the newer program, so that nothing is lost.",
                path=path,
                version=version,
                count=len(UPGRADES),
            )
        )


def _refuse_other_form(first: ProjectFile, second: ProjectFile) -> None:
    if first.form_id != second.form_id:
        raise ProjectFileError(
            spoken(
                "{path}: answers the form '{form_id}', {other_path} the form "
                "'{other_form_id}'; only "
                "projects of one form can be merged.",
                path=second.path,
                form_id=second.form_id,
                other_path=first.path,
                other_form_id=first.form_id,
            )
        )


def _union(ours: Rows, theirs: Rows, our_path: Path, their_path: Path) -> dict[str, list[Row]]:
    joined: dict[str, list[Row]] = {}
    for kind in TABLES:
        by_id = {row["id"]: row for row in ours[kind]}
        for row in theirs[kind]:
            known = by_id.setdefault(row["id"], row)
            if known is row:
                continue
            if _content(known) != _content(row):
                raise ProjectFileError(
                    spoken(
                        "{their_path}: the {kind} row {id} is not the same as in "
                        "{our_path}, "
                        "and rows never change: another program has changed one of the "
                        "two files. Take "
                        "a copy that was kept before.",
                        their_path=their_path,
                        kind=kind.removesuffix("_entry"),
                        id=row["id"],
                        our_path=our_path,
                    )
                )
            if kind == "limit_entry":  # the same parts may be written in another order
                by_id[row["id"]] = min(known, row, key=lambda one: str(one["parts"]))
        joined[kind] = list(by_id.values())
    return joined


def _content(row: Row) -> Row:
    """Return a row without its place in its file, parts of a limit by what they mean."""
    content = {name: value for name, value in row.items() if name != "number"}
    if "parts" in content:
        content["parts"] = json.loads(content["parts"])
    return content


def numbered_anew(rows: Rows) -> dict[str, list[Row]]:
    """Return the rows with numbers from 1 that follow from the rows alone."""
    order: list[tuple[Any, ...]] = []
    for place, kind in enumerate(TABLES):
        ranks = _ranks(rows[kind])
        order += [(*ranks[row["id"]], place, row["id"], kind, row) for row in rows[kind]]
    order.sort(key=lambda entry: entry[:4])
    numbered: dict[str, list[Row]] = {kind: [] for kind in TABLES}
    for number, (*_, kind, row) in enumerate(order, start=1):
        numbered[kind].append(row | {"number": number})
    return numbered


def _ranks(rows: Sequence[Row]) -> dict[str, tuple[datetime, int]]:
    """Return for each row its time, not before what it supersedes, and its place in the chain."""
    by_id = {row["id"]: row for row in rows}
    ranks: dict[str, tuple[datetime, int]] = {}
    for row in rows:
        chain: dict[str, Row] = {}
        above: Row | None = row
        while above is not None and above["id"] not in ranks:
            if above["id"] in chain:
                raise ProjectFileError(
                    spoken(
                        "Row {id} supersedes itself: another program has changed the "
                        "file. Take a copy "
                        "that was kept before.",
                        id=above["id"],
                    )
                )
            chain[above["id"]] = above
            above = by_id.get(above["supersedes"])
        for link in reversed(chain.values()):
            time, depth = ranks.get(link["supersedes"], (_moment(""), -1))
            ranks[link["id"]] = (max(time, _moment(link["at"])), depth + 1)
    return ranks


def _other_origin(first: ProjectFile, second: ProjectFile) -> Conflict:
    return Conflict(
        "project",
        "",
        spoken("the two files were begun apart; units of one tag are two units"),
        f"'{first.title}' of {first.made_at}",
        f"'{second.title}' of {second.made_at}",
        "both",
    )


def _report(into: Path, ours: Rows, theirs: Rows, conflicts: Sequence[Conflict]) -> MergeReport:
    our_ids = {(kind, row["id"]) for kind in TABLES for row in ours[kind]}
    their_ids = {(kind, row["id"]) for kind in TABLES for row in theirs[kind]}
    return MergeReport(
        into,
        only_ours=len(our_ids - their_ids),
        only_theirs=len(their_ids - our_ids),
        shared=len(our_ids & their_ids),
        conflicts=tuple(conflicts),
    )
