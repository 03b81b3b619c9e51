"""What every output draws: one unit's pages with values, work, limits, verdicts, progress.

A `UnitResults` only reads; the window holds a live one, workbook and package take the one
they are given. None of them computes anything of its own.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import TypeVar

from commission.definitions.model import (
    Check,
    Field,
    Figure,
    Form,
    Key,
    Kind,
    Level,
    Quantity,
    Section,
    Severity,
)
from commission.engineering.chart import Chart
from commission.errors import ReadingError
from commission.formula.evaluate import MISSING, Scope, State, Value, chosen_branch, compute
from commission.formula.figures import with_unit
from commission.formula.functions import FUNCTIONS, FunctionKind
from commission.formula.graph import Index
from commission.formula.tree import NUMBER_OF, Call, Name, Node, walk
from commission.formula.work import Leaf, Members, WorkLine, written
from commission.language import spoken
from commission.project import Override, Reading
from commission.units import convert, shown_unit
from commission.validation.calculation import Calculation
from commission.validation.table_entry import bracket_words, shown_chart, size_of_text
from commission.validation.verdict import AppliedLimit, Outcome, Verdict

T = TypeVar("T")


class SectionState(StrEnum):
    """How a page stands, the gravest first."""

    STOPPED = "stopped"
    BLOCKED = "blocked"
    FAILING = "failing"
    INCONCLUSIVE = "inconclusive"
    MISSING = "missing"
    EMPTY = "not started"
    DONE = "done"
    NOT_APPLICABLE = "not applicable"


@dataclass(frozen=True, slots=True)
class Progress:
    """Counts over one page or one unit."""

    asked: int
    answered: int
    outcomes: Mapping[Outcome, int]
    stops: int

    @property
    def unanswered(self) -> int:
        """Required readings that are not there."""
        return self.asked - self.answered


@dataclass(frozen=True)
class UnitResults:
    """One unit's results. `tag` is "" for the pages asked once for the project."""

    calculation: Calculation
    tag: str = ""
    unit_id: str = ""
    readings: Mapping[Key, Reading] | None = None
    overrides: Sequence[Override] = ()
    unit_system: str = "IP"
    pass_name: str = ""

    @property
    def form(self) -> Form:
        """The form these results answer."""
        return self.calculation.plan.form

    # -- pages ---------------------------------------------------------------------

    def sections(self) -> tuple[Section, ...]:
        """Return the pages of this unit (or of the project) that its configuration has."""
        level = Level.UNIT if self.unit_id else Level.PROJECT
        return tuple(
            section
            for section in self.form.sections
            if section.level is level and self.section_applies(section)
        )

    def section_applies(self, section: Section) -> bool:
        """Return whether the configuration has this page and any member on it."""
        return any(self.asked_members(entry.name) for entry in section.entries)

    def asked_members(self, name: str) -> tuple[Index, ...]:
        """Return the members of an entry that the configuration asks for."""
        return self.calculation.asked_members(name)

    def members(self, name: str) -> tuple[Index, ...]:
        """Return all members of an entry."""
        return self.calculation.members(name)

    def relevant(self, name: str, index: Index = ()) -> bool:
        """Return whether one member is asked, computed or judged."""
        return self.calculation.relevant(Key(name, index))

    def member_label(self, name: str, index: Index) -> str:
        """Return "Circuit 2" or "Compressor 1 · L2", or "" without repeats."""
        repeats = self.calculation.plan.repeats[name]
        form = self.form
        labels = (
            form.repeats[repeat].member_label(number)
            for repeat, number in zip(repeats, index, strict=True)
        )
        return " · ".join(labels)

    def figures(self, section: Section) -> list[tuple[Figure, Index]]:
        """Return the figures of a page that this configuration has, each with its member."""
        if not self.section_applies(section):
            return []
        return [
            (figure, index)
            for figure in section.figures
            for index in self.calculation.figure_members(figure)
        ]

    # -- values --------------------------------------------------------------------

    def value(self, name: str, index: Index = ()) -> Value:
        """Return a field's or quantity's value in the form's own unit."""
        return self.calculation.values.get(Key(name, index), MISSING)

    def reading(self, name: str, index: Index = ()) -> Reading | None:
        """Return the reading in force for a field."""
        return self.readings.get(Key(name, index)) if self.readings else None

    def shown_unit(self, name: str) -> str:
        """Return the unit in which an entry is shown, by the project's unit system."""
        return shown_unit(self.calculation.plan.entries[name].unit, self.unit_system)

    def shown(self, name: str, index: Index = ()) -> str:
        """Return a value as text with its unit; "" while missing."""
        value = self.value(name, index)
        entry = self.calculation.plan.entries[name]
        if value.state is State.NOT_APPLICABLE:
            return "n/a"
        if value.state is State.FAULT:
            return spoken("out of range")
        if value.number is None:
            return self._words(name, value)
        return self.shown_number(value.number, entry.unit, entry.decimals)

    def table(self, name: str, index: Index = ()) -> Chart | None:
        """Return a typed table in the units that the project shows, or None while there is none.

        A kept text that is no table (from a damaged file) is none either.
        """
        asked = self.calculation.plan.entries[name]
        content = self.value(name, index).content
        if not isinstance(asked, Field) or asked.kind is not Kind.TABLE or content is None:
            return None
        try:
            return shown_chart(asked, str(content), self.unit_system)
        except ReadingError:
            return None

    def _is_table(self, name: str) -> bool:
        entry = self.calculation.plan.entries[name]
        return isinstance(entry, Field) and entry.kind is Kind.TABLE

    def _words(self, name: str, value: Value) -> str:
        """Return a content that is no number; a table is told by its size."""
        if value.content is None:
            return ""
        if self._is_table(name):
            return size_of_text(str(value.content))
        # What a formula or a choice says is said anew; what a person wrote stays as written.
        entry = self.calculation.plan.entries[name]
        is_free = isinstance(entry, Field) and not entry.choices
        return str(value.content) if is_free else spoken(str(value.content))

    def shown_number(self, number: float, unit: str, decimals: int | None) -> str:
        """Return a number given in a form's unit as shown in the project's unit system."""
        target = shown_unit(unit, self.unit_system)
        if target == unit:
            return with_unit(number, unit, decimals)
        return with_unit(convert(number, unit, target), target, None)

    def expanded(self, name: str, index: Index = ()) -> float | None:
        """Return the expanded uncertainty, or None where no instrument is named."""
        return self.calculation.expanded(Key(name, index))

    def uncertainty_shares(self, name: str, index: Index = ()) -> dict[str, float]:
        """Return each instrument's share of the variance, largest first."""
        return self.calculation.budget(Key(name, index)).shares()

    def dominating_reading(self, name: str, index: Index = ()) -> Key | None:
        """Return the reading that dominates the uncertainty of a value."""
        return self.calculation.dominating_reading(Key(name, index))

    def label(self, key: Key) -> str:
        """Return an entry's label with its member, such as "Suction pressure, Circuit 1"."""
        member = self.member_label(key.name, key.index)
        label = self.calculation.plan.entries[key.name].label
        return f"{label}, {member}" if member else label

    # -- shown work ----------------------------------------------------------------

    def work(self, name: str, index: Index = ()) -> WorkLine | None:
        """Return a quantity's shown work, or None while it has no value."""
        entry = self.calculation.plan.entries[name]
        key = Key(name, index)
        value = self.value(name, index)
        if not isinstance(entry, Quantity) or value.state is not State.KNOWN:
            return None
        scope = self.calculation.scope(key)
        branch = chosen_branch(entry.formula, scope)
        if isinstance(branch, Value):
            return None
        return WorkLine(
            symbol=entry.symbol or entry.label,
            symbols=written(branch, self._symbol, lambda used: [self._symbol(used)]),
            numbers=self._numbers(branch, scope),
            result=self._converted(name, value),
        )

    def worked(self, key: Key, write: Callable[[Node, Leaf, Members], T]) -> tuple[T, T] | None:
        """Return the branch in use of a quantity's formula as `write` gives it.

        Args:
            key: a quantity's member.
            write: called with the branch, and with what writes the names in it.
        Returns:
            (in symbols, in numbers); None where no branch is known.
        """
        entry = self.calculation.plan.entries[key.name]
        assert isinstance(entry, Quantity)
        scope = self.calculation.scope(key)
        branch = chosen_branch(entry.formula, scope)
        if isinstance(branch, Value):
            return None
        symbols = write(branch, self._symbol, lambda used: [self._symbol(used)])
        return symbols, write(branch, *self._writers(scope))

    def _numbers(self, branch: Node, scope: Scope) -> str:
        told = written(branch, *self._writers(scope))
        return "; ".join([told, *self._brackets(branch, scope)])

    def _writers(self, scope: Scope) -> tuple[Leaf, Members]:
        def leaf(used: str) -> str:
            if used.startswith(f"{NUMBER_OF} "):
                return str(scope.number_of(used.removeprefix(f"{NUMBER_OF} ")))
            return self._symbol(used) if self._is_table(used) else self._ip(used, scope.value(used))

        def members(used: str) -> list[str]:
            return [self._ip(used, value) for value in scope.members(used)]

        return leaf, members

    def _brackets(self, branch: Node, scope: Scope) -> Iterator[str]:
        """Yield, for each look-up in a typed table, the values between which it reads."""
        for node in walk(branch):
            if not isinstance(node, Call):
                continue
            function = FUNCTIONS[node.function]
            if function.kind is not FunctionKind.ENTERED:
                continue
            table, row, *column = (compute(part, scope) for part in node.arguments)
            if function.result == "rows":
                row = function.compute(table, row, *column)
            assert isinstance(node.arguments[0], Name)
            asked = self.calculation.plan.entries[node.arguments[0].name]
            assert isinstance(asked, Field)
            at = float(column[0]) if column else None
            yield bracket_words(asked, str(table), float(row), at)

    def _converted(self, name: str, value: Value) -> str:
        """Return the result in the form's unit and, where another is shown, in that as well."""
        result = self._ip(name, value)
        entry = self.calculation.plan.entries[name]
        if value.number is None or self.shown_unit(name) == entry.unit:
            return result
        return f"{result} = {self.shown_number(value.number, entry.unit, entry.decimals)}"

    def _symbol(self, name: str) -> str:
        if name.startswith(f"{NUMBER_OF} "):
            repeat = self.form.repeats[name.removeprefix(f"{NUMBER_OF} ")]
            label = repeat.label.format(n="", member="").strip().lower()
            return spoken("number of {what}", what=label or repeat.name)
        entry = self.calculation.plan.entries[name]
        symbol = "" if isinstance(entry, Check) else entry.symbol
        return symbol or entry.label.lower()

    def _ip(self, name: str, value: Value) -> str:
        entry = self.calculation.plan.entries[name]
        if value.number is None:
            return self._words(name, value)
        return with_unit(value.number, entry.unit, entry.decimals)

    # -- limits and verdicts -------------------------------------------------------

    def limit(self, check: str, index: Index = ()) -> AppliedLimit:
        """Return the limit in force."""
        return self.calculation.limit(Key(check, index))

    def limit_text(self, verdict: Verdict) -> str:
        """Return the limit as people write it: "8.0 to 12.0 Δ°F", "at most 2.0 %"."""
        check = verdict.check
        if check.expected:
            return spoken(check.expected)
        bounds = verdict.limit.bounds(check.limit)
        if bounds is None:
            return ""
        low, high = bounds
        if low is not None and high is not None:
            low_text = self.shown_number(low, check.unit, check.decimals)
            first = low_text.removesuffix(f" {shown_unit(check.unit, self.unit_system)}")
            top = self.shown_number(high, check.unit, check.decimals)
            return spoken("{first} to {last}", first=first, last=top)
        if low is not None:
            return spoken("at least {low}", low=self.shown_number(low, check.unit, check.decimals))
        return spoken(
            "at most {high}", high=self.shown_number(high or 0.0, check.unit, check.decimals)
        )

    def verdict(self, check: str, index: Index = ()) -> Verdict:
        """Return one verdict."""
        return self.calculation.verdicts[Key(check, index)]

    def verdicts(self, section: Section | None = None) -> Iterator[Verdict]:
        """Yield the verdicts of a page, or of all pages, for members that are asked."""
        for page in (section,) if section is not None else self.sections():
            for check in page.checks:
                for index in self.asked_members(check.name):
                    yield self.verdict(check.name, index)

    def verdicts_on(self, name: str, index: Index = ()) -> list[Verdict]:
        """Return the verdicts that judge one field or quantity member."""
        return [
            self.verdict(check.name, index)
            for check in self.calculation.plan.judging.get(name, ())
            if self.relevant(check.name, index)
        ]

    def stops(self) -> list[Verdict]:
        """Return the stops that stand, overridden ones too."""
        return [verdict for verdict in self.verdicts() if verdict.stops]

    def override_of(self, verdict: Verdict) -> Override | None:
        """Return by whom and why work went past a stop, or None."""
        for override in self.overrides:
            if override.check == verdict.check.name and tuple(override.index) == verdict.index:
                return override
        return None

    def blocking(self, section: Section) -> list[Verdict]:
        """Return the guards of a page that hold it: not passed, and nobody answers for it.

        A guard answered "n/a" with a reason lets the page go only if the reading names its
        person; name and reason then stand beside the overrides (`waivers`).
        """
        return [
            verdict
            for name in section.guarded_by
            for index in self.asked_members(name)
            if not self._lets_go(verdict := self.verdict(name, index))
        ]

    def _lets_go(self, verdict: Verdict) -> bool:
        if verdict.outcome is Outcome.PASS or self.override_of(verdict) is not None:
            return True
        if verdict.outcome is not Outcome.NOT_APPLICABLE:
            return False
        waiving = self._waiving(verdict)
        return bool(waiving) and all(reading.person_id for reading in waiving)

    def _waiving(self, verdict: Verdict) -> list[Reading]:
        """Return the readings answered "n/a" on which a not applicable verdict rests."""
        used = self.calculation.plan.used_by(verdict.check.judges)
        return [
            reading
            for key, reading in (self.readings or {}).items()
            if reading.not_applicable and key.name in used
        ]

    def waivers(self) -> list[tuple[Verdict, list[Reading]]]:
        """Return the stops that somebody marked not applicable, with those readings."""
        return [
            (verdict, waiving)
            for verdict in self.verdicts()
            if verdict.check.severity is Severity.STOP
            and verdict.outcome is Outcome.NOT_APPLICABLE
            and (waiving := self._waiving(verdict))
        ]

    # -- progress ------------------------------------------------------------------

    def progress(self, section: Section | None = None) -> Progress:
        """Return the counts of a page, or of all pages."""
        asked = answered = 0
        for page in (section,) if section is not None else self.sections():
            for field in page.fields:
                members = self.asked_members(field.name) if field.required else ()
                if members:
                    states = [self.value(field.name, i).state for i in members]
                    asked += len(states)
                    answered += sum(state is not State.MISSING for state in states)
        verdicts = list(self.verdicts(section))
        outcomes = Counter(verdict.outcome for verdict in verdicts)
        return Progress(asked, answered, outcomes, sum(verdict.stops for verdict in verdicts))

    def state(self, section: Section) -> SectionState:
        """Return how a page stands."""
        if not self.section_applies(section):
            return SectionState.NOT_APPLICABLE
        progress = self.progress(section)
        outcomes = progress.outcomes
        failing = any(
            verdict.outcome is Outcome.FAIL and verdict.check.severity is not Severity.NOTE
            for verdict in self.verdicts(section)
        )
        if progress.stops:
            return SectionState.STOPPED
        if self.blocking(section):
            return SectionState.BLOCKED
        if failing:
            return SectionState.FAILING
        if outcomes.get(Outcome.INCONCLUSIVE):
            return SectionState.INCONCLUSIVE
        if progress.asked and not progress.answered and not outcomes.get(Outcome.PASS):
            return SectionState.EMPTY
        if progress.unanswered or outcomes.get(Outcome.MISSING):
            return SectionState.MISSING
        return SectionState.DONE
