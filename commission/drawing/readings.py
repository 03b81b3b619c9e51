"""What a figure draws, looked up by role in a unit's results, and what is wanting for it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from commission.definitions.figures import RULES
from commission.definitions.model import Figure, FigurePoint, Key
from commission.formula.evaluate import State, Value
from commission.formula.graph import Index
from commission.language import spoken
from commission.units import convert, shown_unit
from commission.validation.results import UnitResults


@dataclass(frozen=True, slots=True)
class Wanting:
    """A figure that cannot be drawn, and the one line that says why."""

    title: str
    sentence: str


@dataclass(frozen=True, slots=True)
class Measure:
    """How numbers given in a form's unit are shown: the unit, and the conversion to it."""

    unit: str
    shown: str

    def of(self, value: float) -> float:
        """Return a value in the unit shown."""
        return convert(value, self.unit, self.shown)

    def back(self, value: float) -> float:
        """Return a value shown in the form's unit."""
        return convert(value, self.shown, self.unit)


@dataclass(frozen=True, slots=True)
class FigureReadings:
    """One member of a figure and the results that it draws."""

    results: UnitResults
    figure: Figure
    index: Index

    # -- entries by name -------------------------------------------------------------

    def key(self, name: str) -> Key:
        """Return the member of an entry that belongs to this member of the figure."""
        return self.results.calculation.figure_scope(self.figure, self.index).key(name)

    def keys(self, name: str) -> list[Key]:
        """Return all members of an entry that belong to this member of the figure."""
        return self.results.calculation.figure_scope(self.figure, self.index).member_keys(name)

    def value(self, name: str) -> Value:
        """Return an entry's value."""
        return self.results.value(*self.key(name))

    # -- by role ---------------------------------------------------------------------

    def number(self, role: str) -> float | None:
        """Return the number in a role, or None if there is none."""
        name = self.figure.uses.get(role)
        return self.value(name).number if name else None

    def given(self, role: str) -> float:
        """Return the number in a role that `wanting` has found to be there."""
        number = self.number(role)
        assert number is not None, role
        return number

    def text(self, role: str) -> str:
        """Return the text in a role, or ""."""
        name = self.figure.uses.get(role)
        content = self.value(name).content if name else None
        return content if isinstance(content, str) else ""

    def shown(self, role: str) -> str:
        """Return the value in a role as text with its unit."""
        name = self.figure.uses.get(role, "")
        return self.results.shown(*self.key(name)) if name else ""

    def point_number(self, point: FigurePoint, role: str) -> float | None:
        """Return a number of a point, or None."""
        name = point.uses.get(role)
        return self.value(name).number if name else None

    # -- what is not there -----------------------------------------------------------

    def unread(self, names: Iterable[str]) -> list[str]:
        """Return the labels of the readings that are wanting for some entries."""
        found: dict[str, None] = {}
        for name in names:
            value = self.value(name)
            if value.state is State.KNOWN:
                continue
            label = self.results.label(self.key(name))
            if value.state is State.MISSING and value.reason:
                found.update(dict.fromkeys(value.reason.split("; ")))
            elif value.state is State.FAULT:
                found[spoken("{label} (cannot be computed)", label=label)] = None
            else:
                found[label] = None
        return list(found)

    def required(self) -> list[str]:
        """Return the entries without which the figure cannot be drawn."""
        roles = RULES[self.figure.kind].uses
        return [
            self.figure.uses[r] for r, role in roles.items() if role.required and not role.spread
        ]

    def wanting(self, names: Iterable[str]) -> Wanting | None:
        """Return what is wanting if any of some entries has no value."""
        unread = self.unread(names)
        return self.refused(unread) if unread else None

    def refused(self, unread: Iterable[str]) -> Wanting:
        """Return the line that names the readings that are wanting."""
        listed = "; ".join(unread)
        return Wanting(self.title, spoken("Not drawn yet. Wanting: {listed}.", listed=listed))

    def is_asked(self, point: FigurePoint) -> bool:
        """Return whether this configuration has all that a point names."""
        return all(self.results.relevant(*self.key(name)) for name in point.uses.values())

    # -- words -----------------------------------------------------------------------

    @property
    def title(self) -> str:
        """The figure's label, with its member."""
        form = self.results.form
        members = [
            form.repeats[repeat].member_label(number)
            for repeat, number in zip(self.figure.repeat, self.index, strict=True)
        ]
        return ", ".join([self.figure.label, *members])

    def measure(self, unit: str) -> Measure:
        """Return how numbers in a unit are shown in this project."""
        return Measure(unit, shown_unit(unit, self.results.unit_system))

    def words(self, number: float, unit: str, decimals: int | None) -> str:
        """Return a number given in a form's unit as shown in this project, with its unit."""
        return self.results.shown_number(number, unit, decimals)
