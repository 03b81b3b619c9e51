"""Combustion against Cantera (GRI-Mech 3.0), CoolProp's water, and its own inverses."""

from __future__ import annotations

import itertools
from collections.abc import Mapping
from functools import cache
from typing import Any

import cantera
import pytest
from hypothesis import given
from hypothesis import strategies as st

from commission.engineering import combustion
from commission.errors import ReadingError

NAMES = {"methane": "CH4", "ethane": "C2H6", "propane": "C3H8", "butane": "C4H10,n-butane",
         "nitrogen": "N2", "carbon_dioxide": "CO2"}  # fmt: skip
PERCENT = {"natural gas": combustion.NATURAL_GAS_PERCENT, "propane": {"propane": 100.0}}
AIR = {"O2": 20.95, "N2": 79.05}
FUELS = tuple(PERCENT)
# J/mol, standard enthalpies of formation of liquid water, 298.15 K (CODATA).
LIQUID_WATER = -285_830.0
CARBON_MONOXIDE_HEAT = 283_000.0


@cache
def _gas() -> Any:
    """GRI-Mech 3.0's species, with n-butane of the NASA database."""
    butane = [
        one for one in cantera.Species.list_from_file("nasa_gas.yaml") if one.name in NAMES.values()
    ]
    have = cantera.Species.list_from_file("gri30.yaml")
    return cantera.Solution(
        thermo="ideal-gas", species=[*have, *(one for one in butane if "butane" in one.name)]
    )


def _shares(percent: Mapping[str, float]) -> dict[str, float]:
    total = sum(percent.values())
    return {NAMES[part]: share / total for part, share in percent.items()}


def _enthalpy(species: str, temperature_f: float) -> float:
    """Molar enthalpy with formation, J/mol."""
    gas = _gas()
    gas.TPX = (temperature_f + 459.67) * 5 / 9, 101_325, {species: 1}
    return float(gas.enthalpy_mole) / 1000


def _flue(percent: Mapping[str, float], excess: float) -> dict[str, float]:
    """Moles after complete combustion of a mole, by Cantera's element balance of the mixture."""
    gas, shares = _gas(), _shares(percent)
    gas.TPX = 300, 101_325, {"N2": 1}
    gas.set_equivalence_ratio(1 / (1 + excess), shares, AIR)
    burning = [name for name in shares if gas.n_atoms(name, "H")]
    fuel_moles = sum(float(gas[name].X[0]) for name in burning) / sum(shares[n] for n in burning)
    atoms = {
        element: sum(
            float(gas[name].X[0]) * gas.n_atoms(name, element) for name in {*shares, "O2", "N2"}
        )
        / fuel_moles
        for element in "CHON"
    }
    left = (atoms["O"] - 2 * atoms["C"] - atoms["H"] / 2) / 2
    return {"CO2": atoms["C"], "H2O": atoms["H"] / 2, "O2": left, "N2": atoms["N"] / 2}


def _heating_value(percent: Mapping[str, float], temperature_f: float = 77) -> float:
    """J/mol of fuel, gas to liquid water whose formation is that at 77 °F."""
    flue = _flue(percent, 0)
    fuel = sum(share * _enthalpy(name, temperature_f) for name, share in _shares(percent).items())
    inert = _shares(percent)
    oxygen = flue["CO2"] - inert.get("CO2", 0) + flue["H2O"] / 2
    carbon_dioxide = flue["CO2"] - inert.get("CO2", 0)
    fuel -= sum(inert.get(name, 0) * _enthalpy(name, temperature_f) for name in ("CO2", "N2"))
    products = carbon_dioxide * _enthalpy("CO2", temperature_f) + flue["H2O"] * LIQUID_WATER
    return fuel + oxygen * _enthalpy("O2", temperature_f) - products


def _oxygen_percent(flue: dict[str, float]) -> float:
    dry = sum(moles for name, moles in flue.items() if name != "H2O")
    return 100 * flue["O2"] / dry


def _efficiency(
    percent: Mapping[str, float], excess: float, stack_f: float, air_f: float, ppm: float
) -> float:
    """Higher-heating-value efficiency from Cantera's enthalpies and CoolProp's water."""
    from CoolProp.CoolProp import PropsSI

    flue = _flue(percent, excess)
    kelvin = (air_f + 459.67) * 5 / 9
    vapor, liquid = (PropsSI("Hmolar", "T", max(kelvin, 273.16), "Q", q, "Water") for q in (1, 0))
    sensible = sum(
        moles * (_enthalpy(name, stack_f) - _enthalpy(name, air_f)) for name, moles in flue.items()
    )
    dry = sum(moles for name, moles in flue.items() if name != "H2O")
    losses = sensible + flue["H2O"] * (vapor - liquid) + dry * ppm * 1e-6 * CARBON_MONOXIDE_HEAT
    return 100 * (1 - losses / _heating_value(percent))


@pytest.mark.parametrize("fuel", FUELS)
@pytest.mark.parametrize("excess", [0.0, 0.1, 0.25, 0.5, 1.0, 2.0])
def test_excess_air_and_carbon_dioxide_from_oxygen(fuel: str, excess: float) -> None:
    flue = _flue(PERCENT[fuel], excess)
    oxygen = _oxygen_percent(flue)
    dry = sum(moles for name, moles in flue.items() if name != "H2O")
    assert combustion.excess_air_percent(fuel, max(oxygen, 0)) == pytest.approx(
        100 * excess, abs=1e-6
    )
    carbon_dioxide = combustion.carbon_dioxide_from_oxygen_percent(fuel, max(oxygen, 0))
    assert carbon_dioxide == pytest.approx(100 * flue["CO2"] / dry, rel=1e-9)


def test_complete_combustion_is_the_equilibrium() -> None:
    """Cantera's equilibrium of natural gas at 5 % oxygen and 600 K."""
    gas = cantera.Solution("gri30.yaml")
    percent = {**combustion.NATURAL_GAS_PERCENT, "butane": 0.0}
    fuel = combustion.gas_of_analysis("without butane", percent)
    excess = combustion.excess_air_percent_of(fuel, 5) / 100
    shares = {name: share for name, share in _shares(percent).items() if share}
    gas.set_equivalence_ratio(1 / (1 + excess), shares, AIR)
    gas.TP = 600, 101_325
    gas.equilibrate("TP")
    dry = 1 - float(gas["H2O"].X[0])
    assert 100 * float(gas["O2"].X[0]) / dry == pytest.approx(5, abs=0.002)
    found = fuel.carbon_dioxide_max_percent * (20.95 - 5) / 20.95
    assert found == pytest.approx(100 * float(gas["CO2"].X[0]) / dry, abs=0.003)


@pytest.mark.parametrize(("fuel", "constant", "most"), [
    ("natural gas", 0.8978, 11.84),
    ("propane", 0.9162, 13.72),
])  # fmt: skip
def test_constants(fuel: str, constant: float, most: float) -> None:
    """Propane computed beforehand with Cantera 3.2.0; natural gas by `_flue` above."""
    assert combustion.FUELS[fuel].excess_air_constant == pytest.approx(constant, abs=5e-5)
    assert combustion.carbon_dioxide_max_percent(fuel) == pytest.approx(most, abs=0.005)


def test_methane_alone() -> None:
    """Computed beforehand with Cantera 3.2.0: k = 0.8952, CO2 max 11.70, 8.908 % CO2 at 5 % O2;
    82.44 % at 5 % O2, 370 °F stack and 70 °F air."""
    methane = combustion.gas_of_analysis("methane", {"methane": 100.0})
    assert methane.excess_air_constant == pytest.approx(0.8952, abs=5e-5)
    assert methane.carbon_dioxide_max_percent == pytest.approx(11.70, abs=0.005)
    left = (20.95 - 5) / 20.95
    assert methane.carbon_dioxide_max_percent * left == pytest.approx(8.908, abs=0.003)
    found = combustion.efficiency_percent_of(methane, 5, 370, 70, 0)
    assert found == pytest.approx(82.44, abs=0.015)


@pytest.mark.parametrize("fuel", FUELS)
def test_heating_value(fuel: str) -> None:
    """Btu/lbmol at 77 °F, gas to liquid water."""
    oracle = _heating_value(PERCENT[fuel]) * 453.59237 / 1055.05585262
    assert combustion.FUELS[fuel].higher_heating_value == pytest.approx(oracle, rel=2e-4)


@pytest.mark.parametrize(("part", "values"), combustion.COMPONENTS.items())
def test_volume_heating_values_are_those_of_thermochemistry(
    part: str, values: combustion.Component
) -> None:
    """GPA 2145's Btu/ft³ at 60 °F against Cantera's Btu/lbmol, liquid water by CoolProp."""
    from CoolProp.CoolProp import PropsSI

    cold, warm = ((at + 459.67) * 5 / 9 for at in (60, 77))
    liquid = PropsSI("Hmolar", "T", warm, "Q", 0, "Water")
    liquid -= PropsSI("Hmolar", "T", cold, "Q", 0, "Water")
    joules = _heating_value({part: 100.0}, 60) + values.hydrogen / 2 * liquid
    per_ft3 = joules * 453.59237 / 1055.05585262 / (10.731577 * 519.67 / 14.696)
    assert values.heating_value_btuft3 == pytest.approx(per_ft3, rel=6e-4)


SUPPLIES = (
    {"methane": 100.0},
    combustion.NATURAL_GAS_PERCENT,
    {"methane": 90.67, "ethane": 4.53, "propane": 0.83, "butane": 0.38, "nitrogen": 3.13,
     "carbon_dioxide": 0.47},
    {"methane": 87.0, "ethane": 9.0, "propane": 1.5, "nitrogen": 1.5, "carbon_dioxide": 1.0},
)  # fmt: skip


@pytest.mark.parametrize("percent", SUPPLIES)
@pytest.mark.parametrize("excess", [0.1, 0.3, 0.9])
def test_a_gas_of_analysis(percent: Mapping[str, float], excess: float) -> None:
    gas = combustion.gas_of_analysis("supply", percent)
    flue = _flue(percent, excess)
    oxygen = _oxygen_percent(flue)
    dry = sum(moles for name, moles in flue.items() if name != "H2O")
    atoms = (gas.carbon, gas.hydrogen, gas.nitrogen, gas.carbon_dioxide)
    assert combustion.excess_air_of_gas_percent(*atoms, oxygen) == pytest.approx(100 * excess)
    back = combustion.oxygen_from_carbon_dioxide_max_percent(
        100 * flue["CO2"] / dry, gas.carbon_dioxide_max_percent
    )
    assert back == pytest.approx(oxygen, abs=1e-9)
    without_excess = sum(moles for name, moles in _flue(percent, 0).items() if name != "H2O")
    assert combustion.dry_flue_moles(*atoms) == pytest.approx(without_excess, rel=1e-9)
    heat = gas.higher_heating_value / combustion.FT3_PER_LBMOL
    found = combustion.efficiency_of_gas_percent(*atoms, heat, oxygen, 420, 70, 50)
    assert found == pytest.approx(_efficiency(percent, excess, 420, 70, 50), abs=0.02)


@pytest.mark.parametrize(("four", "published"), [
    ((95.0, 3.2, 0.2, 0.09), 38.0),
    ((93.9, 4.2, 0.3, 0.09), 38.7),
])  # fmt: skip
def test_analysis_gives_the_published_heating_value(
    four: tuple[float, float, float, float], published: float
) -> None:
    """MJ/m³, dry, gross, at 15 °C and 101.325 kPa, on two issues of a gas utility's page of its
    typical analysis; typical values are not of one sample, hence 0.25."""
    megajoules = combustion.heating_value_btuft3(*four) * 14.696 / 14.73 * 1055.056e-6 / 0.0283168
    assert megajoules * 288.706 / 288.15 == pytest.approx(published, abs=0.25)


def test_an_analysis_must_add_up() -> None:
    with pytest.raises(ReadingError, match="Sum of the analysis 90 % is outside 99 to 101 %"):
        combustion.gas_of_analysis("x", {"methane": 90.0})
    with pytest.raises(ReadingError, match="'helium' is not a part"):
        combustion.gas_of_analysis("x", {"methane": 99.0, "helium": 1.0})
    with pytest.raises(ReadingError, match="cannot be below 0 %"):
        combustion.gas_of_analysis("x", {"methane": 101.0, "nitrogen": -1.0})


WORKING = list(itertools.product(FUELS, (0.1, 0.28, 0.6, 1.2), (270, 370, 570, 770), (40, 70, 100)))


@pytest.mark.parametrize(("fuel", "excess", "stack", "air"), WORKING)
def test_efficiency(fuel: str, excess: float, stack: float, air: float) -> None:
    oxygen = _oxygen_percent(_flue(PERCENT[fuel], excess))
    for ppm in (0, 400):
        found = combustion.combustion_efficiency_percent(fuel, oxygen, stack, air, ppm)
        assert found == pytest.approx(_efficiency(PERCENT[fuel], excess, stack, air, ppm), abs=0.02)


@pytest.mark.parametrize("fuel", FUELS)
def test_efficiency_at_the_ends_of_its_range(fuel: str) -> None:
    for excess, stack, air in ((0.02, 145, 60), (2.0, 1000, 70), (0.3, 900, 135), (0.5, 400, 35)):
        oxygen = _oxygen_percent(_flue(PERCENT[fuel], excess))
        found = combustion.combustion_efficiency_percent(fuel, oxygen, stack, air, 0)
        assert found == pytest.approx(_efficiency(PERCENT[fuel], excess, stack, air, 0), abs=0.06)


@pytest.mark.parametrize(("fuel", "percent"), [("natural gas", 82.53), ("propane", 84.45)])
def test_efficiency_spot_checks(fuel: str, percent: float) -> None:
    """5 % O2, 370 °F stack, 70 °F air, by Cantera 3.2.0 (methane alone 82.44)."""
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
    with pytest.raises(ReadingError, match=r"Oxygen 21\.4 % is above that of air itself"):
        combustion.excess_air_percent("natural gas", 21.4)
    with pytest.raises(ReadingError, match="choose natural gas or propane"):
        combustion.excess_air_percent("natural-gas!", 5)
    with pytest.raises(ReadingError, match="condenses"):
        combustion.combustion_efficiency_percent("propane", 5, 120, 70, 0)
