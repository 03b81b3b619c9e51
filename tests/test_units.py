"""The unit table against pint, and the kinds that pint does not keep apart by hand."""

from __future__ import annotations

import math

import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st

from commission.errors import UnitError
from commission.units import UNITS, convert, recognised, shown_unit, unit

# Our code -> pint's name, all in pint 0.25's default registry. inch_H2O is written out:
# the conventional inch of water is 1 in of water of 1000 kg/m3 at standard gravity
# (NIST SP 811, appendix B.8: "inch of water, conventional", 249.0889 Pa).
PINT = {
    "": "dimensionless", "%": "percent", "ppm": "ppm", "lb/lb": "pound/pound",
    "kg/kg": "kg/kg", "gr/lb": "grain/pound", "g/kg": "g/kg",
    "Δ°F": "delta_degF", "K": "kelvin",
    "psia": "psi", "psig": "psi", "psi": "psi", "kPa": "kPa", "kPa abs": "kPa", "Pa": "Pa",
    "in. Hg": "inch_Hg", "in. w.c.": "1000*kg/m**3*standard_gravity*inch",
    "micron": "1e-3*mmHg",
    "V": "volt", "A": "ampere", "kA": "kiloampere", "µA": "microampere",
    "W": "watt", "kW": "kilowatt", "kVA": "kilovolt*ampere", "hp": "horsepower",
    "Btu/h": "Btu_it/hour", "MBH": "1000*Btu_it/hour", "tons": "12000*Btu_it/hour",
    "Hz": "hertz", "rpm": "1/minute", "cfm": "ft**3/minute", "L/s": "liter/second",
    "ft³/h": "ft**3/hour", "m³/h": "m**3/hour", "fpm": "ft/minute", "m/s": "m/s",
    "ft": "ft", "m": "m", "in.": "inch", "mm": "mm", "ft²": "ft**2", "in.²": "inch**2",
    "m²": "m**2", "ft³": "ft**3", "m³": "m**3", "lb": "pound", "oz": "ounce", "kg": "kg",
    "g": "gram", "lb/h": "pound/hour", "kg/h": "kg/hour", "lb/ft³": "pound/ft**3",
    "kg/m³": "kg/m**3", "ft³/lb": "ft**3/pound", "m³/kg": "m**3/kg",
    "Btu/lb": "Btu_it/pound", "kJ/kg": "kJ/kg", "Btu/ft³": "Btu_it/ft**3",
    "MJ/m³": "MJ/m**3", "Btu/Wh": "Btu_it/watt/hour",
    "kW/ton": "kilowatt/(12000*Btu_it/hour)", "cfm/ton": "ft**3/minute/(12000*Btu_it/hour)",
    "L/(s·kW)": "liter/second/kilowatt", "s": "second", "min": "minute", "h": "hour",
    "day": "day", "Ω": "ohm", "MΩ": "megaohm",
}  # fmt: skip
BY_HAND = {"°F", "°C", "°"}
PINT_BASES = ("[length]", "[mass]", "[time]", "[temperature]", "[current]")


@pytest.fixture(scope="module")
def registry() -> pint.UnitRegistry:
    return pint.UnitRegistry()


def test_every_unit_is_compared_with_pint_or_by_hand() -> None:
    assert set(PINT) | BY_HAND == set(UNITS)


@pytest.mark.parametrize("code", PINT)
def test_scale_and_dimension_are_those_of_pint(registry: pint.UnitRegistry, code: str) -> None:
    # Tolerance: pint's inHg and mmHg rest on a mercury density of 7 digits.
    quantity = registry.parse_expression(PINT[code]) * 1.0
    if not isinstance(quantity, registry.Quantity):
        quantity = registry.Quantity(quantity, "")
    base = quantity.to_base_units() if quantity.dimensionality else quantity.to("dimensionless")
    dimension = tuple(float(quantity.dimensionality.get(name, 0)) for name in PINT_BASES)
    assert unit(code).dimension == pytest.approx(dimension)
    assert unit(code).scale == pytest.approx(base.magnitude, rel=2e-7)


@pytest.mark.parametrize(("fahrenheit", "celsius"), [(32, 0), (212, 100), (-40, -40), (95, 35)])
def test_temperatures_on_a_scale(fahrenheit: float, celsius: float) -> None:
    # Definition of the two scales (exact).
    assert convert(fahrenheit, "°F", "°C") == pytest.approx(celsius, abs=1e-9)
    assert convert(celsius, "°C", "°F") == pytest.approx(fahrenheit, abs=1e-9)


def test_a_difference_of_18_fahrenheit_is_10_kelvin() -> None:
    assert convert(18, "Δ°F", "K") == pytest.approx(10)


@pytest.mark.parametrize(
    ("first", "second"),
    [
        ("°F", "Δ°F"), ("°C", "K"), ("psia", "psig"), ("psia", "psi"), ("kPa abs", "kPa"),
        ("in. Hg", "in. w.c."), ("in. Hg", "psig"), ("V", "A"), ("cfm", "fpm"), ("W", "A"),
        ("s", "Hz"), ("lb", "lb/h"), ("Btu/lb", "Btu/ft³"), ("ft", "ft²"), ("Ω", "V"),
    ],
)  # fmt: skip
def test_different_kinds_are_never_converted(first: str, second: str) -> None:
    for source, target in ((first, second), (second, first)):
        with pytest.raises(UnitError, match="they measure different things") as caught:
            convert(1.0, source, target)
        assert source in str(caught.value)
        assert target in str(caught.value)


def test_an_unknown_unit_is_refused_with_the_near_miss() -> None:
    with pytest.raises(UnitError, match=r"'psigg' is not a unit\. Did you mean 'psig'\?"):
        unit("psigg")
    with pytest.raises(UnitError, match="'furlong' is not a unit"):
        convert(1.0, "furlong", "ft")


METRIC_PAIRS = [(code, one.metric) for code, one in UNITS.items() if one.metric]


@pytest.mark.parametrize(("code", "metric"), METRIC_PAIRS)
def test_a_metric_unit_measures_the_same_and_is_itself_shown_as_it_is(
    code: str, metric: str
) -> None:
    assert unit(metric).dimension == unit(code).dimension
    assert unit(metric).datum == unit(code).datum
    assert shown_unit(code, "SI") == metric
    assert shown_unit(code, "IP") == code
    assert shown_unit(metric, "SI") == metric


@given(st.sampled_from(METRIC_PAIRS), st.floats(-1e6, 1e6))
def test_there_and_back_again(pair: tuple[str, str], value: float) -> None:
    code, metric = pair
    back = convert(convert(value, code, metric), metric, code)
    assert math.isclose(back, value, rel_tol=1e-12, abs_tol=1e-9)


@pytest.mark.parametrize("code", [code for code in UNITS if code])
def test_every_code_is_recognised_as_itself(code: str) -> None:
    assert recognised(code) == code


@pytest.mark.parametrize(
    ("spelling", "code"),
    [
        ("in wc", "in. w.c."), ("in. wg", "in. w.c."), ("in. w.g.", "in. w.c."),
        ("IN. W.C.", "in. w.c."), ("inwc", "in. w.c."), ("InHg", "in. Hg"), ("psig", "psig"),
        ("PSIG", "psig"), ("kpa", "kPa"), ("KPA", "kPa"), ("kPaG", "kPa"), ("degF", "°F"),
        ("F", "°F"), ("°f", "°F"), ("C", "°C"), ("deg C", "°C"), ("amps", "A"), ("Amp", "A"),
        ("volts", "V"), ("hr", "h"), ("sec", "s"), ("microns", "micron"), ("ft3", "ft³"),
        ("sq ft", "ft²"), ("sq. ft.", "ft²"), ("btuh", "Btu/h"), ("BTU/hr", "Btu/h"),
        ("CFM", "cfm"), ("cfh", "ft³/h"), ("ton", "tons"), ("l/s", "L/s"), ("ua", "µA"),
        ("μA", "µA"), ("MΩ", "MΩ"),
        ("megohm", "MΩ"), ("ohms", "Ω"), ("lbs", "lb"),
        ('" wc', "in. w.c."), ('"wc', "in. w.c."), ("inches", "in."), ("feet", "ft"),
        ("minutes", "min"), ("kw", "kW"), ('"', "in."),
        ("%", "%"), ("  psig ", "psig"),
    ],
)  # fmt: skip
def test_what_people_write_is_recognised(spelling: str, code: str) -> None:
    assert recognised(spelling) == code


@pytest.mark.parametrize("spelling", ["furlong", "psi per hour", "m a", "x", "^3", "/4"])
def test_what_is_no_unit_is_not_recognised(spelling: str) -> None:
    assert recognised(spelling) is None
