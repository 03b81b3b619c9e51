"""Things edited over time under one id: added, updated and removed by further rows."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import fields
from typing import Any, TypeVar

from commission.errors import ProjectFileError, ReadingError
from commission.language import near_miss, spoken
from commission.project.journal import Row, index_text
from commission.project.limits import LimitLog
from commission.project.schema import TABLES, Table

R = TypeVar("R")

# Columns named otherwise than the record's field: `number` is the row's place in the file.
_COLUMN_OF = {("deficiency", "number"): "deficiency_number"}


class Register(LimitLog):
    """The one way in which all such things are added, updated, removed and listed."""

    def _register(
        self,
        name: str,
        build: Callable[[Row], R],
        unit_id: str | None = None,
        *,
        removed: bool = False,
    ) -> list[R]:
        where = {} if unit_id is None else {"unit_id": unit_id}
        rows = self._newest(TABLES[name], **where)
        return [build(row) for row in rows if bool(row["removed"]) == removed]

    def _add(self, name: str, content: dict[str, Any], what: str) -> Row:
        row = self._append(TABLES[name], [content], what)[0]
        return row | {"first_at": row["at"]}

    def _update(self, name: str, record: str, changes: dict[str, Any], what: str) -> Row:
        table = TABLES[name]
        with self.transaction(what):
            before = self._row_of(table, record)
            content = {column: before[column] for column in ("record", "removed", *table.columns)}
            content |= changes | {"supersedes": before["id"]}
            row = self._append(table, [content], what)[0]
        return row | {"first_at": before["first_at"]}

    def _update_fields(
        self, name: str, record_class: type[Any], record: str, changes: dict[str, Any]
    ) -> Row:
        known = [field.name for field in fields(record_class) if field.name != "id"]
        for change in changes:
            if change not in known:
                raise ProjectFileError(
                    spoken(
                        "The {name} has no field '{change}'.{hint}",
                        name=name,
                        change=change,
                        hint=near_miss(change, known),
                    )
                )
        stored = {_COLUMN_OF.get((name, key), key): value for key, value in changes.items()}
        if "index" in stored:
            stored["index"] = index_text(stored["index"])
        stored = {key: float(v) if isinstance(v, int) else v for key, v in stored.items()}
        return self._update(name, record, stored, spoken("The change of the {name}", name=name))

    def _row_of(self, table: Table, record: str) -> Row:
        rows = self._newest(table, record=record)
        if not rows:
            raise ProjectFileError(
                spoken(
                    "{path}: no {kind} with id '{record}' is in this project.",
                    path=self.path,
                    kind=table.name.removesuffix("_entry"),
                    record=record,
                )
            )
        return rows[0]


def given(text: str, what: str) -> str:
    """Return the text without outer blanks; ReadingError if nothing is left."""
    if not text.strip():
        raise ReadingError(spoken("{what} is empty. Enter it.", what=what))
    return text.strip()


def one_of(text: str, known: Sequence[str], what: str) -> str:
    """Return the text if it is one of `known`; ReadingError with the near miss if not."""
    if text not in known:
        raise ReadingError(
            spoken(
                "{what} '{value}' is none of {known}.{hint}",
                what=what,
                value=text,
                known=", ".join(known),
                hint=near_miss(text, known),
            )
        )
    return text
