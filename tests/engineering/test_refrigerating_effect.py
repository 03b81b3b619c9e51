"""Refrigerating effect: the shipped polynomials against CoolProp, and the fit made again."""

from __future__ import annotations

import math

import numpy
import pytest
from hypothesis import given
from hypothesis import strategies as st

from commission.engineering import refrigerant, refrigerating_effect
from commission.engineering.refrigerant import REFRIGERANTS
from commission.engineering.refrigerating_effect import refrigerating_effect_btulb
from commission.errors import ReadingError

JOULES_PER_KG = 2326.0  # in a Btu/lb, by the international-table Btu


def _enthalpy(name: str, *state: str | float) -> float | None:
    from CoolProp.CoolProp import PropsSI

    try:
        found = PropsSI("H", *state, REFRIGERANTS[name].coolprop_name)
    except ValueError:
        return None
    return float(found) / JOULES_PER_KG if math.isfinite(found) else None


def _gas(name: str, dew_f: float, superheat: float) -> float | None:
    pascal = refrigerant.dew_psia(name, dew_f) * refrigerant.PASCAL_PER_PSI
    return _enthalpy(name, "T", _kelvin(dew_f + superheat), "P", pascal)


def _liquid(name: str, at: float) -> float | None:
    return _enthalpy(name, "T", _kelvin(at), "Q", 0)


def _kelvin(fahrenheit: float) -> float:
    return (fahrenheit + 459.67) * 5 / 9


@pytest.mark.parametrize("name", REFRIGERANTS)
def test_polynomials_are_coolprop(name: str) -> None:
    """Between the points that the fit used."""
    compared = 0
    for dew in (-17.5, 2.5, 27.5, 42.5, 52.5, 72.5):
        for superheat in (3, 12, 25, 38):
            gas, liquid = _gas(name, dew, superheat), _liquid(name, 90 + superheat)
            if gas is None or liquid is None:
                continue
            found = refrigerating_effect_btulb(name, dew, superheat, 90 + superheat)
            limit = refrigerating_effect.LARGEST_ERROR_BTULB
            assert found == pytest.approx(gas - liquid, abs=limit), (dew, superheat)
            compared += 1
    assert compared >= 20


@pytest.mark.parametrize("name", ["R-410A", "R-454B"])
def test_the_fit_made_again_gives_the_same(name: str) -> None:
    gases = [
        ([1, s, s**2, s**3, sh, sh * s, sh * s**2, sh**2], value)
        for s in range(-20, 76, 5)
        for sh in (1, 10, 20, 30, 40)
        if (value := _gas(name, s, sh)) is not None
    ]
    liquids = [
        ([1, t, t**2, t**3], v) for t in range(40, 141, 4) if (v := _liquid(name, t)) is not None
    ]
    fits = [
        numpy.linalg.lstsq(
            numpy.array([row for row, _ in points], float),
            numpy.array([value for _, value in points]),
            rcond=None,
        )[0]
        for points in (gases, liquids)
    ]
    for dew, superheat, at in ((45, 10, 95), (0, 30, 60), (70, 2, 130)):
        terms = [1, dew, dew**2, dew**3, superheat, superheat * dew, superheat * dew**2]
        gas = fits[0] @ [*terms, superheat**2]
        liquid = fits[1] @ [1, at, at**2, at**3]
        found = refrigerating_effect_btulb(name, dew, superheat, at)
        assert found == pytest.approx(float(gas - liquid), abs=0.02)


@given(
    st.sampled_from(list(REFRIGERANTS)), st.floats(-20, 75), st.floats(0, 39), st.floats(40, 139)
)
def test_more_superheat_and_colder_liquid_take_up_more(
    name: str, dew: float, superheat: float, liquid: float
) -> None:
    effect = refrigerating_effect_btulb(name, dew, superheat, liquid)
    assert refrigerating_effect_btulb(name, dew, superheat + 1, liquid) > effect
    assert refrigerating_effect_btulb(name, dew, superheat, liquid + 1) < effect


def test_outside_the_fit_is_refused() -> None:
    with pytest.raises(ReadingError, match="Superheat -3 Δ°F is outside 0 to 40 Δ°F"):
        refrigerating_effect_btulb("R-32", 45, -3, 95)
    with pytest.raises(ReadingError, match="cannot set up its mixture"):
        refrigerating_effect_btulb("R-438A", 45, 10, 95)
