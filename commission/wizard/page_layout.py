"""The order of a page: what stands alone, what stands in a table, each with its checks.

A check stands with what it judges, if that is on the same page, so that a reading, its limit
and its verdict are seen together. Entries that repeat alike share one table.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from commission.definitions.model import Check, Entry, Field, Kind, Section


@dataclass(frozen=True, slots=True)
class Alone:
    """An entry asked once, and the checks that judge it on this page."""

    entry: Entry
    checks: tuple[Check, ...] = ()


@dataclass(frozen=True, slots=True)
class Shared:
    """A table: entries that repeat once by the same thing, each followed by its checks."""

    repeat: str
    entries: tuple[Entry, ...]


@dataclass(frozen=True, slots=True)
class Crossed:
    """A table of one entry that repeats by two things or more, and its checks of this page.

    The last repeat goes across; the others go down together.
    """

    entry: Entry
    checks: tuple[Check, ...] = ()


Block = Alone | Shared | Crossed


def arranged(section: Section) -> tuple[Block, ...]:
    """Return the blocks of a page in reading order."""
    blocks: list[Block] = []
    tables: set[str] = set()
    for entry in section.entries:
        if isinstance(entry, Check) and _judged_here(entry, section):
            continue
        if not entry.repeat:
            blocks.append(Alone(entry, checks_on(entry, section)))
        elif len(entry.repeat) > 1:
            blocks.append(Crossed(entry, checks_on(entry, section)))
        elif entry.repeat[0] not in tables:
            tables.add(entry.repeat[0])
            blocks.append(Shared(entry.repeat[0], tuple(_rows(section, entry.repeat))))
    return tuple(blocks)


def checks_on(entry: Entry, section: Section) -> tuple[Check, ...]:
    """Return the checks of this page that judge an entry of this page."""
    if isinstance(entry, Check):
        return ()
    return tuple(
        check
        for check in section.checks
        if check.judges == entry.name and check.repeat == entry.repeat
    )


def _judged_here(check: Check, section: Section) -> bool:
    judged: tuple[Entry, ...] = (*section.fields, *section.quantities)
    return any(entry.name == check.judges and entry.repeat == check.repeat for entry in judged)


def _rows(section: Section, repeat: tuple[str, ...]) -> Iterator[Entry]:
    for entry in section.entries:
        if entry.repeat != repeat or (isinstance(entry, Check) and _judged_here(entry, section)):
            continue
        yield entry
        # The verdict on an item is its answer itself: it needs no row of its own.
        if not (isinstance(entry, Field) and entry.kind is Kind.ITEM):
            yield from checks_on(entry, section)
