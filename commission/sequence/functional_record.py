"""How the functional tests of a unit stand: read off the form's own verdicts, never judged here."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

from commission.definitions.model import Field, Key, Severity
from commission.formula.evaluate import State
from commission.project import pass_rank
from commission.sequence.functional_model import FunctionalStep, FunctionalTest
from commission.validation.results import UnitResults
from commission.validation.verdict import Outcome, Verdict


class TestState(StrEnum):
    """How a test stands, the gravest first."""

    __test__ = False  # for pytest

    STOP = "stop"
    FAIL = "fail"
    INCONCLUSIVE = "inconclusive"
    BEGUN = "begun"
    NOT_DONE = "not yet done"
    NOT_JUDGED = "limit missing"
    PASS = "pass"
    DEFERRED = "not applicable"


@dataclass(frozen=True, slots=True)
class Standing:
    """How one test stands, with the reason where there is one to give."""

    state: TestState
    marked: int
    asked: int
    why: str = ""


@dataclass(frozen=True, slots=True)
class Danger:
    """A mark that stops the work has failed: what to do at once, and on what verdict."""

    step: FunctionalStep
    verdict: Verdict


def verdicts_of(results: UnitResults, step: FunctionalStep) -> list[Verdict]:
    """Return the form's verdicts on a step's marks, those that are asked."""
    return [
        results.verdict(*check)
        for mark in step.marks
        for check in mark.checks
        if results.relevant(*check)
    ]


def dangers(results: UnitResults, test: FunctionalTest) -> list[Danger]:
    """Return the dangerous states that a test has shown and that still stand."""
    return [
        Danger(step, verdict)
        for step in test.steps
        for verdict in verdicts_of(results, step)
        if verdict.stops
    ]


def standing(results: UnitResults, test: FunctionalTest) -> Standing:
    """Return how a test stands, from the readings and verdicts in force."""
    states = {key: results.value(*key).state for key in test.keys}
    marked = sum(state is not State.MISSING for state in states.values())
    state = _state(results, test, states)
    why = ""
    if state is TestState.DEFERRED:
        reasons = (results.value(*key).reason for key in test.keys)
        why = "; ".join(dict.fromkeys(reason for reason in reasons if reason))
    return Standing(state, marked, len(states), why)


def _state(results: UnitResults, test: FunctionalTest, states: dict[Key, State]) -> TestState:
    verdicts = [verdict for step in test.steps for verdict in verdicts_of(results, step)]
    outcomes = {v.outcome for v in verdicts if v.check.severity is not Severity.NOTE}
    if any(verdict.stops for verdict in verdicts):
        return TestState.STOP
    if Outcome.FAIL in outcomes:
        return TestState.FAIL
    if Outcome.INCONCLUSIVE in outcomes:
        return TestState.INCONCLUSIVE
    if all(state is State.MISSING for state in states.values()):
        return TestState.NOT_DONE
    if all(state is State.NOT_APPLICABLE for state in _required(results, states)):
        return TestState.DEFERRED
    if State.MISSING in _required(results, states):
        return TestState.BEGUN
    if any(v.outcome is Outcome.MISSING and v.value.state is State.KNOWN for v in verdicts):
        return TestState.NOT_JUDGED
    return TestState.PASS


def _required(results: UnitResults, states: dict[Key, State]) -> list[State]:
    """Return the states of what must be marked; of what was marked, where nothing must be."""
    entries = results.calculation.plan.entries
    must = []
    for key, state in states.items():
        field = entries[key.name]
        if isinstance(field, Field) and field.required:
            must.append(state)
    return must or [state for state in states.values() if state is not State.MISSING]


def next_pass(used: Sequence[str]) -> str:
    """Return the pass of the next run: the retest after the latest of those used.

    "as found" and "as left" are followed by "retest 1", "retest 3" by "retest 4".
    """
    latest = max((pass_rank(name) for name in used), default=0)
    return f"retest {max(latest, 1)}"
