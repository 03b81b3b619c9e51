"""The forms that ship: complete against the trade, and sound in themselves.

Their numbers are tested in `test_form_numbers.py`, the demo site in `test_demo_units.py`.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator, Mapping
from itertools import pairwise
from typing import Any

import pytest

from commission.definitions.load import FORM_FILE, load_form
from commission.definitions.model import (
    Basis,
    Check,
    Field,
    Form,
    Kind,
    Level,
    LimitKind,
    Quantity,
    Severity,
)
from commission.errors import FormError
from commission.formula.tree import Call, Choice, Logic, Node, names_in, walk
from commission.resources import forms_folder
from commission.validation.verdict import Outcome
from cooling_only_unit import of_kind, results

SUBJECTS = {
    "1 project": "site_elevation_ft barometer_read_inhg barometer_psia permit_reference "
    "drawing_reference visit_date visit_outdoor_f building_state",
    "2 configuration": "phases frequency_hz cooling_stages circuits compressors compressor_kind "
    "refrigerant metering indoor_fan_drive condenser_fans heat_type fuel gas_valve "
    "heat_exchanger_sections draft_inducers economizer relief control_kind phase_monitor_fitted "
    "leak_detection_fitted",
    "3 nameplate and design": "rated_volts voltage_minimum_v compressor_rla_a compressor_lra_a "
    "indoor_fan_fla_a nameplate_mca_a nameplate_mocp_a nameplate_sccr_ka protection_installed_a "
    "gas_input_btuh manifold_nameplate_inwc temperature_rise_maximum_f electric_heat_rated_kw "
    "design_airflow_cfm design_external_static_inwc high_side_test_psig mca_computed_a "
    "mocp_motors_a protection_within_nameplate",
    "4 before power": "unit_level clearances_kept shipping_blocks_removed filters_in_place "
    "belts_set drain_trap_depth_in outdoor_hood_fitted lockout_applied "
    "absence_of_voltage_proved terminals_tight transformer_tap_set crankcase_heater_h "
    "service_valves_open gas_leak_test_passed gas_purged vent_clear smoke_detector_wired "
    "fall_protection_in_place",
    "5 electrical": "supply_volts_off_v supply_volts_loaded_v control_volts_loaded_v "
    "phase_rotation compressor_amps_a indoor_fan_amps_a overload_setting_a "
    "supply_imbalance_off_percent motor_derating_factor voltage_drop_percent unit_power_kw "
    "unit_amps_within_mca roll_finding roll_similarity unit_amps_against_parts_percent "
    "mocp_computed_a",
    "6 airflow": "point_velocity_pressure_inwc traverse_airflow_cfm grille_total_cfm "
    "external_static_inwc filter_drop_inwc coil_drop_inwc fan_speed_rpm belt_slip_percent "
    "fan_power_hp fan_table_airflow_cfm coil_drop_airflow_cfm gas_rise_airflow_cfm "
    "electric_heat_airflow_cfm fan_speed_needed_rpm motor_sheave_needed_in airflow_per_ton "
    "airflow_in_tolerance outdoor_air_fraction outdoor_traverse_cfm line_position_in "
    "point_position_in fan_static_efficiency_percent "
    "coil_drop_against_airflow_percent",
    "7 cooling": "suction_psig liquid_psig discharge_line_f superheat_f subcooling_f "
    "discharge_superheat_f compression_ratio condensing_over_ambient_f evaporator_difference_f "
    "rule_of_thumb_superheat_f chart_subcooling_f superheat_chart_target_f superheat_spread_f "
    "total_cooling_btuh "
    "sensible_cooling_btuh latent_cooling_btuh sensible_heat_ratio temperature_split_f "
    "field_efficiency_btuwh capacity_as_expected circuit_pattern suction_dew_spread_f "
    "expected_compressor_amps_a expected_compressor_power_w expected_mass_flow_lbh "
    "field_efficiency_against_rated_percent refrigerant_against_air_side_percent",
    "8 gas heat": "gas_supply_static_inwc gas_supply_full_fire_inwc manifold_inwc meter_s "
    "heating_value_btuft3 flue_oxygen_percent flue_carbon_dioxide_percent flue_co_ppm stack_f "
    "draft_inwc flame_current_ua vent_switch_opens_inwc prepurge_s ignition_trial_s "
    "gas_input_measured_btuh altitude_factor gas_output_btuh temperature_rise_in_range "
    "flue_excess_air_percent flue_co_air_free_ppm flue_efficiency_percent "
    "gas_protections_not_bypassed gas_carbon_dioxide_max_percent gas_input_by_manifold_btuh "
    "literature_derate_factor gas_base_factor gas_air_efficiency_percent",
    "9 electric heat and heat pump": "heater_stage_kw heater_stage_expected_kw heater_rise_f "
    "heating_superheat_f heating_subcooling_f heat_pump_output_btuh reversing_valve_to_heating "
    "reversing_valve_to_cooling defrost_starts defrost_ends auxiliary_locked_out_warm",
    "10 economizer": "outdoor_sensor_error_f return_sensor_error_f mixed_sensor_error_f "
    "outdoor_enthalpy_error_btulb return_enthalpy_error_btulb outdoor_damper_percent "
    "outdoor_airflow_cfm "
    "outdoor_damper_opens_fully economizer_hands_over economizer_integrated "
    "outdoor_damper_shuts_off relief_opens_with_economizer high_limit_as_published",
    "11 sequence": "fan_alone_runs cooling_stage_starts cooling_stage_stops "
    "compressor_minimum_off_s inducer_starts_first vent_switch_proves flame_lost_shuts_gas "
    "failure_to_light_locks_out vent_blocked_shuts_gas inducer_stopped_shuts_gas "
    "high_limit_shuts_gas rollout_shuts_gas gas_airflow_lost_shuts_gas "
    "high_pressure_cutout_trips low_pressure_cutout_trips freeze_protection_trips "
    "condensate_switch_stops_cooling phase_loss_stops_unit smoke_detector_stops_unit "
    "unoccupied_fan_cycles setback_starts_unit power_restored_restarts_in_order "
    "no_heating_with_cooling",
    "12 close-out": "deferred_tests setting_minimum_position_percent training_given "
    "spares_handed_over warranty_terms outstanding_items limits_of_this_record_understood",
}
GAS = {"prestart_gas", "gas_heat", "gas_heat_stages", "combustion"}
GAS |= {"functional_gas_heat", "protections_gas"}
ELECTRIC = {"electric_heat", "functional_electric_heat"}
HEAT_PUMP = {"heat_pump", "functional_heat_pump"}
ECONOMIZER = {"economizer", "functional_economizer"}
PAGES_OF_HEAT = {
    "none": set(),
    "gas": GAS,
    "electric": ELECTRIC,
    "heat pump": HEAT_PUMP,
    "heat pump with auxiliary electric": HEAT_PUMP | ELECTRIC,
    "heat pump with auxiliary gas": HEAT_PUMP | GAS,
}
SUFFIXES = {
    "°F": "f", "Δ°F": "f", "in. w.c.": "inwc", "in. Hg": "inhg", "V": "v", "A": "a", "kW": "kw",
    "psig": "psig", "psia": "psia", "hp": "hp", "rpm": "rpm", "cfm": "cfm", "fpm": "fpm",
    "ft": "ft", "in.": "in", "ft²": "ft2", "ft³": "ft3", "ft³/h": "cfh", "Btu/h": "btuh",
    "lb": "lb", "s": "s", "min": "min", "h": "h", "ppm": "ppm", "µA": "ua", "%": "percent",
}  # fmt: skip


@pytest.fixture(scope="module")
def form() -> Form:
    return load_form()


def pages(form: Form, **values: Any) -> set[str]:
    return {section.name for section in results(form, **values).sections()}


def branches(node: Node) -> Iterator[Node]:
    if isinstance(node, Choice):
        yield from (node.condition, *branches(node.then), *branches(node.otherwise))
    else:
        yield node


def asked_about_only(node: Node) -> set[str]:
    calls = [p for p in walk(node) if isinstance(p, Call) and p.function == "known"]
    return {name for call in calls for name in names_in(call)}


# --- whole


def test_every_page_file_is_in_the_form_and_no_other(form: Form) -> None:
    top = tomllib.loads((forms_folder() / FORM_FILE).read_text(encoding="utf-8"))
    files = {path.name for path in forms_folder().glob("*.toml")}
    assert set(top["sections"]) == files - {FORM_FILE, "sequence.toml"}  # the tests beside it
    assert len(form.sections) == len(top["sections"])


def test_a_fault_in_a_shipped_page_is_found(tmp_path: Any) -> None:
    for path in forms_folder().glob("*.toml"):
        text = path.read_text(encoding="utf-8")
        text = text.replace("suction_line_f - suction_dew_f", "suction_line_f + suction_dew_f")
        (tmp_path / path.name).write_text(text, encoding="utf-8")
    with pytest.raises(FormError, match="superheat_f"):
        load_form(tmp_path)


@pytest.mark.parametrize("subject", SUBJECTS)
def test_subject_is_covered(form: Form, subject: str) -> None:
    missing = [name for name in SUBJECTS[subject].split() if name not in form.by_name]
    assert not missing, f"{subject}: {missing}"


def test_stages_follow_the_work(form: Form) -> None:
    stages = list(dict.fromkeys(section.stage for section in form.sections))
    assert stages[:2] == ["Job", "Before power"] and stages[-1] == "Close-out"
    together = [section.stage for section in form.sections]
    assert len(stages) == 1 + sum(a != b for a, b in pairwise(together))


def test_only_the_project_page_is_asked_once(form: Form) -> None:
    assert [s.name for s in form.sections if s.level is Level.PROJECT] == ["project"]


# --- relevance


@pytest.mark.parametrize("heat", PAGES_OF_HEAT)
def test_heating_pages_follow_the_heat_fitted(form: Form, heat: str) -> None:
    shown = pages(form, heat_type=heat, heat_stages=1, electric_heat_stages=1, draft_inducers=1)
    assert shown & (GAS | ELECTRIC | HEAT_PUMP) == PAGES_OF_HEAT[heat]


@pytest.mark.parametrize("kind", ["fixed dry bulb", "differential dry bulb", "fixed enthalpy"])
def test_economizer_pages_follow_the_economizer(form: Form, kind: str) -> None:
    assert not pages(form) & ECONOMIZER
    assert pages(form, economizer=kind, outdoor_damper="modulating") >= ECONOMIZER


def test_cooling_only_unit_is_asked_nothing_of_heat(form: Form) -> None:
    unit = results(form)
    asked = {f.name for f in of_kind(form, Field) if unit.asked_members(f.name)}
    words = re.compile(r"gas_|flue|manifold|heater_|defrost|economizer_|rollout|ignition|rise_f")
    assert {name for name in asked if words.search(name)} == {"crankcase_heater_fitted"}


def test_high_limit_is_asked_for_either_kind_that_has_one(form: Form) -> None:
    fixed = results(form, economizer="fixed dry bulb")
    both = results(form, economizer="differential enthalpy", economizer_fixed_limit="yes")
    neither = results(form, economizer="differential enthalpy", economizer_fixed_limit="no")
    asked = [bool(u.asked_members("high_limit_setting_f")) for u in (fixed, both, neither)]
    assert asked == [True, True, False]


def test_a_fixed_orifice_is_judged_by_target_and_a_valve_by_range(form: Form) -> None:
    for metering, judged in (("fixed orifice", "superheat_near_target"),
                             ("thermostatic valve", "superheat_in_range")):  # fmt: skip
        unit = results(form, metering=metering)
        both = ("superheat_near_target", "superheat_in_range")
        assert [name for name in both if unit.asked_members(name)] == [judged]


def test_single_phase_unit_has_one_pair_and_no_rotation(form: Form) -> None:
    unit = results(form, phases="1")
    assert unit.members("supply_volts_off_v") == ((1,),)
    assert not unit.asked_members("phase_rotation")
    assert unit.verdict("supply_imbalance_in_limit").outcome is Outcome.NOT_APPLICABLE


def test_what_an_or_needs_is_always_asked(form: Form) -> None:
    """A part of an `or` that is not asked would take the whole condition with it."""
    faults = []
    for entry in form.entries():
        trees = [entry.when, entry.formula if isinstance(entry, Quantity) else None]
        for branch in (b for tree in trees if tree is not None for b in branches(tree)):
            for part in walk(branch):
                if isinstance(part, Logic) and part.operator == "or":
                    names = set(names_in(part)) - asked_about_only(part)
                    for other in (form.by_name[name] for name in names):
                        page = form.section_by_name[other.section]
                        if other.when is not None or page.when is not None:
                            faults.append(f"{entry.name}: {other.name}")
    assert not faults


# --- what stands with each entry


def test_whatever_is_measured_says_how(form: Form) -> None:
    measured = [field for field in of_kind(form, Field) if field.instrument]
    assert len(measured) > 100
    assert not [field.name for field in measured if len(field.how) < 15]


def test_every_item_and_every_test_says_how(form: Form) -> None:
    tested = {check.judges for check in of_kind(form, Check) if check.expected == "yes"}
    fields = [f for f in of_kind(form, Field) if f.kind is Kind.ITEM or f.name in tested]
    silent = [f.name for f in fields if not f.how and f.section != "configuration"]
    assert not silent


def test_every_protection_says_what_resets_it(form: Form) -> None:
    names = ("protections_unit", "protections_refrigerant", "protections_gas")
    fields = [f for name in names for f in form.section_by_name[name].fields]
    trips = [f for f in fields if f.kind is Kind.YES_NO and "Must happen" in f.how]
    assert len(trips) >= 15
    assert not [f.name for f in trips if "Reset" not in f.how]


def test_numbers_have_bounds_and_decimals(form: Form) -> None:
    numbers = [field for field in of_kind(form, Field) if field.kind is Kind.NUMBER]
    assert not [f.name for f in numbers if f.possible is None or f.decimals is None]
    wrong = [
        f.name
        for f in numbers
        if f.possible and f.plausible
        and not (f.possible[0] <= f.plausible[0] < f.plausible[1] <= f.possible[1])
    ]  # fmt: skip
    assert not wrong


def test_names_end_in_their_unit(form: Form) -> None:
    known = {"rated_volts", "electric_heat_rated_volts"}
    odd = [
        field.name
        for field in of_kind(form, Field)
        if field.unit in SUFFIXES and not field.name.endswith("_" + SUFFIXES[field.unit])
    ]
    assert set(odd) == known


def test_every_limit_has_an_origin_or_is_asked_for(form: Form) -> None:
    asked = 0
    for check in of_kind(form, Check):
        given = [part for part in check.parts if getattr(check, part) is not None]
        asked += bool(check.parts) and not given
        assert not given or check.basis is not None, check.name
        if check.basis in (Basis.PUBLISHED, Basis.NAMEPLATE):
            assert check.source, check.name
    assert asked > 40, "what depends on the unit is asked for, never shipped"


def test_limits_that_differ_by_unit_have_no_default(form: Form) -> None:
    names = """superheat_in_range subcooling_in_range suction_in_range liquid_in_range
        flame_current_in_range oxygen_in_range draft_in_range prepurge_in_range
        high_pressure_cutout_in_range low_pressure_cutout_in_range external_static_in_range
        filter_drop_in_limit fan_speed_within_maximum crankcase_heater_hours_enough
        airflow_per_ton_in_range heating_superheat_in_range vent_switch_opens_in_range"""
    for name in names.split():
        check = form.by_name[name]
        assert isinstance(check, Check)
        assert all(getattr(check, part) is None for part in check.parts), name


def test_an_optional_reading_that_is_not_there_leaves_no_gap(form: Form) -> None:
    optional = {field.name for field in of_kind(form, Field) if not field.required}
    for check in of_kind(form, Check):
        when = asked_about_only(check.when) if check.when is not None else set()
        assert check.judges not in optional or check.judges in when, check.name


# --- safety


def test_stops_say_what_to_do(form: Form) -> None:
    stops = [c for c in of_kind(form, Check) if c.severity is Severity.STOP]
    assert len(stops) > 50
    assert not [check.name for check in stops if not check.cure]


GUARDS: Mapping[str, str] = {
    "prestart_mechanical": "lockout_applied_done absence_of_voltage_proved_done "
    "fall_protection_in_place_done",
    "prestart_electrical": "lockout_applied_done absence_of_voltage_proved_done",
    "electrical_supply": "terminals_tight_done grounding_connected_done fan_guards_fitted_done "
    "protection_within_nameplate conductor_carries_mca",
    "electrical_compressors": "phase_rotation_as_marked supply_imbalance_not_dangerous",
    "cooling_circuits": "phase_rotation_as_marked service_valves_open_done "
    "crankcase_heater_hours_enough flammable_refrigerant_precautions_done",
    "gas_heat": "gas_leak_test_passed_done gas_purged_done vent_clear_done",
    "combustion": "gas_leak_test_passed_done gas_protections_not_bypassed_done",
    "protections_gas": "gas_leak_test_passed_done carbon_monoxide_alarm_worn_done",
    "electric_heat": "supply_imbalance_not_dangerous fan_guards_fitted_done",
}


@pytest.mark.parametrize("page", GUARDS)
def test_dangerous_pages_are_guarded_and_cautioned(form: Form, page: str) -> None:
    section = form.section_by_name[page]
    assert set(GUARDS[page].split()) <= set(section.guarded_by)
    assert section.cautions


@pytest.mark.parametrize(("page", "word"), [
    ("prestart_safety", "fall"), ("electrical_supply", "nergised"), ("gas_heat", "arbon monoxide"),
    ("prestart_refrigerant", "A2L"), ("combustion", "arbon monoxide"), ("airflow_fan", "otating"),
    ("protections_gas", "jumper"), ("electric_heat", "live"), ("prestart_gas", "local codes"),
])  # fmt: skip
def test_the_usual_cautions_stand_on_the_page(form: Form, page: str, word: str) -> None:
    assert any(word in caution for caution in form.section_by_name[page].cautions)


def test_a_cross_check_only_notes_and_names_what_would_explain_it(form: Form) -> None:
    checks = [
        check
        for check in of_kind(form, Check)
        if "agree" in check.label and isinstance(form.by_name[check.judges], Quantity)
    ]
    # Standing pressure against saturation is a finding about the charge, not two methods.
    checks.remove(form.by_name["standing_pressure_saturated"])
    assert len(checks) >= 12
    for check in checks:
        assert check.severity is Severity.NOTE, check.name
        assert check.cure.count(",") + check.cure.count(" or ") + check.cure.count(" and ") >= 2


def test_every_kind_of_limit_is_used(form: Form) -> None:
    assert {check.limit for check in of_kind(form, Check)} == set(LimitKind)
