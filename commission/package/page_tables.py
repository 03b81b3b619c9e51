"""All tables of one page, in the order of the form."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import groupby

from commission.language import spoken
from commission.package.member_table import grids, member_tables
from commission.package.page_values import Asked, Index, PageValues
from commission.package.single_table import single_tables, table_of_other_pages
from commission.package.tables import DataTable
from commission.package.typed_table import typed_tables

_Shown = tuple[Asked, list[Index]]


def page_tables(values: PageValues) -> Iterator[tuple[str, DataTable]]:
    """Yield (caption, table); "" for a table that needs no caption."""
    for repeats, group in groupby(values.shown_entries(), key=_columns_of):
        shown = list(group)
        if not repeats:
            items = [(entry, members[0]) for entry, members in shown]
            yield from (("", table) for table in single_tables(values, items))
        elif len(repeats) == 1:
            members = sorted({member for _, found in shown for member in found})
            entries = [entry for entry, _ in shown]
            yield from (("", table) for table in member_tables(values, entries, members))
        else:
            for entry, members in shown:
                yield from grids(values, entry, members)
    yield from typed_tables(values)
    strangers = values.verdicts_on_other_pages_values()
    if strangers:
        yield spoken("Checks of values on other pages"), table_of_other_pages(values, strangers)


def _columns_of(shown: _Shown) -> tuple[str, ...]:
    """Return the repeats that need columns: none where there is one member only."""
    entry, members = shown
    return entry.repeat if len(members) > 1 else ()
