"""Every rule that neither an injected fault nor a published response covers, by hand.

Facts of the trade (common practice): each row is a state, what is sound in it and what is not.
"""

from __future__ import annotations

from dataclasses import dataclass

import pytest

from commission.sequence.configuration import Configuration
from commission.sequence.rules import rule_book
from commission.sequence.simulated_faults import (
    ECONOMIZER_GAS,
    ELECTRIC,
    FAULTS,
    HEAT_PUMP,
    ONE_CIRCUIT,
)
from commission.sequence.trend_judge import judge_trend
from commission.validation.verdict import Outcome
from sequence import test_published_responses as published
from sequence.hand_logs import Changes, found, log_of

Signals = dict[str, float | Changes]
NO_CALLS: Signals = {"call_cool_1": 0, "call_cool_2": 0, "call_heat_1": 0, "call_heat_2": 0}
TRIPS: Signals = {"compressor_1": 1, "compressor_2": 0}


@dataclass(frozen=True)
class Row:
    """One rule: a state, what passes in it, what fails in it."""

    rule: str
    unit: Configuration
    forced: Signals
    sound: Signals
    wrong: Signals


def later(first: float, then: float, at: float = 600) -> Changes:
    return [(0, first), (at, then)]


ROWS = [
    Row("airflow_proved_with_fan", ECONOMIZER_GAS, {"indoor_fan": 1}, {"airflow_proved": 1},
        {"airflow_proved": later(1, 0)}),
    Row("room_heating_setpoint_held", ECONOMIZER_GAS, {"occupied": 1, "heating_setpoint_f": 70},
        {"room_f": 68}, {"room_f": 66}),
    Row("supply_above_low_limit", ECONOMIZER_GAS, {"indoor_fan": 1}, {"supply_f": 55},
        {"supply_f": later(55, 35)}),
    Row("supply_below_high_limit", ECONOMIZER_GAS, {"indoor_fan": 1}, {"supply_f": 120},
        {"supply_f": later(120, 190)}),
    Row("cooling_calls_in_order", ECONOMIZER_GAS, {"call_cool_2": later(0, 1)},
        {"call_cool_1": 1}, {"call_cool_1": 0}),
    Row("condenser_fan_stops", ECONOMIZER_GAS, {"compressor_1": 0, "compressor_2": 0},
        {"condenser_fan_1": 0, "condenser_fan_2": 0}, {"condenser_fan_1": 1, "condenser_fan_2": 0}),
    Row("calls_not_together", ECONOMIZER_GAS, {"call_cool_1": 1, "call_cool_2": 0},
        {"call_heat_1": 0, "call_heat_2": 0}, {"call_heat_1": later(0, 1), "call_heat_2": 0}),
    Row("damper_closed_unoccupied", ECONOMIZER_GAS,
        {"occupied": 0, "gas_valve_1": 1, "gas_valve_2": 0}, {"damper_percent": 0},
        {"damper_percent": 15}),
    Row("outdoor_share_minimum", ECONOMIZER_GAS,
        {"indoor_fan": 1, "damper_percent": 10, "return_f": 72, "outdoor_f": 32},
        {"mixed_f": 67}, {"mixed_f": 40}),
    Row("no_lockout", ECONOMIZER_GAS, {}, {"lockout": 0}, {"lockout": later(0, 1)}),
    Row("gas_rise_high", ECONOMIZER_GAS,
        {"gas_valve_1": 1, "gas_valve_2": 0, "indoor_fan": 1, "mixed_f": 60}, {"supply_f": 110},
        {"supply_f": 145}),
    Row("heater_fan_off_delay", ELECTRIC,
        {"electric_heat_1": [(0, 0), (100, 1), (400, 0)], "electric_heat_2": 0},
        {"indoor_fan": [(0, 0), (98, 1), (430, 0)]}, {"indoor_fan": [(0, 0), (98, 1), (401, 0)]}),
    Row("reversing_valve_in_cooling", HEAT_PUMP,
        {"call_cool_1": 1, "call_cool_2": 0, "compressor_1": 1, "compressor_2": 0},
        {"heat_pump_heating": 0}, {"heat_pump_heating": 1}),
    Row("auxiliary_not_when_mild", HEAT_PUMP, {"outdoor_f": 60, "electric_heat_2": 0},
        {"electric_heat_1": 0}, {"electric_heat_1": later(0, 1)}),
    Row("heaters_off_on_high_limit", ELECTRIC,
        {"high_limit_open": later(0, 1), "electric_heat_2": 0},
        {"electric_heat_1": [(0, 1), (601, 0)]}, {"electric_heat_1": 1}),
    Row("rollout_stays_closed", ECONOMIZER_GAS, {}, {"rollout_open": 0},
        {"rollout_open": later(0, 1)}),
    Row("high_pressure_stays_closed", ECONOMIZER_GAS, {}, {"high_pressure_open": 0},
        {"high_pressure_open": later(0, 1)}),
    Row("low_pressure_stays_closed", ECONOMIZER_GAS, TRIPS,
        {"low_pressure_open": [(0, 1), (60, 0)]}, {"low_pressure_open": later(0, 1)}),
    Row("compressor_off_on_low_pressure", ONE_CIRCUIT,
        {"low_pressure_open": later(0, 1), "compressor_2": 0},
        {"compressor_1": [(0, 1), (700, 0)]}, {"compressor_1": 1}),
    Row("freeze_stays_clear", ECONOMIZER_GAS, {}, {"freeze_trip": 0}, {"freeze_trip": later(0, 1)}),
    Row("condensate_stays_clear", ECONOMIZER_GAS, {}, {"condensate_trip": 0},
        {"condensate_trip": later(0, 1)}),
    Row("filter_clean", ECONOMIZER_GAS, {"indoor_fan": 1}, {"filter_dirty": 0},
        {"filter_dirty": later(0, 1)}),
]  # fmt: skip


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row.rule)
def test_sound_passes_and_wrong_fails(row: Row) -> None:
    for signals, outcome in ((row.sound, Outcome.PASS), (row.wrong, Outcome.FAIL)):
        findings = judge_trend(log_of(row.forced | signals, 6_000), row.unit)
        finding = next(f for f in findings if f.rule == row.rule)
        assert finding.outcome is outcome, finding.sentence


def test_every_rule_is_made_to_fail_somewhere() -> None:
    covered = {fault.found_by for fault in FAULTS} | {row.rule for row in ROWS}
    covered |= {row.rule for row in published.RESPONSES}
    assert {rule.name for rule in rule_book().rules} == covered


def test_a_sound_idle_unit_has_no_finding() -> None:
    idle = NO_CALLS | {"occupied": 0, "indoor_fan": 0, "damper_percent": 0, "compressor_1": 0}
    findings = judge_trend(log_of(idle, 3_600, 5.0), ECONOMIZER_GAS)
    assert all(finding.outcome is not Outcome.FAIL for finding in findings)
    assert found(findings, "fan_off_unoccupied").outcome is Outcome.PASS
