"""Combustion of natural gas and propane by stoichiometry, from a dry flue-gas reading.

Carbon monoxide kills. Stop and ventilate on a rising CO reading; set a burner only as its
literature says. The certification limit of 400 ppm air-free is not a target for tuning.

Natural gas is taken as methane: its greatest CO2 is 11.70 %, that of typical utility gas
about 11.8 %. Air is dry with 20.95 % oxygen.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from commission.engineering.possible import Bounds, refuse_outside
from commission.errors import ReadingError, near_miss

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
DRAWS_AIR = "The probe draws in room air or the flame is off; seal it and wait for steady."

# Enthalpy above 77 °F, Btu/lbmol, as a cubic in (t - 77 °F); fitted to the NASA polynomials
# of GRI-Mech 3.0 as Cantera 3.2 evaluates them, within 0.2 % from 140 to 1000 °F.
_CARBON_DIOXIDE = (8.89560, 2.7960e-3, -6.9532e-7)
_WATER = (7.99929, 4.7980e-4, 1.6757e-7)
_OXYGEN = (6.97922, 6.1973e-4, 5.7e-10)
_NITROGEN = (6.95199, 8.7182e-5, 1.5915e-7)
Cubic = tuple[float, float, float]


@dataclass(frozen=True, slots=True)
class Fuel:
    """A gas C_c H_h and what follows from burning one mole of it in dry air."""

    name: str
    carbon: float
    hydrogen: float
    higher_heating_value: float  # Btu/lbmol at 77 °F

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
        return self.carbon + self.oxygen * (1 - AIR_OXYGEN) / AIR_OXYGEN

    @property
    def excess_air_constant(self) -> float:
        """k of excess air = k O2 / (20.95 - O2)."""
        return AIR_OXYGEN * self.dry_flue / self.oxygen

    @property
    def carbon_dioxide_max_percent(self) -> float:
        """CO2 in dry flue gas without excess air, %."""
        return 100 * self.carbon / self.dry_flue

    @property
    def flue_heat(self) -> Cubic:
        """Sensible heat of the flue gas without excess air, cubic in (t - 77 °F)."""
        nitrogen = self.dry_flue - self.carbon
        return _mixed((self.carbon, _CARBON_DIOXIDE), (self.water, _WATER), (nitrogen, _NITROGEN))

    @property
    def air_heat(self) -> Cubic:
        """Sensible heat of the air that just burns it, cubic in (t - 77 °F)."""
        nitrogen = self.oxygen * (1 - AIR_OXYGEN) / AIR_OXYGEN
        return _mixed((self.oxygen, _OXYGEN), (nitrogen, _NITROGEN))


def _mixed(*parts: tuple[float, Cubic]) -> Cubic:
    first, second, third = (sum(moles * heat[at] for moles, heat in parts) for at in range(3))
    return first, second, third


FUELS: Mapping[str, Fuel] = MappingProxyType(
    {
        fuel.name: fuel
        for fuel in (
            Fuel("natural gas", 1, 4, 382_874.0),
            Fuel("propane", 3, 8, 954_421.0),
        )
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
        raise ReadingError(f"'{name}' is not a fuel; choose {' or '.join(FUELS)}.{hint}")
    return found


def excess_air_percent(fuel: str, oxygen_percent: float) -> float:
    """Return excess air from oxygen in dry flue gas, 100 k O2 / (20.95 - O2), %.

    Args:
        fuel: "natural gas" or "propane".
        oxygen_percent: Oxygen, % of dry flue gas.
    Raises:
        ReadingError: Unknown fuel or oxygen outside 0 to 15 %.
    Valid: complete combustion.
    Source: Stoichiometry; k = 0.8952 for methane, 0.9162 for propane.
    """
    _refuse_oxygen(oxygen_percent)
    constant = fuel_named(fuel).excess_air_constant
    return 100 * constant * oxygen_percent / (AIR_OXYGEN_PERCENT - oxygen_percent)


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
    most = fuel_named(fuel).carbon_dioxide_max_percent
    refuse_outside(
        "Carbon dioxide", carbon_dioxide_percent, (0.0, most), "%", "Check the fuel and analyser."
    )
    return AIR_OXYGEN_PERCENT * (1 - carbon_dioxide_percent / most)


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
    burnt = fuel_named(fuel)
    excess = excess_air_percent(fuel, oxygen_percent) / 100
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


def _refuse_oxygen(percent: float) -> None:
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
            f"Stack {stack_f:.6g} °F is not above combustion air {air_f:.6g} °F. "
            "Read both with the burner at full fire."
        )
