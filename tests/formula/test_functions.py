"""Every function row is complete, and LibreOffice computes what Python computes."""

from __future__ import annotations

import math
import random
import re
import string
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields
from pathlib import Path

import openpyxl
import pytest
import xlsxwriter
from openpyxl.utils import FORMULAE

from commission.engineering import combustion, controls, refrigerant
from commission.errors import CommissionError
from commission.formula.functions import FUNCTIONS, Argument, Function, FunctionKind
from commission.formula.reference_tables import ReferenceTable, reference_tables
from commission.units import UNITS
from recalculation import recalculate

VALID_CASES = 60
RELATIVE = 1e-9
ABSOLUTE = 1e-12

# Ranges from which valid inputs are drawn, by function and argument; values a roof can see.
RANGES: Mapping[str, Sequence[tuple[float, float]]] = {
    "abs": [(-1e4, 1e4)],
    "sqrt": [(0, 1e6)],
    "exp": [(-20, 20)],
    "ln": [(1e-6, 1e6)],
    "min": [(-100, 100)] * 4,
    "max": [(-100, 100)] * 4,
    "motor_derating": [(0, 5)],
    "standard_protection_a": [(15, 6000)],
    "single_phase_kw": [(0, 480), (0, 200), (0.3, 1)],
    "three_phase_kw": [(0, 600), (0, 200), (0.3, 1)],
    "heater_kw_at_voltage": [(0, 100), (200, 600), (0, 600)],
    "btuh_from_kw": [(-50, 500)],
    "kw_from_btuh": [(-1e5, 1e6)],
    "tons_from_btuh": [(-1e5, 1e6)],
    "hp_from_kw": [(0, 100)],
    "fan_brake_hp": [(180, 600), (0, 100), (0.3, 1), (0.5, 1)],
    "fan_brake_hp_from_amps": [(0.5, 60), (5, 10), (8, 12), (0, 5)],
    "belt_length_in": [(15, 60), (6, 14), (2, 6)],
    "standard_pressure_psia": [(-1500, 15000)],
    "psi_from_inwc": [(-20, 60)],
    "psia_from_inhg": [(15, 32)],
    "saturation_pressure_psia": [(-60, 212)],
    "humidity_ratio_from_wet_bulb": [(70, 110), (50, 70), (10.5, 15)],
    "humidity_ratio_from_relative_humidity": [(-20, 120), (0, 100), (9, 15)],
    "relative_humidity_percent": [(60, 120), (0.0005, 0.01), (9, 15)],
    "enthalpy_btulb": [(-20, 140), (0, 0.03)],
    "specific_volume_ft3lb": [(-20, 140), (0, 0.03), (9, 15)],
    "air_density_lbft3": [(-20, 140), (0, 0.03), (9, 15)],
    "velocity_fpm": [(0, 2), (0.04, 0.09)],
    "total_capacity_btuh": [(0, 3e4), (11, 22), (20, 45), (10, 40)],
    "sensible_capacity_btuh": [(0, 3e4), (11, 22), (0, 0.03), (60, 130), (40, 90)],
    "airflow_from_heat_cfm": [(0, 1e6), (5, 90), (11, 22), (0, 0.03)],
    "dew_f": [(0, 0), (50, 280)],
    "bubble_f": [(0, 0), (50, 280)],
    "dew_psia": [(0, 0), (-40, 155)],
    "bubble_psia": [(0, 0), (-40, 155)],
    "target_superheat_f": [(66, 76), (55, 100)],
    "gas_flow_cfh": [(0.25, 10), (8, 300)],
    "gas_volume_correction": [(0, 60), (0, 110), (9, 15)],
    "gas_heat_input_btuh": [(0, 900), (700, 2600)],
    "altitude_derating": [(-500, 9000), (0, 5), (0, 4500)],
    "excess_air_percent": [(0, 0), (0, 15)],
    "carbon_dioxide_max_percent": [(0, 0)],
    "oxygen_from_carbon_dioxide_percent": [(0, 0), (0, 11.6)],
    "co_air_free_ppm": [(0, 2000), (0, 15)],
    "combustion_efficiency_percent": [(0, 0), (0, 15), (145, 1000), (-20, 130), (0, 2000)],
    "economizer_high_limit_f": [(0, 0)],
    "difference_percent": [(-100, 5000), (1, 5000)],
    "standard_protection_not_below_a": [(1, 6000)],
    "air_power_hp": [(0, 3e4), (0, 5)],
    "rectangular_position": [(0, 0), (0, 0), (0, 0)],
    "round_position": [(0, 0), (0, 0), (0, 0)],
    "pressure_ratio": [(40, 200), (200, 600)],
    "refrigerating_effect_btulb": [(0, 0), (-20, 75), (0, 40), (40, 140)],
    **{
        f"compressor_map_{unit}": [
            (-500, 2000), (-10, 20), (-10, 40), (-0.3, 0.3), (-0.3, 0.3), (-0.3, 0.3),
            (-1e-3, 1e-3), (-3e-3, 3e-3), (-3e-3, 3e-3), (-3e-3, 3e-3), (-10, 60), (80, 150),
        ]
        for unit in ("a", "w", "lbh")
    },
    "altitude_band_derating": [(-500, 4500), (0, 20), (0, 2000), (4500, 9000)],
    "input_ratio_from_manifold": [(0, 12), (1, 12)],
    "gas_heating_value_btuft3": [(70, 90), (0, 6), (0, 3), (0, 1)],
    "dry_flue_moles": [(0.8, 3), (3, 10), (0, 0.1), (0, 0.1)],
    "oxygen_from_carbon_dioxide_max_percent": [(0, 11), (11.1, 14)],
    "excess_air_of_gas_percent": [(0.8, 3), (3, 10), (0, 0.1), (0, 0.1), (0, 15)],
    "efficiency_of_gas_percent": [
        (0.8, 3), (3, 10), (0, 0.1), (0, 0.1), (800, 3300), (0, 15), (145, 1000), (-20, 130),
        (0, 2000),
    ],
}  # fmt: skip
# Arguments drawn from a list instead of a range.
COUNTS: Mapping[str, Sequence[float]] = {
    "lines": (5.0, 6.0, 7.0),
    "points": (4.0, 6.0, 8.0, 10.0),
    "number": (1.0, 2.0, 3.0, 4.0),
}

# Inputs at the very edges of what is allowed, and at joints of tables and branches.
EDGES: Mapping[str, Sequence[tuple[object, ...]]] = {
    "sqrt": [(0.0,)],
    "min": [(3.0, 2.0), (-1.0, -1.0, 5.0)],
    "max": [(3.0, 2.0)],
    "motor_derating": [(0.0,), (0.5,), (3.0,), (5.0,)],
    "standard_protection_a": [(15.0,), (20.0,), (2.25 * 6.4 + 5.6,), (72.5,), (6000.0,)],
    "saturation_pressure_psia": [(-148.0,), (31.999999,), (32.0,), (392.0,)],
    "humidity_ratio_from_wet_bulb": [
        (20.0, 18.5, 14.696),
        (40.0, 31.0, 12.2),
        (40.0, 32.0, 12.2),
        (80.0, 80.0, 14.696),
        (-10.0, -10.5, 14.0),
    ],
    "humidity_ratio_from_relative_humidity": [(75.0, 0.0, 14.696), (75.0, 100.0, 14.696)],
    "dew_f": [("R-410A", 132.0), ("r-454b", 120.0), ("R-32", 600.0)],
    "dew_psia": [(name, at) for name in refrigerant.REFRIGERANTS for at in (-40.0, 40.0, 155.0)],
    "bubble_psia": [(name, at) for name in refrigerant.REFRIGERANTS for at in (-40.0, 155.0)],
    "economizer_high_limit_f": [(zone,) for zone in controls.ECONOMIZER_HIGH_LIMIT_F],
    "carbon_dioxide_max_percent": [(fuel,) for fuel in combustion.FUELS],
    "altitude_derating": [(2000.0, 4.0, 2000.0), (2000.5, 4.0, 2000.0)],
    "excess_air_percent": [("natural gas", 0.0), ("propane", 15.0)],
    "standard_protection_not_below_a": [(0.5,), (15.0,), (20.0,), (15.1,), (6000.0,)],
    "rectangular_position": [
        *(("log-Tchebycheff", lines, lines) for lines in (5.0, 6.0, 7.0)),
        ("equal area", 1.0, 1.0),
        ("equal area", 12.0, 12.0),
    ],
    "round_position": [
        *(("log-linear", points, points) for points in (4.0, 6.0, 8.0, 10.0)),
        *(("equal area", 6.0, float(number)) for number in range(1, 7)),
        ("equal area", 12.0, 12.0),
    ],
    "altitude_band_derating": [(2000.0, 10.0, 2000.0, 4500.0), (4500.0, 10.0, 2000.0, 4500.0)],
    "input_ratio_from_manifold": [(0.0, 3.5), (3.2, 3.5)],
    "gas_heating_value_btuft3": [(100.0, 0.0, 0.0, 0.0)],
    "dry_flue_moles": [(1.0, 4.0, 0.0, 0.0)],
    "excess_air_of_gas_percent": [(1.0, 4.0, 0.0, 0.0, 15.0), (1.0, 0.0, 0.0, 0.0, 0.0)],
}

# Inputs that cannot be: Python must refuse each, the spreadsheet must show an error.
IMPOSSIBLE: Mapping[str, Sequence[tuple[object, ...]]] = {
    "sqrt": [(-1.0,)],
    "exp": [(1000.0,)],
    "ln": [(0.0,), (-2.0,)],
    "motor_derating": [(-0.1,), (5.1,)],
    "standard_protection_a": [(14.9,), (6001.0,), (0.0,)],
    "single_phase_kw": [(-1.0, 2.0, 1.0), (1.0, -2.0, 1.0), (1.0, 2.0, 0.0), (1.0, 2.0, 85.0)],
    "three_phase_kw": [(-1.0, 2.0, 1.0), (1.0, -2.0, 1.0), (1.0, 2.0, 0.0), (1.0, 2.0, 1.1)],
    "heater_kw_at_voltage": [(-1.0, 240.0, 208.0), (5.0, 0.0, 208.0), (5.0, 240.0, -1.0)],
    "fan_brake_hp": [(460.0, 5.0, 0.8, 0.0), (460.0, 5.0, 0.8, 84.0), (460.0, 5.0, 1.2, 0.8)],
    "fan_brake_hp_from_amps": [
        (0.0, 5.0, 6.0, 2.0),
        (5.0, 5.0, 6.0, 6.0),
        (5.0, 1.0, 6.0, 2.0),
        (5.0, 5.0, 6.0, -1.0),
    ],
    "belt_length_in": [(20.0, 4.0, 9.0), (6.0, 9.0, 4.0), (20.0, 9.0, 0.0)],
    "standard_pressure_psia": [(-20_000.0,), (40_000.0,)],
    "psia_from_inhg": [(0.0,), (40.0,)],
    "saturation_pressure_psia": [(-150.0,), (400.0,)],
    "humidity_ratio_from_wet_bulb": [
        (80.0, 81.0, 14.7),
        (110.0, 40.0, 14.7),
        (250.0, 230.0, 14.7),
        (500.0, 60.0, 14.7),
        (80.0, 60.0, 0.0),
    ],
    "humidity_ratio_from_relative_humidity": [
        (75.0, -1.0, 14.7),
        (75.0, 101.0, 14.7),
        (220.0, 100.0, 14.7),
        (400.0, 1.0, 14.7),
    ],
    "relative_humidity_percent": [(75.0, -0.001, 14.7), (50.0, 0.02, 14.7), (75.0, 0.01, 0.0)],
    "enthalpy_btulb": [(500.0, 0.01), (75.0, -0.001)],
    "specific_volume_ft3lb": [(500.0, 0.01, 14.7), (75.0, -0.01, 14.7), (75.0, 0.01, 0.0)],
    "air_density_lbft3": [(500.0, 0.01, 14.7), (75.0, -0.01, 14.7), (75.0, 0.01, 0.0)],
    "velocity_fpm": [(-0.01, 0.075), (0.1, 0.0)],
    "total_capacity_btuh": [(-1.0, 13.0, 30.0, 20.0), (1.0, 0.0, 30.0, 20.0)],
    "sensible_capacity_btuh": [
        (-1.0, 13.0, 0.01, 80.0, 60.0),
        (1.0, 0.0, 0.01, 80.0, 60.0),
        (1.0, 13.0, -0.01, 80.0, 60.0),
    ],
    "airflow_from_heat_cfm": [
        (-1.0, 20.0, 13.0, 0.01),
        (1e5, 0.0, 13.0, 0.01),
        (1e5, 20.0, 0.0, 0.01),
        (1e5, 20.0, 13.0, -0.01),
    ],
    "dew_f": [("R-410A", 1.0), ("R-410A", 900.0), ("R-410A", 0.0), ("R-11", 50.0)],
    "bubble_f": [("R-454B", 1.0), ("R-454B", 900.0), ("R-454B", -5.0), ("nothing", 50.0)],
    "dew_psia": [("R-32", -40.5), ("R-32", 155.5), ("R-11", 40.0)],
    "bubble_psia": [("R-32", -40.5), ("R-32", 155.5), ("R-11", 40.0)],
    "target_superheat_f": [(49.0, 75.0), (77.0, 75.0), (65.0, 50.0), (75.0, 120.0), (55.0, 95.0)],
    "gas_flow_cfh": [(0.0, 30.0), (1.0, 0.0)],
    "gas_volume_correction": [(7.0, 60.0, 0.0), (7.0, 200.0, 14.7), (-500.0, 60.0, 14.7)],
    "gas_heat_input_btuh": [(-1.0, 1000.0), (10.0, 0.0)],
    "altitude_derating": [
        (40_000.0, 4.0, 2000.0),
        (5000.0, -1.0, 2000.0),
        (5000.0, 21.0, 2000.0),
        (9000.0, 15.0, 2000.0),
    ],
    "excess_air_percent": [("natural gas", 15.1), ("propane", -0.1), ("oil", 5.0)],
    "carbon_dioxide_max_percent": [("oil",)],
    "oxygen_from_carbon_dioxide_percent": [
        ("natural gas", 11.9),
        ("propane", -1.0),
        ("propane", 13.9),
        ("oil", 5.0),
    ],
    "co_air_free_ppm": [(-1.0, 5.0), (50.0, 15.5), (30_000.0, 5.0)],
    "combustion_efficiency_percent": [
        ("natural gas", 16.0, 370.0, 70.0, 0.0),
        ("natural gas", 5.0, 100.0, 70.0, 0.0),
        ("natural gas", 5.0, 1100.0, 70.0, 0.0),
        ("natural gas", 5.0, 370.0, 200.0, 0.0),
        ("natural gas", 5.0, 140.0, 140.0, 0.0),
        ("natural gas", 5.0, 370.0, 70.0, -1.0),
        ("oil", 5.0, 370.0, 70.0, 0.0),
    ],
    "economizer_high_limit_f": [("9A",), ("",)],
    "difference_percent": [(5.0, 0.0), (5.0, -1.0)],
    "standard_protection_not_below_a": [(0.0,), (-5.0,), (6000.1,)],
    "air_power_hp": [(-1.0, 1.0), (1.0, -1.0)],
    "rectangular_position": [
        ("log-linear", 6.0, 1.0),
        ("log-Tchebycheff", 8.0, 1.0),
        ("log-Tchebycheff", 5.0, 6.0),
        ("log-Tchebycheff", 5.0, 0.0),
        ("log-Tchebycheff", 5.5, 1.0),
        ("equal area", 13.0, 1.0),
        ("equal area", 4.0, 5.0),
        ("equal area", 4.0, 1.5),
    ],
    "round_position": [
        ("log-Tchebycheff", 6.0, 1.0),
        ("log-linear", 5.0, 1.0),
        ("log-linear", 4.0, 5.0),
        ("equal area", 5.0, 1.0),
        ("equal area", 4.0, 5.0),
        ("equal area", 0.0, 1.0),
    ],
    "refrigerating_effect_btulb": [
        ("R-410A", -20.5, 10.0, 95.0),
        ("R-410A", 76.0, 10.0, 95.0),
        ("R-410A", 45.0, -0.5, 95.0),
        ("R-410A", 45.0, 41.0, 95.0),
        ("R-410A", 45.0, 10.0, 39.0),
        ("R-410A", 45.0, 10.0, 141.0),
        ("R-11", 45.0, 10.0, 95.0),
    ],
    "pressure_ratio": [(0.0, 300.0), (-1.0, 300.0), (100.0, 0.0)],
    **{
        f"compressor_map_{unit}": [
            (*[1.0] * 10, 40.0, 40.0),
            (*[1.0] * 10, 140.0, 40.0),
            (-9.0, *[0.0] * 9, 40.0, 120.0),
        ]
        for unit in ("a", "w", "lbh")
    },
    "altitude_band_derating": [
        (4501.0, 10.0, 2000.0, 4500.0),
        (3000.0, 21.0, 2000.0, 4500.0),
        (3000.0, -1.0, 2000.0, 4500.0),
        (1000.0, 10.0, 2000.0, 2000.0),
        (-20_000.0, 10.0, 2000.0, 4500.0),
    ],
    "input_ratio_from_manifold": [(-0.1, 3.5), (3.5, 0.0)],
    "gas_heating_value_btuft3": [(-1.0, 0.0, 0.0, 0.0), (90.0, 12.0, 0.0, 0.0)],
    "dry_flue_moles": [(0.0, 4.0, 0.0, 0.0), (1.0, -1.0, 0.0, 0.0), (1.0, 4.0, -0.1, 0.0)],
    "oxygen_from_carbon_dioxide_max_percent": [(12.0, 11.8), (-0.1, 11.8), (0.0, 0.0)],
    "excess_air_of_gas_percent": [
        (1.0, 4.0, 0.0, 0.0, 15.1),
        (1.0, 4.0, 0.0, 0.0, 21.5),
        (0.0, 4.0, 0.0, 0.0, 5.0),
        (1.0, 4.0, 0.0, -0.1, 5.0),
    ],
    "efficiency_of_gas_percent": [
        (1.0, 4.0, 0.0, 0.0, 0.0, 5.0, 370.0, 70.0, 0.0),
        (1.0, 4.0, 0.0, 0.0, 1010.0, 16.0, 370.0, 70.0, 0.0),
        (1.0, 4.0, 0.0, 0.0, 1010.0, 5.0, 130.0, 70.0, 0.0),
        (1.0, 4.0, 0.0, 0.0, 1010.0, 5.0, 140.0, 140.0, 0.0),
        (0.0, 4.0, 0.0, 0.0, 1010.0, 5.0, 370.0, 70.0, 0.0),
        (1.0, 4.0, 0.0, 0.0, 1010.0, 5.0, 370.0, 70.0, -1.0),
    ],
    "imbalance_of": [(0.0, 0.0, 0.0), (460.0,), (-5.0, 5.0, 5.0)],
}
# Functions that give a number for every number, so that nothing can be refused.
NEVER_REFUSE = {
    *("abs", "min", "max", "known", "sum_of", "mean_of", "largest_of", "smallest_of"),
    *("count_of", "btuh_from_kw", "kw_from_btuh", "tons_from_btuh", "hp_from_kw"),
    "psi_from_inwc",
}
TEXTS: Mapping[str, Sequence[str]] = {
    "refrigerant": tuple(refrigerant.REFRIGERANTS),
    "fuel": tuple(combustion.FUELS),
    "climate_zone": tuple(controls.ECONOMIZER_HIGH_LIMIT_F),
    "rectangular_rule": ("log-Tchebycheff", "equal area"),
    "round_rule": ("log-linear", "equal area"),
}


@dataclass(frozen=True, slots=True)
class Case:
    """One call of one function and what Python makes of it (None: refused)."""

    function: Function
    inputs: tuple[object, ...]
    expected: float | None


def _computed(function: Function, inputs: tuple[object, ...]) -> float | None:
    try:
        aggregate = function.kind is FunctionKind.AGGREGATE
        return float(function.compute(inputs) if aggregate else function.compute(*inputs))
    except CommissionError:
        return None


def _drawn(function: Function, source: random.Random) -> tuple[object, ...]:
    if function.kind is FunctionKind.AGGREGATE:
        return tuple(source.uniform(1, 600) for _ in range(source.randint(2, 9)))
    values: list[object] = []
    for position, bounds in enumerate(RANGES[function.name]):
        argument = function.arguments[min(position, len(function.arguments) - 1)]
        listed = TEXTS.get(argument.name) or COUNTS.get(argument.name)
        values.append(source.choice(listed) if listed else source.uniform(*bounds))
    return tuple(values)


def _cases() -> list[Case]:
    source = random.Random(20260914)
    cases: list[Case] = []
    for function in FUNCTIONS.values():
        if function.name not in CALLED:
            continue
        inputs = [_drawn(function, source) for _ in range(VALID_CASES)]
        inputs += [*EDGES.get(function.name, ()), *IMPOSSIBLE.get(function.name, ())]
        cases += [Case(function, each, _computed(function, each)) for each in inputs]
    return cases


def _write(path: Path, cases: Sequence[Case]) -> None:
    book = xlsxwriter.Workbook(str(path), {"strings_to_formulas": False})
    sheet = book.add_worksheet("Cases")
    for row, case in enumerate(cases):
        for column, value in enumerate(case.inputs):
            sheet.write(row, column + 1, value)
        sheet.write_formula(row, 0, "=" + _formula(case, row), value=-987654321)
    for table in reference_tables().values():
        _write_table(book, table)
    book.close()


def _formula(case: Case, row: int) -> str:
    cells = [f"{string.ascii_uppercase[at + 1]}{row + 1}" for at in range(len(case.inputs))]
    if case.function.kind is FunctionKind.AGGREGATE:
        # A split list of ranges, as a repeat over two places in a workbook gives it.
        half = len(cells) // 2 or 1
        ranges = [f"{part[0]}:{part[-1]}" for part in (cells[:half], cells[half:]) if part]
        return case.function.spreadsheet.format(",".join(ranges))
    return case.function.spreadsheet.format(*cells, all=",".join(cells))


def _write_table(book: xlsxwriter.Workbook, table: ReferenceTable) -> None:
    name = table.name
    sheet = book.add_worksheet(name)
    sheet.write_row(2, 1, table.columns)
    for row, values in enumerate(table.rows):
        for column, value in enumerate(values):
            write = sheet.write_string if isinstance(value, str) else sheet.write_number
            write(row + 3, column + 1, value)
    last = xlsxwriter.utility.xl_rowcol_to_cell(
        len(table.rows) + 2, len(table.columns), row_abs=True, col_abs=True
    )
    last_column = re.sub(r"[$\d]", "", last)
    book.define_name(f"ref_{name}_head", f"={name}!$B$3:${last_column}$3")
    book.define_name(f"ref_{name}_body", f"={name}!$B$4:{last}")


@pytest.fixture(scope="module")
def recalculated(tmp_path_factory: pytest.TempPathFactory) -> list[tuple[Case, object]]:
    """Every case with what LibreOffice computes for it."""
    folder = tmp_path_factory.mktemp("functions")
    cases = _cases()
    _write(folder / "functions.xlsx", cases)
    result = recalculate(folder / "functions.xlsx", folder / "recalculated")
    sheet = openpyxl.load_workbook(result, data_only=True)["Cases"]
    return [(case, sheet.cell(row, 1).value) for row, case in enumerate(cases, start=1)]


# What needs more than plain values beside it has tests of its own (test_entered_tables).
APART = (FunctionKind.PRESENCE, FunctionKind.ENTERED, FunctionKind.MEMBER)
CALLED = [row.name for row in FUNCTIONS.values() if row.kind not in APART]


@pytest.mark.recalculation
@pytest.mark.parametrize("name", CALLED)
def test_spreadsheet_agrees_with_python(name: str, recalculated: list[tuple[Case, object]]) -> None:
    faults = []
    for case, found in recalculated:
        if case.function.name != name or case.expected is None:
            continue
        close = isinstance(found, int | float) and math.isclose(
            found, case.expected, rel_tol=RELATIVE, abs_tol=ABSOLUTE
        )
        if not close:
            faults.append((case.inputs, case.expected, found))
    assert not faults, faults[:5]


@pytest.mark.recalculation
@pytest.mark.parametrize("name", sorted(IMPOSSIBLE))
def test_impossible_input_is_an_error_in_both(
    name: str, recalculated: list[tuple[Case, object]]
) -> None:
    for case, found in recalculated:
        if case.function.name == name and case.inputs in IMPOSSIBLE[name]:
            assert case.expected is None, case.inputs
        if case.function.name == name and case.expected is None:
            assert str(found).startswith("#"), (case.inputs, found)


def test_drawn_inputs_are_mostly_valid(recalculated: list[tuple[Case, object]]) -> None:
    for name in CALLED:
        mine = [case for case, _ in recalculated if case.function.name == name][:VALID_CASES]
        assert sum(case.expected is not None for case in mine) >= VALID_CASES * 0.6, name


def test_every_function_is_drawn_and_refused() -> None:
    aggregates = {n for n, row in FUNCTIONS.items() if row.kind is FunctionKind.AGGREGATE}
    assert set(CALLED) - aggregates == set(RANGES)
    apart = {n for n, row in FUNCTIONS.items() if row.kind in APART}
    assert set(IMPOSSIBLE) == set(FUNCTIONS) - NEVER_REFUSE - apart


def test_refusals_name_the_values_and_the_cure() -> None:
    for name, inputs in IMPOSSIBLE.items():
        row = FUNCTIONS[name]
        for each in inputs:
            with pytest.raises(CommissionError) as raised:
                row.compute(each) if row.kind is FunctionKind.AGGREGATE else row.compute(*each)
            assert str(raised.value).count(" ") > 5, (name, each)
            assert str(raised.value).rstrip().endswith((".", "?")), (name, each)


def incompleteness(row: Function) -> list[str]:
    """Return what a row of the function table lacks."""
    faults = [
        f"{field.name} is empty"
        for field in fields(row)
        if field.name in ("name", "arguments", "spreadsheet", "symbol", "valid", "source")
        and not getattr(row, field.name)
    ]
    faults += [f"unit '{one.unit}'" for one in row.arguments if not _known_unit(one)]
    by_table = ("rows", "body") if row.kind is FunctionKind.ENTERED else ()
    if row.result not in ("same", "flag", *by_table, *UNITS):
        faults.append(f"result '{row.result}'")
    if row.arguments and row.arguments[0].unit == "same":
        faults.append("first argument cannot be 'same'")
    for template in ("spreadsheet", "symbol"):
        faults += _unused(row, template)
    faults += [f"no table '{name}'" for name in row.tables if name not in reference_tables()]
    named = set(re.findall(r"ref_(\w+?)_(?:head|body)", row.spreadsheet))
    if named != set(row.tables):
        faults.append(f"tables declared {row.tables}, used {sorted(named)}")
    if (row.kind is FunctionKind.TABLE) != bool(row.tables):
        faults.append("kind and tables disagree")
    return faults


def _known_unit(argument: Argument) -> bool:
    words = ("text", "any", "same", "repeat", "table", "rows", "columns", "body")
    return argument.unit in words or argument.unit in UNITS


def _unused(row: Function, template: str) -> list[str]:
    text = getattr(row, template)
    if row.steps and template == "spreadsheet":
        text += "".join(step.spreadsheet for step in row.steps)
        steps = {step.name for step in row.steps}
        unused = {step for step in steps if f"{{{step}}}" not in text}
        text = re.sub("|".join(f"{{{step}}}" for step in steps), "", text)
        if unused:
            return [f"steps {sorted(unused)} are not used"]
    elif row.steps:
        text = text.replace("{rest}", "{1}{2}")
    places = {name for _, name, _, _ in string.Formatter().parse(text) if name is not None}
    wanted = {"all"} if row.variadic else {str(at) for at in range(len(row.arguments))}
    return [] if places == wanted else [f"{template} uses {sorted(places)}"]


@pytest.mark.parametrize("name", FUNCTIONS)
def test_row_is_complete(name: str) -> None:
    assert FUNCTIONS[name].name == name
    assert incompleteness(FUNCTIONS[name]) == []


def test_an_incomplete_row_is_refused() -> None:
    row = Function(
        name="x",
        compute=abs,
        arguments=(Argument("a", "furlong"),),
        result="pint",
        spreadsheet="ABS(ref_nothing_body)",
        symbol="",
        valid="",
        source="",
    )
    faults = incompleteness(row)
    expected = ("symbol", "valid", "source", "furlong", "pint", "nothing", "spreadsheet uses")
    for word in expected:
        assert any(word in fault for fault in faults), (word, faults)


@pytest.mark.parametrize("name", FUNCTIONS)
def test_spreadsheet_text_is_common_to_all_spreadsheets(name: str) -> None:
    row = FUNCTIONS[name]
    text = ",".join([row.spreadsheet, *(step.spreadsheet for step in row.steps)])
    used = set(re.findall(r"([A-Z][A-Z0-9.]+)\(", text))
    volatile = {"OFFSET", "INDIRECT", "NOW", "TODAY", "RAND", "CELL"}
    assert used <= set(FORMULAE) - volatile, used
    assert not re.search(r"(?:^|[(,])-[^,()]*\^", text), "minus before a power binds otherwise"


@pytest.mark.parametrize("name", FUNCTIONS)
def test_spreadsheet_text_fits_a_cell_with_long_references(name: str) -> None:
    place = "'A sheet with the longest name 31'!$AAA$1000000"
    row = FUNCTIONS[name]
    place = "u12_a_name_as_long_as_they_are" if row.steps else place
    cells = {step.name: "'Look-ups'!$AA$1000" for step in row.steps}
    for text in (row.spreadsheet, *(step.spreadsheet for step in row.steps)):
        filled = text.format(*[place] * 12, all=",".join([place] * 9), **cells)
        assert len(filled) < 8192  # Excel's limit for one formula


def test_known_is_presence() -> None:
    row = FUNCTIONS["known"]
    assert row.kind is FunctionKind.PRESENCE
    assert row.compute(0.0) is True
    assert row.compute("") is False
    assert row.compute(None) is False


def test_reference_tables_are_rectangular_and_sourced() -> None:
    for table in reference_tables().values():
        assert all((table.title, table.note, table.source))
        assert {len(row) for row in table.rows} == {len(table.columns)}


@pytest.mark.recalculation
def test_spreadsheet_lookup_stops_where_a_curve_stops(tmp_path: Path) -> None:
    """A shorter curve is filled with "-": inside it agrees, past it there is an error."""
    book = xlsxwriter.Workbook(str(tmp_path / "short.xlsx"))
    sheet = book.add_worksheet("t")
    sheet.write_row(0, 0, ("Temperature, °F", "R-32"))
    for at in range(10):
        sheet.write_row(at + 1, 0, (40.0 + at, 4 + at / 50 if at < 6 else "-"))
    book.define_name("ref_saturation_dew_head", "=t!$A$1:$B$1")
    book.define_name("ref_saturation_dew_body", "=t!$A$2:$B$11")
    given = [("dew_f", math.exp(4.05)), ("dew_f", math.exp(4.1) - 1e-9)]
    given += [("dew_f", math.exp(4.11)), ("dew_psia", 45.0), ("dew_psia", 45.1)]
    for row, (name, value) in enumerate(given):
        text = FUNCTIONS[name].spreadsheet.format('"R-32"', repr(value))
        sheet.write_formula(row, 4, "=" + text)
    book.close()
    result = recalculate(tmp_path / "short.xlsx", tmp_path / "out")
    found = [cell.value for (cell,) in openpyxl.load_workbook(result, data_only=True)["t"]["E1:E5"]]
    assert found[0] == pytest.approx(42.5, abs=1e-9)
    assert found[1] == pytest.approx(45.0, abs=1e-6)
    assert str(found[2]).startswith("#")
    assert found[3] == pytest.approx(math.exp(4.1), rel=1e-12)
    assert str(found[4]).startswith("#")
