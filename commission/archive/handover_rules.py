"""The handover sheets' columns, and what is wrong with a set of sheets: all faults at once.

Sheets, columns and rules are data in `handover_columns.toml` (COBie 2.4, an open standard).
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from functools import lru_cache
from pathlib import Path
from typing import Any

from commission.language import spoken, to_say

Tables = Mapping[str, Sequence[Sequence[str]]]
"""Sheet name -> rows of texts, the first row the headings."""

NOT_APPLICABLE = "n/a"
LONGEST_TEXT = 32_767
"""Characters that a spreadsheet's cell can hold."""

_COLUMNS = Path(__file__).resolve().parent / "handover_columns.toml"
_EMAIL = re.compile(r"[^@\s,;]+@[^@\s,;.]+(\.[^@\s,;.]+)+")


@dataclass(frozen=True, slots=True)
class Column:
    """One column: its heading and its rules, such as "required" and "in=Type.Name"."""

    name: str
    rules: tuple[str, ...] = ()

    @property
    def required(self) -> bool:
        """Whether "n/a" is not enough."""
        return "required" in self.rules


@dataclass(frozen=True, slots=True)
class Sheet:
    """One sheet: columns in order, what identifies a row, how many rows there must be."""

    name: str
    columns: tuple[Column, ...]
    key: tuple[str, ...]
    least: int

    @property
    def headings(self) -> list[str]:
        """The first row."""
        return [column.name for column in self.columns]


@lru_cache(maxsize=1)
def sheets() -> dict[str, Sheet]:
    """Return the sheets of COBie 2.4 by name, in order."""
    return {
        row["name"]: Sheet(
            row["name"],
            tuple(_column(text) for text in row["columns"]),
            tuple(row["key"]),
            row.get("least", 0),
        )
        for row in _data()["sheet"]
    }


@lru_cache(maxsize=1)
def picks() -> dict[str, list[str]]:
    """Return the pick lists that the rules use."""
    return dict(_data()["picks"])


@lru_cache(maxsize=1)
def _data() -> dict[str, Any]:
    return tomllib.loads(_COLUMNS.read_text(encoding="utf-8"))


def _column(text: str) -> Column:
    name, _, rules = text.partition(":")
    return Column(name.strip(), tuple(rules.split()))


def handover_faults(tables: Tables) -> list[str]:
    """Return everything that is wrong with handover sheets, one sentence each; [] if nothing.

    The rules are of these shapes: headings as the standard has them; enough rows; a cell
    that must hold something, or at least "n/a"; a row's name used once; a name or a list of
    names that must stand in another sheet; a word of a pick list; a number from 0; a date;
    an e-mail address; and every type has a component.
    """
    faults = [
        spoken("{sheet}: is no sheet of the standard.", sheet=name)
        for name in tables
        if name not in sheets()
    ]
    check = _Check(tables)
    for sheet in sheets().values():
        faults += check.sheet(sheet)
    return faults + list(check.types_without_component())


class _Check:
    """One set of sheets being checked."""

    def __init__(self, tables: Tables) -> None:
        self.tables = tables
        self.names = {name: frozenset(self._cells(name, 0)) for name in sheets()}
        self._columns: dict[str, frozenset[str]] = {}

    def _cells(self, sheet: str, place: int) -> Iterator[str]:
        for row in self.tables.get(sheet, ())[1:]:
            if place < len(row):
                yield _folded(row[place])

    def _column_cells(self, reference: str) -> frozenset[str]:
        if reference not in self._columns:
            sheet, _, column = reference.partition(".")
            place = sheets()[sheet].headings.index(column)
            self._columns[reference] = frozenset(self._cells(sheet, place))
        return self._columns[reference]

    def sheet(self, sheet: Sheet) -> Iterator[str]:
        """Yield the faults of one sheet."""
        rows = self.tables.get(sheet.name)
        if rows is None or not rows:
            yield spoken(
                "{sheet}: the sheet is missing; write it, if only with its headings.",
                sheet=sheet.name,
            )
            return
        if list(rows[0]) != sheet.headings:
            yield spoken(
                "{sheet}: the headings are not those of the standard, in its order.",
                sheet=sheet.name,
            )
            return
        if len(rows) - 1 < sheet.least:
            yield spoken(
                "{sheet}: has {count} rows; there must be at least {least}.",
                sheet=sheet.name,
                count=len(rows) - 1,
                least=sheet.least,
            )
        yield from self._twice(sheet, rows)
        for number, row in enumerate(rows[1:], start=2):
            place = _place(sheet, number)
            if len(row) != len(sheet.columns):
                yield spoken(
                    "{place}: has {count} cells, the sheet {columns} columns.",
                    place=place,
                    count=len(row),
                    columns=len(sheet.columns),
                )
                continue
            by_name = dict(zip(sheet.headings, row, strict=True))
            for column in sheet.columns:
                for fault in self._cell(column, by_name[column.name], by_name):
                    yield f"{place}, {column.name}: {fault}"

    def _twice(self, sheet: Sheet, rows: Sequence[Sequence[str]]) -> Iterator[str]:
        places = [sheet.headings.index(name) for name in sheet.key]
        first: dict[tuple[str, ...], int] = {}
        for number, row in enumerate(rows[1:], start=2):
            if len(row) == len(sheet.columns):
                key = tuple(_folded(row[place]) for place in places)
                if key in first:
                    called = ", ".join(row[place] for place in places)
                    yield spoken(
                        "{place}: {key} '{called}' stands in row {first} already; each may stand "
                        "once.",
                        place=_place(sheet, number),
                        key=" + ".join(sheet.key),
                        called=called,
                        first=first[key],
                    )
                first.setdefault(key, number)

    def _cell(self, column: Column, cell: str, row: Mapping[str, str]) -> Iterator[str]:
        if not cell.strip():
            empty = to_say("is empty; enter it or n/a.")
            yield spoken(to_say("is empty; enter it.") if column.required else empty)
            return
        if len(cell) > LONGEST_TEXT:
            yield spoken(
                "has {count:,} characters; a spreadsheet's cell holds {most:,}.",
                count=len(cell),
                most=LONGEST_TEXT,
            )
        if _folded(cell) == NOT_APPLICABLE:
            if column.required:
                yield spoken("is 'n/a', but must be known; enter it.")
            return
        for rule in column.rules:
            if fault := self._broken(rule, cell, row):
                yield fault

    def _broken(self, rule: str, cell: str, row: Mapping[str, str]) -> str:
        kind, _, target = rule.partition("=")
        if kind == "email" and not _EMAIL.fullmatch(cell.strip()):
            return spoken("'{cell}' is no e-mail address.", cell=cell)
        if kind == "datetime" and not _is_time(cell):
            return spoken("'{cell}' is no ISO 8601 date or date and time.", cell=cell)
        if kind == "number" and not _is_number(cell):
            return spoken("'{cell}' is no number from 0 up.", cell=cell)
        if kind == "pick" and cell not in picks()[target]:
            known = ", ".join(picks()[target])
            return spoken("'{cell}' is none of {known}.", cell=cell, known=known)
        if kind in ("in", "list"):
            return self._absent(cell.split(",") if kind == "list" else [cell], target)
        if kind == "sheet" and cell not in sheets():
            return spoken("'{cell}' is no sheet.", cell=cell)
        if kind == "row" and _folded(cell) not in self.names.get(_sheet_of(row), ()):
            return spoken(
                "'{cell}' is no row of the sheet {sheet}.", cell=cell, sheet=_sheet_of(row)
            )
        return ""

    def _absent(self, parts: Sequence[str], target: str) -> str:
        known = self._column_cells(target)
        absent = [part.strip() for part in parts if _folded(part) not in known]
        if not absent:
            return ""
        cell = ", ".join(absent)
        return spoken("'{cell}' stands nowhere in {column}.", cell=cell, column=target)

    def types_without_component(self) -> Iterator[str]:
        """Yield a fault for each type that no component has."""
        used = self._column_cells("Component.TypeName")
        for number, name in enumerate(self._cells("Type", 0), start=2):
            if name not in used:
                yield spoken(
                    "{place}: no component is of this type.", place=_place(sheets()["Type"], number)
                )


def _place(sheet: Sheet, number: int) -> str:
    return spoken("{sheet} row {number}", sheet=sheet.name, number=number)


def _sheet_of(row: Mapping[str, str]) -> str:
    return row.get("SheetName") or row.get("SheetName1") or ""


def _folded(text: str) -> str:
    return text.strip().casefold()


def _is_time(text: str) -> bool:
    try:
        datetime.fromisoformat(text.strip())
    except ValueError:
        return False
    return True


def _is_number(text: str) -> bool:
    try:
        return 0 <= float(text) < float("inf")
    except ValueError:
        return False
