"""What a merge has to show: each thing that both crews changed, with both rows."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from commission.language import spoken, spoken_count, to_say
from commission.project.journal import Row, current_rows
from commission.project.readings import bracketed
from commission.project.records import pass_words
from commission.project.schema import TABLES, Table
from commission.project.settings import WINDOW_PREFIX

Rows = Mapping[str, Sequence[Row]]

# What of a row is its answer; who, when and how it was typed may differ without a conflict.
_HEADER = (
    to_say("Kind"),
    to_say("Unit"),
    to_say("In force"),
    to_say("Ours"),
    to_say("Theirs"),
    to_say("What"),
)
# What `Conflict.kind` and `Conflict.in_force` can say.
KINDS = (
    to_say("project"),
    to_say("reading"),
    to_say("limit"),
    to_say("setting"),
    to_say("unit"),
    to_say("person"),
    to_say("instrument"),
    to_say("deficiency"),
    to_say("override"),
    to_say("photo"),
    to_say("signature"),
    to_say("trend log"),
    to_say("trend limit"),
    to_say("witness draw"),
    to_say("witness reading"),
    to_say("unit tag"),
    to_say("deficiency number"),
    to_say("removed unit"),
    to_say("ours"),
    to_say("theirs"),
    to_say("both"),
)
_SAID = {
    "reading": ("value", "not_applicable", "instrument_id", "note", "removed"),
    "limit_entry": ("parts", "origin", "confirmed", "removed"),
    "setting": ("value", "removed"),
    "trend_log": ("name", "removed"),
    "trend_limit": ("limit_value", "origin", "removed"),
    "witness_draw": ("share", "seed", "population", "removed"),
    "witness_reading": ("value", "instrument_id", "note", "removed"),
}


@dataclass(frozen=True, slots=True)
class Conflict:
    """One thing that the two files tell differently; both rows are in the merged file.

    `kind` is what it is (reading, limit, setting, unit, unit tag ...), `unit` the tag or "",
    `what` names it, `ours` and `theirs` say what each file holds, `in_force` is "ours",
    "theirs" or "both".
    """

    kind: str
    unit: str
    what: str
    ours: str
    theirs: str
    in_force: str


@dataclass(frozen=True, slots=True)
class MergeReport:
    """What a merge did. Row counts: found in one file only, or in both."""

    path: Path
    only_ours: int
    only_theirs: int
    shared: int
    conflicts: tuple[Conflict, ...]

    @property
    def rows_written(self) -> int:
        """How many rows the merged file holds."""
        return self.only_ours + self.only_theirs + self.shared

    @property
    def sentence(self) -> str:
        """The outcome in one sentence."""
        count = len(self.conflicts)
        found = (
            spoken_count("{count} conflict to look at", "{count} conflicts to look at", count)
            if count
            else spoken("no conflict")
        )
        return spoken(
            "{path}: {rows_written} rows ({shared} in both files, {only_ours} only in ours, "
            "{only_theirs} only in theirs); {found}.",
            path=self.path,
            rows_written=self.rows_written,
            shared=self.shared,
            only_ours=self.only_ours,
            only_theirs=self.only_theirs,
            found=found,
        )


def merge_rows(report: MergeReport) -> tuple[Sequence[str], list[list[str]]]:
    """Return header and one row a conflict, for the terminal."""
    header = [spoken(head) for head in _HEADER]
    rows = [
        [spoken(c.kind.replace("_", " ")), c.unit, spoken(c.in_force), c.ours, c.theirs, c.what]
        for c in report.conflicts
    ]
    return header, rows


def conflicts_between(ours: Rows, theirs: Rows, joined: Rows) -> list[Conflict]:
    """Return what both files changed since they were one, and not alike.

    A conflict that stood in one of the files already is not shown again.
    """
    return list(_Sides(ours, theirs, joined).conflicts())


class _Sides:
    """Both files' rows and the joined ones, with what names a row to a person."""

    def __init__(self, ours: Rows, theirs: Rows, joined: Rows) -> None:
        self.joined = joined
        self.ids = {
            kind: ({r["id"] for r in ours[kind]}, {r["id"] for r in theirs[kind]})
            for kind in TABLES
        }
        self.people = {row["record"]: row["name"] for row in joined["person"]}
        self.instruments = {
            row["record"]: f"{row['kind']} {row['serial']}".strip() for row in joined["instrument"]
        }
        current = current_rows(joined["unit"], ("record",))
        self.units: dict[str, Row] = {key[0]: row for key, row in current.items()}

    def conflicts(self) -> Iterator[Conflict]:
        for table in TABLES.values():
            yield from self._forks(table)
        yield from self._shared_names("unit", "tag", "unit tag")
        yield from self._shared_names("deficiency", "deficiency_number", "deficiency number")
        yield from self._removed_units()

    def _forks(self, table: Table) -> Iterator[Conflict]:
        rows = self.joined[table.name]
        superseded = {row["supersedes"] for row in rows}
        heads: dict[tuple[Any, ...], list[Row]] = {}
        for row in rows:
            if row["id"] not in superseded:
                heads.setdefault(tuple(row[name] for name in table.keyed_by), []).append(row)
        in_force = current_rows(rows, table.keyed_by)
        for key, found in heads.items():
            if len(found) > 1 and self._is_new(table, found) and self._differ(table, found):
                yield self._fork(table, found, in_force[key])

    def _is_new(self, table: Table, rows: Sequence[Row]) -> bool:
        found = {row["id"] for row in rows}
        of_window = table.name == "setting" and rows[0]["name"].startswith(WINDOW_PREFIX)
        return not of_window and not any(found <= side for side in self.ids[table.name])

    def _differ(self, table: Table, rows: Sequence[Row]) -> bool:
        said = _SAID.get(table.name, (*table.columns, "removed"))
        return any(_said(row, said) != _said(rows[0], said) for row in rows[1:])

    def _fork(self, table: Table, heads: Sequence[Row], in_force: Row) -> Conflict:
        ours, theirs = self.ids[table.name]
        our_rows = [row for row in heads if row["id"] in ours]
        their_rows = [row for row in heads if row["id"] in theirs]
        winner = "ours" if in_force["id"] in ours else "theirs"
        return Conflict(
            table.name.removesuffix("_entry"),
            self._tag(in_force),
            self._called(table, in_force),
            "; ".join(self._shown(table, row, heads) for row in our_rows),
            "; ".join(self._shown(table, row, heads) for row in their_rows),
            winner,
        )

    def _tag(self, row: Row) -> str:
        unit_id = row.get("unit_id", row["record"] if "tag" in row else "")
        return str(self.units[unit_id]["tag"]) if unit_id in self.units else ""

    def _called(self, table: Table, row: Row) -> str:
        if table.name in ("reading", "witness_reading"):
            return f"{row['name']}{_bracketed(row)}, {pass_words(row['pass_name'])}"
        if table.name == "witness_draw":
            return spoken("the sample drawn for a witness")
        if "check" in row and table.name != "deficiency":
            return f"{row['check']}{_bracketed(row)}"
        if table.name == "deficiency":
            return spoken(
                "number {deficiency_number}: {description}",
                deficiency_number=row["deficiency_number"],
                description=row["description"],
            )
        for name in ("name", "kind", "caption", "printed_name", "tag"):
            if row.get(name):
                return str(row[name])
        return str(row.get("record", row["id"]))

    def _shown(self, table: Table, row: Row, heads: Sequence[Row]) -> str:
        said = _SAID.get(table.name, (*table.columns, "removed"))
        parts = []
        for name in said:
            if len({repr(_said(other, (name,))) for other in heads}) > 1:
                parts.append(self._part(table, name, row))
        who = self.people.get(row.get("person_id") or row["entered_by"], "")
        return f"{', '.join(parts)} ({', '.join(filter(None, (who, row['at'])))})"

    def _part(self, table: Table, name: str, row: Row) -> str:
        value = row[name]
        if name == "removed":
            withdrawn = table.name.endswith("reading")
            if value:
                return spoken("withdrawn") if withdrawn else spoken("removed")
            return spoken("not withdrawn") if withdrawn else spoken("not removed")
        if name == "instrument_id":
            return spoken(
                "by {instrument}",
                instrument=self.instruments.get(value, value) or spoken("no instrument"),
            )
        if name == "value" and table.name.endswith("reading"):
            return _value_text(value)
        return f"{name.replace('_', ' ')} {value if value not in ('', None) else spoken('empty')}"

    def _shared_names(self, kind: str, column: str, called: str) -> Iterator[Conflict]:
        """Yield things that got one name in two files."""
        named: dict[str, list[Row]] = {}
        for row in current_rows(self.joined[kind], ("record",)).values():
            if not row["removed"]:
                named.setdefault(str(row[column]).casefold(), []).append(row)
        ours, theirs = self._records(kind)
        for rows in named.values():
            records = {row["record"] for row in rows}
            if len(rows) > 1 and not records <= ours and not records <= theirs:
                yield Conflict(
                    called,
                    self._tag(rows[0]),
                    spoken(
                        "{count} {kind} entries are called {name}; both are kept, give "
                        "one another "
                        "name or remove it",
                        count=len(rows),
                        kind=called.split()[0],
                        name=rows[0][column],
                    ),
                    self._first(rows, ours),
                    self._first(rows, theirs),
                    "both",
                )

    def _records(self, kind: str) -> tuple[set[str], set[str]]:
        ours, theirs = self.ids[kind]
        rows = self.joined[kind]
        return (
            {row["record"] for row in rows if row["id"] in ours},
            {row["record"] for row in rows if row["id"] in theirs},
        )

    def _first(self, rows: Sequence[Row], side: set[str]) -> str:
        return "; ".join(
            f"{row.get('description') or row.get('tag')} of {row['at']}"
            for row in rows
            if row["record"] in side
        )

    def _removed_units(self) -> Iterator[Conflict]:
        """Yield units that one file removed while the other went on adding to them."""
        ours, theirs = self.ids["unit"]
        our_readings, their_readings = self.ids["reading"]
        for unit_id, unit in self.units.items():
            if not unit["removed"] or unit["id"] in ours & theirs:
                continue
            by_us = unit["id"] in ours
            other = (their_readings - our_readings) if by_us else (our_readings - their_readings)
            added = [
                row
                for row in self.joined["reading"]
                if row["unit_id"] == unit_id and row["id"] in other
            ]
            if added:
                told = (spoken("removed"), spoken("{count} readings added", count=len(added)))
                yield Conflict(
                    "removed unit",
                    unit["tag"],
                    spoken(
                        "removed in one file while readings were added in the other; "
                        "they are kept, "
                        "restore the unit to see them"
                    ),
                    told[0] if by_us else told[1],
                    told[1] if by_us else told[0],
                    "ours" if by_us else "theirs",
                )


def _said(row: Row, names: Sequence[str]) -> list[object]:
    return [json.loads(row[name]) if name == "parts" else row[name] for name in names]


def _value_text(value: float | str | None) -> str:
    if value is None:
        return spoken("no value")
    return value if isinstance(value, str) else f"{value:.10g}"


def _bracketed(row: Row) -> str:
    return bracketed([int(part) for part in row["index"].split(",") if part])
