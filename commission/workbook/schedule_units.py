"""A schedule's rows -> the units to be added: every cell understood or its fault told."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

from commission.definitions.model import Field, Form, Key, Kind
from commission.errors import CommissionError
from commission.formula.graph import Index
from commission.formula.tree import names_in
from commission.language import spoken
from commission.validation.calculation import Calculation, Given
from commission.validation.entry import Understood, understand
from commission.validation.plan import Plan
from commission.validation.session import Session
from commission.workbook.addresses import column_letters
from commission.workbook.schedule_match import SEVERAL, TAG, Matched, plain, schedule_words
from commission.workbook.schedule_table import ScheduleTable

_NOTHING = frozenset({"", "-", "--", "–", "—", "n/a", "na", "tbd", "none given"})


@dataclass(frozen=True, slots=True)
class ScheduleFault:
    """What of a schedule is not taken, and why; `place` is such as "D7"."""

    place: str
    sentence: str

    def __str__(self) -> str:
        return f"{self.place}: {self.sentence}"


@dataclass(frozen=True, slots=True)
class ScheduleEntry:
    """One cell understood: what is entered if the unit is added."""

    place: str
    key: Key
    text: str
    understood: Understood


@dataclass
class ScheduleUnit:
    """One row: a unit to be added with its answers."""

    row: int
    tag: str
    entries: list[ScheduleEntry] = field(default_factory=list)


@dataclass(frozen=True, slots=True)
class Schedule:
    """All of a schedule, to be looked over before anything is added."""

    table: ScheduleTable
    units: tuple[ScheduleUnit, ...]
    faults: tuple[ScheduleFault, ...]

    @property
    def has_tags(self) -> bool:
        """Whether a column is known to hold the units' tags."""
        return any(column.field == TAG for column in self.table.columns)

    @property
    def unmatched(self) -> tuple[Matched, ...]:
        """Columns with a head that the form knows nothing of; they are not read."""
        return tuple(c for c in self.table.columns if c.head and not c.is_known)


def understand_schedule(
    table: ScheduleTable, form: Form, taken: Sequence[str] = (), unit_system: str = "IP"
) -> Schedule:
    """Return the units of a schedule with all that could not be taken.

    Args:
        taken: Tags that the project has already.
        unit_system: The project's; columns without a unit of their own are in the schedule's.
    """
    reading = _Reading(table, Plan(form), unit_system, {tag.casefold() for tag in taken})
    units = tuple(reading.units())
    return Schedule(table, units, tuple(reading.faults))


@dataclass
class _Reading:
    table: ScheduleTable
    plan: Plan
    unit_system: str
    taken: set[str]
    faults: list[ScheduleFault] = field(default_factory=list)

    def units(self) -> Iterator[ScheduleUnit]:
        tags = next((one for one in self.table.columns if one.field == TAG), None)
        if tags is None:
            return  # a person is still to say which column it is
        for number, texts in self.table.rows:
            if not any(text.strip() for text in texts):
                continue
            tag = _at(texts, tags)
            place = f"{column_letters(tags.column - 1)}{number}"
            if not tag:
                said = next(text for text in texts if text.strip())
                self._fault(
                    f"A{number}",
                    spoken("a row without a tag is not read ('{said}').", said=said[:60]),
                )
            elif tag.casefold() in self.taken:
                self._fault(
                    place, spoken("'{tag}' is a unit already; this row is not read.", tag=tag)
                )
            else:
                self.taken.add(tag.casefold())
                yield self._unit(ScheduleUnit(number, tag), texts)

    def _fault(self, place: str, sentence: str) -> None:
        self.faults.append(ScheduleFault(place, sentence))

    def _unit(self, unit: ScheduleUnit, texts: tuple[str, ...]) -> ScheduleUnit:
        """Understand a row in the order of the form: what decides members comes first."""
        calculation = Calculation(self.plan)
        order = {name: place for place, name in enumerate(self.plan.order)}
        cells = sorted(self._cells(unit.row, texts), key=lambda cell: order.get(cell[1].field, 0))
        for place, column, text in cells:
            entry = self._entry(calculation, place, column, text)
            if entry is not None:
                unit.entries.append(entry)
                calculation.give(entry.key, Given(entry.understood.content))
        self._drop_unasked(unit, calculation)
        return unit

    def _cells(self, row: int, texts: tuple[str, ...]) -> Iterator[tuple[str, Matched, str]]:
        for column in self.table.columns:
            text = _at(texts, column)
            place = f"{column_letters(column.column - 1)}{row}"
            if not column.is_known or column.field == TAG or text.casefold() in _NOTHING:
                continue
            if column.field != SEVERAL:
                yield place, column, text
                continue
            parts = re.fullmatch(column.pattern, text, re.IGNORECASE)
            if parts is None:
                words = spoken(
                    "'{value}' is not of the kind {example}; enter it on the page.",
                    value=text,
                    example=column.example,
                )
                self._fault(place, words)
                continue
            for name, part in parts.groupdict().items():
                unit = getattr(self.plan.entries.get(name), "unit", "")
                yield place, Matched(column.column, column.head, name, unit), part

    def _entry(
        self, calculation: Calculation, place: str, column: Matched, text: str
    ) -> ScheduleEntry | None:
        asked = self.plan.entries.get(column.field)
        if not isinstance(asked, Field):
            return None
        members = calculation.members(asked.name)
        index: Index = (column.member,) if column.member else ()
        if asked.repeat and not column.member and len(members) == 1:
            index = members[0]
        if index not in members:
            self._fault(place, _no_member(asked, column, len(members)))
            return None
        typed = _typed(asked, column, text)
        try:
            meant = understand(asked, typed, self.unit_system)
        except CommissionError as fault:
            self._fault(place, str(fault))
            return None
        if meant.warning:
            self._fault(
                place,
                spoken("{label}: taken, but {warning}", label=asked.label, warning=meant.warning),
            )
        return ScheduleEntry(place, Key(asked.name, index), typed, meant)

    def _drop_unasked(self, unit: ScheduleUnit, calculation: Calculation) -> None:
        """Leave out what this unit's own answers say it has not; told, not lost."""
        kept = []
        for entry in unit.entries:
            asked = self.plan.entries[entry.key.name]
            open_still = calculation.relevant(entry.key) or not self._decided(calculation, entry)
            if open_still:
                kept.append(entry)
            else:
                words = spoken(
                    "{label}: '{value}' is not asked of this unit; not taken.",
                    label=asked.label,
                    value=entry.text,
                )
                self._fault(entry.place, words)
        unit.entries = kept

    def _decided(self, calculation: Calculation, entry: ScheduleEntry) -> bool:
        """Whether all answers that the entry's relevance rests on are there."""
        asked = self.plan.entries[entry.key.name]
        names = names_in(asked.when) if asked.when is not None else ()
        scope = calculation.scope(entry.key)
        return all(scope.key(name) in calculation.given for name in names)


def _at(texts: tuple[str, ...], column: Matched) -> str:
    return texts[column.column - 1].strip() if column.column <= len(texts) else ""


def _typed(asked: Field, column: Matched, text: str) -> str:
    """Return a cell as a person would type it: with its column's unit, a choice by our word."""
    if asked.kind in (Kind.NUMBER, Kind.INTEGER):
        has_unit = re.search(r"[^\d.,'\s+\-−]", text) is not None
        return text if has_unit or not column.unit else f"{text} {column.unit}"
    meanings = schedule_words().get("meanings", {}).get(asked.name, {})
    return next((word for word, said in meanings.items() if plain(text) in said), text)


def _no_member(asked: Field, column: Matched, count: int) -> str:
    if column.member:
        return spoken(
            "{label}: there is no number {member} of it; the row gives {count}.",
            label=asked.label,
            member=column.member,
            count=count,
        )
    if not count:
        return spoken(
            "{label}: the row does not say how many there are; enter it on the page.",
            label=asked.label,
        )
    return spoken(
        "{label}: one value, but the unit has {count}. Number the columns ('{head} 1', "
        "'{head} 2').",
        label=asked.label,
        count=count,
        head=column.head,
    )


def add_units(session: Session, schedule: Schedule, units: Sequence[ScheduleUnit]) -> list[str]:
    """Add units with their answers to the open project; return the ids of the units.

    Each answer is entered as typed, with the source "schedule" and its cell as it stood.

    Raises:
        ReadingError: A tag has been taken meanwhile.
        ProjectFileError: The project cannot be written to.
    """
    return list(dict.fromkeys(adding(session, units)))


def adding(session: Session, units: Sequence[ScheduleUnit]) -> Iterator[str]:
    """Add units step by step: yield the unit's id after each step, so that a window breathes.

    Raises:
        ReadingError, ProjectFileError: as `add_units`; the steps before are kept.
    """
    for unit in units:
        unit_id = session.add_unit(unit.tag).id
        yield unit_id
        for entry in unit.entries:
            source, session.source = session.source, "schedule"
            try:
                session.enter(unit_id, *entry.key, entry.text)
            finally:
                session.source = source
            yield unit_id
