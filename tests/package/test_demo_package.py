"""The whole demo package, hundreds of pages: how its tables and headings break, what it holds."""

from __future__ import annotations

import re
from collections.abc import Iterator
from itertools import pairwise
from pathlib import Path

import pikepdf
import pytest

from commission.package.handover_index import GROUPS
from package.reading_pdf import page_texts, tool
from package.reading_tags import Node, marks_of, table_faults, tree


@pytest.fixture(scope="module")
def pdf(demo_package: Path) -> Iterator[pikepdf.Pdf]:
    with pikepdf.open(demo_package) as opened:
        yield opened


@pytest.fixture(scope="module")
def document(pdf: pikepdf.Pdf) -> Node:
    return tree(pdf)


@pytest.fixture(scope="module")
def texts(demo_package: Path) -> list[str]:
    return page_texts(demo_package)


def page_of(node: Node) -> int:
    return node.pieces[0][0] + 1


def rows_by_page(table: Node) -> dict[int, list[Node]]:
    found: dict[int, list[Node]] = {}
    for row in table.children:
        pages = [page for node in row.all() for page, _ in node.pieces]
        if pages:
            found.setdefault(min(pages) + 1, []).append(row)
    return found


def test_no_heading_stands_alone_at_the_foot_of_a_page(document: Node) -> None:
    told = [node for node in document.all() if node.pieces]
    alone = [
        page_of(node)
        for node, after in pairwise(told)
        if re.fullmatch(r"/H\d", node.kind) and page_of(node) != page_of(after)
    ]
    assert alone == []


def test_no_row_stands_alone_on_a_page(document: Node) -> None:
    """On either side of a break a table has two rows at least, its header not counted."""
    alone = []
    broken = 0
    for table in (node for node in document.all() if node.kind == "/Table"):
        by_page = rows_by_page(table)
        broken += len(by_page) > 1
        for page, rows in by_page.items():
            count = len(rows) - (page == min(by_page))
            if len(by_page) > 1 and count < 2:
                alone.append(page)
    assert broken > 40
    assert alone == []


def test_nothing_is_cut_at_the_sides_or_the_foot(demo_package: Path) -> None:
    boxes = re.findall(
        r'<word xMin="([\d.]+)" yMin="([\d.]+)" xMax="([\d.]+)" yMax="([\d.]+)"',
        tool("pdftotext", "-bbox", demo_package, "-"),
    )
    assert len(boxes) > 30_000
    out = [
        box
        for box in boxes
        if float(box[0]) < 47 or float(box[2]) > 612 - 47 or float(box[3]) > 792 - 20
    ]
    assert out == []


def test_every_page_is_marked_and_every_table_regular(pdf: pikepdf.Pdf, document: Node) -> None:
    faults = {
        number: found for number, page in enumerate(pdf.pages, 1) if (found := marks_of(page)[1])
    }
    assert faults == {}
    tables = [node for node in document.all() if node.kind == "/Table"]
    assert [fault for table in tables for fault in table_faults(table)] == []


def test_the_summary_for_the_owner_is_one_page(document: Node, texts: list[str]) -> None:
    starts = [
        number for number, text in enumerate(texts, 1) if "Summary for the owner" in text[:400]
    ]
    assert starts[0] == 2
    assert "Contents" in texts[2][:400]
    for tag in range(1, 7):
        assert f"RTU-{tag}" in texts[1]


def test_what_needs_attention_comes_first(texts: list[str]) -> None:
    """The cover tells stops and overrides; the tables go from stops to notes before any unit."""
    assert re.search(r"\d+ stops?, \d+ failures", texts[0])
    assert "stop was passed over" in texts[0]
    front = "\n".join(texts)
    places = [
        front.index(f"{title} (")
        for title in ("Stops", "Failures", "Inconclusive", "Worth knowing")
    ]
    assert places == sorted(places)
    assert places[-1] < front.index("Page of the form")


def test_the_fourteen_groups_stand_in_one_table_each_with_what_is_held(
    document: Node, texts: list[str]
) -> None:
    """The groups are those of public turnover specifications, put together; see the module."""
    assert len(GROUPS) == 14
    title = re.compile(r"^\s*What a turnover is asked to hold$", re.MULTILINE)
    page = next(text for text in texts if title.search(text))
    told = " ".join(page.split())
    for number, group in enumerate(GROUPS, 1):
        assert f"{number}. {group.title.split(',')[0].split(' ')[0]}" in told
    assert "5 people" in told
    assert re.search(r"Instruments .* 26 instruments; 1 used past due", told)
    assert re.search(r"12 entries; 10 open", told)
    assert re.search(r"\d+ of \d+ pages done; .*failing", told)
    assert "The form does not ask" not in told
    assert "No unit here has such a page" not in told


def test_what_was_not_tested_is_told_with_its_reason(texts: list[str]) -> None:
    pages = [text for text in texts if "What was not tested, and why\n" in text[:400]]
    told = " ".join(" ".join(pages).split())
    assert "Waits for a stop" in told
    assert "Gas piping purged of air" in told
    assert re.search(r"Overload setting +built-in motor protection", told)
    assert "The unit's configuration does not have it." in told


def test_the_history_of_passes_stands_beside_the_readings(texts: list[str]) -> None:
    whole = "\n".join(texts)
    assert re.search(r"Reading or quantity .*As found .*As left", whole)
    assert "Put right since it was found:" in whole


def test_outline_and_labels_cover_every_part(pdf: pikepdf.Pdf) -> None:
    with pdf.open_outline() as outline:
        titles = [item.title for item in outline.root]
    wanted = ["Summary for the owner", "RTU-1", "RTU-6", "Deficiency log", "Sign-off"]
    assert [title for title in titles if title in wanted] == wanted
    assert [page.label for page in pdf.pages][:3] == ["Cover", "2", "3"]
