"""Tree + values -> a line of shown work: symbol = symbols = numbers = result."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from commission.formula.functions import FUNCTIONS, FunctionKind
from commission.formula.tree import (
    NUMBER_OF,
    Arithmetic,
    Call,
    Choice,
    Comparison,
    Logic,
    Name,
    Negative,
    Node,
    Not,
    Number,
    Text,
)
from commission.language import spoken

_SIGNS = {"*": "×", "-": "−", "==": "=", "!=": "≠", "<=": "≤", ">=": "≥", "**": "^"}
_STRENGTH = {"+": 1, "-": 1, "*": 2, "/": 2, "**": 3}
_INFIX = {"+": 1, "−": 1, "×": 2, "·": 2, "/": 2, "^": 3}
_IN_BRACKETS = re.compile(r"\([^()]*\)|\{[^}]*\}")
_MOST_SHOWN = 6

Leaf = Callable[[str], str]
"""Writes a name; `number_of line` stands for the number of the member of repeat `line`."""
Members = Callable[[str], Sequence[str]]


@dataclass(frozen=True, slots=True)
class WorkLine:
    """One computation as it would be written by hand."""

    symbol: str
    symbols: str
    numbers: str
    result: str

    def __str__(self) -> str:
        parts = [self.symbol, self.symbols, self.numbers, self.result]
        return " = ".join(part for part in parts if part)


def written(node: Node, leaf: Leaf, members: Members) -> str:
    """Return a formula's branch as text, each name replaced by `leaf` or `members`."""
    match node:
        case Number(value):
            return f"{value:,.0f}" if value.is_integer() and value < 1e15 else repr(value)
        case Text(value):
            return spoken(value)
        case Name(name):
            return leaf(name)
        case Negative(operand):
            return f"−{_bracketed(operand, 3, leaf, members)}"
        case Arithmetic(sign, left, right):
            strength = _STRENGTH[sign]
            first = _bracketed(left, strength + (sign == "**"), leaf, members)
            second = _bracketed(right, strength + (sign in "-/"), leaf, members)
            shown = _SIGNS.get(sign, sign)
            return f"{first}{shown}{second}" if sign == "**" else f"{first} {shown} {second}"
        case Comparison(sign, left, right):
            pair = (written(left, leaf, members), written(right, leaf, members))
            return f" {_SIGNS.get(sign, sign)} ".join(pair)
        case Not(operand):
            return f"{spoken('not')} ({written(operand, leaf, members)})"
        case Logic(word, operands):
            return f" {spoken(word)} ".join(written(part, leaf, members) for part in operands)
        case Choice(_, then, _):
            return written(then, leaf, members)
        case Call():
            return _call(node, leaf, members)


def _bracketed(node: Node, strength: int, leaf: Leaf, members: Members) -> str:
    text = written(node, leaf, members)
    own = _own_strength(node)
    loose = own < strength or isinstance(node, Negative | Comparison | Logic)
    if isinstance(node, Name):
        # "75 °F − (−4 °F)", and "(5 ft)^2"
        loose = text.startswith("−") or (strength > 3 and " " in text)
    return f"({text})" if loose else text


def _own_strength(node: Node) -> int:
    """Return how firmly a text holds together: a symbol such as "{0} / 12" is a quotient too."""
    if isinstance(node, Arithmetic):
        return _STRENGTH[node.operator]
    if isinstance(node, Call):
        outside = FUNCTIONS[node.function].symbol
        while (stripped := _IN_BRACKETS.sub("", outside)) != outside:
            outside = stripped
        return min((_INFIX[sign] for sign in outside if sign in _INFIX), default=9)
    return 9


def _call(node: Call, leaf: Leaf, members: Members) -> str:
    function = FUNCTIONS[node.function]
    if function.kind is FunctionKind.AGGREGATE:
        argument = node.arguments[0]
        assert isinstance(argument, Name)
        return spoken(function.symbol).format(_listed(members(argument.name)))
    if function.kind is FunctionKind.MEMBER:
        repeat = node.arguments[0]
        assert isinstance(repeat, Text)
        return leaf(f"{NUMBER_OF} {repeat.value}")
    infix = any(sign in function.symbol for sign in "×/−+^")
    texts = [_argument(part, infix, leaf, members) for part in node.arguments]
    every = {"all": ", ".join(texts), "rest": ", ".join(texts[1:])}
    return spoken(function.symbol).format(*texts, **every)


def _argument(node: Node, infix: bool, leaf: Leaf, members: Members) -> str:
    """Bracket a compound argument that a symbol such as "60 × {0} / {1}" sets among signs."""
    text = written(node, leaf, members)
    compound = isinstance(node, Negative) or _own_strength(node) < 9
    return f"({text})" if infix and compound else text


def _listed(shown: Sequence[str]) -> str:
    if len(shown) <= _MOST_SHOWN:
        return ", ".join(shown)
    few = f"{', '.join(shown[:3])}, … {shown[-1]}"
    return spoken("{few}; {count} values", few=few, count=len(shown))
