"""Airflow: velocity, traverse points, fans, drives.

Guards stay on and the disconnect stays locked while belts and sheaves are handled; see the
unit's literature.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from commission.engineering.electrical import KW_PER_HP, refuse_share, three_phase_kw
from commission.engineering.possible import refuse_below, refuse_not_above
from commission.errors import ReadingError
from commission.language import spoken, to_say

VELOCITY_CONSTANT = 1096.7
FAN_POWER_CONSTANT = 6356.0

# Log-Tchebycheff rule for rectangular ducts, fraction of the side (ISO 3966, ASHRAE 111),
# as printed in an equipment installation manual.
LOG_TCHEBYCHEFF = {
    5: (0.074, 0.288, 0.500, 0.712, 0.926),
    6: (0.061, 0.235, 0.437, 0.563, 0.765, 0.939),
    7: (0.053, 0.203, 0.366, 0.500, 0.634, 0.797, 0.947),
}
# Log-linear rule for round ducts, fraction of the diameter (ISO 3966, AMCA 203). 6, 8, 10 as
# printed in an equipment installation manual; 4 from memory of ISO 3966.
LOG_LINEAR = {
    4: (0.043, 0.290, 0.710, 0.957),
    6: (0.032, 0.135, 0.321, 0.679, 0.865, 0.968),
    8: (0.021, 0.117, 0.184, 0.345, 0.655, 0.816, 0.883, 0.979),
    10: (0.019, 0.077, 0.153, 0.217, 0.361, 0.639, 0.783, 0.847, 0.923, 0.981),
}


def velocity_fpm(velocity_pressure_inwc: float, density_lbft3: float) -> float:
    """Return air velocity 1096.7 √(VP / ρ), fpm.

    Args:
        velocity_pressure_inwc: Velocity pressure, in. w.c.
        density_lbft3: Density of the moist air at the tube, lb/ft³.
    Raises:
        ReadingError: Negative velocity pressure or no density.
    Valid: average velocities, never velocity pressures.
    Source: ASHRAE 111; 1096.7 holds for water at room temperature (1097.8 at 4 °C).
    """
    refuse_below(
        "Velocity pressure",
        velocity_pressure_inwc,
        0,
        "in. w.c.",
        "Check that total pressure is on the high side; a reversed flow reads negative.",
    )
    refuse_not_above("Air density", density_lbft3, 0, "lb/ft³", "Check the barometer.")
    return VELOCITY_CONSTANT * math.sqrt(velocity_pressure_inwc / density_lbft3)


def mean_velocity_fpm(velocity_pressures_inwc: Sequence[float], density_lbft3: float) -> float:
    """Return the mean of the velocities of a traverse, fpm; not that of the mean pressure.

    Raises:
        ReadingError: No points, or a point that `velocity_fpm` refuses.
    Source: ASHRAE 111, average of the square roots.
    """
    if not velocity_pressures_inwc:
        raise ReadingError(spoken("A traverse without points has no mean. Enter the readings."))
    velocities = [velocity_fpm(point, density_lbft3) for point in velocity_pressures_inwc]
    return math.fsum(velocities) / len(velocities)


def log_tchebycheff_positions(lines: int) -> tuple[float, ...]:
    """Return probe positions across a rectangular duct's side, fractions of the side.

    Args:
        lines: 5, 6 or 7 (see `lines_required`).
    Raises:
        ReadingError: Another number of lines.
    Source: Log-Tchebycheff rule, ISO 3966 and ASHRAE 111; at least 25 points a duct.
    """
    return _listed(to_say("lines of a log-Tchebycheff traverse"), lines, LOG_TCHEBYCHEFF)


def log_linear_positions(points_per_diameter: int) -> tuple[float, ...]:
    """Return probe positions across a round duct's diameter, fractions of the diameter.

    Args:
        points_per_diameter: 4, 6, 8 or 10, on two diameters at 90° or three at 60°.
    Raises:
        ReadingError: Another number of points.
    Source: Log-linear rule, ISO 3966 (4 points from memory).
    """
    return _listed(to_say("points of a log-linear traverse"), points_per_diameter, LOG_LINEAR)


def _listed(what: str, count: int, table: dict[int, tuple[float, ...]]) -> tuple[float, ...]:
    if count not in table:
        allowed = ", ".join(str(number) for number in table)
        raise ReadingError(
            spoken(
                "{count} {what} is not in the rule. Choose one of {allowed}.",
                count=count,
                what=spoken(what),
                allowed=allowed,
            )
        )
    return table[count]


def equal_area_positions_rectangular(lines: int) -> tuple[float, ...]:
    """Return the middles of equal strips of a side, fractions of the side.

    Raises:
        ReadingError: Fewer than one line.
    Source: Equal-area rule; on a 1/7 power profile 1.1 to 1.7 % high in each direction,
        where log-Tchebycheff is within 0.3 %.
    """
    _refuse_count(to_say("lines"), lines)
    return tuple((2 * line + 1) / (2 * lines) for line in range(lines))


def equal_area_positions_round(rings: int) -> tuple[float, ...]:
    """Return positions at the mid-areas of equal rings, fractions of the diameter.

    Args:
        rings: Rings of equal area; two points a ring on each diameter.
    Raises:
        ReadingError: Fewer than one ring.
    Source: Equal-area (tangential) rule, ½ (1 ± √((2 k - 1) / (2 n))).
    """
    _refuse_count(to_say("rings"), rings)
    radii = [math.sqrt((2 * ring - 1) / (2 * rings)) for ring in range(rings, 0, -1)]
    near = [(1 - radius) / 2 for radius in radii]
    return (*near, *(1 - position for position in reversed(near)))


def _refuse_count(what: str, count: int) -> None:
    if count < 1:
        raise ReadingError(
            spoken(
                "A traverse of {count} {what} has no points. Enter 1 or more.",
                count=count,
                what=spoken(what),
            )
        )


def lines_required(side_in: float) -> int:
    """Return how many log-Tchebycheff lines a duct side needs.

    Args:
        side_in: Inside length of the side, in.
    Returns:
        5 below 30 in., 6 from 30 to 36 in., 7 above.
    Raises:
        ReadingError: No length.
    Source: ASHRAE 111 as printed in an equipment installation manual.
    """
    refuse_not_above("Duct side", side_in, 0, "in.", "Measure the inside of the duct.")
    if side_in < 30:
        return 5
    return 6 if side_in <= 36 else 7


def airflow_at_speed_cfm(airflow_cfm: float, rpm: float, new_rpm: float) -> float:
    """Return the airflow at another fan speed, in proportion (first fan law), cfm.

    Raises:
        ReadingError: Negative airflow or no speed.
    Valid: same fan, system and density.
    Source: Fan laws, AMCA 201 and ASHRAE HVAC Systems and Equipment, "Fans".
    """
    refuse_below("Airflow", airflow_cfm, 0, "cfm", "Read it again.")
    return airflow_cfm * _speed_ratio(rpm, new_rpm)


def pressure_at_speed_inwc(pressure_inwc: float, rpm: float, new_rpm: float) -> float:
    """Return a static pressure at another fan speed, by its square (second fan law).

    Raises:
        ReadingError: No speed.
    Valid: same fan, system and density.
    Source: Fan laws, AMCA 201.
    """
    return pressure_inwc * _speed_ratio(rpm, new_rpm) ** 2


def brake_power_at_speed_hp(brake_hp: float, rpm: float, new_rpm: float) -> float:
    """Return brake power at another fan speed, by its cube (third fan law), hp.

    Raises:
        ReadingError: Negative power or no speed.
    Valid: same fan, system and density; check against motor power and service factor.
    Source: Fan laws, AMCA 201.
    """
    refuse_below("Brake power", brake_hp, 0, "hp", "Read it again.")
    return brake_hp * _speed_ratio(rpm, new_rpm) ** 3


def _speed_ratio(rpm: float, new_rpm: float) -> float:
    refuse_not_above("Fan speed", rpm, 0, "rpm", "Read the tachometer again.")
    refuse_below("New fan speed", new_rpm, 0, "rpm", "Enter the speed wanted.")
    return new_rpm / rpm


def airflow_from_coil_drop_cfm(known_cfm: float, known_drop_inwc: float, drop_inwc: float) -> float:
    """Return airflow from a coil's pressure drop and one known point, by its square root.

    Raises:
        ReadingError: Negative airflow or drop, or a known drop of zero.
    Valid: same coil, equally wet or dry; a law for turbulent flow, about 5 % near the
        known point.
    Source: Common practice (square law of resistance).
    """
    refuse_below("Known airflow", known_cfm, 0, "cfm", "Read the coil's table again.")
    refuse_not_above("Known drop", known_drop_inwc, 0, "in. w.c.", "Read the table again.")
    refuse_below("Coil drop", drop_inwc, 0, "in. w.c.", "Check the tubing of the gauge.")
    return known_cfm * math.sqrt(drop_inwc / known_drop_inwc)


def fan_brake_hp(volts: float, amps: float, power_factor: float, efficiency: float) -> float:
    """Return a three-phase motor's shaft power √3 V I pf η / 745.7, hp.

    Args:
        volts: Mean volts phase to phase, V.
        amps: Mean line amps, A.
        power_factor: 0 to 1 at the load at hand; rarely known to 10 %.
        efficiency: Motor efficiency, 0 to 1.
    Raises:
        ReadingError: As `three_phase_kw`, or an efficiency not in (0, 1].
    Source: Definition; 1 hp = 745.7 W (the trade's 746 reads 0.04 % lower).
    """
    refuse_share("Motor efficiency", efficiency)
    return three_phase_kw(volts, amps, power_factor) * efficiency / KW_PER_HP


def fan_brake_hp_from_amps(
    rated_hp: float, amps: float, rated_amps: float, no_load_amps: float
) -> float:
    """Return shaft power hp (I - ½ I0) / (FLA - ½ I0), hp.

    Args:
        rated_hp: Nameplate power, hp.
        amps: Running amps, A.
        rated_amps: Full-load amps at the voltage at hand, A.
        no_load_amps: Amps with the belt off, A.
    Raises:
        ReadingError: No rated power, no-load amps not below full-load amps, or running
            amps below no-load amps.
    Valid: induction motors above half load; within about 10 %.
    Source: Common practice (from memory).
    """
    refuse_not_above("Rated power", rated_hp, 0, "hp", "Read the nameplate again.")
    refuse_below("No-load current", no_load_amps, 0, "A", "Read it with the belt off.")
    if not no_load_amps < rated_amps:
        raise ReadingError(
            spoken(
                "No-load current {no_load_amps:.6g} A is not below full-load current "
                "{rated_amps:.6g} A. Read it with the belt off.",
                no_load_amps=no_load_amps,
                rated_amps=rated_amps,
            )
        )
    refuse_below("Running current", amps, no_load_amps, "A", "It is the no-load current.")
    return rated_hp * (amps - 0.5 * no_load_amps) / (rated_amps - 0.5 * no_load_amps)


def air_horsepower_brake_hp(
    airflow_cfm: float, total_pressure_inwc: float, fan_efficiency: float
) -> float:
    """Return brake power from airflow and pressure, cfm x in. w.c. / (6356 η), hp.

    Raises:
        ReadingError: Negative airflow or pressure, efficiency not in (0, 1].
    Source: ASHRAE HVAC Systems and Equipment, "Fans".
    """
    refuse_below("Airflow", airflow_cfm, 0, "cfm", "Read it again.")
    refuse_below("Fan pressure", total_pressure_inwc, 0, "in. w.c.", "Check the tubing.")
    refuse_share("Fan efficiency", fan_efficiency)
    return airflow_cfm * total_pressure_inwc / (FAN_POWER_CONSTANT * fan_efficiency)


def air_power_hp(airflow_cfm: float, pressure_inwc: float) -> float:
    """Return the power that a fan gives the air, cfm x in. w.c. / 6356, hp.

    Args:
        airflow_cfm: Airflow through the fan, cfm.
        pressure_inwc: Its pressure rise, in. w.c. (static rise gives static efficiency).
    Raises:
        ReadingError: Negative airflow or pressure.
    Source: ASHRAE HVAC Systems and Equipment, "Fans".
    """
    return air_horsepower_brake_hp(airflow_cfm, pressure_inwc, 1.0)


def motor_sheave_in(fan_sheave_in: float, fan_rpm: float, motor_rpm: float) -> float:
    """Return the motor sheave's pitch diameter for a fan speed, in.

    Args:
        fan_sheave_in: Pitch diameter of the fan's sheave, in.
        fan_rpm: Fan speed wanted, rpm.
        motor_rpm: Motor speed, rpm.
    Raises:
        ReadingError: A diameter or speed of zero or less.
    Source: Belt drive without slip, rpm x pitch diameter equal on both sheaves.
    """
    refuse_not_above("Fan sheave", fan_sheave_in, 0, "in.", "Measure the pitch diameter.")
    refuse_not_above("Fan speed", fan_rpm, 0, "rpm", "Enter the speed wanted.")
    refuse_not_above("Motor speed", motor_rpm, 0, "rpm", "Read the nameplate.")
    return fan_sheave_in * fan_rpm / motor_rpm


def belt_length_in(
    center_distance_in: float, larger_diameter_in: float, smaller_diameter_in: float
) -> float:
    """Return a belt's pitch length 2C + 1.57 (D + d) + (D - d)² / 4C, in.

    Args:
        center_distance_in: Between shafts, in.
        larger_diameter_in: Pitch diameter of the larger sheave, in.
        smaller_diameter_in: Pitch diameter of the smaller sheave, in.
    Raises:
        ReadingError: No diameter, diameters swapped, or sheaves that would overlap.
    Source: V-belt drive formula of the trade (ARPM IP-20, from memory).
    """
    refuse_not_above("Smaller sheave", smaller_diameter_in, 0, "in.", "Measure it again.")
    if not smaller_diameter_in <= larger_diameter_in:
        raise ReadingError(
            spoken(
                "The smaller sheave, {smaller_diameter_in:.6g} in., is larger than the larger, "
                "{larger_diameter_in:.6g} in. Swap them.",
                smaller_diameter_in=smaller_diameter_in,
                larger_diameter_in=larger_diameter_in,
            )
        )
    total = larger_diameter_in + smaller_diameter_in
    refuse_not_above("Centre distance", center_distance_in, total / 2, "in.", "Measure again.")
    slant = (larger_diameter_in - smaller_diameter_in) ** 2 / (4 * center_distance_in)
    return 2 * center_distance_in + 1.57 * total + slant
