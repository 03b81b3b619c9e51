"""What a function of the formula language declares about itself."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from enum import StrEnum
from typing import Any


@dataclass(frozen=True, slots=True)
class Argument:
    """One argument; `unit` is a unit code ("" a plain number), "text", "any" or "same".

    "same" is the unit of the first argument.
    """

    name: str
    unit: str


class FunctionKind(StrEnum):
    """How a function is called and written."""

    SCALAR = "scalar"
    AGGREGATE = "aggregate"  # takes all members of one plain name
    TABLE = "table"  # looks into a reference table
    PRESENCE = "presence"  # asks whether a plain name has a value


@dataclass(frozen=True, slots=True)
class Function:
    """One row of the function table.

    `compute` takes the arguments (an aggregate: one sequence of floats) and refuses
    impossible input with ReadingError. `spreadsheet` and `symbol` are `str.format`
    templates over the argument texts, compound ones already bracketed; `{all}` is all of
    them; an aggregate's `{0}` is a comma-separated list of cell ranges. Where `compute`
    refuses, the spreadsheet text gives an error value.
    """

    name: str
    compute: Callable[..., Any]
    arguments: tuple[Argument, ...]
    result: str  # unit code, "same" or "flag"
    spreadsheet: str
    symbol: str
    valid: str
    source: str
    kind: FunctionKind = FunctionKind.SCALAR
    tables: tuple[str, ...] = ()
    variadic: bool = False
    member_slope: Callable[[int], float] | None = None
    """A linear aggregate's derivative to each member, from their number; else None."""


def takes(**units: str) -> tuple[Argument, ...]:
    """Return arguments from `name="unit"` pairs, in order."""
    return tuple(Argument(name, unit) for name, unit in units.items())
