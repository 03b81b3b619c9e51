"""A limits book's text -> its entries, or all that is wrong with it, each with its place."""

from __future__ import annotations

import json
import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from datetime import date
from typing import Any

from commission.errors import IncomingFileError
from commission.language import near_miss, spoken
from commission.project.records import LIMIT_PARTS, Index

MARK = "rooftop unit limits book"
VERSION = 1
KINDS = ("limit", "table")
_MOST_TOLD = 20
_LONGEST = {"table": 60_000}
_TEXTS = (
    *("make", "model", "kind", "name", "unit", "table", "origin", "entered_on", "entered_by"),
    *("source", "source_id"),
)
_ALL = (*_TEXTS, "index", "parts")


@dataclass(frozen=True, slots=True)
class ModelKey:
    """A unit's make and model as on its rating plate."""

    make: str
    model: str

    def folded(self) -> tuple[str, str]:
        """Return what tells models apart: letter case and blanks do not count."""
        return "".join(self.make.split()).casefold(), "".join(self.model.split()).casefold()


@dataclass(frozen=True, slots=True)
class BookEntry:
    """One limit of a check, or one table, of one model, and where it comes from.

    `name` is the check's or the field's; `unit` the unit of the parts, or the units of a
    table's rows, columns and body joined by "|", so that a form changed since is noticed.
    `source` names the project and unit it was entered in, for people; `source_id` for the
    program.
    """

    model: ModelKey
    kind: str
    name: str
    index: Index = ()
    unit: str = ""
    parts: Mapping[str, float] = field(default_factory=dict)
    table: str = ""
    origin: str = ""
    entered_on: str = ""
    entered_by: str = ""
    source: str = ""
    source_id: str = ""

    def place(self) -> tuple[object, ...]:
        """Return what the entry is about."""
        return (*self.model.folded(), self.kind, self.name, self.index)

    def is_of(self, other: BookEntry) -> bool:
        """Return whether two entries are about one thing, from one place of the literature."""
        return self.place() == other.place() and _alike(self.origin, other.origin)

    def says_the_same(self, other: BookEntry) -> bool:
        """Return whether two entries of one place and origin have the same numbers too."""
        mine = (dict(self.parts), self.table, self.unit)
        return self.is_of(other) and mine == (dict(other.parts), other.table, other.unit)


def _alike(one: str, other: str) -> bool:
    return " ".join(one.split()).casefold() == " ".join(other.split()).casefold()


def entries_in(text: str, called: str) -> list[BookEntry]:
    """Return the entries of a limits book's text.

    Raises:
        IncomingFileError: no limits book, of a newer program, or with faults (all of them, the
            first twenty in words).
    """
    try:
        content = json.loads(text, parse_constant=_no_number)
    except (ValueError, RecursionError) as fault:
        raise IncomingFileError(
            spoken(
                "{called}: is no limits book, or is cut short ({fault}). Choose another file, "
                "or put a copy of it in its place.",
                called=called,
                fault=fault,
            )
        ) from fault
    rows = _rows_of(content, called)
    entries: list[BookEntry] = []
    faults: list[str] = []
    for number, row in enumerate(rows, start=1):
        found = [
            spoken("{called}: entry {number}: {fault}", called=called, number=number, fault=fault)
            for fault in _faults_of(row)
        ]
        faults += found
        if not found:
            entries.append(_entry(row))
    faults += [f"{called}: {fault}" for fault in _twice(entries)]
    if faults:
        more = (
            [spoken("... and {count} more.", count=len(faults) - _MOST_TOLD)]
            if len(faults) > _MOST_TOLD
            else []
        )
        raise IncomingFileError("\n".join([*faults[:_MOST_TOLD], *more]))
    return entries


def _no_number(text: str) -> float:
    raise ValueError(spoken("{value} is not a number", value=text))


def _rows_of(content: Any, called: str) -> list[Any]:
    if not isinstance(content, dict) or content.get("format") != MARK:
        raise IncomingFileError(
            spoken(
                "{called}: is no limits book (format is not '{mark}'). Choose another file.",
                called=called,
                mark=MARK,
            )
        )
    version = content.get("version")
    if version != VERSION:
        raise IncomingFileError(
            spoken(
                "{called}: limits book of version {version!r}; this program reads {known}. "
                "Install the newer program to take it in.",
                called=called,
                version=version,
                known=VERSION,
            )
        )
    strange = sorted(set(content) - {"format", "version", "entries"})
    if strange or not isinstance(content.get("entries"), list):
        wrong = (
            spoken("unknown {strange}", strange=", ".join(strange))
            if strange
            else spoken("entries is no list")
        )
        raise IncomingFileError(
            spoken(
                "{called}: {wrong}. Ask its writer for another copy.", called=called, wrong=wrong
            )
        )
    return list(content["entries"])


def _faults_of(row: Any) -> Iterator[str]:
    if not isinstance(row, dict):
        yield spoken("is no entry; each is an object in braces.")
        return
    absent = [name for name in _ALL if name not in row]
    if absent:
        yield spoken("{absent} missing.", absent=", ".join(absent))
    for name in row:
        if name not in _ALL:
            yield spoken("unknown '{name:.60}'.{hint}", name=name, hint=near_miss(name, _ALL))
    texts = [name for name in _TEXTS if name in row]
    wrong = [name for name in texts if not _is_text(row[name], _LONGEST.get(name, 2000))]
    yield from (
        spoken("{name} is no text, too long, or has control characters.", name=name)
        for name in wrong
    )
    if not absent and not wrong:
        yield from _meaning_faults(row)


def _is_text(value: object, longest: int) -> bool:
    if not isinstance(value, str) or len(value) > longest:
        return False
    return not any((c < " " and c not in "\t\n\r") or "\ud800" <= c <= "\udfff" for c in value)


def _meaning_faults(row: Mapping[str, Any]) -> Iterator[str]:
    if not row["make"].strip() or not row["model"].strip():
        yield spoken("make and model must both be given: they say for which unit it is.")
    if not row["name"].strip():
        yield spoken("name is empty.")
    if row["kind"] not in KINDS:
        yield spoken(
            "kind '{kind:.40}' is none of {kinds}.", kind=row["kind"], kinds=", ".join(KINDS)
        )
    if not row["origin"].strip():
        yield spoken(
            "origin is empty: a limit without its document, page and date cannot be judged."
        )
    index = row["index"]
    whole = isinstance(index, list) and all(type(n) is int and n > 0 for n in index)
    if not whole:
        yield spoken("index {index!r:.40} is no list of whole numbers from 1.", index=index)
    yield from _date_faults(row["entered_on"])
    if row["kind"] == "limit":
        yield from _parts_faults(row["parts"])
        if row["table"]:
            yield spoken("a limit has no table.")
    elif row["kind"] == "table" and (not row["table"].strip() or row["parts"] != {}):
        yield spoken("a table has its text in 'table' and no parts.")


def _date_faults(text: str) -> Iterator[str]:
    try:
        date.fromisoformat(text)
    except ValueError:
        yield spoken("entered_on '{value:.40}' is no date (2026-03-31).", value=text)


def _parts_faults(parts: Any) -> Iterator[str]:
    if not isinstance(parts, dict) or not parts:
        yield spoken("parts is empty or no object; a limit needs at least one part.")
        return
    for name, value in parts.items():
        if name not in LIMIT_PARTS:
            yield spoken(
                "'{name:.40}' is no part of a limit.{hint}",
                name=name,
                hint=near_miss(name, LIMIT_PARTS),
            )
        if isinstance(value, bool) or not isinstance(value, int | float):
            yield spoken("{name:.40} = {value!r:.40} is no number.", name=name, value=value)
        elif not math.isfinite(value):
            yield spoken("{name:.40} is not finite.", name=name)
        elif name.startswith("tolerance") and value < 0:
            yield spoken("{name} {value:g} is below 0.", name=name, value=value)
    low, high = parts.get("low"), parts.get("high")
    if isinstance(low, int | float) and isinstance(high, int | float) and low > high:
        yield spoken("low {low:g} is above high {high:g}.", low=low, high=high)


def _twice(entries: list[BookEntry]) -> Iterator[str]:
    seen: dict[tuple[object, ...], int] = {}
    for number, entry in enumerate(entries, start=1):
        key = (*entry.place(), " ".join(entry.origin.split()).casefold())
        if key in seen:
            yield (
                spoken(
                    "{name} of {make} {model} from '{origin:.60}' stands twice (entries {seen} and "
                    "{number}).",
                    name=entry.name,
                    make=entry.model.make,
                    model=entry.model.model,
                    origin=entry.origin,
                    seen=seen[key],
                    number=number,
                )
            )
        seen.setdefault(key, number)


def _entry(row: Mapping[str, Any]) -> BookEntry:
    content = {name: row[name] for name in _ALL if name not in ("make", "model")}
    content |= {
        "index": tuple(row["index"]),
        "parts": {name: float(value) for name, value in row["parts"].items()},
    }
    return BookEntry(ModelKey(row["make"], row["model"]), **content)
