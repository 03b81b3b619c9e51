"""What a plot keeps of a log: every extreme, every run, every gap, in the pixels that it has."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from commission.drawing.extents import outside, overlapping
from commission.drawing.shapes import Clip, Path, Text, flat
from commission.sequence.findings import Finding
from commission.sequence.simulated_faults import FAULTS, UNIT_LIMITS
from commission.sequence.simulated_unit import Run, simulate
from commission.sequence.trend_judge import judge_trend
from commission.sequence.trend_log import OFF, ON, TrendLog
from commission.sequence.trend_plot import finding_drawing, overview_drawing
from commission.sequence.trend_view import about, breaks_shown, curve_shown, runs_shown, whole
from commission.validation.verdict import Outcome


def log_of(
    values: list[float] | np.ndarray, states: list[int] | np.ndarray | None = None,
    joined: list[bool] | None = None,
) -> TrendLog:  # fmt: skip
    rows = len(values)
    chain = np.array(joined if joined is not None else [False] + [True] * (rows - 1))
    flame = np.zeros(rows, np.int8) if states is None else np.array(states, np.int8)
    columns = {"supply_f": np.array(values, np.float32), "flame": flame}
    moments = 1.8e9 + np.arange(rows, dtype=np.float64)
    return TrendLog(moments, chain, np.arange(2, rows + 2, dtype=np.int32), columns)


@settings(max_examples=40, deadline=None)
@given(st.integers(3, 400), st.integers(0, 2**32 - 1))
def test_extremes_of_each_pixel_column_are_kept(columns: int, seed: int) -> None:
    """Against plain Python: each column's least and greatest value stand among the points."""
    generator = np.random.default_rng(seed)
    values = generator.normal(70, 10, 5_000).astype(np.float32)
    values[generator.integers(0, 5_000, 300)] = np.nan
    view = whole(log_of(values))
    points = [point for piece in curve_shown(view, "supply_f", columns) for point in piece]
    shown = {round(value, 3) for _, value in points}
    assert len(points) <= 2 * columns + 2
    edges = (np.arange(5_000) / 4_999 * columns).astype(int).clip(0, columns - 1)
    for column in range(columns):
        own = values[edges == column]
        own = own[np.isfinite(own)]
        if own.size:
            assert {round(float(own.min()), 3), round(float(own.max()), 3)} <= shown


def test_one_spike_among_a_million_samples_is_drawn() -> None:
    values = np.full(1_000_000, 70.0, np.float32)
    values[654_321] = 180.0
    points = curve_shown(whole(log_of(values)), "supply_f", 500)
    assert max(value for piece in points for _, value in piece) == 180.0


def test_one_sample_on_among_a_million_is_a_run() -> None:
    states = np.zeros(1_000_000, np.int8)
    states[123_456] = ON
    runs = runs_shown(whole(log_of(np.zeros(1_000_000), states)), "flame", 500)
    assert runs == [(1.8e9 + 123_456, 1.8e9 + 123_457)]


def test_nothing_is_drawn_across_a_gap_or_an_unknown_value() -> None:
    log = log_of([1, 2, np.nan, 4, 5, 6], joined=[False, True, True, True, False, True])
    pieces = curve_shown(whole(log), "supply_f", 100)
    assert [[value for _, value in piece] for piece in pieces] == [[1, 2], [4], [5, 6]]
    assert breaks_shown(whole(log)) == [(1.8e9 + 3, 1.8e9 + 4)]


def test_a_run_does_not_reach_over_a_gap() -> None:
    log = log_of([0] * 6, [OFF, ON, ON, ON, OFF, OFF], [False, True, True, False, True, True])
    runs = runs_shown(whole(log), "flame", 6_000)
    assert runs == [(1.8e9 + 1, 1.8e9 + 2), (1.8e9 + 3, 1.8e9 + 4)]


def test_a_clock_that_steps_back_does_not_break_the_view() -> None:
    log = log_of(np.arange(50.0))
    log.moments[25:] -= 3_600
    finding = Finding("r", "t", 0, None, Outcome.FAIL, "s", "", "", rows=((20, 30),), worst_row=20)  # type: ignore[arg-type]
    view = about(log, finding)
    assert 0 <= view.first <= 20 and 30 <= view.last < 50
    assert finding_drawing(log, finding, FAULTS[0].configuration, 400.0).shapes


FEW = [fault for fault in FAULTS if fault.name in (
    "broken_belt", "weak_flame", "short_cycling", "damper_stuck_100", "outdoor_sensor_biased",
    "heaters_together", "defrost_long")]  # fmt: skip


@pytest.fixture(scope="module")
def judged() -> list[tuple[TrendLog, list[Finding], object]]:
    runs = [Run(fault.configuration, fault.name, 1) for fault in FEW]
    return [
        (log, judge_trend(log, run.configuration, UNIT_LIMITS), run.configuration)
        for run, log in zip(runs, simulate(runs, step_s=5.0), strict=True)
    ]


@pytest.mark.parametrize("width", [300.0, 516.0])
@pytest.mark.parametrize("system", ["IP", "SI"])
def test_nothing_is_cut_off_or_lies_over_other_text(judged, width: float, system: str) -> None:
    drawn = 0
    for log, findings, configuration in judged:
        drawings = [overview_drawing(log, findings, width, system)]
        drawings += [
            finding_drawing(log, finding, configuration, width, system)
            for finding in findings
            if finding.outcome in (Outcome.FAIL, Outcome.INCONCLUSIVE) and finding.rows
        ]
        for drawing in drawings:
            assert outside(drawing) == [], drawing.title
            assert overlapping(drawing) == [], drawing.title
            drawn += 1
    assert drawn > 20


def test_the_same_log_gives_the_same_shapes(judged) -> None:
    log, findings, configuration = judged[[fault.name for fault in FEW].index("broken_belt")]
    finding = next(f for f in findings if f.rule == "fan_loaded")
    first, again = (finding_drawing(log, finding, configuration, 400.0) for _ in range(2))
    assert first == again


def test_a_plot_shows_calls_the_rule_s_signals_and_what_failed(judged) -> None:
    log, findings, configuration = judged[[fault.name for fault in FEW].index("broken_belt")]
    finding = next(f for f in findings if f.rule == "fan_loaded")
    drawing = finding_drawing(log, finding, configuration, 516.0)
    words = {shape.text for shape in flat(drawing.shapes) if isinstance(shape, Text)}
    assert {"Fan call (G)", "Indoor fan", "Indoor fan current", "Not as wanted", "A"} <= words
    assert finding.sentence in drawing.description
    bands = [s for shape in drawing.shapes if isinstance(shape, Clip) for s in shape.shapes]
    assert any(isinstance(band, Path) and band.fill is not None for band in bands)


def test_si_shows_degrees_celsius(judged) -> None:
    log, findings, _ = judged[0]
    drawing = overview_drawing(log, findings, 516.0, "SI")
    words = {shape.text for shape in flat(drawing.shapes) if isinstance(shape, Text)}
    assert "°C" in words and "°F" not in words
