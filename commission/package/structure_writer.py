"""The logical structure, written behind a finished PDF as an update of it.

A large site has millions of elements, more than a PDF library can hold as objects; here each
becomes its text at once, and the text goes into compressed object streams.
Source: ISO 32000-1:2008, 7.5.6 (updates), 7.5.7 (object streams), 7.5.8 (cross-reference
streams), 7.9.7 (number trees), 14.7 (structure).
"""

from __future__ import annotations

import zlib
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import BinaryIO

from commission.package.structure import DOCUMENT, Element, Structure

_OBJECTS_A_STREAM = 200
_PAGES_A_LEAF = 64
_DIRECT, _WITHIN = 1, 2
_ENTRY = 8  # bytes of an object's place: its kind, where it stands, which one it is there


@dataclass(frozen=True, slots=True)
class Finished:
    """What must be known of the PDF: object numbers of its parts, and its trailer's entries.

    `annotations` are by the key that each one's StructParent says; `root` is the number of the
    structure tree's own object, which the update replaces.
    """

    pages: Sequence[int]
    annotations: Mapping[int, int]
    root: int
    size: int
    previous: int
    trailer: str


def append_structure(target: BinaryIO, structure: Structure, finished: Finished) -> None:
    """Write a structure behind a PDF.

    Args:
        target: the PDF, open at its end.
        structure: complete; its pages are the PDF's.
        finished: of the PDF as it stands in `target`.
    """
    writer = _Update(target, finished.size, finished.size + len(structure))
    first = finished.size
    for number, text in _element_texts(structure, finished):
        writer.add(first + number, text)
    leaves = []
    for low, high, text in _leaves(structure, first):
        number = writer.new_number()
        writer.add(number, f"<</Limits[{low} {high}]/Nums[{text}]>>")
        leaves.append(f"{number} 0 R")
    parents = writer.new_number()
    writer.add(parents, f"<</Kids[{' '.join(leaves)}]>>")
    writer.add(
        finished.root,
        f"<</Type/StructTreeRoot/K {first} 0 R/ParentTree {parents} 0 R"
        f"/ParentTreeNextKey {structure.next_key}>>",
    )
    writer.close(finished)


def _element_texts(structure: Structure, finished: Finished) -> Iterator[tuple[int, str]]:
    starts, children = structure.children()
    first, pages = finished.size, finished.pages
    for element in structure.elements():
        number = element.number
        kids = _pieces(element, pages)
        if element.annotation is not None:
            page, key = element.annotation
            object_number = finished.annotations[key]
            kids.append(f"<</Type/OBJR/Obj {object_number} 0 R/Pg {pages[page]} 0 R>>")
        kids += [f"{first + child} 0 R" for child in children[starts[number] : starts[number + 1]]]
        parent = finished.root if number == DOCUMENT else first + element.parent
        on = f"/Pg {pages[element.pieces[0][0]]} 0 R" if element.pieces else ""
        held = f"/K {kids[0]}" if len(kids) == 1 else f"/K[{' '.join(kids)}]" if kids else ""
        yield number, f"<</S/{element.kind}/P {parent} 0 R{on}{element.trait}{held}>>"


def _pieces(element: Element, pages: Sequence[int]) -> list[str]:
    """Return an element's own pieces; one on another page than its first names its page."""
    if not element.pieces:
        return []
    own = element.pieces[0][0]
    return [
        str(mark) if page == own else f"<</Type/MCR/Pg {pages[page]} 0 R/MCID {mark}>>"
        for page, mark in element.pieces
    ]


def _leaves(structure: Structure, first: int) -> Iterator[tuple[int, int, str]]:
    """Yield the parent tree's leaves: lowest key, highest key, the entries between."""
    entries = sorted(
        [
            *((key, -1, element) for key, element in structure.links),
            *((key, place, 0) for place, (key, _) in enumerate(structure.pages)),
        ]
    )
    for at in range(0, len(entries), _PAGES_A_LEAF):
        part = entries[at : at + _PAGES_A_LEAF]
        texts = []
        for key, place, element in part:
            if place < 0:
                texts.append(f"{key} {first + element} 0 R")
            else:
                refs = " ".join(f"{first + number} 0 R" for number in structure.pages[place][1])
                texts.append(f"{key}[{refs}]")
        yield part[0][0], part[-1][0], " ".join(texts)


class _Update:
    """Objects gathered into streams, and where each one stands.

    A place is kept as the eight bytes that the cross-references hold of it: there are hundreds
    of thousands. New objects are numbered from `first` on without a gap.
    """

    def __init__(self, target: BinaryIO, first: int, next_number: int) -> None:
        self._target, self._first, self._next = target, first, next_number
        self._waiting: list[tuple[int, bytes]] = []
        self._places = bytearray(_ENTRY * (next_number - first))
        self._replaced: dict[int, bytes] = {}

    def new_number(self) -> int:
        """Return a number for a further object."""
        self._next += 1
        self._places += bytes(_ENTRY)
        return self._next - 1

    def add(self, number: int, text: str) -> None:
        """Add an object."""
        self._waiting.append((number, text.encode("latin-1")))
        if len(self._waiting) == _OBJECTS_A_STREAM:
            self._flush()

    def _flush(self) -> None:
        if not self._waiting:
            return
        stream = self.new_number()
        heads, bodies, at = [], [], 0
        for index, (number, body) in enumerate(self._waiting):
            heads.append(b"%d %d" % (number, at))
            bodies.append(body)
            at += len(body) + 1
            self._place(number, _WITHIN, stream, index)
        head = b" ".join(heads) + b"\n"
        about = f"/Type/ObjStm/N {len(bodies)}/First {len(head)}"
        self._write_stream(stream, about, head + b"\n".join(bodies))
        self._waiting = []

    def _place(self, number: int, kind: int, place: int, index: int) -> None:
        entry = bytes((kind,)) + place.to_bytes(5, "big") + index.to_bytes(2, "big")
        at = _ENTRY * (number - self._first)
        if at < 0:
            self._replaced[number] = entry
        else:
            self._places[at : at + _ENTRY] = entry

    def _write_stream(self, number: int, about: str, data: bytes) -> None:
        self._place(number, _DIRECT, self._target.tell(), 0)
        packed = zlib.compress(data, 6)
        opening = f"{number} 0 obj\n<<{about}/Filter/FlateDecode/Length {len(packed)}>>\nstream\n"
        self._target.write(opening.encode("latin-1") + packed + b"\nendstream\nendobj\n")

    def close(self, finished: Finished) -> None:
        """Write what waits still, the cross-reference stream and the end of the file."""
        self._flush()
        number, start = self.new_number(), self._target.tell()
        self._place(number, _DIRECT, start, 0)
        replaced = sorted(self._replaced)
        table = b"".join(self._replaced[key] for key in replaced) + self._places
        ranges = "".join(f"{key} 1 " for key in replaced)
        index = f"{ranges}{self._first} {self._next - self._first}"
        about = (
            f"/Type/XRef/W[1 5 2]/Index[{index}]/Size {self._next}"
            f"/Prev {finished.previous}{finished.trailer}"
        )
        self._write_stream(number, about, table)
        self._target.write(f"startxref\n{start}\n%%EOF\n".encode("latin-1"))
