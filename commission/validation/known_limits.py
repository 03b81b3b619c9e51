"""What the limits book knows of a unit's model: gathered from a unit, offered to the next one.

Nothing is taken silently: an offer says what counts in the unit now, and `take` records each
chosen one as a limit or a reading of this unit, with its origin.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

from commission.definitions.model import Check, Field, Form, Key, Kind, Level
from commission.engineering.chart import from_text
from commission.errors import CommissionError, ReadingError
from commission.formula.evaluate import State
from commission.language import spoken, to_say
from commission.project import Limit, ProjectFile
from commission.project.limits_book import BookEntry, LimitsBook, ModelKey
from commission.validation.session import BOOK, NOWHERE, Session
from commission.validation.site import PROJECT

# A text field on a table's page whose name ends so says where the tables of that page come from.
_ORIGIN_FIELD = "_origin"


class Standing(StrEnum):
    """What counts in the unit now, beside what the book offers."""

    OPEN = to_say("nothing is entered here")
    IN_FORCE = to_say("this counts here already")
    DIFFERS = to_say("something else is entered here")
    NOT_ASKED = to_say("not asked of this unit as it is configured now")
    UNFIT = to_say("the form has changed since; it cannot be taken")


@dataclass(frozen=True, slots=True)
class Offer:
    """One entry of the book, and what counts in the unit now."""

    entry: BookEntry
    standing: Standing

    @property
    def key(self) -> Key:
        """The check or table field it is for."""
        return Key(self.entry.name, self.entry.index)

    @property
    def can_be_taken(self) -> bool:
        """Whether taking it would change anything, and is possible."""
        return self.standing in (Standing.OPEN, Standing.DIFFERS)


def model_of(session: Session, unit_id: str, make_field: str, model_field: str) -> ModelKey | None:
    """Return a unit's make and model as entered, or None while one of them is not."""
    if unit_id == PROJECT:
        return None
    values = session.results(unit_id).calculation.values
    texts = []
    for name in (make_field, model_field):
        value = values.get(Key(name))
        if value is None or value.state is not State.KNOWN or not isinstance(value.content, str):
            return None
        texts.append(value.content.strip())
    return ModelKey(*texts) if all(texts) else None


def source_of(project: ProjectFile, unit_id: str) -> str:
    """Return what names one unit of one project to the book, wherever the file goes."""
    return f"{project.uuid}/{unit_id}"


def entered_in(session: Session, unit_id: str, model: ModelKey) -> list[BookEntry]:
    """Return what a unit holds that is worth knowing for the next of its model.

    These are limits entered in the unit itself, and tables, each with where it comes from;
    what lacks its origin is not worth knowing, nor a default that was merely confirmed.
    """
    project = session.project
    people = {person.id: person.name for person in project.people()}
    tag = next((unit.tag for unit in session.units() if unit.id == unit_id), "")
    blank = BookEntry(
        model, "", "", source=f"{project.title}, {tag}", source_id=source_of(project, unit_id)
    )
    found = [*_limits_in(session, unit_id, blank), *_tables_in(session, unit_id, blank)]
    return [replace(entry, entered_by=people.get(entry.entered_by, "")) for entry in found]


def _limits_in(session: Session, unit_id: str, blank: BookEntry) -> Iterator[BookEntry]:
    for limit in session.project.limits(unit_id).values():
        check = session.plan.entries.get(limit.check)
        if isinstance(check, Check) and limit.parts and limit.origin.strip():
            yield replace(
                blank,
                kind="limit",
                name=limit.check,
                index=limit.index,
                unit=check.unit,
                parts=dict(limit.parts),
                origin=limit.origin.strip(),
                entered_on=limit.at[:10],
                entered_by=limit.person_id,
            )


def _tables_in(session: Session, unit_id: str, blank: BookEntry) -> Iterator[BookEntry]:
    for (name, index), reading in (session.results(unit_id).readings or {}).items():
        asked = session.plan.entries.get(name)
        if asked is None or session.form.section_of(name).level is Level.PROJECT:
            continue  # a reading of the site is not one of the unit
        origin = _table_origin(session, unit_id, asked, index)
        if isinstance(asked, Field) and isinstance(reading.value, str) and origin:
            yield replace(
                blank,
                kind="table",
                name=name,
                index=index,
                unit=_units_of(asked),
                table=reading.value,
                origin=origin,
                entered_on=reading.at[:10],
                entered_by=reading.person_id,
            )


def remember(session: Session, unit_id: str, book: LimitsBook, model: ModelKey | None) -> int:
    """Let the book hold what the unit holds now; return how many entries changed.

    Raises:
        CommissionError: The book cannot be read or written; the project is untouched.
    """
    entries = [] if model is None else entered_in(session, unit_id, model)
    return book.keep(source_of(session.project, unit_id), entries)


def offers(session: Session, unit_id: str, entries: Iterable[BookEntry]) -> list[Offer]:
    """Return the book's entries with what counts in the unit now, in the form's order."""
    order = {name: place for place, name in enumerate(session.plan.entries)}
    limits = session.project.limits(unit_id)
    found = [Offer(entry, _standing(session, unit_id, entry, limits)) for entry in entries]
    return sorted(found, key=lambda one: (order.get(one.entry.name, len(order)), one.entry.index))


def proposed(found: Sequence[Offer]) -> list[Offer]:
    """Return the offers that a review may begin with chosen: open, and undisputed in the book."""
    places = [one.entry.place() for one in found if one.standing is not Standing.UNFIT]
    return [
        one
        for one in found
        if one.standing is Standing.OPEN and places.count(one.entry.place()) == 1
    ]


def take(session: Session, unit_id: str, chosen: Sequence[Offer]) -> frozenset[Key]:
    """Record the chosen ones in the unit, all or none; return the keys to be drawn anew.

    Raises:
        ReadingError: One cannot be taken, or two are for one place; nothing is recorded.
    """
    places = [one.entry.place() for one in chosen]
    twice = sorted({str(place[3]) for place in places if places.count(place) > 1})
    if twice:
        names = ", ".join(_label(session.form, name) for name in twice)
        raise ReadingError(
            spoken("{names}: chosen twice, from two origins. Choose one of them.", names=names)
        )
    unfit = [one for one in chosen if not one.can_be_taken]
    if unfit:
        names = ", ".join(_label(session.form, one.entry.name) for one in unfit)
        raise ReadingError(
            spoken(
                "{names}: cannot be taken ({standing}). Leave it out.",
                names=names,
                standing=unfit[0].standing,
            )
        )
    tables = ("limit_entry", "reading")
    what = spoken("What was chosen in the limits book ({count})", count=len(chosen))
    key = chosen[0].key if chosen else NOWHERE
    with (
        session.undoable(unit_id, BOOK, *tables, key=key),
        session.project.transaction(what),
    ):
        for offer in chosen:
            _take_one(session, unit_id, offer.entry)
    session.forget(unit_id)
    return frozenset(offer.key for offer in chosen)


def _take_one(session: Session, unit_id: str, entry: BookEntry) -> None:
    if entry.kind == "limit":
        session.project.set_limit(
            unit_id,
            entry.name,
            entry.index,
            entry.parts,
            origin=entry.origin,
            person_id=session.person_id,
        )
        return
    asked = session.plan.entries[entry.name]
    assert isinstance(asked, Field)
    _record(session, unit_id, Key(entry.name, entry.index), entry.table)
    named = _origin_key(session.form, asked, entry.index)
    if named is not None and not _table_origin(session, unit_id, asked, entry.index):
        _record(session, unit_id, named, entry.origin)


def _record(session: Session, unit_id: str, key: Key, text: str) -> None:
    session.project.record(
        unit_id,
        *key,
        text,
        pass_name=session.pass_name,
        person_id=session.person_id,
        source="limits book",
    )


def _standing(
    session: Session,
    unit_id: str,
    entry: BookEntry,
    limits: Mapping[tuple[str, tuple[int, ...]], Limit],
) -> Standing:
    asked = session.plan.entries.get(entry.name)
    if not _fits(asked, entry):
        return Standing.UNFIT
    results = session.results(unit_id)
    members = results.members(entry.name)
    indexes = [entry.index] if entry.index or entry.kind == "table" else list(members)
    if not any(
        index in members and results.calculation.relevant(Key(entry.name, index))
        for index in indexes
    ):
        return Standing.NOT_ASKED
    if entry.kind == "table":
        reading = results.reading(entry.name, entry.index)
        if reading is None or reading.is_unread:
            return Standing.OPEN
        return Standing.IN_FORCE if reading.value == entry.table else Standing.DIFFERS
    own = limits.get((entry.name, entry.index))
    if own is None or not own.parts:
        # A limit of single members would be hidden behind one for all, or the reverse.
        others = [one for (name, _), one in limits.items() if name == entry.name and one.parts]
        return Standing.DIFFERS if others else Standing.OPEN
    return Standing.IN_FORCE if dict(own.parts) == dict(entry.parts) else Standing.DIFFERS


def _fits(asked: object, entry: BookEntry) -> bool:
    if entry.kind == "limit":
        return (
            isinstance(asked, Check)
            and asked.unit == entry.unit
            and set(entry.parts) <= set(asked.parts)
            and len(entry.index) in (0, len(asked.repeat))
        )
    if not isinstance(asked, Field) or asked.kind is not Kind.TABLE:
        return False
    if _units_of(asked) != entry.unit or len(entry.index) != len(asked.repeat):
        return False
    try:
        chart = from_text(entry.table)
    except (CommissionError, ValueError):
        return False
    low, high = asked.possible or (float("-inf"), float("inf"))
    return all(low <= cell <= high for line in chart.body for cell in line if cell is not None)


def _units_of(asked: Field) -> str:
    axes = (asked.rows, asked.columns, asked.body)
    return "|".join("" if axis is None else axis.unit for axis in axes)


def _origin_key(form: Form, table: Field, index: tuple[int, ...]) -> Key | None:
    """Return where the page of a table says which document its tables come from."""
    for field in form.section_by_name[table.section].fields:
        if field.kind is Kind.TEXT and field.name.endswith(_ORIGIN_FIELD):
            return Key(field.name, index if field.repeat == table.repeat else ())
    return None


def _table_origin(session: Session, unit_id: str, asked: object, index: tuple[int, ...]) -> str:
    if not isinstance(asked, Field) or asked.kind is not Kind.TABLE:
        return ""
    named = _origin_key(session.form, asked, index)
    reading = None if named is None else session.results(unit_id).reading(*named)
    value = reading.value if reading is not None else None
    return value.strip() if isinstance(value, str) else ""


def _label(form: Form, name: str) -> str:
    entry = form.by_name.get(name)
    return entry.label if entry is not None else name
