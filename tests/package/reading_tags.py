"""The tags of a PDF read back with pikepdf, and what is wrong with them."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field

import pikepdf
from pikepdf import Array, Dictionary

# What paints (ISO 32000-1, annex A): text, paths, shadings, images and forms.
PAINTING = {"Tj", "TJ", "'", '"', "f", "F", "f*", "B", "B*", "b", "b*", "S", "s", "sh", "Do", "BI"}
# Of ISO 32000-1, 14.8.4: those that may hold pieces or elements here.
STANDARD = {
    "/Document", "/Sect", "/H1", "/H2", "/H3", "/P", "/Table", "/TR", "/TH", "/TD", "/L", "/LI",
    "/Lbl", "/LBody", "/TOC", "/TOCI", "/Reference", "/Link", "/Figure", "/Formula", "/Form",
    "/Div", "/Caption",
}  # fmt: skip
PARENTS = {
    "/TR": {"/Table"},
    "/TH": {"/TR"},
    "/TD": {"/TR"},
    "/LI": {"/L"},
    "/Lbl": {"/LI"},
    "/LBody": {"/LI"},
    "/TOCI": {"/TOC"},
    "/Reference": {"/TOCI"},
}


@dataclass
class Node:
    """An element of the tree; `pieces` are (page from 0, number), `objects` its annotations."""

    element: pikepdf.Object
    parent: Node | None
    kind: str
    pieces: list[tuple[int, int]] = field(default_factory=list)
    objects: list[pikepdf.Object] = field(default_factory=list)
    children: list[Node] = field(default_factory=list)

    def all(self) -> Iterator[Node]:
        yield self
        for child in self.children:
            yield from child.all()


def tree(pdf: pikepdf.Pdf) -> Node:
    """Return the document's element with everything below it."""
    numbers = {page.obj.objgen: number for number, page in enumerate(pdf.pages)}
    return _node(pdf.Root.StructTreeRoot.K, None, numbers)


def _node(
    element: pikepdf.Object, parent: Node | None, numbers: dict[tuple[int, int], int]
) -> Node:
    node = Node(element, parent, str(element.S))
    held = element.get("/K")
    kids = [] if held is None else list(held) if isinstance(held, Array) else [held]
    for kid in kids:
        if not isinstance(kid, Dictionary):
            node.pieces.append((numbers[element.Pg.objgen], int(kid)))
        elif kid.get("/Type") == "/MCR":
            node.pieces.append((numbers[kid.Pg.objgen], int(kid.MCID)))
        elif kid.get("/Type") == "/OBJR":
            node.objects.append(kid.Obj)
        else:
            node.children.append(_node(kid, node, numbers))
    return node


def number_tree(node: pikepdf.Object) -> dict[int, pikepdf.Object]:
    """Return a number tree as a dictionary."""
    found: dict[int, pikepdf.Object] = {}
    for kid in node.get("/Kids", ()):
        found.update(number_tree(kid))
    entries = list(node.get("/Nums", ()))
    for key, value in zip(entries[::2], entries[1::2], strict=True):
        found[int(key)] = value
    return found


def marks_of(page: pikepdf.Page) -> tuple[list[tuple[str, int]], list[str]]:
    """Return a page's pieces as (kind, number) in the order drawn, and its faults."""
    pieces: list[tuple[str, int]] = []
    faults: list[str] = []
    stack: list[bool] = []  # whether each open sequence is a piece of an element
    for operands, operator in pikepdf.parse_content_stream(page):
        name = str(operator)
        if name in ("BDC", "BMC"):
            about = operands[1] if name == "BDC" else Dictionary()
            is_piece = "/MCID" in about
            is_text = "/ActualText" in about and bool(stack) and stack[-1]
            if stack and not is_text:
                faults.append(f"{operands[0]} within another sequence")
            stack.append(is_piece)
            if is_text:
                continue
            if is_piece:
                pieces.append((str(operands[0]), int(about.MCID)))
            elif str(operands[0]) != "/Artifact":
                faults.append(f"{operands[0]} without a number")
        elif name == "EMC":
            stack.pop()
        elif name in PAINTING and not stack:
            faults.append(f"{name} outside marked content")
    return pieces, faults + ["left open"] * bool(stack)


def table_faults(table: Node) -> list[str]:
    """Return what keeps a table from being regular: rows of unlike width, odd children."""
    faults = [f"{child.kind} in a table" for child in table.children if child.kind != "/TR"]
    widths = {sum(span_of(cell) for cell in row.children) for row in table.children}
    if len(widths) > 1:
        faults.append(f"rows of {sorted(widths)} columns")
    cells = [cell for row in table.children for cell in row.children]
    faults += [f"{cell.kind} in a row" for cell in cells if cell.kind not in ("/TH", "/TD")]
    faults += ["a heading without scope" for c in cells if c.kind == "/TH" and not scope_of(c)]
    return faults


def span_of(cell: Node) -> int:
    attributes = cell.element.get("/A", Dictionary())
    return int(attributes.get("/ColSpan", 1))


def scope_of(cell: Node) -> str:
    return str(cell.element.get("/A", Dictionary()).get("/Scope", ""))
