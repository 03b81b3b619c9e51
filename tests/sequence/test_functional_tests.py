"""Every configuration makes a consistent list of tests: no test without its part, no fitted
protection without its test, no mark that is not asked, nothing asked that no step marks.

What is expected stands here as plain predicates, written apart from `forms/sequence.toml`.
"""

from __future__ import annotations

import os
import random
from collections import Counter
from collections.abc import Callable, Mapping

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from commission.definitions.model import Key
from commission.sequence.functional_model import FunctionalTest
from commission.sequence.functional_tests import book_of, functional_tests, left_out, signals
from commission.validation.calculation import Calculation
from sequence.configured_units import (
    ECONOMIZERS,
    ELECTRIC,
    GAS,
    HEATS,
    PROTECTIONS,
    VALVES,
    answers,
    fitted,
    plan,
    sample,
    unit,
)

# The full product (5,850 units) takes minutes: COMMISSION_SEQUENCE_UNITS=all runs it.
SAMPLED = os.environ.get("COMMISSION_SEQUENCE_UNITS", "60")

Answers = Mapping[str, object]
Rule = Callable[[Answers], bool]


def has_gas(a: Answers) -> bool:
    return a["heat_type"] in GAS


def has_electric(a: Answers) -> bool:
    return a["heat_type"] in ELECTRIC


def has_pump(a: Answers) -> bool:
    return str(a["heat_type"]).startswith("heat pump")


def has_damper(a: Answers) -> bool:
    return a["outdoor_damper"] in ("motorised, two position", "modulating")


def always(a: Answers) -> bool:
    return True


def whole(a: Answers, name: str) -> int:
    return int(str(a[name]))


def yes(name: str, *, gas: bool = False) -> Rule:
    return lambda a: a[f"{name}_fitted"] == "yes" and (has_gas(a) or not gas)


def economizer(a: Answers) -> bool:
    return a["economizer"] != "none"


PARTS: Mapping[str, Rule] = {
    "indoor_fan": always, "compressor": always, "condenser_fan": always, "alarm": always,
    "outdoor_damper": has_damper, "relief": lambda a: a["relief"] != "none",
    "inducer": lambda a: has_gas(a) and whole(a, "draft_inducers") > 0, "igniter": has_gas,
    "gas_valve": has_gas, "flame": has_gas, "electric_heat": has_electric,
    "reversing_valve": has_pump, "crankcase_heater": yes("crankcase_heater"),
    "vent_switch": yes("vent_pressure_switch", gas=True), "ignition_lockout": has_gas,
    "flame_failure": has_gas, "high_limit": has_gas,
    "rollout_switch": yes("rollout_switch", gas=True), "heater_limit": has_electric,
    "high_pressure_cutout": yes("high_pressure_cutout"),
    "low_pressure_cutout": yes("low_pressure_cutout"),
    "freeze_protection": yes("freeze_protection"), "leak_detection": yes("leak_detection"),
    "smoke_detector": yes("smoke_detector"),
    "phase_monitor": lambda a: a["phase_monitor_fitted"] == "yes" and a["phases"] == "3",
    "condensate_switch": yes("condensate_switch"), "airflow_switch": yes("airflow_switch"),
    "filter_switch": yes("filter_switch"),
}  # fmt: skip

# Test -> when it is there, and how often.
TESTS: Mapping[str, tuple[Rule, str]] = {
    "calls": (always, ""), "fan_alone": (always, ""),
    "fan_speeds": (lambda a: a["fan_speed_control"] != "one speed", ""),
    "unoccupied": (always, ""), "setback_recovery": (always, ""), "power_restored": (always, ""),
    "no_heating_with_cooling": (lambda a: a["heat_type"] != "none", ""),
    "automation_points": (lambda a: a["control_kind"] == "building automation", ""),
    "cooling_stage": (always, "cooling_stages"), "cooling_timers": (always, ""),
    "cooling_interstage": (lambda a: whole(a, "cooling_stages") >= 2, ""),
    "condenser_fans": (always, ""), "cooling_lockout": (always, ""),
    "variable_capacity": (always, ""),
    "discharge_air": (lambda a: a["control_kind"] == "discharge air", ""),
    "economizer_damper": (economizer, ""), "economizer_takes_call": (economizer, ""),
    "economizer_integrated": (lambda a: economizer(a) and whole(a, "cooling_stages") >= 2, ""),
    "economizer_hands_over": (economizer, ""),
    "economizer_heating": (lambda a: economizer(a) and a["heat_type"] != "none", ""),
    "economizer_fault": (economizer, ""),
    "gas_chain": (has_gas, ""), "firing_rate": (has_gas, "heat_stages"),
    "heat_staging": (lambda a: has_gas(a) and a["gas_valve"] == "two stage", ""),
    "ignition_lockout": (has_gas, ""), "flame_lost": (has_gas, ""),
    "inducer_stopped": (PARTS["vent_switch"], ""), "vent_blocked": (PARTS["vent_switch"], ""),
    "high_limit": (has_gas, ""), "rollout": (PARTS["rollout_switch"], ""),
    "gas_airflow_lost": (has_gas, ""), "gas_valve_tight": (has_gas, ""),
    "heater_needs_fan": (has_electric, ""),
    "heater_stage": (has_electric, "electric_heat_stages"),
    "heater_interstage": (lambda a: has_electric(a) and whole(a, "electric_heat_stages") > 1, ""),
    "heater_fan_off": (has_electric, ""), "heater_limit": (has_electric, ""),
    "reversing_valve": (has_pump, "circuits"), "heat_pump_stage": (has_pump, "cooling_stages"),
    "defrost": (has_pump, "circuits"), "defrost_setting": (has_pump, ""),
    "auxiliary_heat": (lambda a: str(a["heat_type"]).startswith("heat pump with"), ""),
    "smoke": (PARTS["smoke_detector"], ""), "phase_loss": (PARTS["phase_monitor"], ""),
    "condensate": (PARTS["condensate_switch"], ""),
    "airflow_switch": (PARTS["airflow_switch"], ""), "fan_stopped": (always, ""),
    "filter_switch": (PARTS["filter_switch"], ""),
    "supply_duct_limit": (lambda a: a["fan_speed_control"] == "variable speed", ""),
    "disconnect": (always, ""), "protections_restored": (always, ""),
    "high_pressure": (PARTS["high_pressure_cutout"], "circuits"),
    "low_pressure": (PARTS["low_pressure_cutout"], "circuits"),
    "freeze": (PARTS["freeze_protection"], "circuits"),
    "crankcase_heater": (PARTS["crankcase_heater"], "compressors"),
    "leak_detection": (PARTS["leak_detection"], ""), "compressor_overload": (always, ""),
}  # fmt: skip


def expected_terminals(a: Answers) -> list[str]:
    """Return the terminals of common practice: R C G, Y a cooling stage, W a heating stage."""
    found = ["R", "C", "G", *(f"Y{n}" for n in range(1, whole(a, "cooling_stages") + 1))]
    found += ["O/B"] if has_pump(a) else []
    if has_gas(a):
        found += ["W1", "W2"] if a["gas_valve"] == "two stage" else ["W1"]
    if has_electric(a):
        found += [f"W{n}" for n in range(1, whole(a, "electric_heat_stages") + 1)]
    return found


def asked_keys(made: Calculation) -> set[Key]:
    """Return every field member of the sequence and protection pages that the form asks."""
    return {
        Key(field.name, index)
        for section in made.plan.form.sections
        if section.name.startswith(("functional_", "protections_"))
        for field in section.fields
        for index in made.members(field.name)
        if made.relevant(Key(field.name, index))
    }


def hold_together(given: Answers) -> tuple[FunctionalTest, ...]:
    """Check one configuration against everything that is expected of its tests."""
    a = answers(**given)
    made = unit(short=True, **given)
    tests = functional_tests(made)
    there = Counter(test.name for test in tests)
    wanted = {
        name: whole(a, counted) if counted else 1
        for name, (applies, counted) in TESTS.items()
        if applies(a)
    }
    assert dict(there) == wanted, f"{a}"
    assert {test.title for test in tests} & {one.title for one in left_out(made)} == set()
    assert [one.terminal for one in signals(made)] == expected_terminals(a)
    for test in tests:
        hold_test(a, made, test)
    protected = {part.name for test in tests for part in test.proves if part.is_protection}
    known = {part.name for part in book_of(made).parts if part.is_protection}
    assert protected == {name for name in known if PARTS[name](a)}
    marked = Counter(key for test in tests for key in test.keys)
    assert max(marked.values()) == 1, "a field is marked by two steps"
    assert asked_keys(made) <= set(marked), asked_keys(made) - set(marked)
    return tests


def hold_test(a: Answers, made: Calculation, test: FunctionalTest) -> None:
    assert test.steps and test.proves, test.name
    for part in test.proves:
        assert PARTS[part.name](a), f"{test.name} proves {part.name}, not fitted"
    for key in test.keys:
        assert key.index in made.members(key.name) and made.relevant(key), key
    for step in test.steps:
        for part in (*step.run, *step.rest):
            assert PARTS[part.name](a), f"{test.name}: {part.name} is not fitted"
        assert set(step.signals) <= set(expected_terminals(a)) - {"R", "C"}
        assert "{n}" not in f"{test.title}{step.call}{step.do}"
        events = ["call", *(mark.name for mark in step.marks if mark.is_timed)]
        for mark in step.marks:
            assert mark.after in events[: events.index(mark.name) if mark.is_timed else None]
            assert not (mark.stops and not step.danger), f"{test.name}: {mark.name}"


def test_the_table_above_names_every_test_and_part() -> None:
    book = book_of(unit())
    assert set(TESTS) == {row.name for row in book.tests}
    assert set(PARTS) == {part.name for part in book.parts}


@st.composite
def configurations(draw: st.DrawFn) -> dict[str, object]:
    whole_number = st.integers
    economizer_kind = draw(st.sampled_from(ECONOMIZERS))
    damper = st.sampled_from(["none", "manual, fixed", "motorised, two position", "modulating"])
    chosen = {
        "phases": draw(st.sampled_from(["1", "3"])),
        "cooling_stages": draw(whole_number(1, 6)),
        "circuits": draw(whole_number(1, 4)),
        "compressors": draw(whole_number(1, 8)),
        "fan_speed_control": draw(
            st.sampled_from(["one speed", "stepped speeds", "variable speed"])
        ),
        "heat_type": draw(st.sampled_from(HEATS)),
        "gas_valve": draw(st.sampled_from(VALVES)),
        "heat_stages": draw(whole_number(1, 4)),
        "draft_inducers": draw(whole_number(0, 4)),
        "ignition": draw(
            st.sampled_from(["direct spark", "hot surface", "spark to intermittent pilot"])
        ),
        "electric_heat_stages": draw(whole_number(1, 6)),
        "economizer": economizer_kind,
        "outdoor_damper": draw(damper) if economizer_kind == "none" else "modulating",
        "relief": draw(st.sampled_from(["none", "gravity", "powered"])),
        "control_kind": draw(
            st.sampled_from(["thermostat", "discharge air", "building automation"])
        ),
        "crankcase_heater_fitted": draw(st.sampled_from(["yes", "no"])),
    }
    held = draw(st.lists(st.sampled_from(PROTECTIONS), unique=True))
    return chosen | fitted(*held)


@settings(
    max_examples=40,
    deadline=None,
    derandomize=True,
    suppress_health_check=[HealthCheck.too_slow],
)
@given(configurations())
def test_any_configuration_makes_a_consistent_list(given_answers: dict[str, object]) -> None:
    hold_together(given_answers)


def test_the_product_of_stages_circuits_heat_valve_economizer_protections() -> None:
    every = list(sample())
    chosen = every if SAMPLED == "all" else random.Random(11).sample(every, int(SAMPLED))
    for given_answers in chosen:
        hold_together(given_answers)
    print(f"{len(chosen)} of {len(every)} units made a consistent list of tests.")


def test_an_unanswered_configuration_says_what_is_wanting() -> None:
    made = Calculation(plan())
    why = {one.title: one.why for one in left_out(made)}
    assert why["Low to high fire"] == "not answered yet: Heat"
    assert why["Duct smoke detector"] == "not answered yet: Duct smoke detector wired to the unit"
    assert {one.why for one in left_out(unit())} == {"not fitted"}


@pytest.mark.parametrize("valve", VALVES)
def test_the_gas_chain_has_the_steps_of_its_valve(valve: str) -> None:
    tests = functional_tests(unit(heat_type="gas", gas_valve=valve, heat_stages=2))
    rates = [test for test in tests if test.name == "firing_rate"]
    assert [step.name for test in rates for step in test.steps] == [valve.replace(" ", "_")] * 2
    signals_of = [test.steps[0].signals for test in rates]
    assert signals_of == ([("W1",), ("W1", "W2")] if valve == "two stage" else [("W1",)] * 2)
