"""Where each value, verdict, limit and uncertainty stands, and what it is called.

Formulas refer to cells by defined names that read like the form: `u1_suction_psig_2` is
unit 1's suction pressure of circuit 2, `p_site_elevation_ft` the project's elevation. Each
name holds an underscore behind a letter and digits, so none can be taken for a cell.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from itertools import groupby

from commission.definitions.model import Check, Field, Key, Kind, Level, Quantity
from commission.errors import CommissionError
from commission.formula.evaluate import State, evaluate
from commission.formula.functions import FUNCTIONS
from commission.formula.tree import Call
from commission.validation.results import UnitResults
from commission.workbook.look_ups import LOOK_UPS, LookUps
from commission.workbook.words import tab

_LONGEST_NAME = 255


@dataclass(frozen=True, slots=True, order=True)
class Cell:
    """One cell; row and column count from 0."""

    sheet: str
    row: int
    column: int

    @property
    def local(self) -> str:
        """The address within its own sheet, such as "$B$5"."""
        return f"${column_letters(self.column)}${self.row + 1}"

    @property
    def absolute(self) -> str:
        """The address from anywhere, such as "'RTU-1 Nameplate'!$B$5"."""
        return f"'{self.sheet}'!{self.local}"


def column_letters(column: int) -> str:
    """Return the letters of a column counted from 0."""
    letters = ""
    column += 1
    while column:
        column, rest = divmod(column - 1, 26)
        letters = chr(ord("A") + rest) + letters
    return letters


def joined_ranges(cells: Iterable[Cell]) -> str:
    """Return cells as a comma-separated list of ranges, runs down or across joined."""
    ordered = sorted(set(cells), key=lambda cell: (cell.sheet, cell.column, cell.row))
    columns: list[tuple[Cell, Cell]] = []
    for _, run in groupby(
        enumerate(ordered),
        key=lambda pair: (pair[1].sheet, pair[1].column, pair[1].row - pair[0]),
    ):
        members = [cell for _, cell in run]
        columns.append((members[0], members[-1]))
    return ",".join(_range_text(first, last) for first, last in _side_by_side(columns))


def _side_by_side(runs: list[tuple[Cell, Cell]]) -> list[tuple[Cell, Cell]]:
    """Join runs of equal rows in neighbouring columns to blocks."""
    blocks: list[tuple[Cell, Cell]] = []
    for first, last in sorted(runs, key=lambda run: (run[0].sheet, run[0].row, run[0].column)):
        if blocks:
            start, end = blocks[-1]
            level = (start.sheet, start.row, end.row) == (first.sheet, first.row, last.row)
            if level and end.column + 1 == first.column:
                blocks[-1] = (start, last)
                continue
        blocks.append((first, last))
    return blocks


def _range_text(first: Cell, last: Cell) -> str:
    return first.absolute if first == last else f"{first.absolute}:{last.local}"


@dataclass
class Addresses:
    """All cells that formulas refer to, by what they hold.

    `owner` is a unit's number from 1, or 0 for the project's own pages.
    """

    names: dict[str, Cell] = field(default_factory=dict)
    _folded: set[str] = field(default_factory=set)
    _values: dict[tuple[int, Key], tuple[str, Cell]] = field(default_factory=dict)
    _further: dict[tuple[int, Key, str], str] = field(default_factory=dict)
    look_ups: LookUps = field(default_factory=LookUps)

    def claim(self, wanted: str, cell: Cell) -> str:
        """Name a cell; a name that is taken gets a number more."""
        name, number = wanted[:_LONGEST_NAME], 2
        while name.casefold() in self._folded:
            end = f"__{number}"
            name = wanted[: _LONGEST_NAME - len(end)] + end
            number += 1
        self._folded.add(name.casefold())
        self.names[name] = cell
        return name

    def add_value(self, owner: int, key: Key, cell: Cell) -> str:
        """Place a reading, a result or a verdict in a cell; return its name."""
        name = self.claim(readable_name(owner, key), cell)
        self._values[owner, key] = (name, cell)
        return name

    def add_further(self, owner: int, key: Key, what: str, cell: Cell) -> str:
        """Place something that belongs to a key ("low", "uncertainty") in a cell."""
        name = self.claim(f"{readable_name(owner, key)}_{what}", cell)
        self._further[owner, key, what] = name
        return name

    def value(self, owner: int, key: Key) -> str | None:
        """Return the name of a key's cell, or None where there is none."""
        found = self._values.get((owner, key))
        return found[0] if found else None

    def cell(self, owner: int, key: Key) -> Cell | None:
        """Return where a key stands, or None."""
        found = self._values.get((owner, key))
        return found[1] if found else None

    def further(self, owner: int, key: Key, what: str) -> str | None:
        """Return the name of what belongs to a key, or None."""
        return self._further.get((owner, key, what))


def readable_name(owner: int, key: Key) -> str:
    """Return the defined name of a key: "u1_suction_psig_2", "p_site_elevation_ft"."""
    place = f"u{owner}" if owner else "p"
    return "_".join((place, key.name, *map(str, key.index)))


@dataclass(frozen=True, slots=True)
class CellReferences:
    """A formula's names as cells, seen from one member of one unit (formula.excel.References)."""

    addresses: Addresses
    results: UnitResults
    owner: int
    key: Key

    def cell(self, name: str) -> str | None:
        """Return the defined name of one value, or None where it is not asked."""
        key = self.results.calculation.scope(self.key).key(name)
        return self.addresses.value(self.owner_of(name), key)

    def cells(self, name: str) -> tuple[str, int] | None:
        """Return all members as ranges with their number, or None if one is not asked."""
        owner = self.owner_of(name)
        keys = self.results.calculation.scope(self.key).member_keys(name)
        cells = [self.addresses.cell(owner, key) for key in keys]
        found = [cell for cell in cells if cell is not None]
        if len(found) < len(cells):
            return None
        return joined_ranges(found), len(found)

    def is_text(self, name: str) -> bool:
        """Return whether the value is a text, not a number."""
        entry = self.results.calculation.plan.entries[name]
        if isinstance(entry, Field):
            return entry.kind not in (Kind.NUMBER, Kind.INTEGER)
        return isinstance(entry, Check) or (isinstance(entry, Quantity) and entry.text)

    def number_of(self, repeat: str) -> int:
        """Return the number of the member at hand of one of its repeats."""
        return self.results.calculation.scope(self.key).number_of(repeat)

    def step(self, call: Call, at: int, formula: str) -> str:
        """Give a step of a look-up a cell of its own; return it."""
        value = self._step_value(call, at)
        look_ups = self.addresses.look_ups
        row, column = look_ups.step(self.owner, self.key, call, at, formula, value)
        return Cell(tab(LOOK_UPS), row, column).absolute

    def _step_value(self, call: Call, at: int) -> float | str:
        """Return what a step's cell shows now: blank where the look-up cannot be made."""
        scope = self.results.calculation.scope(self.key)
        values = [evaluate(argument, scope) for argument in call.arguments]
        if any(value.state is not State.KNOWN for value in values):
            return ""
        try:
            step = FUNCTIONS[call.function].steps[at]
            return float(step.compute(*(value.content for value in values)))
        except CommissionError:
            return ""

    def owner_of(self, name: str) -> int:
        """Return whose cell holds `name`: the project's, or this unit's."""
        form = self.results.form
        section = form.section_by_name[self.results.calculation.plan.entries[name].section]
        return 0 if section.level is Level.PROJECT else self.owner
