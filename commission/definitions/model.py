"""What a form file declares, frozen: Form, Section, Field, Quantity, Check, Repeat.

Nothing here computes. Formulas are already parsed trees (`commission.formula.tree.Node`).
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from enum import StrEnum
from functools import cached_property
from typing import NamedTuple

from commission.formula.tree import Node
from commission.language import to_say


class Key(NamedTuple):
    """One instance of a named thing: `Key("suction_psig", (2,))` is circuit 2's.

    Indexes count from 1, one number for each repeat of the thing, in the order declared.
    """

    name: str
    index: tuple[int, ...] = ()  # type: ignore[assignment]  # tuple.index is not missed

    def __str__(self) -> str:
        return self.name + "".join(f"[{number}]" for number in self.index)


class Kind(StrEnum):
    """What a field holds. `item` is a thing to be done: done, not done."""

    NUMBER = "number"
    INTEGER = "integer"
    CHOICE = "choice"
    YES_NO = "yes_no"
    ITEM = "item"
    TEXT = "text"
    NOTE = "note"
    DATE = "date"
    TIME = "time"
    TABLE = "table"


ITEM_CHOICES = ("done", "not done")
YES_NO_CHOICES = ("yes", "no")


class LimitKind(StrEnum):
    """How a value is held to a limit."""

    RANGE = to_say("range")
    AT_MOST = to_say("at most")
    AT_LEAST = to_say("at least")
    TARGET = to_say("target")
    IS = to_say("is")


class Severity(StrEnum):
    """What a failed check means: the work stops, a deficiency, or worth knowing."""

    STOP = "stop"
    FAIL = "fail"
    NOTE = "note"


class Basis(StrEnum):
    """Where a default limit comes from. `nameplate` limits are computed from entered readings."""

    COMMON_PRACTICE = "common practice"
    PUBLISHED = "published"
    NAMEPLATE = "nameplate"


class Level(StrEnum):
    """Whether a section is asked once for the project or once for each unit."""

    PROJECT = "project"
    UNIT = "unit"


@dataclass(frozen=True, slots=True)
class Repeat:
    """A thing asked once per circuit, compressor, leg ...

    `count` is a formula over configuration fields (a number); `members` names fixed members
    (the first `count` of them are used); `label` has `{n}` for the number, or `{member}`.
    """

    name: str
    label: str
    count: Node
    maximum: int
    members: tuple[str, ...] = ()

    def member_label(self, number: int) -> str:
        """Return what member `number` (from 1) is called on pages and in outputs."""
        member = self.members[number - 1] if number <= len(self.members) else str(number)
        return self.label.format(n=number, member=member)


@dataclass(frozen=True, slots=True)
class Axis:
    """What one direction of a table holds."""

    label: str
    unit: str = ""
    decimals: int | None = None


@dataclass(frozen=True, slots=True)
class Field:
    """One thing that is asked. `possible` refuses; `plausible` warns of a slip of unit.

    A table has `rows`, `columns` (None: one value a row) and `body`, each with its own unit.
    """

    name: str
    label: str
    kind: Kind
    section: str
    repeat: tuple[str, ...] = ()
    unit: str = ""
    decimals: int | None = None
    symbol: str = ""
    choices: tuple[str, ...] = ()
    when: Node | None = None
    required: bool = True
    how: str = ""
    caution: str = ""
    instrument: str = ""
    photo: bool = False
    possible: tuple[float, float] | None = None
    plausible: tuple[float, float] | None = None
    rows: Axis | None = None
    columns: Axis | None = None
    body: Axis | None = None


@dataclass(frozen=True, slots=True)
class Quantity:
    """A computed value: formula, unit, source."""

    name: str
    label: str
    section: str
    formula: Node
    source: str
    repeat: tuple[str, ...] = ()
    unit: str = ""
    decimals: int | None = None
    symbol: str = ""
    when: Node | None = None
    text: bool = False


@dataclass(frozen=True, slots=True)
class Check:
    """What a reading or quantity is held to.

    For each limit kind the parts are: range low/high; at most high; at least low; target
    target and tolerance (in the unit of what is judged) or tolerance_percent; is expected.
    A part with a tree here is a default, and `basis` says where it comes from; a part
    without must be entered by the person.
    """

    name: str
    label: str
    section: str
    judges: str
    limit: LimitKind
    severity: Severity
    repeat: tuple[str, ...] = ()
    unit: str = ""
    decimals: int | None = None
    low: Node | None = None
    high: Node | None = None
    target: Node | None = None
    tolerance: Node | None = None
    tolerance_percent: Node | None = None
    expected: str = ""
    basis: Basis | None = None
    source: str = ""
    when: Node | None = None
    cure: str = ""

    @property
    def parts(self) -> tuple[str, ...]:
        """Names of the limit parts a person can enter, in order."""
        by_percent = self.tolerance_percent is not None
        return {
            LimitKind.RANGE: ("low", "high"),
            LimitKind.AT_MOST: ("high",),
            LimitKind.AT_LEAST: ("low",),
            LimitKind.TARGET: ("target", "tolerance_percent" if by_percent else "tolerance"),
            LimitKind.IS: (),
        }[self.limit]


Entry = Field | Quantity | Check


class FigureKind(StrEnum):
    """What a figure is; each kind has its own roles (`commission.definitions.figures`)."""

    PSYCHROMETRIC = "psychrometric chart"
    PRESSURE_ENTHALPY = "pressure-enthalpy sketch"
    PRESSURE_PROFILE = "pressure profile"
    TRAVERSE = "traverse map"
    MIXING = "mixing diagram"
    UNIT = "unit diagram"


@dataclass(frozen=True, slots=True)
class FigurePoint:
    """One marked point of a figure: role -> name of the entry; `place` in a unit diagram."""

    name: str
    label: str
    uses: Mapping[str, str]
    place: str = ""


@dataclass(frozen=True, slots=True)
class FigureProcess:
    """A line from one point of a figure to another, by their names."""

    label: str
    start: str
    end: str


@dataclass(frozen=True, slots=True)
class Figure:
    """A drawing of entries, which it names by role; it computes nothing and is no entry."""

    name: str
    label: str
    kind: FigureKind
    section: str
    uses: Mapping[str, str]
    points: tuple[FigurePoint, ...] = ()
    processes: tuple[FigureProcess, ...] = ()
    repeat: tuple[str, ...] = ()
    when: Node | None = None
    source: str = ""


@dataclass(frozen=True, slots=True)
class Section:
    """A page of the form. `guarded_by` names stop checks that must pass before it."""

    name: str
    title: str
    level: Level
    entries: tuple[Entry, ...]
    stage: str = ""
    intro: str = ""
    cautions: tuple[str, ...] = ()
    guarded_by: tuple[str, ...] = ()
    when: Node | None = None
    file: str = ""
    figures: tuple[Figure, ...] = ()

    @property
    def fields(self) -> tuple[Field, ...]:
        """The things asked on this page, in order."""
        return tuple(entry for entry in self.entries if isinstance(entry, Field))

    @property
    def quantities(self) -> tuple[Quantity, ...]:
        """The things computed on this page, in order."""
        return tuple(entry for entry in self.entries if isinstance(entry, Quantity))

    @property
    def checks(self) -> tuple[Check, ...]:
        """The things judged on this page, in order."""
        return tuple(entry for entry in self.entries if isinstance(entry, Check))


@dataclass(frozen=True)
class Form:
    """A whole form: sections in order, repeats, identity.

    `across` names the numbers that are set beside one another, unit by unit, in their order.
    """

    id: str
    version: str
    title: str
    content_hash: str
    repeats: Mapping[str, Repeat]
    sections: tuple[Section, ...]
    across: tuple[str, ...] = ()

    def entries(self) -> Iterator[Entry]:
        """Yield all fields, quantities and checks in page order."""
        for section in self.sections:
            yield from section.entries

    @cached_property
    def by_name(self) -> Mapping[str, Entry]:
        """All entries by name; names are unique in a form."""
        return {entry.name: entry for entry in self.entries()}

    @cached_property
    def stops_on(self) -> Mapping[str, tuple[str, ...]]:
        """The stop checks that judge each entry which any stop check judges."""
        found: dict[str, tuple[str, ...]] = {}
        for entry in self.entries():
            if isinstance(entry, Check) and entry.severity is Severity.STOP:
                found[entry.judges] = (*found.get(entry.judges, ()), entry.name)
        return found

    @cached_property
    def section_by_name(self) -> Mapping[str, Section]:
        """Sections by name."""
        return {section.name: section for section in self.sections}

    def section_of(self, name: str) -> Section:
        """Return the section in which the entry `name` stands."""
        return self.section_by_name[self.by_name[name].section]
