"""What the shipped forms compute, each number against its published source."""

from __future__ import annotations

import pytest

from commission.definitions.load import load_form
from commission.definitions.model import Form
from commission.validation.results import UnitResults
from commission.validation.verdict import Outcome
from cooling_only_unit import results


@pytest.fixture(scope="module")
def form() -> Form:
    return load_form()


def value(unit: UnitResults, name: str, *index: int) -> float:
    found = unit.value(name, index)
    assert found.number is not None, f"{name}: {found}"
    return found.number


def test_circuit_ampacity_and_protection(form: Form) -> None:
    """NEC 440.22 and 440.33 worked example (trade paper quiz): 20 A and 2.5 A give 45 A."""
    plate = {"compressor_rla_a": [20], "indoor_fan_fla_a": [1.5], "condenser_fan_fla_a": [1.0]}
    unit = results(form, compressors=1, condenser_fans=1, **plate)
    assert value(unit, "protection_ceiling_a") == pytest.approx(47.5)
    assert value(unit, "mocp_motors_a") == 45
    assert value(unit, "mca_computed_a") == pytest.approx(27.5)


@pytest.mark.parametrize(("volts", "percent"), [((460, 467, 450), 1.961), ((462, 463, 455), 1.087)])
def test_voltage_imbalance(form: Form, volts: tuple[float, ...], percent: float) -> None:
    """NEMA MG 1, 12.45 (first row from memory, second seen in a trade training page)."""
    unit = results(form, supply_volts_off_v=list(volts))
    assert value(unit, "supply_imbalance_off_percent") == pytest.approx(percent, abs=6e-4)


def test_superheat_takes_dew_and_subcooling_bubble(form: Form) -> None:
    """R-410A chart in an equipment installation manual: 118.0 psig is 40 °F, 365.0 is 110 °F."""
    unit = results(form, circuits=1, suction_psig=[118.0], suction_line_f=[52.0],
                   liquid_psig=[365.0], liquid_line_f=[98.0])  # fmt: skip
    assert value(unit, "superheat_f", 1) == pytest.approx(12.0, abs=0.3)
    assert value(unit, "subcooling_f", 1) == pytest.approx(12.0, abs=0.45)


def test_target_superheat_rule_of_thumb(form: Form) -> None:
    """An equipment installation manual: 64 °F wet bulb, 96 °F outdoors, 8 °F."""
    unit = results(form, circuits=1, metering="fixed orifice", condenser_entering_f=[96.0],
                   evaporator_entering_wet_bulb_f=[64.0])  # fmt: skip
    assert value(unit, "rule_of_thumb_superheat_f", 1) == pytest.approx(8.0)


GAS_UNIT = {"heat_type": "gas", "heat_stages": 1, "fuel": "natural gas", "gas_valve": "one stage"}


def test_clocked_gas_input(form: Form) -> None:
    """An equipment installation manual: half a foot in 22 s at 1,000 Btu/ft³, 81,820 Btu/h."""
    unit = results(form, **GAS_UNIT, gas_measured_by="clocking the meter", meter_dial_ft3=[0.5],
                   meter_s=[22.0], heating_value_btuft3=1000.0,
                   heating_value_basis="as delivered at the meter")  # fmt: skip
    assert value(unit, "gas_input_measured_btuh", 1) == pytest.approx(81_820, rel=1e-4)


@pytest.mark.parametrize(("feet", "factor"), [(1500, 1.0), (3000, 0.88)])
def test_altitude_rule_is_of_the_total_elevation(form: Form, feet: float, factor: float) -> None:
    """The fuel-gas code's 4 % per 1,000 ft; a manual prints 12 % at 3,000 ft."""
    rule = "fuel-gas code, 4 % per 1,000 ft"
    unit = results(form, **GAS_UNIT, site_elevation_ft=feet, altitude_rule=rule)
    assert value(unit, "altitude_factor") == pytest.approx(factor)


def test_flue_gas(form: Form) -> None:
    """CO 87 ppm at 5 % oxygen is 114 air-free (a manual); 5 % oxygen is 28.1 % excess air
    (a government steam tip sheet's table, as reprinted)."""
    unit = results(form, **GAS_UNIT, flue_gas_measured="oxygen", flue_oxygen_percent=[5.0],
                   flue_co_ppm=[87.0])  # fmt: skip
    assert value(unit, "flue_co_air_free_ppm", 1) == pytest.approx(114, abs=0.6)
    assert value(unit, "flue_excess_air_percent", 1) == pytest.approx(28.1, abs=0.2)


def test_outdoor_air_fraction(form: Form) -> None:
    """Mixing of two streams: 75, 70 and 50 °F give a fifth (arithmetic)."""
    unit = results(form, outdoor_damper="modulating", outdoor_air_method="temperatures",
                   return_air_f=[75.0], mixed_air_f=[70.0], outdoor_air_f=[50.0])  # fmt: skip
    assert value(unit, "outdoor_air_fraction", 1) == pytest.approx(0.2)


def test_outdoor_air_too_alike_is_not_judged(form: Form) -> None:
    near = {"return_air_f": [75.0], "mixed_air_f": [73.0], "outdoor_air_f": [65.0]}
    unit = results(form, outdoor_damper="modulating", outdoor_air_method="temperatures", **near,
                   outdoor_supply_cfm=[4000.0], outdoor_required_cfm=[800.0])  # fmt: skip
    assert unit.verdict("outdoor_spread_enough", (1,)).outcome is Outcome.FAIL
    assert not unit.relevant("outdoor_airflow_in_tolerance", (1,))


def test_total_cooling_uses_the_density_at_the_fan(form: Form) -> None:
    """2,000 cfm, 80/67 to 58/57 °F at sea level: 63,575 Btu/h by the leaving specific volume and
    60,839 by the entering one (PsychroLib 2.5.0)."""
    air = {"humidity_method": "wet bulb", "entering_dry_bulb_f": 80.0, "entering_wet_bulb_f": 67.0,
           "leaving_dry_bulb_f": 58.0, "leaving_wet_bulb_f": 57.0}  # fmt: skip
    flow = {"airflow_method_used": "airflow station", "airflow_station_cfm": 2000.0}
    for place, expected in (("leaving the unit", 63_575), ("entering the unit", 60_839)):
        unit = results(form, **air, **flow, airflow_place=place)
        assert value(unit, "total_cooling_btuh") == pytest.approx(expected, rel=1e-3)


def test_velocities_are_averaged_not_pressures(form: Form) -> None:
    """Nine pressures at standard density: 1,188.1 fpm (4,005 √p averaged; arithmetic)."""
    pressures = [[0.04, 0.05, 0.06], [0.07, 0.09, 0.10], [0.12, 0.14, 0.16]]
    unit = results(form, traverse_made="yes", traverse_reads="velocity pressure",
                   traverse_lines=3, traverse_points=3, airflow_air_f=69.2, traverse_air_f=69.2,
                   airflow_air_rh_percent=0.0, traverse_static_inwc=0.0,
                   point_velocity_pressure_inwc=pressures)  # fmt: skip
    assert value(unit, "traverse_velocity_fpm") == pytest.approx(1188.1, rel=5e-4)


def test_rolled_leads_tell_supply_from_motor(form: Form) -> None:
    """Common practice: what follows the line is the supply's, what moves is the motor's."""
    before = {"roll_test_made": "yes", "roll_before_a": [22.0, 18.0, 17.0]}
    stays = results(form, **before, roll_after_a=[21.8, 18.1, 17.1]).value("roll_finding").content
    moves = results(form, **before, roll_after_a=[17.1, 21.8, 18.1]).value("roll_finding").content
    assert "supply" in str(stays) and "motor leads" in str(moves)
