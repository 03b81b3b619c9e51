"""Each kind of rule on logs written by hand, and the honesty of its verdict under sampling."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from commission.errors import ReadingError
from commission.sequence.configuration import Configuration
from commission.sequence.rules_judge import Log, Task, judge_task
from commission.sequence.simulated_faults import ECONOMIZER_GAS
from commission.sequence.trend_judge import judge_trend
from commission.sequence.trend_log import UNKNOWN
from commission.validation.verdict import Outcome
from sequence.hand_logs import found, log_at, log_of

PLAIN = Configuration()


def judged(kind: str, signals: dict, length_s: float, step_s: float = 1.0, start: float = 0.0,
           **parts: object) -> object:  # fmt: skip
    log = log_of(signals, length_s, step_s, start)
    conditions = {key: str(value) for key, value in parts.items() if isinstance(value, str)}
    bounds = {key: value for key, value in parts.items() if isinstance(value, int | float)}
    conditions = {key.rstrip("_"): value for key, value in conditions.items()}
    task = Task(conditions, bounds, "it went wrong", already=conditions.pop("already", "pass"),
                must_come=bool(bounds.pop("must_come", False)))  # fmt: skip
    return judge_task(kind, task, Log(log.columns, log.moments, log.joined))


NEVER = {"while": "compressor_1", "never": "not indoor_fan", "longer_s": 5.0}


def test_never_counts_stretches_and_finds_the_worst() -> None:
    fan = [(0, 1), (100, 0), (110, 1), (200, 0), (230, 1), (300, 0), (303, 1)]
    got = judged("never", {"compressor_1": 1, "indoor_fan": fan}, 400, **NEVER)
    assert got.outcome is Outcome.FAIL
    assert got.first.tolist() == [100, 200] and got.last.tolist() == [109, 229]
    assert got.worst == 200
    assert got.sentence == (
        "It went wrong 2 times, the longest for 29 s, 38 s together; at most 5 s is allowed."
    )


def test_never_passes_what_is_within_its_grace() -> None:
    fan = [(0, 1), (300, 0), (303, 1)]
    got = judged("never", {"compressor_1": 1, "indoor_fan": fan}, 400, **NEVER)
    assert got.outcome is Outcome.PASS


def test_a_single_coarse_sample_is_not_proof() -> None:
    fan = [(0, 1), (119, 0), (121, 1)]
    got = judged("never", {"compressor_1": 1, "indoor_fan": fan}, 600, 60.0, **NEVER)
    assert got.outcome is Outcome.INCONCLUSIVE
    assert got.needed_interval_s == 1.0
    assert "Sampling every 1 s or finer would tell." in got.sentence


def test_a_pass_says_what_its_sampling_cannot_see() -> None:
    signals = {"compressor_1": 1, "indoor_fan": 1}
    fine, coarse = (judged("never", signals, 7_200, step, **NEVER) for step in (2.0, 60.0))
    assert fine.sentence == "Not seen in 2 h judged."
    assert coarse.outcome is Outcome.PASS
    assert coarse.sentence.endswith("; what lasts less than 60 s may fall between samples.")


def test_what_never_happens_is_missing_not_passed() -> None:
    got = judged("never", {"compressor_1": 0, "indoor_fan": 0}, 600, **NEVER)
    assert got.outcome is Outcome.MISSING


DELAY = {"from_": "call_fan", "to": "indoor_fan", "at_most": 30.0}


@pytest.mark.parametrize(
    ("starts", "step_s", "outcome"),
    [
        (110, 1, Outcome.PASS),
        (129, 1, Outcome.PASS),
        (130, 1, Outcome.PASS),  # at the limit, within the sampling
        (135, 1, Outcome.FAIL),
        (110, 60, Outcome.INCONCLUSIVE),  # 100 and 110 fall between two samples
        (400, 60, Outcome.FAIL),  # certain even so
    ],
)
def test_delay_and_its_sampling(starts: float, step_s: float, outcome: Outcome) -> None:
    signals = {"call_fan": [(0, 0), (100, 1)], "indoor_fan": [(0, 0), (starts, 1)]}
    got = judged("delay", signals, 600, step_s, **DELAY)
    assert got.outcome is outcome, got.sentence


def test_inconclusive_delay_names_the_sampling_that_would_do() -> None:
    signals = {"call_fan": [(0, 0), (100, 1)], "indoor_fan": [(0, 0), (110, 1)]}
    got = judged("delay", signals, 600, 60.0, **DELAY)
    assert got.needed_interval_s == 3.0
    again = judged("delay", signals, 600, 3.0, **DELAY)
    assert again.outcome is Outcome.PASS


def test_effect_that_never_comes_fails_once_the_time_is_up() -> None:
    never = judged("delay", {"call_fan": [(0, 0), (100, 1)], "indoor_fan": 0}, 600, **DELAY)
    assert never.outcome is Outcome.FAIL and "1 never came" in never.sentence
    short = {"call_fan": [(0, 0), (100, 1), (115, 0)], "indoor_fan": 0}
    assert judged("delay", short, 600, **DELAY).outcome is Outcome.MISSING
    assert judged("delay", short, 600, must_come=1, **DELAY).outcome is Outcome.FAIL


def test_what_already_holds() -> None:
    signals = {"call_fan": [(0, 0), (100, 1)], "indoor_fan": 1}
    assert judged("delay", signals, 600, **DELAY).outcome is Outcome.PASS
    assert judged("delay", signals, 600, already="fail", **DELAY).outcome is Outcome.FAIL
    assert judged("delay", signals, 600, already="skip", **DELAY).outcome is Outcome.MISSING


LASTING = {"of": "compressor_1", "at_least": 120.0}


def test_lasting_judges_only_whole_runs() -> None:
    runs = [(0, 1), (10, 0), (100, 1), (300, 0), (400, 1), (450, 0), (590, 1)]
    got = judged("lasting", {"compressor_1": runs}, 600, **LASTING)
    assert got.outcome is Outcome.FAIL
    assert got.first.tolist() == [400]  # neither the run cut at the start nor at the end


def test_rate_counts_any_hour() -> None:
    starts = [(k * 500.0 + (250 if half else 0), half) for k in range(20) for half in (0, 1)]
    got = judged("rate", {"compressor_1": starts}, 10_000, of="compressor_1", at_most=6.0)
    assert got.outcome is Outcome.FAIL and "8 in one hour" in got.sentence
    slow = [(k * 900.0 + (450 if half else 0), half) for k in range(11) for half in (0, 1)]
    ok = judged("rate", {"compressor_1": slow}, 10_000, of="compressor_1", at_most=6.0)
    assert ok.outcome is Outcome.PASS
    coarse = judged("rate", {"compressor_1": slow}, 10_000, 300.0, of="compressor_1", at_most=6.0)
    assert coarse.outcome is Outcome.INCONCLUSIVE and coarse.needed_interval_s == 150.0


def test_nothing_is_concluded_across_a_break() -> None:
    log = log_of({"compressor_1": [(0, 0), (50, 1), (60, 0)], "indoor_fan": 1}, 100)
    joined = log.joined.copy()
    joined[55] = False
    task = Task({"of": "compressor_1"}, {"at_least": 120.0}, "x")
    got = judge_task("lasting", task, Log(log.columns, log.moments, joined))
    assert got.outcome is Outcome.MISSING


@given(
    call=st.integers(10, 200), delay=st.integers(0, 120), step=st.sampled_from([1, 2, 5, 15, 60]),
    phase=st.integers(0, 59), limit=st.sampled_from([5, 30, 60]),
)  # fmt: skip
def test_no_sampling_turns_a_true_verdict_over(
    call: int, delay: int, step: int, phase: int, limit: int
) -> None:
    """A delay within its limit is never failed; one clearly beyond is never passed."""
    signals = {"call_fan": [(0, 0), (call, 1)], "indoor_fan": [(0, 0), (call + delay, 1)]}
    got = judged("delay", signals, 600, step, phase % step, from_="call_fan", to="indoor_fan",
                 at_most=float(limit))  # fmt: skip
    if delay <= limit:
        assert got.outcome is not Outcome.FAIL
    if delay > limit + max(2.0, 0.2 * limit):
        assert got.outcome is not Outcome.PASS


def test_findings_name_lines_moments_limits_and_origin() -> None:
    log = log_of({"compressor_1": 1, "indoor_fan": [(0, 1), (100, 0), (130, 1)]}, 300)
    finding = found(judge_trend(log, PLAIN), "compressor_with_fan")
    assert finding.outcome is Outcome.FAIL and finding.count == 1
    assert finding.rows == ((100, 129),) and finding.lines == ((102, 131),)
    assert finding.first_moment == finding.worst_moment == "1970-01-01 00:01:40"
    assert "5 s (default, common practice)" in finding.limit
    entered = found(judge_trend(log, PLAIN, {"grace_s": 60}), "compressor_with_fan")
    assert entered.outcome is Outcome.PASS and "(entered)" in entered.limit


def test_missing_columns_and_limits_are_said() -> None:
    log = log_of({"compressor_1": 1, "indoor_fan_a": 3.0, "indoor_fan": 1}, 300)
    findings = judge_trend(log, ECONOMIZER_GAS)
    assert "no column for: Indoor fan" not in found(findings, "compressor_with_fan").sentence
    assert found(findings, "fan_loaded").sentence.startswith("No limit entered: fan current")
    assert "Draft inducer" in found(findings, "gas_only_with_inducer").sentence
    assert found(findings, "electric_heat_with_fan").outcome is Outcome.NOT_APPLICABLE


def test_a_member_without_a_column_leaves_any_of_unknown() -> None:
    two = replace(PLAIN, compressors=2, cooling_stages=2)
    log = log_of({"compressor_1": 0, "call_cool_1": 0, "call_cool_2": 0, "condenser_fan_1": 1}, 900)
    finding = found(judge_trend(log, two), "condenser_fan_stops")
    assert finding.outcome is Outcome.MISSING  # the second compressor may have run
    sure = found(judge_trend(log, replace(two, compressors=1)), "condenser_fan_stops")
    assert sure.outcome is Outcome.FAIL


def test_the_first_stage_stands_for_any_stage_but_not_the_first_compressor() -> None:
    valve = [(0, 0), (100, 1), (400, 0)]
    log = log_of({"gas_valve_1": valve, "flame": [(0, 0), (103, 1), (401, 0)]}, 600)
    assert found(judge_trend(log, ECONOMIZER_GAS), "ignition_lights").outcome is Outcome.PASS


def test_blank_samples_are_not_judged() -> None:
    log = log_of({"compressor_1": 1, "indoor_fan": [(0, 1), (100, 0), (130, 1)]}, 300)
    blanked = log.columns["indoor_fan"].copy()
    blanked[95:135] = UNKNOWN
    hidden = replace(log, columns={**log.columns, "indoor_fan": blanked})
    assert found(judge_trend(hidden, PLAIN), "compressor_with_fan").outcome is Outcome.PASS


@pytest.mark.parametrize(
    ("limits", "part"),
    [({"grace": 5}, "Did you mean 'grace_s'?"), ({"grace_s": float("nan")}, "not a finite number")],
)
def test_limits_are_checked(limits: dict[str, float], part: str) -> None:
    with pytest.raises(ReadingError, match=part.replace("?", r"\?")):
        judge_trend(log_at({"indoor_fan": 1}, [0, 1]), PLAIN, limits)


def test_an_empty_stretch_of_rules_does_not_warn() -> None:
    log = log_at({"indoor_fan": 1, "compressor_1": 0}, np.array([0.0]))
    assert all(f.outcome is not Outcome.FAIL for f in judge_trend(log, ECONOMIZER_GAS))
