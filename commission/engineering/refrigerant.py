"""Saturation of refrigerants, compressor maps, superheat rule of thumb.

Refrigerants freeze, asphyxiate and some burn (class A2L). Gauges go on and off only by
persons certified under EPA section 608 with equipment rated for the refrigerant.

Curves are a table made from CoolProp and shipped beside this module: ln(psia) at every
whole °F, interpolated linearly, as the spreadsheet does too. Superheat is counted from the
dew point, subcooling from the bubble point; pressures are absolute, so a gauge reading needs
the local barometer. `python -m commission.engineering.refrigerant` makes the table anew.
"""

from __future__ import annotations

import json
import math
from bisect import bisect_right
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from functools import cache
from pathlib import Path
from types import MappingProxyType

from commission.engineering import saturation_tables
from commission.engineering.possible import Bounds, refuse_not_above, refuse_outside
from commission.errors import CommissionError, ReadingError
from commission.language import near_miss, spoken, to_say

TABLE_PATH = Path(__file__).with_name("saturation.json")
PASCAL_PER_PSI = 4.4482216152605 / 0.0254**2
JOULE_PER_KG_BTULB = 2326.0  # J/kg in a Btu/lb, by the international-table Btu
DIGITS = 9
LARGEST_LOOKUP_ERROR_F = 0.02

INDOOR_WET_BULB_F: Bounds = (50.0, 76.0)
OUTDOOR_DRY_BULB_F: Bounds = (55.0, 115.0)
SMALLEST_TARGET_SUPERHEAT_F = 5.0
BELOW_VACUUM = to_say(
    "A gauge cannot read below a full vacuum: zero the gauge in open air and check the barometer."
)


class Curve(StrEnum):
    """Saturated vapour or saturated liquid."""

    DEW = "dew"
    BUBBLE = "bubble"


TEMPERATURES = {
    Curve.DEW: to_say("Dew temperature"),
    Curve.BUBBLE: to_say("Bubble temperature"),
}


@dataclass(frozen=True, slots=True)
class Refrigerant:
    """A refrigerant; `glide` where dew and bubble at 40 °F lie more than 1 °F apart.

    Safety classes are ASHRAE 34's, from memory.
    """

    designation: str
    coolprop_name: str
    safety_class: str
    glide: bool
    last_f: int = saturation_tables.LAST_F


# Pseudo-pure models where CoolProp has them: its mixture models of R-410A, R-407C fail in
# the condensing range. All critical temperatures lie more than 5 °F above the last 155 °F.
REFRIGERANTS: Mapping[str, Refrigerant] = MappingProxyType(
    {
        row.designation: row
        for row in (
            Refrigerant("R-22", "R22", "A1", False),
            Refrigerant("R-32", "R32", "A2L", False),
            Refrigerant("R-134a", "R134a", "A1", False),
            Refrigerant("R-404A", "R404A", "A1", False),
            Refrigerant("R-407C", "R407C", "A1", True),
            Refrigerant("R-410A", "R410A", "A1", False),
            Refrigerant("R-448A", "R448A.mix", "A1", True),
            Refrigerant("R-449A", "R449A.mix", "A1", True),
            Refrigerant("R-452B", "R452B.mix", "A2L", True),
            Refrigerant("R-454B", "R454B.mix", "A2L", True),
            Refrigerant("R-454C", "R454C.mix", "A2L", True),
            Refrigerant("R-513A", "R513A.mix", "A1", False),
            Refrigerant("R-1234yf", "R1234yf", "A2L", False),
        )
    }
)
# Asked for by the trade, but without curves, and why.
NOT_GIVEN: Mapping[str, str] = MappingProxyType(
    {"R-438A": "CoolProp 8.0 cannot set up its mixture; read a published table instead"}
)
_BY_CASE = {name.lower(): name for name in REFRIGERANTS}


@dataclass(frozen=True, slots=True)
class SaturationTables:
    """All curves: ln(psia) at every whole °F from `first_f`, and what made them."""

    coolprop_version: str
    first_f: int
    curves: Mapping[tuple[str, Curve], tuple[float, ...]]


@cache
def saturation_table() -> SaturationTables:
    """Return the shipped curves, read once.

    Raises:
        CommissionError: The file is absent or damaged.
    """
    try:
        stored = json.loads(TABLE_PATH.read_text(encoding="utf-8"))
        curves = {
            (name, kind): tuple(float(value) for value in stored["curves"][name][kind])
            for name in REFRIGERANTS
            for kind in Curve
        }
        return SaturationTables(stored["coolprop_version"], stored["first_f"], curves)
    except (OSError, ValueError, KeyError, TypeError) as error:
        raise CommissionError(
            spoken(
                "{table_path}: the saturation table cannot be read ({error}). Install again.",
                table_path=TABLE_PATH,
                error=error,
            )
        ) from None


def designation_of(refrigerant: str) -> str:
    """Return a refrigerant's designation as this module spells it.

    Raises:
        ReadingError: Not one of `REFRIGERANTS`.
    """
    found = _BY_CASE.get(refrigerant.lower())
    if found is None:
        reason = NOT_GIVEN.get(refrigerant.upper())
        hint = f" {reason}." if reason else near_miss(refrigerant, REFRIGERANTS)
        raise ReadingError(
            spoken(
                "'{refrigerant}' is not a refrigerant with saturation curves; known are "
                "{refrigerants}.{hint}",
                refrigerant=refrigerant,
                refrigerants=", ".join(REFRIGERANTS),
                hint=hint,
            )
        )
    return found


def dew_f(refrigerant: str, pressure_psia: float) -> float:
    """Return the dew temperature (saturated vapour) at an absolute pressure, °F.

    Args:
        refrigerant: Designation such as "R-410A".
        pressure_psia: Absolute pressure, psia: gauge reading + local barometer.
    Raises:
        ReadingError: Unknown refrigerant, or a pressure outside its curve.
    Valid: -40 to 155 °F.
    Source: CoolProp (version in the table); linear in ln p, within 0.02 °F of it.
    """
    return _temperature_f(refrigerant, Curve.DEW, pressure_psia)


def bubble_f(refrigerant: str, pressure_psia: float) -> float:
    """Return the bubble temperature (saturated liquid) at an absolute pressure, °F.

    Args, Raises, Valid, Source: as `dew_f`.
    """
    return _temperature_f(refrigerant, Curve.BUBBLE, pressure_psia)


def dew_psia(refrigerant: str, temperature_f: float) -> float:
    """Return the absolute pressure of saturated vapour at a temperature, psia.

    Args:
        refrigerant: Designation such as "R-410A".
        temperature_f: Dew temperature, °F.
    Raises:
        ReadingError: Unknown refrigerant, or a temperature outside its curve.
    Valid: -40 to 155 °F.
    Source: CoolProp (version in the table); ln p linear in t.
    """
    return _pressure_psia(refrigerant, Curve.DEW, temperature_f)


def bubble_psia(refrigerant: str, temperature_f: float) -> float:
    """Return the absolute pressure of saturated liquid at a temperature, psia.

    Args, Raises, Valid, Source: as `dew_psia`.
    """
    return _pressure_psia(refrigerant, Curve.BUBBLE, temperature_f)


def _temperature_f(refrigerant: str, kind: Curve, pressure_psia: float) -> float:
    name, tables = designation_of(refrigerant), saturation_table()
    refuse_not_above("Absolute pressure", pressure_psia, 0, "psia", BELOW_VACUUM, name)
    logs = tables.curves[name, kind]
    log = math.log(pressure_psia)
    if not logs[0] <= log <= logs[-1]:
        low, high = math.exp(logs[0]), math.exp(logs[-1])
        raise ReadingError(
            spoken(
                "{name} at {pressure_psia:.6g} psia has no {kind} in the table, "
                "{low:.2f} to {high:.1f} psia ({first_f} to {last_f} °F). Check the reading, "
                "the refrigerant and that the pressure is absolute.",
                name=name,
                pressure_psia=pressure_psia,
                kind=spoken(TEMPERATURES[kind]).lower(),
                low=low,
                high=high,
                first_f=tables.first_f,
                last_f=tables.first_f + len(logs) - 1,
            )
        )
    row = min(bisect_right(logs, log), len(logs) - 1) - 1
    return tables.first_f + row + (log - logs[row]) / (logs[row + 1] - logs[row])


def _pressure_psia(refrigerant: str, kind: Curve, temperature_f: float) -> float:
    name, tables = designation_of(refrigerant), saturation_table()
    logs = tables.curves[name, kind]
    bounds = (float(tables.first_f), float(tables.first_f + len(logs) - 1))
    refuse_outside(TEMPERATURES[kind], temperature_f, bounds, "°F", "Check it.", name)
    row = min(math.floor(temperature_f) - tables.first_f, len(logs) - 2)
    share = temperature_f - tables.first_f - row
    return math.exp(logs[row] + share * (logs[row + 1] - logs[row]))


def target_superheat_f(indoor_wet_bulb_f: float, outdoor_dry_bulb_f: float) -> float:
    """Return a target superheat for a fixed orifice, (3 WB - 80 - DB) / 2, Δ°F.

    Args:
        indoor_wet_bulb_f: Wet bulb of air entering the evaporator, °F.
        outdoor_dry_bulb_f: Dry bulb of air entering the condenser, °F.
    Raises:
        ReadingError: Outside 50 to 76 °F wet bulb or 55 to 115 °F dry bulb, or a target
            below 5 Δ°F, where charge cannot be told by superheat.
    Valid: rule of thumb; within 3 °F of a charging chart for 95 % of its cells and 7.5 °F
        low in its hot humid corner. The unit's own chart governs.
    Source: Common practice, as printed in an equipment installation manual.
    """
    refuse_outside(
        "Indoor wet bulb", indoor_wet_bulb_f, INDOOR_WET_BULB_F, "°F", "Use the unit's chart."
    )
    refuse_outside(
        "Outdoor dry bulb", outdoor_dry_bulb_f, OUTDOOR_DRY_BULB_F, "°F", "Use the unit's chart."
    )
    target = (3 * indoor_wet_bulb_f - 80 - outdoor_dry_bulb_f) / 2
    if target < SMALLEST_TARGET_SUPERHEAT_F:
        raise ReadingError(
            spoken(
                "Target superheat would be {target:.3g} Δ°F at {indoor_wet_bulb_f:.6g} °F wet "
                "bulb and {outdoor_dry_bulb_f:.6g} °F outdoors; below "
                "{smallest_target_superheat_f:g} Δ°F charge cannot be judged by superheat. "
                "Weigh the charge in, or come back on another day.",
                target=target,
                indoor_wet_bulb_f=indoor_wet_bulb_f,
                outdoor_dry_bulb_f=outdoor_dry_bulb_f,
                smallest_target_superheat_f=SMALLEST_TARGET_SUPERHEAT_F,
            )
        )
    return target


def compressor_map(
    coefficients: Sequence[float], suction_dew_f: float, discharge_dew_f: float
) -> float:
    """Return a ten-coefficient compressor map's value at a suction and discharge dew point.

    Args:
        coefficients: C1 to C10 in the standard's order, from the compressor's literature.
        suction_dew_f: Suction dew temperature S, °F.
        discharge_dew_f: Discharge dew temperature D, °F.
    Returns:
        C1 + C2 S + C3 D + C4 S² + C5 S D + C6 D² + C7 S³ + C8 D S² + C9 S D² + C10 D³ in the
        coefficients' own unit (W, lb/h, A or Btu/h).
    Raises:
        ReadingError: Not ten coefficients.
    Valid: inside the map's envelope and at its stated superheat; cubic terms run away
        outside.
    Source: AHRI 540.
    """
    if len(coefficients) != 10:
        raise ReadingError(
            spoken(
                "A compressor map has 10 coefficients, {count} given. Enter C1 to C10.",
                count=len(coefficients),
            )
        )
    s, d = suction_dew_f, discharge_dew_f
    terms = (1, s, d, s * s, s * d, d * d, s**3, d * s * s, s * d * d, d**3)
    return math.fsum(c * term for c, term in zip(coefficients, terms, strict=True))


def rated_by_map(
    coefficients: Sequence[float], suction_dew_f: float, discharge_dew_f: float
) -> float:
    """Return `compressor_map` where it can be amps, power or mass flow of a compressor.

    Raises:
        ReadingError: Not ten coefficients, a discharge dew point not above the suction's, or
            a value that is not above 0: outside the envelope, or coefficients mistyped.
    Source: AHRI 540.
    """
    if not discharge_dew_f > suction_dew_f:
        raise ReadingError(
            spoken(
                "Discharge dew point {discharge_dew_f:.6g} °F is not above the suction's, "
                "{suction_dew_f:.6g} °F. Check that the gauges are not swapped and the "
                "compressor runs.",
                discharge_dew_f=discharge_dew_f,
                suction_dew_f=suction_dew_f,
            )
        )
    found = compressor_map(coefficients, suction_dew_f, discharge_dew_f)
    refuse_not_above(
        "The map's value", found, 0, "", "Check C1 to C10 in order and sign, and the envelope."
    )
    return found


def compression_ratio(suction_psia: float, discharge_psia: float) -> float:
    """Return discharge / suction pressure, both absolute, a plain number.

    Raises:
        ReadingError: A pressure at or below zero absolute.
    Source: Definition.
    """
    refuse_not_above("Absolute suction pressure", suction_psia, 0, "psia", BELOW_VACUUM)
    refuse_not_above("Absolute discharge pressure", discharge_psia, 0, "psia", BELOW_VACUUM)
    return discharge_psia / suction_psia


def log_saturation_pressure(coolprop_name: str, kind: Curve, temperature_f: float) -> float | None:
    """Return ln(psia) by CoolProp, or None where its model fails. Imports CoolProp (2 s)."""
    from CoolProp.CoolProp import PropsSI

    kelvin = (temperature_f + saturation_tables.RANKINE_AT_ZERO_F) * 5 / 9
    quality = 1 if kind is Curve.DEW else 0
    try:
        pascal = PropsSI("P", "T", kelvin, "Q", quality, coolprop_name)
    except ValueError:
        return None
    return math.log(pascal / PASCAL_PER_PSI) if math.isfinite(pascal) and pascal > 0 else None


def enthalpy_btulb(
    coolprop_name: str,
    temperature_f: float,
    psia: float | None = None,
    quality: int = 1,
) -> float | None:
    """Return enthalpy by CoolProp on its own datum, Btu/lb, or None where its model fails.

    At a pressure if one is given, else saturated: `quality` 1 is vapour, 0 liquid.
    """
    from CoolProp.CoolProp import PropsSI

    kelvin = (temperature_f + saturation_tables.RANKINE_AT_ZERO_F) * 5 / 9
    known, given = ("Q", float(quality)) if psia is None else ("P", psia * PASCAL_PER_PSI)
    try:
        found = PropsSI("H", "T", kelvin, known, given, coolprop_name)
    except ValueError:
        return None
    return float(found) / JOULE_PER_KG_BTULB if math.isfinite(found) else None


def coolprop_version() -> str:
    """Return the version of the installed CoolProp, which it imports (2 s)."""
    import CoolProp

    return str(CoolProp.__version__)


def build_saturation_tables(
    designations: Sequence[str] = tuple(REFRIGERANTS),
) -> SaturationTables:
    """Return curves made afresh from the installed CoolProp (about 20 s for all).

    Args:
        designations: Refrigerants wanted.
    Raises:
        CommissionError: CoolProp fails on so much of a curve that it cannot be bridged.
    """
    import CoolProp

    curves: dict[tuple[str, Curve], tuple[float, ...]] = {}
    for name in designations:
        row = REFRIGERANTS[name]
        for kind in Curve:

            def log_pressure(
                at: float, fluid: str = row.coolprop_name, kind: Curve = kind
            ) -> float | None:
                return log_saturation_pressure(fluid, kind, at)

            built = saturation_tables.curve(log_pressure, row.last_f)
            curves[name, kind] = tuple(float(f"{value:.{DIGITS}g}") for value in built)
    return SaturationTables(CoolProp.__version__, saturation_tables.FIRST_F, curves)


def write_saturation_tables(tables: SaturationTables, path: Path = TABLE_PATH) -> None:
    """Write curves as the data file that ships."""
    stored: dict[str, dict[str, tuple[float, ...]]] = {}
    for (name, kind), values in tables.curves.items():
        stored.setdefault(name, {})[kind.value] = values
    about = {
        "made_by": "python -m commission.engineering.refrigerant",
        "coolprop_version": tables.coolprop_version,
        "values": "ln(psia) at every whole °F from first_f",
        "first_f": tables.first_f,
    }
    text = json.dumps(about | {"curves": stored}, ensure_ascii=False, separators=(",", ":"))
    path.write_text(text.replace('"R-', '\n"R-') + "\n", encoding="utf-8")


if __name__ == "__main__":
    made = build_saturation_tables()
    write_saturation_tables(made)
    print(f"{TABLE_PATH}: {len(made.curves)} curves by CoolProp {made.coolprop_version}")
