"""Moist air against PsychroLib (same equations) and CoolProp (real gas)."""

from __future__ import annotations

import itertools
from collections.abc import Callable, Iterator

import psychrolib
import pytest
from hypothesis import given
from hypothesis import strategies as st

from commission.engineering import moist_air
from commission.errors import ReadingError
from commission.units import convert

# What a roof can meet: -20 to 130 °F, 1 to 100 %, sea level to 10,000 ft.
DRY_BULBS_F = [*range(-20, 131, 5), 31.9, 32.1]
HUMIDITIES = (1, 10, 25, 50, 75, 90, 100)
ELEVATIONS_FT = (0, 2500, 5200, 10_000)
STATES = list(itertools.product(DRY_BULBS_F, HUMIDITIES, ELEVATIONS_FT))
# Constants rounded in print (53.350/144 against 0.370486; 1.6078 digits).
SAME_EQUATION = 2e-6


@pytest.fixture(autouse=True)
def _inch_pound() -> None:
    psychrolib.SetUnitSystem(psychrolib.IP)


def _states() -> Iterator[tuple[float, float, float, float]]:
    for dry_bulb, humidity, elevation in STATES:
        barometer = moist_air.standard_pressure_psia(elevation)
        ratio = moist_air.humidity_ratio_from_relative_humidity(dry_bulb, humidity, barometer)
        yield dry_bulb, humidity, barometer, ratio


@pytest.mark.parametrize("elevation", range(-1000, 15_001, 1000))
def test_standard_pressure(elevation: int) -> None:
    oracle = psychrolib.GetStandardAtmPressure(elevation)
    assert moist_air.standard_pressure_psia(elevation) == pytest.approx(oracle, rel=1e-9)


@pytest.mark.parametrize("temperature", [*range(-140, 32, 7), *range(33, 390, 7)])
def test_saturation_pressure(temperature: float) -> None:
    oracle = psychrolib.GetSatVapPres(temperature)
    found = moist_air.saturation_pressure_psia(temperature)
    assert found == pytest.approx(oracle, rel=SAME_EQUATION)


@pytest.mark.parametrize("temperature", range(35, 212, 11))
def test_saturation_pressure_against_the_steam_formulation(temperature: float) -> None:
    """CoolProp's water (IAPWS-95); the handbook equation is within 0.05 %."""
    from CoolProp.CoolProp import PropsSI

    kelvin = (temperature + 459.67) * 5 / 9
    oracle = PropsSI("P", "T", kelvin, "Q", 0, "Water") / moist_air.PSI
    assert moist_air.saturation_pressure_psia(temperature) == pytest.approx(oracle, rel=5e-4)


def test_states_agree_with_psychrolib() -> None:
    for dry_bulb, humidity, barometer, ratio in _states():
        if 31.99 < dry_bulb < 32.02:  # ice or water: the two switch 0.018 °F apart
            continue
        oracle = psychrolib.GetHumRatioFromRelHum(dry_bulb, humidity / 100, barometer)
        assert ratio == pytest.approx(oracle, rel=SAME_EQUATION)
        pairs = (
            (moist_air.enthalpy_btulb(dry_bulb, ratio), psychrolib.GetMoistAirEnthalpy),
            (
                moist_air.specific_volume_ft3lb(dry_bulb, ratio, barometer),
                psychrolib.GetMoistAirVolume,
            ),
            (
                moist_air.air_density_lbft3(dry_bulb, ratio, barometer),
                psychrolib.GetMoistAirDensity,
            ),
        )
        for found, function in pairs:
            arguments = (dry_bulb, ratio, barometer)
            expected = function(*arguments[: 2 if "Enthalpy" in function.__name__ else 3])
            assert found == pytest.approx(expected, rel=SAME_EQUATION), arguments


def test_wet_bulb_agrees_with_psychrolib() -> None:
    for dry_bulb, humidity, barometer, ratio in _states():
        wet_bulb = moist_air.wet_bulb_f(dry_bulb, ratio, barometer)
        if abs(wet_bulb - 32) < 0.3 or dry_bulb == 32 or ratio < 2e-5:
            continue  # wet or iced wick; PsychroLib floors the driest air
        oracle = psychrolib.GetTWetBulbFromRelHum(dry_bulb, humidity / 100, barometer)
        assert wet_bulb == pytest.approx(oracle, abs=0.002), (dry_bulb, humidity, barometer)
        back = psychrolib.GetHumRatioFromTWetBulb(dry_bulb, wet_bulb, barometer)
        found = moist_air.humidity_ratio_from_wet_bulb(dry_bulb, wet_bulb, barometer)
        assert found == pytest.approx(back, rel=SAME_EQUATION, abs=2e-9)
        # The handbook's equation for ice is rounded: not quite W of saturation at saturation.
        rounding = 1e-4 if humidity == 100 and dry_bulb < 32 else 1e-8
        assert found == pytest.approx(ratio, rel=rounding, abs=1e-10)


def test_dew_point_agrees_with_psychrolib() -> None:
    for dry_bulb, humidity, barometer, ratio in _states():
        dew_point = moist_air.dew_point_f(ratio, barometer)
        oracle = psychrolib.GetTDewPointFromRelHum(dry_bulb, humidity / 100)
        assert dew_point == pytest.approx(oracle, abs=0.02), (dry_bulb, humidity)


def test_states_against_real_gas() -> None:
    """CoolProp's moist air: the perfect gas is at most 0.7 % low in W, 0.5 % in enthalpy."""
    from CoolProp.HumidAirProp import HAPropsSI

    for dry_bulb, humidity, barometer, ratio in _states():
        if not 40 <= dry_bulb <= 115 or humidity < 25:
            continue
        state = ("T", (dry_bulb + 459.67) * 5 / 9, "P", barometer * moist_air.PSI)
        arguments = (*state, "R", humidity / 100)
        real = HAPropsSI("W", *arguments)
        assert -0.007 < ratio / real - 1 < 0.0005, (dry_bulb, humidity, barometer)
        volume = convert(HAPropsSI("V", *arguments), "m³/kg", "ft³/lb")
        found = moist_air.specific_volume_ft3lb(dry_bulb, real, barometer)
        assert found == pytest.approx(volume, rel=0.001)


def test_enthalpy_differences_against_real_gas() -> None:
    """Across a cooling coil, 80/67 to 58/57 °F: 0.3 % between perfect and real gas."""
    from CoolProp.HumidAirProp import HAPropsSI

    def real(dry_bulb: float, wet_bulb: float) -> float:
        kelvin, wet = ((each + 459.67) * 5 / 9 for each in (dry_bulb, wet_bulb))
        joules = HAPropsSI("H", "T", kelvin, "B", wet, "P", 101325)
        return convert(joules / 1000, "kJ/kg", "Btu/lb")

    def ours(dry_bulb: float, wet_bulb: float) -> float:
        ratio = moist_air.humidity_ratio_from_wet_bulb(dry_bulb, wet_bulb, 14.696)
        return moist_air.enthalpy_btulb(dry_bulb, ratio)

    difference = ours(80, 67) - ours(58, 57)
    assert difference == pytest.approx(real(80, 67) - real(58, 57), rel=0.004)
    assert difference == pytest.approx(7.021, abs=0.001)  # computed with PsychroLib 2.5.0


def test_pressure_constants_are_the_unit_table() -> None:
    assert moist_air.psi_from_inwc(1) == pytest.approx(convert(1, "in. w.c.", "psi"), rel=1e-12)
    oracle = convert(29.92, "in. Hg", "psia")
    assert moist_air.psia_from_inhg(29.92) == pytest.approx(oracle, rel=1e-12)


DRY_BULB = st.floats(-20, 130)
BAROMETER = st.floats(10, 15)


@given(DRY_BULB, st.floats(0, 100), BAROMETER)
def test_relative_humidity_goes_round(dry_bulb: float, humidity: float, barometer: float) -> None:
    ratio = moist_air.humidity_ratio_from_relative_humidity(dry_bulb, humidity, barometer)
    back = moist_air.relative_humidity_percent(dry_bulb, ratio, barometer)
    assert back == pytest.approx(humidity, abs=1e-8)


@given(DRY_BULB, st.floats(0.5, 100), BAROMETER)
def test_dew_wet_and_dry_bulb_stand_in_order(
    dry_bulb: float, humidity: float, barometer: float
) -> None:
    ratio = moist_air.humidity_ratio_from_relative_humidity(dry_bulb, humidity, barometer)
    dew_point = moist_air.dew_point_f(ratio, barometer)
    wet_bulb = moist_air.wet_bulb_f(dry_bulb, ratio, barometer)
    assert dew_point <= wet_bulb + 0.02
    assert wet_bulb <= dry_bulb + 1e-9


@given(st.floats(33, 120), st.floats(33, 120), BAROMETER)
def test_humidity_ratio_rises_with_wet_bulb(first: float, second: float, barometer: float) -> None:
    low, high = sorted((first, second))
    ratios = []
    for wet_bulb in (low, high):
        try:
            ratios.append(moist_air.humidity_ratio_from_wet_bulb(125, wet_bulb, barometer))
        except ReadingError:
            return
    assert ratios[0] <= ratios[1]


@given(st.floats(-147, 391), st.floats(0.001, 1))
def test_saturation_pressure_rises(temperature: float, step: float) -> None:
    higher = moist_air.saturation_pressure_psia(temperature + step)
    assert higher > moist_air.saturation_pressure_psia(temperature)


def test_capacity_depends_on_where_the_airflow_was_measured() -> None:
    """2,000 cfm, 80/67 to 58/57 °F at sea level: 4.5 % between coil inlet and outlet."""
    entering = moist_air.humidity_ratio_from_wet_bulb(80, 67, 14.696)
    leaving = moist_air.humidity_ratio_from_wet_bulb(58, 57, 14.696)
    change = (moist_air.enthalpy_btulb(80, entering), moist_air.enthalpy_btulb(58, leaving))
    at_return = moist_air.specific_volume_ft3lb(80, entering, 14.696)
    at_supply = moist_air.specific_volume_ft3lb(58, leaving, 14.696)
    # computed with PsychroLib 2.5.0
    assert moist_air.total_capacity_btuh(2000, at_supply, *change) == pytest.approx(63575, abs=8)
    assert moist_air.total_capacity_btuh(2000, at_return, *change) == pytest.approx(60839, abs=8)


def test_sea_level_constants_mislead_at_altitude() -> None:
    """5,000 ft: 4.5 cfm dh with local enthalpies is 20 % high of 60/v of supply air."""
    barometer = moist_air.standard_pressure_psia(5000)
    ratios = [
        moist_air.humidity_ratio_from_wet_bulb(*pair, barometer) for pair in ((80, 67), (58, 57))
    ]
    change = (moist_air.enthalpy_btulb(80, ratios[0]), moist_air.enthalpy_btulb(58, ratios[1]))
    volume = moist_air.specific_volume_ft3lb(58, ratios[1], barometer)
    real = moist_air.total_capacity_btuh(2000, volume, *change)
    assert 4.5 * 2000 * (change[0] - change[1]) / real == pytest.approx(1.20, abs=0.01)


@given(st.floats(100, 3e4), st.floats(12, 20), st.floats(0, 0.02), st.floats(5, 90))
def test_airflow_from_heat_is_the_inverse_of_sensible_heat(
    airflow: float, volume: float, ratio: float, rise: float
) -> None:
    heat = moist_air.sensible_capacity_btuh(airflow, volume, ratio, 70 + rise, 70)
    back = moist_air.airflow_from_heat_cfm(heat, rise, volume, ratio)
    assert back == pytest.approx(airflow, rel=1e-9)


@pytest.mark.parametrize(
    "call",
    [
        lambda: moist_air.dew_point_f(0, 14.7),
        lambda: moist_air.dew_point_f(1e-12, 14.7),
        lambda: moist_air.wet_bulb_f(70, 0.03, 14.7),
        lambda: moist_air.wet_bulb_f(70, -0.01, 14.7),
        lambda: moist_air.humidity_ratio_from_vapor_pressure(-0.1, 14.7),
        lambda: moist_air.humidity_ratio_from_wet_bulb(70, float("nan"), 14.7),
    ],
)
def test_impossible_input_is_refused(call: Callable[[], float]) -> None:
    with pytest.raises(ReadingError):
        call()


def test_refusal_names_values_and_cure() -> None:
    with pytest.raises(ReadingError, match=r"Wet bulb 81 °F is above dry bulb 80 °F\. .*wick"):
        moist_air.humidity_ratio_from_wet_bulb(80, 81, 14.7)
