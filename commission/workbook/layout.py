"""How a page becomes a sheet: which rows, in which order, in which columns."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from enum import StrEnum
from itertools import groupby

from commission.definitions.model import Check, Entry, Field, Key, Kind, Quantity, Section
from commission.formula.graph import Index
from commission.language import to_say
from commission.units import shown_unit
from commission.validation.results import UnitResults
from commission.workbook.relevance import Relevance

HEAD_ROW = 2  # title, whose page it is, then the head of the columns
FIRST_ROW = HEAD_ROW + 1
_MOST_ACROSS = 8
_NUMERIC = (Kind.NUMBER, Kind.INTEGER)


class Column(StrEnum):
    """What a column of a page's sheet holds, in order."""

    LABEL = to_say("What")
    VALUE = to_say("Reading or result")
    UNIT = to_say("Unit")
    UNCERTAINTY = "± U"
    VERDICT = to_say("Verdict")
    REQUIREMENT = to_say("Requirement")
    LOW = to_say("Low or target")
    HIGH = to_say("High or tolerance")
    ORIGIN = to_say("Where the limit comes from")
    INSTRUMENT = to_say("Instrument")
    HOW = to_say("How it is known, as exported")
    # Working columns, beside what is printed: what formulas read where a page shows other
    # units, and where an answer on it decides whether a field is asked.
    FORM_VALUE = to_say("As formulas read it")
    FORM_UNIT = to_say("Form's unit")
    FORM_UNCERTAINTY = to_say("± U, form's unit")
    FORM_LOW = to_say("Low or target, form's unit")
    FORM_HIGH = to_say("High or tolerance, form's unit")


_WIDTHS = {
    Column.LABEL: 30.0,
    Column.VALUE: 13.0,
    Column.UNIT: 9.0,
    Column.UNCERTAINTY: 9.0,
    Column.VERDICT: 13.0,
    Column.REQUIREMENT: 19.0,
    Column.LOW: 11.0,
    Column.HIGH: 11.0,
    Column.ORIGIN: 20.0,
    Column.INSTRUMENT: 14.0,
    Column.HOW: 36.0,
    Column.FORM_VALUE: 12.0,
    Column.FORM_UNIT: 9.0,
    Column.FORM_UNCERTAINTY: 11.0,
    Column.FORM_LOW: 12.0,
    Column.FORM_HIGH: 12.0,
}
WORKING = frozenset(
    {
        Column.FORM_VALUE,
        Column.FORM_UNIT,
        Column.FORM_UNCERTAINTY,
        Column.FORM_LOW,
        Column.FORM_HIGH,
    }
)
_WIDTH_OF_PAGE = 176.0


@dataclass(frozen=True, slots=True)
class IntroRow:
    """The page's opening sentences."""

    text: str


@dataclass(frozen=True, slots=True)
class CautionRow:
    """What can hurt here."""

    text: str


@dataclass(frozen=True, slots=True)
class GuardRow:
    """The stop checks that must pass before this page; what is not clear is shown live."""

    keys: tuple[Key, ...]


@dataclass(frozen=True, slots=True)
class BandRow:
    """A heading over the rows of one member."""

    text: str


@dataclass(frozen=True, slots=True)
class EntryRow:
    """One reading or result, with the first check that judges it on this page."""

    entry: Field | Quantity
    index: Index
    label: str
    check: Check | None = None


@dataclass(frozen=True, slots=True)
class CheckRow:
    """A further check, or one of a value that stands on another page."""

    check: Check
    index: Index
    label: str


@dataclass(frozen=True, slots=True)
class GridHeadRow:
    """What the columns of a grid are."""

    entry: Field | Quantity
    labels: tuple[str, ...]
    indexes: tuple[Index | None, ...]


@dataclass(frozen=True, slots=True)
class GridRow:
    """One line of a grid of readings or results."""

    entry: Field | Quantity
    label: str
    indexes: tuple[Index | None, ...]


Row = IntroRow | CautionRow | GuardRow | BandRow | EntryRow | CheckRow | GridHeadRow | GridRow


@dataclass(frozen=True)
class Page:
    """One page of one unit, laid out; `owner` is the unit's number, 0 for the project."""

    results: UnitResults
    owner: int
    section: Section
    sheet: str
    rows: tuple[Row, ...]
    columns: dict[Column, int]
    widths: dict[Column, float]
    relevance: Relevance

    @property
    def last_printed(self) -> int:
        """The last column that is printed; those behind it are working columns."""
        return self.columns[Column.HOW]

    def grid_column(self, column: int) -> int:
        """Return where the working cell of a grid's value in `column` stands."""
        return self.last_printed + column

    def shows_other(self, entry: Entry) -> bool:
        """Return whether an entry is shown in another unit than the form's."""
        return shown_unit(entry.unit, self.results.unit_system) != entry.unit

    def all_keys(self) -> Iterator[Key]:
        """Yield the key of every reading and result that the page shows."""
        for row in self.rows:
            if isinstance(row, EntryRow):
                yield Key(row.entry.name, row.index)
            elif isinstance(row, GridRow):
                yield from (Key(row.entry.name, index) for index in row.indexes if index)

    def has_working(self, key: Key) -> bool:
        """Return whether formulas read a working cell, not the one that is shown or typed in."""
        return self.shows_other(self.results.form.by_name[key.name]) or self.relevance.gated(key)

    def numbered(self) -> Iterator[tuple[int, Row]]:
        """Yield each row with its number in the sheet, from 0."""
        yield from enumerate(self.rows, start=FIRST_ROW)

    @property
    def last_row(self) -> int:
        """The number of the last row."""
        return FIRST_ROW + max(len(self.rows), 1) - 1


def lay_out(
    results: UnitResults, owner: int, section: Section, sheet: str, relevance: Relevance
) -> Page:
    """Return a page laid out as rows and columns."""
    opening: list[Row] = [IntroRow(section.intro)] if section.intro else []
    opening += [CautionRow(text) for text in section.cautions]
    guards = [Key(name, index) for name in section.guarded_by for index in relevance.members(name)]
    opening += [GuardRow(tuple(guards))] if guards else []
    rows = (*opening, *_PageRows(results, section, relevance).rows())
    used = _columns_used(results, rows, relevance)
    widths = _widths(used)
    columns = {column: place for place, column in enumerate(used)}
    return Page(results, owner, section, sheet, rows, columns, widths, relevance)


@dataclass(frozen=True)
class _PageRows:
    results: UnitResults
    section: Section
    relevance: Relevance

    def rows(self) -> Iterator[Row]:
        """Yield the rows of all entries, runs of one repeat together."""
        for repeat, run in groupby(self.section.entries, key=lambda entry: entry.repeat):
            entries = list(run)
            if self._by_member(repeat, entries):
                yield from self._members_in_turn(entries)
            else:
                for entry in entries:
                    yield from self._one_entry(entry)

    def _by_member(self, repeat: Sequence[str], entries: Sequence[Entry]) -> bool:
        """Circuits and the like in turn; phases and legs stay beside one another."""
        if len(repeat) != 1 or self.results.form.repeats[repeat[0]].members:
            return False
        return sum(not isinstance(entry, Check) for entry in entries) > 1

    def _members_in_turn(self, entries: Sequence[Entry]) -> Iterator[Row]:
        for index in self.results.members(entries[0].name):
            rows = [
                row
                for entry in entries
                if self.relevance.drawn(Key(entry.name, index))
                for row in self._row(entry, index, entry.label)
            ]
            if rows:
                yield BandRow(self.results.member_label(entries[0].name, index))
                yield from rows

    def _one_entry(self, entry: Entry) -> Iterator[Row]:
        indexes = self.relevance.members(entry.name)
        if not indexes:
            return
        if not isinstance(entry, Check) and len(entry.repeat) == 2 and not self._judged(entry):
            yield from _grid(self.results, entry, indexes)
            return
        for index in indexes:
            member = self.results.member_label(entry.name, index)
            label = f"{entry.label} · {member}" if member else entry.label
            yield from self._row(entry, index, label)

    def _judged(self, entry: Field | Quantity) -> bool:
        return any(
            isinstance(other, Check) and other.judges == entry.name
            for other in self.results.form.entries()
        )

    def _row(self, entry: Entry, index: Index, label: str) -> Iterator[Row]:
        if not isinstance(entry, Check):
            check = self._first_check(entry)
            if check is not None and not self.relevance.drawn(Key(check.name, index)):
                check = None
            yield EntryRow(entry, index, label, check)
        elif self._stands_alone(entry):
            yield CheckRow(entry, index, label)

    def _first_check(self, entry: Entry) -> Check | None:
        checks = (check for check in self.section.checks if check.judges == entry.name)
        return next(checks, None)

    def _stands_alone(self, check: Check) -> bool:
        judged = self.results.form.by_name[check.judges]
        return judged.section != self.section.name or self._first_check(judged) is not check


def _grid(
    results: UnitResults, entry: Field | Quantity, indexes: tuple[Index, ...]
) -> Iterator[Row]:
    """Yield an entry with two repeats as a grid, the second across, at most 8 at a time."""
    form = results.form
    first, second = (form.repeats[name] for name in entry.repeat)
    down = sorted({index[0] for index in indexes})
    across = sorted({index[1] for index in indexes})
    present = set(indexes)
    for start in range(0, len(across), _MOST_ACROSS):
        part = across[start : start + _MOST_ACROSS]
        lines = {
            line: tuple((line, n) if (line, n) in present else None for n in part) for line in down
        }
        labels = tuple(second.member_label(number) for number in part)
        yield GridHeadRow(entry, labels, tuple(i for line in lines.values() for i in line))
        for line, cells in lines.items():
            yield GridRow(entry, first.member_label(line), cells)


def _columns_used(results: UnitResults, rows: Sequence[Row], relevance: Relevance) -> list[Column]:
    used = {Column.LABEL, Column.VALUE, Column.HOW}
    across = 0
    for row in rows:
        used |= _columns_of(results, row)
        if isinstance(row, EntryRow) and relevance.gated(Key(row.entry.name, row.index)):
            used.add(Column.FORM_VALUE)
        if isinstance(row, GridHeadRow):
            across = max(across, len(row.labels))
    ordered = [column for column in Column if column in used]
    for column in (Column.UNIT, Column.UNCERTAINTY, Column.REQUIREMENT, Column.LOW, Column.HIGH,
                   Column.ORIGIN, Column.INSTRUMENT):  # fmt: skip
        if len(ordered) < across + 2:
            used.add(column)
            ordered = [column for column in Column if column in used]
    return ordered


def _columns_of(results: UnitResults, row: Row) -> set[Column]:
    if isinstance(row, CheckRow):
        used = {Column.UNIT} if row.check.unit else set()
        return used | _check_columns(results, row.check)
    if not isinstance(row, EntryRow):
        return set()
    used = _value_columns(results, row.entry)
    if row.check is not None:
        used |= _check_columns(results, row.check)
    reading = results.reading(row.entry.name, row.index)
    if (isinstance(row.entry, Field) and row.entry.instrument) or (
        reading is not None and reading.instrument_id
    ):
        used.add(Column.INSTRUMENT)
    if results.expanded(row.entry.name, row.index) is not None:
        used.add(Column.UNCERTAINTY)
        if Column.FORM_UNIT in used:
            used.add(Column.FORM_UNCERTAINTY)
    return used


def _value_columns(results: UnitResults, entry: Entry) -> set[Column]:
    used = {Column.UNIT} if entry.unit else set()
    if shown_unit(entry.unit, results.unit_system) != entry.unit:
        used |= {Column.FORM_VALUE, Column.FORM_UNIT}
    return used


def _check_columns(results: UnitResults, check: Check) -> set[Column]:
    used = {Column.VERDICT, Column.REQUIREMENT}
    if not check.parts:
        return used
    used |= {Column.LOW, Column.HIGH, Column.ORIGIN}
    converted = shown_unit(check.unit, results.unit_system) != check.unit
    return used | {Column.FORM_LOW, Column.FORM_HIGH} if converted else used


def _widths(used: Sequence[Column]) -> dict[Column, float]:
    """Return widths that fill the page: what is left goes to the texts at both ends."""
    widths = {column: _WIDTHS[column] for column in used}
    printed = sum(width for column, width in widths.items() if column not in WORKING)
    spare = max(_WIDTH_OF_PAGE - printed, 0.0)
    widths[Column.LABEL] += min(spare * 0.45, 40.0)
    widths[Column.HOW] += min(spare * 0.55, 50.0)
    return widths


def is_numeric(entry: Entry) -> bool:
    """Return whether an entry holds a number."""
    if isinstance(entry, Field):
        return entry.kind in _NUMERIC
    return isinstance(entry, Quantity) and not entry.text
