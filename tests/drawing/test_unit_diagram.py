"""The unit diagram: parts and calls follow from the configuration; its drawing is sound."""

from __future__ import annotations

import os
from dataclasses import replace
from itertools import pairwise, product

import pytest

from commission.definitions.model import Form
from commission.drawing.extents import outside, overlapping
from commission.drawing.figure import calls, drawn
from commission.drawing.readings import Wanting
from commission.drawing.shapes import ACCENT, COOL, WARM, Circle, Drawing, Path, flat
from commission.drawing.unit_calls import IDLE, Call, CallKind, Part, fitted, lit
from drawing.drawn_units import readings_of

HEATS = (
    "none",
    "gas",
    "electric",
    "heat pump",
    "heat pump with auxiliary electric",
    "heat pump with auxiliary gas",
)
DAMPERS = ("none", "manual, fixed", "modulating")
RELIEFS = ("none", "powered")


def _values(circuits: int, heat: str, damper: str, relief: str, **more: object) -> dict:
    return {
        "circuits": circuits,
        "compressors": circuits + 1,
        "cooling_stages": 2,
        "condenser_fans": 2 * circuits,
        "indoor_fans": 1,
        "metering": "fixed orifice" if circuits == 1 else "electronic valve",
        "heat_type": heat,
        "gas_valve": "two stage",
        "draft_inducers": 2,
        "heat_stages": 2,
        "electric_heat_stages": 2,
        "outdoor_damper": damper,
        "economizer": "fixed dry bulb" if damper == "modulating" else "none",
        "relief": relief,
        "suction_psig": [118.0 + n for n in range(circuits)],
        "suction_line_f": [52.0] * circuits,
        "liquid_psig": [340.0] * circuits,
        "liquid_line_f": [96.0] * circuits,
        "discharge_line_f": [165.0] * circuits,
        "condenser_entering_f": [88.0] * circuits,
        "return_static_inwc": -0.31,
        "after_filter_static_inwc": -0.52,
        "after_coil_static_inwc": -0.81,
        "fan_outlet_static_inwc": 0.62,
        "supply_static_inwc": 0.44,
        "entering_dry_bulb_f": 79.0,
        "leaving_dry_bulb_f": 54.5,
        "capacity_outdoor_f": 91.0,
    } | more


def _readings(form: Form, *arguments, **more: object):
    return readings_of(form, "unit_plan", _values(*arguments, **more))


# Every how-many-th configuration is drawn; 1 draws all 108 (two minutes).
STRIDE = int(os.environ.get("COMMISSION_DIAGRAM_STRIDE", "7"))
CONFIGURATIONS = list(product((1, 2, 4), HEATS, DAMPERS, RELIEFS))[::STRIDE]


@pytest.mark.parametrize(("circuits", "heat", "damper", "relief"), CONFIGURATIONS)
def test_calls_and_lit_parts_are_of_what_is_fitted(
    shipped: Form, circuits: int, heat: str, damper: str, relief: str
) -> None:
    readings = _readings(shipped, circuits, heat, damper, relief)
    unit = fitted(readings)
    offered = calls(readings.results, readings.figure, ())
    kinds = {call.kind for call in offered}
    assert offered[0] == IDLE
    assert (CallKind.GAS in kinds) == ("gas" in heat)
    assert (CallKind.ELECTRIC in kinds) == ("electric" in heat)
    assert (CallKind.HEAT_PUMP in kinds) == ("heat pump" in heat)
    assert (CallKind.ECONOMIZER in kinds) == (damper == "modulating")
    for call in offered:
        running = lit(unit, call)
        cools = call.kind in (CallKind.COOLING, CallKind.HEAT_PUMP)
        assert bool(running.compressors) == cools
        assert (Part.CONDENSER_FANS in running.parts) == cools
        assert (Part.BURNER in running.parts) == (call.kind is CallKind.GAS)
        assert (Part.ELECTRIC_HEAT in running.parts) == (call.kind is CallKind.ELECTRIC)
        # Nothing heats or cools without air moved over it.
        assert (Part.FAN in running.parts) == (call != IDLE)
        assert (Part.OUTDOOR_AIR in running.parts) <= (damper != "none")


def test_the_last_stage_runs_every_compressor_and_no_stage_fewer_than_the_one_before(
    shipped: Form,
) -> None:
    two = fitted(_readings(shipped, 2, "none", "none", "none"))
    for stages, compressors in product(range(1, 7), range(1, 9)):
        turns = tuple(number % 2 + 1 for number in range(compressors))
        unit = replace(two, cooling_stages=stages, circuit_of=turns)
        sets = [lit(unit, Call(CallKind.COOLING, n + 1)).compressors for n in range(stages)]
        assert sets[-1] == set(range(1, compressors + 1))
        assert all(a <= b for a, b in pairwise(sets))
        assert all(sets)


@pytest.mark.parametrize(("circuits", "heat", "damper", "relief"), CONFIGURATIONS)
@pytest.mark.parametrize("width", [300.0, 516.0])
def test_nothing_is_cut_off_and_no_words_overlap(
    shipped: Form, circuits: int, heat: str, damper: str, relief: str, width: float
) -> None:
    readings = _readings(shipped, circuits, heat, damper, relief)
    for call in calls(readings.results, readings.figure, ()):
        drawing = drawn(readings.results, readings.figure, (), width, call)
        assert isinstance(drawing, Drawing)
        assert outside(drawing) == [], call
        assert overlapping(drawing) == [], call


def test_every_reading_is_on_the_drawing_or_named_below_it(shipped: Form) -> None:
    readings = _readings(shipped, 2, "gas", "modulating", "powered")
    for width in (300.0, 516.0):
        drawing = drawn(readings.results, readings.figure, (), width)
        assert isinstance(drawing, Drawing)
        words = " ".join(getattr(s, "text", "") for s in flat(drawing.shapes)).replace(
            "\u00a0", " "
        )
        for shown in ("118.0 psig", "119.0 psig", "−0.81", "79.0 °F", "54.5 °F", "0.62", "91.0 °F"):
            assert shown in words, shown


def _heavy(drawing: Drawing) -> int:
    """Count the lines drawn in a colour of running parts, as heavily as they are."""
    paints = {ACCENT, COOL, WARM}
    lines = (shape for shape in flat(drawing.shapes) if isinstance(shape, Path | Circle))
    return sum(shape.stroke in paints and shape.width > 1.5 for shape in lines)


def test_lit_parts_are_drawn_more_heavily_than_the_idle_unit(shipped: Form) -> None:
    readings = _readings(shipped, 2, "gas", "modulating", "powered")

    def heavy(call: Call) -> int:
        made = drawn(readings.results, readings.figure, (), 516.0, call)
        assert isinstance(made, Drawing)
        return _heavy(made)

    assert heavy(IDLE) == 0
    fan, one = heavy(Call(CallKind.FAN)), heavy(Call(CallKind.COOLING, 1))
    assert 0 < fan < one < heavy(Call(CallKind.COOLING, 2))
    assert heavy(Call(CallKind.GAS, 1)) > fan


def test_what_runs_is_told_in_words(shipped: Form) -> None:
    readings = _readings(shipped, 1, "gas", "modulating", "none")
    made = drawn(readings.results, readings.figure, (), 516.0, Call(CallKind.GAS, 1))
    assert isinstance(made, Drawing)
    assert "Should run:" in made.description and "burner" in made.description
    assert "Suction pressure, Circuit 1: 118.0 psig." in made.description


def test_an_unanswered_configuration_is_one_line(shipped: Form) -> None:
    readings = readings_of(shipped, "unit_plan", {"heat_type": "gas"})
    made = drawn(readings.results, readings.figure, (), 516.0)
    assert isinstance(made, Wanting)
    assert "Refrigerant circuits" in made.sentence
