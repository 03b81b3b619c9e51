"""Tree + readings -> value, with what is missing kept apart from what is wrong.

Missing in, missing out: a formula whose branch in use has an unread input is missing, one
with a not-applicable input is not applicable. Spreadsheet text (`excel`) follows the same
rules, in the same order.
"""

from __future__ import annotations

import math
import operator
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from functools import partial
from typing import Any, Protocol

from commission.errors import CommissionError
from commission.formula.functions import FUNCTIONS, FunctionKind
from commission.formula.tree import (
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
    children,
)
from commission.language import spoken

Content = float | str | bool


class State(StrEnum):
    """What is known of a value."""

    KNOWN = "known"
    MISSING = "missing"
    NOT_APPLICABLE = "not applicable"
    FAULT = "fault"


@dataclass(frozen=True, slots=True)
class Value:
    """A value, or why there is none."""

    state: State
    content: Content | None = None
    reason: str = ""

    @property
    def number(self) -> float | None:
        """The value as a number, or None if it is unknown or a text."""
        return self.content if isinstance(self.content, float) else None


MISSING = Value(State.MISSING)


def known(content: Content) -> Value:
    """Return a known value; whole numbers become floats."""
    return Value(State.KNOWN, float(content) if isinstance(content, int) else content)


class Scope(Protocol):
    """Where a formula finds its names, seen from one member of its repeats."""

    def value(self, name: str) -> Value:
        """Return the value of `name` for the member at hand."""
        ...

    def members(self, name: str) -> Sequence[Value]:
        """Return all values of `name` over the repeats the formula does not share."""
        ...

    def number_of(self, repeat: str) -> int:
        """Return the number, from 1, of the member at hand of one of its repeats."""
        ...


_ARITHMETIC: Mapping[str, Callable[[float, float], float]] = {
    "+": operator.add,
    "-": operator.sub,
    "*": operator.mul,
    "/": operator.truediv,
    "**": operator.pow,
}
_COMPARISON: Mapping[str, Callable[[Any, Any], bool]] = {
    "==": lambda first, second: alike(first, second),
    "!=": lambda first, second: not alike(first, second),
    "<": lambda first, second: first < second and not alike(first, second),
    "<=": lambda first, second: first <= second or alike(first, second),
    ">": lambda first, second: first > second and not alike(first, second),
    ">=": lambda first, second: first >= second or alike(first, second),
}
_LAST_BITS = 2.0**-48


def alike(first: Content, second: Content) -> bool:
    """Return whether two contents are equal, numbers to about 14 digits.

    Spreadsheets compare so, and a reading of 187.2 V must not fail a low limit of
    0.9 × 208 V because that product ends in ...00002.
    """
    if isinstance(first, float) and isinstance(second, float):
        return math.isclose(first, second, rel_tol=_LAST_BITS)
    return first == second


_MOST_KEPT = 20_000
_kept_needs: dict[int, tuple[Node, tuple[tuple[Name, bool], ...]]] = {}


def needs(node: Node) -> tuple[tuple[Name, bool], ...]:
    """Return the names a branch needs and whether all members of each are meant.

    Names asked about by `known` are not needed.
    """
    # Asked for every value computed, so kept by identity; the node is kept beside it, so
    # that its id cannot become another node's.
    kept = _kept_needs.get(id(node))
    if kept is not None:
        return kept[1]
    found: dict[tuple[Name, bool], None] = {}
    _collect(node, found)
    if len(_kept_needs) >= _MOST_KEPT:
        _kept_needs.clear()
    _kept_needs[id(node)] = (node, tuple(found))
    return tuple(found)


def _collect(node: Node, found: dict[tuple[Name, bool], None]) -> None:
    if isinstance(node, Name):
        found[(node, False)] = None
    elif isinstance(node, Call):
        kind = FUNCTIONS[node.function].kind
        if kind is FunctionKind.PRESENCE:
            return
        if kind is FunctionKind.AGGREGATE:
            for argument in node.arguments:
                assert isinstance(argument, Name)
                found[(argument, True)] = None
            return
    for child in children(node):
        _collect(child, found)


def absence(node: Node, scope: Scope) -> Value | None:
    """Return why the branch `node` cannot be computed yet, or None if all is known."""
    missing: list[str] = []
    for name, all_members in needs(node):
        values = scope.members(name.name) if all_members else (scope.value(name.name),)
        for value in values:
            if value.state is State.NOT_APPLICABLE:
                return Value(State.NOT_APPLICABLE, reason=value.reason)
            if value.state is not State.KNOWN and name.name not in missing:
                missing.append(name.name)
        if all_members and not values and name.name not in missing:
            missing.append(name.name)
    return Value(State.MISSING, reason=", ".join(missing)) if missing else None


def chosen_branch(node: Node, scope: Scope) -> Node | Value:
    """Follow the choices of a formula to the branch in use, or to why there is none."""
    while isinstance(node, Choice):
        condition = evaluate(node.condition, scope)
        if condition.state is not State.KNOWN:
            return condition
        node = node.then if condition.content else node.otherwise
    return node


def evaluate(node: Node, scope: Scope) -> Value:
    """Return the value of a formula for the member that `scope` looks from.

    A computation that is impossible (a negative root, a wet bulb above its dry bulb) is a
    fault whose reason is the sentence of the error; it is never a number.
    """
    branch = chosen_branch(node, scope)
    if isinstance(branch, Value):
        return branch
    absent = absence(branch, scope)
    if absent is not None:
        return absent
    try:
        content = compute(branch, scope)
    except CommissionError as error:
        return Value(State.FAULT, reason=str(error))
    except ZeroDivisionError:
        return Value(
            State.FAULT, reason=spoken("Division by zero: one of the readings cannot be 0.")
        )
    except (ValueError, OverflowError):
        return Value(
            State.FAULT, reason=spoken("The readings give no real number; read them again.")
        )
    if isinstance(content, float) and not math.isfinite(content):
        return Value(
            State.FAULT, reason=spoken("The readings give no finite number; read them again.")
        )
    return Value(State.KNOWN, content)


Computation = Callable[[Scope], Content]
_kept_computations: dict[int, tuple[Node, Computation]] = {}


def compute(node: Node, scope: Scope) -> Content:
    """Return the content of a branch all of whose inputs are known.

    Raises:
        CommissionError, ArithmeticError, ValueError: The computation is impossible.
    """
    return computation(node)(scope)


def computation(node: Node) -> Computation:
    """Return a branch as a function of its scope; each branch is made into one only once.

    Sensitivities compute the same branch hundreds of times for one keystroke, and telling
    nodes apart would be most of that work.
    """
    kept = _kept_computations.get(id(node))
    if kept is not None:
        return kept[1]
    made = _made(node)
    if len(_kept_computations) >= _MOST_KEPT:
        _kept_computations.clear()
    _kept_computations[id(node)] = (node, made)
    return made


def _made(node: Node) -> Computation:
    match node:
        case Number(value) | Text(value):
            return lambda scope: value
        case Name(name):
            return partial(_content, name)
        case Negative(operand):
            number = _number(operand)
            return lambda scope: -number(scope)
        case Arithmetic(sign, left, right):
            return _arithmetic(sign, _number(left), _number(right))
        case Comparison(sign, left, right):
            compare, first, second = _COMPARISON[sign], _made(left), _made(right)
            return lambda scope: compare(first(scope), second(scope))
        case Not(operand):
            part = _made(operand)
            return lambda scope: not part(scope)
        case Logic(word, operands):
            join, parts = all if word == "and" else any, [_made(part) for part in operands]
            # All parts are computed, as a spreadsheet does: a fault in any is a fault.
            return lambda scope: join([bool(part(scope)) for part in parts])
        case Call():
            return _call(node)
        case Choice(condition, then, otherwise):
            asked, yes, no = _made(condition), _made(then), _made(otherwise)
            return lambda scope: yes(scope) if asked(scope) else no(scope)


def _content(name: str, scope: Scope) -> Content:
    content = scope.value(name).content
    assert content is not None
    return content


def _arithmetic(
    sign: str, left: Callable[[Scope], float], right: Callable[[Scope], float]
) -> Computation:
    join = _ARITHMETIC[sign]

    def joined(scope: Scope) -> float:
        result = join(left(scope), right(scope))
        if isinstance(result, complex):
            raise ValueError("a fractional power of a negative number")
        return result

    return joined


def _number(node: Node) -> Callable[[Scope], float]:
    part = _made(node)

    def number(scope: Scope) -> float:
        content = part(scope)
        if not isinstance(content, float):
            raise ValueError(f"'{content}' is not a number")
        return content

    return number


def _call(node: Call) -> Computation:
    function = FUNCTIONS[node.function]
    first = node.arguments[0]
    if function.kind is FunctionKind.PRESENCE:
        assert isinstance(first, Name)
        return partial(_is_known, first.name)
    if function.kind is FunctionKind.MEMBER:
        assert isinstance(first, Text)
        return partial(_member_number, first.value)
    if function.kind is FunctionKind.AGGREGATE:
        assert isinstance(first, Name)
        return partial(_aggregate, function.compute, first.name)
    return partial(_result, function.compute, [_made(part) for part in node.arguments])


def _is_known(name: str, scope: Scope) -> bool:
    return scope.value(name).state is State.KNOWN


def _member_number(repeat: str, scope: Scope) -> float:
    return float(scope.number_of(repeat))


def _aggregate(join: Callable[..., Any], name: str, scope: Scope) -> float:
    contents = [value.content for value in scope.members(name)]
    return float(join([content for content in contents if isinstance(content, float)]))


def _result(function: Callable[..., Any], parts: Sequence[Computation], scope: Scope) -> Content:
    result: Content = function(*[part(scope) for part in parts])
    return float(result) if isinstance(result, int) and not isinstance(result, bool) else result
