"""The package read aloud: tags after ISO 14289-1:2014 (PDF/UA-1) and ISO 32000-1, 14.7 and 14.8.

No validator of PDF/UA can be installed here; each clause that a program can check is checked
with pikepdf, on the invented project and on a package with hard texts and hundreds of pages.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from itertools import pairwise
from pathlib import Path
from xml.etree import ElementTree

import pikepdf
import pytest

from commission.definitions.model import Form
from commission.package import write_package
from commission.validation.site import site_results
from package.invented_project import fill, new_project
from package.reading_pdf import run_together, tool
from package.reading_tags import (
    PARENTS,
    STANDARD,
    Node,
    marks_of,
    number_tree,
    scope_of,
    table_faults,
    tree,
)


@pytest.fixture(scope="session")
def long_package(small_form: Form, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a package whose tables, paragraphs and rows run over many pages."""
    folder = tmp_path_factory.mktemp("tagged")
    long_text = " ".join(f"word{number}" for number in range(3000))
    with new_project(folder / "long.rtuproject", small_form, title="Yard 温 (a) \\ b") as project:
        fill(project)
        first = project.units()[0].id
        project.record(first, "remark", (), long_text)
        project.record("", "site_address", (), long_text)
        for number in range(3, 30):
            unit = project.add_unit(f"RTU-{number}").id
            project.add_deficiency(unit, f"Something wrong, {number}: " + "x" * 300)
        return write_package(site_results(project, small_form), folder / "long.pdf")


@pytest.fixture(params=["small", "long"])
def path(request: pytest.FixtureRequest) -> Path:
    found: Path = request.getfixturevalue(f"{request.param}_package")
    return found


@pytest.fixture
def pdf(path: Path) -> Iterator[pikepdf.Pdf]:
    with pikepdf.open(path) as opened:
        yield opened


@pytest.fixture
def document(pdf: pikepdf.Pdf) -> Node:
    return tree(pdf)


# -- the file as a whole -----------------------------------------------------------


def test_the_file_says_that_it_is_tagged_and_may_be_read_aloud(pdf: pikepdf.Pdf) -> None:
    """14289-1: 5 (identification), 7.1 (title shown, not suspect), 7.2 (language)."""
    packet = ElementTree.fromstring(pdf.Root.Metadata.read_bytes())
    parts = packet.findall(".//{http://www.aiim.org/pdfua/ns/id/}part")
    assert [part.text for part in parts] == ["1"]
    assert pdf.Root.MarkInfo.Marked is True or bool(pdf.Root.MarkInfo.Marked)
    assert not pdf.Root.MarkInfo.get("/Suspects", False)
    assert bool(pdf.Root.ViewerPreferences.DisplayDocTitle)
    assert str(pdf.Root.Lang) == "en-US"


def test_poppler_and_qpdf_accept_it(path: Path) -> None:
    assert re.search(r"Tagged:\s+yes", tool("pdfinfo", path))
    assert "No syntax or stream encoding errors found" in tool("qpdf", "--check", path)


# -- all content is marked ---------------------------------------------------------


def test_everything_painted_is_a_piece_of_an_element_or_an_artifact(pdf: pikepdf.Pdf) -> None:
    """14289-1, 7.1."""
    for page in pdf.pages:
        pieces, faults = marks_of(page)
        assert faults == []
        assert pieces


def test_a_page_with_unmarked_content_is_found(small_package: Path) -> None:
    """The check above can fail: the same page with its first mark taken out."""
    with pikepdf.open(small_package) as pdf:
        page = pdf.pages[0]
        spoiled = [
            instruction
            for instruction in pikepdf.parse_content_stream(page)
            if str(instruction.operator) not in ("BDC", "BMC", "EMC")
        ]
        page.Contents = pdf.make_stream(pikepdf.unparse_content_stream(spoiled))
        assert "Tj outside marked content" in marks_of(page)[1]


def test_every_piece_is_in_the_tree_once_and_the_parent_tree_leads_to_it(
    pdf: pikepdf.Pdf, document: Node
) -> None:
    """32000-1, 14.7.4: pieces by page and number, and back from page and number to element."""
    holders: dict[tuple[int, int], Node] = {}
    for node in document.all():
        for piece in node.pieces:
            assert piece not in holders
            holders[piece] = node
    parents = number_tree(pdf.Root.StructTreeRoot.ParentTree)
    drawn = 0
    for number, page in enumerate(pdf.pages):
        pieces, _ = marks_of(page)
        listed = list(parents[int(page.obj.StructParents)])
        assert (
            sorted(mark for _, mark in pieces)
            == list(range(len(pieces)))
            == list(range(len(listed)))
        )
        for kind, mark in pieces:
            holder = holders[number, mark]
            assert holder.kind == kind
            assert listed[mark].objgen == holder.element.objgen
        drawn += len(pieces)
    assert drawn == len(holders)


def test_each_element_names_its_parent_and_is_of_a_standard_kind(document: Node) -> None:
    for node in document.all():
        assert node.kind in STANDARD
        if node.parent is not None:
            assert node.element.P.objgen == node.parent.element.objgen
            assert node.parent.kind in PARENTS.get(node.kind, {node.parent.kind})
    assert document.kind == "/Document"


# -- headings, tables, lists, figures ----------------------------------------------


def test_headings_skip_no_level(document: Node) -> None:
    """14289-1, 7.4.2."""
    levels = [int(n.kind[2:]) for n in document.all() if re.fullmatch(r"/H\d", n.kind)]
    assert levels[0] == 1
    assert {1, 2} <= set(levels)
    assert all(after <= before + 1 for before, after in pairwise(levels))


def test_tables_are_regular_and_their_cells_have_headings(document: Node) -> None:
    """14289-1, 7.5: the algorithm of 32000-1, 14.8.4.3.4 finds the headings by their scope."""
    tables = [node for node in document.all() if node.kind == "/Table"]
    assert len(tables) > 8
    for table in tables:
        assert table_faults(table) == []
        scopes = {scope_of(cell) for cell in table.children[0].children}
        assert "/Column" in scopes
    rows = [row for table in tables for row in table.children[1:]]
    headed = [row for row in rows if any(scope_of(cell) == "/Row" for cell in row.children)]
    assert len(headed) > 0.8 * len(rows)


def test_a_table_over_many_pages_is_one_table_whose_header_is_read_once(
    long_package: Path,
) -> None:
    with pikepdf.open(long_package) as pdf:
        longest = max(
            (node for node in tree(pdf).all() if node.kind == "/Table"),
            key=lambda table: len({p for node in table.all() for p, _ in node.pieces}),
        )
        pages = {page for node in longest.all() for page, _ in node.pieces}
        heads = [
            row
            for row in longest.children
            if any(scope_of(cell) == "/Column" for cell in row.children)
        ]
    assert len(pages) > 2
    assert len(heads) == 1


def test_a_paragraph_over_two_pages_is_one_paragraph(small_form: Form, tmp_path: Path) -> None:
    with new_project(tmp_path / "a.rtuproject", small_form) as project:
        fill(project)
        unit = project.units()[0].id
        project.record(unit, "rated_v", (), 460.0, note="gusty wind " * 700)
        path = write_package(site_results(project, small_form), tmp_path / "a.pdf")
    with pikepdf.open(path) as pdf:
        spread = [
            node
            for node in tree(pdf).all()
            if node.kind == "/P" and len({page for page, _ in node.pieces}) > 1
        ]
    assert spread


def test_figures_say_in_words_what_they_show_and_where_they_stand(small_package: Path) -> None:
    """14289-1, 7.3."""
    with pikepdf.open(small_package) as pdf:
        figures = [node for node in tree(pdf).all() if node.kind == "/Figure"]
        told = [str(figure.element.Alt) for figure in figures]
        boxes = [[float(number) for number in figure.element.A.BBox] for figure in figures]
    assert any("Meter on L1" in text for text in told)
    for left, bottom, right, top in boxes:
        assert 47 < left < right < 612 - 47
        assert 50 < bottom < top < 792 - 50


def test_formulas_say_in_words_what_they_show(document: Node) -> None:
    """14289-1, 7.7."""
    formulas = [node for node in document.all() if node.kind == "/Formula"]
    assert formulas
    assert all(str(node.element.Alt).strip() for node in formulas)


def test_links_are_in_the_tree_and_say_where_they_lead(pdf: pikepdf.Pdf, document: Node) -> None:
    """14289-1, 7.18: links and form fields within elements, described, in the tree's order."""
    parents = number_tree(pdf.Root.StructTreeRoot.ParentTree)
    holders = {found.objgen: node for node in document.all() for found in node.objects}
    count = 0
    for page in pdf.pages:
        annotations = list(page.obj.get("/Annots", ()))
        if annotations:
            assert page.obj.Tabs == "/S"
        for annotation in annotations:
            holder = holders[annotation.objgen]
            is_link = annotation.Subtype == "/Link"
            assert holder.kind == ("/Link" if is_link else "/Form")
            assert parents[int(annotation.StructParent)].objgen == holder.element.objgen
            assert str(annotation.Contents if is_link else annotation.TU).strip()
            count += 1
    assert count == len(holders) > 20


# -- reading order -----------------------------------------------------------------


def test_the_order_of_the_tree_is_the_order_of_the_pages(document: Node) -> None:
    """14289-1, 7.1: what is read aloud comes in the order in which it stands."""
    pages = [min(page for page, _ in node.pieces) for node in document.all() if node.pieces]
    assert pages == sorted(pages)


def test_within_a_page_the_order_of_the_tree_is_that_of_the_text(
    pdf: pikepdf.Pdf, document: Node
) -> None:
    """Page numbers in tables, known at the end only, are drawn after the table they stand in."""
    by_page: dict[int, list[int]] = {}
    for node in document.all():
        for page, mark in node.pieces:
            if node.kind not in ("/Link", "/Form"):
                by_page.setdefault(page, []).append(mark)
    assert len(by_page) == len(pdf.pages)
    assert all(marks == sorted(marks) for marks in by_page.values())


def test_read_aloud_the_words_are_whole_and_none_is_left_out(small_package: Path) -> None:
    """Poppler's reader of structure tells every word that its reader of pages tells."""
    aloud = tool("pdfinfo", "-struct-text", small_package)
    assert '"Suction superheat' in aloud
    assert "ac temperature" not in aloud
    heard = run_together(re.sub(r'"\n\s*"', "", aloud))
    for words in ("Circuit2shortofcharge", "Deviationfromratedvoltage", "MeteronL1", "AdaQuill"):
        assert words in heard
