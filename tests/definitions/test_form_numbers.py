"""What the shipped forms compute, each number against its published source."""

from __future__ import annotations

from typing import Any

import pytest

from commission.definitions.load import load_form
from commission.definitions.model import Form
from commission.formula.evaluate import State
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


def test_superheat_chart_in_two_directions(form: Form) -> None:
    """Cells of a chart in an equipment installation manual: 21 Δ°F at 75 °F outdoors and 66 °F wet
    bulb, 10 at 95/66, 18 at 95/70; the fourth is made up. Half way each: the mean of the four."""
    chart = {"superheat_chart_table": "/\t75\t95\n66\t21\t10\n70\t27\t18"}
    fixed = {"circuits": 1, "metering": "fixed orifice", "superheat_chart_used": "yes"}

    def target(wet_bulb: float, outdoor: float) -> UnitResults:
        return results(form, **fixed, **chart, evaporator_entering_wet_bulb_f=[wet_bulb],
                       condenser_entering_f=[outdoor])  # fmt: skip

    assert value(target(68, 85), "superheat_chart_target_f", 1) == pytest.approx(19.0)
    assert value(target(66, 95), "superheat_chart_target_f", 1) == pytest.approx(10.0)
    outside = target(68, 97)
    target_value = outside.value("superheat_chart_target_f", (1,))
    assert target_value.state is State.FAULT and "75 to 95" in target_value.reason
    assert outside.verdict("superheat_on_chart", (1,)).outcome is not Outcome.PASS


def test_fan_table_gives_airflow_and_power(form: Form) -> None:
    """Bilinear by hand (Numerical Recipes 3.6): at 1.0 in. w.c. half way between the columns."""
    speeds = "/\t0.8\t1.2\n3000\t900\t1000\n4000\t1100\t1180"
    powers = "/\t0.8\t1.2\n3000\t1.0\t1.4\n4000\t2.0\t2.6"
    unit = results(form, fan_table_used="yes", fan_speed_table=speeds, fan_power_table=powers,
                   indoor_fans=1, fan_speed_rpm=[1045.0], supply_static_inwc=0.5,
                   return_static_inwc=-0.5, site_elevation_ft=0.0, airflow_air_f=70.0,
                   airflow_air_rh_percent=0.0)  # fmt: skip
    assert value(unit, "density_ratio") == pytest.approx(1, abs=0.03)
    static = value(unit, "external_static_standard_inwc")
    low = 900 + (static - 0.8) / 0.4 * 100
    high = 1100 + (static - 0.8) / 0.4 * 80
    airflow = 3000 + 1000 * (1045 - low) / (high - low)
    assert value(unit, "fan_table_airflow_cfm") == pytest.approx(airflow)
    work = unit.work("fan_table_airflow_cfm")
    assert work is not None
    assert "900 and 1,000 rpm; 1,100 and 1,180 rpm at 3,000 and 4,000 cfm" in str(work)


def test_refrigerant_by_an_entered_table(form: Form) -> None:
    """R-134a pressures of the ASHRAE Handbook Fundamentals, chapter 30 (from memory, psia)."""
    psia = "35\t45.10\n40\t49.73\n45\t54.70\n100\t138.8\n105\t149.6\n110\t161.0"
    unit = results(form, circuits=1, refrigerant="entered table", entered_pressure_kind="absolute",
                   entered_dew_table=psia, entered_bubble_table=psia, site_elevation_ft=0.0,
                   entered_refrigerant_flammable="yes",
                   suction_psig=[49.73 - 14.696], liquid_psig=[149.6 - 14.696],
                   suction_line_f=[52.0], liquid_line_f=[95.0])  # fmt: skip
    assert value(unit, "suction_dew_f", 1) == pytest.approx(40.0, abs=0.05)
    assert value(unit, "superheat_f", 1) == pytest.approx(12.0, abs=0.05)
    assert value(unit, "subcooling_f", 1) == pytest.approx(10.0, abs=0.05)
    assert unit.relevant("flammable_refrigerant_precautions")
    shipped = results(form, circuits=1, refrigerant="R-134a", site_elevation_ft=0.0,
                      suction_psig=[49.73 - 14.696], suction_line_f=[52.0])  # fmt: skip
    assert value(shipped, "suction_dew_f", 1) == pytest.approx(40.0, abs=0.1)
    assert not shipped.relevant("flammable_refrigerant_precautions")
    assert not shipped.relevant("entered_dew_table")


GAS_UNIT = {"heat_type": "gas", "heat_stages": 1, "fuel": "natural gas", "gas_valve": "one stage"}


def test_clocked_gas_input(form: Form) -> None:
    """An equipment installation manual: half a foot in 22 s at 1,000 Btu/ft³, 81,820 Btu/h."""
    unit = results(form, **GAS_UNIT, gas_measured_by="clocking the meter", meter_dial_ft3=[0.5],
                   meter_s=[22.0], heating_value_btuft3=1000.0,
                   heating_value_basis="as delivered at the meter")  # fmt: skip
    assert value(unit, "gas_input_measured_btuh", 1) == pytest.approx(81_820, rel=1e-4)


@pytest.mark.parametrize(("rule", "feet", "factor"), [
    ("Canadian rule, 10 % from 2,000 to 4,500 ft", 3000, 0.90),
    ("Canadian rule, 10 % from 2,000 to 4,500 ft", 1500, 1.0),
    ("unit literature", 3000, 0.94),
    ("unit literature, a factor from its table", 5000, 0.864),
    ("none: plate is for this altitude", 5000, 1.0),
])  # fmt: skip
def test_altitude_rules_by_choice(form: Form, rule: str, feet: float, factor: float) -> None:
    """Manuals print 88,000 x 0.90 between 2,000 and 4,500 ft, 2 % per 1,000 ft for a condensing
    unit, and a table with 86,400 for 100,000 at 5,000 ft."""
    unit = results(form, **GAS_UNIT, site_elevation_ft=feet, altitude_rule=rule,
                   literature_derate_percent=2.0, literature_derate_threshold_ft=0.0,
                   literature_derate_factor=0.864)  # fmt: skip
    assert value(unit, "altitude_factor") == pytest.approx(factor)


def test_no_rule_above_its_band(form: Form) -> None:
    rule = "Canadian rule, 10 % from 2,000 to 4,500 ft"
    found = results(form, **GAS_UNIT, site_elevation_ft=5200, altitude_rule=rule)
    assert "above the band of the rule" in found.value("altitude_factor").reason


@pytest.mark.parametrize(("base", "factor"), [
    ("at 14.73 psia and 60 °F", 1.0),
    ("at 14.696 psia and 60 °F", 14.73 / 14.696),
    ("at 14.65 psia and 60 °F", 14.73 / 14.65),
])  # fmt: skip
def test_base_of_the_heating_value(form: Form, base: str, factor: float) -> None:
    """Boyle's law: 0.8473 at 5,000 ft, 7 in. w.c. and 60 °F for 14.73 psia (plain arithmetic)."""
    unit = results(form, **GAS_UNIT, site_elevation_ft=5000, heating_value_basis=base,
                   gas_measured_by="clocking the meter", gas_meter_inwc=7.0,
                   gas_meter_f=60.0)  # fmt: skip
    assert value(unit, "gas_volume_factor") == pytest.approx(0.8473 * factor, abs=1e-4)


def test_manifold_pressure_and_input(form: Form) -> None:
    """3.2 against 3.5 in. w.c. gives 0.956 of the input (plain arithmetic)."""
    unit = results(form, **GAS_UNIT, manifold_inwc=[3.2], manifold_nameplate_inwc=[3.5],
                   gas_input_btuh=[100_000.0],
                   altitude_rule="none: plate is for this altitude")  # fmt: skip
    assert value(unit, "gas_input_by_manifold_btuh", 1) == pytest.approx(95_600, rel=5e-4)


ANALYSIS = {"gas_methane_percent": 95.0, "gas_ethane_percent": 3.2, "gas_propane_percent": 0.2,
            "gas_butane_percent": 0.09, "gas_nitrogen_percent": 1.0,
            "gas_carbon_dioxide_percent": 0.5}  # fmt: skip


def test_a_gas_of_entered_analysis(form: Form) -> None:
    """The typical analysis a utility publishes: as entered it must give what natural gas gives;
    greatest CO2 11.8 % (a flue-gas table). Methane alone: 11.70 % (Cantera 3.2.0)."""
    flue = {"flue_gas_measured": "carbon dioxide", "flue_carbon_dioxide_percent": [9.0],
            "flue_co_ppm": [20.0], "stack_f": [380.0], "combustion_air_f": [70.0]}  # fmt: skip
    plain, entered = (
        results(form, **GAS_UNIT, **flue),
        results(form, **GAS_UNIT, **flue, **ANALYSIS),
    )
    assert value(entered, "gas_carbon_dioxide_max_percent") == pytest.approx(11.82, abs=0.03)
    for name in ("oxygen_percent", "flue_excess_air_percent", "flue_efficiency_percent"):
        assert value(entered, name, 1) == pytest.approx(value(plain, name, 1), abs=0.03), name
    methane = {name: 100.0 if "methane" in name else 0.0 for name in ANALYSIS}
    pure = results(form, **GAS_UNIT, **flue, **methane)
    assert value(pure, "gas_carbon_dioxide_max_percent") == pytest.approx(11.70, abs=0.005)


def test_compressor_map(form: Form) -> None:
    """AHRI 540's polynomial with a public example's coefficients: 3,074.97 W and 459.45 lb/h at
    45 and 130 °F; R-410A is there at 130.1 and 477.4 psig (CoolProp)."""
    power = (-561.3615705, -15.62601841, 46.92506685, -0.217949552, 0.435062616, -0.442400826,
             2.25e-4, 2.37e-3, -3.32e-3, 2.50e-3)  # fmt: skip
    flow = (217.3163128, 5.094492028, -0.593170311, 4.38e-2, -2.14e-2, 1.04e-2, 7.90e-5,
            -5.73e-5, 1.79e-4, -8.08e-5)  # fmt: skip
    terms = {f"map_{kind}_c{n}": [c] for kind, row in (("power", power), ("flow", flow))
             for n, c in enumerate(row, start=1)}  # fmt: skip
    unit = results(form, circuits=1, **terms, suction_psig=[130.12], liquid_psig=[477.38],
                   compressor_map_used="yes", map_power_given="yes", map_flow_given="yes",
                   map_amps_given="no", map_compressor_power_kw=[3.0])  # fmt: skip
    assert value(unit, "suction_dew_f", 1) == pytest.approx(45, abs=0.01)
    assert value(unit, "expected_compressor_power_w", 1) == pytest.approx(3074.97, rel=2e-3)
    assert value(unit, "expected_mass_flow_lbh", 1) == pytest.approx(459.45, rel=1e-3)
    assert value(unit, "power_against_map_percent", 1) == pytest.approx(-2.4, abs=0.2)
    assert not unit.asked_members("map_amps_c1")


def test_places_of_a_traverse(form: Form) -> None:
    """ISO 3966's shares: 40 by 24 in. by 7 lines of 5 points; 20 in. round, 6 points."""
    flat = results(form, traverse_made="yes", traverse_duct="rectangular", traverse_lines=7,
                   traverse_points=5, traverse_rule="log-Tchebycheff", traverse_width_in=40.0,
                   traverse_height_in=24.0)  # fmt: skip
    assert value(flat, "line_position_in", 1) == pytest.approx(40 * 0.053)
    assert value(flat, "line_position_in", 7) == pytest.approx(40 * 0.947)
    assert value(flat, "point_position_in", 2) == pytest.approx(24 * 0.288)
    assert len(flat.members("line_position_in")) == 7
    assert len(flat.members("point_position_in")) == 5
    pipe = results(form, traverse_made="yes", traverse_duct="round", traverse_lines=2,
                   traverse_points=6, traverse_rule="log-linear",
                   traverse_diameter_in=20.0)  # fmt: skip
    assert value(pipe, "point_position_in", 1) == pytest.approx(0.64)
    assert value(pipe, "point_position_in", 6) == pytest.approx(19.36)
    assert not pipe.relevant("line_position_in", 1)


def test_protection_is_never_below_the_circuit_ampacity(form: Form) -> None:
    """10 kW at 240 V single-phase: 41.7 A, 52.1 A at 125 %, standard size 60 A (NEC 424.3(B),
    240.6(A))."""
    unit = results(form, phases="1", compressors=1, condenser_fans=1, heat_type="electric",
                   electric_heat_stages=1, electric_heat_rated_kw=[10.0], rated_volts=240.0,
                   electric_heat_rated_volts=240.0, compressor_rla_a=[10.0],
                   indoor_fan_fla_a=[0.0], condenser_fan_fla_a=[1.0])  # fmt: skip
    assert value(unit, "mca_computed_a") == pytest.approx(52.08, abs=0.01)
    assert value(unit, "mocp_computed_a") == 60


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
    stays = results(form, **before, roll_after_a=[21.8, 18.1, 17.1])
    moves = results(form, **before, roll_after_a=[17.1, 21.8, 18.1])
    assert "supply" in str(stays.value("roll_finding").content)
    assert "motor leads" in str(moves.value("roll_finding").content)
    assert value(stays, "roll_similarity") == pytest.approx(1, abs=0.01)
    assert value(moves, "roll_similarity") == pytest.approx(-0.5, abs=0.05)


def test_rolled_leads_may_point_to_both_or_to_nothing(form: Form) -> None:
    """Half of the pattern stays with the line and half moves: neither is named alone."""
    rolled = {"roll_test_made": "yes"}
    both = results(form, **rolled, roll_before_a=[22.0, 18.0, 17.0],
                   roll_after_a=[19.5, 20.0, 17.5])  # fmt: skip
    assert value(both, "roll_similarity") == pytest.approx(0.5)
    assert "partly with both" in str(both.value("roll_finding").content)
    even = results(form, **rolled, roll_before_a=[20.0, 20.0, 20.0], roll_after_a=[20.0] * 3)
    assert "no imbalance" in str(even.value("roll_finding").content)


# --- readings that cannot be


CIRCUIT = {"circuits": 1, "suction_psig": [118.0], "suction_line_f": [52.0], "liquid_psig": [365.0],
           "liquid_line_f": [98.0], "condenser_entering_f": [90.0], "discharge_line_f": [165.0],
           "evaporator_entering_f": [78.0]}  # fmt: skip
WET = {"humidity_method": "wet bulb", "entering_dry_bulb_f": 80.0, "entering_wet_bulb_f": 67.0,
       "leaving_dry_bulb_f": 58.0, "leaving_wet_bulb_f": 57.0, "airflow_place": "leaving the unit",
       "airflow_method_used": "airflow station", "airflow_station_cfm": 2000.0}  # fmt: skip
MIXED = {"outdoor_damper": "modulating", "outdoor_air_method": "temperatures",
         "return_air_f": [75.0], "mixed_air_f": [70.0], "outdoor_air_f": [50.0]}  # fmt: skip
IMPOSSIBLE = [
    ("pressures_not_exchanged", CIRCUIT, {"suction_psig": [365.0], "liquid_psig": [118.0]}),
    ("superheat_possible", CIRCUIT, {"suction_line_f": [36.0]}),
    ("liquid_line_possible", CIRCUIT, {"liquid_line_f": [80.0]}),
    ("condenser_warms_air", CIRCUIT | {"condenser_leaving_f": [108.0]},
     {"condenser_leaving_f": [85.0]}),
    ("evaporator_wet_bulb_possible",
     CIRCUIT | {"metering": "fixed orifice", "evaporator_entering_wet_bulb_f": [65.0]},
     {"evaporator_entering_wet_bulb_f": [79.0]}),
    ("leaving_air_cooler", WET, {"leaving_dry_bulb_f": 82.0}),
    ("cooling_removes_heat", WET, {"leaving_dry_bulb_f": 79.0, "leaving_wet_bulb_f": 69.0}),
    ("outdoor_fraction_possible", MIXED, {"mixed_air_f": [77.0]}),
    ("filter_drop_possible", {"return_static_inwc": -0.3, "after_filter_static_inwc": -0.5},
     {"after_filter_static_inwc": -0.2}),
    ("coil_drop_possible", {"after_coil_static_inwc": -0.9, "after_filter_static_inwc": -0.5},
     {"after_coil_static_inwc": -0.4}),
    ("burner_has_airflow", GAS_UNIT | WET, {"airflow_station_cfm": 0.0}),
]  # fmt: skip


@pytest.mark.parametrize(("check", "sound", "wrong"), IMPOSSIBLE, ids=[i[0] for i in IMPOSSIBLE])
def test_what_cannot_be_fails_and_says_what_must_be_wrong(
    form: Form, check: str, sound: dict[str, Any], wrong: dict[str, Any]
) -> None:
    """Second law, saturation, mixing between two streams, resistance: physics, not limits."""
    found = [
        results(form, **(sound | change)).members(check) and results(form, **(sound | change))
        for change in ({}, wrong)
    ]
    before, after = ([unit.verdict(check, i) for i in unit.members(check)] for unit in found)
    assert [verdict.outcome for verdict in before] == [Outcome.PASS]
    assert [verdict.outcome for verdict in after] == [Outcome.FAIL]
    assert after[0].check.cure.count(" ") > 8


@pytest.mark.parametrize(("name", "changes", "words"), [
    ("entering_humidity_ratio", WET | {"entering_wet_bulb_f": 81.0}, "above dry bulb"),
    ("suction_dew_f", CIRCUIT | {"suction_psig": [-14.7], "site_elevation_ft": 5000},
     "cannot read below a full vacuum"),
    ("compression_ratio", CIRCUIT | {"suction_psig": [-14.7], "site_elevation_ft": 5000},
     "cannot read below a full vacuum"),
    ("rise_airflow_against_supply_percent",
     GAS_UNIT | WET | {"airflow_station_cfm": 0.0, "heat_entering_f": [60.0],
      "heat_leaving_f": [100.0], "gas_input_btuh": [1e5], "gas_thermal_efficiency_percent": 80.0,
      "altitude_rule": "none: plate is for this altitude",
      "gas_measured_by": "not found: no meter for this unit"}, "with the unit running"),
])  # fmt: skip
def test_nonsense_is_a_fault_with_a_sentence(
    form: Form, name: str, changes: dict[str, Any], words: str
) -> None:
    unit = results(form, **changes)
    found = unit.value(name, unit.members(name)[0])
    assert found.state is State.FAULT
    assert words in found.reason


@pytest.mark.parametrize(("changes", "words"), [
    ({}, "no usual pattern"),
    ({"suction_line_f": [66.0], "liquid_line_f": [107.0]}, "short of refrigerant"),
    ({"suction_line_f": [66.0], "liquid_line_f": [90.0]}, "restriction"),
    ({"suction_line_f": [43.0], "liquid_line_f": [90.0]}, "overcharged"),
    ({"suction_psig": [95.0], "suction_line_f": [33.0]}, "too little indoor air"),
    ({"condenser_entering_f": [76.0]}, "condenser short of air"),
])  # fmt: skip
def test_patterns_are_possibilities(form: Form, changes: dict[str, Any], words: str) -> None:
    """Common practice: high superheat with low subcooling points to a short charge, and so on."""
    unit = results(form, **(CIRCUIT | changes))
    text = str(unit.value("circuit_pattern", (1,)).content)
    assert words in text
    assert "?" in text or words == "no usual pattern"
