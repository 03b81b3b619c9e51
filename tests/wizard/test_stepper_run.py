"""The stopwatch of a step: times from the call or the event before, by a given clock."""

from __future__ import annotations

import pytest

from commission.definitions.model import Key
from commission.errors import ReadingError
from commission.sequence.functional_model import FunctionalStep, StepMark
from commission.wizard.stepper_run import StepRun, typed_time


class Clock:
    """A clock that is moved by hand."""

    def __init__(self) -> None:
        self.now = 1_000.0

    def __call__(self) -> float:
        return self.now


INDUCER = StepMark("inducer_start_s", Key("inducer_start_s"), "Inducer turns", "call")
FLAME = StepMark("flame", None, "Flame", "inducer_start_s")
SMOOTH = StepMark("smooth", Key("smooth"), "", "call")
STEP = FunctionalStep(
    "light", "Do.", "Heat", ("W1",), (), (), False, (INDUCER, FLAME, SMOOTH), "", ""
)


@pytest.fixture
def clock() -> Clock:
    return Clock()


@pytest.fixture
def run(clock: Clock) -> StepRun:
    return StepRun(STEP, clock)


def test_nothing_runs_before_the_call(run: StepRun, clock: Clock) -> None:
    clock.now += 5
    assert not run.is_running and run.elapsed_s == 0.0 and run.came_s(INDUCER) is None
    with pytest.raises(ReadingError, match="counted from 'the call', which has not come"):
        run.mark(INDUCER)


def test_each_event_is_counted_from_the_one_it_names(run: StepRun, clock: Clock) -> None:
    run.call()
    clock.now += 2.25
    assert run.mark(INDUCER) == pytest.approx(2.25)
    clock.now += 30
    assert run.next_mark() is FLAME
    assert run.mark(FLAME) == pytest.approx(30.0)
    assert run.came_s(FLAME) == pytest.approx(32.25)
    assert run.is_over and run.next_mark() is None


def test_an_event_before_the_one_it_is_counted_from_is_refused(run: StepRun) -> None:
    run.call()
    with pytest.raises(ReadingError, match="Flame: it is counted from 'Inducer turns'"):
        run.mark(FLAME)


def test_a_second_call_forgets_the_first(run: StepRun, clock: Clock) -> None:
    run.call()
    run.mark(INDUCER)
    clock.now += 9
    run.call()
    assert run.next_mark() is INDUCER and run.elapsed_s == 0.0


@pytest.mark.parametrize(
    ("seconds", "unit", "text"),
    [(31.26, "s", "31.3 s"), (0.04, "s", "0.0 s"), (330.0, "min", "5.50 min")],
)
def test_a_time_is_entered_to_a_tenth_of_a_second(seconds: float, unit: str, text: str) -> None:
    assert typed_time(seconds, unit) == text
