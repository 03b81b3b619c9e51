"""The functional tests of one unit: signals, each test with its steps, marks and runs, the rest."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

from reportlab.platypus import Flowable

from commission.definitions.model import Key
from commission.formula.evaluate import State
from commission.language import spoken, to_say
from commission.package.drawing_flowable import DrawingFlowable
from commission.package.figures_part import LAID_FOR, figures_beside
from commission.package.flowables import Heading, kept, named, words
from commission.package.look import ALARM, BOLD, DOUBT, GOOD, NOTE, QUIET
from commission.package.tables import Cell, Column, DataTable, Row
from commission.package.turnover import Part, Turnover
from commission.package.wording import counted, gravity, verdict_colour, verdict_mark
from commission.sequence.functional_model import (
    FunctionalStep,
    FunctionalTest,
    LeftOut,
    Signal,
    StepMark,
)
from commission.sequence.functional_record import Standing, TestState, dangers, standing
from commission.sequence.functional_tests import functional_tests, left_out, signals
from commission.sequence.functional_timeline import least_width, timeline
from commission.validation.results import UnitResults
from commission.validation.verdict import Outcome

TITLE = to_say("Functional tests of this configuration")
_CALL = to_say("Call: {call}.")
_CALL_AT = to_say("Call: {call} (R to {terminals}).")
_MUST_RUN = to_say("Must run: {parts}.")
_IN_ORDER = to_say("Must run in this order: {parts}.")
_COLOURS: dict[TestState, Any] = {
    TestState.STOP: ALARM,
    TestState.FAIL: ALARM,
    TestState.INCONCLUSIVE: DOUBT,
    TestState.BEGUN: DOUBT,
    TestState.NOT_JUDGED: DOUBT,
    TestState.PASS: GOOD,
}
_GLYPHS: dict[TestState, str] = {
    TestState.STOP: "⬣",
    TestState.FAIL: "✗",
    TestState.INCONCLUSIVE: "?",
    TestState.BEGUN: "·",
    TestState.NOT_DONE: "·",
    TestState.NOT_JUDGED: "·",
    TestState.PASS: "✓",
    TestState.DEFERRED: "–",
}
_NOTHING_MARKED = (TestState.NOT_DONE, TestState.DEFERRED)
_INTRO = to_say(
    "Made from the unit's configuration: each test proves a part or a protection. A time counts "
    "from the call, or from the event before. Terminals, order and responses: common practice; "
    "the unit's literature, local codes and licensed practice govern."
)


def functional_flowables(turnover: Turnover, part: Part) -> list[Flowable]:
    """Return the functional tests of a unit's part; nothing where its form has none."""
    calculation = part.results.calculation
    tests = functional_tests(calculation) if part.results.unit_id else ()
    if not tests:
        return []
    intro = words(spoken(_INTRO), NOTE)
    heading = Heading(
        spoken(TITLE),
        2,
        part.tests_key,
        aside=_counted(part.results, tests),
    )
    flowables = kept(turnover.width, heading, intro, _signals(signals(calculation)))
    flowables += _dangers(part.results, tests)
    flowables += _tests(part, tests)
    told = list(_not_tested(part.results, tests, left_out(calculation)))
    return [*flowables, *figures_beside(turnover.width, _timelines(part.results, tests), told)]


def _counted(results: UnitResults, tests: Sequence[FunctionalTest]) -> str:
    passed = sum(standing(results, test).state is TestState.PASS for test in tests)
    return spoken(
        "{tests}, {passed} passed", tests=counted(len(tests), "test", "tests"), passed=passed
    )


def _signals(lines: Sequence[Signal]) -> DataTable:
    columns = [
        Column(spoken("Terminal"), 44),
        Column(spoken("Call"), 112),
        Column(spoken("What it energises"), 150),
        Column(spoken("Note"), 210),
    ]
    rows = [
        Row([Cell(line.terminal, BOLD), line.title, line.energises or "–", line.note])
        for line in lines
    ]
    return DataTable(columns, rows)


def _dangers(results: UnitResults, tests: Sequence[FunctionalTest]) -> list[Flowable]:
    """Return what was seen that stops the work, with what to do at once."""
    found = [
        named(
            spoken("⬣ STOP, {title}:", title=test.title),
            spoken(
                "{label}: not so. {danger}", label=one.verdict.check.label, danger=one.step.danger
            ),
        )
        for test in tests
        for one in dangers(results, test)
    ]
    return list(found)


# -- the tests -----------------------------------------------------------------------------


def _tests(part: Part, tests: Sequence[FunctionalTest]) -> list[Flowable]:
    """Return the table of what was done; a test of which nothing is marked is listed after it."""
    columns = [
        Column(spoken("What was done and called, what must answer"), 226),
        Column(spoken("Mark"), 120),
        Column(spoken("As marked, by runs"), 96),
        Column(spoken("Verdict"), 74),
    ]
    rows: list[Row] = []
    before: FunctionalTest | None = None
    for test in tests:
        held = standing(part.results, test)
        if held.state in _NOTHING_MARKED and not _was_ever_run(part, test):
            continue
        rows.append(_test_row(test, held))
        alike = before if before is not None and before.name == test.name else None
        for number, step in enumerate(test.steps):
            told = step_words(step, alike.steps[number].do if alike else "")
            rows += _step_rows(part, step, told)
        before = test
    return [DataTable(columns, rows, pad=1.2)] if rows else []


def _was_ever_run(part: Part, test: FunctionalTest) -> bool:
    return any(run.value(*key).state is State.KNOWN for key in test.keys for _, run in part.passes)


def _test_row(test: FunctionalTest, held: Standing) -> Row:
    proves = ", ".join(one.label for one in test.proves)
    mark = Cell(
        f"{_GLYPHS[held.state]} {spoken(held.state)}", BOLD, _COLOURS.get(held.state, QUIET)
    )
    return Row(
        [Cell(test.title, BOLD), Cell(spoken("proves: {proves}", proves=proves), span=2), mark],
        group=True,
    )


def _step_rows(part: Part, step: FunctionalStep, told: str) -> Iterator[Row]:
    """Yield a step in the whole width, a row for each mark made, and what was left unmarked."""
    marks = [mark for mark in step.marks if mark.key is not None]
    made = [mark for mark in marks if _is_marked(part, mark)]
    left = [_mark_words(part.results, mark) for mark in marks if mark not in made]
    if not marks:
        return
    yield Row([Cell(told, span=4)], ruled=False)
    for mark in made:
        assert mark.key is not None
        cells = [
            Cell(f"· {_mark_words(part.results, mark)}", span=2),
            Cell(runs(part, mark.key)),
            _verdict(part, mark),
        ]
        yield Row(cells, ruled=mark is made[-1] and not left)
    if left:
        words_ = spoken("Not marked: {marks}.", marks="; ".join(left))
        yield Row([Cell(words_, colour=QUIET, span=4)])


def _is_marked(part: Part, mark: StepMark) -> bool:
    """Return whether any run marked this, or a verdict speaks of it."""
    assert mark.key is not None
    key, results = mark.key, part.results
    if any(
        results.relevant(*check) and results.verdict(*check).outcome is not Outcome.MISSING
        for check in mark.checks
    ):
        return True
    return any(
        (reading := run.reading(*key)) is not None and not reading.is_unread
        for _, run in part.passes
    )


def step_words(step: FunctionalStep, told_before: str = "") -> str:
    """Return a step in sentences: what to do, the call, what must and must not run, the reset.

    What was told word for word of the member before is not told again.
    """
    terminals = ", ".join(step.signals)
    words_ = _CALL_AT if terminals else _CALL
    call = spoken(words_, call=step.call, terminals=terminals) if step.call else ""
    if step.do == told_before:
        return f"{spoken('As before.')} {call}".strip()
    lines = [step.do, call]
    if step.run:
        words_ = _IN_ORDER if step.ordered else _MUST_RUN
        lines.append(spoken(words_, parts=", ".join(one.label for one in step.run)))
    if step.rest:
        parts = ", ".join(one.label for one in step.rest)
        lines.append(spoken("Must not run: {parts}.", parts=parts))
    if step.reset:
        lines.append(spoken("Reset: {how}", how=step.reset))
    return " ".join(line for line in lines if line)


def _mark_words(results: UnitResults, mark: StepMark) -> str:
    assert mark.key is not None
    label = results.label(mark.key)
    return f"{label} ({mark.event.lower()})" if mark.event else label


def runs(part: Part, key: Key) -> str:
    """Return what each run marked: the value alone for one run, each with its pass for more."""
    found = []
    for name, results in part.passes:
        reading = results.reading(*key)
        if reading is not None and not reading.is_unread and reading.pass_name == name:
            shown = results.shown(*key)
            reason = f": {reading.not_applicable}" if reading.not_applicable else ""
            found.append((name, f"{shown}{reason}"))
    if len(found) == 1 and found[0][0] == part.passes[0][0]:
        return found[0][1]
    return "; ".join(f"{name} {shown}" for name, shown in found) or "–"


def _verdict(part: Part, mark: StepMark) -> Cell:
    results = part.results
    verdicts = [results.verdict(*check) for check in mark.checks if results.relevant(*check)]
    if not verdicts:
        marked = mark.key is not None and results.value(*mark.key).state is not State.MISSING
        return Cell(spoken("no limit") if marked else spoken("not marked"), colour=QUIET)
    worst = min(verdicts, key=gravity)
    return Cell(verdict_mark(worst), colour=verdict_colour(worst))


# -- drawn, and not tested -----------------------------------------------------------------


def _timelines(results: UnitResults, tests: Sequence[FunctionalTest]) -> list[list[Flowable]]:
    made = (timeline(results, test, max(LAID_FOR, least_width(test))) for test in tests)
    return [[Heading(drawing.title, 3), DrawingFlowable(drawing)] for drawing in made if drawing]


def _not_tested(
    results: UnitResults, tests: Sequence[FunctionalTest], out: Sequence[LeftOut]
) -> Iterator[Flowable]:
    held = {test: standing(results, test) for test in tests}
    lists = {
        spoken("Not yet done:"): [t.title for t in tests if held[t].state is TestState.NOT_DONE],
        spoken("Begun, not all marked:"): [
            spoken(
                "{title} ({marked} of {asked})",
                title=t.title,
                marked=held[t].marked,
                asked=held[t].asked,
            )
            for t in tests
            if held[t].state is TestState.BEGUN
        ],
        spoken("Deferred or not applicable:"): [
            f"{t.title}: {held[t].why}" for t in tests if held[t].state is TestState.DEFERRED
        ],
    }
    for one in out:
        lists.setdefault(spoken("Not of this unit, {why}:", why=one.why), []).append(one.title)
    for name, items in lists.items():
        if items:
            yield named(name, "; ".join(items) + ".")
