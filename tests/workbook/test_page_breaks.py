"""Where printed pages end: what belongs together stays together, and no page is too full."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise
from pathlib import Path

import pytest
from openpyxl import load_workbook

from commission.definitions.load import load_form
from commission.definitions.model import Form
from commission.validation.site import SiteResults, site_results
from commission.workbook import write_workbook
from commission.workbook.book import plan_book
from commission.workbook.layout import (
    FIRST_ROW,
    HEAD_ROW,
    BandRow,
    CheckRow,
    GridHeadRow,
    GridRow,
    Page,
)
from commission.workbook.page_breaks import blocks, members, page_breaks
from commission.workbook.paper import A4, LETTER
from workbook.sample_site import fill, new_project

ROW = 15.0


@pytest.fixture(scope="module")
def form() -> Form:
    return load_form()


@pytest.fixture(scope="module")
def site(form: Form, tmp_path_factory: pytest.TempPathFactory) -> Iterator[SiteResults]:
    path = tmp_path_factory.mktemp("breaks") / "job.rtuproject"
    with new_project(path, form) as project:
        unit = project.add_unit("RTU-1")
        fill(project, form, unit.id, {"phases": "3", "heat_type": "gas"})
        yield site_results(project, form)


@pytest.fixture(scope="module")
def pages(site: SiteResults) -> list[Page]:
    return plan_book(site).pages


def printed(breaks: list[int], last: int) -> list[tuple[int, int]]:
    """Return the first and last row of each printed page."""
    starts = [FIRST_ROW, *breaks, last + 1]
    return [(first, following - 1) for first, following in pairwise(starts)]


@pytest.mark.parametrize("rows", [12, 20, 33, 80])
def test_no_page_is_too_full_and_no_block_is_parted(pages: list[Page], rows: int) -> None:
    head = ROW * (HEAD_ROW + 1)
    room = head + rows * ROW
    parted = 0
    for page in pages:
        breaks = page_breaks(page, lambda _: ROW, room)
        assert breaks == sorted(set(breaks))
        for first, last in printed(breaks, page.last_row):
            assert 0 < last - first + 1 <= rows, page.sheet
        for first, last in blocks(page):
            if last - first + 1 <= rows:
                inside = [at for at in breaks if first < at <= last]
                assert not inside, (page.sheet, first, last, inside)
        parted += bool(breaks)
    assert parted


def test_blocks_cover_every_row_once_and_keep_heads_with_their_rows(pages: list[Page]) -> None:
    for page in pages:
        rows = dict(page.numbered())
        found = list(blocks(page))
        covered = [row for first, last in found for row in range(first, last + 1)]
        assert covered == list(range(FIRST_ROW, page.last_row + 1)), page.sheet
        for first, last in found:
            kinds = [type(rows[row]) for row in range(first, last + 1) if row in rows]
            assert kinds[0] is not CheckRow  # a check stands with the value it judges
            assert kinds[-1] not in (BandRow, GridHeadRow) or last == page.last_row
            assert kinds[0] is not GridRow  # a grid's rows stand with its head


def test_a_member_that_fits_begins_on_a_new_page(pages: list[Page]) -> None:
    begun = 0
    head = ROW * (HEAD_ROW + 1)
    for page in pages:
        for rows in (15, 25, 40):
            breaks = page_breaks(page, lambda _: ROW, head + rows * ROW)
            for first, last in members(page):
                if last - first + 1 <= rows:
                    assert not [at for at in breaks if first < at <= last], page.sheet
                    begun += first in breaks
    assert begun


def test_tall_rows_end_a_page_sooner(pages: list[Page]) -> None:
    page = max(pages, key=lambda page: page.last_row)
    room = ROW * (HEAD_ROW + 1) + 40 * ROW
    low = page_breaks(page, lambda _: ROW, room)
    high = page_breaks(page, lambda row: ROW * (1 if row <= HEAD_ROW else 2), room)
    assert len(high) > len(low)


def test_a_chart_below_goes_whole_to_the_next_page(pages: list[Page]) -> None:
    page = min(pages, key=lambda page: page.last_row)
    chart = (page.last_row + 2, page.last_row + 19)
    rows = page.last_row - FIRST_ROW + 5
    breaks = page_breaks(page, lambda _: ROW, ROW * (HEAD_ROW + 1 + max(rows, 18)), [chart])
    assert breaks[-1] == chart[0]


@pytest.mark.parametrize("paper", [LETTER, A4])
def test_the_file_holds_the_breaks(site: SiteResults, tmp_path: Path, paper: object) -> None:
    name = "letter" if paper is LETTER else "a4"
    book = load_workbook(write_workbook(site, tmp_path / "x.xlsx", paper=name))
    found = {page.sheet: [b.id for b in book[page.sheet].row_breaks.brk]
             for page in plan_book(site).pages}  # fmt: skip
    assert sum(map(bool, found.values())) > 5
    for page in plan_book(site).pages:
        # A break's number is the row above it, counted from 1: rows from 0 before which one is.
        rows = dict(page.numbered())
        for at in found[page.sheet]:
            assert not isinstance(rows.get(at), CheckRow), page.sheet
            assert not isinstance(rows.get(at - 1), BandRow), page.sheet
