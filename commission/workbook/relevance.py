"""Which members of an entry get a row: those asked now, and those an edit could bring in.

The configuration decides which pages and rows a workbook has, so its answers are locked.
Where relevance hangs on something that can be typed in the workbook ("if the barometer was
read"), the row is there from the start and comes alive with the answer; what formulas read
of such a field is a working cell that says "n/a" while it is not asked (`gated`).
"""

from __future__ import annotations

from dataclasses import dataclass, field

from commission.definitions.model import Check, Field, Key, Level, Section
from commission.formula.evaluate import State, evaluate
from commission.formula.graph import Index
from commission.formula.tree import Node, names_in
from commission.validation.blank import counting_names
from commission.validation.plan import Plan
from commission.validation.results import UnitResults


def fixed_names(plan: Plan) -> frozenset[str]:
    """Return the fields that decide which pages and rows there are.

    Whatever decides pages or counts, and on the pages of fields that decide another page
    also every field that any relevance uses.
    """
    form = plan.form
    structural = {name for name in plan.structural if isinstance(plan.entries[name], Field)}
    pages = {
        plan.entries[name].section
        for section in form.sections
        for name in (names_in(section.when) if section.when is not None else ())
    }
    used = {
        name
        for entry in form.entries()
        for name in (names_in(entry.when) if entry.when is not None else ())
    }
    beside = {name for name in used if plan.entries[name].section in pages}
    return frozenset(structural | {n for n in beside if isinstance(plan.entries[n], Field)})


def open_names(results: UnitResults, fixed: frozenset[str]) -> frozenset[str]:
    """Return the fixed names that a blank workbook still asks: unanswered, and no counts.

    How many rows there are cannot be left open; which pages there are can, since all that
    may follow from an answer is drawn.
    """
    plan = results.calculation.plan
    unanswered = {
        name
        for name in fixed - counting_names(plan)
        if all(
            results.value(name, index).state is State.MISSING or not results.relevant(name, index)
            for index in results.members(name)
        )
    }
    return frozenset(unanswered)


@dataclass
class Relevance:
    """Rows of one unit (or of the project's pages)."""

    results: UnitResults
    fixed: frozenset[str]
    _drawn: dict[Key, bool] = field(default_factory=dict)
    _gated: dict[Key, bool] = field(default_factory=dict)

    def members(self, name: str) -> tuple[Index, ...]:
        """Return the members of an entry that get a row, in reading order."""
        return tuple(index for index in self.results.members(name) if self.drawn(Key(name, index)))

    def drawn(self, key: Key) -> bool:
        """Return whether a member gets a row."""
        if key not in self._drawn:
            self._drawn[key] = self._decide(key)
        return self._drawn[key]

    def _decide(self, key: Key) -> bool:
        entry = self.results.calculation.plan.entries[key.name]
        if isinstance(entry, Check) and not self.drawn(Key(entry.judges, key.index)):
            return False
        if self.results.relevant(key.name, key.index):
            return True
        page = self.results.form.section_by_name[entry.section]
        if not self.results.section_applies(page) and not self._may_apply(page, key):
            return False
        return entry.when is None or self._may_hold(entry.when, key)

    def pages(self) -> tuple[Section, ...]:
        """Return the pages that the unit has, or may come to have by an answer typed here."""
        level = Level.UNIT if self.results.unit_id else Level.PROJECT
        return tuple(
            section
            for section in self.results.form.sections
            if section.level is level
            and (
                self.results.section_applies(section)
                or any(self.members(entry.name) for entry in section.entries)
            )
        )

    def _may_apply(self, page: Section, key: Key) -> bool:
        return page.when is not None and self._may_hold(page.when, key)

    def _may_hold(self, tree: Node, key: Key) -> bool:
        """Return whether a condition holds, or may by an answer typed in the workbook."""
        scope = self.results.calculation.scope(key)
        value = evaluate(tree, scope)
        if value.state is State.KNOWN and bool(value.content):
            return True
        names = names_in(tree)
        there = all(self.drawn(scope.key(name)) for name in names)
        return there and any(self._editable(scope.key(name)) for name in names)

    def gated(self, key: Key) -> bool:
        """Return whether an answer typed in the workbook decides if this field is asked."""
        entry = self.results.calculation.plan.entries[key.name]
        if not isinstance(entry, Field):
            return False
        if key not in self._gated:
            trees = (self.results.form.section_by_name[entry.section].when, entry.when)
            names = {name for tree in trees if tree is not None for name in names_in(tree)}
            scope = self.results.calculation.scope(key)
            self._gated[key] = any(self._editable(scope.key(name)) for name in sorted(names))
        return self._gated[key]

    def _editable(self, key: Key) -> bool:
        plan = self.results.calculation.plan
        if isinstance(plan.entries[key.name], Field):
            return key.name not in self.fixed
        return any(self._can_change(used) for used in plan.dependencies[key.name])

    def _can_change(self, name: str) -> bool:
        plan = self.results.calculation.plan
        if isinstance(plan.entries[name], Field):
            return name not in self.fixed
        return any(self._can_change(used) for used in plan.dependencies[name])
