"""Enthalpy of refrigerants for the pressure-enthalpy sketch: saturated, and superheated vapour.

Tables made from CoolProp ship beside this module: saturated vapour and liquid at every whole
°F, and what vapour gains by superheat at every fifth °F of dew point. Zero is saturated liquid
at -40 °F. `python -m commission.engineering.enthalpy_tables` makes the tables anew.
"""

from __future__ import annotations

import json
import math
from bisect import bisect_right
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from commission.engineering import refrigerant
from commission.engineering.possible import refuse_outside
from commission.engineering.refrigerant import TEMPERATURES, Curve, designation_of
from commission.engineering.saturation_tables import FIRST_F, LAST_F
from commission.errors import CommissionError
from commission.language import spoken

TABLE_PATH = Path(__file__).with_name("enthalpy.json")
DEW_STEP_F = 5
SUPERHEATS_F = (0.0, 5.0, 10.0, 20.0, 30.0, 45.0, 60.0, 80.0, 100.0, 125.0, 150.0)
LARGEST_ERROR_BTULB = 0.3
_JUMP_BTULB = 0.05
_SIDE = 3
Points = Mapping[float, float]


@dataclass(frozen=True, slots=True)
class EnthalpyTable:
    """One refrigerant, Btu/lb: saturated by whole °F from -40, gains by dew point and superheat."""

    dew: tuple[float, ...]
    bubble: tuple[float, ...]
    gains: tuple[tuple[float, ...], ...]


@cache
def enthalpy_tables() -> Mapping[str, EnthalpyTable]:
    """Return the shipped tables by designation, read once.

    Raises:
        CommissionError: The file is absent or damaged.
    """
    try:
        stored = json.loads(TABLE_PATH.read_text(encoding="utf-8"))["tables"]
        return {
            name: EnthalpyTable(
                tuple(table["dew"]),
                tuple(table["bubble"]),
                tuple(tuple(row) for row in table["gains"]),
            )
            for name, table in stored.items()
        }
    except (OSError, ValueError, KeyError, TypeError) as error:
        raise CommissionError(
            spoken(
                "{table_path}: the enthalpy table cannot be read ({error}). Install again.",
                table_path=TABLE_PATH,
                error=error,
            )
        ) from None


def saturated_btulb(name: str, curve: Curve, temperature_f: float) -> float:
    """Return the enthalpy of saturated vapour (dew) or liquid (bubble), Btu/lb.

    Args:
        name: Designation such as "R-410A".
        curve: Which of the two.
        temperature_f: Dew or bubble temperature, °F.
    Raises:
        ReadingError: Unknown refrigerant, or outside -40 to 155 °F.
    Source: CoolProp; linear between whole °F.
    """
    designation = designation_of(name)
    refuse_outside(
        TEMPERATURES[curve],
        temperature_f,
        (float(FIRST_F), float(LAST_F)),
        "°F",
        "Read again.",
        designation,
    )
    table = enthalpy_tables()[designation]
    row = table.dew if curve is Curve.DEW else table.bubble
    return _between([float(FIRST_F + n) for n in range(len(row))], row, temperature_f)


def vapor_btulb(name: str, dew_f: float, superheat_f: float) -> float:
    """Return the enthalpy of vapour at the pressure of a dew point, Btu/lb.

    Args:
        name: Designation such as "R-410A".
        dew_f: Dew temperature at the pressure, °F.
        superheat_f: Superheat, Δ°F.
    Raises:
        ReadingError: Unknown refrigerant, a dew point outside -40 to 155 °F, or superheat
            outside 0 to 150 Δ°F.
    Source: CoolProp, within 0.3 Btu/lb of it up to 130 °F dew point.
    """
    saturated = saturated_btulb(name, Curve.DEW, dew_f)
    bounds = (SUPERHEATS_F[0], SUPERHEATS_F[-1])
    refuse_outside("Superheat", superheat_f, bounds, "Δ°F", "Read line and pressure again.")
    gains = enthalpy_tables()[designation_of(name)].gains
    dews = [float(FIRST_F + DEW_STEP_F * number) for number in range(len(gains))]
    column = [_between(SUPERHEATS_F, row, superheat_f) for row in gains]
    return saturated + _between(dews, column, dew_f)


def _between(places: Sequence[float], values: Sequence[float], at: float) -> float:
    number = min(max(bisect_right(places, at) - 1, 0), len(places) - 2)
    share = (at - places[number]) / (places[number + 1] - places[number])
    return values[number] + share * (values[number + 1] - values[number])


# -- making the tables ------------------------------------------------------------------


def build_table(name: str) -> EnthalpyTable:
    """Return a refrigerant's table made afresh from the installed CoolProp.

    Raises:
        CommissionError: CoolProp fails on so much that it cannot be bridged.
    """
    fluid = refrigerant.REFRIGERANTS[name].coolprop_name
    whole = [float(at) for at in range(FIRST_F, LAST_F + 1)]

    def saturated(quality: int) -> list[float]:
        return _sound(whole, lambda at: refrigerant.enthalpy_btulb(fluid, at, quality=quality))

    dew, bubble = saturated(1), saturated(0)
    zero = bubble[0]
    dews = [float(at) for at in range(FIRST_F, LAST_F + 1, DEW_STEP_F)]
    columns = [[0.0] * len(dews)]
    for superheat in SUPERHEATS_F[1:]:

        def gained(at: float, superheat: float = superheat) -> float | None:
            psia = refrigerant.dew_psia(name, at)
            found = refrigerant.enthalpy_btulb(fluid, at + superheat, psia=psia)
            return None if found is None else found - dew[round(at) - FIRST_F]

        columns.append(_sound(dews, gained))
    return EnthalpyTable(
        tuple(round(value - zero, 3) for value in dew),
        tuple(round(value - zero, 3) for value in bubble),
        tuple(tuple(round(column[n], 3) for column in columns) for n in range(len(dews))),
    )


def _sound(places: Sequence[float], value_at: Callable[[float], float | None]) -> list[float]:
    """Return values at all places; what fails or stands off its neighbours is bridged."""
    found = {at: value for at in places if (value := value_at(at)) is not None}
    while len(found) > 2 * _SIDE:
        inner = sorted(found)[_SIDE:-_SIDE]
        offsets = {at: abs(_bridge(found, at) - found[at]) for at in inner}
        worst = max(offsets, key=lambda at: offsets[at], default=None)
        if worst is None or offsets[worst] <= _JUMP_BTULB:
            break
        del found[worst]
    return [found[at] if at in found else _bridge(found, at) for at in places]


def _bridge(points: Points, at: float) -> float:
    """Return Lagrange's polynomial through the nearest points on both sides."""
    below = sorted(other for other in points if other < at)[-_SIDE:]
    above = sorted(other for other in points if other > at)[:_SIDE]
    knots = [*below, *above]
    if len(knots) < _SIDE:
        raise CommissionError(
            spoken(
                "Enthalpy at {at:g} °F has too few sound points about it.",
                at=at,
            )
        )
    return math.fsum(
        points[knot] * math.prod((at - other) / (knot - other) for other in knots if other != knot)
        for knot in knots
    )


def write_tables(tables: Mapping[str, EnthalpyTable], path: Path = TABLE_PATH) -> None:
    """Write tables as the data file that ships."""
    about = {
        "made_by": "python -m commission.engineering.enthalpy_tables",
        "coolprop_version": refrigerant.coolprop_version(),
        "values": "Btu/lb over saturated liquid at -40 °F; gains over saturated vapour, "
        f"a row each {DEW_STEP_F} °F of dew point, a column each superheat",
        "superheats_f": SUPERHEATS_F,
        "tables": {
            name: {"dew": table.dew, "bubble": table.bubble, "gains": table.gains}
            for name, table in tables.items()
        },
    }
    text = json.dumps(about, ensure_ascii=False, separators=(",", ":"))
    path.write_text(text.replace('"R-', '\n"R-') + "\n", encoding="utf-8")


if __name__ == "__main__":
    made = {name: build_table(name) for name in refrigerant.REFRIGERANTS}
    write_tables(made)
    print(f"{TABLE_PATH}: {len(made)} refrigerants")
