"""Facts of the trade, each held against generated tests, rules and simulated unit.

Source of every fact here: common practice.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import pytest
from numpy.typing import NDArray

from commission.definitions.load import load_form
from commission.definitions.model import Check, Field, Severity
from commission.sequence.functional_model import FunctionalStep, FunctionalTest
from commission.sequence.functional_tests import functional_tests, signals
from commission.sequence.rules import rule_book
from commission.sequence.simulated_faults import ECONOMIZER_GAS, ONE_CIRCUIT
from commission.sequence.simulated_unit import Run, simulate
from commission.sequence.trend_judge import judge_trend
from commission.sequence.trend_log import ON, TrendLog
from commission.validation.calculation import Calculation
from commission.validation.verdict import Outcome
from sequence.configured_units import fitted, unit

Flags = NDArray[np.bool_]
BOOK = rule_book()
STEP_S = 4.0
FAULTS = ("blocked_vent", "broken_belt", "blocked_duct", "compressor_first", "not_integrated",
          "fan_not_with_cooling")  # fmt: skip


@pytest.fixture(scope="module")
def logs() -> Mapping[str, TrendLog]:
    """Log a unit with economizer and gas heat, sound ("") and with each fault, and a plain one."""
    names = ("", *FAULTS)
    runs = [Run(ECONOMIZER_GAS, name, 1) for name in names]
    made = simulate([*runs, Run(ONE_CIRCUIT, "", 1)], step_s=STEP_S)
    return dict(zip((*names, "plain"), made, strict=True))


@pytest.fixture
def plain(logs: Mapping[str, TrendLog]) -> TrendLog:
    """Log a sound unit with one circuit, two-stage gas and no economizer."""
    return logs["plain"]


@pytest.fixture(scope="module")
def gas_unit() -> Calculation:
    held = fitted("vent_pressure_switch", "rollout_switch")
    return unit(
        heat_type="gas", gas_valve="two stage", heat_stages=2, cooling_stages=2, compressors=2,
        economizer="differential dry bulb", outdoor_damper="modulating", **held,
    )  # fmt: skip


def on(log: TrendLog, name: str) -> Flags:
    """Return where a signal is on."""
    return np.asarray(log.columns[name] == ON)


def number(log: TrendLog, name: str) -> NDArray[np.float64]:
    return np.asarray(log.columns[name], np.float64)


def rises(flags: Flags) -> NDArray[np.int64]:
    return np.flatnonzero(flags[1:] & ~flags[:-1]) + 1


def found(log: TrendLog, fault: str, rule: str) -> bool:
    """Return whether the rules find a fault in its log."""
    failed = {one.rule for one in judge_trend(log, ECONOMIZER_GAS) if one.outcome is Outcome.FAIL}
    return bool(fault) and rule in failed


def step_of(calculation: Calculation, test: str, step: str) -> FunctionalStep:
    tests = functional_tests(calculation)
    return next(s for t in tests if t.name == test for s in t.steps if s.name == step)


def named(test: str, calculation: Calculation) -> FunctionalTest:
    return next(one for one in functional_tests(calculation) if one.name == test)


def names(step: FunctionalStep) -> tuple[set[str], set[str]]:
    return {part.name for part in step.run}, {part.name for part in step.rest}


def rule_names() -> set[str]:
    return {rule.name for rule in BOOK.rules}


# --- a room above its set point calls cooling and fan together (R to Y, R to G)


def test_cooling_and_fan_are_called_together(plain: TrendLog) -> None:
    made = unit()
    assert step_of(made, "calls", "thermostat").signals == ("Y1", "G")
    assert step_of(made, "cooling_stage", "call").signals == ("Y1", "G")
    called = on(plain, "call_cool_1")
    assert rises(called).size > 2
    assert on(plain, "call_fan")[called].all()
    assert "fan_with_cooling_call" in rule_names()


def test_a_fan_that_is_not_called_with_cooling_is_found(logs: Mapping[str, TrendLog]) -> None:
    fault = "fan_not_with_cooling"
    assert found(logs[fault], fault, "fan_with_cooling_call")


# --- compressor, condenser fan and indoor fan start at once


def test_compressor_condenser_fan_and_indoor_fan_start_at_once(plain: TrendLog) -> None:
    run, rest = names(step_of(unit(), "cooling_stage", "call"))
    assert run == {"indoor_fan", "compressor", "condenser_fan"} and not rest & run
    assert not step_of(unit(), "cooling_stage", "call").ordered
    starts = rises(on(plain, "compressor_1"))
    assert starts.size > 2
    for part in ("condenser_fan_1", "indoor_fan"):
        assert on(plain, part)[starts].all()
    assert {"compressor_with_fan", "condenser_fan_with_compressor"} <= rule_names()


# --- with an economizer the cooling call goes to it first, it looks at the outdoor sensor, and
# --- either uses outdoor air with the compressor off or lets the compressor run


def test_the_economizer_has_the_call_first(
    gas_unit: Calculation, logs: Mapping[str, TrendLog]
) -> None:
    run, rest = names(step_of(gas_unit, "economizer_takes_call", "suited"))
    assert "outdoor_damper" in run and "compressor" in rest
    log = logs[""]
    mild = on(log, "call_cool_1") & ~on(log, "call_cool_2") & on(log, "indoor_fan")
    mild &= (number(log, "outdoor_f") > 50) & (number(log, "outdoor_f") < 62)
    assert mild.sum() * STEP_S > 300
    assert (number(log, "damper_percent")[mild] > 50).any()
    assert not on(log, "compressor_1")[mild].any()
    assert found(logs["compressor_first"], "compressor_first", "economizer_before_compressor")


def test_it_looks_at_the_outdoor_sensor_and_lets_the_compressor_run(
    gas_unit: Calculation, logs: Mapping[str, TrendLog]
) -> None:
    run, _ = names(step_of(gas_unit, "economizer_hands_over", "unsuited"))
    assert "compressor" in run and "outdoor_damper" not in run
    log = logs[""]
    hot = on(log, "call_cool_1") & (number(log, "outdoor_f") > number(log, "return_f") + 6)
    assert on(log, "compressor_1")[hot].any()
    assert number(log, "damper_percent")[hot][150:].max() < 25
    suits = [one.formula for one in BOOK.derived if one.name == "outdoor_suits"]
    assert suits and all("outdoor_" in formula for formula in suits)


def test_both_help_when_outdoor_air_suits_and_is_not_enough(
    gas_unit: Calculation, logs: Mapping[str, TrendLog]
) -> None:
    run, _ = names(step_of(gas_unit, "economizer_integrated", "further_call"))
    assert {"outdoor_damper", "compressor"} <= run
    assert found(logs["not_integrated"], "not_integrated", "economizer_integrated")


# --- rooftop gas valves are mostly one or two stage, modulating on complex units


@pytest.mark.parametrize(
    ("valve", "terminals"),
    [("one stage", ["W1"]), ("two stage", ["W1", "W2"]), ("modulating", ["W1"])],
)
def test_gas_valves_are_one_stage_two_stage_or_modulating(valve: str, terminals: list[str]) -> None:
    field = load_form().by_name["gas_valve"]
    assert isinstance(field, Field)
    assert field.choices == ("one stage", "two stage", "modulating")
    made = unit(heat_type="gas", gas_valve=valve)
    assert [one.terminal for one in signals(made) if one.terminal.startswith("W")] == terminals
    there = {test.name for test in functional_tests(made)}
    assert ("heat_staging" in there) == (valve == "two stage")


# --- the inducer moves combustion air, apart from the building air that the indoor fan moves


def test_inducer_and_indoor_fan_are_two_airs(
    gas_unit: Calculation, logs: Mapping[str, TrendLog]
) -> None:
    light = step_of(gas_unit, "gas_chain", "light")
    order = [part.name for part in light.run]
    assert light.ordered and order[0] == "inducer" and order[-1] == "indoor_fan"
    log = logs[""]
    inducer, fan = on(log, "inducer"), on(log, "indoor_fan")
    assert (inducer & ~fan).any() and (fan & ~inducer).any()
    assert not (on(log, "gas_valve_1") & ~inducer).any()
    assert "gas_only_with_inducer" in rule_names()


# --- the vent pressure switch stops everything when combustion air cannot move


def test_a_blocked_vent_stops_everything(
    gas_unit: Calculation, logs: Mapping[str, TrendLog]
) -> None:
    step = step_of(gas_unit, "vent_blocked", "covered")
    _, rest = names(step)
    assert {"gas_valve", "flame"} <= rest and step.danger
    assert stops(gas_unit, "vent_blocked") and stops(gas_unit, "inducer_stopped")
    log = logs["blocked_vent"]
    assert on(log, "inducer").any()
    assert not (on(log, "gas_valve_1") | on(log, "flame") | on(log, "igniter")).any()
    assert found(log, "blocked_vent", "vent_switch_closes")


# --- the limit switch stops everything when the heat exchanger gets too hot, from a failed fan,
# --- a broken belt or an obstructed duct


@pytest.mark.parametrize("fault", ["broken_belt", "blocked_duct"])
def test_a_hot_heat_exchanger_stops_everything(
    fault: str, gas_unit: Calculation, logs: Mapping[str, TrendLog]
) -> None:
    log = logs[fault]
    opened = on(log, "high_limit_open")
    assert opened.any()
    settled = opened & np.roll(opened, 2)
    assert not (on(log, "gas_valve_1") & settled).any()
    assert found(log, fault, "high_limit_stays_closed")
    rule = next(one for one in BOOK.rules if one.name == "gas_off_on_high_limit")
    assert rule.severity is Severity.STOP


def test_lost_airflow_is_tested_by_fan_belt_and_duct(gas_unit: Calculation) -> None:
    title = named("gas_airflow_lost", gas_unit).title
    assert all(cause in title for cause in ("failed fan", "broken belt", "blocked duct"))
    for test in ("high_limit", "gas_airflow_lost"):
        _, rest = names(named(test, gas_unit).steps[0])
        assert {"gas_valve", "flame"} <= rest
        assert stops(gas_unit, test)


# --- dangerous states stop the work


def stops(calculation: Calculation, test: str) -> bool:
    """Return whether a test has a mark whose failure stops the work."""
    return any(mark.stops for mark in named(test, calculation).marks)


def test_flame_with_no_combustion_air_and_heating_with_cooling_are_stops(
    gas_unit: Calculation,
) -> None:
    assert stops(gas_unit, "gas_chain") and stops(gas_unit, "no_heating_with_cooling")


def test_a_protection_that_does_not_trip_is_a_stop() -> None:
    form = load_form()
    every = [
        check
        for section in form.sections
        if section.name.startswith("protections_")
        for check in section.checks
        if check.limit == "is"
    ]
    told_only = {"filter_switch_reports_proved", "crankcase_heater_cycles_proved",
                 "compressor_overload_known_proved"}  # fmt: skip
    assert {c.name for c in every if not _is_stop(c)} == told_only


def _is_stop(check: Check) -> bool:
    return check.severity is Severity.STOP
