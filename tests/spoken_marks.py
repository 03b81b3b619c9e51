"""A made-up language that puts each text in marks: what is shown without them was never said.

Only texts of the catalogues are marked, so that a text which passes `spoken` but which nobody
can translate, since no extractor finds it, shows as well.
"""

from __future__ import annotations

import gettext
import re
from collections.abc import Iterable, Iterator

import pytest

from commission import language

OPEN, CLOSE = "⟦", "⟧"
CODE = "es"  # any code that is known; its catalogue is replaced
_INNERMOST = re.compile(f"{OPEN}[^{OPEN}{CLOSE}]*{CLOSE}", re.DOTALL)
_WORD = re.compile(r"[^\W\d_]{3,}")


class Marks:
    """A catalogue that puts in marks what the catalogues of `CODE` hold."""

    def __init__(self) -> None:
        self.known: set[str] = set()
        for domain in language.DOMAINS:
            with (language.LANGUAGES_FOLDER / CODE / "LC_MESSAGES" / f"{domain}.mo").open("rb") as f:
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


def unmarked(text: str) -> str:
    """Return what of a shown text stands outside of all marks."""
    # The first letter of a word that is a key is, in this language, the opening mark.
    text = text.replace(f"(key {OPEN})", "")
    while True:
        shorter = _INNERMOST.sub(" ", text)
        if shorter == text:
            return text
        text = shorter


def unsaid(texts: Iterable[str], data: Iterable[str]) -> Iterator[str]:
    """Yield the texts that hold a word which was neither said nor is one of the data."""
    vocabulary = {word.casefold() for text in data for word in _WORD.findall(text)}
    for text in texts:
        if any(word.casefold() not in vocabulary for word in _WORD.findall(unmarked(text))):
            yield text
