"""The psychrometric chart: states read back from the drawing, held to PsychroLib.

PsychroLib 2.5 (ASHRAE Handbook Fundamentals 2017, chapter 1), an open reference library.
"""

from __future__ import annotations

import psychrolib
import pytest

from commission.definitions.model import Form
from commission.drawing.extents import outside, overlapping
from commission.drawing.psychrometric import psychrometric
from commission.drawing.readings import Wanting
from commission.drawing.shapes import Clip, Drawing, Path
from drawing.drawn_units import readings_of
from drawing.reading_drawings import axis_at_right, axis_below, discs

# A place is read to a twentieth of a point, which is below the width of the finest line.
_GRAINS = 0.12  # gr/lb: a twentieth of a point of the chart's height, and a margin
_DEGREES = 0.02
BAROMETERS = (14.696, 12.1, 10.1)
STATES = [(80.0, 67.0), (95.0, 75.0), (55.0, 54.0), (62.0, 45.0), (105.0, 70.0), (44.0, 38.0)]


def _values(barometer: float, entering: tuple[float, float], leaving: tuple[float, float]):
    return {
        "barometer_read_inhg": barometer / 0.491154,
        "humidity_method": "wet bulb",
        "entering_dry_bulb_f": entering[0],
        "entering_wet_bulb_f": entering[1],
        "leaving_dry_bulb_f": leaving[0],
        "leaving_wet_bulb_f": leaving[1],
        "visit_outdoor_f": 91.0,
        "visit_outdoor_rh_percent": 40.0,
        "traverse_made": "no",
        "circuits": 1,
    }


def _chart(form: Form, values, width: float = 516.0, system: str = "IP") -> Drawing:
    made = psychrometric(readings_of(form, "cooling_air_states", values, (), system), width)
    assert isinstance(made, Drawing), made
    return made


@pytest.mark.parametrize("barometer", BAROMETERS)
@pytest.mark.parametrize("entering", STATES)
def test_states_stand_where_psychrolib_puts_them(
    shipped: Form, barometer: float, entering: tuple[float, float]
) -> None:
    psychrolib.SetUnitSystem(psychrolib.IP)
    drawing = _chart(shipped, _values(barometer, entering, (54.0, 52.5)))
    psia = readings_of(
        shipped, "cooling_air_states", _values(barometer, entering, (54.0, 52.5))
    ).given("barometer")
    across, up, places = axis_below(drawing), axis_at_right(drawing), discs(drawing)
    expected = [
        (entering[0], psychrolib.GetHumRatioFromTWetBulb(*entering, psia)),
        (54.0, psychrolib.GetHumRatioFromTWetBulb(54.0, 52.5, psia)),
        (91.0, psychrolib.GetHumRatioFromRelHum(91.0, 0.40, psia)),
    ]
    assert len(places) == len(expected)
    for number, (dry, ratio) in enumerate(expected, start=1):
        x, y = places[number]
        assert across(x) == pytest.approx(dry, abs=_DEGREES)
        # The closed form of the wet bulb follows the Handbook's; both within 0.3 gr/lb.
        assert up(y) == pytest.approx(ratio * 7000, abs=0.3 + _GRAINS)


@pytest.mark.parametrize("barometer", BAROMETERS)
def test_saturation_curve_is_psychrolibs(shipped: Form, barometer: float) -> None:
    psychrolib.SetUnitSystem(psychrolib.IP)
    values = _values(barometer, (80.0, 67.0), (54.0, 52.5))
    drawing = _chart(shipped, values)
    psia = readings_of(shipped, "cooling_air_states", values).given("barometer")
    across, up = axis_below(drawing), axis_at_right(drawing)
    group = next(shape for shape in drawing.shapes if isinstance(shape, Clip))
    curve = max((shape for shape in group.shapes if isinstance(shape, Path)), key=lambda p: p.width)
    assert len(curve.points) > 50
    for x, y in curve.points[::4]:
        ratio = psychrolib.GetSatHumRatio(across(x), psia) * 7000
        assert up(y) == pytest.approx(ratio, rel=0.002, abs=_GRAINS)


def test_si_chart_reads_in_si(shipped: Form) -> None:
    drawing = _chart(shipped, _values(14.696, (80.0, 67.0), (54.0, 52.5)), system="SI")
    x, y = discs(drawing)[1]
    assert axis_below(drawing)(x) == pytest.approx((80.0 - 32) / 1.8, abs=_DEGREES)
    psychrolib.SetUnitSystem(psychrolib.SI)
    ratio = psychrolib.GetHumRatioFromTWetBulb(26.6667, 19.4444, 101325)
    assert axis_at_right(drawing)(y) == pytest.approx(ratio * 1000, abs=0.06)
    assert "°C" in drawing.description and "g/kg" in drawing.description


def test_a_state_off_the_chart_is_said_and_not_moved_onto_it(shipped: Form) -> None:
    values = _values(14.696, (80.0, 67.0), (54.0, 52.5)) | {"visit_outdoor_f": 139.0}
    drawing = _chart(shipped, values)
    assert set(discs(drawing)) == {1, 2}
    assert "Off the chart: Outdoors during the visit: 139.0 °F" in drawing.description


def test_a_state_not_read_is_named_and_the_others_drawn(shipped: Form) -> None:
    values = _values(14.696, (80.0, 67.0), (54.0, 52.5))
    del values["leaving_wet_bulb_f"]
    drawing = _chart(shipped, values)
    assert set(discs(drawing)) == {1, 2}
    assert "Not read yet: Leaving the unit." in drawing.description


def test_nothing_read_is_one_line(shipped: Form) -> None:
    values = {"barometer_read_inhg": 29.9, "circuits": 1, "humidity_method": "wet bulb"}
    made = psychrometric(readings_of(shipped, "cooling_air_states", values), 516.0)
    assert isinstance(made, Wanting)
    assert "Entering dry bulb" in made.sentence and "Leaving wet bulb" in made.sentence


def test_no_barometer_is_one_line(shipped: Form) -> None:
    made = psychrometric(readings_of(shipped, "cooling_air_states", {"circuits": 1}), 516.0)
    assert isinstance(made, Wanting)
    assert "Wanting:" in made.sentence


@pytest.mark.parametrize("width", [300.0, 516.0])
@pytest.mark.parametrize("entering", STATES)
def test_nothing_is_cut_off_and_no_words_overlap(
    shipped: Form, width: float, entering: tuple[float, float]
) -> None:
    drawing = _chart(shipped, _values(12.1, entering, (entering[0] - 1, entering[1] - 0.5)), width)
    assert outside(drawing) == []
    assert overlapping(drawing) == []
