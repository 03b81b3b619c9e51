"""The pressure-enthalpy sketch: its states read back from the drawing, held to CoolProp 8.0."""

from __future__ import annotations

import pytest

from commission.definitions.model import Form
from commission.drawing.extents import outside, overlapping
from commission.drawing.figure import drawn
from commission.drawing.pressure_enthalpy import pressure_enthalpy
from commission.drawing.readings import Wanting
from commission.drawing.shapes import Drawing
from commission.engineering import refrigerant
from commission.engineering.refrigerant import REFRIGERANTS, bubble_psia, dew_psia
from drawing.drawn_units import readings_of
from drawing.reading_drawings import axis_at_left, axis_below, discs

_BTULB = 0.45  # the tables' 0.3, and a twentieth of a point
BAROMETER = 14.2


def _values(name: str, low_f: float = 42.0, high_f: float = 105.0):
    return {
        "barometer_read_inhg": BAROMETER / 0.4911541,
        "refrigerant": name,
        "circuits": 1,
        "metering": "thermostatic valve",
        "suction_psig": [dew_psia(name, low_f) - BAROMETER],
        "suction_line_f": [low_f + 12.0],
        "liquid_psig": [bubble_psia(name, high_f) - BAROMETER],
        "liquid_line_f": [high_f - 9.0],
        "discharge_line_f": [high_f + 62.0],
    }


def _sketch(form: Form, values, width: float = 516.0) -> Drawing | Wanting:
    readings = readings_of(form, "circuit_cycle", values, (1,))
    return drawn(readings.results, readings.figure, readings.index, width)


def _coolprop(name: str, at_f: float, psia: float | None, quality: int = 1) -> float:
    fluid = REFRIGERANTS[name].coolprop_name
    zero = refrigerant.enthalpy_btulb(fluid, -40.0, quality=0)
    found = refrigerant.enthalpy_btulb(fluid, at_f, psia=psia, quality=quality)
    assert zero is not None and found is not None
    return found - zero


@pytest.mark.parametrize("name", REFRIGERANTS)
def test_states_stand_where_coolprop_puts_them(shipped: Form, name: str) -> None:
    values = _values(name)
    drawing = _sketch(shipped, values)
    assert isinstance(drawing, Drawing), drawing
    heat, pressure, places = axis_below(drawing), axis_at_left(drawing, True), discs(drawing)
    suction = dew_psia(name, 42.0)
    head = bubble_psia(name, 105.0)
    expected = {
        1: (_coolprop(name, 54.0, suction), suction),
        2: (_coolprop(name, 167.0, head), head),
        3: (_coolprop(name, 96.0, None, quality=0), head),
        4: (_coolprop(name, 96.0, None, quality=0), suction),
    }
    assert set(places) == set(expected)
    for number, (btulb, psia) in expected.items():
        x, y = places[number]
        assert heat(x) == pytest.approx(btulb, abs=_BTULB), number
        assert pressure(y) == pytest.approx(psia, rel=0.004), number


def test_superheat_and_subcooling_are_the_forms_own(shipped: Form) -> None:
    readings = readings_of(shipped, "circuit_cycle", _values("R-454B"), (1,))
    drawing = pressure_enthalpy(readings, 516.0)
    assert isinstance(drawing, Drawing)
    words = [getattr(shape, "text", "") for shape in drawing.shapes]
    assert f"superheat {readings.shown('superheat')}" in words
    assert f"subcooling {readings.shown('subcooling')}" in words


def test_without_a_discharge_line_no_state_is_made_up(shipped: Form) -> None:
    values = _values("R-410A")
    del values["discharge_line_f"]
    drawing = _sketch(shipped, values)
    assert isinstance(drawing, Drawing)
    assert set(discs(drawing)) == {1, 2, 3}
    assert "Discharge gas" not in drawing.description
    assert "Dashed" in drawing.description


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        ({"suction_line_f": [30.0]}, "colder than its dew temperature"),
        ({"liquid_line_f": [110.0]}, "warmer than its bubble temperature"),
        ({"suction_psig": [None]}, "Suction pressure"),
        ({"suction_line_f": [250.0]}, "Superheat"),
    ],
)
def test_what_has_no_place_is_said_in_a_line(shipped: Form, changed, said: str) -> None:
    made = _sketch(shipped, _values("R-410A") | changed)
    assert isinstance(made, Wanting)
    assert said in made.sentence


@pytest.mark.parametrize("width", [300.0, 516.0])
@pytest.mark.parametrize("name", REFRIGERANTS)
def test_nothing_is_cut_off_and_no_words_overlap(shipped: Form, name: str, width: float) -> None:
    for low, high in ((42.0, 105.0), (20.0, 135.0)):
        drawing = _sketch(shipped, _values(name, low, high), width)
        if isinstance(drawing, Wanting):
            assert high == 135.0, drawing
            continue
        assert outside(drawing) == []
        assert overlapping(drawing) == []
