"""A form in another language: the same declarations, their words said anew.

Names, formulas, choices and expected answers stay: they are what is stored and judged. A choice
is said in another language where it is shown (`commission.language.spoken`).
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import fields, is_dataclass, replace
from types import MappingProxyType
from typing import TypeVar

from commission.definitions.model import Form
from commission.formula.tree import Choice, Node, Text
from commission.language import ENGLISH, said_in

# Attributes of a declaration that are words for a person: of a form's, of a functional test's,
# of a trend rule's.
SAID = frozenset(
    {"title", "stage", "intro", "cautions", "label", "members", "how", "caution", "cure", "source"}
    | {"do", "call", "event", "danger", "reset", "note"}
    | {"said"}
)
# Attributes of a field that are stored as they are, and said where they are shown.
SHOWN = frozenset({"choices", "instrument"})
Declaration = TypeVar("Declaration")


def translated(form: Form, code: str) -> Form:
    """Return the form as it is said in the language `code`; names and formulas are the same."""
    return said(form, code)


def said(declarations: Declaration, code: str) -> Declaration:
    """Return declarations of any file (a form, its functional tests, rules) in a language."""
    return declarations if code == ENGLISH else _said(declarations, code)


def texts_of(form: Form) -> Iterator[tuple[str, str]]:
    """Yield (text, where it stands) for all that a form says, in the order of its pages."""
    yield from texts_said(form, "form")


def texts_said(declarations: object, place: str) -> Iterator[tuple[str, str]]:
    """Yield (text, where it stands) for all that declarations say, each text once.

    Args:
        declarations: A form, the book of its functional tests, or the book of trend rules.
        place: What to call where they stand.
    """
    seen: set[str] = set()
    for text, where in _texts(declarations, place):
        if text and text not in seen:
            seen.add(text)
            yield text, where


def _said(declaration: Declaration, code: str) -> Declaration:
    """Return a declaration with its words, and those of what it holds, in another language."""
    changed = {
        item.name: new
        for item in fields(declaration)  # type: ignore[arg-type]
        if (new := _part(item.name, old := getattr(declaration, item.name), code)) is not old
    }
    return replace(declaration, **changed) if changed else declaration  # type: ignore[type-var]


def _part(name: str, value: object, code: str) -> object:
    if name in SAID:
        return _words(value, code)
    if isinstance(value, Node):
        return value
    if is_dataclass(value) and not isinstance(value, type):
        return _said(value, code)
    if isinstance(value, tuple) and any(_is_declaration(item) for item in value):
        return tuple(_said(item, code) if _is_declaration(item) else item for item in value)
    if isinstance(value, Mapping):
        return MappingProxyType({
            key: _said(item, code) if _is_declaration(item) else item
            for key, item in value.items()
        })  # fmt: skip
    return value


def _words(value: object, code: str) -> object:
    if isinstance(value, tuple):
        return tuple(said_in(code, text) for text in value)
    return said_in(code, value) if isinstance(value, str) else value


def _is_declaration(value: object) -> bool:
    return is_dataclass(value) and not isinstance(value, type) and not isinstance(value, Node)


def _texts(declaration: object, place: str) -> Iterator[tuple[str, str]]:
    place = f"{place}: {name}" if (name := getattr(declaration, "name", "")) else place
    for item in fields(declaration):  # type: ignore[arg-type]
        value = getattr(declaration, item.name)
        if item.name in SAID | SHOWN:
            for text in value if isinstance(value, tuple) else (value,):
                if isinstance(text, str):
                    yield text, place
        elif isinstance(value, Node):
            for text in _results(value):
                yield text, place
        else:
            yield from _inner(value, place)


def _inner(value: object, place: str) -> Iterator[tuple[str, str]]:
    items: Iterable[object] = (value,)
    if isinstance(value, Mapping):
        items = value.values()
    elif isinstance(value, tuple):
        items = value
    for item in items:
        if _is_declaration(item):
            yield from _texts(item, place)


def _results(node: Node) -> Iterator[str]:
    """Yield the texts that a formula can come to: the branches of its outermost choices."""
    if isinstance(node, Text):
        yield node.value
    elif isinstance(node, Choice):
        yield from _results(node.then)
        yield from _results(node.otherwise)
