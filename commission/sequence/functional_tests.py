"""The functional tests that a unit's configuration makes, and what each terminal energises.

Relevance is the form's: a page that is not asked has no tests, a field that is not asked is
not marked; `when` of the sequence file narrows further. Nothing is judged here.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

from commission.definitions.model import Check, Field, Key, Severity
from commission.formula.evaluate import MISSING, State, Value, evaluate
from commission.formula.graph import Index, matching_members
from commission.formula.tree import Node, names_in
from commission.language import spoken
from commission.sequence.functional_load import sequence_of
from commission.sequence.functional_model import (
    CALL,
    FunctionalStep,
    FunctionalTest,
    LeftOut,
    MarkRow,
    Part,
    SequenceBook,
    Signal,
    StepMark,
    StepRow,
    TerminalRow,
    TestRow,
)
from commission.validation.calculation import Calculation


def functional_tests(
    calculation: Calculation, book: SequenceBook | None = None
) -> tuple[FunctionalTest, ...]:
    """Return the tests that a unit's configuration has, and only those, in the file's order.

    Args:
        calculation: The unit; its answers decide, whatever else was read.
        book: The sequence file; that of the calculation's form by default.
    Raises:
        FormError: The sequence file beside the form is at fault.
    """
    unit = _Unit(calculation, book or book_of(calculation))
    return tuple(
        made
        for row in unit.book.tests
        if unit.applies(row)
        for index in unit.members(row.repeat)
        if (made := unit.test(row, index)).keys
    )


def left_out(calculation: Calculation, book: SequenceBook | None = None) -> tuple[LeftOut, ...]:
    """Return the tests of the file that this unit does not have, each with its reason."""
    unit = _Unit(calculation, book or book_of(calculation))
    there = {test.name for test in functional_tests(calculation, unit.book)}
    return tuple(
        LeftOut(re.sub(r",? ?\{n\}$|, \w+ \{n\}$", "", row.title), unit.reason(row))
        for row in unit.book.tests
        if row.name not in there
    )


def signals(calculation: Calculation, book: SequenceBook | None = None) -> tuple[Signal, ...]:
    """Return the signals table of a unit: each terminal and what it energises."""
    unit = _Unit(calculation, book or book_of(calculation))
    return unit.signals


def book_of(calculation: Calculation) -> SequenceBook:
    """Return the sequence file that belongs to a unit's form."""
    return sequence_of(calculation.plan.form)


@dataclass(frozen=True, slots=True)
class _Facts:
    """The unit's answers, as a formula's names."""

    calculation: Calculation

    def value(self, name: str) -> Value:
        return self.calculation.values.get(Key(name), MISSING)

    def members(self, name: str) -> Sequence[Value]:
        return []

    def number_of(self, repeat: str) -> int:
        return 1


class _Unit:
    """One unit while its tests are made; what is asked again and again is found once."""

    def __init__(self, calculation: Calculation, book: SequenceBook) -> None:
        self.calculation = calculation
        self.book = book
        self.form = calculation.plan.form
        self._members: dict[str, tuple[Index, ...]] = {"": ((),)}

    @cached_property
    def _parts(self) -> Mapping[str, Part]:
        """The parts and protections that are fitted, by name."""
        return {part.name: part for part in self.book.parts if self.holds(part.when)}

    @cached_property
    def signals(self) -> tuple[Signal, ...]:
        return tuple(
            self._signal(row, index)
            for row in self.book.terminals
            if self.holds(row.when)
            for index in self.members(row.repeat)
        )

    @cached_property
    def _checks(self) -> Mapping[str, list[Check]]:
        """The form's checks by what they judge."""
        found: dict[str, list[Check]] = {}
        for section in self.form.sections:
            for check in section.checks:
                found.setdefault(check.judges, []).append(check)
        return found

    # -- what is there -------------------------------------------------------------

    def holds(self, when: Node | None) -> bool:
        return when is None or evaluate(when, _Facts(self.calculation)).content is True

    def members(self, repeat: str) -> tuple[Index, ...]:
        if repeat not in self._members:
            entry = next(one for one in self.form.entries() if one.repeat == (repeat,))
            self._members[repeat] = self.calculation.members(entry.name)
        return self._members[repeat]

    def page_applies(self, name: str) -> bool:
        return self.holds(self.form.section_by_name[name].when)

    def applies(self, row: TestRow) -> bool:
        return self.page_applies(row.section) and self.holds(row.when)

    def reason(self, row: TestRow) -> str:
        """Return why a test is not there: a question not answered yet, or nothing fitted."""
        form = self.form
        trees = [tree for tree in (form.section_by_name[row.section].when, row.when) if tree]
        labels = [
            form.by_name[name].label
            for tree in trees
            for name in names_in(tree)
            if _Facts(self.calculation).value(name).state is State.MISSING
        ]
        if labels:
            return spoken("not answered yet: {labels}", labels=", ".join(dict.fromkeys(labels)))
        return spoken("not fitted")

    def parts(self, names: Sequence[str]) -> tuple[Part, ...]:
        return tuple(self._parts[name] for name in names if name in self._parts)

    # -- tests ---------------------------------------------------------------------

    def test(self, row: TestRow, index: Index) -> FunctionalTest:
        steps = tuple(self.step(row, step, index) for step in row.steps if self.holds(step.when))
        form = self.form
        marked = [mark.key.name for step in steps for mark in step.marks if mark.key]
        pages = dict.fromkeys([row.section, *(form.by_name[name].section for name in marked)])
        guards = dict.fromkeys(
            guard for page in pages for guard in form.section_by_name[page].guarded_by
        )
        return FunctionalTest(
            row.name,
            index,
            _numbered(row.title, index),
            row.section,
            self.parts(row.proves),
            row.cautions,
            tuple(guards),
            tuple(step for step in steps if step.marks),
            tuple(lane for lane in row.lanes if not lane.part or self.parts((lane.part,))),
        )

    def step(self, test: TestRow, row: StepRow, index: Index) -> FunctionalStep:
        return FunctionalStep(
            row.name,
            row.do,
            _numbered(row.call, index),
            self.terminals(row.signals, index),
            self.parts(row.run),
            self.parts(row.rest),
            row.ordered,
            tuple(self.marks(test, row, index)),
            row.danger,
            row.reset,
        )

    def marks(self, test: TestRow, row: StepRow, index: Index) -> Iterator[StepMark]:
        there = {CALL}
        asked = [mark for mark in row.marks if not mark.field or self._keys(test, mark, index)]
        if not any(mark.field for mark in asked):
            return
        for mark in asked:
            after = next((name for name in mark.after if name in there), CALL)
            there.add(mark.name)
            if not mark.field:
                yield StepMark(mark.name, None, mark.event, after)
            for key in self._keys(test, mark, index):
                yield self._mark(mark, key, after)

    def _keys(self, test: TestRow, mark: MarkRow, index: Index) -> list[Key]:
        """Return the members of a mark's field that this unit is asked for."""
        field = self.form.by_name.get(mark.field)
        if not isinstance(field, Field):
            return []
        self.calculation.members(field.name)  # counts the repeats
        own = (test.repeat,) if test.repeat else ()
        members = matching_members(field.repeat, own, index, self.calculation.counts)
        keys = [Key(field.name, member) for member in members]
        there = set(self.calculation.members(field.name))
        return [k for k in keys if k.index in there and self.calculation.relevant(k)]

    def _mark(self, mark: MarkRow, key: Key, after: str) -> StepMark:
        checks = self._checks.get(key.name, [])
        return StepMark(
            mark.name,
            key,
            mark.event,
            after,
            tuple(Key(check.name, key.index) for check in checks),
            any(check.severity is Severity.STOP for check in checks),
        )

    # -- terminals -----------------------------------------------------------------

    def terminals(self, names: Sequence[str], index: Index) -> tuple[str, ...]:
        """Return a step's terminals, "Y1..{n}" spelt out, without those that are not there."""
        there = [signal.terminal for signal in self.signals]
        found: list[str] = []
        for name in names:
            stem, _, is_range = name.partition("1..")
            wanted = [f"{stem}{n}" for n in range(1, index[0] + 1)] if is_range else [name]
            found += [terminal for terminal in wanted if terminal in there]
        return tuple(found)

    def _signal(self, row: TerminalRow, index: Index) -> Signal:
        energises = ", ".join(part.label for part in self.parts(row.energises))
        title = _numbered(row.title, index)
        return Signal(_numbered(row.name, index), title, energises, row.note)


def _numbered(text: str, index: Index) -> str:
    return text.replace("{n}", str(index[0])) if index else text
