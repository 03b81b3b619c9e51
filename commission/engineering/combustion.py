"""Combustion of natural gas and propane by stoichiometry, from a dry flue-gas reading.

Carbon monoxide kills. Stop and ventilate on a rising CO reading; set a burner only as its
literature says. The certification limit of 400 ppm air-free is not a target for tuning.

Natural gas is a gas utility's published typical analysis (`NATURAL_GAS_PERCENT`), whose
greatest CO2 is 11.84 %; methane alone gives 11.70 %. A supplier's own analysis makes a gas by
`gas_of_analysis`. Air is dry with 20.95 % oxygen.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from commission.engineering.possible import (
    Bounds,
    refuse_below,
    refuse_not_above,
    refuse_outside,
)
from commission.errors import ReadingError
from commission.language import listed, near_miss, spoken, to_say

AIR_OXYGEN = 0.2095
AIR_OXYGEN_PERCENT = 20.95
OXYGEN_PERCENT: Bounds = (0.0, 15.0)
CARBON_MONOXIDE_PPM: Bounds = (0.0, 20_000.0)
STACK_F: Bounds = (140.0, 1000.0)
COMBUSTION_AIR_F: Bounds = (-40.0, 140.0)
REFERENCE_F = 77.0
# Heat of vaporisation of water at 77 °F and its slope, Btu/lbmol and Btu/(lbmol·°F).
WATER_LATENT, WATER_LATENT_SLOPE = 18_918.0, -9.7
# Heat of burning carbon monoxide, 283.0 kJ/mol, Btu/lbmol.
CARBON_MONOXIDE_HEAT = 283.0e3 * 453.59237 / 1055.05585262
DRAWS_AIR = to_say("The probe draws in room air or the flame is off; seal it and wait for steady.")
# Standard cubic feet (14.73 psia, 60 °F, ideal) in a pound-mole.
FT3_PER_LBMOL = 10.731577 * 519.67 / 14.73
TO_14_73 = 14.73 / 14.696
TOO_MUCH = to_say(
    "Complete combustion cannot make more: check the fuel chosen and zero the analyser."
)
ANALYSIS_SUM_PERCENT: Bounds = (99.0, 101.0)

# Enthalpy above 77 °F, Btu/lbmol, as a cubic in (t - 77 °F); fitted to the NASA polynomials
# of GRI-Mech 3.0 as Cantera 3.2 evaluates them, within 0.2 % from 140 to 1000 °F.
CARBON_DIOXIDE_HEAT = (8.89560, 2.7960e-3, -6.9532e-7)
WATER_HEAT = (7.99929, 4.7980e-4, 1.6757e-7)
OXYGEN_HEAT = (6.97922, 6.1973e-4, 5.7e-10)
NITROGEN_HEAT = (6.95199, 8.7182e-5, 1.5915e-7)
Cubic = tuple[float, float, float]


@dataclass(frozen=True, slots=True)
class Fuel:
    """What follows from burning one mole of a gas in dry air.

    `carbon` and `hydrogen` are moles of atoms that burn; nitrogen and carbon dioxide that
    come with the gas pass through.
    """

    name: str
    carbon: float
    hydrogen: float
    higher_heating_value: float  # Btu/lbmol at 77 °F
    nitrogen: float = 0.0
    carbon_dioxide: float = 0.0

    @property
    def oxygen(self) -> float:
        """Moles of oxygen that just burn it."""
        return self.carbon + self.hydrogen / 4

    @property
    def water(self) -> float:
        """Moles of water formed."""
        return self.hydrogen / 2

    @property
    def dry_flue(self) -> float:
        """Moles of dry flue gas without excess air."""
        return self.flue_carbon_dioxide + self.flue_nitrogen

    @property
    def flue_carbon_dioxide(self) -> float:
        """Moles of carbon dioxide in the flue gas."""
        return self.carbon + self.carbon_dioxide

    @property
    def flue_nitrogen(self) -> float:
        """Moles of nitrogen in the flue gas without excess air."""
        return self.nitrogen + self.oxygen * (1 - AIR_OXYGEN) / AIR_OXYGEN

    @property
    def excess_air_constant(self) -> float:
        """k of excess air = k O2 / (20.95 - O2)."""
        return AIR_OXYGEN * self.dry_flue / self.oxygen

    @property
    def carbon_dioxide_max_percent(self) -> float:
        """CO2 in dry flue gas without excess air, %."""
        return 100 * self.flue_carbon_dioxide / self.dry_flue

    @property
    def flue_heat(self) -> Cubic:
        """Sensible heat of the flue gas without excess air, cubic in (t - 77 °F)."""
        return _mixed(
            (self.flue_carbon_dioxide, CARBON_DIOXIDE_HEAT),
            (self.water, WATER_HEAT),
            (self.flue_nitrogen, NITROGEN_HEAT),
        )

    @property
    def air_heat(self) -> Cubic:
        """Sensible heat of the air that just burns it, cubic in (t - 77 °F)."""
        nitrogen = self.oxygen * (1 - AIR_OXYGEN) / AIR_OXYGEN
        return _mixed((self.oxygen, OXYGEN_HEAT), (nitrogen, NITROGEN_HEAT))


def _mixed(*parts: tuple[float, Cubic]) -> Cubic:
    first, second, third = (sum(moles * heat[at] for moles, heat in parts) for at in range(3))
    return first, second, third


@dataclass(frozen=True, slots=True)
class Component:
    """A combustible part of natural gas."""

    carbon: int
    hydrogen: int
    higher_heating_value: float  # Btu/lbmol at 77 °F, gas to liquid water
    heating_value_btuft3: float  # at 14.696 psia and 60 °F, ideal


# Btu/lbmol: GRI-Mech 3.0 by Cantera, butane the NASA database's (n-butane). Btu/ft³:
# GPA 2145 (from memory), tested against the same thermochemistry.
COMPONENTS: Mapping[str, Component] = MappingProxyType(
    {
        "methane": Component(1, 4, 382_874.0, 1010.0),
        "ethane": Component(2, 6, 670_961.0, 1769.7),
        "propane": Component(3, 8, 954_421.0, 2516.1),
        "butane": Component(4, 10, 1_237_056.0, 3262.3),
    }
)
# Mole %, a gas utility's published typical analysis; butanes and heavier, 0.09 %, as butane.
NATURAL_GAS_PERCENT: Mapping[str, float] = MappingProxyType(
    {
        "methane": 95.0,
        "ethane": 3.2,
        "propane": 0.2,
        "butane": 0.09,
        "nitrogen": 1.0,
        "carbon_dioxide": 0.5,
    }
)


def gas_of_analysis(name: str, mole_percent: Mapping[str, float]) -> Fuel:
    """Return a gas from its analysis, the parts taken as shares of their sum.

    Args:
        name: What to call it.
        mole_percent: Per cent by volume of methane, ethane, propane, butane (with all that is
            heavier), nitrogen, carbon_dioxide.
    Raises:
        ReadingError: A part that is not known or negative, or a sum outside 99 to 101 %.
    Source: Stoichiometry of the mixture.
    """
    for part, percent in mole_percent.items():
        if part not in (*COMPONENTS, "nitrogen", "carbon_dioxide"):
            raise ReadingError(
                spoken(
                    "'{part}' is not a part of a gas analysis.",
                    part=part,
                )
            )
        refuse_below("Share of a part", percent, 0, "%", "Read the analysis again.", part)
    total = math.fsum(mole_percent.values())
    refuse_outside("Sum of the analysis", total, ANALYSIS_SUM_PERCENT, "%", "A part is missing.")
    shares = {part: percent / total for part, percent in mole_percent.items()}
    burning = [(shares.get(part, 0.0), row) for part, row in COMPONENTS.items()]
    return Fuel(
        name,
        math.fsum(share * row.carbon for share, row in burning),
        math.fsum(share * row.hydrogen for share, row in burning),
        math.fsum(share * row.higher_heating_value for share, row in burning),
        shares.get("nitrogen", 0.0),
        shares.get("carbon_dioxide", 0.0),
    )


FUELS: Mapping[str, Fuel] = MappingProxyType(
    {
        "natural gas": gas_of_analysis("natural gas", NATURAL_GAS_PERCENT),
        "propane": gas_of_analysis("propane", {"propane": 100.0}),
    }
)


def fuel_named(name: str) -> Fuel:
    """Return the fuel.

    Raises:
        ReadingError: Neither natural gas nor propane.
    """
    found = FUELS.get(name.lower())
    if found is None:
        hint = near_miss(name, FUELS)
        raise ReadingError(
            spoken(
                "'{name}' is not a fuel; choose {fuels}.{hint}",
                name=name,
                fuels=listed(map(spoken, FUELS), "or"),
                hint=hint,
            )
        )
    return found


def excess_air_percent(fuel: str, oxygen_percent: float) -> float:
    """Return excess air from oxygen in dry flue gas, 100 k O2 / (20.95 - O2), %.

    Args:
        fuel: "natural gas" or "propane".
        oxygen_percent: Oxygen, % of dry flue gas.
    Raises:
        ReadingError: Unknown fuel or oxygen outside 0 to 15 %.
    Valid: complete combustion.
    Source: Stoichiometry; k = 0.8978 for natural gas, 0.9162 for propane (methane 0.8952).
    """
    return excess_air_percent_of(fuel_named(fuel), oxygen_percent)


def excess_air_percent_of(burnt: Fuel, oxygen_percent: float) -> float:
    """Return `excess_air_percent` of any gas.

    Raises:
        ReadingError: Oxygen outside 0 to 15 %.
    """
    _refuse_oxygen(oxygen_percent)
    left = AIR_OXYGEN_PERCENT - oxygen_percent
    return 100 * burnt.excess_air_constant * oxygen_percent / left


def carbon_dioxide_max_percent(fuel: str) -> float:
    """Return the CO2 in dry flue gas without excess air, %.

    Raises:
        ReadingError: Unknown fuel.
    Source: Stoichiometry.
    """
    return fuel_named(fuel).carbon_dioxide_max_percent


def carbon_dioxide_from_oxygen_percent(fuel: str, oxygen_percent: float) -> float:
    """Return CO2 in dry flue gas from its oxygen, CO2 max (20.95 - O2) / 20.95, %.

    Raises:
        ReadingError: Unknown fuel or oxygen outside 0 to 15 %.
    Source: Stoichiometry, complete combustion.
    """
    _refuse_oxygen(oxygen_percent)
    left = (AIR_OXYGEN_PERCENT - oxygen_percent) / AIR_OXYGEN_PERCENT
    return fuel_named(fuel).carbon_dioxide_max_percent * left


def oxygen_from_carbon_dioxide_percent(fuel: str, carbon_dioxide_percent: float) -> float:
    """Return oxygen in dry flue gas from its CO2, 20.95 (1 - CO2 / CO2 max), %.

    Raises:
        ReadingError: Unknown fuel, negative CO2 or more than the fuel can make.
    Valid: complete combustion with excess air; below it CO2 falls again.
    Source: Stoichiometry.
    """
    return oxygen_from_carbon_dioxide_max_percent(
        carbon_dioxide_percent, fuel_named(fuel).carbon_dioxide_max_percent
    )


def oxygen_from_carbon_dioxide_max_percent(
    carbon_dioxide_percent: float, carbon_dioxide_max: float
) -> float:
    """Return oxygen from CO2 and the greatest CO2 that the gas can make, %.

    Args:
        carbon_dioxide_percent: CO2, % of dry flue gas.
        carbon_dioxide_max: CO2 without excess air, %.
    Raises:
        ReadingError: Greatest CO2 not above 0, or CO2 negative or above the greatest.
    Source: Stoichiometry, 20.95 (1 - CO2 / CO2 max).
    """
    refuse_not_above("Greatest CO2", carbon_dioxide_max, 0, "%", "Read the gas analysis again.")
    bounds = (0.0, carbon_dioxide_max)
    refuse_outside("Carbon dioxide", carbon_dioxide_percent, bounds, "%", TOO_MUCH)
    return AIR_OXYGEN_PERCENT * (1 - carbon_dioxide_percent / carbon_dioxide_max)


def co_air_free_ppm(carbon_monoxide_ppm: float, oxygen_percent: float) -> float:
    """Return carbon monoxide without the excess air, CO 20.95 / (20.95 - O2), ppm.

    Args:
        carbon_monoxide_ppm: CO as measured in dry flue gas, ppm.
        oxygen_percent: Oxygen at the same moment, %.
    Raises:
        ReadingError: CO outside 0 to 20,000 ppm or oxygen outside 0 to 15 %.
    Valid: burner on and steady.
    Source: Dilution; the trade's 20.9 gives the same within 0.2 % up to 12 % oxygen.
    """
    _refuse_carbon_monoxide(carbon_monoxide_ppm)
    _refuse_oxygen(oxygen_percent)
    return carbon_monoxide_ppm * AIR_OXYGEN_PERCENT / (AIR_OXYGEN_PERCENT - oxygen_percent)


def combustion_efficiency_percent(
    fuel: str, oxygen_percent: float, stack_f: float, air_f: float, carbon_monoxide_ppm: float
) -> float:
    """Return 100 % less the losses up the stack, on the higher heating value, %.

    Args:
        fuel: "natural gas" or "propane".
        oxygen_percent: Oxygen, % of dry flue gas.
        stack_f: Flue gas before any dilution, °F.
        air_f: Combustion air, °F.
        carbon_monoxide_ppm: CO as measured, ppm of dry flue gas.
    Returns:
        Efficiency, %; casing loss and standing loss are not in it.
    Raises:
        ReadingError: Unknown fuel, a reading out of range, or stack not above air.
    Valid: not condensing: stack at 140 °F or more (the dew point of methane's flue gas),
        up to 1000 °F; dry air at -40 to 140 °F.
    Source: Stoichiometry and NASA polynomials (GRI-Mech 3.0); 0.3 to 0.6 points above the
        published table for natural gas, which uses other heating values.
    """
    return efficiency_percent_of(
        fuel_named(fuel), oxygen_percent, stack_f, air_f, carbon_monoxide_ppm
    )


def efficiency_percent_of(
    burnt: Fuel, oxygen_percent: float, stack_f: float, air_f: float, carbon_monoxide_ppm: float
) -> float:
    """Return `combustion_efficiency_percent` of any gas, such as one of `gas_of_analysis`.

    Raises:
        ReadingError: A reading out of range, or stack not above air.
    """
    excess = excess_air_percent_of(burnt, oxygen_percent) / 100
    _refuse_stack(stack_f, air_f)
    _refuse_carbon_monoxide(carbon_monoxide_ppm)
    stack, air = stack_f - REFERENCE_F, air_f - REFERENCE_F
    steps = (stack - air, stack**2 - air**2, stack**3 - air**3)
    sensible = sum(
        (flue + excess * extra) * step
        for flue, extra, step in zip(burnt.flue_heat, burnt.air_heat, steps, strict=True)
    )
    latent = burnt.water * (WATER_LATENT + WATER_LATENT_SLOPE * air)
    dry_moles = burnt.dry_flue + excess * burnt.oxygen / AIR_OXYGEN
    unburnt = dry_moles * carbon_monoxide_ppm * 1e-6 * CARBON_MONOXIDE_HEAT
    return 100 * (1 - (sensible + latent + unburnt) / burnt.higher_heating_value)


def heating_value_btuft3(methane: float, ethane: float, propane: float, butane: float) -> float:
    """Return the higher heating value of a gas analysis at 14.73 psia and 60 °F, Btu/ft³.

    Args:
        methane: Per cent by volume; nitrogen and carbon dioxide make up the rest.
        ethane: Per cent by volume.
        propane: Per cent by volume.
        butane: Per cent by volume, with all that is heavier.
    Raises:
        ReadingError: A negative share or more than 101 % together.
    Valid: dry, ideal gas: a real gas has some 0.2 % more.
    Source: GPA 2145 (from memory), summed by volume; 14.696 to 14.73 psia.
    """
    shares = (methane, ethane, propane, butane)
    for share in shares:
        refuse_below("Share of a gas", share, 0, "%", "Read the analysis again.")
    refuse_outside("Sum of the analysis", sum(shares), (0.0, 101.0), "%", "Read it again.")
    burning = zip(shares, COMPONENTS.values(), strict=True)
    return sum(share / 100 * row.heating_value_btuft3 for share, row in burning) * TO_14_73


def gas_of_atoms(
    carbon: float, hydrogen: float, nitrogen: float, carbon_dioxide: float, heating_value: float
) -> Fuel:
    """Return a gas from what a mole of it holds.

    Args:
        carbon: Moles of carbon that burn in a mole of gas.
        hydrogen: Moles of hydrogen atoms.
        nitrogen: Moles of nitrogen, N2, that come with the gas.
        carbon_dioxide: Moles of carbon dioxide that come with the gas.
        heating_value: Higher heating value at 14.73 psia and 60 °F, Btu/ft³.
    Raises:
        ReadingError: Nothing that burns, a negative part, or no heating value.
    """
    refuse_not_above("Carbon in the gas", carbon, 0, "mol", "Read the gas analysis again.")
    for part in (hydrogen, nitrogen, carbon_dioxide):
        refuse_below("A part of the gas", part, 0, "mol", "Read the gas analysis again.")
    refuse_not_above("Heating value", heating_value, 0, "Btu/ft³", "Ask the gas supplier.")
    heat = heating_value * FT3_PER_LBMOL
    return Fuel("gas", carbon, hydrogen, heat, nitrogen, carbon_dioxide)


def dry_flue_moles(carbon: float, hydrogen: float, nitrogen: float, carbon_dioxide: float) -> float:
    """Return moles of dry flue gas without excess air from a mole of a gas.

    Args, Raises: as `gas_of_atoms`.
    Source: Stoichiometry.
    """
    return gas_of_atoms(carbon, hydrogen, nitrogen, carbon_dioxide, 1.0).dry_flue


def excess_air_of_gas_percent(
    carbon: float, hydrogen: float, nitrogen: float, carbon_dioxide: float, oxygen_percent: float
) -> float:
    """Return excess air of a gas of analysis, %.

    Args, Raises: as `gas_of_atoms` and `excess_air_percent`.
    Source: Stoichiometry.
    """
    gas = gas_of_atoms(carbon, hydrogen, nitrogen, carbon_dioxide, 1.0)
    return excess_air_percent_of(gas, oxygen_percent)


def efficiency_of_gas_percent(
    carbon: float,
    hydrogen: float,
    nitrogen: float,
    carbon_dioxide: float,
    heating_value: float,
    oxygen_percent: float,
    stack_f: float,
    air_f: float,
    carbon_monoxide_ppm: float,
) -> float:
    """Return `combustion_efficiency_percent` of a gas of analysis, %.

    Args, Raises: as `gas_of_atoms` and `combustion_efficiency_percent`.
    Source: Stoichiometry and NASA polynomials (GRI-Mech 3.0).
    """
    gas = gas_of_atoms(carbon, hydrogen, nitrogen, carbon_dioxide, heating_value)
    return efficiency_percent_of(gas, oxygen_percent, stack_f, air_f, carbon_monoxide_ppm)


def _refuse_oxygen(percent: float) -> None:
    if percent > AIR_OXYGEN_PERCENT:
        raise ReadingError(
            spoken(
                "Oxygen {percent:.6g} % is above that of air itself, {air_oxygen_percent} %. "
                "Calibrate the analyser in outdoor air, then read again.",
                percent=percent,
                air_oxygen_percent=AIR_OXYGEN_PERCENT,
            )
        )
    refuse_outside("Oxygen", percent, OXYGEN_PERCENT, "%", DRAWS_AIR)


def _refuse_carbon_monoxide(ppm: float) -> None:
    refuse_outside(
        "Carbon monoxide", ppm, CARBON_MONOXIDE_PPM, "ppm", "Stop the burner and air the space."
    )


def _refuse_stack(stack_f: float, air_f: float) -> None:
    refuse_outside(
        "Stack temperature", stack_f, STACK_F, "°F", "Below it flue gas condenses; read it hot."
    )
    refuse_outside("Combustion air", air_f, COMBUSTION_AIR_F, "°F", "Read it at the air inlet.")
    if not stack_f > air_f:
        raise ReadingError(
            spoken(
                "Stack {stack_f:.6g} °F is not above combustion air {air_f:.6g} °F. Read both "
                "with the burner at full fire.",
                stack_f=stack_f,
                air_f=air_f,
            )
        )
