"""Gas input: the meter clocked, gas corrected, altitude.

Gas can explode and burn. Leak-test, purge and adjust only as the unit's literature, NFPA 54
and local codes say, by licensed persons where the law asks for them.
"""

from __future__ import annotations

import math

from commission.engineering.moist_air import (
    ELEVATION_FT,
    RANKINE_AT_ZERO_F,
    psi_from_inwc,
)
from commission.engineering.possible import (
    Bounds,
    refuse_below,
    refuse_not_above,
    refuse_outside,
)
from commission.errors import ReadingError
from commission.language import spoken

BASE_PRESSURE_PSIA = 14.73
BASE_TEMPERATURE_F = 60.0
GAS_TEMPERATURE_F: Bounds = (-40.0, 150.0)
DERATING_PERCENT: Bounds = (0.0, 20.0)


def gas_flow_cfh(dial_ft3: float, seconds: float) -> float:
    """Return gas flow from a clocked meter, 3600 x dial / seconds, ft³/h.

    Args:
        dial_ft3: Gas passed while timing, ft³.
        seconds: Time for it, s.
    Raises:
        ReadingError: No gas or no time.
    Valid: every other appliance on the meter is off.
    Source: Definition; NFPA 54 annex.
    """
    refuse_not_above("Dial volume", dial_ft3, 0, "ft³", "Read the meter's test dial.")
    refuse_not_above("Time", seconds, 0, "s", "Time whole turns of the dial.")
    return 3600 * dial_ft3 / seconds


def gas_volume_correction(
    gas_gauge_inwc: float, gas_temperature_f: float, barometer_psia: float
) -> float:
    """Return the factor from metered volume to volume at 14.73 psia and 60 °F.

    Args:
        gas_gauge_inwc: Gas pressure at the meter above the atmosphere, in. w.c.
        gas_temperature_f: Gas temperature at the meter, °F.
        barometer_psia: Local absolute pressure, psia.
    Returns:
        Plain factor. Not to be used with a heating value already stated for the local
        pressure: that counts the altitude twice.
    Raises:
        ReadingError: No absolute pressure, or temperature outside -40 to 150 °F.
    Source: Ideal gas law; base conditions of American gas measurement.
    """
    refuse_not_above("Barometer", barometer_psia, 0, "psia", "Check the site's elevation.")
    refuse_outside("Gas temperature", gas_temperature_f, GAS_TEMPERATURE_F, "°F", "Read again.")
    pressure = barometer_psia + psi_from_inwc(gas_gauge_inwc)
    refuse_not_above("Absolute gas pressure", pressure, 0, "psia", "Check the manometer.")
    base = BASE_TEMPERATURE_F + RANKINE_AT_ZERO_F
    return pressure / BASE_PRESSURE_PSIA * base / (gas_temperature_f + RANKINE_AT_ZERO_F)


def gas_heat_input_btuh(flow_cfh: float, heating_value_btuft3: float) -> float:
    """Return heat input, gas flow x higher heating value, Btu/h.

    Raises:
        ReadingError: Negative flow or no heating value.
    Valid: flow and heating value at the same pressure and temperature.
    Source: Definition.
    """
    refuse_below("Gas flow", flow_cfh, 0, "ft³/h", "Clock the meter again.")
    refuse_not_above("Heating value", heating_value_btuft3, 0, "Btu/ft³", "Ask the utility.")
    return flow_cfh * heating_value_btuft3


def altitude_derating(
    elevation_ft: float, percent_per_1000_ft: float, threshold_ft: float
) -> float:
    """Return the share of sea-level input allowed at an elevation.

    Args:
        elevation_ft: Site elevation, ft.
        percent_per_1000_ft: Derating of *total* elevation, % a thousand feet.
        threshold_ft: Highest elevation without derating, ft.
    Returns:
        1 at or below the threshold, else 1 - percent/100 x elevation/1000.
    Raises:
        ReadingError: Elevation outside -16,500 to 36,000 ft, percent outside 0 to 20, or
            nothing left of the input.
    Valid: one of several rules in use; the unit's own literature governs.
    Source: NFPA 54, 4 % per 1,000 ft once above 2,000 ft (as quoted in an equipment
        installation manual).
    """
    refuse_outside("Elevation", elevation_ft, ELEVATION_FT, "ft", "Check the site.")
    refuse_outside("Derating", percent_per_1000_ft, DERATING_PERCENT, "%", "Enter 4 for 4 %.")
    if elevation_ft <= threshold_ft:
        return 1.0
    factor = 1 - percent_per_1000_ft / 100 * elevation_ft / 1000
    if factor <= 0:
        raise ReadingError(
            spoken(
                "{percent_per_1000_ft:g} % per 1,000 ft at {elevation_ft:.6g} ft leaves no "
                "input. Use the rule of the unit's literature for this elevation.",
                percent_per_1000_ft=percent_per_1000_ft,
                elevation_ft=elevation_ft,
            )
        )
    return factor


def altitude_band_derating(
    elevation_ft: float, percent: float, lowest_ft: float, highest_ft: float
) -> float:
    """Return the share of sea-level input allowed where a rule gives one step for a band.

    Args:
        elevation_ft: Site elevation, ft.
        percent: Derating inside the band, %.
        lowest_ft: Highest elevation without derating, ft.
        highest_ft: Highest elevation of the band, ft.
    Returns:
        1 at or below the band, 1 - percent/100 inside it.
    Raises:
        ReadingError: Elevation outside -16,500 to 36,000 ft or above the band, percent
            outside 0 to 20, or a band upside down.
    Source: Canadian rule, 10 % from 2,000 to 4,500 ft, as quoted in an equipment
        installation manual; above it the authority having jurisdiction decides.
    """
    refuse_outside("Elevation", elevation_ft, ELEVATION_FT, "ft", "Check the site.")
    refuse_outside("Derating", percent, DERATING_PERCENT, "%", "Enter 10 for 10 %.")
    refuse_not_above("Top of the band", highest_ft, lowest_ft, "ft", "Swap the two.")
    if not elevation_ft <= highest_ft:
        raise ReadingError(
            spoken(
                "Elevation {elevation_ft:.6g} ft is above the band of the rule, {lowest_ft:g} "
                "to {highest_ft:g} ft. Use the unit's literature or ask the authority having "
                "jurisdiction.",
                elevation_ft=elevation_ft,
                lowest_ft=lowest_ft,
                highest_ft=highest_ft,
            )
        )
    return 1.0 if elevation_ft <= lowest_ft else 1 - percent / 100


def input_ratio_from_manifold(manifold_inwc: float, rated_inwc: float) -> float:
    """Return the ratio of input to rated input from manifold pressures, √(p / p rated).

    Raises:
        ReadingError: Negative manifold pressure or no rated one.
    Valid: same orifices and gas; near the rated pressure.
    Source: Orifice equation.
    """
    refuse_below("Manifold pressure", manifold_inwc, 0, "in. w.c.", "Check the manometer.")
    refuse_not_above("Rated manifold pressure", rated_inwc, 0, "in. w.c.", "Read the plate.")
    return math.sqrt(manifold_inwc / rated_inwc)
