"""One unit over its visits: what was found each time, and chosen values beside one another."""

from __future__ import annotations

import zlib
from collections.abc import Sequence
from dataclasses import dataclass, replace

from sqlalchemy import Connection, select

from commission.archive.labels import said_label
from commission.archive.store.opening import Store
from commission.archive.store.searching import (
    FoundUnit,
    Query,
    found_unit,
    refuse_unknown,
    search_units,
)
from commission.archive.store.tables import ENTRY, READ_VALUE, RECORD, UNIT, folded
from commission.errors import StoreError
from commission.language import spoken


@dataclass(frozen=True, slots=True)
class VisitValue:
    """One number at one visit; `expanded` is its expanded uncertainty, in `unit`."""

    name: str
    label: str
    unit: str
    decimals: int | None
    number: float
    expanded: float | None


@dataclass(frozen=True, slots=True)
class Visit:
    """A unit at one visit with the values asked for."""

    unit: FoundUnit
    values: tuple[VisitValue, ...] = ()


def unit_history(store: Store, query: Query, names: Sequence[str] = ()) -> list[Visit]:
    """Return every visit to the one unit that answers a query, the earliest first.

    Args:
        names: fields and quantities to show of each visit.
    Raises:
        StoreError: none or several units answer, a name is in no record, or the store cannot
            be read.
    """
    found = search_units(store, replace(query, all_visits=True))
    exact = [unit for unit in found if folded(unit.tag) == folded(query.tag)]
    identities = {unit.identity: unit for unit in exact or found}
    if len(identities) != 1:
        shown = "; ".join(f"{u.site} {u.tag} ({u.serial})" for u in list(identities.values())[:5])
        rule = (
            spoken("{count} units answer: {shown}", count=len(identities), shown=shown)
            if identities
            else spoken("no unit answers")
        )
        raise StoreError(
            spoken(
                "{name}: {rule}. Say which by site, tag or serial number; 'commission store "
                "search' lists them.",
                name=store.name,
                rule=rule,
            )
        )
    with store.transaction(spoken("nothing was read")) as connection:
        refuse_unknown(store, connection, names)
        rows = connection.execute(
            select(UNIT, RECORD.c.site, RECORD.c.title, RECORD.c.coverage_factor)
            .join(RECORD)
            .where(UNIT.c.identity == next(iter(identities)))
            .order_by(UNIT.c.visited_utc, RECORD.c.revision, UNIT.c.id)
        ).all()
        return [
            Visit(found_unit(row), _values(connection, row.id, names, row.coverage_factor))
            for row in rows
        ]


def _values(
    connection: Connection, unit_key: int, names: Sequence[str], factor: float
) -> tuple[VisitValue, ...]:
    if not names:
        return ()
    rows = connection.execute(
        select(READ_VALUE, ENTRY)
        .join(ENTRY, ENTRY.c.id == READ_VALUE.c.entry_id)
        .where(READ_VALUE.c.unit_key == unit_key, ENTRY.c.name.in_(list(names)))
        .order_by(ENTRY.c.name, READ_VALUE.c.place)
    )
    return tuple(
        VisitValue(
            row.name,
            said_label(row.label, row.member),
            row.unit,
            row.decimals,
            row.number,
            None if row.u is None else factor * row.u,
        )
        for row in rows
    )


def stored_record(store: Store, record_id: int) -> bytes:
    """Return the bytes of an archive record as they were added.

    Raises:
        StoreError: there is none of this number, or the store cannot be read.
    """
    with store.transaction(spoken("nothing was read")) as connection:
        content = connection.execute(
            select(RECORD.c.content).where(RECORD.c.id == record_id)
        ).scalar()
    if content is None:
        raise StoreError(
            spoken(
                "{name}: holds no record {record_id}. 'commission store search' shows the numbers.",
                name=store.name,
                record_id=record_id,
            )
        )
    return zlib.decompress(content)
