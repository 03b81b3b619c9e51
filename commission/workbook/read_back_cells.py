"""What is compared of a returned workbook: its cells by name, its registers by line."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import Enum, auto

from commission.formula.evaluate import Content
from commission.language import ENGLISH, languages
from commission.workbook.read_back_exported import ExportedCell
from commission.workbook.read_back_registers import ReturnedLine, SentLine
from commission.workbook.words import LANGUAGE


class Holds(Enum):
    """What kind of thing a returned cell holds."""

    NOTHING = auto()
    NUMBER = auto()
    TEXT = auto()
    FORMULA = auto()
    OTHER = auto()


@dataclass(frozen=True, slots=True)
class ReturnedCell:
    """A cell as it came back. `text` is what stands in it, to be shown or understood.

    `beside` is the free text of its row; `edited` says that it holds another formula than the
    one that was sent out.
    """

    place: str
    holds: Holds
    text: str = ""
    number: float | None = None
    beside: str = ""
    edited: bool = False

    @property
    def content(self) -> Content | None:
        """The number or the text, None for an empty cell and for anything else."""
        if self.holds is Holds.NUMBER:
            return self.number
        return self.text if self.holds is Holds.TEXT else None


@dataclass(frozen=True, slots=True)
class ReturnedBook:
    """What a returned workbook says of itself, and its cells that are compared.

    `meta` holds the project's uuid, the revision and so on; `units` each owner's tag and id.
    `found` has, by name, each cell to be typed in, or in words why it cannot be found;
    `computed` those with a formula of ours that is no longer there or another; `names` all
    defined names; `strange` the sheets that are none of the export.
    """

    meta: Mapping[str, str]
    units: Mapping[int, tuple[str, str]]
    exported: Sequence[ExportedCell]
    found: Mapping[str, ReturnedCell | str]
    computed: Mapping[str, ReturnedCell]
    names: Sequence[str]
    sent: Sequence[SentLine]
    lines: Mapping[str, Sequence[ReturnedLine] | str]
    strange: Sequence[str]
    set_aside: Sequence[str]

    @property
    def language(self) -> str:
        """The code of the language it was written in; English before there was another."""
        code = self.meta.get(LANGUAGE, ENGLISH)
        return code if code in languages() else ENGLISH


def one_line(text: str) -> str:
    """Return a text with all white space as single blanks, to compare it."""
    return " ".join(text.split())
