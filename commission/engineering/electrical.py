"""Volts, amps, power, conductors and protection.

Working inside an energised unit can kill. These functions only reckon; how and whether to
take a reading is for qualified persons under NFPA 70E, local codes and the unit's literature.
"""

from __future__ import annotations

import math
from bisect import bisect_left, bisect_right
from collections.abc import Sequence

from commission.engineering.possible import (
    Bounds,
    refuse_below,
    refuse_not_above,
    refuse_outside,
)
from commission.errors import ReadingError
from commission.language import spoken

BTUH_PER_KW = 3_600_000 / 1055.05585262
BTUH_PER_TON = 12_000.0
KW_PER_HP = 0.745699871582
SQUARE_ROOT_OF_3 = math.sqrt(3)

# NEC (NFPA 70) 240.6(A), fuses and inverse-time breakers. The list up to 600 A was read in
# secondary sources quoting the code; 601 A and above is from memory.
STANDARD_PROTECTION_A: tuple[float, ...] = (
    15, 20, 25, 30, 35, 40, 45, 50, 60, 70, 80, 90, 100, 110, 125, 150, 175, 200, 225, 250,
    300, 350, 400, 450, 500, 600, 700, 800, 1000, 1200, 1600, 2000, 2500, 3000, 4000, 5000,
    6000,
)  # fmt: skip
# Room for the last bits of a sum: 2.25 x 6.4 + 5.6 must count as 20 A, not as 19.99...
SIZE_ALLOWANCE = 1 + 1e-9

# NEMA MG 1 figure 14-1 as tabulated at engineeringtoolbox.com; a drawn curve, good to
# about 0.01 (0.02 above 3 %: other pages read 0.90 at 3 %).
MOTOR_DERATING: tuple[tuple[float, float], ...] = (
    (0.0, 1.00), (0.5, 1.00), (1.5, 0.97), (2.0, 0.95), (2.5, 0.93), (3.0, 0.89),
    (3.5, 0.85), (4.0, 0.82), (4.5, 0.78), (5.0, 0.76),
)  # fmt: skip
DERATING_IMBALANCE_PERCENT: Bounds = (0.0, 5.0)


def imbalance_percent(readings: Sequence[float]) -> float:
    """Return the imbalance of the phases, 100 x largest deviation from mean / mean.

    Args:
        readings: Volts phase to phase, or amps of each leg; two or more, nothing rounded.
    Returns:
        Imbalance, %.
    Raises:
        ReadingError: Fewer than two readings, a negative one, or a mean of zero.
    Valid: mean above 0. Not the IEC negative-sequence factor, which is another number.
    Source: NEMA MG 1, 12.45 and 14.36.
    """
    if len(readings) < 2:
        raise ReadingError(
            spoken(
                "Imbalance of {count} reading(s) has no meaning. Read every phase.",
                count=len(readings),
            )
        )
    for reading in readings:
        refuse_below("A phase reading", reading, 0, "", "Read the phases again.")
    mean = math.fsum(readings) / len(readings)
    refuse_not_above("Mean of the phases", mean, 0, "", "Read with the unit running.")
    return 100 * max(abs(reading - mean) for reading in readings) / mean


def motor_derating(imbalance: float) -> float:
    """Return the share of rated power a motor may give at a voltage imbalance.

    Args:
        imbalance: Voltage imbalance, %.
    Returns:
        Derating factor, plain number, linear between the curve's points.
    Raises:
        ReadingError: Outside 0 to 5 %; above 5 % a motor is not to be run at all.
    Valid: 0 to 5 %.
    Source: NEMA MG 1, figure 14-1, read from a secondary table; good to 0.01 to 0.02.
    """
    refuse_outside(
        "Voltage imbalance",
        imbalance,
        DERATING_IMBALANCE_PERCENT,
        "%",
        "Do not run the motor; find the cause of the imbalance first.",
    )
    at = min(bisect_right([x for x, _ in MOTOR_DERATING], imbalance), len(MOTOR_DERATING) - 1)
    (left, low), (right, high) = MOTOR_DERATING[at - 1], MOTOR_DERATING[at]
    return low + (high - low) * (imbalance - left) / (right - left)


def standard_protection_a(amps: float) -> float:
    """Return the largest standard fuse or breaker size that is not above `amps`.

    Args:
        amps: Computed maximum overcurrent protection, A.
    Returns:
        Standard size, A.
    Raises:
        ReadingError: Below the smallest or above the largest standard size.
    Valid: 15 to 6000 A.
    Source: NEC 240.6(A). The printed nameplate governs over any computed size.
    """
    smallest, largest = STANDARD_PROTECTION_A[0], STANDARD_PROTECTION_A[-1]
    at = bisect_right(STANDARD_PROTECTION_A, amps * SIZE_ALLOWANCE)
    if at == 0 or not amps <= largest:
        raise ReadingError(
            spoken(
                "Overcurrent protection of {amps:.6g} A is outside the standard sizes, "
                "{smallest:g} to {largest:g} A. Check the rated load amps.",
                amps=amps,
                smallest=smallest,
                largest=largest,
            )
        )
    return STANDARD_PROTECTION_A[at - 1]


def standard_protection_not_below_a(amps: float) -> float:
    """Return the smallest standard fuse or breaker size that is not below `amps`.

    Args:
        amps: Minimum circuit ampacity, A.
    Raises:
        ReadingError: Not above 0, or above the largest standard size.
    Source: NEC 240.6(A); a device below the circuit ampacity would trip in normal running.
    """
    refuse_not_above("Circuit ampacity", amps, 0, "A", "Check the rated load amps.")
    largest = STANDARD_PROTECTION_A[-1]
    at = bisect_left(STANDARD_PROTECTION_A, amps / SIZE_ALLOWANCE)
    if at == len(STANDARD_PROTECTION_A):
        raise ReadingError(
            spoken(
                "Circuit ampacity of {amps:.6g} A is above the largest standard size, "
                "{largest:g} A. Check the rated load amps.",
                amps=amps,
                largest=largest,
            )
        )
    return STANDARD_PROTECTION_A[at]


def minimum_circuit_ampacity_a(largest_a: float, others_a: Sequence[float]) -> float:
    """Return MCA: 1.25 x the largest motor or compressor + all other loads, A.

    Args:
        largest_a: Largest rated load amps (or branch-circuit selection current), A.
        others_a: All other loads that run at the same time, A.
    Raises:
        ReadingError: A negative current.
    Source: NEC 440.33 and 430.24. The printed nameplate governs.
    """
    return _sized(1.25, largest_a, others_a)


def maximum_overcurrent_protection_a(
    largest_a: float, others_a: Sequence[float], factor: float = 2.25
) -> float:
    """Return MOCP before rounding down to a standard size: factor x largest + others, A.

    Args:
        largest_a: Largest rated load amps, A.
        others_a: All other loads that run at the same time, A.
        factor: 1.75, or up to 2.25 if the unit will not start on it.
    Raises:
        ReadingError: A negative current.
    Source: NEC 440.22(A) and (B). The printed nameplate governs.
    """
    return _sized(factor, largest_a, others_a)


def _sized(factor: float, largest_a: float, others_a: Sequence[float]) -> float:
    for amps in (largest_a, *others_a):
        refuse_below("Rated amps", amps, 0, "A", "Read the nameplate again.")
    return factor * largest_a + math.fsum(others_a)


def single_phase_kw(volts: float, amps: float, power_factor: float) -> float:
    """Return single-phase power V I pf / 1000, kW.

    Args:
        volts: Volts across the load, V.
        amps: Line amps, A.
        power_factor: Power factor, 0 to 1; 1 for resistance heat.
    Raises:
        ReadingError: Negative volts or amps, or a power factor not in (0, 1].
    Source: Definition of active power.
    """
    _refuse_power(volts, amps, power_factor)
    return volts * amps * power_factor / 1000


def three_phase_kw(volts: float, amps: float, power_factor: float) -> float:
    """Return balanced three-phase power √3 V I pf / 1000, kW.

    Args:
        volts: Mean volts phase to phase, V.
        amps: Mean line amps, A.
        power_factor: Power factor, 0 to 1; 1 for resistance heat.
    Raises:
        ReadingError: Negative volts or amps, or a power factor not in (0, 1].
    Valid: sine wave and small imbalance; behind a drive use a true-power meter.
    Source: Definition of active power.
    """
    _refuse_power(volts, amps, power_factor)
    return SQUARE_ROOT_OF_3 * volts * amps * power_factor / 1000


def _refuse_power(volts: float, amps: float, power_factor: float) -> None:
    refuse_below("Voltage", volts, 0, "V", "Read it again.")
    refuse_below("Current", amps, 0, "A", "Read it again.")
    refuse_share("Power factor", power_factor)


def refuse_share(what: str, value: float) -> None:
    """Refuse a power factor or efficiency that is not above 0 and at most 1.

    Raises:
        ReadingError: The value is outside; per cent may have been entered.
    """
    if not 0 < value <= 1:
        raise ReadingError(
            spoken(
                "{what} {value:.6g} must be above 0 and at most 1. Enter 0.85 for 85 %.",
                what=spoken(what),
                value=value,
            )
        )


def heater_kw_at_voltage(rated_kw: float, rated_volts: float, volts: float) -> float:
    """Return what a resistance heater gives at another voltage, kW (volts / rated volts)².

    Args:
        rated_kw: Nameplate power, kW.
        rated_volts: Voltage of that rating, V.
        volts: Voltage at the heater, V.
    Raises:
        ReadingError: Negative power or volts, or a rated voltage of zero.
    Valid: constant resistance.
    Source: Ohm's law.
    """
    refuse_below("Rated power", rated_kw, 0, "kW", "Read the nameplate again.")
    refuse_not_above("Rated voltage", rated_volts, 0, "V", "Read the nameplate again.")
    refuse_below("Voltage", volts, 0, "V", "Read it again.")
    return rated_kw * (volts / rated_volts) ** 2


def btuh_from_kw(power_kw: float) -> float:
    """Return kW as Btu/h, 3412.14 (exact by the IT Btu)."""
    return power_kw * BTUH_PER_KW


def kw_from_btuh(heat_btuh: float) -> float:
    """Return Btu/h as kW."""
    return heat_btuh / BTUH_PER_KW


def tons_from_btuh(heat_btuh: float) -> float:
    """Return Btu/h as tons of refrigeration, 12,000 Btu/h each (definition)."""
    return heat_btuh / BTUH_PER_TON


def hp_from_kw(power_kw: float) -> float:
    """Return kW as mechanical horsepower, 0.7457 kW each (550 ft·lbf/s)."""
    return power_kw / KW_PER_HP
