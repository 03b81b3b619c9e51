"""Units: one small table, gauge/absolute and temperature/difference kept apart.

A unit has a dimension (exponents of base quantities), a scale to coherent SI, an offset
(temperatures only) and a `datum`: 1 for a value counted from a natural zero that may only
be added to a difference (a temperature on a scale, an absolute pressure), 0 for anything
else. So point - point = difference, point + difference = point, and gauge + barometer =
absolute come out of plain adding of datums.

Scales: exact definitions (international foot, pound, IT Btu); conventional inch of water
(1,000 kg/m³), 249.08891 Pa, and conventional inch of mercury, 3386.389 Pa (NIST SP 811,
appendix B.8).
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass

from commission.errors import UnitError
from commission.language import near_miss, spoken

_BASES = ("length", "mass", "time", "temperature", "current")

Dimension = tuple[float, ...]
PLAIN: Dimension = (0.0,) * len(_BASES)


def _dimension(**powers: float) -> Dimension:
    return tuple(float(powers.get(base, 0)) for base in _BASES)


@dataclass(frozen=True, slots=True)
class Unit:
    """One unit; `value_si = value * scale + offset`."""

    code: str
    dimension: Dimension
    scale: float
    offset: float = 0.0
    datum: int = 0
    metric: str = ""

    def __str__(self) -> str:
        return self.code


_LENGTH = _dimension(length=1)
_AREA = _dimension(length=2)
_VOLUME = _dimension(length=3)
_MASS = _dimension(mass=1)
_TIME = _dimension(time=1)
_TEMPERATURE = _dimension(temperature=1)
_PRESSURE = _dimension(mass=1, length=-1, time=-2)
_POWER = _dimension(mass=1, length=2, time=-3)
_FLOW = _dimension(length=3, time=-1)
_SPEED = _dimension(length=1, time=-1)
_FREQUENCY = _dimension(time=-1)
_CURRENT = _dimension(current=1)
_VOLTAGE = _dimension(mass=1, length=2, time=-3, current=-1)
_RESISTANCE = _dimension(mass=1, length=2, time=-3, current=-2)
_DENSITY = _dimension(mass=1, length=-3)
_SPECIFIC_VOLUME = _dimension(mass=-1, length=3)
_SPECIFIC_ENERGY = _dimension(length=2, time=-2)
_ENERGY_DENSITY = _dimension(mass=1, length=-1, time=-2)
_MASS_FLOW = _dimension(mass=1, time=-1)
_FLOW_PER_POWER = _dimension(mass=-1, length=1, time=2)

_FOOT, _POUND, _BTU = 0.3048, 0.45359237, 1055.05585262
_PSI = 4.4482216152605 / 0.0254**2
_INCH_WATER, _INCH_MERCURY = 249.08891, 3386.389
_TON = 12_000 * _BTU / 3600

_TABLE: tuple[Unit, ...] = (
    Unit("", PLAIN, 1.0),
    Unit("%", PLAIN, 0.01),
    Unit("ppm", PLAIN, 1e-6),
    Unit("°", PLAIN, 1.0),
    Unit("lb/lb", PLAIN, 1.0, metric="kg/kg"),
    Unit("kg/kg", PLAIN, 1.0),
    Unit("gr/lb", PLAIN, 1 / 7000, metric="g/kg"),
    Unit("g/kg", PLAIN, 1e-3),
    Unit("°F", _TEMPERATURE, 5 / 9, 459.67 * 5 / 9, 1, "°C"),
    Unit("°C", _TEMPERATURE, 1.0, 273.15, 1),
    Unit("Δ°F", _TEMPERATURE, 5 / 9, metric="K"),
    Unit("K", _TEMPERATURE, 1.0),
    Unit("psia", _PRESSURE, _PSI, 0.0, 1, "kPa abs"),
    Unit("kPa abs", _PRESSURE, 1e3, 0.0, 1),
    Unit("in. Hg", _PRESSURE, _INCH_MERCURY, 0.0, 1, "kPa abs"),
    Unit("psig", _PRESSURE, _PSI, metric="kPa"),
    Unit("psi", _PRESSURE, _PSI, metric="kPa"),
    Unit("kPa", _PRESSURE, 1e3),
    Unit("in. w.c.", _PRESSURE, _INCH_WATER, metric="Pa"),
    Unit("Pa", _PRESSURE, 1.0),
    Unit("V", _VOLTAGE, 1.0),
    Unit("A", _CURRENT, 1.0),
    Unit("kA", _CURRENT, 1e3),
    Unit("µA", _CURRENT, 1e-6),
    Unit("W", _POWER, 1.0),
    Unit("kW", _POWER, 1e3),
    Unit("kVA", _POWER, 1e3),
    Unit("hp", _POWER, 745.699871582, metric="kW"),
    Unit("Btu/h", _POWER, _BTU / 3600, metric="W"),
    Unit("MBH", _POWER, 1e3 * _BTU / 3600, metric="kW"),
    Unit("tons", _POWER, _TON, metric="kW"),
    Unit("Hz", _FREQUENCY, 1.0),
    Unit("rpm", _FREQUENCY, 1 / 60),
    Unit("cfm", _FLOW, _FOOT**3 / 60, metric="L/s"),
    Unit("L/s", _FLOW, 1e-3),
    Unit("ft³/h", _FLOW, _FOOT**3 / 3600, metric="m³/h"),
    Unit("m³/h", _FLOW, 1 / 3600),
    Unit("fpm", _SPEED, _FOOT / 60, metric="m/s"),
    Unit("m/s", _SPEED, 1.0),
    Unit("ft", _LENGTH, _FOOT, metric="m"),
    Unit("m", _LENGTH, 1.0),
    Unit("in.", _LENGTH, 0.0254, metric="mm"),
    Unit("mm", _LENGTH, 1e-3),
    Unit("micron", _PRESSURE, 0.133322387415),
    Unit("ft²", _AREA, _FOOT**2, metric="m²"),
    Unit("in.²", _AREA, 0.0254**2, metric="m²"),
    Unit("m²", _AREA, 1.0),
    Unit("ft³", _VOLUME, _FOOT**3, metric="m³"),
    Unit("m³", _VOLUME, 1.0),
    Unit("lb", _MASS, _POUND, metric="kg"),
    Unit("oz", _MASS, _POUND / 16, metric="g"),
    Unit("kg", _MASS, 1.0),
    Unit("g", _MASS, 1e-3),
    Unit("lb/h", _MASS_FLOW, _POUND / 3600, metric="kg/h"),
    Unit("kg/h", _MASS_FLOW, 1 / 3600),
    Unit("lb/ft³", _DENSITY, _POUND / _FOOT**3, metric="kg/m³"),
    Unit("kg/m³", _DENSITY, 1.0),
    Unit("ft³/lb", _SPECIFIC_VOLUME, _FOOT**3 / _POUND, metric="m³/kg"),
    Unit("m³/kg", _SPECIFIC_VOLUME, 1.0),
    Unit("Btu/lb", _SPECIFIC_ENERGY, _BTU / _POUND, metric="kJ/kg"),
    Unit("kJ/kg", _SPECIFIC_ENERGY, 1e3),
    Unit("Btu/ft³", _ENERGY_DENSITY, _BTU / _FOOT**3, metric="MJ/m³"),
    Unit("MJ/m³", _ENERGY_DENSITY, 1e6),
    Unit("Btu/Wh", PLAIN, _BTU / 3600),
    Unit("kW/ton", PLAIN, 1e3 / _TON),
    Unit("cfm/ton", _FLOW_PER_POWER, _FOOT**3 / 60 / _TON, metric="L/(s·kW)"),
    Unit("L/(s·kW)", _FLOW_PER_POWER, 1e-6),
    Unit("s", _TIME, 1.0),
    Unit("min", _TIME, 60.0),
    Unit("h", _TIME, 3600.0),
    Unit("day", _TIME, 86_400.0),
    Unit("Ω", _RESISTANCE, 1.0),
    Unit("MΩ", _RESISTANCE, 1e6),
)

UNITS: Mapping[str, Unit] = {unit.code: unit for unit in _TABLE}

_SPELLINGS = {
    "f": "°F", "degf": "°F", "c": "°C", "degc": "°C", "in wc": "in. w.c.", "inwc": "in. w.c.",
    "in wg": "in. w.c.", "inwg": "in. w.c.", "iwc": "in. w.c.", "inhg": "in. Hg",
    "in hg": "in. Hg", "in": "in.", '"': "in.", "inch": "in.", "ft2": "ft²", "sqft": "ft²",
    "sq ft": "ft²", "in2": "in.²", "ft3": "ft³", "cu ft": "ft³", "cfh": "ft³/h", "btuh": "Btu/h",
    "btu/hr": "Btu/h", "ton": "tons", "ohm": "Ω", "ua": "µA", "microamp": "µA", "l/s": "L/s",
    "volts": "V", "volt": "V", "amps": "A", "amp": "A", "sec": "s", "hr": "h", "days": "day",
    "microns": "micron", "kpag": "kPa", "kpaa": "kPa abs", "degrees": "°",
    "deg f": "°F", "deg c": "°C", "\N{GREEK SMALL LETTER MU}a": "µA", "ohms": "Ω",
    "megohm": "MΩ", "megohms": "MΩ", "lbs": "lb", "inches": "in.", "feet": "ft", "foot": "ft",
    "minutes": "min", "minute": "min", "seconds": "s", "hours": "h", "hour": "h",
    "watts": "W", '"wc': "in. w.c.", '"wg': "in. w.c.", '"hg': "in. Hg", "sq in": "in.²",
    '" wc': "in. w.c.", '" wg': "in. w.c.",
}  # fmt: skip
_BY_SPELLING = {code.lower(): code for code in UNITS} | _SPELLINGS


def unit(code: str) -> Unit:
    """Return the unit with this code.

    Raises:
        UnitError: No such unit; the message holds the near miss.
    """
    found = UNITS.get(code)
    if found is None:
        raise UnitError(
            spoken(
                "'{code}' is not a unit.{hint}",
                code=code,
                hint=near_miss(code, UNITS),
            )
        )
    return found


def convert(value: float, source: str, target: str) -> float:
    """Return `value` in unit `source` expressed in unit `target`.

    Raises:
        UnitError: The two are not of one kind (a gauge and an absolute pressure, say).
    """
    if source == target:
        return value
    given, wanted = unit(source), unit(target)
    if given.dimension != wanted.dimension or given.datum != wanted.datum:
        raise UnitError(
            spoken(
                "{source} cannot be turned into {target}: they measure different things.",
                source=source,
                target=target,
            )
        )
    return (value * given.scale + given.offset - wanted.offset) / wanted.scale


def difference_scale(source: str, target: str) -> float:
    """Return how many `target` one `source` is as a difference (1 K is 1.8 Δ°F).

    Raises:
        UnitError: The two are of different dimensions.
    """
    given, wanted = unit(source), unit(target)
    if given.dimension != wanted.dimension:
        raise UnitError(
            spoken(
                "{source} cannot be turned into {target}: they measure different things.",
                source=source,
                target=target,
            )
        )
    return given.scale / wanted.scale


def shown_unit(code: str, system: str) -> str:
    """Return the unit in which a quantity declared in `code` is shown in "IP" or "SI"."""
    return unit(code).metric or code if system == "SI" else code


def recognised(spelling: str) -> str | None:
    """Return the unit code a person means by `spelling` ("in wc", "kpa"), or None."""
    folded = re.sub(r"\s+", " ", spelling.strip().rstrip(".").lower())
    code = _BY_SPELLING.get(spelling.strip().lower()) or _BY_SPELLING.get(folded)
    return code or _BY_SPELLING.get(folded.replace("°", "").replace(".", ""))
