"""A made-up language that puts each text in marks: what is shown without them was never said.

Only texts of the catalogues are marked, so that a text which passes `spoken` but which nobody
can translate, since no extractor finds it, shows as well.
"""

from __future__ import annotations

import gettext
import re
import sqlite3
from collections.abc import Iterable, Iterator
from pathlib import Path

import pytest

from commission import language
from commission.definitions.translated import said
from commission.sequence import functional_load, rules

OPEN, CLOSE = "⟦", "⟧"
CODE = "es"  # any code that is known; its catalogue is replaced
# A compressor without a fan, an igniter that nobody asks for, and an hour that is missing.
LOG = "\n".join(
    ["Date and time,Y1,G,Compressor 1,Indoor fan,Setting 7"]
    + [
        f"2026-05-04 {8 + minute // 60 + minute // 100:02}:{minute % 60:02}:00,on,on,on,"
        f"{'on' if minute % 4 else 'off'},0"
        for minute in range(140)
    ]
)
_INNERMOST = re.compile(f"{OPEN}[^{OPEN}{CLOSE}]*{CLOSE}", re.DOTALL)
_WORD = re.compile(r"[^\W\d_]{3,}")


class Marks:
    """A catalogue that puts in marks what the catalogues of `CODE` hold."""

    def __init__(self) -> None:
        self.known: set[str] = set()
        for domain in language.DOMAINS:
            with (language.LANGUAGES_FOLDER / CODE / "LC_MESSAGES" / f"{domain}.mo").open(
                "rb"
            ) as f:
                # GNUTranslations has no other way to list what it holds.
                self.known |= set(gettext.GNUTranslations(f)._catalog)  # type: ignore[attr-defined]

    def gettext(self, text: str) -> str:
        """Return a text in marks, if it is one that can be translated."""
        if text not in self.known:
            return text
        # Space around a text joins it to its neighbours; it is no part of what is said.
        bare = text.strip()
        return text.replace(bare, f"{OPEN}{bare}{CLOSE}")


def speak_marks(monkeypatch: pytest.MonkeyPatch) -> None:
    """Let `CODE` be the language of marks."""
    marks = Marks()
    monkeypatch.setattr(language, "_catalogue", lambda _code: marks)
    # What another test has had said in the language whose place the marks take is kept elsewhere.
    monkeypatch.setattr(functional_load, "_said", {})
    monkeypatch.setattr(rules, "_said_book", lambda code: said(rules._shipped(), code))


def unmarked(text: str) -> str:
    """Return what of a shown text stands outside of all marks."""
    # The first letter of a word that is a key is, in this language, the opening mark.
    text = text.replace(f"(key {OPEN})", "").replace(f"{OPEN}:", "")
    while True:
        shorter = _INNERMOST.sub(" ", text)
        if shorter == text:
            return text
        text = shorter


def stored_texts(path: Path) -> Iterator[str]:
    """Yield what people typed into a project file, not what the program knows by that word.

    A choice, a pass, a role is stored in English and has to be said where it is shown.
    """
    known = Marks().known
    with sqlite3.connect(path) as base:
        found = base.execute("select name from sqlite_master where type='table'")
        tables = [name for (name,) in found]
        for table in tables:
            for row in base.execute(f"select * from {table}"):
                yield from (text for text in row if isinstance(text, str) and text not in known)


def strangers(text: str, data: Iterable[str], words: Iterable[str]) -> dict[str, str]:
    """Return the words of a long text that were neither said nor typed, each with where it stands.

    Args:
        text: what was printed; a marked text may be broken over its lines.
        data: texts that people typed; they stand whole in what is printed.
        words: single words that no language changes: units, symbols, names.
    """
    left = " ".join(unmarked(text).split())
    for typed in sorted({" ".join(one.split()) for one in data}, key=len, reverse=True):
        if len(typed) > 2:
            left = left.replace(typed, " ")
    known = {word.casefold() for one in words for word in _WORD.findall(one)}
    return {
        found[0]: left[max(0, found.start() - 60) : found.end() + 60]
        for found in _WORD.finditer(left)
        if found[0].casefold() not in known
    }


def unsaid(texts: Iterable[str], data: Iterable[str], words: Iterable[str]) -> Iterator[str]:
    """Yield the texts that hold a word which was neither said nor typed; see `strangers`."""
    typed = {" ".join(one.split()) for one in data}
    typed |= {line.strip() for one in data for line in one.splitlines()}
    by_length = sorted((one for one in typed if len(one) > 2), key=len, reverse=True)
    known = {word.casefold() for one in words for word in _WORD.findall(one)}
    for text in texts:
        left = " ".join(unmarked(text).split())
        if all(word.casefold() in known for word in _WORD.findall(left)):
            continue
        for one in by_length:
            left = left.replace(one, " ")
        if any(word.casefold() not in known for word in _WORD.findall(left)):
            yield text
