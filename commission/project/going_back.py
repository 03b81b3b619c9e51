"""Going back to what a thing was before: by a further row, since nothing is ever deleted."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from commission.language import spoken
from commission.project.journal import Row
from commission.project.schema import TABLES, Table
from commission.project.witness import WitnessLog

TAKEN_BACK = "taken back by undo"


@dataclass(frozen=True, slots=True)
class Change:
    """One committed row of a table, and the row it superseded (None: the thing was new)."""

    kind: str
    before: Row | None
    after: Row


class GoingBack(WitnessLog):
    """Undo and redo of any kind of entry."""

    def changes_since(self, revision: int, kinds: Iterable[str]) -> tuple[Change, ...]:
        """Return what was committed after a revision, in these tables, in order."""
        found = []
        for kind in kinds:
            for row in self.rows(kind, revision):
                before = self._rows(TABLES[kind], id=row["supersedes"]) if row["supersedes"] else []
                found.append(Change(kind, before[0] if before else None, row))
        return tuple(sorted(found, key=lambda one: int(one.after["number"])))

    def take_back(self, changes: Iterable[Change]) -> None:
        """Let what stood before each change stand again: all of them, or none.

        A thing that was new is removed; it stays in the file's rows.
        """
        with self.transaction(spoken("The undoing")):
            for change in reversed(tuple(changes)):
                table = TABLES[change.kind]
                content = _content(table, change.before or change.after)
                if change.before is None:
                    content |= {"removed": 1} | _emptied(table)
                self._say_again(table, content)

    def put_again(self, changes: Iterable[Change]) -> None:
        """Let each change stand again after it was taken back: all of them, or none."""
        with self.transaction(spoken("The putting again")):
            for change in changes:
                self._say_again(TABLES[change.kind], _content(TABLES[change.kind], change.after))

    def _say_again(self, table: Table, content: Mapping[str, object]) -> None:
        thing = {name: content[name] for name in table.keyed_by}
        head = next((row["id"] for row in self._newest(table, **thing)), "")
        self._append(table, [{**content, "supersedes": head}], spoken("The entry"))


def _content(table: Table, row: Row) -> dict[str, object]:
    record = ("record",) if table.has_record else ()
    return {name: row[name] for name in (*record, "removed", *table.columns)}


def _emptied(table: Table) -> dict[str, object]:
    """Return what a withdrawn reading holds: nothing, and why."""
    if table.name == "witness_reading":
        return {"value": None, "entered": "", "note": TAKEN_BACK}
    if table.name != "reading":
        return {}
    return {"value": None, "not_applicable": "", "entered": "", "note": TAKEN_BACK}
