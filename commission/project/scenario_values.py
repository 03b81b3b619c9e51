"""One value of a scenario file -> readings; each fault is a sentence with place and cure."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date, datetime, time
from typing import Any

from commission.definitions.model import ITEM_CHOICES, YES_NO_CHOICES, Field, Form, Kind
from commission.engineering.chart import from_text
from commission.errors import ReadingError
from commission.language import near_miss
from commission.project.records import Index, Value

ENTRY_KEYS = ("value", "not_applicable", "entered", "note", "instrument", "person")


@dataclass(frozen=True, slots=True)
class GivenReading:
    """One reading as a scenario gives it; instrument and person by their keys."""

    name: str
    index: Index
    value: Value
    pass_name: str
    not_applicable: str = ""
    entered: str = ""
    note: str = ""
    instrument: str = ""
    person: str = ""


class GivenValueError(Exception):
    """What is wrong with one value, without its place."""


def members_of(
    form: Form, repeat: tuple[str, ...], raw: object, index: Index = ()
) -> Iterator[tuple[Index, object]]:
    """Yield (index, raw value) from lists nested as deep as there are repeats.

    Raises:
        GivenValueError: a list too many, too few, or longer than the repeat can be.
    """
    depth = len(index)
    if depth == len(repeat):
        if isinstance(raw, list):
            asked = f"once for each {' and '.join(repeat)}" if repeat else "once, not repeated"
            raise GivenValueError(f"is asked {asked}; a list stands where one value should.")
        yield index, raw
        return
    kind = form.repeats[repeat[depth]]
    if raw == "":
        return
    if not isinstance(raw, list):
        raise GivenValueError(
            f"is asked once for each {kind.name}; give a list, such as [{raw!r}]."
        )
    if len(raw) > kind.maximum:
        raise GivenValueError(
            f"has {len(raw)} values for {kind.name}, of which there can be {kind.maximum}."
        )
    for number, member in enumerate(raw, start=1):
        yield from members_of(form, repeat, member, (*index, number))


def given_readings(
    form: Form, field: Field, raw: object, pass_name: str, instrument: str
) -> Iterator[GivenReading]:
    """Yield the readings that `raw` gives for a field; "" gives none (unread).

    Args:
        instrument: key of the instrument used unless an entry names its own.
    Raises:
        GivenValueError: wrong kind, choice, shape or key, or outside what is possible.
    """
    for index, member in members_of(form, field.repeat, raw):
        entry = member if isinstance(member, dict) else {"value": member}
        _refuse_keys(entry)
        value = stored_value(field, entry.get("value", ""))
        reason = str(entry.get("not_applicable", ""))
        note = str(entry.get("note", ""))
        if value is not None and reason:
            raise GivenValueError(f"has the value {value} and is marked not applicable; drop one.")
        if value is None and not reason and not note:
            continue
        used = str(entry.get("instrument", instrument)) if value is not None else ""
        shown = str(entry.get("entered", "" if value is None else _as_typed(entry["value"])))
        person = str(entry.get("person", ""))
        yield GivenReading(field.name, index, value, pass_name, reason, shown, note, used, person)


def _refuse_keys(entry: Mapping[str, Any]) -> None:
    for key in entry:
        if key not in ENTRY_KEYS:
            raise GivenValueError(
                f"an entry has no '{key}'; it has {', '.join(ENTRY_KEYS)}."
                f"{near_miss(key, ENTRY_KEYS)}"
            )


def _as_typed(raw: object) -> str:
    if isinstance(raw, bool):
        return "yes" if raw else "no"
    return f"{raw:.12g}" if isinstance(raw, float) else str(raw)


def stored_value(field: Field, raw: object) -> Value:
    """Return a TOML value as the project file keeps it; "" is unread (None).

    Raises:
        GivenValueError: not of the field's kind, no such choice, or impossible.
    """
    if raw == "":
        return None
    if field.kind in (Kind.NUMBER, Kind.INTEGER):
        return _number(field, raw)
    if field.kind is Kind.YES_NO:
        return _choice(_yes_or_no(raw, YES_NO_CHOICES), YES_NO_CHOICES)
    if field.kind is Kind.ITEM:
        return _choice(_yes_or_no(raw, ITEM_CHOICES), ITEM_CHOICES)
    if field.kind is Kind.TABLE:
        return _table(raw)
    if field.kind is Kind.CHOICE:
        return _choice(raw, field.choices)
    return _text(field, raw)


def _number(field: Field, raw: object) -> float:
    if isinstance(raw, bool) or not isinstance(raw, int | float) or not math.isfinite(raw):
        raise GivenValueError(f"is a number{_in_unit(field)}; {raw!r} is none.")
    if field.kind is Kind.INTEGER and raw != int(raw):
        raise GivenValueError(f"is a whole number; {raw!r} is none.")
    if field.possible and not field.possible[0] <= raw <= field.possible[1]:
        low, high = field.possible
        raise GivenValueError(f"can only be {low:g} to {high:g}{_in_unit(field)}; {raw!r} is not.")
    return float(raw)


def _in_unit(field: Field) -> str:
    return f" in {field.unit}" if field.unit else ""


def _yes_or_no(raw: object, choices: tuple[str, ...]) -> object:
    return choices[0 if raw else 1] if isinstance(raw, bool) else raw


def _choice(raw: object, choices: tuple[str, ...]) -> str:
    if not isinstance(raw, str) or raw not in choices:
        raise GivenValueError(
            f"is one of {', '.join(choices)}; {raw!r} is not.{near_miss(str(raw), choices)}"
        )
    return raw


def _table(raw: object) -> str:
    """Return a table, given as a text with tabs, as it is kept."""
    if not isinstance(raw, str):
        raise GivenValueError(f"is a table; {raw!r} is none. Give it as a text with tabs.")
    try:
        return from_text(raw).to_text()
    except ReadingError as fault:
        raise GivenValueError(str(fault)) from None


def _text(field: Field, raw: object) -> str:
    if isinstance(raw, date | time) and not isinstance(raw, datetime):
        raw = raw.isoformat()
    if not isinstance(raw, str):
        raise GivenValueError(f"is a {field.kind.value}; {raw!r} is none. Give it in quotes.")
    try:
        if field.kind is Kind.DATE:
            return date.fromisoformat(raw).isoformat()
        if field.kind is Kind.TIME:
            return time.fromisoformat(raw).isoformat()
    except ValueError:
        shape = "2026-09-14" if field.kind is Kind.DATE else "14:30"
        raise GivenValueError(f"is a {field.kind.value} like {shape}; {raw!r} is none.") from None
    return raw
