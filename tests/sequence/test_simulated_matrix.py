"""The matrix: each injected fault found by its rule, and sound units without a finding."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from commission.definitions.model import Severity
from commission.sequence.configuration import Configuration
from commission.sequence.rules import rule_book
from commission.sequence.simulated_faults import (
    ECONOMIZER_GAS,
    ELECTRIC,
    FAULTS,
    HEAT_PUMP,
    ONE_CIRCUIT,
    UNIT_LIMITS,
)
from commission.sequence.simulated_matrix import (
    Row,
    false_alarms,
    fault_rows,
    forty_configurations,
)
from commission.sequence.simulated_unit import Run, simulate, simulate_one
from commission.sequence.trend_judge import judge_trend
from commission.sequence.trend_log import ON, TrendLog
from commission.validation.verdict import Outcome

pytestmark = pytest.mark.slow


HOT_SURFACE = replace(ECONOMIZER_GAS, ignition="hot surface")
SINGLE = ("blocked_vent", "failed_inducer", "broken_belt", "blocked_duct")
Logs = dict[tuple[Configuration, str], TrendLog]


@pytest.fixture(scope="module")
def rows() -> list[Row]:
    return fault_rows()


@pytest.fixture(scope="module")
def logs() -> Logs:
    """Return a day of each sound unit of the faults, and of a few faults, by unit and fault."""
    units = dict.fromkeys(fault.configuration for fault in FAULTS)
    runs = [Run(unit, "", 7) for unit in [*units, HOT_SURFACE]]
    runs += [Run(ECONOMIZER_GAS, fault, 7) for fault in SINGLE]
    made = zip(runs, simulate(runs), strict=True)
    return {(run.configuration, run.fault): log for run, log in made}


def test_there_are_at_least_thirty_faults() -> None:
    assert len({fault.name for fault in FAULTS}) == len(FAULTS) >= 30
    assert {fault.found_by for fault in FAULTS} <= {rule.name for rule in rule_book().rules}


def test_each_fault_is_found_by_its_rule(rows: list[Row]) -> None:
    for row in rows:
        print(f"{row.fault.name:28} {'found' if row.found else 'MISSED':7}"
              f"{row.fault.found_by:34} {row.sentence}")  # fmt: skip
    assert [row.fault.name for row in rows if not row.found] == []


def test_no_finding_on_forty_sound_configurations_and_three_seeds() -> None:
    configurations = forty_configurations()
    assert len(set(configurations)) == 40
    alarms = [
        (alarm.finding.rule, alarm.seed, alarm.finding.sentence)
        for alarm in false_alarms(configurations)
    ]
    assert alarms == []


def test_a_fault_does_not_hide_in_a_rule_that_fails_on_sound_units(logs: Logs) -> None:
    """A rule that finds a fault passes, or has nothing to judge, on the unit without it."""
    outcomes = {
        unit: {found.rule: found.outcome for found in judge_trend(log, unit, UNIT_LIMITS)}
        for (unit, fault), log in logs.items()
        if not fault
    }
    judged = (Outcome.PASS, Outcome.MISSING)  # missing: a protection that never had to act
    for fault in FAULTS:
        assert outcomes[fault.configuration][fault.found_by] in judged, fault.name


def thinned(log: TrendLog, every: int, first: int) -> TrendLog:
    some = slice(first, None, every)
    joined = np.ones(len(log.moments[some]), bool)
    joined[0] = False
    columns = {name: column[some] for name, column in log.columns.items()}
    return TrendLog(log.moments[some], joined, log.lines[some], columns, zone=log.zone)


def test_coarse_sampling_makes_inconclusive_never_fail(logs: Logs) -> None:
    inconclusive = dict.fromkeys((5, 15, 30, 150), 0)
    for (unit, _), log in ((key, log) for key, log in logs.items() if not key[1]):
        for every in inconclusive:
            for first in (0, every // 2):
                findings = judge_trend(thinned(log, every, first), unit, UNIT_LIMITS)
                failed = [f for f in findings if f.outcome is Outcome.FAIL]
                assert [f.sentence for f in failed if f.severity is not Severity.NOTE] == []
                doubtful = [f for f in findings if f.outcome is Outcome.INCONCLUSIVE]
                assert all("Sampling every" in f.sentence for f in doubtful)
                assert all(f.needed_interval_s < 2 * every for f in doubtful)
                inconclusive[every] += len(doubtful)
    assert inconclusive[5] < inconclusive[30] < inconclusive[150]


def test_same_run_gives_the_same_log_whoever_its_neighbours_are() -> None:
    alone = simulate_one(ECONOMIZER_GAS, "weak_flame", 3, hours=0.3)
    crowd = [Run(HEAT_PUMP, "", 1), Run(ECONOMIZER_GAS, "weak_flame", 3), Run(ELECTRIC, "", 2)]
    beside = list(simulate(crowd, hours=0.3))[1]
    assert set(alone.columns) == set(beside.columns)
    for name, column in alone.columns.items():
        assert np.array_equal(column, beside.columns[name]), name
    other = simulate_one(ECONOMIZER_GAS, "weak_flame", 4, hours=0.3)
    assert not np.array_equal(alone.columns["outdoor_f"], other.columns["outdoor_f"])


def starts(log: TrendLog, name: str) -> list[float]:
    on = log.columns[name] == ON
    return log.moments[np.flatnonzero(on[1:] & ~on[:-1]) + 1].tolist()


def test_r_to_y_and_r_to_g_start_compressor_condenser_fan_and_indoor_fan_at_once(
    logs: Logs,
) -> None:
    # Common practice: a room above its set point calls cooling and fan together.
    log = logs[ONE_CIRCUIT, ""]
    call = starts(log, "call_cool_1")[0]
    for part in ("compressor_1", "condenser_fan_1"):
        assert starts(log, part)[0] - call <= 4.0, part
    at_call = int(np.searchsorted(log.moments, call))
    assert log.columns["call_fan"][at_call] == ON and log.columns["indoor_fan"][at_call] == ON


def test_economizer_takes_the_first_cooling_call_with_the_compressor_off(logs: Logs) -> None:
    # Common practice: the cooling call goes to the economizer first, which looks outdoors.
    log = logs[ECONOMIZER_GAS, ""]
    mild = log.columns["outdoor_f"] < 63
    first_call = (log.columns["call_cool_1"] == ON) & (log.columns["call_cool_2"] != ON) & mild
    assert first_call.sum() > 100
    assert not (first_call & (log.columns["compressor_1"] == ON)).any()
    assert log.columns["damper_percent"][first_call].max() > 90
    hot = (log.columns["outdoor_f"] > 78) & (log.columns["call_cool_1"] == ON)
    assert (log.columns["compressor_1"][hot] == ON).mean() > 0.8
    assert np.median(log.columns["damper_percent"][hot]) == 15


@pytest.mark.parametrize("fault", ["blocked_vent", "failed_inducer"])
def test_vent_pressure_switch_stops_everything_without_combustion_air(
    logs: Logs, fault: str
) -> None:
    # Common practice: for instance when the vent is blocked.
    log = logs[ECONOMIZER_GAS, fault]
    for part in ("igniter", "gas_valve_1", "flame"):
        assert not (log.columns[part] == ON).any()


@pytest.mark.parametrize("fault", ["broken_belt", "blocked_duct"])
def test_limit_switch_stops_the_burner_when_air_is_lost(logs: Logs, fault: str) -> None:
    # Common practice: a failed fan, a broken belt or an obstructed duct.
    log = logs[ECONOMIZER_GAS, fault]
    opened = log.columns["high_limit_open"] == ON
    assert opened.any()
    assert not (log.columns["gas_valve_1"][1:] == ON)[opened[:-1]].any()


def test_gas_chain_runs_in_its_order(logs: Logs) -> None:
    # Order quoted in public installation manuals (check values, section 6: seen).
    log = logs[HOT_SURFACE, ""]
    order = ["call_heat_1", "inducer", "vent_switch", "igniter", "gas_valve_1", "flame"]
    moments = [starts(log, name)[0] for name in order]
    assert moments == sorted(moments) and len(set(moments)) >= 5
    assert starts(log, "indoor_fan")[0] > moments[-1]
