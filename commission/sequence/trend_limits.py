"""The limits in force for a unit's logs: typed here, carried from the form, or a default."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from enum import StrEnum

from commission.definitions.model import Check, Key
from commission.errors import ReadingError, UnitError
from commission.language import near_miss, spoken, to_say
from commission.project.records import TrendLimit
from commission.sequence.rules import LimitRow, rule_book
from commission.units import convert
from commission.validation.results import UnitResults


class Origin(StrEnum):
    """Where a limit's value comes from; the first that there is counts."""

    ENTERED = to_say("entered")
    FORM = to_say("from the form")
    DEFAULT = to_say("default")
    NONE = to_say("not entered")


@dataclass(frozen=True, slots=True)
class LimitInForce:
    """One limit of the rules: its value (None: not judged), and where that comes from."""

    row: LimitRow
    value: float | None
    origin: Origin
    words: str = ""

    @property
    def said(self) -> str:
        """The limit in words, a default marked as such."""
        if self.value is None:
            return spoken("{label}: not entered", label=self.row.label)
        unit = f" {self.row.unit}" if self.row.unit else ""
        origin = spoken(self.origin)
        words = f"{origin}, {self.words}" if self.words else origin
        return f"{self.row.label} {self.value:.6g}{unit} ({words})"


def limit_rows() -> tuple[LimitRow, ...]:
    """Return every limit that a person may enter for judging a log."""
    return tuple(rule_book().limits.values())


def limits_in_force(
    entered: Mapping[str, float | TrendLimit | LimitInForce],
    results: UnitResults | None = None,
) -> dict[str, LimitInForce]:
    """Return every limit by name: as typed, else as the form has it, else the default.

    Args:
        entered: Limit name -> value in the limit's own unit, or value and origin, or a limit
            already found.
        results: The unit's form, for limits of the same meaning that stand there.
    Raises:
        ReadingError: A limit has no such name or is not a number; all faults at once.
    """
    rows = rule_book().limits
    faults = [
        spoken(
            "'{name}' is not a limit of the trend rules.{hint}",
            name=name,
            hint=near_miss(name, rows),
        )
        for name in entered
        if name not in rows
    ]
    faults += [
        spoken(
            "limit {name}: {value!r} is not a finite number. Enter the unit's own limit.",
            name=name,
            value=value,
        )
        for name, value in entered.items()
        if not isinstance(value, TrendLimit | LimitInForce) and not _is_number(value)
    ]
    if faults:
        raise ReadingError("\n".join(faults))
    return {name: _in_force(row, entered.get(name), results) for name, row in rows.items()}


def _is_number(value: object) -> bool:
    return isinstance(value, int | float) and math.isfinite(value)


def _in_force(
    row: LimitRow, entered: float | TrendLimit | LimitInForce | None, results: UnitResults | None
) -> LimitInForce:
    if isinstance(entered, LimitInForce):
        return entered
    if isinstance(entered, TrendLimit):
        return LimitInForce(row, entered.value, Origin.ENTERED, entered.origin)
    if entered is not None:
        return LimitInForce(row, float(entered), Origin.ENTERED)
    if results is not None:
        found = (_from_form(name, row, results) for name in row.form)
        if carried := next((limit for limit in found if limit is not None), None):
            return carried
    if row.default is None:
        return LimitInForce(row, None, Origin.NONE)
    return LimitInForce(row, float(row.default), Origin.DEFAULT, spoken(row.basis))


def _from_form(name: str, row: LimitRow, results: UnitResults) -> LimitInForce | None:
    """Return a limit of the form, or None where the form has none of its own."""
    entry_name, _, part = name.partition(".")
    entry = results.form.by_name.get(entry_name)
    if entry is None:
        return None
    if isinstance(entry, Check):
        unit = _unit_of(results, entry.judges)
        found = list(_entered_parts(results, entry, part))
    else:
        unit = _unit_of(results, entry_name)
        values = (results.value(entry_name, i) for i in results.asked_members(entry_name))
        found = [(value.number, "") for value in values if value.number is not None]
    if not found:
        return None
    loosest = (max if part != "low" else min)(found, key=lambda pair: pair[0])
    try:
        value = convert(loosest[0], unit, row.unit)
    except UnitError:
        return None  # a form of another make asks something else by this name
    many = (
        spoken(", loosest of {count}", count=len(found))
        if len({number for number, _ in found}) > 1
        else ""
    )
    words = f"{entry.label}{many}" + (f": {loosest[1]}" if loosest[1] else "")
    return LimitInForce(row, value, Origin.FORM, words)


def _entered_parts(results: UnitResults, check: Check, part: str) -> Iterator[tuple[float, str]]:
    """Yield the part of each member's limit that a person stands for, and its origin."""
    for index in results.asked_members(check.name):
        limit = results.limit(check.name, index)
        value = limit.parts.get(part)
        given = results.calculation.limits.get(Key(check.name, index))
        given = given or results.calculation.limits.get(Key(check.name))
        own = given is not None and (part in given.parts or given.confirmed)
        if value is not None and value.number is not None and (own or not limit.is_default):
            yield value.number, limit.origin


def _unit_of(results: UnitResults, name: str) -> str:
    return str(getattr(results.form.by_name[name], "unit", "") or "")
