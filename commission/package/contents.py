"""The contents: every part and, under each unit, its pages; numbers are filled in at the end."""

from __future__ import annotations

from collections.abc import Sequence

from reportlab.platypus import Flowable

from commission.package.flowables import Heading
from commission.package.look import BOLD, REGULAR
from commission.package.tables import Cell, Column, DataTable, Row
from commission.package.turnover import Turnover

KEY = "contents"
TITLE = "Contents"


def contents(
    turnover: Turnover, before: Sequence[tuple[str, str]], after: Sequence[tuple[str, str]]
) -> list[Flowable]:
    """Return the contents; `before` and `after` the units are (key, title)."""
    rows = [_entry(key, title, strong=True) for key, title in before]
    for results in turnover.everything:
        part = turnover.part(results)
        sections = results.sections()
        if not sections:
            continue
        rows.append(_entry(part.key, part.title, strong=True))
        rows += [_entry(part.page_key(s), s.title, strong=False) for s in sections]
    rows += [_entry(key, title, strong=True) for key, title in after]
    columns = [Column("", 460), Column("", 56, "right")]
    return [Heading(TITLE, 1, KEY), DataTable(columns, rows, header=False, size=8, leading=9.6)]


def _entry(key: str, title: str, strong: bool) -> Row:
    font = BOLD if strong else REGULAR
    text = title if strong else f"      {title}"
    return Row([Cell(text, font, goes_to=key), Cell(page_of=key)], ruled=strong)
