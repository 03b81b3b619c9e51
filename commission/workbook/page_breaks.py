"""Where a printed page ends, so that what belongs together stays together."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from itertools import pairwise

from commission.workbook.layout import (
    FIRST_ROW,
    HEAD_ROW,
    BandRow,
    CautionRow,
    CheckRow,
    EntryRow,
    GridHeadRow,
    GridRow,
    GuardRow,
    IntroRow,
    Page,
    Row,
)

_OPENING = (IntroRow, CautionRow, GuardRow)
Block = tuple[int, int]  # first and last row of the sheet


def blocks(page: Page) -> Iterator[Block]:
    """Yield runs of rows that should not be parted: a table with its head, a value and its checks.

    What opens a page stays with the first row behind it.
    """
    start, before = FIRST_ROW, None
    for number, row in page.numbered():
        if before is not None and _may_part(before, row):
            yield start, number - 1
            start = number
        before = row
    if before is not None:
        yield start, page.last_row


def _may_part(before: Row, row: Row) -> bool:
    if isinstance(before, _OPENING) or isinstance(row, CheckRow):
        return False
    if isinstance(before, BandRow) or isinstance(row, _OPENING):
        return False
    if isinstance(row, GridRow):
        return not isinstance(before, GridHeadRow | GridRow)
    if isinstance(row, GridHeadRow):  # a grid too wide for one table goes on below itself
        return not (isinstance(before, GridRow) and before.entry is row.entry)
    return isinstance(row, EntryRow | BandRow)


def members(page: Page) -> Iterator[Block]:
    """Yield the rows of each member of a repeat, its heading first."""
    starts = [number for number, row in page.numbered() if isinstance(row, BandRow)]
    for first, following in pairwise([*starts, page.last_row + 1]):
        yield first, following - 1


def page_breaks(
    page: Page, height: Callable[[int], float], room: float, extra: Sequence[Block] = ()
) -> list[int]:
    """Return the rows (from 0) before which a new printed page begins.

    Args:
        height: Points of a row.
        room: Points that a printed page holds, its repeated heading rows included.
        extra: Further blocks below the rows of the page (charts).
    """
    head = sum(height(row) for row in range(HEAD_ROW + 1))
    room -= head
    whole = dict(members(page))
    used, breaks = 0.0, []

    def tall(block: Block) -> float:
        return sum(height(row) for row in range(block[0], block[1] + 1))

    for block in (*blocks(page), *extra):
        needed = tall(block)
        member = whole.get(block[0])
        if member is not None and tall((block[0], member)) <= room:
            needed = tall((block[0], member))  # a member that fits a page is begun on one
        if used and used + needed > room:
            breaks.append(block[0])
            used = 0.0
        for row in range(block[0], block[1] + 1):
            if used and used + height(row) > room:
                breaks.append(row)
                used = 0.0
            used += height(row)
    return breaks
