"""How a test stands follows from the form's verdicts; its timeline from the marked times."""

from __future__ import annotations

import pytest

from commission.definitions.model import Key
from commission.drawing.extents import outside, overlapping
from commission.drawing.shapes import Drawing, Path, Shape, Text
from commission.sequence.functional_model import FunctionalTest
from commission.sequence.functional_record import TestState, dangers, next_pass, standing
from commission.sequence.functional_tests import functional_tests
from commission.sequence.functional_timeline import marked_events, timeline
from commission.validation.calculation import Calculation, Given, GivenLimit
from commission.validation.results import UnitResults
from sequence.configured_units import fitted, unit

TIMES = {
    "inducer_start_s": 2.0, "vent_switch_close_s": 6.0, "prepurge_s": 30.0,
    "ignition_trial_s": 3.0, "heating_fan_on_delay_s": 40.0, "gas_off_s": 1.0,
    "post_purge_s": 15.0, "heating_fan_off_delay_s": 90.0,
}  # fmt: skip


@pytest.fixture
def made() -> Calculation:
    return unit(heat_type="gas", **fitted("vent_pressure_switch"))


def named(made: Calculation, name: str) -> tuple[UnitResults, FunctionalTest]:
    results = UnitResults(made, "RTU-9", "nine")
    return results, next(test for test in functional_tests(made) if test.name == name)


def answer(made: Calculation, name: str, content: float | str) -> None:
    made.give(Key(name), Given(content))


def state(made: Calculation, name: str) -> TestState:
    return standing(*named(made, name)).state


def test_a_test_goes_from_not_done_to_pass(made: Calculation) -> None:
    assert state(made, "ignition_lockout") is TestState.NOT_DONE
    answer(made, "ignition_trials", 3.0)
    assert state(made, "ignition_lockout") is TestState.BEGUN
    answer(made, "failure_to_light_locks_out", "yes")
    assert state(made, "ignition_lockout") is TestState.NOT_JUDGED
    limit = GivenLimit({"low": 3.0, "high": 3.0}, "literature")
    made.give_limit(Key("ignition_trials_in_range"), limit)
    assert state(made, "ignition_lockout") is TestState.PASS
    answer(made, "ignition_trials", 5.0)
    assert state(made, "ignition_lockout") is TestState.FAIL


def test_a_protection_that_does_not_act_stops_with_what_to_do(made: Calculation) -> None:
    answer(made, "failure_to_light_locks_out", "no")
    assert state(made, "ignition_lockout") is TestState.STOP
    (danger,) = dangers(*named(made, "ignition_lockout"))
    assert danger.step.danger.startswith("Keep the gas shut")
    assert danger.verdict.check.name == "failure_to_light_locks_out_proved"
    answer(made, "failure_to_light_locks_out", "yes")
    assert not dangers(*named(made, "ignition_lockout"))


@pytest.mark.parametrize("flame", ["flame_only_with_combustion_air", "gas_shuts_off_with_call"])
def test_flame_where_there_must_be_none_stops(made: Calculation, flame: str) -> None:
    answer(made, flame, "no")
    assert state(made, "gas_chain") is TestState.STOP


def test_what_is_not_applicable_says_why(made: Calculation) -> None:
    made.give(Key("disconnect_and_emergency_stop"), Given(None, "deferred to the visit in May"))
    held = standing(*named(made, "disconnect"))
    assert (held.state, held.why) == (TestState.DEFERRED, "deferred to the visit in May")


def test_an_optional_mark_alone_is_a_whole_test(made: Calculation) -> None:
    assert state(made, "variable_capacity") is TestState.NOT_DONE
    answer(made, "variable_compressor_modulates", "yes")
    assert state(made, "variable_capacity") is TestState.PASS


@pytest.mark.parametrize(
    ("used", "name"),
    [(["as found"], "retest 1"), (["as found", "as left"], "retest 1"),
     (["retest 1", "as found"], "retest 2"), (["retest 11", "retest 2"], "retest 12")],
)  # fmt: skip
def test_the_next_run_is_the_retest_after_the_latest(used: list[str], name: str) -> None:
    assert next_pass(used) == name


# --- timeline


def mark_all(made: Calculation, without: str = "") -> tuple[UnitResults, FunctionalTest]:
    for name, seconds in TIMES.items():
        if name != without:
            answer(made, name, seconds)
    return named(made, "gas_chain")


def test_times_add_up_from_the_call(made: Calculation) -> None:
    marked = marked_events(*mark_all(made))
    assert marked.events["prepurge_s"] == (0, 38.0)
    assert marked.events["heating_fan_on_delay_s"] == (0, 81.0)
    assert marked.events["heating_fan_off_delay_s"] == (1, 91.0)
    assert marked.ends == (81.0, 91.0)


def test_an_event_counted_from_an_unmarked_one_is_left_out(made: Calculation) -> None:
    results, test = mark_all(made, without="prepurge_s")
    events = marked_events(results, test).events
    assert "vent_switch_close_s" in events
    assert not {"prepurge_s", "ignition_trial_s", "heating_fan_on_delay_s"} & set(events)
    drawing = timeline(results, test, 516.0)
    assert drawing is not None
    assert "Not marked: spark or glow begins, flame proved, indoor fan turns." in (
        drawing.description
    )


def test_nothing_is_drawn_of_nothing(made: Calculation) -> None:
    assert timeline(*named(made, "gas_chain"), 516.0) is None
    assert timeline(*named(made, "fan_alone"), 516.0) is None


@pytest.mark.parametrize("width", [300.0, 516.0, 700.0])
def test_the_timeline_is_whole_and_legible(made: Calculation, width: float) -> None:
    results, test = mark_all(made)
    drawing = timeline(results, test, width)
    assert drawing is not None
    assert not outside(drawing) and not overlapping(drawing)
    words = [shape.text for shape in drawing.shapes if isinstance(shape, Text)]
    for lane in ("Call for heat", "Draft inducer", "Purge", "Flame", "Indoor fan"):
        assert words.count(lane) == 1
    again = timeline(results, test, width)
    assert again == drawing


def test_the_purge_is_drawn_as_long_as_it_was(made: Calculation) -> None:
    """30 s of 81 s: by the drawing's own scale, its ends read off the call's lane."""
    drawing = timeline(*mark_all(made), 516.0)
    assert drawing is not None
    call, purge = bar(drawing, "Call for heat"), bar(drawing, "Purge")
    seconds = (call[1] - call[0]) / (81.0 * 1.12)
    assert purge[1] - purge[0] == pytest.approx(30.0 * seconds, rel=1e-6)
    assert purge[0] - call[0] == pytest.approx(8.0 * seconds, rel=1e-6)


def bar(drawing: Drawing, lane: str) -> tuple[float, float]:
    """Return where the first bar on a lane begins and ends."""
    shapes: list[Shape] = list(drawing.shapes)
    place = next(n for n, one in enumerate(shapes) if isinstance(one, Text) and one.text == lane)
    made = next(one for one in shapes[place:] if isinstance(one, Path) and one.closed)
    across = [point[0] for point in made.points]
    return min(across), max(across)
