"""Generated tests against publicly quoted acceptance tests, each step with its expected response.

"Seen" was read in a public source, "from memory" was not; the check values, sections 6, 8 and 9,
hold the rows.
"""

from __future__ import annotations

from dataclasses import dataclass

import pytest

from commission.definitions.model import Key
from commission.engineering.controls import ECONOMIZER_HIGH_LIMIT_F
from commission.sequence.functional_model import FunctionalStep
from commission.sequence.functional_tests import functional_tests
from commission.validation.calculation import Calculation, Given, GivenLimit
from commission.validation.verdict import Outcome
from sequence.configured_units import unit

GAS = {
    "heat_type": "gas", "gas_valve": "two stage", "heat_stages": 2, "cooling_stages": 2,
    "compressors": 2, "economizer": "fixed dry bulb", "outdoor_damper": "modulating",
    "relief": "gravity", "freeze_protection_fitted": "yes", "smoke_detector_fitted": "yes",
    "rollout_switch_fitted": "yes", "vent_pressure_switch_fitted": "yes",
    "filter_switch_fitted": "yes",
}  # fmt: skip


@dataclass(frozen=True)
class Expected:
    """One row of an acceptance test: the step forced, and what must and must not run."""

    source: str
    test: str
    step: str
    run: tuple[str, ...] = ()
    rest: tuple[str, ...] = ()
    signals: tuple[str, ...] = ()
    marks: tuple[str, ...] = ()


ROWS = (
    Expected("California NA7.5.2: occupied, fan continuous, no heat nor cool (purpose seen, steps "
             "from memory)", "fan_alone", "on", ("indoor_fan",), ("compressor", "gas_valve"),
             ("G",), ("fan_alone_runs",)),
    Expected("California NA7.5.2: occupied, outdoor damper at minimum (from memory)", "fan_alone",
             "minimum_outdoor_air", ("indoor_fan", "outdoor_damper"), ("compressor",), ("G",),
             ("damper_to_minimum_occupied",)),
    Expected("California NA7.5.2: unoccupied, fan off, outdoor damper closed (from memory)",
             "unoccupied", "no_call", (), ("indoor_fan", "outdoor_damper", "compressor"), (),
             ("unoccupied_fan_cycles",)),
    Expected("California NA7.5.4 step 2: cooling demand, outdoor damper fully open, return shut, "
             "relief works, heating off (from memory)", "economizer_damper", "full",
             ("outdoor_damper", "relief"), ("gas_valve",), (),
             ("outdoor_damper_opens_fully", "relief_opens_with_economizer")),
    Expected("California NA7.5.4 step 3: high limit, damper to minimum, cooling continues "
             "mechanically (from memory)", "economizer_hands_over", "unsuited",
             ("compressor", "indoor_fan"), ("gas_valve",), ("Y1", "G"),
             ("economizer_hands_over",)),
    Expected("California NA7.5.4 step 4: heating demand, damper at minimum (from memory)",
             "economizer_heating", "heating", ("indoor_fan",), (), ("W1", "G"),
             ("economizer_shuts_for_heating",)),
    Expected("California NA7.5.4 step 5: unit off, damper closed (from memory)",
             "economizer_damper", "shut", (), ("outdoor_damper", "indoor_fan"), (),
             ("outdoor_damper_shuts_off",)),
    Expected("California NA7.5.4 step 6: restored (from memory)", "economizer_fault", "restored",
             (), (), (), ("economizer_settings_restored",)),
    Expected("Public installation manual (seen): Y1 and G, outdoor air good, compressors off, "
             "damper modulates", "economizer_takes_call", "suited",
             ("outdoor_damper", "indoor_fan"), ("compressor",), ("Y1", "G"),
             ("economizer_takes_call",)),
    Expected("Public installation manual (seen): Y1, Y2 and G, outdoor air good, damper fully "
             "open, first compressor on: integrated, as IECC C403.5 asks", "economizer_integrated",
             "further_call", ("outdoor_damper", "compressor"), (), ("Y1", "Y2", "G"),
             ("economizer_integrated",)),
    Expected("Public installation manuals (seen): close the gas, retries, lockout, valve "
             "de-energised", "ignition_lockout", "gas_shut", ("inducer",), ("flame",), ("W1",),
             ("failure_to_light_locks_out", "ignition_trials")),
    Expected("Public installation manuals (seen): pull the switch's tube, no ignition or valve "
             "drops", "inducer_stopped", "tube_off", ("inducer",), ("gas_valve", "flame"),
             ("W1",), ("inducer_stopped_shuts_gas",)),
    Expected("Public installation manuals (seen): high limit, gas valve drops, blower runs",
             "high_limit", "restricted", ("indoor_fan",), ("gas_valve", "flame"), ("W1", "W2"),
             ("high_limit_shuts_gas",)),
    Expected("Public installation manuals (seen): rollout, gas off, manual reset", "rollout",
             "open", (), ("gas_valve", "flame"), ("W1",), ("rollout_shuts_gas",)),
    Expected("UFC 3-410-02N, MIL-HDBK-1003/3 (seen): smoke, unit stops and alarm", "smoke",
             "tripped", ("alarm",), ("indoor_fan", "compressor", "gas_valve"), ("G",),
             ("smoke_detector_stops_unit",)),
    Expected("UFC 3-410-02N, MIL-HDBK-1003/3 (seen): filter switch simulated, alarm",
             "filter_switch", "covered", ("alarm",), (), ("G",), ("filter_switch_reports",)),
)  # fmt: skip


@pytest.fixture(scope="module")
def gas_unit() -> Calculation:
    return unit(**GAS)


def step_of(made: Calculation, test: str, step: str) -> FunctionalStep:
    tests = functional_tests(made)
    return next(s for t in tests if t.name == test for s in t.steps if s.name == step)


@pytest.mark.parametrize("row", ROWS, ids=lambda row: f"{row.test}-{row.step}")
def test_the_expected_response_is_asked(row: Expected, gas_unit: Calculation) -> None:
    step = step_of(gas_unit, row.test, row.step)
    assert set(row.run) <= {part.name for part in step.run}
    assert set(row.rest) <= {part.name for part in step.rest}
    assert step.signals == row.signals
    assert set(row.marks) <= {mark.name for mark in step.marks}


@pytest.mark.parametrize("row", ROWS, ids=lambda row: f"{row.test}-{row.step}")
def test_a_part_that_must_rest_is_never_to_run(row: Expected, gas_unit: Calculation) -> None:
    step = step_of(gas_unit, row.test, row.step)
    assert not set(row.rest) & {part.name for part in step.run}
    assert not set(row.run) & {part.name for part in step.rest}


# --- ANSI Z21.20 as publicly quoted (installation manuals, seen; the standard itself not seen)


def test_the_chain_is_marked_in_the_quoted_order(gas_unit: Calculation) -> None:
    """Inducer, switch proves, prepurge, ignition, valve, flame proved, blower delay (seen)."""
    step = step_of(gas_unit, "gas_chain", "light")
    assert [part.name for part in step.run] == [
        "inducer", "vent_switch", "igniter", "gas_valve", "flame", "indoor_fan",
    ]  # fmt: skip
    assert [mark.name for mark in step.marks if mark.is_timed] == [
        "inducer_start_s", "vent_switch_close_s", "prepurge_s", "ignition_trial_s",
        "heating_fan_on_delay_s",
    ]  # fmt: skip


# (prepurge s, igniter s, trial s, tries): quoted in three public installation manuals (seen).
NORMS = [(45.0, None, 7.0, 3), (15.0, 20.0, 4.0, 5), (15.0, 17.0, 7.0, 3)]


@pytest.mark.parametrize(("prepurge", "igniter", "trial", "tries"), NORMS)
def test_quoted_ignition_norms_pass_as_limits_and_half_as_much_again_fails(
    prepurge: float, igniter: float | None, trial: float, tries: int
) -> None:
    made = unit(**GAS, ignition="hot surface" if igniter else "direct spark")
    limits = {
        "prepurge_in_range": {"low": prepurge, "high": prepurge + 5},
        "ignition_trial_in_limit": {"high": trial},
        "ignition_trials_in_range": {"low": float(tries), "high": float(tries)},
    }
    for name, parts in limits.items():
        made.give_limit(Key(name), GivenLimit(parts, "as quoted"))
    for factor, wanted in ((1.0, Outcome.PASS), (1.5, Outcome.FAIL)):
        made.give(Key("prepurge_s"), Given(prepurge * factor))
        made.give(Key("ignition_trial_s"), Given(trial * factor))
        made.give(Key("ignition_trials"), Given(float(round(tries * factor))))
        assert {made.verdicts[Key(name)].outcome for name in limits} == {wanted}
    timed = {mark.name for mark in step_of(made, "gas_chain", "light").marks}
    assert ("igniter_warm_up_s" in timed) == (igniter is not None)


# --- ASHRAE 90.1 table 6.5.1.1.3 / IECC C403.5: fixed dry-bulb changeover by climate zone
# (2013 edition, from memory; 75 °F in 4C and 5B seen in WAC 51-11C-40333)

ZONES = {75.0: "0B 1B 2B 3B 3C 4B 4C 5B 5C 6B 7 8", 70.0: "5A 6A", 65.0: "0A 1A 2A 3A 4A"}


@pytest.mark.parametrize(
    ("zone", "limit"), [(zone, limit) for limit, many in ZONES.items() for zone in many.split()]
)
def test_the_changeover_setting_is_held_to_the_zones_limit(zone: str, limit: float) -> None:
    assert ECONOMIZER_HIGH_LIMIT_F[zone] == limit
    made = unit(**GAS)
    made.give(Key("climate_zone"), Given(zone))
    for setting, wanted in ((limit, Outcome.PASS), (limit + 2, Outcome.FAIL)):
        made.give(Key("high_limit_setting_f"), Given(setting))
        assert made.verdicts[Key("high_limit_as_published")].outcome is wanted


# --- California NA7.5.1: outdoor air within 10 % of what is required (seen, 2013 page 13.54)


@pytest.mark.parametrize(
    ("measured", "wanted"), [(910.0, Outcome.PASS), (1_090.0, Outcome.PASS), (880.0, Outcome.FAIL),
                             (1_120.0, Outcome.FAIL)],
)  # fmt: skip
def test_minimum_outdoor_air_is_held_within_ten_percent(measured: float, wanted: Outcome) -> None:
    made = unit(**GAS)
    made.give(Key("outdoor_air_method"), Given("airflow station"))
    made.give(Key("outdoor_required_cfm", (1,)), Given(1_000.0))
    made.give(Key("outdoor_station_cfm", (1,)), Given(measured))
    share = Key("outdoor_airflow_share_percent", (1,))
    assert made.values[share].number == pytest.approx(measured / 10)
    assert made.verdicts[Key("outdoor_airflow_in_tolerance", (1,))].outcome is wanted
