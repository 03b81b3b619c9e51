"""Findings as rows for the terminal, worst first."""

from __future__ import annotations

import pytest

from commission.definitions.model import Severity
from commission.sequence.findings import TREND_HEADER, said_seconds, trend_rows
from commission.sequence.simulated_faults import ECONOMIZER_GAS
from commission.sequence.trend_judge import judge_trend, limit_rows
from commission.terminal import table
from commission.validation.verdict import Outcome
from sequence.hand_logs import log_of

LOG = log_of(
    {"compressor_1": 1, "compressor_2": 0, "gas_valve_1": [(0, 0), (300, 1)], "gas_valve_2": 0,
     "indoor_fan": [(0, 1), (100, 0), (130, 1), (200, 0), (220, 1)], "call_fan": 1},
    600,
)  # fmt: skip


def test_rows_are_worst_first_and_fit_a_table() -> None:
    findings = judge_trend(LOG, ECONOMIZER_GAS)
    header, rows = trend_rows(findings)
    assert header == TREND_HEADER and len(rows) == len(findings)
    verdicts = [row[0] for row in rows]
    assert verdicts[0] == "stop" and "fail" in verdicts
    order = ["stop", "fail", "note", "inconclusive", "missing", "pass", "not applicable"]
    assert [order.index(v) for v in verdicts] == sorted(order.index(v) for v in verdicts)
    fan = next(row for row in rows if row[1] == "Compressor only with the indoor fan")
    assert fan[3] == "2" and fan[6] == "102-131, 202-221"
    assert "Compressor only with the indoor fan" in table(header, rows[:3], wide=2)


def test_stops_and_deficiencies() -> None:
    findings = judge_trend(LOG, ECONOMIZER_GAS)
    stops = [f for f in findings if f.stops]
    assert "no_heating_with_cooling" in {f.rule for f in stops}
    assert all(f.outcome is Outcome.FAIL for f in findings if f.is_deficiency)
    assert not any(f.is_deficiency for f in findings if f.severity is Severity.NOTE)


@pytest.mark.parametrize(
    ("seconds", "said"),
    [(0.5, "0.5 s"), (42, "42 s"), (200, "3 min 20 s"), (240, "4 min"), (7_500, "2 h 5 min"),
     (-5, "−5 s")],
)  # fmt: skip
def test_durations_in_words(seconds: float, said: str) -> None:
    assert said_seconds(seconds) == said


def test_limits_can_be_listed() -> None:
    names = {row.name for row in limit_rows()}
    assert {"prepurge_s", "minimum_outdoor_air_cfm"} <= names
