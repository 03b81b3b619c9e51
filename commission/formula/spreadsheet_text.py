"""Pieces of spreadsheet text that several functions share.

Only what every common spreadsheet has; `{0}`, `{1}` stay as places for argument texts.
"""

from __future__ import annotations

from commission.engineering import moist_air
from commission.engineering.possible import Bounds


def number(value: float) -> str:
    """Return a constant with all its digits, as spreadsheets read it."""
    return repr(int(value)) if float(value).is_integer() else repr(value).upper()


def within(argument: str, bounds: Bounds) -> str:
    """Return a test that an argument lies in closed bounds."""
    low, high = bounds
    return f"{argument}>={number(low)},{argument}<={number(high)}"


def whole(argument: str, bounds: Bounds) -> str:
    """Return a test that an argument is a whole number in closed bounds."""
    return f"{within(argument, bounds)},{argument}=INT({argument})"


def only_if(tests: str, expression: str) -> str:
    """Return `expression`, or #N/A unless all comma-separated tests hold."""
    return f"IF(AND({tests}),{expression},NA())"


def saturation_pressure(temperature: str) -> str:
    """Return water's saturation pressure, psia, over ice below 32 °F; no range test."""
    rankine = f"({temperature}+{number(moist_air.RANKINE_AT_ZERO_F)})"

    def logarithm(constants: tuple[float, ...]) -> str:
        c = [number(value) for value in constants]
        nested = f"{c[2]}+{rankine}*({c[3]}+{rankine}*({c[4]}+{rankine}*({c[5]})))"
        return f"{c[0]}/{rankine}+({c[1]}+{rankine}*({nested}))+{c[6]}*LN{rankine}"

    ice, water = logarithm(moist_air.OVER_ICE), logarithm(moist_air.OVER_WATER)
    return f"EXP(IF({temperature}<32,{ice},{water}))"


def humidity_ratio(vapor: str, barometer: str) -> str:
    """Return W from a vapour pressure text, lb/lb; no range test."""
    return f"{number(moist_air.MOLE_RATIO)}*{vapor}/({barometer}-{vapor})"


def body(table: str) -> str:
    """Return the defined name of a reference table's rows."""
    return f"ref_{table}_body"


def column(table: str, position: str | int) -> str:
    """Return one whole column of a reference table, counted from 1."""
    return f"INDEX({body(table)},0,{position})"


def cell_for(table: str, argument: str, position: int | str) -> str:
    """Return the cell beside the exact `argument` in a reference table's first column."""
    return f"INDEX({body(table)},MATCH({argument},{column(table, 1)},0),{position})"


def interpolated(table: str, at: str, known: str | int, wanted: str | int) -> str:
    """Return column `wanted` at the value `at` of the rising column `known`, linearly.

    The last row that holds both numbers is taken with the one before it. Below the first
    row the text is an error; above the last the caller must refuse.
    """
    knowns, wanteds = column(table, known), column(table, wanted)
    row = f"MIN(MATCH({at},{knowns},1),COUNT({knowns})-1,COUNT({wanteds})-1)"

    def pair(position: str | int) -> str:
        first = f"INDEX({body(table)},{row},{position})"
        return f"{first}:INDEX({body(table)},{row}+1,{position})"

    return f"FORECAST({at},{pair(wanted)},{pair(known)})"
