"""Function rows: saturation of refrigerants, target superheat."""

from __future__ import annotations

from commission.engineering import refrigerant, refrigerating_effect
from commission.engineering.refrigerant import Curve
from commission.formula.declaration import Function, FunctionKind, takes
from commission.formula.spreadsheet_text import (
    cell_for,
    column,
    interpolated,
    number,
    only_if,
    within,
)
from commission.language import to_say

_SOURCE = "CoolProp (version on the reference sheet); linear in ln p, within 0.02 °F"
_VALID = "-40 to 155 °F; absolute pressure."


def _position(curve: Curve) -> str:
    return f"MATCH({{0}},ref_saturation_{curve}_head,0)"


def _temperature_text(curve: Curve) -> str:
    table, position = f"saturation_{curve}", _position(curve)
    return only_if(
        f"LN({{1}})<=MAX({column(table, position)})",
        interpolated(table, "LN({1})", position, 1),
    )


def _pressure_text(curve: Curve) -> str:
    table, position = f"saturation_{curve}", _position(curve)
    last = f"INDEX({column(table, 1)},COUNT({column(table, position)}))"
    logarithm = interpolated(table, "{1}", 1, position)
    return only_if(f"{{1}}<={last}", f"EXP({logarithm})")


def _temperature(curve: Curve) -> Function:
    return Function(
        name=f"{curve}_f",
        compute=refrigerant.dew_f if curve is Curve.DEW else refrigerant.bubble_f,
        arguments=takes(refrigerant="text", pressure="psia"),
        result="°F",
        spreadsheet=_temperature_text(curve),
        symbol=f"t_{curve}({{0}}, {{1}})",
        valid=_VALID,
        source=_SOURCE,
        kind=FunctionKind.TABLE,
        tables=(f"saturation_{curve}",),
    )


def _pressure(curve: Curve) -> Function:
    return Function(
        name=f"{curve}_psia",
        compute=refrigerant.dew_psia if curve is Curve.DEW else refrigerant.bubble_psia,
        arguments=takes(refrigerant="text", temperature="°F"),
        result="psia",
        spreadsheet=_pressure_text(curve),
        symbol=f"p_{curve}({{0}}, {{1}})",
        valid=_VALID,
        source=_SOURCE,
        kind=FunctionKind.TABLE,
        tables=(f"saturation_{curve}",),
    )


_COEFFICIENTS = tuple(f"c{at}" for at in range(1, 11))
_TERMS = (
    "", "*{10}", "*{11}", "*{10}^2", "*{10}*{11}", "*{11}^2", "*{10}^3", "*{11}*{10}^2",
    "*{10}*{11}^2", "*{11}^3",
)  # fmt: skip
_POLYNOMIAL = "+".join(f"{{{at}}}{term}" for at, term in enumerate(_TERMS))


def _map(unit: str, suffix: str) -> Function:
    def compute(*values: float) -> float:
        return refrigerant.rated_by_map(values[:10], *values[10:])

    coefficients = takes(**dict.fromkeys(_COEFFICIENTS, ""))
    return Function(
        name=f"compressor_map_{suffix}",
        compute=compute,
        arguments=(*coefficients, *takes(suction_dew="°F", discharge_dew="°F")),
        result=unit,
        spreadsheet=only_if("{11}>{10}", f"IF({_POLYNOMIAL}>0,{_POLYNOMIAL},NA())"),
        symbol=to_say(
            "{0} + {1} S + {2} D + {3} S² + {4} S D + {5} D² + {6} S³ + {7} D S² + {8} S D² "
            "+ {9} D³ with S = {10}, D = {11}"
        ),
        valid="Discharge dew point above the suction's; inside the map's envelope and at its "
        "superheat.",
        source="AHRI 540, ten-coefficient polynomial",
    )


def _effect() -> str:
    """Text of gas less liquid: refrigerant {0}, dew {1}, superheat {2}, liquid {3}."""
    terms = ("", "*{1}", "*{1}^2", "*{1}^3", "*{2}", "*{2}*{1}", "*{2}*{1}^2", "*{2}^2")
    cells = [cell_for("refrigerating_effect", "{0}", at) for at in range(2, 13)]
    gas = "+".join(f"{cell}{term}" for cell, term in zip(cells, terms, strict=False))
    liquid = "+".join(
        f"{cell}*{{3}}^{power}" for cell, power in zip(cells[8:], (1, 2, 3), strict=True)
    )
    tests = ",".join(
        (
            within("{1}", refrigerating_effect.SUCTION_DEW_F),
            within("{2}", refrigerating_effect.SUPERHEAT_F),
            within("{3}", refrigerating_effect.LIQUID_F),
        )
    )
    return only_if(tests, f"{gas}-({liquid})")


_TARGET = "(3*{0}-80-{1})/2"
_SUPERHEAT_TESTS = ",".join(
    (
        within("{0}", refrigerant.INDOOR_WET_BULB_F),
        within("{1}", refrigerant.OUTDOOR_DRY_BULB_F),
        f"{_TARGET}>={number(refrigerant.SMALLEST_TARGET_SUPERHEAT_F)}",
    )
)

ROWS: tuple[Function, ...] = (
    _temperature(Curve.DEW),
    _temperature(Curve.BUBBLE),
    _pressure(Curve.DEW),
    _pressure(Curve.BUBBLE),
    _map("A", "a"),
    _map("W", "w"),
    _map("lb/h", "lbh"),
    Function(
        name="refrigerating_effect_btulb",
        compute=refrigerating_effect.refrigerating_effect_btulb,
        arguments=takes(refrigerant="text", suction_dew="°F", superheat="Δ°F", liquid="°F"),
        result="Btu/lb",
        spreadsheet=_effect(),
        symbol=to_say("h_gas({0}, dew {1}, {2} superheat) − h_liquid({3})"),
        valid="-20 to 75 °F dew point, 0 to 40 Δ°F superheat, 40 to 140 °F liquid.",
        source="Polynomials fitted to CoolProp 8.0.0, within 0.3 Btu/lb",
        kind=FunctionKind.TABLE,
        tables=("refrigerating_effect",),
    ),
    Function(
        name="pressure_ratio",
        compute=refrigerant.compression_ratio,
        arguments=takes(suction="psia", discharge="psia"),
        result="",
        spreadsheet=only_if("{0}>0,{1}>0", "{1}/{0}"),
        symbol="{1} / {0}",
        valid="Absolute pressures above 0.",
        source="Definition",
    ),
    Function(
        name="target_superheat_f",
        compute=refrigerant.target_superheat_f,
        arguments=takes(indoor_wet_bulb="°F", outdoor_dry_bulb="°F"),
        result="Δ°F",
        spreadsheet=only_if(_SUPERHEAT_TESTS, _TARGET),
        symbol="(3 × {0} − 80 − {1}) / 2",
        valid="50 to 76 °F wet bulb, 55 to 115 °F outdoors, a target of 5 Δ°F or more; "
        "a rule of thumb: the unit's chart governs.",
        source="Common practice, as printed in an equipment installation manual",
    ),
)
