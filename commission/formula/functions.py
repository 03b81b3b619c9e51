"""The functions of the formula language: one row each, the same for every output.

A row holds a function's Python, spreadsheet text, symbol for shown work, units, valid
range and source (see `declaration.Function`). Rows stand by subject in `rows_*.py`; this
table is what the rest of the program reads.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from commission.formula import (
    rows_air,
    rows_electrical,
    rows_entered,
    rows_gas,
    rows_general,
    rows_heating,
    rows_refrigerant,
)
from commission.formula.declaration import Argument, Function, FunctionKind

__all__ = ["FUNCTIONS", "Argument", "Function", "FunctionKind"]

_ROWS: tuple[Function, ...] = (
    *rows_general.ROWS,
    *rows_electrical.ROWS,
    *rows_air.ROWS,
    *rows_refrigerant.ROWS,
    *rows_heating.ROWS,
    *rows_gas.ROWS,
    *rows_entered.ROWS,
)

FUNCTIONS: Mapping[str, Function] = MappingProxyType({row.name: row for row in _ROWS})
