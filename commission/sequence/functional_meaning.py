"""Whether the tests of `sequence.toml` make sense against the form: every fault, none hidden."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator

from commission.definitions.model import Field, Form, Level
from commission.errors import CommissionError
from commission.formula import dimensions
from commission.formula.parse import unparse
from commission.formula.tree import Comparison, Name, Node, Text, names_in, walk
from commission.language import near_miss, spoken
from commission.sequence.functional_model import (
    CALL,
    MarkRow,
    SequenceBook,
    StepRow,
    TerminalRow,
    TestRow,
)

TIMED_UNITS = ("s", "min")
_RANGE = re.compile(r"^([A-Z]+)1\.\.\{n\}$")


def check_sequence(form: Form, book: SequenceBook) -> list[str]:
    """Return one sentence for each fault: place, rule, cure."""
    found: list[str] = []
    for part in book.parts:
        place = f"{'protection' if part.is_protection else 'part'} {part.name}"
        found += _condition(form, part.when, place)
    for terminal in book.terminals:
        found += _terminal(form, book, terminal)
    for test in book.tests:
        found += _test(form, book, test)
    found += _twice("part", [part.name for part in book.parts])
    found += _twice("test", [test.name for test in book.tests])
    found += _unproved(book)
    return found


def _twice(what: str, names: list[str]) -> Iterator[str]:
    for name, count in Counter(names).items():
        if count > 1:
            rule = spoken("declared {count} times; one name, one meaning.", count=count)
            yield f"{what} {name}: {rule}"


def _unproved(book: SequenceBook) -> Iterator[str]:
    proved = {name for test in book.tests for name in test.proves}
    for part in book.parts:
        if part.is_protection and part.name not in proved:
            rule = spoken("no test proves it; add one or take it out.")
            yield f"protection {part.name}: {rule}"


def _condition(form: Form, when: Node | None, place: str) -> Iterator[str]:
    """Yield what is wrong with a `when`: it may use what is asked once of each unit."""
    if when is None:
        return
    names = list(names_in(when))
    strangers = [name for name in names if not _is_configuration(form, name)]
    if strangers:
        known = [entry.name for entry in form.entries() if _is_configuration(form, entry.name)]
        for name in strangers:
            rule = spoken(
                "'{name}' is not asked once of each unit.{hint}",
                name=name,
                hint=near_miss(name, known),
            )
            yield f"{place}: when: {rule}"
        return
    yield from _choices(form, when, place)
    try:
        sort = dimensions.sort_of(when, lambda name: _sort(form, name))
    except CommissionError as error:
        yield f"{place}: when '{unparse(when)}': {error}"
        return
    if not isinstance(sort, dimensions.Condition):
        yield f"{place}: when '{unparse(when)}': {spoken('is not a condition.')}"


def _is_configuration(form: Form, name: str) -> bool:
    """Return whether a name is a field that is asked once of each unit."""
    entry = form.by_name.get(name)
    is_once = isinstance(entry, Field) and not entry.repeat
    return is_once and form.section_of(name).level is Level.UNIT


def _sort(form: Form, name: str) -> dimensions.Sort:
    field = form.by_name[name]
    if isinstance(field, Field) and field.kind not in ("number", "integer"):
        return dimensions.TextSort()
    return dimensions.measure_of(field.unit)


def _choices(form: Form, when: Node, place: str) -> Iterator[str]:
    for part in walk(when):
        if not isinstance(part, Comparison):
            continue
        for side, other in ((part.left, part.right), (part.right, part.left)):
            if isinstance(side, Name) and isinstance(other, Text):
                field = form.by_name[side.name]
                choices = field.choices if isinstance(field, Field) else ()
                if choices and other.value not in choices:
                    rule = spoken(
                        "'{answer}' is no choice of {name}.{hint}",
                        answer=other.value,
                        name=side.name,
                        hint=near_miss(other.value, choices),
                    )
                    yield f"{place}: when: {rule}"


def _known_parts(book: SequenceBook, names: tuple[str, ...], place: str) -> Iterator[str]:
    known = [part.name for part in book.parts]
    for name in names:
        if name not in known:
            hint = near_miss(name, known)
            rule = spoken("'{name}' is no part or protection.{hint}", name=name, hint=hint)
            yield f"{place}: {rule}"


def _terminal(form: Form, book: SequenceBook, row: TerminalRow) -> Iterator[str]:
    place = f"terminal {row.name}"
    yield from _condition(form, row.when, place)
    yield from _known_parts(book, row.energises, place)
    yield from _repeat(form, row.repeat, place)
    if bool(row.repeat) != ("{n}" in row.name):
        rule = spoken("'{n}' in the name goes with a repeat, and a repeat with '{n}'.")
        yield f"{place}: {rule}"


def _repeat(form: Form, repeat: str, place: str) -> Iterator[str]:
    if repeat and repeat not in form.repeats:
        hint = near_miss(repeat, form.repeats)
        rule = spoken("'{name}' is not a repeat of this form.{hint}", name=repeat, hint=hint)
        yield f"{place}: {rule}"
    elif repeat and not any(entry.repeat == (repeat,) for entry in form.entries()):
        rule = spoken("nothing of the form repeats over '{name}' alone.", name=repeat)
        yield f"{place}: {rule}"


def _test(form: Form, book: SequenceBook, test: TestRow) -> Iterator[str]:
    place = f"test {test.name}"
    if test.section not in form.section_by_name:
        hint = near_miss(test.section, form.section_by_name)
        rule = spoken("'{name}' is no page of the form.{hint}", name=test.section, hint=hint)
        yield f"{place}: {rule}"
    yield from _condition(form, test.when, place)
    yield from _known_parts(book, test.proves, place)
    yield from _repeat(form, test.repeat, place)
    yield from _twice(f"{place}, step", [step.name for step in test.steps])
    for step in test.steps:
        yield from _step(form, book, test, step)
    yield from _lanes(book, test, place)
    fields = [mark.field for step in test.steps for mark in step.marks if mark.field]
    if not fields:
        rule = spoken("marks nothing; a test without a mark proves nothing.")
        yield f"{place}: {rule}"


def _lanes(book: SequenceBook, test: TestRow, place: str) -> Iterator[str]:
    events = [step.name for step in test.steps]
    events += [mark.name for step in test.steps for mark in step.marks if mark.event]
    for lane in test.lanes:
        if lane.part:
            yield from _known_parts(book, (lane.part,), f"{place}, lane {lane.name}")
        for name in (name for span in lane.spans for name in (*span.on, *span.off)):
            if name not in events:
                hint = near_miss(name, events)
                rule = spoken("'{name}' is no event or step of it.{hint}", name=name, hint=hint)
                yield f"{place}, lane {lane.name}: {rule}"


def _step(form: Form, book: SequenceBook, test: TestRow, step: StepRow) -> Iterator[str]:
    place = f"test {test.name}, step {step.name}"
    yield from _condition(form, step.when, place)
    yield from _known_parts(book, (*step.run, *step.rest), place)
    for name in set(step.run) & set(step.rest):
        rule = spoken("'{name}' must both run and not run; take one out.", name=name)
        yield f"{place}: {rule}"
    if step.signals and not step.call:
        yield f"{place}: {spoken('has signals but no call; say what is called.')}"
    yield from _signals(book, test, step, place)
    earlier = [CALL]
    for mark in step.marks:
        yield from _mark(form, test, mark, earlier, place)
        earlier += [mark.name] if mark.event else []
    yield from _danger(form, step, place)


def _signals(book: SequenceBook, test: TestRow, step: StepRow, place: str) -> Iterator[str]:
    known = {row.name for row in book.terminals}
    letters = {re.sub(r"(\d|\{n\})$", "", name) for name in known}
    for signal in step.signals:
        stem = _RANGE.match(signal)
        if stem and not test.repeat:
            rule = spoken("signal '{signal}' needs a test that repeats.", signal=signal)
            yield f"{place}: {rule}"
        name = stem[1] if stem else re.sub(r"\d$", "", signal)
        if name not in letters:
            hint = near_miss(signal, known)
            rule = spoken("'{signal}' is no terminal.{hint}", signal=signal, hint=hint)
            yield f"{place}: {rule}"


def _mark(
    form: Form, test: TestRow, mark: MarkRow, earlier: list[str], place: str
) -> Iterator[str]:
    if bool(mark.field) == bool(mark.moment):
        yield f"{place}: {spoken('a mark names either a field or a moment.')}"
        return
    for name in mark.after:
        if name not in earlier:
            rule = spoken(
                "after '{name}' is no earlier event of the step.{hint}",
                name=name,
                hint=near_miss(name, earlier),
            )
            yield f"{place}: mark {mark.name}: {rule}"
    if mark.moment:
        if not mark.event:
            rule = spoken("say in 'event' what is seen.")
            yield f"{place}: moment {mark.moment}: {rule}"
        return
    yield from _field(form, test, mark, place)


def _field(form: Form, test: TestRow, mark: MarkRow, place: str) -> Iterator[str]:
    field = form.by_name.get(mark.field)
    if not isinstance(field, Field):
        known = [entry.name for entry in form.entries() if isinstance(entry, Field)]
        hint = near_miss(mark.field, known)
        rule = spoken("marks '{name}', which is no field.{hint}", name=mark.field, hint=hint)
        yield f"{place}: {rule}"
        return
    is_time = field.unit in TIMED_UNITS and field.instrument == "stopwatch"
    if is_time and not mark.event:
        rule = spoken("{name} is a time; say in 'event' what ends it.", name=mark.field)
        yield f"{place}: {rule}"
    if mark.event and not is_time:
        rule = spoken("{name} is no stopwatch time in s or min; take 'event' out.", name=mark.field)
        yield f"{place}: {rule}"
    if test.repeat and test.repeat in form.repeats and field.repeat not in ((), (test.repeat,)):
        rule = spoken(
            "{name} repeats over {repeats}, the test does not.",
            name=mark.field,
            repeats=", ".join(field.repeat),
        )
        yield f"{place}: {rule}"


def _danger(form: Form, step: StepRow, place: str) -> Iterator[str]:
    """A mark that stops the work needs words on what to do at once, and only such a mark."""
    marked = dict.fromkeys(mark.field for mark in step.marks if mark.field)
    stops = [stop for field in marked for stop in form.stops_on.get(field, ())]
    if stops and not step.danger:
        rule = spoken(
            "{names} stops the work; say in 'danger' what to do at once.", names=", ".join(stops)
        )
        yield f"{place}: {rule}"
    if step.danger and not stops:
        rule = spoken("has 'danger', but no mark of it is judged by a stop check of the form.")
        yield f"{place}: {rule}"
