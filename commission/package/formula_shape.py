"""A formula as it is written by hand: fractions with bars, roots, powers, brackets.

The tree of a formula becomes a shape; `formula_setting` gives it a size and a place.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from functools import cache

from commission.formula.functions import FUNCTIONS, FunctionKind
from commission.formula.tree import Arithmetic, Call, Choice, Name, Negative, Node, Number
from commission.formula.work import written
from commission.language import spoken

Leaf = Callable[[str], str]
Members = Callable[[str], Sequence[str]]

_SUM, _PRODUCT, _POWER, _WHOLE = 1, 2, 3, 9
_STRENGTHS = {"+": _SUM, "-": _SUM, "*": _PRODUCT, "/": _PRODUCT}
_SIGNS = {"+": " + ", "-": " − ", "*": " × "}
_TOKEN = re.compile(r"\{\w+\}|[\d,]*\.?\d+(?:e-?\d+)?|[½√()×/+−^²³]|\s+")


@dataclass(frozen=True, slots=True)
class Glyphs:
    """Text on the line; "p_s" is set with a subscript."""

    text: str


@dataclass(frozen=True, slots=True)
class Row:
    """Shapes side by side."""

    parts: tuple[Shape, ...]


@dataclass(frozen=True, slots=True)
class Fraction:
    """One shape over another, with a bar between."""

    top: Shape
    bottom: Shape


@dataclass(frozen=True, slots=True)
class Root:
    """A square root."""

    inner: Shape


@dataclass(frozen=True, slots=True)
class Power:
    """A base with a raised exponent."""

    base: Shape
    exponent: Shape


@dataclass(frozen=True, slots=True)
class Bracketed:
    """A shape in round brackets as high as itself."""

    inner: Shape


Shape = Glyphs | Row | Fraction | Root | Power | Bracketed
_Held = tuple[Shape, int]  # a shape and how strongly it holds together


def shape_of(node: Node, leaf: Leaf, members: Members) -> Shape:
    """Return the shape of a formula's branch, each name replaced by `leaf` or `members`."""
    return _held(node, leaf, members)[0]


def is_tall(shape: Shape) -> bool:
    """Return whether a shape needs more than one line of text to stand on."""
    match shape:
        case Glyphs():
            return False
        case Row(parts):
            return any(is_tall(part) for part in parts)
        case Bracketed(inner):
            return is_tall(inner)
        case _:
            return True


def glyphs_of(shape: Shape) -> Iterator[str]:
    """Yield the text of a shape in the order in which it is written."""
    match shape:
        case Glyphs(text):
            yield text
        case Row(parts):
            for part in parts:
                yield from glyphs_of(part)
        case Fraction(top, bottom):
            yield from glyphs_of(top)
            yield from glyphs_of(bottom)
        case Power(base, exponent):
            yield from glyphs_of(base)
            yield from glyphs_of(exponent)
        case Root(inner) | Bracketed(inner):
            yield from glyphs_of(inner)


# -- trees -------------------------------------------------------------------------------


def _held(node: Node, leaf: Leaf, members: Members) -> _Held:
    match node:
        case Number() | Name():
            text = written(node, leaf, members)
            return Glyphs(text), _SUM if text.startswith("−") else _WHOLE
        case Negative(operand):
            inner = _at_least(_held(operand, leaf, members), _POWER)
            return Row((Glyphs("−"), inner)), _SUM
        case Arithmetic():
            return _arithmetic(node, leaf, members)
        case Choice(_, then, _):
            return _held(then, leaf, members)
        case Call():
            return _call(node, leaf, members)
        case _:
            return Glyphs(written(node, leaf, members)), _SUM


def _arithmetic(node: Arithmetic, leaf: Leaf, members: Members) -> _Held:
    left, right = (_held(side, leaf, members) for side in (node.left, node.right))
    if node.operator == "**":
        return _raised(left, right[0])
    if node.operator == "/":
        return Fraction(left[0], right[0]), _WHOLE
    strength = _STRENGTHS[node.operator]
    first = _at_least(left, strength)
    second = _at_least(right, strength + (node.operator == "-"))
    return Row((first, Glyphs(_SIGNS[node.operator]), second)), strength


def _raised(base: _Held, exponent: Shape) -> _Held:
    """Return a power; a base of several words or a fraction stands in brackets."""
    shape, strength = base
    loose = strength < _WHOLE or isinstance(shape, Fraction | Root | Power)
    if isinstance(shape, Glyphs) and " " in shape.text:
        loose = True
    return Power(Bracketed(shape) if loose else shape, exponent), _WHOLE


def _at_least(held: _Held, strength: int) -> Shape:
    shape, own = held
    return Bracketed(shape) if own < strength else shape


def _call(node: Call, leaf: Leaf, members: Members) -> _Held:
    function = FUNCTIONS[node.function]
    if function.kind in (FunctionKind.AGGREGATE, FunctionKind.MEMBER):
        return Glyphs(written(node, leaf, members)), _WHOLE
    held = [_held(argument, leaf, members) for argument in node.arguments]
    places = {str(number): one for number, one in enumerate(held)}
    places |= {"all": _listed(held), "rest": _listed(held[1:])}
    template = _parsed(function.symbol)
    if template is not None:
        return _filled(template, places)
    return _in_words(spoken(function.symbol), places), _WHOLE


def _listed(held: Sequence[_Held]) -> _Held:
    parts: list[Shape] = []
    for shape, _ in held:
        parts += [Glyphs(", "), shape] if parts else [shape]
    return Row(tuple(parts)), _WHOLE


def _in_words(symbol: str, places: dict[str, _Held]) -> Shape:
    """Return a symbol that is no arithmetic, such as "W({0} dry bulb, {1})", filled in."""
    parts: list[Shape] = []
    for text in re.split(r"(\{\w+\})", symbol):
        if text.startswith("{"):
            parts.append(places[text[1:-1]][0])
        elif text:
            parts.append(Glyphs(text))
    return Row(tuple(parts))


# -- symbols of functions ----------------------------------------------------------------

_Template = tuple[str, tuple["_Template | str", ...]]


@cache
def _parsed(symbol: str) -> _Template | None:
    """Return a function's symbol as (operation, operands), or None if it is no arithmetic."""
    tokens = [token for token in _TOKEN.findall(symbol) if not token.isspace()]
    if "".join(tokens) != symbol.replace(" ", "") or len(tokens) < 2:
        return None
    template, rest = _sum(tuple(tokens))
    return None if rest else template


def _sum(tokens: tuple[str, ...]) -> tuple[_Template, tuple[str, ...]]:
    return _chain(tokens, {"+": "+", "−": "-"}, _product)


def _product(tokens: tuple[str, ...]) -> tuple[_Template, tuple[str, ...]]:
    return _chain(tokens, {"×": "*", "/": "/"}, _power)


def _chain(
    tokens: tuple[str, ...],
    signs: dict[str, str],
    operand: Callable[[tuple[str, ...]], tuple[_Template, tuple[str, ...]]],
) -> tuple[_Template, tuple[str, ...]]:
    left, tokens = operand(tokens)
    while tokens and tokens[0] in signs:
        sign = signs[tokens[0]]
        right, tokens = operand(tokens[1:])
        left = (sign, (left, right))
    return left, tokens


def _power(tokens: tuple[str, ...]) -> tuple[_Template, tuple[str, ...]]:
    base, tokens = _atom(tokens)
    if tokens and tokens[0] in "²³":
        return ("**", (base, ("glyphs", ("2" if tokens[0] == "²" else "3",)))), tokens[1:]
    if tokens and tokens[0] == "^":
        exponent, tokens = _atom(tokens[1:])
        return ("**", (base, exponent)), tokens
    return base, tokens


def _atom(tokens: tuple[str, ...]) -> tuple[_Template, tuple[str, ...]]:
    head, *rest = tokens
    if head == "(":
        inner, after = _sum(tuple(rest))
        return inner, after[1:]
    if head == "√":
        inner, after = _atom(tuple(rest))
        return ("√", (inner,)), after
    if head == "½":
        inner, after = _atom(tuple(rest))
        return ("½", (inner,)), after
    return ("glyphs", (head,)), tuple(rest)


def _filled(template: _Template, places: dict[str, _Held]) -> _Held:
    """Return a symbol's template with shapes in its places."""
    operation, operands = template
    if operation == "glyphs":
        text = str(operands[0])
        return places[text[1:-1]] if text.startswith("{") else (Glyphs(text), _WHOLE)
    held = [_filled(operand, places) for operand in operands if not isinstance(operand, str)]
    if operation == "√":
        return Root(held[0][0]), _WHOLE
    if operation == "½":
        return Row((Glyphs("½ "), _at_least(held[0], _PRODUCT))), _PRODUCT
    if operation == "**":
        return _raised(held[0], held[1][0])
    if operation == "/":
        return Fraction(held[0][0], held[1][0]), _WHOLE
    strength = _STRENGTHS[operation]
    first = _at_least(held[0], strength)
    second = _at_least(held[1], strength + (operation == "-"))
    return Row((first, Glyphs(_SIGNS[operation]), second)), strength
