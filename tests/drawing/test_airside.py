"""The pressure profile, the traverse map and the mixing diagram."""

from __future__ import annotations

from itertools import product

import pytest

from commission.definitions.model import Form
from commission.drawing.extents import outside, overlapping
from commission.drawing.figure import drawn
from commission.drawing.readings import Wanting
from commission.drawing.shapes import ACCENT, Circle, Drawing, Path, Text
from drawing.drawn_units import readings_of
from drawing.reading_drawings import axis_at_left, axis_below

STATIC = {
    "circuits": 1,
    "return_static_inwc": -0.28,
    "after_filter_static_inwc": -0.43,
    "after_coil_static_inwc": -0.70,
    "fan_outlet_static_inwc": 0.51,
    "supply_static_inwc": 0.39,
    "design_external_static_inwc": 0.75,
}


def _made(form: Form, name: str, values, index=(), width: float = 516.0, system: str = "IP"):
    readings = readings_of(form, name, values, index, system)
    return drawn(readings.results, readings.figure, readings.index, width)


def _sound(made: Drawing | Wanting) -> Drawing:
    assert isinstance(made, Drawing), made
    assert outside(made) == []
    assert overlapping(made) == []
    return made


@pytest.mark.parametrize("width", [300.0, 516.0])
@pytest.mark.parametrize("system", ["IP", "SI"])
def test_profile_is_at_the_readings(shipped: Form, width: float, system: str) -> None:
    drawing = _sound(_made(shipped, "static_profile", STATIC, (), width, system))
    up = axis_at_left(drawing)
    dots = [s for s in drawing.shapes if isinstance(s, Circle) and s.fill == ACCENT]
    factor = 249.0889 if system == "SI" else 1.0  # Pa in an inch of water at 4 °C (NIST SP 811)
    expected = [-0.28, -0.43, -0.70, 0.51, 0.39]
    assert [up(dot.y) / factor for dot in dots] == pytest.approx(expected, abs=0.004)
    assert "external static" in drawing.description and "by design" in drawing.description


def test_profile_without_a_station_goes_on_and_names_it(shipped: Form) -> None:
    values = {k: v for k, v in STATIC.items() if k != "after_coil_static_inwc"}
    drawing = _sound(_made(shipped, "static_profile", values))
    assert "Not read yet: After the coil, before the fan." in drawing.description


def test_profile_of_one_station_is_one_line(shipped: Form) -> None:
    made = _made(shipped, "static_profile", {"circuits": 1, "return_static_inwc": -0.2})
    assert isinstance(made, Wanting)
    assert "After the filters" in made.sentence


def _traverse(shape: str, rule: str, lines: int, points: int, **more: object) -> dict:
    speeds = [[600.0 + 37 * i + 13 * j for j in range(points)] for i in range(lines)]
    return {
        "circuits": 1,
        "traverse_made": "yes",
        "traverse_duct": shape,
        "traverse_rule": rule,
        "traverse_width_in": 34.0,
        "traverse_height_in": 22.0,
        "traverse_diameter_in": 24.0,
        "traverse_lines": lines,
        "traverse_points": points,
        "traverse_reads": "velocity",
        "point_velocity_read_fpm": speeds,
    } | more


GRIDS = [
    *(("rectangular", "log-Tchebycheff", a, b) for a, b in product((5, 6, 7), repeat=2)),
    ("rectangular", "equal area", 10, 12),
    ("rectangular", "equal area", 1, 1),
    *(("round", "log-linear", a, b) for a, b in product((2, 3), (4, 6, 8, 10))),
    ("round", "equal area", 2, 10),
]


@pytest.mark.parametrize("width", [300.0, 516.0])
@pytest.mark.parametrize(("shape", "rule", "lines", "points"), GRIDS)
def test_every_velocity_is_printed(
    shipped: Form, shape: str, rule: str, lines: int, points: int, width: float
) -> None:
    values = _traverse(shape, rule, lines, points)
    drawing = _sound(_made(shipped, "traverse_velocities", values, (), width))
    words = [text.text for text in drawing.shapes if isinstance(text, Text)]
    for row in values["point_velocity_read_fpm"]:
        for speed in row:
            assert f"{speed:.0f}" in words


def test_round_points_stand_at_the_rule_s_places(shipped: Form) -> None:
    """ISO 3966 log-linear, 6 points: 0.032 0.135 0.321 0.679 0.865 0.968 of the diameter."""
    drawing = _sound(_made(shipped, "traverse_velocities", _traverse("round", "log-linear", 2, 6)))
    circles = [shape for shape in drawing.shapes if isinstance(shape, Circle)]
    duct, dots = circles[0], circles[1:]
    assert len(dots) == 12
    for line in (dots[:6], dots[6:]):
        first = line[0]
        away = ((first.x - duct.x) ** 2 + (first.y - duct.y) ** 2) ** 0.5
        ends = [
            (duct.x + (first.x - duct.x) * duct.radius / away),
            (duct.y + (first.y - duct.y) * duct.radius / away),
        ]
        places = [
            ((dot.x - ends[0]) ** 2 + (dot.y - ends[1]) ** 2) ** 0.5 / (2 * duct.radius)
            for dot in line
        ]
        assert places == pytest.approx([0.032, 0.135, 0.321, 0.679, 0.865, 0.968], abs=0.001)


def test_faster_is_darker(shipped: Form) -> None:
    values = _traverse("rectangular", "log-Tchebycheff", 5, 5)
    drawing = _sound(_made(shipped, "traverse_velocities", values))
    cells = [
        shape.fill.strength
        for shape in drawing.shapes
        if isinstance(shape, Path) and shape.fill is not None and shape.width == 0.4
    ]
    speeds = [speed for row in values["point_velocity_read_fpm"] for speed in row]
    assert len(cells) == len(speeds)
    order = sorted(range(len(speeds)), key=speeds.__getitem__)
    assert [cells[n] for n in order] == sorted(cells)


def test_unread_points_are_dashes_and_counted(shipped: Form) -> None:
    values = _traverse("rectangular", "log-Tchebycheff", 5, 5)
    values["point_velocity_read_fpm"][2][3] = None
    drawing = _sound(_made(shipped, "traverse_velocities", values))
    assert "1 points not read." in drawing.description


def test_no_velocity_is_one_line(shipped: Form) -> None:
    values = _traverse("rectangular", "log-Tchebycheff", 5, 5, point_velocity_read_fpm=[])
    made = _made(shipped, "traverse_velocities", values)
    assert isinstance(made, Wanting)


@pytest.mark.parametrize("width", [300.0, 516.0])
@pytest.mark.parametrize("mixed", [60.0, 61.0, 74.0, 50.0])
def test_mixing_marks_stand_at_their_temperatures(
    shipped: Form, width: float, mixed: float
) -> None:
    values = {
        "circuits": 1,
        "outdoor_damper": "modulating",
        "outdoor_air_method": "temperatures",
        "fan_speeds": 1,
        "outdoor_air_f": [50.0],
        "return_air_f": [75.0],
        "mixed_air_f": [mixed],
        "outdoor_damper_percent": [22.0],
    }
    drawing = _sound(_made(shipped, "outdoor_air_mixing", values, (1,), width))
    across = axis_below(drawing)
    disc = next(s for s in drawing.shapes if isinstance(s, Circle) and s.fill == ACCENT)
    assert across(disc.x) == pytest.approx(mixed, abs=0.05)
    assert "damper at 22 %" in drawing.description
