"""Laws that hold across functions: energy balances, monotony, derivatives by calculus."""

from __future__ import annotations

import math
from collections.abc import Callable

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from commission.engineering import airflow, combustion, electrical, heating, moist_air, refrigerant
from commission.formula.uncertainty import derivative

BAROMETER = st.floats(10, 15)


@given(st.floats(62, 95), st.floats(0.2, 0.9), st.floats(4, 30), st.floats(0.75, 1.0), BAROMETER)
def test_total_is_sensible_plus_latent(
    warm: float, humidity: float, split: float, leaving: float, barometer: float
) -> None:
    """Total from enthalpies = sensible at the leaving moisture + heat of the water taken out at
    the entering temperature: the first law, exact in the handbook's perfect-gas equations."""
    cool = warm - split
    first = moist_air.humidity_ratio_from_relative_humidity(warm, 100 * humidity, barometer)
    most = moist_air.humidity_ratio_from_relative_humidity(cool, 100, barometer)
    second = min(first, leaving * most)
    volume = moist_air.specific_volume_ft3lb(cool, second, barometer)
    enthalpies = (moist_air.enthalpy_btulb(warm, first), moist_air.enthalpy_btulb(cool, second))
    total = moist_air.total_capacity_btuh(4000, volume, *enthalpies)
    sensible = moist_air.sensible_capacity_btuh(4000, volume, second, warm, cool)
    latent = 60 * 4000 / volume * (first - second) * (1061 + 0.444 * warm)
    assert total == pytest.approx(sensible + latent, rel=1e-9)
    assert 0 < sensible <= total * (1 + 1e-12)


@given(st.floats(0.0, 1.0), st.floats(40, 110), st.floats(40, 110), BAROMETER)
def test_mixing_keeps_mass_and_energy(
    share: float, first: float, second: float, barometer: float
) -> None:
    """Two airs of one moisture mix at a temperature from which the fraction comes back."""
    assume(abs(first - second) > 5)
    mixed = share * first + (1 - share) * second
    ratio = moist_air.humidity_ratio_from_relative_humidity(min(first, second), 40, barometer)
    enthalpy = share * moist_air.enthalpy_btulb(first, ratio)
    enthalpy += (1 - share) * moist_air.enthalpy_btulb(second, ratio)
    assert moist_air.enthalpy_btulb(mixed, ratio) == pytest.approx(enthalpy, rel=1e-9)


@given(st.sampled_from(list(combustion.FUELS)), st.floats(0, 12), st.floats(200, 900))
def test_flue_gas_keeps_every_atom(fuel: str, oxygen: float, stack: float) -> None:
    """Oxygen in = oxygen in CO2, water and left over; nitrogen in = nitrogen out."""
    gas = combustion.FUELS[fuel]
    excess = combustion.excess_air_percent(fuel, oxygen) / 100
    air_oxygen = gas.oxygen * (1 + excess)
    left = gas.oxygen * excess
    assert air_oxygen == pytest.approx(gas.carbon + gas.water / 2 + left)
    dry = gas.dry_flue + excess * gas.oxygen / combustion.AIR_OXYGEN
    assert 100 * left / dry == pytest.approx(oxygen, abs=1e-9)
    carbon_dioxide = combustion.carbon_dioxide_from_oxygen_percent(fuel, oxygen)
    assert carbon_dioxide * dry / 100 == pytest.approx(gas.flue_carbon_dioxide)
    assert 0 < combustion.combustion_efficiency_percent(fuel, oxygen, stack, 70, 0) < 100


@given(st.floats(1, 200), st.floats(5, 80), st.floats(0, 0.02), BAROMETER)
def test_electric_heat_comes_back_from_its_airflow(
    power: float, rise: float, ratio: float, barometer: float
) -> None:
    volume = moist_air.specific_volume_ft3lb(70, ratio, barometer)
    heat = electrical.btuh_from_kw(power)
    flow = moist_air.airflow_from_heat_cfm(heat, rise, volume, ratio)
    back = moist_air.sensible_capacity_btuh(flow, volume, ratio, 70 + rise, 70)
    assert electrical.kw_from_btuh(back) == pytest.approx(power)


@given(st.floats(0, 6000), st.floats(0, 6000))
def test_pressure_falls_with_elevation(first: float, second: float) -> None:
    low, high = sorted((first, second))
    assume(high - low > 0.01)
    assert moist_air.standard_pressure_psia(high) < moist_air.standard_pressure_psia(low)


@given(st.sampled_from(list(refrigerant.REFRIGERANTS)), st.floats(-40, 155), st.floats(-40, 155))
def test_saturation_rises_strictly(name: str, first: float, second: float) -> None:
    low, high = sorted((first, second))
    assume(high - low > 1e-6)
    for pressure in (refrigerant.dew_psia, refrigerant.bubble_psia):
        assert pressure(name, low) < pressure(name, high)
    assert refrigerant.bubble_psia(name, low) >= refrigerant.dew_psia(name, low) * (1 - 2e-3)


@given(st.floats(0.5, 12), st.floats(1, 12))
def test_manifold_ratio_is_undone_by_its_square(manifold: float, rated: float) -> None:
    ratio = heating.input_ratio_from_manifold(manifold, rated)
    assert rated * ratio**2 == pytest.approx(manifold)


Curve = Callable[[float], float]
CALCULUS: list[tuple[str, Curve, Curve, float]] = [
    ("velocity", lambda p: airflow.velocity_fpm(p, 0.07),
     lambda p: 1096.7 / (2 * math.sqrt(p * 0.07)), 0.12),
    ("fan power", lambda n: airflow.brake_power_at_speed_hp(2, 800, n),
     lambda n: 3 * 2 * n**2 / 800**3, 930.0),
    ("heater", lambda v: electrical.heater_kw_at_voltage(10, 240, v),
     lambda v: 2 * 10 * v / 240**2, 208.0),
    ("enthalpy", lambda t: moist_air.enthalpy_btulb(t, 0.01), lambda t: 0.240 + 0.444 * 0.01, 80.0),
    ("vapour pressure of water", moist_air.saturation_pressure_psia, lambda t: (
        moist_air.saturation_pressure_psia(t) * (
            1.0440397e4 / (t + 459.67) ** 2 - 2.7022355e-2 + 2 * 1.2890360e-5 * (t + 459.67)
            - 3 * 2.4780681e-9 * (t + 459.67) ** 2 + 6.5459673 / (t + 459.67))), 75.0),
    ("excess air", lambda o: combustion.excess_air_percent("propane", o), lambda o: (
        100 * combustion.FUELS["propane"].excess_air_constant * 20.95 / (20.95 - o) ** 2), 6.0),
    ("meter", lambda s: heating.gas_flow_cfh(2, s), lambda s: -7200 / s**2, 43.4),
]  # fmt: skip


@pytest.mark.parametrize(("name", "function", "slope", "at"), CALCULUS)
def test_the_sensitivity_used_is_that_of_calculus(
    name: str, function: Curve, slope: Curve, at: float
) -> None:
    """The derivative that uncertainties rest on, against differentiation by hand."""
    assert derivative(function, at) == pytest.approx(slope(at), rel=1e-6), name


@given(st.floats(101, 139))
def test_slope_of_dew_is_the_inverse_of_its_pressure_s(psia: float) -> None:
    """dt/dp x dp/dt = 1 inside one interval of the table, where both are smooth."""
    at = refrigerant.dew_f("R-410A", psia)
    assume(0.05 < at % 1 < 0.95)
    forward = derivative(lambda p: refrigerant.dew_f("R-410A", p), psia)
    backward = derivative(lambda t: refrigerant.dew_psia("R-410A", t), at)
    assert forward * backward == pytest.approx(1, rel=1e-5)
