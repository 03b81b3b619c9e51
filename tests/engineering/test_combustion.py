"""Combustion against Cantera (GRI-Mech 3.0), CoolProp's water, and its own inverses."""

from __future__ import annotations

import itertools
from functools import cache
from typing import Any

import cantera
import pytest
from hypothesis import given
from hypothesis import strategies as st

from commission.engineering import combustion
from commission.errors import ReadingError

SPECIES = {"natural gas": "CH4", "propane": "C3H8"}
AIR = "O2:20.95, N2:79.05"
FUELS = tuple(SPECIES)
# J/mol, standard enthalpies of formation of liquid water, 298.15 K (CODATA).
LIQUID_WATER = -285_830.0
CARBON_MONOXIDE_HEAT = 283_000.0


@cache
def _gas() -> Any:
    return cantera.Solution("gri30.yaml")


def _enthalpy(species: str, temperature_f: float) -> float:
    """Molar enthalpy with formation, J/mol."""
    gas = _gas()
    gas.TPX = (temperature_f + 459.67) * 5 / 9, 101_325, {species: 1}
    return float(gas.enthalpy_mole) / 1000


def _flue(fuel: str, excess: float) -> dict[str, float]:
    """Moles after complete combustion of a mole, by Cantera's element balance of the mixture."""
    gas = _gas()
    gas.set_equivalence_ratio(1 / (1 + excess), SPECIES[fuel], AIR)
    moles = {name: float(gas[name].X[0]) for name in (SPECIES[fuel], "O2", "N2")}
    scale = 1 / moles[SPECIES[fuel]]
    carbon = gas.n_atoms(SPECIES[fuel], "C")
    hydrogen = gas.n_atoms(SPECIES[fuel], "H")
    left = moles["O2"] * scale - carbon - hydrogen / 4
    return {"CO2": carbon, "H2O": hydrogen / 2, "O2": left, "N2": moles["N2"] * scale}


def _oxygen_percent(flue: dict[str, float]) -> float:
    dry = sum(moles for name, moles in flue.items() if name != "H2O")
    return 100 * flue["O2"] / dry


def _efficiency(fuel: str, excess: float, stack_f: float, air_f: float, ppm: float) -> float:
    """Higher-heating-value efficiency from Cantera's enthalpies and CoolProp's water."""
    from CoolProp.CoolProp import PropsSI

    flue = _flue(fuel, excess)
    kelvin = (air_f + 459.67) * 5 / 9
    vapor, liquid = (PropsSI("Hmolar", "T", max(kelvin, 273.16), "Q", q, "Water") for q in (1, 0))
    sensible = sum(
        moles * (_enthalpy(name, stack_f) - _enthalpy(name, air_f)) for name, moles in flue.items()
    )
    dry = sum(moles for name, moles in flue.items() if name != "H2O")
    losses = sensible + flue["H2O"] * (vapor - liquid) + dry * ppm * 1e-6 * CARBON_MONOXIDE_HEAT
    products = flue["CO2"] * _enthalpy("CO2", 77) + flue["H2O"] * LIQUID_WATER
    need = flue["CO2"] + flue["H2O"] / 2
    heating_value = _enthalpy(SPECIES[fuel], 77) + need * _enthalpy("O2", 77) - products
    return 100 * (1 - losses / heating_value)


@pytest.mark.parametrize("fuel", FUELS)
@pytest.mark.parametrize("excess", [0.0, 0.1, 0.25, 0.5, 1.0, 2.0])
def test_excess_air_and_carbon_dioxide_from_oxygen(fuel: str, excess: float) -> None:
    flue = _flue(fuel, excess)
    oxygen = _oxygen_percent(flue)
    dry = sum(moles for name, moles in flue.items() if name != "H2O")
    assert combustion.excess_air_percent(fuel, max(oxygen, 0)) == pytest.approx(
        100 * excess, abs=1e-6
    )
    carbon_dioxide = combustion.carbon_dioxide_from_oxygen_percent(fuel, max(oxygen, 0))
    assert carbon_dioxide == pytest.approx(100 * flue["CO2"] / dry, rel=1e-9)


def test_complete_combustion_is_the_equilibrium() -> None:
    """Cantera's equilibrium of methane at 28.1 % excess air and 600 K: 5.000 % O2, 8.908 % CO2."""
    gas = _gas()
    excess = combustion.excess_air_percent("natural gas", 5) / 100
    gas.set_equivalence_ratio(1 / (1 + excess), "CH4", AIR)
    gas.TP = 600, 101_325
    gas.equilibrate("TP")
    dry = 1 - float(gas["H2O"].X[0])
    assert 100 * float(gas["O2"].X[0]) / dry == pytest.approx(5, abs=0.002)
    found = combustion.carbon_dioxide_from_oxygen_percent("natural gas", 5)
    assert found == pytest.approx(100 * float(gas["CO2"].X[0]) / dry, abs=0.003)


@pytest.mark.parametrize(("fuel", "constant", "most"), [
    ("natural gas", 0.8952, 11.70),
    ("propane", 0.9162, 13.72),
])  # fmt: skip
def test_constants(fuel: str, constant: float, most: float) -> None:
    """Computed beforehand with Cantera 3.2.0."""
    assert combustion.FUELS[fuel].excess_air_constant == pytest.approx(constant, abs=5e-5)
    assert combustion.carbon_dioxide_max_percent(fuel) == pytest.approx(most, abs=0.005)


@pytest.mark.parametrize("fuel", FUELS)
def test_heating_value(fuel: str) -> None:
    """Btu/lbmol at 77 °F, gas to liquid water."""
    need = combustion.FUELS[fuel].oxygen
    products = combustion.FUELS[fuel].carbon * _enthalpy("CO2", 77)
    products += combustion.FUELS[fuel].water * LIQUID_WATER
    joules = _enthalpy(SPECIES[fuel], 77) + need * _enthalpy("O2", 77) - products
    oracle = joules * 453.59237 / 1055.05585262
    assert combustion.FUELS[fuel].higher_heating_value == pytest.approx(oracle, rel=2e-4)


WORKING = list(itertools.product(FUELS, (0.1, 0.28, 0.6, 1.2), (270, 370, 570, 770), (40, 70, 100)))


@pytest.mark.parametrize(("fuel", "excess", "stack", "air"), WORKING)
def test_efficiency(fuel: str, excess: float, stack: float, air: float) -> None:
    oxygen = _oxygen_percent(_flue(fuel, excess))
    for ppm in (0, 400):
        found = combustion.combustion_efficiency_percent(fuel, oxygen, stack, air, ppm)
        assert found == pytest.approx(_efficiency(fuel, excess, stack, air, ppm), abs=0.02)


@pytest.mark.parametrize("fuel", FUELS)
def test_efficiency_at_the_ends_of_its_range(fuel: str) -> None:
    for excess, stack, air in ((0.02, 145, 60), (2.0, 1000, 70), (0.3, 900, 135), (0.5, 400, 35)):
        oxygen = _oxygen_percent(_flue(fuel, excess))
        found = combustion.combustion_efficiency_percent(fuel, oxygen, stack, air, 0)
        assert found == pytest.approx(_efficiency(fuel, excess, stack, air, 0), abs=0.06)


@pytest.mark.parametrize(("fuel", "percent"), [("natural gas", 82.44), ("propane", 84.45)])
def test_efficiency_spot_checks(fuel: str, percent: float) -> None:
    """5 % O2, 370 °F stack, 70 °F air, computed beforehand with Cantera 3.2.0."""
    found = combustion.combustion_efficiency_percent(fuel, 5, 370, 70, 0)
    assert found == pytest.approx(percent, abs=0.015)


FUEL, OXYGEN = st.sampled_from(FUELS), st.floats(0, 15)


@given(FUEL, OXYGEN)
def test_oxygen_and_carbon_dioxide_go_round(fuel: str, oxygen: float) -> None:
    carbon_dioxide = combustion.carbon_dioxide_from_oxygen_percent(fuel, oxygen)
    back = combustion.oxygen_from_carbon_dioxide_percent(fuel, carbon_dioxide)
    assert back == pytest.approx(oxygen, abs=1e-9)


@given(FUEL, OXYGEN, OXYGEN, st.floats(200, 900), st.floats(0, 1000))
def test_more_air_or_more_carbon_monoxide_never_helps(
    fuel: str, first: float, second: float, stack: float, ppm: float
) -> None:
    low, high = sorted((first, second))

    def efficiency(oxygen: float, ppm: float) -> float:
        return combustion.combustion_efficiency_percent(fuel, oxygen, stack, 70, ppm)

    assert efficiency(high, 0) <= efficiency(low, 0) + 1e-9
    assert efficiency(low, ppm) <= efficiency(low, 0)
    assert combustion.excess_air_percent(fuel, high) >= combustion.excess_air_percent(fuel, low)


@given(st.floats(0, 2000), OXYGEN)
def test_air_free_is_never_less_than_measured(ppm: float, oxygen: float) -> None:
    assert combustion.co_air_free_ppm(ppm, oxygen) >= ppm * (1 - 1e-12)


def test_refusals_name_value_and_cure() -> None:
    with pytest.raises(ReadingError, match=r"Oxygen 18 % is outside 0 to 15 %\. .*room air"):
        combustion.co_air_free_ppm(50, 18)
    with pytest.raises(ReadingError, match="choose natural gas or propane"):
        combustion.excess_air_percent("natural-gas!", 5)
    with pytest.raises(ReadingError, match="condenses"):
        combustion.combustion_efficiency_percent("propane", 5, 120, 70, 0)
