"""Tables that spreadsheet formulas look into, one sheet range each.

The workbook's writer defines the names `ref_<table>_head` (the header row) and
`ref_<table>_body` (all rows, all columns).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from types import MappingProxyType

from commission.engineering import (
    combustion,
    controls,
    electrical,
    refrigerant,
    refrigerating_effect,
    traverse,
)
from commission.engineering.refrigerant import Curve

Cell = float | str
NO_VALUE = "-"  # a text, so that a formula which meets it errs instead of reading 0


@dataclass(frozen=True, slots=True)
class ReferenceTable:
    """One table: its short name, what it holds, and where it comes from."""

    name: str
    title: str
    columns: tuple[str, ...]
    rows: tuple[tuple[Cell, ...], ...]
    note: str
    source: str

    @property
    def tab(self) -> str:
        """What its sheet is called, in English."""
        return self.name.replace("_", " ")


@cache
def reference_tables() -> Mapping[str, ReferenceTable]:
    """Return every reference table by name."""
    tables = (
        _protection(),
        _derating(),
        _saturation(Curve.DEW),
        _saturation(Curve.BUBBLE),
        _economizer(),
        _fuels(),
        _traverse_positions(),
        _refrigerating_effect(),
    )
    return MappingProxyType({table.name: table for table in tables})


def _protection() -> ReferenceTable:
    return ReferenceTable(
        name="standard_protection",
        title="Standard sizes of fuses and circuit breakers",
        columns=("Size, A",),
        rows=tuple((float(size),) for size in electrical.STANDARD_PROTECTION_A),
        note="The size used is the largest not above the computed one. The unit's printed "
        "nameplate governs.",
        source="NEC (NFPA 70) 240.6(A); sizes above 600 A from memory",
    )


def _derating() -> ReferenceTable:
    return ReferenceTable(
        name="motor_derating",
        title="Motor derating by voltage imbalance",
        columns=("Voltage imbalance, %", "Derating factor"),
        rows=electrical.MOTOR_DERATING,
        note="Linear between rows, not used past 5 %. A drawn curve, good to 0.01, to 0.02 "
        "above 3 %.",
        source="NEMA MG 1 figure 14-1, as tabulated at engineeringtoolbox.com",
    )


def _saturation(curve: Curve) -> ReferenceTable:
    tables = refrigerant.saturation_table()
    curves = [tables.curves[name, curve] for name in refrigerant.REFRIGERANTS]
    state = "saturated vapour" if curve is Curve.DEW else "saturated liquid"
    return ReferenceTable(
        name=f"saturation_{curve}",
        title=f"Refrigerant {curve} curves ({state})",
        columns=("Temperature, °F", *refrigerant.REFRIGERANTS),
        rows=tuple(
            (float(tables.first_f + at), *(_or_none(logs, at) for logs in curves))
            for at in range(max(map(len, curves)))
        ),
        note="Values are the natural logarithm of the absolute pressure in psia. Between rows "
        "the logarithm is taken as linear in temperature; the largest error of that is "
        f"{refrigerant.LARGEST_LOOKUP_ERROR_F:g} °F. Nothing is read past the ends. Points "
        "where the property library's mixture models fail are bridged smoothly.",
        source=f"CoolProp {tables.coolprop_version}",
    )


def _or_none(values: tuple[float, ...], at: int) -> Cell:
    return values[at] if at < len(values) else NO_VALUE


def _economizer() -> ReferenceTable:
    return ReferenceTable(
        name="economizer_limits",
        title="Economizer high limit, fixed dry bulb",
        columns=("Climate zone", "High limit, °F"),
        rows=tuple(sorted(controls.ECONOMIZER_HIGH_LIMIT_F.items())),
        note="The code in force at the site and the design documents govern.",
        source="ASHRAE 90.1-2013 Table 6.5.1.1.3 (from memory; some rows seen in public "
        "energy codes and models)",
    )


FUEL_COLUMNS = (
    "Fuel",
    "Excess-air constant k",
    "CO2 max, %",
    "Flue heat, 1st",
    "Flue heat, 2nd",
    "Flue heat, 3rd",
    "Excess-air heat, 1st",
    "Excess-air heat, 2nd",
    "Excess-air heat, 3rd",
    "Water, mol",
    "Dry flue gas, mol",
    "Dry air, mol",
    "Higher heating value, Btu/lbmol",
)


def _fuels() -> ReferenceTable:
    return ReferenceTable(
        name="fuels",
        title="Combustion of fuel gases, per mole of fuel",
        columns=FUEL_COLUMNS,
        rows=tuple(_fuel_row(fuel) for fuel in combustion.FUELS.values()),
        note="Heats are Btu/lbmol as a cubic in (temperature - 77 °F), without excess air and "
        "for one theoretical amount of excess air. Natural gas is a gas utility's published "
        "typical analysis (methane 95.0, ethane 3.2, propane 0.2, butane 0.1, nitrogen 1.0, "
        "carbon dioxide 0.5 %); dry air with 20.95 % oxygen.",
        source="Stoichiometry; heats fitted to the NASA polynomials of GRI-Mech 3.0",
    )


def _fuel_row(fuel: combustion.Fuel) -> tuple[Cell, ...]:
    return (
        fuel.name,
        fuel.excess_air_constant,
        fuel.carbon_dioxide_max_percent,
        *fuel.flue_heat,
        *fuel.air_heat,
        fuel.water,
        fuel.dry_flue,
        fuel.oxygen / combustion.AIR_OXYGEN,
        fuel.higher_heating_value,
    )


def _traverse_positions() -> ReferenceTable:
    most = max(map(len, traverse.POSITIONS.values()))
    return ReferenceTable(
        name="traverse_positions",
        title="Places of a traverse, share of the side or diameter",
        columns=("Rule and count", *(str(number) for number in range(1, most + 1))),
        rows=tuple(
            (f"{rule} {count}", *(_or_none(row, at) for at in range(most)))
            for (rule, count), row in traverse.POSITIONS.items()
        ),
        note="Measured from the wall of the duct. Log-Tchebycheff for rectangular ducts, "
        "log-linear for round ones; equal areas are computed.",
        source="ISO 3966 and ASHRAE 111, as printed in an equipment installation manual; "
        "four points log-linear from memory",
    )


def _refrigerating_effect() -> ReferenceTable:
    vapor = ("1", "S", "S²", "S³", "SH", "SH S", "SH S²", "SH²")
    return ReferenceTable(
        name="refrigerating_effect",
        title="Refrigerating effect, polynomials",
        columns=(
            "Refrigerant",
            *(f"Gas, {term}" for term in vapor),
            *(f"Liquid, {term}" for term in ("t", "t²", "t³")),
        ),
        rows=tuple(
            (name, *gas, *liquid)
            for name, (gas, liquid) in refrigerating_effect.COEFFICIENTS.items()
        ),
        note="Btu/lb: gas polynomial in suction dew point S, °F, and superheat SH, less the "
        "liquid's in its temperature t, °F. Not used outside -20 to 75 °F, 0 to 40 Δ°F and 40 "
        f"to 140 °F; within {refrigerating_effect.LARGEST_ERROR_BTULB:g} Btu/lb.",
        source="Fitted to CoolProp 8.0.0",
    )
