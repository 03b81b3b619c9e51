"""Readings of a project file: recorded as entered, never overwritten."""

from __future__ import annotations

import hashlib
import json
import math
from collections.abc import Iterable, Mapping, Sequence

from commission.errors import ProjectFileError, ReadingError
from commission.language import spoken
from commission.project.journal import Journal, Row, current_rows, index_from, index_text
from commission.project.records import (
    AS_FOUND,
    PROJECT_LEVEL,
    Entered,
    Index,
    Reading,
    Value,
    pass_rank,
)
from commission.project.schema import TABLES

_READING = TABLES["reading"]
_UNIT = TABLES["unit"]
_READ = ("value", "not_applicable", "entered", "instrument_id", "person_id")

WITHDRAWN = 1
"""What `removed` holds in a reading that takes its field out of a pass."""


class ReadingLog(Journal):
    """The readings of all units, in all passes, with their history."""

    _kept: tuple[tuple[str, int, int], dict[tuple[str, Index], Reading]] | None = None

    def record(
        self,
        unit_id: str,
        name: str,
        index: Index = (),
        value: Value = None,
        *,
        pass_name: str = AS_FOUND,
        not_applicable: str = "",
        entered: str = "",
        note: str = "",
        instrument_id: str = "",
        person_id: str = "",
        source: str = "window",
    ) -> Reading:
        """Commit one reading; it is on the disk when this returns.

        Args:
            unit_id: a unit's id, or "" for a reading of the project.
            value: in the field's own unit; None clears the field, or goes with a reason.
        Raises:
            ReadingError: impossible as a reading (value and reason, infinite, no such pass).
            ProjectFileError: the reading was NOT kept; the message says why and what to do.
        """
        reading = Entered(
            unit_id,
            name,
            index,
            value,
            not_applicable,
            pass_name,
            entered,
            note,
            instrument_id,
            person_id,
            source,
        )
        return self.record_many([reading])[0]

    def record_many(self, entered: Iterable[Entered]) -> list[Reading]:
        """Commit readings together: all of them or, on any fault, none."""
        many = list(entered)
        if not many:
            return []
        what = (
            _called(many[0])
            if len(many) == 1
            else spoken("{count} readings, none of them,", count=len(many))
        )
        with self.transaction(what):
            for unit_id in {reading.unit_id for reading in many}:
                self._refuse_unknown_unit(unit_id)
            rows = [self._append_reading(reading) for reading in many]
        return [_reading(row) for row in rows]

    def withdraw(
        self, unit_id: str, name: str, index: Index = (), *, pass_name: str, note: str = ""
    ) -> Reading:
        """Take a field out of a pass again, so that the earlier pass counts (undo of a slip)."""
        entered = Entered(unit_id, name, index, pass_name=pass_name, note=note)
        with self.transaction(_called(entered)):
            return _reading(self._append_reading(entered, removed=WITHDRAWN))

    def _append_reading(self, entered: Entered, removed: int = 0) -> Row:
        what = _called(entered)
        _refuse_impossible(entered, what)
        content = {name: getattr(entered, name) for name in _READING.columns}
        content |= {
            "index": index_text(entered.index),
            "value": entered.value
            if isinstance(entered.value, str | None)
            else float(entered.value),
            "person_id": entered.person_id or self.person_id,
            "removed": removed,
        }
        place = {name: content[name] for name in _READING.keyed_by}
        content["supersedes"] = next((row["id"] for row in self._newest(_READING, **place)), "")
        return self._append(_READING, [content], what)[0]

    def readings(
        self, unit_id: str, up_to_pass: str | None = None
    ) -> dict[tuple[str, Index], Reading]:
        """Return the newest reading of the latest pass of every field entered so far.

        A cleared field is in the result with `is_unread` true. With `up_to_pass` later
        passes are left out, so "as found" gives the unit as it was found. `at` is when it was
        read: a note written later is a further row, and does not move it.
        """
        if up_to_pass is None:
            return dict(self._counting(unit_id))
        return self._readings(unit_id, pass_rank(up_to_pass))

    def _counting(self, unit_id: str) -> dict[tuple[str, Index], Reading]:
        """Return what counts now; that of the unit asked last is kept until the file changes."""
        if self._in_transaction:
            return self._readings(unit_id, math.inf)
        # Changes by this connection, and by others.
        others = self._select("PRAGMA data_version")[0]["data_version"]
        state = (unit_id, self._connection.total_changes, int(others))
        if self._kept is None or self._kept[0] != state:
            self._kept = (state, self._readings(unit_id, math.inf))
        return self._kept[1]

    def _readings(self, unit_id: str, highest: float) -> dict[tuple[str, Index], Reading]:
        best: dict[tuple[str, Index], tuple[int, Reading]] = {}
        rows = self._rows(_READING, unit_id=unit_id)
        known = {row["id"]: row for row in rows}
        for row in current_rows(rows, _READING.keyed_by).values():
            rank = pass_rank(row["pass_name"])
            key = (row["name"], index_from(row["index"]))
            if row["removed"] or rank > highest or (key in best and best[key][0] > rank):
                continue
            best[key] = (rank, _reading(row, _read_at(row, known)))
        return {key: reading for key, (_, reading) in best.items()}

    def readings_of_pass(self, unit_id: str, pass_name: str) -> dict[tuple[str, Index], Reading]:
        """Return the newest reading of every field that was entered in this very pass."""
        pass_rank(pass_name)
        found = [
            _reading(row) for row in self._current(_READING, unit_id=unit_id, pass_name=pass_name)
        ]
        return {(reading.name, reading.index): reading for reading in found}

    def history(self, unit_id: str, name: str, index: Index = ()) -> list[Reading]:
        """Return all readings ever entered for one field, of all passes, oldest first."""
        rows = self._rows(_READING, unit_id=unit_id, name=name, index=index_text(index))
        return [_reading(row) for row in rows]

    def passes(self, unit_id: str) -> list[str]:
        """Return the passes in which anything of this unit stands, in order of time."""
        grouped = self._select(
            "SELECT pass_name, max(removed) AS removed FROM reading "
            "WHERE unit_id = ? GROUP BY pass_name",
            [unit_id],
        )
        # Only where something was withdrawn from a pass may nothing of it stand any more.
        found = [
            row["pass_name"]
            for row in grouped
            if not row["removed"]
            or self._current(_READING, unit_id=unit_id, pass_name=row["pass_name"])
        ]
        return sorted(found, key=pass_rank)

    def readings_hash(self, unit_id: str, names: Iterable[str] | None = None) -> str:
        """Return SHA-256 over the readings that count now (of the fields `names`, or all).

        It stays the same until one of them changes, so a signature shows what it stands for.
        """
        wanted = None if names is None else set(names)
        lines = sorted(
            json.dumps([r.name, r.index, r.value, r.not_applicable, r.pass_name])
            for r in self.readings(unit_id).values()
            if wanted is None or r.name in wanted
        )
        return hashlib.sha256("\n".join(lines).encode()).hexdigest()

    def _refuse_unknown_unit(self, unit_id: str) -> None:
        if unit_id != PROJECT_LEVEL and not self._current(_UNIT, record=unit_id):
            raise ProjectFileError(
                spoken(
                    "{path}: no unit with id '{unit_id}' is in this project; nothing was kept. Add "
                    "the unit first.",
                    path=self.path,
                    unit_id=unit_id,
                )
            )


def bracketed(index: Sequence[int]) -> str:
    """Return an index as shown behind a name: (1, 2) -> "[1][2]"."""
    return "".join(f"[{number}]" for number in index)


def _called(entered: Entered) -> str:
    shown = entered.entered or entered.not_applicable or entered.value
    value = "" if shown is None else f" = {shown}"
    return spoken(
        "The reading {name}{bracketed}{value}",
        name=entered.name,
        bracketed=bracketed(entered.index),
        value=value,
    )


def _refuse_impossible(entered: Entered, what: str) -> None:
    pass_rank(entered.pass_name)
    if not entered.name:
        raise ReadingError(spoken("A reading without the name of its field cannot be kept."))
    if entered.value is not None and entered.not_applicable:
        raise ReadingError(
            spoken(
                "{what}: has the value {value} and is also marked not applicable "
                "({not_applicable}). Clear one of the two.",
                what=what,
                value=entered.value,
                not_applicable=entered.not_applicable,
            )
        )
    if isinstance(entered.value, bool):
        raise ReadingError(
            spoken("{what}: yes and no are kept as the texts 'yes' and 'no'.", what=what)
        )


def _read_at(row: Row, known: Mapping[str, Row]) -> str:
    """Return when a reading was read: before the rows that differ from it in their note alone."""
    while (before := known.get(row["supersedes"])) is not None:
        only_noted = before["note"] != row["note"] and before["removed"] == row["removed"]
        if not only_noted or any(before[name] != row[name] for name in _READ):
            break
        row = before
    return str(row["at"])


def _reading(row: Row, at: str = "") -> Reading:
    """Return a row as a reading; `at` is when it was read, if that is not when it was added."""
    return Reading(
        row["id"],
        row["unit_id"],
        row["name"],
        index_from(row["index"]),
        row["value"],
        row["not_applicable"],
        row["pass_name"],
        row["entered"],
        row["note"],
        row["instrument_id"],
        row["person_id"],
        at or row["at"],
        row["source"],
        row["supersedes"],
        bool(row["removed"]),
    )
