"""A log with just the signals that the rules need leaves no rule without a column."""

from __future__ import annotations

import pytest

from commission.sequence.configuration import Configuration
from commission.sequence.rules_needs import signals_needed
from commission.sequence.simulated_matrix import forty_configurations
from commission.sequence.trend_judge import judge_trend
from commission.sequence.trend_signals import expected_signals
from commission.validation.verdict import Outcome
from sequence.hand_logs import log_of


@pytest.mark.parametrize("unit", forty_configurations(), ids=lambda unit: unit.heat_type)
def test_what_is_needed_is_enough_and_is_fitted(unit: Configuration) -> None:
    needed = signals_needed(unit)
    names = {name for signals in needed.values() for name in signals}
    assert names <= set(expected_signals(unit))
    findings = judge_trend(log_of(dict.fromkeys(names, 0), 60), unit)
    assert [f.sentence for f in findings if "no column for" in f.sentence] == []
    applies = {f.rule for f in findings if f.outcome is not Outcome.NOT_APPLICABLE}
    assert applies == set(needed)


def test_each_signal_left_out_is_named() -> None:
    unit = forty_configurations()[12]
    needed = signals_needed(unit)["gas_only_with_inducer"]
    assert needed == ("gas_valve_1", "gas_valve_2", "inducer")
    findings = judge_trend(log_of({"gas_valve_1": 1, "gas_valve_2": 0}, 60), unit)
    finding = next(f for f in findings if f.rule == "gas_only_with_inducer")
    assert finding.sentence == "The log has no column for: Draft inducer."
