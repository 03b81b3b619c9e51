"""The package held to PDF/UA-1 clause by clause, and each rule shown to find what it is for."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pikepdf
import pytest
from pikepdf import Array, Dictionary, Name, String

from package.clauses import faults
from package.reading_tags import Node, tree


@pytest.mark.parametrize("which", ["small_package", "demo_package"])
def test_no_clause_is_broken(request: pytest.FixtureRequest, which: str) -> None:
    with pikepdf.open(request.getfixturevalue(which)) as pdf:
        assert faults(pdf) == []


def first(pdf: pikepdf.Pdf, kind: str) -> Node:
    return next(node for node in tree(pdf).all() if node.kind == kind)


def with_links(pdf: pikepdf.Pdf) -> pikepdf.Object:
    return next(page.obj for page in pdf.pages if "/Annots" in page.obj)


def element(kind: str) -> Callable[[pikepdf.Pdf], pikepdf.Object]:
    """Return what finds the first element of a kind."""
    return lambda pdf: first(pdf, kind).element


def font(pdf: pikepdf.Pdf) -> pikepdf.Object:
    return next(iter(pdf.pages[0].obj.Resources.Font.values()))


def empty_paragraph(pdf: pikepdf.Pdf) -> None:
    del first(pdf, "/P").element["/K"]


def headless_table(pdf: pikepdf.Pdf) -> None:
    for cell in first(pdf, "/Table").children[0].children:
        cell.element["/S"] = Name("/TD")
        del cell.element["/A"]


def marked_drawing(pdf: pikepdf.Pdf) -> None:
    for drawing in pdf.pages[0].obj.Resources.XObject.values():
        drawing.write(b"/P <</MCID 0>> BDC EMC " + drawing.read_bytes())


def unmarked_page(pdf: pikepdf.Pdf) -> None:
    page = pdf.pages[0]
    page.Contents = pdf.make_stream(b"BT /F1 9 Tf (x) Tj ET " + page.Contents.read_bytes())


def unknown_piece(pdf: pikepdf.Pdf) -> None:
    page = pdf.pages[0]
    page.Contents = pdf.make_stream(page.Contents.read_bytes() + b" /P <</MCID 9999>> BDC EMC")


def set_(place: Callable[[pikepdf.Pdf], pikepdf.Object], key: str, value: object) -> object:
    def spoil(pdf: pikepdf.Pdf) -> None:
        place(pdf)[key] = value

    return spoil


def without(place: Callable[[pikepdf.Pdf], pikepdf.Object], key: str) -> object:
    def spoil(pdf: pikepdf.Pdf) -> None:
        del place(pdf)[key]

    return spoil


SPOILT = {
    "7.1: the file does not say that it is tagged": without(lambda pdf: pdf.Root, "/MarkInfo"),
    "7.1: the window's title is not": without(lambda pdf: pdf.Root, "/ViewerPreferences"),
    "7.1: is mapped to /Z": set_(
        lambda pdf: pdf.Root.StructTreeRoot, "/RoleMap", Dictionary(Y=Name("/Z"))
    ),
    "7.1 and 7.8: outside marked content": unmarked_page,
    "7.1 and 7.8: piece 9999 is in no element": unknown_piece,
    "7.1 and 7.6: an empty /P": empty_paragraph,
    "7.1 and 7.6: /Z is no standard kind": set_(element("/P"), "/S", Name("/Z")),
    "7.1 and 7.6: /P within /LI": set_(element("/LBody"), "/S", Name("/P")),
    "7.2: '' names no language": without(lambda pdf: pdf.Root, "/Lang"),
    "7.2: 'x y' names no language": set_(
        element("/P"), "/Lang", String("x y")
    ),
    "7.3 and 7.7: a /Figure without words": without(element("/Figure"), "/Alt"),
    "7.3 and 7.7: a /Formula without words": without(element("/Formula"), "/Alt"),
    "7.4: H3 follows no heading": set_(element("/H1"), "/S", Name("/H3")),
    "7.5: a heading without scope": without(element("/TH"), "/A"),
    "7.5: a table without headings": headless_table,
    "7.5: rows of": set_(
        element("/TH"), "/A",
        Dictionary(O=Name.Table, Scope=Name.Column, ColSpan=3),
    ),
    "7.10: optional content": set_(
        lambda pdf: pdf.Root, "/OCProperties", Dictionary(D=Dictionary(AS=Array()))
    ),
    "7.15 and 7.16: a form in XML": set_(lambda pdf: pdf.Root.AcroForm, "/XFA", String("x")),
    "7.17: no outline to go by": without(lambda pdf: pdf.Root, "/Outlines"),
    "7.17: the pages have no labels": without(lambda pdf: pdf.Root, "/PageLabels"),
    "7.18: not visited in the order": without(with_links, "/Tabs"),
    "7.18: /Link without words": without(lambda pdf: with_links(pdf).Annots[0], "/Contents"),
    "7.18: /Text in /Link": set_(lambda pdf: with_links(pdf).Annots[0], "/Subtype", Name("/Text")),
    "7.20: holds pieces of the tree": marked_drawing,
    "7.21: is not in the file": without(lambda pdf: font(pdf).FontDescriptor, "/FontFile2"),
    "7.21: which characters its codes are": without(font, "/ToUnicode"),
}  # fmt: skip


@pytest.mark.parametrize("told", SPOILT)
def test_each_rule_finds_what_it_is_for(small_package: Path, told: str) -> None:
    with pikepdf.open(small_package) as pdf:
        clause, words = told.split(": ")
        SPOILT[told](pdf)  # type: ignore[operator]
        assert any(words in fault for fault in faults(pdf, clause))
