"""The drift figure: every value where its number says, nothing over the edge."""

from __future__ import annotations

import pytest

from commission.drawing.drift import MOST_ROWS, DriftRow, drift_figure
from commission.drawing.extents import outside, overlapping, texts
from commission.drawing.shapes import FAIL, Circle, Path

ROWS = [
    DriftRow("Suction superheat, Circuit 1", "+3.2 ±1.1 Δ°F", 2.91),
    DriftRow("Supply voltage, unit off, L1-L2", "−0.4 ±2.1 V", -0.19),
    DriftRow("Gas supply pressure lost at full fire", "−12 ±0.4 in. w.c.", -30.0),
    DriftRow("A long name of a value that does not stand in one line of the figure", "0 A", 0.0),
]


@pytest.mark.parametrize("width", [300.0, 516.0, 900.0])
@pytest.mark.parametrize("rows", [ROWS, ROWS[:1], ROWS[1:2], ROWS * (MOST_ROWS // 4)])
def test_nothing_is_cut_off_or_lies_over_another(width: float, rows: list[DriftRow]) -> None:
    drawing = drift_figure(rows, width)
    assert outside(drawing) == []
    assert overlapping(drawing) == []


def test_marks_stand_where_the_numbers_say() -> None:
    drawing = drift_figure([DriftRow("a", "1 V", 2.0), DriftRow("b", "1 V", -0.5)], 516)
    (beyond,) = [s for s in drawing.shapes if isinstance(s, Path) and s.fill == FAIL]
    (within,) = [shape for shape in drawing.shapes if isinstance(shape, Circle)]
    ticks = {text.text: text.x for text in texts(drawing)}
    per_one = (ticks["2"] - ticks["−2"]) / 4
    zero = (ticks["2"] + ticks["−2"]) / 2
    assert within.x == pytest.approx(zero - 0.5 * per_one, abs=0.5)
    assert (min(beyond.points)[0] + max(beyond.points)[0]) / 2 == pytest.approx(
        zero + 2 * per_one, abs=0.5
    )


def test_a_value_off_the_axis_is_an_arrow_and_said_in_words() -> None:
    drawing = drift_figure(ROWS, 516)
    assert any(text.text == "−12 ±0.4 in. w.c." for text in texts(drawing))
    assert "Gas supply pressure lost at full fire −12 ±0.4 in. w.c., −30.0 times" in (
        drawing.description
    )
    arrows = [s for s in drawing.shapes if isinstance(s, Path) and s.closed and len(s.points) == 3]
    assert len(arrows) == 1


def test_the_same_rows_give_the_same_shapes() -> None:
    assert drift_figure(ROWS, 516) == drift_figure(ROWS, 516)
