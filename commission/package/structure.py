"""What each marked piece of the pages is, in the order in which it is to be read aloud.

Elements are kept in flat arrays, some twenty bytes each: a large site has millions of cells.
Source: ISO 32000-1:2008, 14.7 and 14.8; ISO 14289-1:2014 (PDF/UA-1), clause 7.
"""

from __future__ import annotations

from array import array
from collections.abc import Iterator
from dataclasses import dataclass

KINDS = (
    "Document", "Sect", "H1", "H2", "H3", "P", "Table", "TR", "TH", "TD", "L", "LI", "Lbl",
    "LBody", "TOC", "TOCI", "Reference", "Link", "Figure", "Caption", "Formula", "Form", "Div",
)  # fmt: skip
"""Standard structure types only, so that no role map is needed (14.8.4)."""

_NUMBER_OF = {kind: number for number, kind in enumerate(KINDS)}
DOCUMENT = 0
_NOWHERE = -1
_DEEPEST = 3


@dataclass(frozen=True, slots=True)
class Element:
    """One element as the writer sees it; `pieces` are (page, number on the page).

    `annotation` is (page, key) of the link or form field that belongs to it.
    """

    number: int
    kind: str
    parent: int
    pieces: tuple[tuple[int, int], ...]
    trait: str
    annotation: tuple[int, int] | None


class Structure:
    """The tree of a document, grown as its pages are drawn."""

    def __init__(self) -> None:
        self._kinds, self._parents = array("B"), array("l")
        self._pages, self._marks, self._traits = array("l"), array("l"), array("l")
        self._further: dict[int, list[tuple[int, int]]] = {}
        self._trait_numbers: dict[str, int] = {"": 0}
        self._annotations: dict[int, tuple[int, int]] = {}
        self._levels: list[int] = []
        self._sections: list[int] = [DOCUMENT]
        self._key = 0
        self._open_page = array("l")
        self.pages: list[tuple[int, array[int]]] = []
        self.links: list[tuple[int, int]] = []
        self.add("Document", _NOWHERE)

    def __len__(self) -> int:
        return len(self._kinds)

    @property
    def section(self) -> int:
        """The section that is open, into which what is drawn next belongs."""
        return self._sections[-1]

    def add(self, kind: str, parent: int | None = None, trait: str = "") -> int:
        """Add an element, last below its parent, and return its number.

        Args:
            kind: one of KINDS.
            parent: an element; None for the open section.
            trait: further entries of its dictionary, in PDF syntax.
        """
        self._kinds.append(_NUMBER_OF[kind])
        self._parents.append(self.section if parent is None else parent)
        self._pages.append(_NOWHERE)
        self._marks.append(_NOWHERE)
        self._traits.append(self._trait_numbers.setdefault(trait, len(self._trait_numbers)))
        return len(self._kinds) - 1

    def kind_of(self, element: int) -> str:
        """Return an element's kind."""
        return KINDS[self._kinds[element]]

    def heading(self, level: int) -> int:
        """Open a section for a heading of this level; return the heading's own element.

        A heading is one level below the nearest larger one before it, whatever its size in
        print, so that no level is left out (ISO 14289-1, 7.4.2).
        """
        while self._levels and self._levels[-1] >= level:
            self._levels.pop()
            self._sections.pop()
        self._sections.append(self.add("Sect"))
        self._levels.append(level)
        return self.add(f"H{min(len(self._levels), _DEEPEST)}")

    # -- pages -----------------------------------------------------------------------

    def mark(self, element: int) -> int:
        """Return the number of a new piece of the open page that belongs to an element."""
        page, number = len(self.pages), len(self._open_page)
        if self._marks[element] == _NOWHERE:
            self._pages[element], self._marks[element] = page, number
        else:
            self._further.setdefault(element, []).append((page, number))
        self._open_page.append(element)
        return number

    def annotate(self, element: int) -> int:
        """Return the key by which an annotation of the open page finds its element."""
        key = self._next_key()
        self._annotations[element] = (len(self.pages), key)
        self.links.append((key, element))
        return key

    def end_page(self) -> None:
        """Close the page; the next mark is on the next one."""
        self.pages.append((self._next_key(), self._open_page))
        self._open_page = array("l")

    @property
    def next_key(self) -> int:
        """One more than the largest key given."""
        return self._key

    def _next_key(self) -> int:
        self._key += 1
        return self._key - 1

    # -- reading ---------------------------------------------------------------------

    def elements(self) -> Iterator[Element]:
        """Yield the elements in the order added."""
        traits = list(self._trait_numbers)
        for number, kind in enumerate(self._kinds):
            mark = self._marks[number]
            first = () if mark == _NOWHERE else ((self._pages[number], mark),)
            yield Element(
                number,
                KINDS[kind],
                self._parents[number],
                (*first, *self._further.get(number, ())),
                traits[self._traits[number]],
                self._annotations.get(number),
            )

    def children(self) -> tuple[array[int], array[int]]:
        """Return (starts, children): those of n stand from starts[n] up to starts[n + 1]."""
        starts = array("l", bytes(array("l").itemsize * (len(self) + 1)))
        for parent in self._parents[1:]:
            starts[parent + 1] += 1
        for number in range(len(self)):
            starts[number + 1] += starts[number]
        placed, found = array("l", starts), array("l", bytes(starts.itemsize * (len(self) - 1)))
        for number in range(1, len(self)):
            parent = self._parents[number]
            found[placed[parent]] = number
            placed[parent] += 1
        return starts, found
