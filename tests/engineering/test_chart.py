"""Typed tables: read between their lines, never beyond; exact at nodes, within their corners."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from commission.engineering.chart import MOST_ROWS, Chart, from_text
from commission.errors import ReadingError

FAN = Chart(
    (1600.0, 2000.0, 2400.0),
    (0.2, 0.4, 0.6),
    ((610.0, 700.0, None), (680.0, 755.0, 835.0), (760.0, 825.0, 895.0)),
)


def test_the_worked_example_of_bilinear_interpolation() -> None:
    """Grey level between pixels (20.2, 14.5): 91, 210, 162, 95 round it give 146.1.

    Source: the worked example of the article "Bilinear interpolation" of the public
    encyclopaedia Wikipedia, section "Application in image processing" (from memory).
    """
    image = Chart((20.0, 21.0), (14.0, 15.0), ((91.0, 210.0), (162.0, 95.0)))
    assert image.read(20.2, 14.5) == pytest.approx(146.1, abs=0.05)


def test_steam_table_read_by_hand() -> None:
    """Saturated water, ASHRAE Handbook Fundamentals chapter 1 (from memory): 32 °F 0.08865 psia,
    40 °F 0.12173, 50 °F 0.17813; half way between the last two is their mean."""
    water = Chart((32.0, 40.0, 50.0), (), ((0.08865,), (0.12173,), (0.17813,)))
    assert water.read(45.0) == pytest.approx((0.12173 + 0.17813) / 2)
    assert water.row_at(0.12173) == 40.0
    assert water.row_at(0.14993) == pytest.approx(45.0)


lines = st.lists(
    st.integers(-50, 50).map(lambda n: n / 2), min_size=2, max_size=7, unique=True
).map(sorted)
shares = st.floats(0, 1)
numbers = st.floats(-1e3, 1e3)


@st.composite
def charts(draw: st.DrawFn) -> Chart:
    rows, columns = draw(lines), draw(lines)
    body = tuple(tuple(draw(numbers) for _ in columns) for _ in rows)
    return Chart(tuple(rows), tuple(columns), body)


def _at(ends: tuple[float, ...], share: float) -> float:
    return min(max(ends[0] + share * (ends[-1] - ends[0]), ends[0]), ends[-1])


@settings(max_examples=150, deadline=None)
@given(charts(), shares, shares)
def test_agrees_with_numpy_one_direction_after_the_other(
    chart: Chart, down: float, across: float
) -> None:
    """numpy.interp along each row, then down: bilinear interpolation is separable."""
    row, column = _at(chart.rows, down), _at(chart.columns, across)
    along = [np.interp(column, chart.columns, line) for line in chart.body]
    expected = float(np.interp(row, chart.rows, along))
    assert chart.read(row, column) == pytest.approx(expected, rel=1e-9, abs=1e-7)


@settings(max_examples=100, deadline=None)
@given(charts(), shares, shares)
def test_lies_within_its_corners_and_is_exact_on_nodes(
    chart: Chart, down: float, across: float
) -> None:
    row, column = _at(chart.rows, down), _at(chart.columns, across)
    values = [value for line in chart.bracket(row, column).values for value in line]
    assert min(values) - 1e-9 <= chart.read(row, column) <= max(values) + 1e-9
    for (i, at_row), (j, at_column) in itertools.product(
        enumerate(chart.rows), enumerate(chart.columns)
    ):
        assert chart.read(at_row, at_column) == chart.body[i][j]


@settings(max_examples=100, deadline=None)
@given(lines, lines, st.lists(st.floats(0.5, 20), min_size=49, max_size=49), shares, shares)
def test_a_rising_table_is_read_both_ways(
    rows: list[float], columns: list[float], steps: list[float], down: float, across: float
) -> None:
    """What rises in the table rises between its lines, and the inverse gives the row back."""
    climb = np.cumsum(np.array(steps).reshape(7, 7), axis=0)[: len(rows), : len(columns)]
    chart = Chart(tuple(rows), tuple(columns), tuple(map(tuple, climb.tolist())))
    column = _at(chart.columns, across)
    row = _at(chart.rows, down)
    assert chart.row_at(chart.read(row, column), column) == pytest.approx(row, abs=1e-6)
    places = np.linspace(rows[0], rows[-1], 9).clip(rows[0], rows[-1])
    read = [chart.read(float(place), column) for place in places]
    assert all(first < second for first, second in itertools.pairwise(read))


@settings(max_examples=100, deadline=None)
@given(charts(), st.data())
def test_text_keeps_every_digit_and_every_empty_corner(chart: Chart, data: st.DataObject) -> None:
    holes = data.draw(st.sets(st.integers(0, len(chart.rows) * len(chart.columns) - 2)))
    body = tuple(
        tuple(None if i * len(line) + j in holes else v for j, v in enumerate(line))
        for i, line in enumerate(chart.body)
    )
    holed = Chart(chart.rows, chart.columns, body)
    assert from_text(holed.to_text()) == holed
    assert from_text(holed.to_text().strip()) == holed


@pytest.mark.parametrize(
    ("row", "column", "words"),
    [
        (1500.0, 0.4, "outside the rows of the table: 1600 to 2400"),
        (2401.0, 0.4, "outside the rows"),
        (2000.0, 0.7, "outside the columns of the table: 0.2 to 0.6"),
        (1800.0, 0.5, "corner that the table leaves empty"),
        (1600.0, 0.6, "corner that the table leaves empty"),
        (2000.0, None, "has columns"),
    ],
)
def test_nothing_is_read_outside(row: float, column: float | None, words: str) -> None:
    with pytest.raises(ReadingError, match=words):
        FAN.read(row, column)


def test_beside_an_empty_corner_a_line_itself_can_be_read() -> None:
    assert FAN.read(1600.0, 0.4) == 700
    assert FAN.read(1800.0, 0.4) == pytest.approx(727.5)
    assert FAN.row_at(865.0, 0.6) == pytest.approx(2200)


def test_the_inverse_needs_one_direction() -> None:
    bent = Chart((1.0, 2.0, 3.0), (), ((5.0,), (7.0,), (6.0,)))
    with pytest.raises(ReadingError, match="do not all rise, or all fall"):
        bent.row_at(6.5)
    with pytest.raises(ReadingError, match="610 to 760"):
        FAN.row_at(800.0, 0.2)
    holed = Chart((1.0, 2.0, 3.0), (), ((5.0,), (None,), (7.0,)))
    with pytest.raises(ReadingError, match="row 2 empty between filled ones"):
        holed.row_at(6.0)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "no value"),
        ("/\t1\t2\n5\n6", "no value"),
        ("/\t1\t1\n5\t1\t2", "column 1 stands after 1"),
        ("2\t1\n1\t2", "row 1 stands after 2"),
        ("1\t2\t3", "2 values for 1 column"),
        ("1\tx", "'x' on line 1 of the table is not a number"),
        ("1\tinf", "not a number"),
        ("\n".join(f"{n}\t1" for n in range(MOST_ROWS + 1)), "at most"),
    ],
)
def test_a_text_that_is_no_table_is_refused(text: str, words: str) -> None:
    with pytest.raises(ReadingError, match=words):
        from_text(text)
