"""Electrical functions: published rows stand in tests/reference; properties and traps here."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from commission.engineering import electrical
from commission.errors import ReadingError

PHASES = st.lists(st.floats(100, 600), min_size=2, max_size=6)


@given(PHASES, st.floats(0.1, 10))
def test_imbalance_does_not_depend_on_order_or_scale(volts: list[float], scale: float) -> None:
    plain = electrical.imbalance_percent(volts)
    assert electrical.imbalance_percent(sorted(volts)) == pytest.approx(plain)
    scaled = [scale * each for each in volts]
    assert electrical.imbalance_percent(scaled) == pytest.approx(plain, abs=1e-9)


@given(st.floats(1, 600), st.integers(2, 6))
def test_equal_phases_have_no_imbalance(volts: float, phases: int) -> None:
    assert electrical.imbalance_percent([volts] * phases) == pytest.approx(0, abs=1e-9)


def test_imbalance_is_not_taken_from_a_rounded_mean() -> None:
    # 461/463/456: mean 460, deviation 4; 461/463/455: mean 459.67, not 460.
    assert electrical.imbalance_percent([461, 463, 455]) == pytest.approx(1.0152, abs=1e-4)


def test_imbalance_is_neither_the_spread_nor_the_negative_sequence() -> None:
    """460/467/450: the spread over the mean is 3.70 %, the IEC factor 2.15 %."""
    found = electrical.imbalance_percent([460, 467, 450])
    assert abs(found - 3.70) > 1
    assert abs(found - 2.15) > 0.1


@pytest.mark.parametrize("readings", [[], [460], [460, -1, 460], [0, 0, 0]])
def test_imbalance_refuses(readings: list[float]) -> None:
    with pytest.raises(ReadingError):
        electrical.imbalance_percent(readings)


@given(st.floats(0, 5), st.floats(0, 5))
def test_derating_never_rises_with_imbalance(first: float, second: float) -> None:
    low, high = sorted((first, second))
    assert electrical.motor_derating(high) <= electrical.motor_derating(low)


@given(st.floats(15, 6000))
def test_standard_size_is_the_largest_not_above(amps: float) -> None:
    size = electrical.standard_protection_a(amps)
    assert size <= amps * electrical.SIZE_ALLOWANCE
    larger = [each for each in electrical.STANDARD_PROTECTION_A if each > size]
    assert not larger or larger[0] > amps


@given(st.floats(0.1, 6000))
def test_standard_size_upwards_is_the_smallest_not_below(amps: float) -> None:
    found = electrical.standard_protection_not_below_a(amps)
    assert found >= amps
    assert not [s for s in electrical.STANDARD_PROTECTION_A if amps <= s < found]
    if amps >= 15:
        assert found >= electrical.standard_protection_a(amps)


def test_standard_size_survives_the_last_bits_of_a_sum() -> None:
    total = math.fsum([0.1] * 3) * 50  # 15 as a person reckons it
    assert electrical.standard_protection_a(total - 1e-12) == 15


def test_printed_example_of_two_compressors() -> None:
    """Own example: RLA 19.6 twice, condenser fans 1.5 twice, indoor fan 5.8 (NEC 440.33, .22)."""
    others = [19.6, 1.5, 1.5, 5.8]
    assert electrical.minimum_circuit_ampacity_a(19.6, others) == pytest.approx(52.9)
    most = electrical.maximum_overcurrent_protection_a(19.6, others)
    assert most == pytest.approx(72.5)
    assert electrical.standard_protection_a(most) == 70


def test_three_phase_power_is_root_three_of_single_phase() -> None:
    three = electrical.three_phase_kw(460, 20, 0.85)
    assert three == pytest.approx(13.545, abs=5e-4)  # plain arithmetic
    assert three / electrical.single_phase_kw(460, 20, 0.85) == pytest.approx(3**0.5)


def test_three_phase_power_from_the_phasors() -> None:
    """Oracle: instantaneous power of three sine waves averaged over a cycle."""
    volts, amps, angle, steps = 460.0, 23.5, math.acos(0.8), 3600
    total = 0.0
    for step in range(steps):
        for phase in range(3):
            at = 2 * math.pi * (step / steps + phase / 3)
            wave = math.sqrt(2) * volts / math.sqrt(3) * math.sin(at)
            total += wave * math.sqrt(2) * amps * math.sin(at - angle)
    assert electrical.three_phase_kw(volts, amps, 0.8) == pytest.approx(total / steps / 1000)


def test_heater_follows_the_square_of_voltage() -> None:
    assert electrical.heater_kw_at_voltage(10, 240, 208) == pytest.approx(7.511, abs=5e-4)


@given(st.floats(-1e6, 1e6))
def test_power_units_go_round(power_kw: float) -> None:
    back = electrical.kw_from_btuh(electrical.btuh_from_kw(power_kw))
    assert back == pytest.approx(power_kw, abs=1e-9)


def test_power_units_agree_with_pint() -> None:
    import pint

    registry = pint.UnitRegistry()
    kilowatt = registry.Quantity(1, "kW")
    assert electrical.btuh_from_kw(1) == pytest.approx(kilowatt.to("Btu_it/h").m, rel=1e-9)
    assert electrical.hp_from_kw(1) == pytest.approx(kilowatt.to("hp").m, rel=1e-9)
    ton = registry.Quantity(1, "refrigeration_ton").to("Btu_it/h").m
    assert electrical.tons_from_btuh(ton) == pytest.approx(1, rel=1e-3)
