"""Expected responses of publicly quoted acceptance tests, held against the rules.

Rows and marks are those of the check values, sections 6, 8 and 9: "seen" was read in a public
source, "memory" was not. Each row is a log written by hand that shows the expected response
and passes, and one that shows the opposite and fails.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import pytest

from commission.engineering.controls import ECONOMIZER_HIGH_LIMIT_F
from commission.sequence.rules import rule_book
from commission.sequence.simulated_faults import ECONOMIZER_GAS, ONE_CIRCUIT
from commission.sequence.trend_judge import judge_trend, limits_of_zone
from commission.validation.verdict import Outcome
from sequence.hand_logs import Changes, found, log_of

BOOK = rule_book()
LIMITS = {"minimum_damper_most_percent": 20.0, "minimum_outdoor_air_cfm": 1_000.0}
TWO_STAGE = ECONOMIZER_GAS
HOT: dict[str, float | Changes] = {"outdoor_f": 90, "return_f": 75, "occupied": 1}
MILD: dict[str, float | Changes] = {"outdoor_f": 58, "return_f": 75, "occupied": 1}
COOL_1: dict[str, float | Changes] = {
    "call_fan": 1, "call_cool_1": 1, "call_cool_2": 0, "call_heat_1": 0, "call_heat_2": 0,
    "indoor_fan": 1, "gas_valve_1": 0, "gas_valve_2": 0,
}  # fmt: skip
COOL_2 = COOL_1 | {"call_cool_2": 1}
C1: dict[str, float | Changes] = {"compressor_1": 1, "compressor_2": 0}
C0: dict[str, float | Changes] = {"compressor_1": 0, "compressor_2": 0}
HEAT: dict[str, float | Changes] = {
    "call_heat_1": 1, "call_heat_2": 0, "call_cool_1": 0, "call_cool_2": 0, "indoor_fan": 1,
    "gas_valve_1": 1, "gas_valve_2": 0, "occupied": 1,
}  # fmt: skip


@dataclass(frozen=True)
class Response:
    """One row: the state forced, what must follow, what must not, and the rule that judges."""

    test: str
    source: str
    rule: str
    forced: dict[str, float | Changes]
    expected: dict[str, float | Changes]
    wrong: dict[str, float | Changes]


RESPONSES = [
    Response("fan only, occupied: fan continuous", "NA7.5.2 purpose (seen), steps (memory)",
             "fan_runs_occupied", {"occupied": 1}, {"indoor_fan": 1},
             {"indoor_fan": [(0, 1), (600, 0)]}),
    Response("fan only, occupied: damper at minimum", "NA7.5.2 purpose (seen), steps (memory)",
             "damper_open_occupied", {"occupied": 1, "indoor_fan": 1}, {"damper_percent": 15},
             {"damper_percent": 0}),
    Response("unoccupied: fan off", "NA7.5.2 (memory)", "fan_off_unoccupied",
             {"occupied": 0, "call_cool_1": 0, "call_cool_2": 0, "call_heat_1": 0,
              "call_heat_2": 0}, {"indoor_fan": 0}, {"indoor_fan": 1}),
    Response("unit off: outdoor damper closed", "NA7.5.4 step 5 (memory)",
             "damper_closed_when_off", {"indoor_fan": 0}, {"damper_percent": 0},
             {"damper_percent": 15}),
    Response("cooling 1, outdoor hot: first compressor on", "installation manual (seen)",
             "compressor_starts_when_unsuited", HOT | COOL_1, C1, C0),
    Response("cooling 1, outdoor hot: damper at minimum", "installation manual (seen)",
             "economizer_gives_back", HOT | COOL_1 | C1, {"damper_percent": 15},
             {"damper_percent": 100}),
    Response("cooling 1, outdoor good: compressors off", "installation manual (seen)",
             "economizer_before_compressor", MILD | COOL_1, C0, C1),
    Response("cooling 1, outdoor good: damper opens", "NA7.5.4 step 2 (memory)",
             "economizer_used", MILD | COOL_1 | C0, {"damper_percent": 100},
             {"damper_percent": 15}),
    Response("cooling 2, outdoor good: damper open with the first compressor",
             "integrated economizer (seen: WAC 51-11C)", "economizer_integrated",
             MILD | COOL_2 | C1, {"damper_percent": 100}, {"damper_percent": 15}),
    Response("heating: outdoor damper at minimum", "NA7.5.4 step 4 (memory)",
             "damper_minimum_in_heating", HEAT, {"damper_percent": 15}, {"damper_percent": 60}),
    Response("heating: no cooling", "sequences (seen)", "no_heating_with_cooling",
             HEAT | {"compressor_1": [(0, 0), (100, 1), (101, 0)]}, {"compressor_2": 0},
             {"compressor_2": [(0, 0), (300, 1)]}),
    Response("inducer failure: valve drops", "installation manual (seen)",
             "gas_only_with_vent_switch", {"vent_switch": [(0, 1), (300, 0)]},
             {"gas_valve_1": [(0, 1), (301, 0)], "gas_valve_2": 0},
             {"gas_valve_1": 1, "gas_valve_2": 0}),
    Response("high limit: gas valve drops", "installation manual, fault 33 (seen)",
             "gas_off_on_high_limit", {"high_limit_open": [(0, 0), (300, 1)]},
             {"gas_valve_1": [(0, 1), (301, 0)], "gas_valve_2": 0},
             {"gas_valve_1": 1, "gas_valve_2": 0}),
    Response("high limit: blower runs", "installation manual, fault 33 (seen)",
             "fan_on_high_limit", {"high_limit_open": [(0, 0), (300, 1)]}, {"indoor_fan": 1},
             {"indoor_fan": [(0, 1), (301, 0)]}),
    Response("rollout: gas off", "installation manual (seen)", "gas_off_on_rollout",
             {"rollout_open": [(0, 0), (300, 1)]},
             {"gas_valve_1": [(0, 1), (301, 0)], "gas_valve_2": 0},
             {"gas_valve_1": 1, "gas_valve_2": 0}),
    Response("flame-out: valve de-energised in lockout", "installation manual (seen)",
             "gas_off_in_lockout", {"lockout": [(0, 0), (300, 1)]},
             {"gas_valve_1": 0, "gas_valve_2": 0},
             {"gas_valve_1": [(0, 0), (310, 1)], "gas_valve_2": 0}),
    Response("flame sensed with the valve off", "fault code 22 (seen)", "flame_only_with_gas",
             {"gas_valve_1": [(0, 1), (300, 0)], "gas_valve_2": 0},
             {"flame": [(0, 1), (302, 0)]}, {"flame": 1}),
    Response("pressure switch open before the inducer starts", "fault codes 23, 32 (seen)",
             "vent_switch_opens", {"inducer": [(0, 0), (300, 1)]},
             {"vent_switch": [(0, 0), (305, 1)]}, {"vent_switch": 1}),
    Response("smoke: unit stops", "MIL-HDBK-1003/3 in UFC 3-410-02N (seen)", "fan_off_on_smoke",
             {"smoke_trip": [(0, 0), (300, 1)]}, {"indoor_fan": [(0, 1), (302, 0)]},
             {"indoor_fan": 1}),
    Response("freezestat: unit stops", "MIL-HDBK-1003/3 in UFC 3-410-02N (seen)",
             "compressor_off_on_freeze", {"freeze_trip": [(0, 0), (300, 1)], "compressor_2": 0},
             {"compressor_1": [(0, 1), (302, 0)]}, {"compressor_1": 1}),
    Response("actuator stroke: the damper goes where it is sent",
             "MIL-HDBK-1003/3 in UFC 3-410-02N (seen)", "damper_follows_command",
             {"damper_command_percent": [(0, 0), (400, 50), (800, 100)]},
             {"damper_percent": [(0, 0), (490, 50), (890, 100)]}, {"damper_percent": 50}),
    Response("outdoor air within 10 % of required", "NRCA-MCH-02-A 2022 (seen)",
             "outdoor_air_enough", {"occupied": 1, "indoor_fan": 1}, {"outdoor_air_cfm": 905},
             {"outdoor_air_cfm": 895}),
    Response("heating and cooling set points 5 °F apart", "ASHRAE 90.1 6.4.3.1.2 (memory)",
             "setpoints_apart", {"occupied": 1, "cooling_setpoint_f": 75},
             {"heating_setpoint_f": 70}, {"heating_setpoint_f": 71}),
]  # fmt: skip


@pytest.mark.parametrize("row", RESPONSES, ids=lambda row: row.test)
def test_expected_response_passes_and_its_opposite_fails(row: Response) -> None:
    unit = ONE_CIRCUIT if row.rule == "compressor_off_on_freeze" else TWO_STAGE
    good = judge_trend(log_of(row.forced | row.expected, 1_500), unit, LIMITS)
    bad = judge_trend(log_of(row.forced | row.wrong, 1_500), unit, LIMITS)
    assert found(good, row.rule).outcome is Outcome.PASS, found(good, row.rule).sentence
    assert found(bad, row.rule).outcome is Outcome.FAIL, found(bad, row.rule).sentence


def firing(
    prepurge: float, trial: float, lights: bool = True, step_s: float = 1.0
) -> dict[str, float | Changes]:
    """Return a gas chain: call at 60 s, switch 4 s after the inducer, valve after prepurge."""
    proved = 62 + 4
    valve = proved + prepurge
    flame = valve + trial if lights else 1e6
    shut = 900.0 if lights else valve + trial
    return {
        "call_heat_1": [(0, 0), (60, 1), (900, 0)], "call_heat_2": 0,
        "inducer": [(0, 0), (62, 1), (930, 0)], "vent_switch": [(0, 0), (proved, 1), (930, 0)],
        "gas_valve_1": [(0, 0), (valve, 1), (shut, 0)], "gas_valve_2": 0,
        "flame": [(0, 0), (flame, 1), (901, 0)] if lights else 0,
        "indoor_fan": [(0, 0), (flame + 30, 1), (1_020, 0)] if lights else 0,
    }  # fmt: skip


CHAIN = ("inducer_starts", "vent_switch_closes", "prepurge_long_enough", "ignition_lights",
         "gas_without_flame", "gas_only_with_inducer", "gas_off_with_call",
         "flame_only_with_gas")  # fmt: skip


@pytest.mark.parametrize(
    ("prepurge", "trial"),
    [(45, 3), (15, 4), (17, 7)],  # the three manuals quoted in the check values, section 6 (seen)
)
def test_quoted_ignition_norms_pass(prepurge: float, trial: float) -> None:
    findings = judge_trend(log_of(firing(prepurge, trial), 1_200), TWO_STAGE)
    for rule in (*CHAIN, "heating_fan_on_delay", "heating_fan_off_delay", "post_purge_long_enough"):
        assert found(findings, rule).outcome is Outcome.PASS, found(findings, rule).sentence


def test_ignition_outside_the_quoted_norms_fails() -> None:
    short = judge_trend(log_of(firing(5, 4), 1_200), TWO_STAGE)
    assert found(short, "prepurge_long_enough").outcome is Outcome.FAIL
    late = judge_trend(log_of(firing(20, 25), 1_200), TWO_STAGE)
    assert found(late, "ignition_lights").outcome is Outcome.FAIL
    assert found(late, "gas_without_flame").stops
    dark = judge_trend(log_of(firing(20, 4, lights=False), 1_200), TWO_STAGE)
    assert found(dark, "ignition_lights").outcome is Outcome.FAIL


def test_changeover_defaults_span_the_published_limits() -> None:
    # ASHRAE 90.1-2013 Table 6.5.1.1.3 (memory; 75 °F in 4C and 5B seen in WAC 51-11C-40333).
    limits = ECONOMIZER_HIGH_LIMIT_F.values()
    assert BOOK.limits["economizer_low_limit_f"].default == min(limits)
    assert BOOK.limits["economizer_high_limit_f"].default == max(limits)


@pytest.mark.parametrize("zone", sorted(ECONOMIZER_HIGH_LIMIT_F))
def test_changeover_is_judged_at_the_zones_limit(zone: str) -> None:
    limit = ECONOMIZER_HIGH_LIMIT_F[zone]
    entered = LIMITS | limits_of_zone(zone)
    for outdoor, damper, rule in ((limit - 3, 15, "economizer_used"),
                                  (limit + 3, 100, "economizer_gives_back")):  # fmt: skip
        forced = COOL_1 | C0 | {"outdoor_f": outdoor, "return_f": 78, "occupied": 1}
        log = log_of(forced | {"damper_percent": damper}, 1_500)
        assert found(judge_trend(log, TWO_STAGE, entered), rule).outcome is Outcome.FAIL
    # Within the sensor's permitted 2 °F of the limit (90.1 6.5.1.1.6, memory) nothing is judged.
    near = log_of(COOL_1 | C0 | {"outdoor_f": limit, "damper_percent": 15}, 1_500)
    assert (
        found(judge_trend(near, TWO_STAGE, entered), "economizer_used").outcome is Outcome.MISSING
    )


def test_fixed_enthalpy_changeover() -> None:
    # WAC 51-11C-40333 Table C403.3.3.3 (seen): fixed enthalpy 28 Btu/lb.
    unit = replace(TWO_STAGE, economizer="fixed enthalpy")
    humid = COOL_1 | C0 | {"outdoor_f": 74, "outdoor_rh_percent": 85, "damper_percent": 100}
    findings = judge_trend(log_of(humid, 1_500), unit, LIMITS)  # 34.3 Btu/lb
    assert found(findings, "economizer_gives_back").outcome is Outcome.FAIL
    dry = humid | {"outdoor_f": 60, "outdoor_rh_percent": 40, "damper_percent": 15}  # 19.2 Btu/lb
    assert found(judge_trend(log_of(dry, 1_500), unit, LIMITS), "economizer_used").outcome is (
        Outcome.FAIL
    )
