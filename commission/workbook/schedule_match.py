"""Heads of an equipment schedule -> fields of the form, by words kept as data."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cache
from importlib.resources import files
from typing import Any

from commission.definitions.model import Field, Form
from commission.errors import ReadingError, UnitError
from commission.language import spoken
from commission.units import convert, recognised

TAG, SEVERAL, UNMATCHED = "tag", "several", ""
_BRACKETS = re.compile(r"[(\[]([^)\]]*)[)\]]")
_INITIALS = re.compile(r"\b(?:[a-z]\.){2,}")  # M.C.A. is MCA
_MEMBER = re.compile(r"^(.*?)[ #]+(\d{1,2})$")


@dataclass(frozen=True, slots=True)
class Matched:
    """What a column holds: the tag, one field in a unit, several, or nothing known.

    `column` counts from 1; `member` is the number in the head, 0 without one; `beside` the
    unit that stands below the head, if the schedule has a row of units.
    """

    column: int
    head: str
    field: str = UNMATCHED
    unit: str = ""
    member: int = 0
    pattern: str = ""
    example: str = ""
    beside: str = ""

    @property
    def is_known(self) -> bool:
        """Whether the column is read at all."""
        return self.field != UNMATCHED


@cache
def schedule_words() -> Mapping[str, Any]:
    """Return the shipped data: words of heads, columns of several, meanings of choices."""
    path = files("commission.workbook").joinpath("schedule_columns.toml")
    return tomllib.loads(path.read_text(encoding="utf-8"))


def plain(text: str) -> str:
    """Return words without capitals, marks and line ends, to compare them."""
    joined = _INITIALS.sub(lambda found: found[0].replace(".", ""), text.casefold())
    spaced = re.sub(r"[^\w%°/\"]+|_", " ", joined)
    return " ".join(re.sub(r"[/\"]+", " ", spaced).split())


def match_heads(heads: Sequence[str], form: Form, units: Sequence[str] = ()) -> list[Matched]:
    """Return what each column holds; of two columns for one thing the second is not read.

    Args:
        heads: The words over each column.
        units: A row of units below the heads, if the schedule has one.
    """
    found: list[Matched] = []
    taken: set[tuple[str, int]] = set()
    for column, head in enumerate(heads, start=1):
        beside = units[column - 1] if column <= len(units) else ""
        matched = _match(column, " ".join(head.split()), beside, form)
        place = (matched.field, matched.member)
        if matched.is_known and place in taken:
            matched = Matched(column, matched.head)
        taken.add(place)
        found.append(replace(matched, beside=beside))
    return found


def reassigned(
    columns: Sequence[Matched], number: int, form: Form, name: str, member: int = 0
) -> tuple[Matched, ...]:
    """Return the columns with one of them taken as something else, by a person's word.

    Args:
        number: The column, counted from 1.
        name: A field of the form, `TAG`, or `UNMATCHED` for a column that is not read.
        member: Of a repeat, the number; 0 for none.

    A column that was taken as the same before is not read any more.

    Raises:
        ReadingError: Then no column would hold the units' tags.
    """
    found = []
    for column in columns:
        if column.column == number:
            found.append(_taken_as(column, form, name, member))
        elif name != UNMATCHED and (column.field, column.member) == (name, member):
            found.append(_unread(column))
        else:
            found.append(column)
    if not any(column.field == TAG for column in found):
        raise ReadingError(
            spoken("One column must hold the units' tags. Take another one as the tag first.")
        )
    return tuple(found)


def _unread(column: Matched) -> Matched:
    return Matched(column.column, column.head, beside=column.beside)


def _taken_as(column: Matched, form: Form, name: str, member: int) -> Matched:
    if name in (TAG, UNMATCHED):
        return replace(_unread(column), field=name)
    entry = form.by_name[name]
    unit = _unit_of(column, entry) if isinstance(entry, Field) and entry.unit else ""
    return replace(_unread(column), field=name, unit=unit, member=member)


def _unit_of(column: Matched, entry: Field) -> str:
    """Return the unit that a head or the row below it gives, else the one that is usual."""
    bracketed = _BRACKETS.search(column.head)
    words = plain(_BRACKETS.sub(" ", column.head))
    readings = _readings(words, bracketed[1] if bracketed else column.beside)
    told = next((unit for _, unit in readings if unit and _measures(unit, entry.unit)), "")
    usual = (one.get("unit") for one in schedule_words()["column"] if one["field"] == entry.name)
    return told or str(next(usual, None) or entry.unit)


def _match(column: int, head: str, beside: str, form: Form) -> Matched:
    bracketed = _BRACKETS.search(head)
    words = plain(_BRACKETS.sub(" ", head))
    unit_text = bracketed[1] if bracketed else beside
    if words in schedule_words()["tag"]:
        return Matched(column, head, TAG)
    for several in schedule_words()["several"]:
        if words in several["words"] or plain(head) in several["words"]:
            return Matched(
                column, head, SEVERAL, pattern=several["pattern"], example=several["example"]
            )
    numbered = _MEMBER.match(words)
    member = int(numbered[2]) if numbered else 0
    for tried, number in ((words, 0), (numbered[1] if numbered else "", member)):
        field, unit = _field(tried, unit_text, form) if tried else ("", "")
        if field:
            return Matched(column, head, field, unit, number)
    return Matched(column, head)


def _field(words: str, unit_text: str, form: Form) -> tuple[str, str]:
    """Return a field and the unit its column is in: ("design_airflow_cfm", "cfm")."""
    for shorter, unit in _readings(words, unit_text):
        for column in _columns(form):
            entry = form.by_name.get(column["field"])
            if not isinstance(entry, Field):
                continue
            alone = shorter == "" and unit and words in column.get("alone", ())
            if shorter not in column["words"] and not alone:
                continue
            wanted = unit or column.get("unit", entry.unit)
            if not entry.unit or _measures(wanted, entry.unit):
                return entry.name, wanted if entry.unit else ""
    return "", ""


def _readings(words: str, unit_text: str) -> list[tuple[str, str]]:
    """Return how a head may be read: its words whole, or with a unit at either end."""
    given = recognised(unit_text) if unit_text else None
    found = [(words, given or "")]
    steps = words.split()
    for count in (1, 2):
        if len(steps) >= count:
            at_end = recognised(" ".join(steps[-count:]))
            at_start = recognised(" ".join(steps[:count]))
            found += [(" ".join(steps[:-count]), at_end)] if at_end else []
            found += [(" ".join(steps[count:]), at_start)] if at_start else []
    if words.endswith("tons"):
        found.append((" ".join(steps[:-1]) if len(steps) == 1 else "", "tons"))
    return found


def _columns(form: Form) -> list[Mapping[str, Any]]:
    """Return the shipped columns, and every field by its own name and label."""
    own = [
        {"field": entry.name, "words": [plain(entry.label), plain(entry.name)]}
        for entry in form.entries()
        if isinstance(entry, Field)
    ]
    return [*schedule_words()["column"], *own]


def _measures(unit: str, wanted: str) -> bool:
    try:
        convert(1.0, unit, wanted)
    except UnitError:
        return False
    return True
