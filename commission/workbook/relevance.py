"""Which members of an entry get a row: those asked now, and those an edit could bring in.

The configuration decides which pages and rows a workbook has, so its answers are locked.
Where relevance hangs on something that can be typed in the workbook ("if the barometer was
read"), the row is there from the start, says "n/a", and comes alive with the answer.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from commission.definitions.model import Check, Field, Key
from commission.formula.graph import Index
from commission.formula.tree import names_in
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


@dataclass
class Relevance:
    """Rows of one unit (or of the project's pages)."""

    results: UnitResults
    fixed: frozenset[str]
    _drawn: dict[Key, bool] = field(default_factory=dict)

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
        if entry.when is None or not self.results.section_applies(page):
            return False
        names = names_in(entry.when)
        scope = self.results.calculation.scope(key)
        there = all(self.drawn(scope.key(name)) for name in names)
        return there and any(self._editable(scope.key(name)) for name in names)

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
