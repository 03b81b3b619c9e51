"""The append-only store under everything else: rows go in, whole or not at all, and stay.

A row is current if no other row supersedes it; should two be (after a merge), the later in
time is, then the one committed last.
"""

from __future__ import annotations

import math
import sqlite3
import unicodedata
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from datetime import UTC, datetime
from functools import lru_cache
from pathlib import Path
from typing import Any

from commission.errors import ProjectFileError, ReadingError
from commission.language import spoken, to_say
from commission.project import holder
from commission.project.holder import Holder
from commission.project.records import Index
from commission.project.schema import TABLES, Table

Row = dict[str, Any]
Clock = Callable[[], datetime]


class Journal:
    """A connection, the count of committed rows, and the one way to add to them.

    Attributes:
        path: the file.
        read_only: whether nothing can be added; `read_only_reason` says why, in a sentence.
        person_id: who is entering now; stands in every row as `entered_by`.
    """

    def __init__(
        self,
        connection: sqlite3.Connection,
        path: Path,
        *,
        clock: Clock,
        new_id: Callable[[], str],
        read_only_reason: str = "",
        held_by: Holder | None = None,
    ) -> None:
        self.path = path
        self.read_only_reason = read_only_reason
        self.person_id = ""
        self._connection = connection
        self._clock = clock
        self._new_id = new_id
        self._holder = held_by
        self._in_transaction = False
        self._revision = self._count_rows()

    @property
    def read_only(self) -> bool:
        """Whether nothing can be added."""
        return bool(self.read_only_reason)

    @property
    def revision(self) -> int:
        """How many rows have been committed to this file since it was made."""
        return self._count_rows() if self.read_only else self._revision

    def _count_rows(self) -> int:
        highest = " UNION ALL ".join(f"SELECT max(number) AS n FROM {name}" for name in TABLES)
        return int(self._select(f"SELECT coalesce(max(n), 0) AS n FROM ({highest})")[0]["n"])

    @contextmanager
    def transaction(self, what: str = "") -> Iterator[None]:
        """Commit all that is added inside together, or nothing of it. May be nested.

        Raises:
            ProjectFileError: read-only, disk full or gone, or another window took the file;
                the message says that `what` was not kept.
        """
        what = what or spoken("the entries")
        if self._in_transaction:
            with self._part(what):
                yield
            return
        self._refuse_if_read_only(what)
        revision = self._revision
        try:
            self._in_transaction = True
            self._connection.execute("BEGIN IMMEDIATE")
            self._confirm_held(what)
            yield
            self._connection.execute("COMMIT")
        except sqlite3.Error as fault:
            self._roll_back(revision)
            raise self._not_kept(what, fault) from fault
        except BaseException:
            self._roll_back(revision)
            raise
        finally:
            self._in_transaction = False

    @contextmanager
    def _part(self, what: str) -> Iterator[None]:
        """Within a transaction: all of this part or, if its fault is caught outside, none."""
        self._refuse_if_rolled_back(what)
        revision = self._revision
        self._connection.execute("SAVEPOINT part")
        try:
            yield
        except BaseException:
            self._revision = revision
            if self._connection.in_transaction:  # a full disk rolls back the whole by itself
                self._connection.execute("ROLLBACK TO part")
                self._connection.execute("RELEASE part")
            raise
        self._connection.execute("RELEASE part")

    def _refuse_if_rolled_back(self, what: str) -> None:
        if not self._connection.in_transaction:
            raise ProjectFileError(
                spoken(
                    "{path}: {what} was NOT kept: the entries that it belongs to were rolled back. "
                    "Enter them all again.",
                    path=self.path,
                    what=what,
                )
            )

    def _roll_back(self, revision: int) -> None:
        self._revision = revision
        try:
            if self._connection.in_transaction:
                self._connection.execute("ROLLBACK")
        except sqlite3.Error:
            return  # the medium is gone; the file's own journal rolls back at the next opening

    def _refuse_if_read_only(self, what: str) -> None:
        if self.read_only:
            raise ProjectFileError(
                spoken(
                    "{path}: {what} was NOT kept: the file is open read-only because "
                    "{read_only_reason}.",
                    path=self.path,
                    what=what,
                    read_only_reason=self.read_only_reason,
                )
            )

    def _confirm_held(self, what: str) -> None:
        found = holder.current(self._connection)
        if self._holder is None or (found and found.token == self._holder.token):
            return
        taker = str(found) if found else spoken("another window")
        self.read_only_reason = spoken("{taker} has taken it over", taker=taker)
        raise ProjectFileError(
            spoken(
                "{path}: {what} was NOT kept: {taker} has taken the file over. Close one of the "
                "two windows and open the file again.",
                path=self.path,
                what=what,
                taker=taker,
            )
        )

    def _not_kept(self, what: str, fault: sqlite3.Error) -> ProjectFileError:
        cause, cure = _CAUSES.get(_primary_name(fault), (str(fault), _GENERAL_CURE))
        return ProjectFileError(
            spoken(
                "{path}: {what} was NOT kept: {cause}. All that was entered before is in the "
                "file, whole. {cure}",
                path=self.path,
                what=what,
                cause=spoken(cause),
                cure=spoken(cure),
            )
        )

    def _append(
        self, table: Table, contents: Iterable[Mapping[str, object]], what: str
    ) -> list[Row]:
        """Add one row each, in one transaction; return the rows as stored.

        `contents` has the content columns, and `record`, `supersedes`, `removed` as needed.
        """
        columns = table.all_columns
        names = ", ".join(f'"{name}"' for name in columns)
        marks = ", ".join("?" * len(columns))
        statement = f"INSERT INTO {table.name} ({names}) VALUES ({marks})"
        if not self._in_transaction:
            with self.transaction(what):
                return self._append(table, contents, what)
        self._refuse_if_rolled_back(what)
        rows = []
        for content in contents:
            row = self._complete(table, content, what)
            self._connection.execute(statement, [row[name] for name in columns])
            self._revision += 1
            rows.append(row)
        return rows

    def _complete(self, table: Table, content: Mapping[str, object], what: str) -> Row:
        row: Row = {
            "number": self._revision + 1,
            "id": self._new_id(),
            "supersedes": "",
            "at": self._now(),
            "entered_by": self.person_id,
            "removed": 0,
        }
        row |= {name: _stored(value, what) for name, value in content.items()}
        if table.has_record and not row.get("record"):
            row["record"] = row["id"]
        return row

    def _now(self) -> str:
        moment = self._clock()
        if moment.utcoffset() is None:
            raise ProjectFileError(
                spoken(
                    "{path}: the clock gave {moment} without its offset from UTC; give a clock "
                    "that does, such as datetime.now().astimezone().",
                    path=self.path,
                    moment=moment.isoformat(),
                )
            )
        return moment.isoformat(timespec="seconds")

    def _select(self, statement: str, values: Sequence[object] = ()) -> list[Row]:
        try:
            cursor = self._connection.execute(statement, values)
            names = [column[0] for column in cursor.description]
            return [dict(zip(names, row, strict=True)) for row in cursor]
        except sqlite3.Error as fault:
            raise ProjectFileError(
                spoken(
                    "{path}: cannot be read ({fault}). Check that the disk is there and "
                    "the file is "
                    "still open; if it is, restore the file from a copy.",
                    path=self.path,
                    fault=fault,
                )
            ) from fault

    def _rows(self, table: Table, **where: object) -> list[Row]:
        """Return the rows whose columns equal the given values, in the order committed."""
        condition = " AND ".join(f'"{name}" = ?' for name in where) or "1"
        return self._select(
            f"SELECT * FROM {table.name} WHERE {condition} ORDER BY number", list(where.values())
        )

    def _newest(self, table: Table, **where: object) -> list[Row]:
        """Return the newest row of each thing, in the order in which things first appeared.

        Rows of a thing edited over time also get `first_at`, when it was added.
        """
        rows = self._rows(table, **where)
        newest = list(current_rows(rows, table.keyed_by).values())
        if table.has_record:
            first = {row["record"]: row["at"] for row in reversed(rows)}
            for row in newest:
                row["first_at"] = first[row["record"]]
        return newest

    def _current(self, table: Table, **where: object) -> list[Row]:
        """Return the newest rows, those that remove a thing or a reading left out."""
        return [row for row in self._newest(table, **where) if not row["removed"]]

    def rows(self, kind: str, since: int = 0) -> list[Row]:
        """Return every stored row of a table committed after revision `since`, for a merge.

        Args:
            kind: a name in `commission.project.schema.TABLES`.
        Returns: column name -> stored value, in the order committed; photos' bytes are not
            among them (`Photo.data`).
        """
        if kind not in TABLES:
            raise ProjectFileError(
                spoken(
                    "{path}: no rows of kind '{kind}'; known: {kinds}",
                    path=self.path,
                    kind=kind,
                    kinds=[*TABLES],
                )
            )
        return self._select(f"SELECT * FROM {kind} WHERE number > ? ORDER BY number", [since])


def current_rows(rows: Iterable[Row], keyed_by: Sequence[str]) -> dict[tuple[Any, ...], Row]:
    """Return the row that counts for each key; keys stand in order of first appearance."""
    rows = list(rows)
    superseded = {row["supersedes"] for row in rows}
    heads: dict[tuple[Any, ...], Row] = {}
    seen = dict.fromkeys(tuple(row[name] for name in keyed_by) for row in rows)
    for row in rows:
        key = tuple(row[name] for name in keyed_by)
        if row["id"] not in superseded and not _is_later(heads.get(key), row):
            heads[key] = row
    return {key: heads[key] for key in seen if key in heads}


def _is_later(one: Row | None, other: Row) -> bool:
    return one is not None and _moment(one["at"]) > _moment(other["at"])


def _moment(text: str) -> datetime:
    """Return a stored time; one that is no time counts as the earliest, so commit order decides."""
    try:
        moment = datetime.fromisoformat(text)
    except ValueError:
        return datetime.min.replace(tzinfo=UTC)
    return moment if moment.tzinfo else moment.replace(tzinfo=UTC)


def index_text(index: Sequence[int]) -> str:
    """Return an index as stored: (1, 2) -> "1,2"; () -> "".

    Raises:
        ReadingError: a number below 1 or not whole.
    """
    for number in index:
        if isinstance(number, bool) or not isinstance(number, int) or number < 1:
            raise ReadingError(
                spoken(
                    "Index {index}: members count from 1; give whole numbers.", index=tuple(index)
                )
            )
    return ",".join(map(str, index))


@lru_cache(maxsize=4096)
def index_from(text: str) -> Index:
    """Return the index stored as `text`."""
    return tuple(int(part) for part in text.split(",")) if text else ()


def _stored(value: object, what: str) -> object:
    """Return a value as SQLite keeps it, refusing what would not come back the same."""
    if isinstance(value, bool):
        return int(value)
    if isinstance(value, float) and not math.isfinite(value):
        raise ReadingError(
            spoken(
                "{what}: {value} is not a number that can be read. Enter it again.",
                what=what,
                value=value,
            )
        )
    if isinstance(value, str):
        _refuse_unprintable(value, what)
    return value


def _refuse_unprintable(text: str, what: str) -> None:
    if text.isprintable():
        return
    for place, character in enumerate(text, start=1):
        if unicodedata.category(character) in ("Cc", "Cs") and character not in "\t\n\r":
            raise ReadingError(
                spoken(
                    "{what}: character {place} of the text (code {ord:#04x}) cannot be printed or "
                    "stored. Type the text again without it.",
                    what=what,
                    place=place,
                    ord=ord(character),
                )
            )


def _primary_name(fault: sqlite3.Error) -> str:
    name = str(getattr(fault, "sqlite_errorname", ""))
    return "_".join(name.split("_")[:2]) if name != "SQLITE_READONLY_DBMOVED" else name


_GENERAL_CURE = to_say("Enter it again; if that fails too, close the project and open it again.")
_CAUSES = {
    "SQLITE_FULL": (
        to_say("the disk is full"),
        to_say(
            "Make room on the disk and enter it again, or close the project and copy the file to "
            "another disk."
        ),
    ),
    "SQLITE_IOERR": (
        to_say("the disk did not take it"),
        to_say(
            "Check that the disk is still there and enter it again, or close the project and "
            "copy the file to another disk."
        ),
    ),
    "SQLITE_READONLY": (
        to_say("the file or its folder can no longer be written to"),
        to_say(
            "Remove the write protection and enter it again, or close the project and copy the "
            "file to another disk."
        ),
    ),
    "SQLITE_READONLY_DBMOVED": (
        to_say("the file has been moved, renamed or deleted since it was opened"),
        to_say("Put the file back where it was and enter it again, or open it at its new place."),
    ),
    "SQLITE_BUSY": (
        to_say("another program is using the file"),
        to_say("Wait until it has ended (a back-up, a copy, another window) and enter it again."),
    ),
}
