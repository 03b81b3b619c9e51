"""What a function of the formula language declares about itself."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from enum import StrEnum
from typing import Any


@dataclass(frozen=True, slots=True)
class Argument:
    """One argument; `unit` is a unit code ("" a plain number) or one of these words.

    "text" a text; "any" any number; "same" as the first argument; "repeat" a repeat's name;
    "table" a field of kind table, whose own units "rows", "columns" and "body" then are.
    """

    name: str
    unit: str


class FunctionKind(StrEnum):
    """How a function is called and written."""

    SCALAR = "scalar"
    AGGREGATE = "aggregate"  # takes all members of one plain name
    TABLE = "table"  # looks into a reference table
    PRESENCE = "presence"  # asks whether a plain name has a value
    ENTERED = "entered"  # looks into a table that a person typed
    MEMBER = "member"  # the number of the member at hand


@dataclass(frozen=True, slots=True)
class Step:
    """One cell of working that a look-up needs in a spreadsheet, before its result.

    `spreadsheet` is a template over the arguments `{0}`, `{1}` ... and the steps before, by
    name; `one_way` is its text for a table without columns ("" for the same). `compute`
    takes the function's arguments.
    """

    name: str
    head: str
    spreadsheet: str
    compute: Callable[..., float]
    one_way: str = ""


@dataclass(frozen=True, slots=True)
class Function:
    """One row of the function table.

    `compute` takes the arguments (an aggregate: one sequence of floats) and refuses
    impossible input with ReadingError. `spreadsheet` and `symbol` are `str.format`
    templates over the argument texts, compound ones already bracketed; `{all}` is all of
    them; an aggregate's `{0}` is a comma-separated list of cell ranges. Steps stand in
    `spreadsheet` by their names; in `symbol`, `{rest}` is all arguments but the first.
    Where `compute` refuses, the spreadsheet text gives an error value.
    """

    name: str
    compute: Callable[..., Any]
    arguments: tuple[Argument, ...]
    result: str  # unit code, "same", "flag", "rows" or "body"
    spreadsheet: str
    symbol: str
    valid: str
    source: str
    kind: FunctionKind = FunctionKind.SCALAR
    tables: tuple[str, ...] = ()
    variadic: bool = False
    optional: int = 0
    """How many arguments at the end may be left out."""
    steps: tuple[Step, ...] = ()
    member_slope: Callable[[int], float] | None = None
    """A linear aggregate's derivative to each member, from their number; else None."""


def takes(**units: str) -> tuple[Argument, ...]:
    """Return arguments from `name="unit"` pairs, in order."""
    return tuple(Argument(name, unit) for name, unit in units.items())
