"""Texts made fit for a cell, a prompt, a header or a sheet's tab; nothing is cut unseen."""

from __future__ import annotations

import math
import re

from commission.errors import OutputError
from commission.language import spoken

LONGEST_CELL = 32_767  # UTF-16 units; a spreadsheet cell holds no more
LONGEST_PROMPT = 255
LONGEST_PROMPT_TITLE = 32
LONGEST_TAB = 31
_LONGEST_HEADER_PART = 100  # a header or footer holds 255 in all: two parts and their codes
_UNPRINTABLE = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\x7f\ud800-\udfff\ufffe\uffff]")
# A comma would split a list of ranges, an apostrophe would have to be doubled in each formula.
# "_x0041_" is an escaped letter to some readers and plain text to others.
_NOT_IN_TAB = re.compile(r"[\[\]:*?/\\',\x00-\x1f\x7f\ud800-\udfff]|_(?=x[0-9A-Fa-f]{4}_)")
# At a name's end these join it to what was cut away: "of", "de" ...
_JOINING = re.compile(r"( (\w{1,2}|and|for|the|with|con|del|las|los|para|por))+$")
_RESERVED_TABS = frozenset({"history"})


def cell_text(text: str, place: str = "A cell") -> str:
    """Return a text that a cell can hold; characters that it cannot show become "\ufffd".

    Raises:
        OutputError: The text is longer than a cell can be.
    """
    if _UNPRINTABLE.search(text):
        text = _UNPRINTABLE.sub("\ufffd", text)
    if len(text) > LONGEST_CELL // 2:
        length = len(text.encode("utf-16-le")) // 2
        if length > LONGEST_CELL:
            raise OutputError(
                spoken(
                    "{place}: a text of {length:,} characters; a spreadsheet cell holds "
                    "{longest_cell:,}. Shorten it, or put it in a document and name that here.",
                    place=place,
                    length=length,
                    longest_cell=LONGEST_CELL,
                )
            )
    return text


def shortened(text: str, longest: int) -> str:
    """Return a text on one line of at most `longest` characters, cut with "…" to see."""
    line = " ".join(cell_text(text).split())
    return line if len(line) <= longest else line[: longest - 1].rstrip() + "…"


def header_text(text: str) -> str:
    """Return a text for a page header or footer, where "&" begins a code."""
    longest = _LONGEST_HEADER_PART - text.count("&")
    return shortened(text, max(longest, _LONGEST_HEADER_PART // 2)).replace("&", "&&")


def tab_name(tag: str, section: str, taken: set[str]) -> str:
    """Return a sheet's name for a unit's page and note it in `taken` (case-folded).

    Args:
        section: The page by its name, or by its title ("Before power: electrical").
    """
    tag = _tab_part(tag)[:14].rstrip()
    words = section.replace("_", " ")
    if len(f"{tag} {words}") > LONGEST_TAB:
        words = words.rpartition(": ")[2]  # what tells a page from the others of its kind
    title = _tab_part(words.replace(": ", " ").replace(", ", " "))
    name = _cut(f"{tag} {title[:1].upper()}{title[1:]}".strip()) or "Page"
    candidate, number = name, 2
    while candidate.casefold() in taken or candidate.casefold() in _RESERVED_TABS:
        end = f" {number}"
        candidate = name[: LONGEST_TAB - len(end)].rstrip() + end
        number += 1
    taken.add(candidate.casefold())
    return candidate


def _tab_part(text: str) -> str:
    return " ".join(_NOT_IN_TAB.sub("-", text).split())


def _cut(name: str) -> str:
    """Return as many whole words of a name as a tab holds; of one long word, its beginning."""
    if len(name) <= LONGEST_TAB:
        return name
    words, _, _ = name[: LONGEST_TAB + 1].rpartition(" ")
    if len(words) <= LONGEST_TAB // 2:
        return name[:LONGEST_TAB].rstrip()
    return _JOINING.sub("", words)


def lines_needed(text: str, width: float) -> int:
    """Return how many lines a wrapped text needs in a column of `width` characters."""
    if not text:
        return 0
    width = max(width, 1.0)
    return sum(max(1, math.ceil(len(line) / width)) for line in text.split("\n"))
