"""Units looked for in the store: by site, tag, make, model, serial number, age, verdict, words."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields
from datetime import date
from typing import Any

from sqlalchemy import ColumnElement, Connection, Row, Select, and_, exists, func, select

from commission.archive.store.opening import Store
from commission.archive.store.tables import ENTRY, RECORD, SAID, UNIT, VERDICT, folded
from commission.errors import StoreError
from commission.language import near_miss, spoken

_ESCAPE = "\\"


@dataclass(frozen=True, slots=True)
class Query:
    """What is looked for; all that is given must hold.

    Texts are found anywhere in the name, upper and lower case alike. Ages are in years at the
    last visit; a unit whose date of making is not read has none, and is then not found.
    `words` are looked for in notes, remarks, deficiencies, overrides and failures. `outcome`
    ("fail", say) is that of any check, or of `check`; `stop` finds units with a stop.
    """

    site: str = ""
    tag: str = ""
    make: str = ""
    model: str = ""
    serial: str = ""
    words: str = ""
    outcome: str = ""
    check: str = ""
    stop: bool = False
    youngest: float | None = None
    oldest: float | None = None
    all_visits: bool = False


@dataclass(frozen=True, slots=True)
class FoundUnit:
    """One unit at one visit; `age` in years at that visit, None where not known."""

    key: int
    record_id: int
    identity: str
    site: str
    title: str
    tag: str
    make: str
    model: str
    serial: str
    visited_at: str
    age: float | None
    passes: int
    fails: int
    inconclusives: int
    missing: int
    not_applicable: int
    stops: int
    overrides: int


def newest_units() -> Select[tuple[int]]:
    """Return the statement for the keys of each unit's newest visit.

    Newest is the one visited last, of equals that of the higher revision, then that added last.
    """
    order = (UNIT.c.visited_utc.desc(), RECORD.c.revision.desc(), UNIT.c.id.desc())
    place = func.row_number().over(partition_by=UNIT.c.identity, order_by=order)
    ranked = select(UNIT.c.id, place.label("place")).join(RECORD).subquery()
    return select(ranked.c.id).where(ranked.c.place == 1)


def search_units(store: Store, query: Query) -> list[FoundUnit]:
    """Return the units that answer a query, by site and tag; the newest visit of each.

    Raises:
        StoreError: the store cannot be read.
    """
    statement = (
        select(UNIT, RECORD.c.site, RECORD.c.title)
        .join(RECORD)
        .where(and_(True, *_conditions(query)))
        .order_by(RECORD.c.site_folded, UNIT.c.tag_folded, UNIT.c.visited_utc, UNIT.c.id)
    )
    if not query.all_visits:
        statement = statement.where(UNIT.c.id.in_(newest_units()))
    with store.transaction(spoken("nothing was searched")) as connection:
        found = [found_unit(row) for row in connection.execute(statement)]
    return [unit for unit in found if _is_of_age(unit, query)]


def _conditions(query: Query) -> list[ColumnElement[bool]]:
    conditions = [
        contains(column, wanted)
        for column, wanted in (
            (RECORD.c.site_folded, query.site),
            (UNIT.c.tag_folded, query.tag),
            (UNIT.c.make_folded, query.make),
            (UNIT.c.model_folded, query.model),
            (UNIT.c.serial_folded, query.serial),
        )
        if wanted.strip()
    ]
    if query.stop:
        conditions.append(UNIT.c.stops > 0)
    if query.words.strip():
        said = SAID.c.unit_key == UNIT.c.id
        conditions.append(exists().where(said, contains(SAID.c.folded, query.words)))
    if query.outcome or query.check:
        judged = [VERDICT.c.unit_key == UNIT.c.id]
        judged += [VERDICT.c.outcome == query.outcome] * bool(query.outcome)
        judged += [VERDICT.c.check_name == query.check] * bool(query.check)
        conditions.append(exists().where(*judged))
    return conditions


def contains(column: Any, wanted: str) -> ColumnElement[bool]:
    """Return the condition that a folded column holds a text, taken letter by letter."""
    text = folded(wanted)
    for special in (_ESCAPE, "%", "_"):
        text = text.replace(special, _ESCAPE + special)
    condition: ColumnElement[bool] = column.like(f"%{text}%", escape=_ESCAPE)
    return condition


def _is_of_age(unit: FoundUnit, query: Query) -> bool:
    if query.youngest is None and query.oldest is None:
        return True
    if unit.age is None:
        return False
    low = query.youngest if query.youngest is not None else unit.age
    high = query.oldest if query.oldest is not None else unit.age
    return low <= unit.age <= high


def found_unit(row: Row[Any]) -> FoundUnit:
    """Return a row of a unit (with its record's site and title) as found."""
    held = row._mapping
    computed = {
        "key": held["id"],
        "age": age_at(held["made_year"], held["visited_at"]),
    }
    names = (field.name for field in fields(FoundUnit) if field.name not in computed)
    return FoundUnit(**computed, **{name: held[name] for name in names})


def age_at(made_year: float | None, moment: str) -> float | None:
    """Return the years from when a unit was made to a moment (ISO 8601), or None."""
    if made_year is None:
        return None
    day = date.fromisoformat(moment[:10])
    return max(day.year + (day.timetuple().tm_yday - 1) / 365.25 - made_year, 0.0)


def refuse_unknown(store: Store, connection: Connection, names: Sequence[str]) -> None:
    """Raise StoreError for a name that is no field or quantity of any record."""
    if not names:
        return
    known = set(connection.execute(select(ENTRY.c.name).distinct()).scalars())
    for name in names:
        if name not in known:
            raise StoreError(
                spoken(
                    "{name}: '{field}' is no field or quantity of any record.{hint}",
                    name=store.name,
                    field=name,
                    hint=near_miss(name, known),
                )
            )
