"""Gas input and altitude: published rows stand in tests/reference; laws and traps here."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st

from commission.engineering import heating
from commission.errors import ReadingError


@given(st.floats(0.25, 10), st.floats(5, 600))
def test_clocked_gas_goes_round(dial: float, seconds: float) -> None:
    assert heating.gas_flow_cfh(dial, seconds) * seconds / 3600 == pytest.approx(dial)


def test_volume_correction_at_altitude() -> None:
    """7 in. w.c., 60 °F, 5,000 ft: 0.8473 by plain arithmetic."""
    assert heating.gas_volume_correction(7, 60, 12.228) == pytest.approx(0.8473, abs=1e-4)


def test_volume_correction_is_one_at_base() -> None:
    assert heating.gas_volume_correction(0, 60, 14.73) == pytest.approx(1, abs=1e-12)


def test_volume_correction_agrees_with_real_methane() -> None:
    """CoolProp's methane density over that at base, within 0.1 % of the ideal gas."""
    from CoolProp.CoolProp import PropsSI

    from commission.units import convert

    pressure = convert(12.1 + 10 * 0.0361273, "psia", "kPa abs") * 1000
    base = convert(14.73, "psia", "kPa abs") * 1000
    kelvin = convert(85, "°F", "°C") + 273.15
    real = PropsSI("D", "T", kelvin, "P", pressure, "Methane")
    real /= PropsSI("D", "T", convert(60, "°F", "°C") + 273.15, "P", base, "Methane")
    assert heating.gas_volume_correction(10, 85, 12.1) == pytest.approx(real, rel=1e-3)


@pytest.mark.parametrize(
    ("elevation", "factor"),
    [(0, 1), (2000, 1), (2000.1, 0.92), (3000, 0.88), (5200, 0.792)],
)
def test_four_percent_of_total_elevation(elevation: float, factor: float) -> None:
    """Of all the elevation once above 2,000 ft, not of (elevation - 2,000)."""
    assert heating.altitude_derating(elevation, 4, 2000) == pytest.approx(factor, abs=1e-4)


@given(st.floats(-1000, 12_000), st.floats(-1000, 12_000), st.floats(0, 6))
def test_derating_never_rises_with_elevation(first: float, second: float, rate: float) -> None:
    low, high = sorted((first, second))
    lower = heating.altitude_derating(low, rate, 2000)
    assert heating.altitude_derating(high, rate, 2000) <= lower


def test_one_step_for_a_band() -> None:
    """10 % from 2,000 to 4,500 ft: 88,000 becomes 79,200 (an equipment installation manual)."""
    rule = (10, 2000, 4500)
    assert 88_000 * heating.altitude_band_derating(3000, *rule) == pytest.approx(79_200)
    assert heating.altitude_band_derating(2000, *rule) == 1
    with pytest.raises(ReadingError, match="5200 ft is above the band of the rule"):
        heating.altitude_band_derating(5200, *rule)


def test_the_rules_differ() -> None:
    """At 3,000 ft the code's rule leaves 0.88 and the Canadian step 0.90."""
    code = heating.altitude_derating(3000, 4, 2000)
    step = heating.altitude_band_derating(3000, 10, 2000, 4500)
    assert (code, step) == pytest.approx((0.88, 0.90))


def test_input_follows_the_root_of_manifold_pressure() -> None:
    assert heating.input_ratio_from_manifold(3.2, 3.5) == pytest.approx(0.956, abs=5e-4)


@pytest.mark.parametrize(
    "call",
    [
        lambda: heating.gas_flow_cfh(1, 0),
        lambda: heating.gas_volume_correction(-500, 60, 14.7),
        lambda: heating.altitude_derating(9000, 15, 2000),
        lambda: heating.input_ratio_from_manifold(-1, 3.5),
        lambda: heating.input_ratio_from_manifold(3.5, 0),
        lambda: heating.gas_heat_input_btuh(float("nan"), 1000),
    ],
)
def test_impossible_input_is_refused(call: Callable[[], float]) -> None:
    with pytest.raises(ReadingError):
        call()
