"""Airflow functions: published rows stand in tests/reference; properties and laws here."""

from __future__ import annotations

import math
from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st

from commission.engineering import airflow, moist_air
from commission.errors import ReadingError

Rule = Callable[[int], tuple[float, ...]]
RULES: list[tuple[Rule, int]] = [
    *((airflow.log_tchebycheff_positions, lines) for lines in (5, 6, 7)),
    *((airflow.log_linear_positions, points) for points in (4, 6, 8, 10)),
    *((airflow.equal_area_positions_rectangular, lines) for lines in (1, 4, 5, 8)),
    *((airflow.equal_area_positions_round, rings) for rings in (1, 3, 4, 5)),
]


@pytest.mark.parametrize(("rule", "count"), RULES)
def test_positions_rise_and_are_symmetric(rule: Rule, count: int) -> None:
    positions = rule(count)
    assert list(positions) == sorted(set(positions))
    assert 0 < positions[0] <= 0.5
    for near, far in zip(positions, reversed(positions), strict=True):
        assert near + far == pytest.approx(1, abs=1e-9)


@pytest.mark.parametrize(
    ("rings", "near_side"),
    [
        (3, (0.0436, 0.1464, 0.2959)),
        (4, (0.0323, 0.1047, 0.1938, 0.3232)),
        (5, (0.0257, 0.0817, 0.1464, 0.2261, 0.3419)),
    ],
)
def test_round_equal_area_points_halve_their_rings(
    rings: int, near_side: tuple[float, ...]
) -> None:
    positions = airflow.equal_area_positions_round(rings)
    assert positions[:rings] == pytest.approx(near_side, abs=5e-5)
    for ring, position in enumerate(reversed(positions[:rings]), start=1):
        radius = 1 - 2 * position
        inside = (ring - 1) / rings
        assert radius**2 - inside == pytest.approx(1 / (2 * rings))


def _error_percent(positions: tuple[float, ...]) -> float:
    """Error of a mean on the profile (1 - |2x - 1|)^(1/7), whose true mean is 7/8, in %."""
    values = [(1 - abs(2 * x - 1)) ** (1 / 7) for x in positions]
    return 100 * (math.fsum(values) / len(values) / (7 / 8) - 1)


@pytest.mark.parametrize("lines", [5, 6, 7])
def test_log_tchebycheff_beats_equal_spacing_on_a_power_law(lines: int) -> None:
    """1/7 power law of turbulent flow across one side: its integral as oracle."""
    rule = _error_percent(airflow.log_tchebycheff_positions(lines))
    equal = _error_percent(airflow.equal_area_positions_rectangular(lines))
    assert abs(rule) < 0.3
    assert equal > 1.0


@pytest.mark.parametrize("points", [4, 6, 8, 10])
def test_log_linear_integrates_a_power_law(points: int) -> None:
    """The mean of (1 - r)^(1/7) over a round duct is 49/60."""
    values = [(1 - abs(2 * x - 1)) ** (1 / 7) for x in airflow.log_linear_positions(points)]
    assert math.fsum(values) / points == pytest.approx(49 / 60, rel=0.006)


@pytest.mark.parametrize(
    ("rule", "count"),
    [
        (airflow.log_tchebycheff_positions, 4),
        (airflow.log_tchebycheff_positions, 8),
        (airflow.log_linear_positions, 5),
        (airflow.equal_area_positions_rectangular, 0),
        (airflow.equal_area_positions_round, 0),
    ],
)
def test_counts_outside_the_rule_are_refused(rule: Rule, count: int) -> None:
    with pytest.raises(ReadingError):
        rule(count)


@pytest.mark.parametrize(("side", "lines"), [(29.9, 5), (30, 6), (36, 6), (36.1, 7)])
def test_lines_by_side(side: float, lines: int) -> None:
    assert airflow.lines_required(side) == lines


@given(st.floats(0, 4), st.floats(0.03, 0.1))
def test_velocity_gives_back_its_pressure(pressure: float, density: float) -> None:
    velocity = airflow.velocity_fpm(pressure, density)
    assert density * (velocity / 1096.7) ** 2 == pytest.approx(pressure)


def test_velocity_constant_is_bernoulli_in_these_units() -> None:
    """√(2 x 248.6 Pa / (1 lb/ft³ in kg/m³)) in fpm, water at 68 °F (pint for the units)."""
    import pint

    registry = pint.UnitRegistry()
    density = registry.Quantity(1, "lb/ft**3")
    speed = (2 * registry.Quantity(248.64, "Pa") / density) ** 0.5
    assert speed.to("ft/min").m == pytest.approx(airflow.VELOCITY_CONSTANT, rel=2e-4)


def test_real_density_is_worth_ten_percent_at_altitude() -> None:
    """5,000 ft, 75 °F, 50 %: 2214 fpm where the sea-level 4005 gives 2002."""
    barometer = moist_air.standard_pressure_psia(5000)
    ratio = moist_air.humidity_ratio_from_relative_humidity(75, 50, barometer)
    density = moist_air.air_density_lbft3(75, ratio, barometer)
    assert airflow.velocity_fpm(0.25, density) == pytest.approx(2214.4, abs=0.5)


def test_velocities_are_averaged_not_pressures() -> None:
    points = [0.04, 0.05, 0.06, 0.07, 0.09, 0.10, 0.12, 0.14, 0.16]
    density = (1096.7 / 4005) ** 2
    mean = airflow.mean_velocity_fpm(points, density)
    assert mean == pytest.approx(1188.1, abs=0.2)  # plain arithmetic
    of_mean = airflow.velocity_fpm(math.fsum(points) / len(points), density)
    assert of_mean / mean - 1 == pytest.approx(0.024, abs=0.001)
    with pytest.raises(ReadingError):
        airflow.mean_velocity_fpm([], density)


@given(st.floats(300, 1800), st.floats(300, 1800))
def test_fan_laws_keep_power_over_flow_and_pressure(rpm: float, new_rpm: float) -> None:
    """Air power is flow x pressure, so the cube law must follow from the other two."""
    flow = airflow.airflow_at_speed_cfm(4000, rpm, new_rpm)
    pressure = airflow.pressure_at_speed_inwc(1.0, rpm, new_rpm)
    power = airflow.brake_power_at_speed_hp(2.0, rpm, new_rpm)
    assert power / (flow * pressure) == pytest.approx(2.0 / 4000)
    assert airflow.airflow_at_speed_cfm(flow, new_rpm, rpm) == pytest.approx(4000)


def test_fan_law_example() -> None:
    """800 to 900 rpm, plain arithmetic."""
    assert airflow.airflow_at_speed_cfm(4000, 800, 900) == pytest.approx(4500)
    assert airflow.pressure_at_speed_inwc(1.0, 800, 900) == pytest.approx(1.266, abs=5e-4)
    assert airflow.brake_power_at_speed_hp(2.0, 800, 900) == pytest.approx(2.848, abs=5e-4)


def test_brake_power_examples() -> None:
    """Plain arithmetic; the trade's 746 W and our 745.7 W differ by 0.04 %."""
    assert airflow.fan_brake_hp(460, 5.8, 0.80, 0.84) == pytest.approx(4.163, rel=5e-4)
    assert airflow.fan_brake_hp_from_amps(5, 5.8, 6.6, 3.0) == pytest.approx(4.216, abs=5e-4)
    assert airflow.air_horsepower_brake_hp(4000, 1.5, 0.65) == pytest.approx(1.452, abs=5e-4)


def test_air_power_is_brake_power_at_full_efficiency() -> None:
    power = airflow.air_power_hp(4000, 1.5)
    assert power == pytest.approx(0.944, abs=5e-4)  # plain arithmetic
    assert airflow.air_horsepower_brake_hp(4000, 1.5, 0.5) == pytest.approx(2 * power)
    with pytest.raises(ReadingError):
        airflow.air_power_hp(4000, -0.1)


def test_air_power_constant_is_a_matter_of_units() -> None:
    import pint

    registry = pint.UnitRegistry()
    one = registry.Quantity(1, "ft**3/min") * registry.Quantity(248.84, "Pa")
    assert 1 / one.to("hp").m == pytest.approx(airflow.FAN_POWER_CONSTANT, rel=1e-3)


def test_sheave_and_belt() -> None:
    assert airflow.motor_sheave_in(9.0, 990, 1750) == pytest.approx(5.091, abs=5e-4)
    assert airflow.belt_length_in(20, 9, 4.63) == pytest.approx(61.64, abs=0.01)


@given(st.floats(2, 8), st.floats(8, 20), st.floats(30, 80))
def test_belt_length_near_its_exact_geometry(small: float, large: float, centres: float) -> None:
    """Oracle: open belt, straight spans plus wrapped arcs."""
    slope = math.asin((large - small) / (2 * centres))
    spans = 2 * centres * math.cos(slope)
    arcs = large * (math.pi / 2 + slope) + small * (math.pi / 2 - slope)
    found = airflow.belt_length_in(centres, large, small)
    assert found == pytest.approx(spans + arcs, rel=1.5e-3)


@given(st.floats(100, 20_000), st.floats(0.05, 1), st.floats(0.05, 1))
def test_coil_drop_goes_round(known: float, known_drop: float, drop: float) -> None:
    flow = airflow.airflow_from_coil_drop_cfm(known, known_drop, drop)
    assert airflow.airflow_from_coil_drop_cfm(flow, drop, known_drop) == pytest.approx(known)


@pytest.mark.parametrize(
    "call",
    [
        lambda: airflow.lines_required(0),
        lambda: airflow.airflow_at_speed_cfm(-1, 800, 900),
        lambda: airflow.airflow_at_speed_cfm(4000, 0, 900),
        lambda: airflow.brake_power_at_speed_hp(-1, 800, 900),
        lambda: airflow.pressure_at_speed_inwc(1, 800, -1),
        lambda: airflow.airflow_from_coil_drop_cfm(4000, 0, 0.2),
        lambda: airflow.airflow_from_coil_drop_cfm(4000, 0.2, -0.1),
        lambda: airflow.air_horsepower_brake_hp(4000, 1.5, 65),
        lambda: airflow.motor_sheave_in(9, 990, 0),
        lambda: airflow.velocity_fpm(math.nan, 0.075),
    ],
)
def test_impossible_input_is_refused(call: Callable[[], float]) -> None:
    with pytest.raises(ReadingError):
        call()
