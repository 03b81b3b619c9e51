"""The contents: every part, and the pages of the form by units; numbers come at the end."""

from __future__ import annotations

from collections.abc import Sequence

from reportlab.platypus import Flowable

from commission.language import spoken, to_say
from commission.package.flowables import Heading
from commission.package.look import BOLD
from commission.package.tables import Cell, Column, DataTable, Row
from commission.package.turnover import Part, Turnover

KEY = "contents"
TITLE = to_say("Contents")
_UNITS_SIDE_BY_SIDE = 6


def contents(
    turnover: Turnover, before: Sequence[tuple[str, str]], after: Sequence[tuple[str, str]]
) -> list[Flowable]:
    """Return the contents; `before` and `after` the units are (key, title)."""
    flowables: list[Flowable] = [Heading(spoken(TITLE), 1, KEY), _list_of(before)]
    site = turnover.part(turnover.site.pages)
    if turnover.sections_of(site.results):
        flowables.append(_list_of([(site.key, site.title)]))
    parts = [turnover.part(results) for results in turnover.units]
    for first in range(0, len(parts), _UNITS_SIDE_BY_SIDE):
        flowables.append(_pages_of_units(turnover, parts[first : first + _UNITS_SIDE_BY_SIDE]))
    return [*flowables, _list_of(after)]


def _list_of(entries: Sequence[tuple[str, str]]) -> DataTable:
    rows = [Row([Cell(title, BOLD, goes_to=key), Cell(page_of=key)]) for key, title in entries]
    columns = [Column("", 460), Column("", 56, "right")]
    return DataTable(columns, rows, header=False, pad=1.4, reads="contents")


def _pages_of_units(turnover: Turnover, parts: Sequence[Part]) -> DataTable:
    """Return a table of the pages of the form by units, with where each page begins."""
    share = min(316 / len(parts), 56)
    columns = [Column(spoken("Pages of each unit"), 516 - share * len(parts))]
    columns += [Column(part.title, share, "right") for part in parts]
    opening: list[Cell | str] = [Cell(spoken("Overview of the unit"), BOLD)]
    rows = [Row([*opening, *(Cell(page_of=part.key) for part in parts)])]
    shown = [{s.name for s in turnover.sections_of(part.results)} for part in parts]
    for section in turnover.site.form.sections:
        if any(section.name in names for names in shown):
            cells = [
                Cell(page_of=part.page_key(section)) if section.name in names else Cell("–")
                for part, names in zip(parts, shown, strict=True)
            ]
            rows.append(Row([section.title, *cells], ruled=False))
    logged = [part.results.unit_id in turnover.with_logs for part in parts]
    if any(logged):
        places = zip(parts, logged, strict=True)
        cells = [Cell(page_of=part.trend_key) if has else Cell("–") for part, has in places]
        rows.append(Row([spoken("Trend logs"), *cells], ruled=False))
    tested = [turnover.has_tests(part.results) for part in parts]
    if any(tested):
        places = zip(parts, tested, strict=True)
        cells = [Cell(page_of=part.tests_key) if has else Cell("–") for part, has in places]
        rows.append(Row([spoken("Functional tests of this configuration"), *cells], ruled=False))
    return DataTable(columns, rows, leading=8.4, pad=0.7)
