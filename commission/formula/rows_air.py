"""Function rows: moist air, air velocity, heat carried by air, economizer limits."""

from __future__ import annotations

from commission.engineering import airflow, controls, moist_air, traverse
from commission.formula.declaration import Function, FunctionKind, takes
from commission.formula.spreadsheet_text import (
    cell_for,
    humidity_ratio,
    number,
    only_if,
    saturation_pressure,
    whole,
    within,
)
from commission.language import to_say

_PSYCHROMETRICS = "ASHRAE Handbook, Fundamentals, Psychrometrics, {} (IP)"
_DRY_BULB = within("{0}", moist_air.TEMPERATURE_F)
_RANKINE = number(moist_air.RANKINE_AT_ZERO_F)
_VOLUME = f"0.370486*({{0}}+{_RANKINE})*(1+1.607858*{{1}})/{{2}}"


def _ratio_from_wet_bulb() -> str:
    """Text of equations 33 and 35: dry bulb {0}, wet bulb {1}, barometer {2}.

    Vapour pressure is long and stands once: W of saturation is M / (p / pws - 1), which
    turns negative, and so into an error, where the vapour pressure reaches the barometer.
    """
    saturated = f"{number(moist_air.MOLE_RATIO)}/({{2}}/{saturation_pressure('{1}')}-1)"
    heat = "IF({1}<32,1220-0.04*{1},1093-0.556*{1})"
    divisor = "IF({1}<32,1220+0.444*{0}-0.48*{1},1093+0.444*{0}-{1})"
    ratio = f"({heat}*{saturated}-0.24*({{0}}-{{1}}))/{divisor}"
    tests = f"{_DRY_BULB},{within('{1}', moist_air.TEMPERATURE_F)},{{1}}<={{0}}"
    return only_if(tests, f"IF({ratio}>=0,{ratio},NA())")


def _ratio_from_relative_humidity() -> str:
    vapor = f"({{1}}/100*{saturation_pressure('{0}')})"
    tests = f"{_DRY_BULB},{within('{1}', (0, 100))},{vapor}<{{2}}"
    return only_if(tests, humidity_ratio(vapor, "{2}"))


def _relative_humidity() -> str:
    vapor = f"{{2}}*{{1}}/({number(moist_air.MOLE_RATIO)}+{{1}})"
    percent = f"100*{vapor}/{saturation_pressure('{0}')}"
    most = number(moist_air.SATURATED_PERCENT)
    return only_if(f"{_DRY_BULB},{{1}}>=0,{{2}}>0", f"IF({percent}<={most},{percent},NA())")


def _listed_position() -> str:
    """Text of the place {2} of the rule {0} with {1} places; a place not there is an error."""
    row = cell_for("traverse_positions", '({0}&" "&{1})', "{2}+1")
    return f"1*{row}"


def _position(rule: str, equal_area: str, equal_area_tests: str) -> str:
    tests = f"{whole('{1}', (1, traverse.MOST_POINTS))},{whole('{2}', (1, traverse.MOST_POINTS))}"
    equal = only_if(f"{{2}}<={{1}}{equal_area_tests}", equal_area)
    listed = f'IF({{0}}="{rule}",{_listed_position()},NA())'
    return only_if(tests, f'IF({{0}}="equal area",{equal},{listed})')


# Rings from the wall inwards and out again: number n is ring min(n, points + 1 - n).
_RING = "(1-SQRT(ABS({1}+1-2*{2})/{1}))/2"
_ROUND_EQUAL_AREA = f"IF(2*{{2}}<={{1}},{_RING},1-{_RING})"


ROWS: tuple[Function, ...] = (
    Function(
        name="standard_pressure_psia",
        compute=moist_air.standard_pressure_psia,
        arguments=takes(elevation="ft"),
        result="psia",
        spreadsheet=only_if(
            within("{0}", moist_air.ELEVATION_FT), "14.696*(1-0.0000068754*{0})^5.2559"
        ),
        symbol="14.696 × (1 − 6.8754e-6 × {0})^5.2559",
        valid="-16,500 to 36,000 ft; weather moves the real barometer by some 2 %.",
        source=_PSYCHROMETRICS.format("equation 3"),
    ),
    Function(
        name="psi_from_inwc",
        compute=moist_air.psi_from_inwc,
        arguments=takes(pressure="in. w.c."),
        result="psi",
        spreadsheet=f"{{0}}*{number(moist_air.PSI_PER_INCH_WATER)}",
        symbol="{0} × 0.036127",
        valid="Any number.",
        source="Inch of water at 4 °C, 249.08891 Pa (NIST SP 811)",
    ),
    Function(
        name="psia_from_inhg",
        compute=moist_air.psia_from_inhg,
        arguments=takes(barometer="in. Hg"),
        result="psia",
        spreadsheet=only_if(
            within("{0}", moist_air.INCHES_MERCURY),
            f"{{0}}*{number(moist_air.PSI_PER_INCH_MERCURY)}",
        ),
        symbol="{0} × 0.491154",
        valid="5 to 33 in. Hg, station pressure.",
        source="Inch of mercury at 0 °C, 3386.389 Pa (NIST SP 811)",
    ),
    Function(
        name="saturation_pressure_psia",
        compute=moist_air.saturation_pressure_psia,
        arguments=takes(temperature="°F"),
        result="psia",
        spreadsheet=only_if(_DRY_BULB, saturation_pressure("{0}")),
        symbol="p_ws({0})",
        valid="-148 to 392 °F; over ice below 32 °F.",
        source=_PSYCHROMETRICS.format("equations 5 and 6"),
    ),
    Function(
        name="humidity_ratio_from_wet_bulb",
        compute=moist_air.humidity_ratio_from_wet_bulb,
        arguments=takes(dry_bulb="°F", wet_bulb="°F", barometer="psia"),
        result="lb/lb",
        spreadsheet=_ratio_from_wet_bulb(),
        symbol=to_say("W({0} dry bulb, {1} wet bulb, {2})"),
        valid="Wet bulb not above dry bulb; a humidity ratio of 0 or more.",
        source=_PSYCHROMETRICS.format("equations 33 and 35"),
    ),
    Function(
        name="humidity_ratio_from_relative_humidity",
        compute=moist_air.humidity_ratio_from_relative_humidity,
        arguments=takes(dry_bulb="°F", relative_humidity="%", barometer="psia"),
        result="lb/lb",
        spreadsheet=_ratio_from_relative_humidity(),
        symbol=to_say("W({0} dry bulb, {1} relative humidity, {2})"),
        valid="-148 to 392 °F, 0 to 100 %.",
        source=_PSYCHROMETRICS.format("equations 20 and 22"),
    ),
    Function(
        name="relative_humidity_percent",
        compute=moist_air.relative_humidity_percent,
        arguments=takes(dry_bulb="°F", humidity_ratio="lb/lb", barometer="psia"),
        result="%",
        spreadsheet=_relative_humidity(),
        symbol="RH({0}, {1}, {2})",
        valid="-148 to 392 °F, a humidity ratio from 0 to saturation.",
        source=_PSYCHROMETRICS.format("equations 20 and 22"),
    ),
    Function(
        name="enthalpy_btulb",
        compute=moist_air.enthalpy_btulb,
        arguments=takes(dry_bulb="°F", humidity_ratio="lb/lb"),
        result="Btu/lb",
        spreadsheet=only_if(f"{_DRY_BULB},{{1}}>=0", "0.24*{0}+{1}*(1061+0.444*{0})"),
        symbol="0.240 × {0} + {1} × (1061 + 0.444 × {0})",
        valid="-148 to 392 °F, a humidity ratio of 0 or more.",
        source=_PSYCHROMETRICS.format("equation 30"),
    ),
    Function(
        name="specific_volume_ft3lb",
        compute=moist_air.specific_volume_ft3lb,
        arguments=takes(dry_bulb="°F", humidity_ratio="lb/lb", barometer="psia"),
        result="ft³/lb",
        spreadsheet=only_if(f"{_DRY_BULB},{{1}}>=0,{{2}}>0", _VOLUME),
        symbol="0.370486 × ({0} + 459.67) × (1 + 1.607858 × {1}) / {2}",
        valid="-148 to 392 °F; per pound of dry air.",
        source=_PSYCHROMETRICS.format("equation 26"),
    ),
    Function(
        name="air_density_lbft3",
        compute=moist_air.air_density_lbft3,
        arguments=takes(dry_bulb="°F", humidity_ratio="lb/lb", barometer="psia"),
        result="lb/ft³",
        spreadsheet=only_if(f"{_DRY_BULB},{{1}}>=0,{{2}}>0", f"(1+{{1}})/({_VOLUME})"),
        symbol="(1 + {1}) × {2} / (0.370486 × ({0} + 459.67) × (1 + 1.607858 × {1}))",
        valid="-148 to 392 °F; of the moist mixture.",
        source=_PSYCHROMETRICS.format("equations 9b and 26"),
    ),
    Function(
        name="velocity_fpm",
        compute=airflow.velocity_fpm,
        arguments=takes(velocity_pressure="in. w.c.", density="lb/ft³"),
        result="fpm",
        spreadsheet=only_if(
            "{0}>=0,{1}>0", f"{number(airflow.VELOCITY_CONSTANT)}*SQRT({{0}}/{{1}})"
        ),
        symbol="1096.7 × √({0} / {1})",
        valid="Velocity pressure 0 or more. Average velocities, never velocity pressures.",
        source="ASHRAE 111",
    ),
    Function(
        name="total_capacity_btuh",
        compute=moist_air.total_capacity_btuh,
        arguments=takes(
            airflow="cfm", specific_volume="ft³/lb", enthalpy_1="Btu/lb", enthalpy_2="Btu/lb"
        ),
        result="Btu/h",
        spreadsheet=only_if("{0}>=0,{1}>0", "60*{0}/{1}*({2}-{3})"),
        symbol="60 × {0} / {1} × ({2} − {3})",
        valid="Specific volume where the airflow was measured; condensate's heat neglected.",
        source="ASHRAE Handbook, Fundamentals, Psychrometrics, moist air cooling",
    ),
    Function(
        name="sensible_capacity_btuh",
        compute=moist_air.sensible_capacity_btuh,
        arguments=takes(
            airflow="cfm", specific_volume="ft³/lb", humidity_ratio="lb/lb", warm="°F", cool="°F"
        ),
        result="Btu/h",
        spreadsheet=only_if("{0}>=0,{1}>0,{2}>=0", "60*{0}/{1}*(0.24+0.444*{2})*({3}-{4})"),
        symbol="60 × {0} / {1} × (0.240 + 0.444 × {2}) × ({3} − {4})",
        valid="Specific volume where the airflow was measured.",
        source=_PSYCHROMETRICS.format("equation 30"),
    ),
    Function(
        name="airflow_from_heat_cfm",
        compute=moist_air.airflow_from_heat_cfm,
        arguments=takes(heat="Btu/h", rise="Δ°F", specific_volume="ft³/lb", humidity_ratio="lb/lb"),
        result="cfm",
        spreadsheet=only_if("{0}>=0,{1}>0,{2}>0,{3}>=0", "{0}*{2}/(60*(0.24+0.444*{3})*{1})"),
        symbol="{0} × {2} / (60 × (0.240 + 0.444 × {3}) × {1})",
        valid="Rise above 0, heat output (not input) of 0 or more.",
        source=_PSYCHROMETRICS.format("equation 30"),
    ),
    Function(
        name="rectangular_position",
        compute=traverse.rectangular_position,
        arguments=takes(rectangular_rule="text", lines="", number=""),
        result="",
        spreadsheet=_position("log-Tchebycheff", "(2*{2}-1)/(2*{1})", ""),
        symbol=to_say("place {2} of {1}, {0}"),
        valid="log-Tchebycheff with 5, 6 or 7 lines, equal area with 1 to 12; share of the side.",
        source="ISO 3966 and ASHRAE 111",
        kind=FunctionKind.TABLE,
        tables=("traverse_positions",),
    ),
    Function(
        name="round_position",
        compute=traverse.round_position,
        arguments=takes(round_rule="text", points="", number=""),
        result="",
        spreadsheet=_position("log-linear", _ROUND_EQUAL_AREA, ",MOD({1},2)=0"),
        symbol=to_say("place {2} of {1}, {0}"),
        valid="log-linear with 4, 6, 8 or 10 points on a diameter, equal area with an even count "
        "up to 12; share of the diameter.",
        source="ISO 3966 and AMCA 203",
        kind=FunctionKind.TABLE,
        tables=("traverse_positions",),
    ),
    Function(
        name="economizer_high_limit_f",
        compute=controls.economizer_high_limit_f,
        arguments=takes(climate_zone="text"),
        result="°F",
        spreadsheet=cell_for("economizer_limits", "{0}", 2),
        symbol=to_say("high limit({0})"),
        valid="Climate zones 0A to 6B, 7, 8; fixed dry bulb.",
        source="ASHRAE 90.1-2013 Table 6.5.1.1.3 (from memory)",
        kind=FunctionKind.TABLE,
        tables=("economizer_limits",),
    ),
)
