"""A workbook's words in the language spoken: those of its cells, and those within its formulas.

A choice, an outcome, "past due" are kept and judged in English, and so the pages, formulas and
lists are laid out. They change where they are written: the cell, the list that it is chosen from
and the text that a formula compares it with are changed alike, so that the workbook computes in
any language what it computes in English.
"""

from __future__ import annotations

import re
from collections.abc import Iterable

from commission.language import ENGLISH, language, said_in, spoken

LANGUAGE = "language"
"""What the hidden sheet calls the code of the language that a workbook was written in."""
_LITERAL = re.compile(r'"((?:[^"]|"")*)"')


def in_words(text: str) -> str:
    """Return a text of the catalogues as it is said here, any other as it is.

    White space around it stays: "pass " is the beginning of a longer text.
    """
    bare = text.strip()
    if not bare or language() == ENGLISH:
        return text
    return text.replace(bare, spoken(bare), 1)


def tab(name: str) -> str:
    """Return what a fixed sheet is called here, by its name in English.

    Formulas and defined names refer to it so; nothing that comes home is found by it.
    """
    return spoken(name)


def formula_in_words(formula: str) -> str:
    """Return a formula with its texts as the cells that it reads hold them."""
    if language() == ENGLISH or '"' not in formula:
        return formula
    return _LITERAL.sub(_literal, formula)


def _literal(found: re.Match[str]) -> str:
    text = in_words(found[1].replace('""', '"'))
    return '"' + text.replace('"', '""') + '"'


def meant_by(text: str, known: Iterable[str], code: str) -> str:
    """Return which of the words known in English a text says in a workbook's language.

    A text that says none of them is returned as it is.
    """
    if code == ENGLISH:
        return text
    folded = " ".join(text.split()).casefold()
    return next((word for word in known if said_in(code, word).casefold() == folded), text)
