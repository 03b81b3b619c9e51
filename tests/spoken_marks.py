"""A made-up language that puts each text in marks: what is shown without them was never said."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator

import pytest

from commission import language

OPEN, CLOSE = "⟦", "⟧"
CODE = "es"  # any code that is known; its catalogue is replaced
_INNERMOST = re.compile(f"{OPEN}[^{OPEN}{CLOSE}]*{CLOSE}", re.DOTALL)
_WORD = re.compile(r"[^\W\d_]{3,}")


class Marks:
    """A catalogue that knows every text."""

    def gettext(self, text: str) -> str:
        """Return a text in marks."""
        return f"{OPEN}{text}{CLOSE}"


def speak_marks(monkeypatch: pytest.MonkeyPatch) -> None:
    """Let `CODE` be the language of marks."""
    monkeypatch.setattr(language, "_catalogue", lambda _code: Marks())


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
