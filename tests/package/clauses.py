"""What keeps a PDF from being PDF/UA-1, clause by clause: a second reading, with pikepdf alone.

Each rule is a clause of ISO 14289-1:2014 that a program can decide, in our own words (the list
of the clauses from memory); `faults` gives "clause: what is wrong". That all painting is marked
and each piece in the parent tree is in `reading_tags`, whose readers are used here too.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator

import pikepdf
from pikepdf import Array, Dictionary, Stream

from package.reading_tags import STANDARD, Node, marks_of, scope_of, table_faults, tree

_LANGUAGE = re.compile(r"[A-Za-z]{2,3}(-[A-Za-z0-9]{2,8})*")  # BCP 47, as far as used here
_MAY_BE_EMPTY = {"/TD"}  # a cell that holds nothing keeps its row regular
# ISO 32000-1, table 333: what lists and contents may hold.
_HOLDS = {
    "/L": {"/LI", "/Caption"},
    "/LI": {"/Lbl", "/LBody"},
    "/TOC": {"/TOC", "/TOCI", "/Caption"},
    "/TOCI": {"/Lbl", "/Reference", "/P", "/NonStruct", "/TOC"},
    "/Table": {"/TR", "/THead", "/TBody", "/TFoot", "/Caption"},
    "/TR": {"/TH", "/TD"},
}
Rule = Callable[[pikepdf.Pdf, Node], Iterator[str]]


def faults(pdf: pikepdf.Pdf, clauses: str = "") -> list[str]:
    """Return all faults found, each with its clause; of some clauses alone if they are named."""
    document = tree(pdf)
    rules = [(name, rule) for name, rule in RULES if clauses in ("", name)]
    return [f"{name}: {told}" for name, rule in rules for told in rule(pdf, document)]


def _catalogue(pdf: pikepdf.Pdf, _: Node) -> Iterator[str]:
    if not pdf.Root.get("/MarkInfo", Dictionary()).get("/Marked", False):
        yield "the file does not say that it is tagged"
    if pdf.Root.get("/MarkInfo", Dictionary()).get("/Suspects", False):
        yield "the tags are said to be suspect"
    if not pdf.Root.get("/ViewerPreferences", Dictionary()).get("/DisplayDocTitle", False):
        yield "the window's title is not the document's"
    for kind, role in pdf.Root.StructTreeRoot.get("/RoleMap", Dictionary()).items():
        if kind in STANDARD:
            yield f"the standard kind {kind} is mapped anew"
        if str(role) not in STANDARD:
            yield f"{kind} is mapped to {role}, which is not standard"


def _marked(pdf: pikepdf.Pdf, document: Node) -> Iterator[str]:
    held = {piece for node in document.all() for piece in node.pieces}
    if len(held) != sum(len(node.pieces) for node in document.all()):
        yield "a piece is in the tree twice"
    for number, page in enumerate(pdf.pages):
        pieces, wrong = marks_of(page)
        yield from (f"page {number + 1}: {fault}" for fault in wrong)
        marks = [mark for _, mark in pieces]
        if len(set(marks)) != len(marks):
            yield f"page {number + 1}: a piece's number is used twice"
        yield from (
            f"page {number + 1}: piece {mark} is in no element"
            for mark in marks
            if (number, mark) not in held
        )


def _full(_: pikepdf.Pdf, document: Node) -> Iterator[str]:
    for node in document.all():
        empty = not (node.pieces or node.objects or node.children)
        if empty and node.kind not in _MAY_BE_EMPTY:
            yield f"an empty {node.kind}"
        if node.kind not in STANDARD:
            yield f"{node.kind} is no standard kind"
        allowed = _HOLDS.get(node.kind)
        if allowed is not None:
            yield from (
                f"{child.kind} within {node.kind}"
                for child in node.children
                if child.kind not in allowed
            )
            if node.pieces:
                yield f"text of its own in {node.kind}"
        if node.kind == "/LI" and [c.kind for c in node.children].count("/LBody") > 1:
            yield "a list's item with two bodies"


def _language(pdf: pikepdf.Pdf, document: Node) -> Iterator[str]:
    told = [str(pdf.Root.get("/Lang", ""))]
    told += [str(node.element.Lang) for node in document.all() if "/Lang" in node.element]
    yield from (f"'{one}' names no language" for one in told if not _LANGUAGE.fullmatch(one))


def _alternates(_: pikepdf.Pdf, document: Node) -> Iterator[str]:
    for node in document.all():
        if node.kind in ("/Figure", "/Formula") and not str(node.element.get("/Alt", "")).strip():
            yield f"a {node.kind} without words"


def _headings(_: pikepdf.Pdf, document: Node) -> Iterator[str]:
    last = 0
    for node in document.all():
        if node.kind == "/H":
            yield "headings with and without a level"
        if match := re.fullmatch(r"/H(\d)", node.kind):
            level = int(match[1])
            if level > last + 1:
                yield f"H{level} follows {f'H{last}' if last else 'no heading'}"
            last = level


def _tables(_: pikepdf.Pdf, document: Node) -> Iterator[str]:
    for node in document.all():
        if node.kind == "/Table":
            yield from table_faults(node)
            cells = [cell for row in node.children for cell in row.children]
            if not any(scope_of(cell) == "/Column" for cell in cells):
                yield "a table without headings"


def _layers(pdf: pikepdf.Pdf, _: Node) -> Iterator[str]:
    layers = pdf.Root.get("/OCProperties", Dictionary())
    for told in (layers.get("/D"), *layers.get("/Configs", ())):
        if told is not None and (not str(told.get("/Name", "")) or "/AS" in told):
            yield "optional content without a name, or that changes by itself"


def _files(pdf: pikepdf.Pdf, _: Node) -> Iterator[str]:
    for name in pdf.attachments:
        about = pdf.attachments[name].obj
        if not ("/F" in about and "/UF" in about):
            yield f"the file '{name}' is not named in both ways"


def _forms(pdf: pikepdf.Pdf, _: Node) -> Iterator[str]:
    if "/XFA" in pdf.Root.get("/AcroForm", Dictionary()):
        yield "a form in XML"
    if pdf.is_encrypted and not pdf.allow.accessibility:
        yield "reading aloud is not allowed"


def _annotations(pdf: pikepdf.Pdf, document: Node) -> Iterator[str]:
    holders = {found.objgen: node.kind for node in document.all() for found in node.objects}
    for number, page in enumerate(pdf.pages, 1):
        found = list(page.obj.get("/Annots", ()))
        if found and page.obj.get("/Tabs") != "/S":
            yield f"page {number}: fields and links are not visited in the order of the tags"
        for annotation in found:
            kind, holder = str(annotation.Subtype), holders.get(annotation.objgen, "none")
            if kind in ("/TrapNet", "/PrinterMark", "/Movie", "/Sound"):
                yield f"page {number}: {kind}"
            wanted = {"/Link": "/Link", "/Widget": "/Form"}.get(kind, "/Annot")
            if holder != wanted:
                yield f"page {number}: {kind} in {holder}, not in {wanted}"
            words = annotation.get("/TU" if kind == "/Widget" else "/Contents", "")
            if not str(words).strip():
                yield f"page {number}: {kind} without words"
    for node in document.all():
        if node.kind == "/Link" and not node.objects:
            yield "a Link that links nothing"


def _reused(pdf: pikepdf.Pdf, _: Node) -> Iterator[str]:
    """Drawings kept apart are used on several pages: none may hold pieces, nor refer outside."""
    seen: set[tuple[int, int]] = set()
    for page in pdf.pages:
        for name, drawing in page.obj.Resources.get("/XObject", Dictionary()).items():
            if drawing.objgen in seen or drawing.get("/Subtype") != "/Form":
                continue
            seen.add(drawing.objgen)
            if "/Ref" in drawing:
                yield f"{name} refers to another file"
            if any(
                str(operator) == "BDC" and "/MCID" in operands[1]
                for operands, operator in pikepdf.parse_content_stream(drawing)
            ):
                yield f"{name} holds pieces of the tree"


def _fonts(pdf: pikepdf.Pdf, _: Node) -> Iterator[str]:
    fonts: dict[tuple[int, int], pikepdf.Object] = {}
    for page in pdf.pages:
        for font in page.obj.Resources.get("/Font", Dictionary()).values():
            fonts[font.objgen] = font
    for font in fonts.values():
        name = str(font.get("/BaseFont", "?"))
        about = font.get("/FontDescriptor", Dictionary())
        if not any(isinstance(about.get(f"/FontFile{n}"), Stream) for n in ("", "2", "3")):
            yield f"{name} is not in the file"
        table = font.get("/ToUnicode")
        if table is None:
            yield f"{name} does not say which characters its codes are"
            continue
        told = re.findall(rb"<[0-9A-F]{2}> <([0-9A-F]{4,})>", table.read_bytes())
        bad = {b"0000", b"FEFF", b"FFFE"} & set(told)
        if bad or not told:
            yield f"{name} has codes for no character"


def _outline(pdf: pikepdf.Pdf, _: Node) -> Iterator[str]:
    if "/Outlines" not in pdf.Root:
        yield "no outline to go by"
    labels = pdf.Root.get("/PageLabels")
    if labels is None or int(next(iter(labels.get("/Nums", Array([1]))))) != 0:
        yield "the pages have no labels"


RULES: tuple[tuple[str, Rule], ...] = (
    ("7.1", _catalogue),
    ("7.1 and 7.8", _marked),
    ("7.1 and 7.6", _full),
    ("7.2", _language),
    ("7.3 and 7.7", _alternates),
    ("7.4", _headings),
    ("7.5", _tables),
    ("7.10", _layers),
    ("7.11", _files),
    ("7.15 and 7.16", _forms),
    ("7.17", _outline),
    ("7.18", _annotations),
    ("7.20", _reused),
    ("7.21", _fonts),
)
