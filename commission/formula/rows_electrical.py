"""Function rows: electricity, power, conversions of power, drives."""

from __future__ import annotations

from commission.engineering import airflow, electrical
from commission.formula.declaration import Function, FunctionKind, takes
from commission.formula.spreadsheet_text import (
    body,
    column,
    interpolated,
    number,
    only_if,
    within,
)
from commission.language import to_say

_SHARE = "{0}>0,{0}<=1"
_POWER_TESTS = "{0}>=0,{1}>=0," + _SHARE.format("{2}")
_ANY_NUMBER = "Any number."
_PROTECTION = (
    electrical.STANDARD_PROTECTION_A[0],
    electrical.STANDARD_PROTECTION_A[-1],
)
_KW_PER_HP = number(electrical.KW_PER_HP)
_BTUH_PER_KW = number(electrical.BTUH_PER_KW)

ROWS: tuple[Function, ...] = (
    Function(
        name="motor_derating",
        compute=electrical.motor_derating,
        arguments=takes(imbalance="%"),
        result="",
        spreadsheet=only_if(
            within("{0}", electrical.DERATING_IMBALANCE_PERCENT),
            interpolated("motor_derating", "{0}", 1, 2),
        ),
        symbol=to_say("derating({0})"),
        valid="0 to 5 %; above it a motor is not to be run.",
        source="NEMA MG 1 figure 14-1, read from a secondary table, good to 0.01 to 0.02",
        kind=FunctionKind.TABLE,
        tables=("motor_derating",),
    ),
    Function(
        name="standard_protection_a",
        compute=electrical.standard_protection_a,
        arguments=takes(amps="A"),
        result="A",
        spreadsheet=only_if(
            f"{{0}}<={number(_PROTECTION[1])}",
            f"INDEX({body('standard_protection')},"
            f"MATCH({{0}}*{number(electrical.SIZE_ALLOWANCE)},"
            f"{column('standard_protection', 1)},1),1)",
        ),
        symbol=to_say("standard size ≤ {0}"),
        valid="15 to 6000 A.",
        source="NEC 240.6(A)",
        kind=FunctionKind.TABLE,
        tables=("standard_protection",),
    ),
    Function(
        name="standard_protection_not_below_a",
        compute=electrical.standard_protection_not_below_a,
        arguments=takes(amps="A"),
        result="A",
        spreadsheet=only_if(
            f"{{0}}>0,{{0}}<={number(_PROTECTION[1])}",
            f"INDEX({body('standard_protection')},"
            f"SUMPRODUCT(1*({column('standard_protection', 1)}"
            f"<{{0}}/{number(electrical.SIZE_ALLOWANCE)}))+1,1)",
        ),
        symbol=to_say("standard size ≥ {0}"),
        valid="Above 0, at most 6000 A.",
        source="NEC 240.6(A)",
        kind=FunctionKind.TABLE,
        tables=("standard_protection",),
    ),
    Function(
        name="single_phase_kw",
        compute=electrical.single_phase_kw,
        arguments=takes(volts="V", amps="A", power_factor=""),
        result="kW",
        spreadsheet=only_if(_POWER_TESTS, "{0}*{1}*{2}/1000"),
        symbol="{0} × {1} × {2} / 1000",
        valid="Volts and amps 0 or more; power factor above 0, at most 1.",
        source="Definition of active power",
    ),
    Function(
        name="three_phase_kw",
        compute=electrical.three_phase_kw,
        arguments=takes(volts="V", amps="A", power_factor=""),
        result="kW",
        spreadsheet=only_if(_POWER_TESTS, "SQRT(3)*{0}*{1}*{2}/1000"),
        symbol="√3 × {0} × {1} × {2} / 1000",
        valid="Volts and amps 0 or more; power factor above 0, at most 1; small imbalance.",
        source="Definition of active power",
    ),
    Function(
        name="heater_kw_at_voltage",
        compute=electrical.heater_kw_at_voltage,
        arguments=takes(rated_kw="kW", rated_volts="V", volts="V"),
        result="kW",
        spreadsheet=only_if("{0}>=0,{1}>0,{2}>=0", "{0}*({2}/{1})^2"),
        symbol="{0} × ({2} / {1})²",
        valid="Rated volts above 0, the others 0 or more; constant resistance.",
        source="Ohm's law",
    ),
    Function(
        name="btuh_from_kw",
        compute=electrical.btuh_from_kw,
        arguments=takes(power="kW"),
        result="Btu/h",
        spreadsheet=f"{{0}}*{_BTUH_PER_KW}",
        symbol="{0} × 3412.14",
        valid=_ANY_NUMBER,
        source="International-table Btu, 1055.05585262 J",
    ),
    Function(
        name="kw_from_btuh",
        compute=electrical.kw_from_btuh,
        arguments=takes(heat="Btu/h"),
        result="kW",
        spreadsheet=f"{{0}}/{_BTUH_PER_KW}",
        symbol="{0} / 3412.14",
        valid=_ANY_NUMBER,
        source="International-table Btu, 1055.05585262 J",
    ),
    Function(
        name="tons_from_btuh",
        compute=electrical.tons_from_btuh,
        arguments=takes(heat="Btu/h"),
        result="tons",
        spreadsheet="{0}/12000",
        symbol="{0} / 12,000",
        valid=_ANY_NUMBER,
        source="Definition of the ton of refrigeration",
    ),
    Function(
        name="hp_from_kw",
        compute=electrical.hp_from_kw,
        arguments=takes(power="kW"),
        result="hp",
        spreadsheet=f"{{0}}/{_KW_PER_HP}",
        symbol="{0} / 0.7457",
        valid=_ANY_NUMBER,
        source="Mechanical horsepower, 550 ft·lbf/s",
    ),
    Function(
        name="fan_brake_hp",
        compute=airflow.fan_brake_hp,
        arguments=takes(volts="V", amps="A", power_factor="", efficiency=""),
        result="hp",
        spreadsheet=only_if(
            f"{_POWER_TESTS},{_SHARE.format('{3}')}",
            f"SQRT(3)*{{0}}*{{1}}*{{2}}*{{3}}/1000/{_KW_PER_HP}",
        ),
        symbol="√3 × {0} × {1} × {2} × {3} / 745.7",
        valid="Three-phase motor; power factor and efficiency above 0, at most 1.",
        source="Definition of active power; mechanical horsepower",
    ),
    Function(
        name="fan_brake_hp_from_amps",
        compute=airflow.fan_brake_hp_from_amps,
        arguments=takes(rated_hp="hp", amps="A", rated_amps="A", no_load_amps="A"),
        result="hp",
        spreadsheet=only_if("{0}>0,{3}>=0,{3}<{2},{1}>={3}", "{0}*({1}-0.5*{3})/({2}-0.5*{3})"),
        symbol="{0} × ({1} − ½ {3}) / ({2} − ½ {3})",
        valid="No-load amps below full-load amps, running amps not below no-load; within 10 %.",
        source="Common practice (from memory)",
    ),
    Function(
        name="air_power_hp",
        compute=airflow.air_power_hp,
        arguments=takes(airflow="cfm", pressure="in. w.c."),
        result="hp",
        spreadsheet=only_if("{0}>=0,{1}>=0", f"{{0}}*{{1}}/{number(airflow.FAN_POWER_CONSTANT)}"),
        symbol="{0} × {1} / 6356",
        valid="Airflow and pressure rise 0 or more.",
        source='ASHRAE HVAC Systems and Equipment, "Fans"',
    ),
    Function(
        name="belt_length_in",
        compute=airflow.belt_length_in,
        arguments=takes(center_distance="in.", larger_diameter="in.", smaller_diameter="in."),
        result="in.",
        spreadsheet=only_if(
            "{2}>0,{2}<={1},{0}>({1}+{2})/2",
            "2*{0}+1.57*({1}+{2})+({1}-{2})^2/(4*{0})",
        ),
        symbol="2 × {0} + 1.57 × ({1} + {2}) + ({1} − {2})² / (4 × {0})",
        valid="Smaller sheave not above the larger; sheaves that do not overlap.",
        source="V-belt drive formula of the trade (ARPM IP-20, from memory)",
    ),
)
