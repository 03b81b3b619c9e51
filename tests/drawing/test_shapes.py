"""Text widths, ticks and scales; the faces measured by a PDF library of its own."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from reportlab.pdfbase.pdfmetrics import stringWidth

from commission.drawing.axes import (
    Axis,
    LegendEntry,
    Plot,
    Scale,
    legend,
    nice_ends,
    nice_ticks,
    number_words,
)
from commission.drawing.extents import outside, overlapping
from commission.drawing.lettering import label, text_box, width_of, wrapped
from commission.drawing.marks import LOOKS, Mark, mark
from commission.drawing.shapes import (
    Anchor,
    Box,
    Circle,
    Clip,
    Drawing,
    Path,
    Text,
    line,
    moved,
)
from commission.drawing.timeline import Lane, Moment, Span, ground_of, lane_shapes, names_room
from commission.package.look import BOLD, REGULAR, register_faces

WORDS = ["Dry bulb, °F", "−0.431 in. w.c.", "Σ Δ ≤ ±", "Enthalpy, Btu/lb", "ñ á ü", "1,046"]


@pytest.mark.parametrize("text", WORDS)
@pytest.mark.parametrize("bold", [False, True])
def test_widths_are_those_of_the_pdf_library(text: str, bold: bool) -> None:
    register_faces()
    expected = stringWidth(text, BOLD if bold else REGULAR, 7.5)
    assert width_of(text, 7.5, bold) == pytest.approx(expected, abs=0.02)


@given(st.floats(-1e4, 1e4), st.floats(1e-3, 1e4), st.integers(3, 12))
def test_ticks_are_round_inside_and_no_more_than_asked(low: float, span: float, most: int) -> None:
    ticks = nice_ticks(low, low + span, most)
    assert len(ticks) <= most
    slack = 1e-6 * span
    assert all(low - slack <= tick.value <= low + span + slack for tick in ticks)
    assert len({tick.words for tick in ticks}) == len(ticks)
    for tick in ticks:
        read = float(tick.words.replace("−", "-").replace(",", ""))
        assert read == pytest.approx(tick.value, abs=1e-9 + 1e-9 * abs(tick.value))


@given(st.floats(-1e3, 1e3), st.floats(0, 1e3))
def test_ends_hold_what_they_are_made_for(low: float, span: float) -> None:
    start, end = nice_ends(low, low + span)
    assert start <= low + 1e-6 and end >= low + span - 1e-6 and start < end


def test_an_axis_without_length_is_refused() -> None:
    with pytest.raises(ValueError, match="no length"):
        nice_ticks(3.0, 3.0)


def test_numbers_have_a_true_minus_and_no_minus_zero() -> None:
    assert number_words(-0.001, 2) == "0.00"
    assert number_words(-1234.5, 1) == "−1,234.5"


def test_scale_logarithmic() -> None:
    scale = Scale(10.0, 1000.0, 200.0, 0.0, logarithmic=True)
    assert scale.at(100.0) == pytest.approx(100.0)
    assert not scale.holds(5.0)


@given(st.text(st.sampled_from("abc dé °F 123"), max_size=60), st.floats(20, 200))
def test_wrapped_text_keeps_every_letter_and_its_room(text: str, room: float) -> None:
    lines = wrapped(text, room)
    assert "".join(lines).replace(" ", "") == text.replace(" ", "")
    assert all(width_of(one) <= room or len(one) == 1 for one in lines)


def test_a_text_box_of_each_anchor() -> None:
    wide = width_of("Fan")
    for anchor, left in (
        (Anchor.START, 50.0),
        (Anchor.MIDDLE, 50 - wide / 2),
        (Anchor.END, 50 - wide),
    ):
        assert text_box(label(50, 20, "Fan", anchor)).left == pytest.approx(left)
    turned = text_box(label(50, 20, "Fan", Anchor.START, turned=True))
    assert turned.bottom == pytest.approx(20) and turned.height == pytest.approx(wide)


def test_what_is_cut_off_and_what_overlaps_is_found() -> None:
    inside = label(50, 20, "inside")
    drawing = Drawing(100, 40, (inside, label(90, 20, "cut off"), label(52, 22, "over")), "t", "d")
    assert [shape.text for shape in outside(drawing)] == ["cut off"]
    assert [(a.text, b.text) for a, b in overlapping(drawing)] == [("inside", "over")]
    clipped = Clip(Box(0, 0, 20, 20), (Path(((0, 0), (900, 900))), Text(15, 10, "clipped")))
    assert [shape.text for shape in outside(Drawing(99, 99, (clipped,), "t", "d"))] == ["clipped"]


def test_looks_differ_without_colour() -> None:
    assert len({(look.dash, look.mark) for look in LOOKS}) == len(LOOKS)


@pytest.mark.parametrize("kind", Mark)
def test_marks_stand_about_their_point(kind: Mark) -> None:
    shape = mark(kind, 30.0, 40.0)
    if isinstance(shape, Circle):
        assert (shape.x, shape.y) == (30.0, 40.0)
    else:
        assert all(math.hypot(x - 30, y - 40) < 4 for x, y in shape.points)


def test_moving_moves_everything_by_the_same() -> None:
    shapes = (
        line(0, 0, 1, 1),
        Circle(5, 5, 2),
        Text(1, 2, "a"),
        Clip(Box(0, 0, 9, 9), (Text(0, 1, "b"),)),
    )
    path, circle, text, clip = (moved(shape, 10.0) for shape in shapes)
    assert path.points == ((0, 10), (1, 11)) and circle.y == 15 and text.y == 12
    assert clip.box.top == 10 and clip.shapes[0].y == 11


def test_a_curve_is_clipped_to_its_plot() -> None:
    box = Box(30, 10, 100, 80)
    plot = Plot(box, Axis(Scale(0, 10, 30, 130), ()), Axis(Scale(0, 10, 90, 10), ()))
    assert plot.curve([(0, 0), (20, 20)]).box == box
    assert plot.point(5, 5) == (80.0, 50.0)
    assert plot.holds(10, 0) and not plot.holds(10.1, 0)


@pytest.mark.parametrize("width", [150.0, 300.0, 516.0])
def test_legend_stays_in_its_width(width: float) -> None:
    entries = [LegendEntry(look, f"Series {n}") for n, look in enumerate(LOOKS)]
    shapes, high = legend(entries, 10.0, 10.0, width)
    drawing = Drawing(width + 20, high + 20, shapes, "t", "d")
    assert outside(drawing) == [] and overlapping(drawing) == []


def test_lanes_stay_on_their_scale() -> None:
    lanes = (
        Lane("Call for heat", (Span(-5, 60, "on"),), ()),
        Lane("Flame", (Span(20, 700),), (Moment(95, "late"), Moment(5, "early"))),
    )
    scale = Scale(0, 100, 10 + names_room(lanes), 380)
    shapes = (ground_of(lanes, scale, 10), *lane_shapes(lanes, scale, 10))
    drawing = Drawing(400, 60, shapes, "t", "d")
    assert outside(drawing) == [] and overlapping(drawing) == []
