"""Moist air: humidity, enthalpy, volume and the heat that an airflow carries.

Perfect-gas equations of the ASHRAE Handbook, Fundamentals, chapter "Psychrometrics", IP
edition (equation constants from memory of the 2017 edition; tests hold them to PsychroLib,
which implements the same). They lie 0.4 to 0.6 % in humidity ratio below the handbook's
real-gas table, and 0.2 to 0.4 % in saturation enthalpy; a spreadsheet can compute them live.
"""

from __future__ import annotations

import math
from collections.abc import Callable

from commission.engineering.possible import (
    Bounds,
    refuse_below,
    refuse_not_above,
    refuse_outside,
)
from commission.errors import ReadingError
from commission.language import spoken

RANKINE_AT_ZERO_F = 459.67
FREEZING_F = 32.0
TEMPERATURE_F: Bounds = (-148.0, 392.0)
ELEVATION_FT: Bounds = (-16_500.0, 36_000.0)
INCHES_MERCURY: Bounds = (5.0, 33.0)
PSI = 4.4482216152605 / 0.0254**2
PSI_PER_INCH_WATER = 249.08891 / PSI
PSI_PER_INCH_MERCURY = 3386.389 / PSI
MOLE_RATIO = 0.621945
# ln(psia) = c0/T + c1 + c2 T + c3 T² + c4 T³ + c5 T⁴ + c6 ln T, T in °R
OVER_ICE = (
    -1.0214165e4, -4.8932428, -5.3765794e-3, 1.9202377e-7, 3.5575832e-10, -9.0344688e-14,
    4.1635019,
)  # fmt: skip
OVER_WATER = (
    -1.0440397e4, -1.1294650e1, -2.7022355e-2, 1.2890360e-5, -2.4780681e-9, 0.0, 6.5459673,
)  # fmt: skip
AGAIN = "Read it again."
# Room for rounding: the handbook's wet-bulb equation for ice, whose constants are rounded,
# gives saturated air back as up to 100.02 % at -60 °F. Nothing is cut off to 100.
SATURATED_PERCENT = 100.05


def standard_pressure_psia(elevation_ft: float) -> float:
    """Return the standard atmosphere's pressure at an elevation, psia.

    Args:
        elevation_ft: Elevation above sea level, ft.
    Raises:
        ReadingError: Outside -16,500 to 36,000 ft.
    Valid: -16,500 to 36,000 ft; weather moves the real barometer by some 2 %.
    Source: ASHRAE Fundamentals, Psychrometrics, equation 3.
    """
    refuse_outside("Elevation", elevation_ft, ELEVATION_FT, "ft", "Check the site's elevation.")
    return float(14.696 * (1 - 6.8754e-6 * elevation_ft) ** 5.2559)


def psi_from_inwc(pressure_inwc: float) -> float:
    """Return a pressure in inches of water (4 °C, 249.0889 Pa) as psi."""
    return pressure_inwc * PSI_PER_INCH_WATER


def psia_from_inhg(barometer_inhg: float) -> float:
    """Return an absolute barometer reading in inches of mercury (0 °C) as psia.

    Raises:
        ReadingError: Outside 5 to 33 in. Hg.
    Valid: 5 to 33 in. Hg, station pressure, not reduced to sea level.
    Source: Conventional inch of mercury, 3386.389 Pa (NIST SP 811).
    """
    refuse_outside(
        "Barometer",
        barometer_inhg,
        INCHES_MERCURY,
        "in. Hg",
        "Enter the station pressure, not the value reduced to sea level.",
    )
    return barometer_inhg * PSI_PER_INCH_MERCURY


def saturation_pressure_psia(temperature_f: float) -> float:
    """Return the pressure of saturated water vapour, over ice below 32 °F, psia.

    Raises:
        ReadingError: Outside -148 to 392 °F.
    Valid: -148 to 392 °F.
    Source: ASHRAE Fundamentals, Psychrometrics, equations 5 (ice) and 6 (water).
    """
    refuse_outside("Temperature", temperature_f, TEMPERATURE_F, "°F", AGAIN)
    rankine = temperature_f + RANKINE_AT_ZERO_F
    c = OVER_ICE if temperature_f < FREEZING_F else OVER_WATER
    powers = c[1] + rankine * (c[2] + rankine * (c[3] + rankine * (c[4] + rankine * c[5])))
    return math.exp(c[0] / rankine + powers + c[6] * math.log(rankine))


def humidity_ratio_from_vapor_pressure(vapor_psia: float, barometer_psia: float) -> float:
    """Return W = 0.621945 pw / (p - pw), lb of water per lb of dry air.

    Raises:
        ReadingError: The vapour pressure is negative or reaches the barometer.
    Source: ASHRAE Fundamentals, Psychrometrics, equation 20.
    """
    refuse_below("Vapour pressure", vapor_psia, 0, "psia", AGAIN)
    if not vapor_psia < barometer_psia:
        raise ReadingError(
            spoken(
                "Vapour pressure {vapor_psia:.6g} psia reaches the barometer, "
                "{barometer_psia:.6g} psia. Check the temperature and the barometer.",
                vapor_psia=vapor_psia,
                barometer_psia=barometer_psia,
            )
        )
    return MOLE_RATIO * vapor_psia / (barometer_psia - vapor_psia)


def humidity_ratio_from_wet_bulb(
    dry_bulb_f: float, wet_bulb_f: float, barometer_psia: float
) -> float:
    """Return the humidity ratio from dry and wet bulb, lb/lb.

    Args:
        dry_bulb_f: Dry bulb, °F.
        wet_bulb_f: Thermodynamic wet bulb, °F; over ice below 32 °F.
        barometer_psia: Local absolute pressure, psia.
    Raises:
        ReadingError: Wet bulb above dry bulb, or so low that the air would hold less
            than no water.
    Valid: -148 to 392 °F. A sling or aspirated wet bulb reads the thermodynamic one to a
        few tenths of a degree.
    Source: ASHRAE Fundamentals, Psychrometrics, equations 33 and 35.
    """
    refuse_outside("Dry bulb", dry_bulb_f, TEMPERATURE_F, "°F", AGAIN)
    if not wet_bulb_f <= dry_bulb_f:
        raise ReadingError(
            spoken(
                "Wet bulb {wet_bulb_f:.6g} °F is above dry bulb {dry_bulb_f:.6g} °F. Wet the "
                "wick with clean water and read both again.",
                wet_bulb_f=wet_bulb_f,
                dry_bulb_f=dry_bulb_f,
            )
        )
    ratio = _ratio_at_wet_bulb(dry_bulb_f, wet_bulb_f, barometer_psia)
    if not ratio >= 0:
        raise ReadingError(
            spoken(
                "Wet bulb {wet_bulb_f:.6g} °F is impossibly low for dry bulb {dry_bulb_f:.6g} "
                "°F: the humidity ratio would be {ratio:.6g} lb/lb. Wet the wick and read both "
                "again.",
                wet_bulb_f=wet_bulb_f,
                dry_bulb_f=dry_bulb_f,
                ratio=ratio,
            )
        )
    return ratio


def _ratio_at_wet_bulb(dry_bulb_f: float, wet_bulb_f: float, barometer_psia: float) -> float:
    saturated = humidity_ratio_from_vapor_pressure(
        saturation_pressure_psia(wet_bulb_f), barometer_psia
    )
    depression = dry_bulb_f - wet_bulb_f
    if wet_bulb_f < FREEZING_F:
        top = (1220 - 0.04 * wet_bulb_f) * saturated - 0.240 * depression
        return top / (1220 + 0.444 * dry_bulb_f - 0.48 * wet_bulb_f)
    top = (1093 - 0.556 * wet_bulb_f) * saturated - 0.240 * depression
    return top / (1093 + 0.444 * dry_bulb_f - wet_bulb_f)


def humidity_ratio_from_relative_humidity(
    dry_bulb_f: float, relative_humidity: float, barometer_psia: float
) -> float:
    """Return the humidity ratio from dry bulb and relative humidity in %, lb/lb.

    Raises:
        ReadingError: Relative humidity outside 0 to 100 %, or temperature out of range.
    Valid: -148 to 392 °F, 0 to 100 %.
    Source: ASHRAE Fundamentals, Psychrometrics, equations 20 and 22.
    """
    refuse_outside("Relative humidity", relative_humidity, (0.0, 100.0), "%", AGAIN)
    vapor = relative_humidity / 100 * saturation_pressure_psia(dry_bulb_f)
    return humidity_ratio_from_vapor_pressure(vapor, barometer_psia)


def relative_humidity_percent(
    dry_bulb_f: float, humidity_ratio: float, barometer_psia: float
) -> float:
    """Return relative humidity, %.

    Args:
        dry_bulb_f: Dry bulb, °F.
        humidity_ratio: lb of water per lb of dry air.
        barometer_psia: Local absolute pressure, psia.
    Raises:
        ReadingError: Negative humidity ratio, or more water than the air can hold.
    Source: ASHRAE Fundamentals, Psychrometrics, equations 20 and 22 solved for φ.
    """
    _refuse_ratio(humidity_ratio)
    refuse_not_above("Barometer", barometer_psia, 0, "psia", AGAIN)
    vapor = barometer_psia * humidity_ratio / (MOLE_RATIO + humidity_ratio)
    percent = 100 * vapor / saturation_pressure_psia(dry_bulb_f)
    if not percent <= SATURATED_PERCENT:
        raise ReadingError(
            spoken(
                "Humidity ratio {humidity_ratio:.6g} lb/lb at {dry_bulb_f:.6g} °F is "
                "{percent:.5g} % relative humidity; air holds at most 100 %. Read both again.",
                humidity_ratio=humidity_ratio,
                dry_bulb_f=dry_bulb_f,
                percent=percent,
            )
        )
    return percent


def dew_point_f(humidity_ratio: float, barometer_psia: float) -> float:
    """Return the dew point (frost point below 32 °F), °F, by bisection.

    Raises:
        ReadingError: No water at all, or a dew point outside -148 to 392 °F.
    Source: ASHRAE Fundamentals, Psychrometrics, equations 5, 6 and 36 (its definition).
    """
    refuse_not_above("Humidity ratio", humidity_ratio, 0, "lb/lb", "Dry air has no dew point.")
    vapor = barometer_psia * humidity_ratio / (MOLE_RATIO + humidity_ratio)
    low, high = TEMPERATURE_F
    if not saturation_pressure_psia(low) <= vapor <= saturation_pressure_psia(high):
        raise ReadingError(
            spoken(
                "Humidity ratio {humidity_ratio:.6g} lb/lb has no dew point between {low:g} and "
                "{high:g} °F. Check the humidity reading.",
                humidity_ratio=humidity_ratio,
                low=low,
                high=high,
            )
        )
    return _root(lambda at: saturation_pressure_psia(at) - vapor, low, high)


def wet_bulb_f(dry_bulb_f: float, humidity_ratio: float, barometer_psia: float) -> float:
    """Return the thermodynamic wet bulb, °F, by bisection.

    Raises:
        ReadingError: Negative humidity ratio, or more water than the air can hold.
    Valid: dry bulb -100 to 200 °F. Right around 32 °F an iced and a wet wick read
        differently for the same air; one of the two is returned.
    Source: ASHRAE Fundamentals, Psychrometrics, equations 33 and 35 solved for t*.
    """
    relative_humidity_percent(dry_bulb_f, humidity_ratio, barometer_psia)
    low = max(TEMPERATURE_F[0], dry_bulb_f - 200)
    return _root(
        lambda at: _ratio_at_wet_bulb(dry_bulb_f, at, barometer_psia) - humidity_ratio,
        low,
        dry_bulb_f,
    )


def _root(function: Callable[[float], float], low: float, high: float) -> float:
    """Bisect a rising function to the last bits."""
    for _ in range(70):
        middle = (low + high) / 2
        if function(middle) < 0:
            low = middle
        else:
            high = middle
    return (low + high) / 2


def enthalpy_btulb(dry_bulb_f: float, humidity_ratio: float) -> float:
    """Return h = 0.240 t + W (1061 + 0.444 t), Btu per lb of dry air.

    Args:
        dry_bulb_f: Dry bulb, °F; zero enthalpy is dry air and liquid water at 0 and 32 °F.
        humidity_ratio: lb/lb.
    Raises:
        ReadingError: Negative humidity ratio or temperature out of range.
    Valid: -148 to 392 °F.
    Source: ASHRAE Fundamentals, Psychrometrics, equation 30.
    """
    refuse_outside("Dry bulb", dry_bulb_f, TEMPERATURE_F, "°F", AGAIN)
    _refuse_ratio(humidity_ratio)
    return 0.240 * dry_bulb_f + humidity_ratio * (1061 + 0.444 * dry_bulb_f)


def specific_volume_ft3lb(dry_bulb_f: float, humidity_ratio: float, barometer_psia: float) -> float:
    """Return v = 0.370486 (t + 459.67)(1 + 1.607858 W) / p, ft³ per lb of dry air.

    Raises:
        ReadingError: Temperature out of range, negative humidity ratio, no barometer.
    Valid: -148 to 392 °F.
    Source: ASHRAE Fundamentals, Psychrometrics, equation 26.
    """
    refuse_outside("Dry bulb", dry_bulb_f, TEMPERATURE_F, "°F", AGAIN)
    _refuse_ratio(humidity_ratio)
    refuse_not_above("Barometer", barometer_psia, 0, "psia", AGAIN)
    rankine = dry_bulb_f + RANKINE_AT_ZERO_F
    return 0.370486 * rankine * (1 + 1.607858 * humidity_ratio) / barometer_psia


def air_density_lbft3(dry_bulb_f: float, humidity_ratio: float, barometer_psia: float) -> float:
    """Return the density of the moist mixture, (1 + W) / v, lb/ft³.

    Raises:
        ReadingError: As `specific_volume_ft3lb`.
    Source: ASHRAE Fundamentals, Psychrometrics, equation 9b.
    """
    volume = specific_volume_ft3lb(dry_bulb_f, humidity_ratio, barometer_psia)
    return (1 + humidity_ratio) / volume


def total_capacity_btuh(
    airflow_cfm: float, specific_volume: float, enthalpy_1: float, enthalpy_2: float
) -> float:
    """Return the heat an airflow gives up, 60 cfm / v (h1 - h2), Btu/h.

    Args:
        airflow_cfm: Airflow, cfm.
        specific_volume: ft³ per lb of dry air *where the airflow was measured*; the wrong
            place costs about 4.5 % across a cooling coil.
        enthalpy_1: Entering air, Btu/lb.
        enthalpy_2: Leaving air, Btu/lb.
    Returns:
        Total capacity, Btu/h, negative for heating; condensate's heat is neglected (about
        1 %).
    Raises:
        ReadingError: Negative airflow or no specific volume.
    Source: ASHRAE Fundamentals, Psychrometrics, moist air cooling and dehumidification.
    """
    _refuse_flow(airflow_cfm, specific_volume)
    return 60 * airflow_cfm / specific_volume * (enthalpy_1 - enthalpy_2)


def sensible_capacity_btuh(
    airflow_cfm: float, specific_volume: float, humidity_ratio: float, warm_f: float, cool_f: float
) -> float:
    """Return sensible heat, 60 cfm / v (0.240 + 0.444 W)(warm - cool), Btu/h.

    Args:
        airflow_cfm: Airflow, cfm.
        specific_volume: ft³ per lb of dry air where the airflow was measured.
        humidity_ratio: lb/lb; for cooling that of the leaving air, for heating either.
        warm_f: Warmer side, °F.
        cool_f: Cooler side, °F.
    Raises:
        ReadingError: Negative airflow or humidity ratio, or no specific volume.
    Source: ASHRAE Fundamentals, Psychrometrics, equation 30 at constant W.
    """
    _refuse_flow(airflow_cfm, specific_volume)
    _refuse_ratio(humidity_ratio)
    heat_capacity = 0.240 + 0.444 * humidity_ratio
    return 60 * airflow_cfm / specific_volume * heat_capacity * (warm_f - cool_f)


def airflow_from_heat_cfm(
    heat_btuh: float, rise_f: float, specific_volume: float, humidity_ratio: float
) -> float:
    """Return the airflow that carries a heat at a temperature rise, cfm.

    Args:
        heat_btuh: Heat given to the air (output, not input), Btu/h.
        rise_f: Temperature rise, Δ°F, out of sight of the heat exchanger or elements.
        specific_volume: ft³ per lb of dry air where the airflow is wanted.
        humidity_ratio: lb/lb.
    Raises:
        ReadingError: No rise, negative heat, no specific volume.
    Source: `sensible_capacity_btuh` solved for the airflow.
    """
    refuse_below("Heat output", heat_btuh, 0, "Btu/h", "Enter heat given to the air.")
    refuse_not_above("Temperature rise", rise_f, 0, "Δ°F", "Read after the heat is steady.")
    refuse_not_above("Specific volume", specific_volume, 0, "ft³/lb", AGAIN)
    _refuse_ratio(humidity_ratio)
    return heat_btuh * specific_volume / (60 * (0.240 + 0.444 * humidity_ratio) * rise_f)


def _refuse_ratio(humidity_ratio: float) -> None:
    refuse_below("Humidity ratio", humidity_ratio, 0, "lb/lb", "Read the humidity again.")


def _refuse_flow(airflow_cfm: float, specific_volume: float) -> None:
    refuse_below("Airflow", airflow_cfm, 0, "cfm", AGAIN)
    refuse_not_above("Specific volume", specific_volume, 0, "ft³/lb", AGAIN)
