"""The language in which the program speaks: English in the code, other languages as catalogues.

A text is written in English where it is needed and passes `spoken`. A language is a folder
`commission/languages/<code>/LC_MESSAGES` with two catalogues in GNU gettext's format (PO and MO,
read by Python's own `gettext`): `form` holds what the form files say, `program` what the code
says. A text without a translation is said in English, never left out.
"""

from __future__ import annotations

import difflib
import gettext
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from functools import cache
from pathlib import Path

from commission.errors import CommissionError

ENGLISH = "en"
LANGUAGES_FOLDER = Path(__file__).resolve().parent / "languages"
DOMAINS = ("form", "program")
# What each language calls itself, for the person who chooses it.
OWN_NAMES = {ENGLISH: "English", "es": "Español"}
# Languages some of whose readers write the comma as the decimal mark, others the point: the
# program shows the point in all, and refuses a typing that could be either.
COMMA_OR_POINT = frozenset({"es"})

_chosen = ENGLISH
# A turnover package may be set in another language than the window's, in a thread of its own.
_here: ContextVar[str | None] = ContextVar("language", default=None)


def languages() -> tuple[str, ...]:
    """Return the codes of the languages that can be spoken, English first."""
    return (ENGLISH, *sorted(place.parent.name for place in LANGUAGES_FOLDER.glob("*/LC_MESSAGES")))


def language() -> str:
    """Return the code of the language spoken here."""
    return _here.get() or _chosen


def choose_language(code: str) -> None:
    """Speak `code` from now on, wherever no other language is asked for.

    Raises:
        CommissionError: there is no such language.
    """
    global _chosen
    _chosen = known_language(code)


@contextmanager
def speaking(code: str) -> Iterator[None]:
    """Speak `code` inside the block, in this thread alone.

    Raises:
        CommissionError: there is no such language.
    """
    token = _here.set(known_language(code))
    try:
        yield
    finally:
        _here.reset(token)


def spoken(text: str, /, **values: object) -> str:
    """Return a text in the language spoken here, with `{named}` places filled.

    Args:
        text: the English text, exactly as the catalogue has it.
        values: what stands in its places; without any, braces are kept as they are.
    """
    return said_in(language(), text, **values)


def spoken_count(one: str, many: str, count: int, /, **values: object) -> str:
    """Return the text for one thing or for many, in the language spoken here.

    Two texts of the catalogue, not a gettext plural: it is enough for languages that, as English
    and Spanish, tell one from all other numbers.

    Args:
        one: the English text for exactly one; may name `{count}`.
        many: the English text for none or several.
        count: how many there are; stands in `{count}`.
        values: what stands in the other places.
    """
    return spoken(one if count == 1 else many, count=count, **values)


def said_in(code: str, text: str, /, **values: object) -> str:
    """Return a text in the language `code`, with `{named}` places filled.

    In a place `{strerror}` stands what the system says of a file; it is said as well.
    """
    translated = text
    if text and code != ENGLISH:
        translated = _catalogue(code).gettext(text)
        if isinstance(system := values.get("strerror"), str):
            values["strerror"] = _catalogue(code).gettext(system)
    return translated.format(**values) if values else translated


def to_say(text: str, /) -> str:
    """Return a text as it is, marked for the catalogue: it is said later, where it is shown."""
    return text


def spoken_again(text: str, known: Iterable[str]) -> str:
    """Return what another library has said in English in the language spoken here.

    Args:
        known: what it can say, marked with `to_say`; what varies stands as `{value}`.
    Returns:
        The text as it is, if it is none of those.
    """
    for template in known:
        before, place, after = template.partition("{value}")
        if text == template:
            return spoken(template)
        if place and text.startswith(before) and text.endswith(after):
            return spoken(template, value=text[len(before) : len(text) - len(after)])
    return text


def near_miss(word: str, known: Iterable[str]) -> str:
    """Return " Did you mean 'x'?" for the closest known word, or an empty text."""
    matches = difflib.get_close_matches(word, list(known), n=1, cutoff=0.6)
    return " " + spoken("Did you mean '{word}'?", word=matches[0]) if matches else ""


AND = to_say("and")
# What the system says of a file that it cannot open or write (POSIX, strerror): it speaks
# English to a program that has not asked it for another language.
SYSTEM_WORDS = (
    to_say("No such file or directory"),
    to_say("Permission denied"),
    to_say("Operation not permitted"),
    to_say("No space left on device"),
    to_say("Disk quota exceeded"),
    to_say("File too large"),
    to_say("Is a directory"),
    to_say("Not a directory"),
    to_say("File exists"),
    to_say("File name too long"),
    to_say("Read-only file system"),
    to_say("Device or resource busy"),
    to_say("Input/output error"),
    to_say("Too many open files"),
)


def listed(words: Iterable[str], joined: str = AND) -> str:
    """Return words as a person lists them: "a", "a and b", "a, b and c".

    Args:
        joined: What stands before the last, in English: "and" or "or".
    """
    *most, last = [*words] or [""]
    return f"{', '.join(most)} {spoken(joined)} {last}" if most else last


def known_language(code: str) -> str:
    """Return the code of a language that can be spoken.

    Raises:
        CommissionError: there is no such language.
    """
    if code in languages():
        return code
    raise CommissionError(
        spoken(
            "language: '{code}' is not one of {codes}.{hint} Choose one of those.",
            code=code,
            codes=", ".join(languages()),
            hint=near_miss(code, languages()),
        )
    )


@cache
def _catalogue(code: str) -> gettext.NullTranslations:
    """Return the catalogues of a language, one behind the other."""
    first, *others = (
        gettext.translation(domain, LANGUAGES_FOLDER, languages=[code]) for domain in DOMAINS
    )
    for other in others:
        first.add_fallback(other)
    return first
