"""A rule's conditions, evaluated over whole columns at once.

The text is the form's formula language (`commission.formula.parse`). States are int8 in
Kleene's three values, so a missing sample gives an unknown condition, never a false one.
"""

from __future__ import annotations

import operator
from collections.abc import Callable, Mapping
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from commission.errors import FormulaError
from commission.formula.parse import parse
from commission.formula.tree import (
    Arithmetic,
    Call,
    Comparison,
    Logic,
    Name,
    Negative,
    Node,
    Not,
    Number,
    Text,
    names_in,
)
from commission.sequence.trend_log import OFF, ON, UNKNOWN

Given = str | float | bool | NDArray[np.int8] | NDArray[np.float32]
States = NDArray[np.int8]

_COMPARE: Mapping[str, Callable[..., NDArray[np.bool_]]] = {
    "==": operator.eq, "!=": operator.ne, "<": operator.lt, "<=": operator.le,
    ">": operator.gt, ">=": operator.ge,
}  # fmt: skip
_ARITHMETIC: Mapping[str, Callable[..., NDArray[np.float32]]] = {
    "+": operator.add, "-": operator.sub, "*": operator.mul, "/": np.divide,
}  # fmt: skip
# NaN (not known) in, NaN out: so `np.maximum`, never `np.fmax`.
_FUNCTIONS: Mapping[str, Callable[..., NDArray[np.float32]]] = {
    "abs": np.abs, "min": np.minimum, "max": np.maximum,
}  # fmt: skip


@lru_cache(maxsize=2_048)
def condition(text: str) -> Node:
    """Return the tree of a condition; the same text is parsed once."""
    return parse(text)


@lru_cache(maxsize=2_048)
def names_of(text: str) -> tuple[str, ...]:
    """Return the names a condition uses."""
    return names_in(condition(text))


def holds(text: str, facts: Mapping[str, Given]) -> bool:
    """Return whether a condition on the configuration (no columns) is true."""
    return int(states(condition(text), facts)) == ON


def states_of(text: str, given: Mapping[str, Given]) -> States:
    """Return OFF, UNKNOWN or ON a sample for a condition over columns.

    Args:
        given: Name -> column, or a plain number, text or flag.
    Raises:
        FormulaError: a name is not given, or the text uses what conditions do not have.
    """
    return states(condition(text), given)


def states(node: Node, given: Mapping[str, Given]) -> States:
    """Evaluate a condition's tree to three-valued states."""
    match node:
        case Not(operand):
            return np.int8(ON) - states(operand, given)
        case Logic("and", operands):
            return _joined(np.minimum, operands, given)
        case Logic(_, operands):
            return _joined(np.maximum, operands, given)
        case Comparison():
            return _comparison(node, given)
        case Name(name):
            return _as_states(_look_up(name, given), name)
    raise FormulaError(f"{node} is not a condition; compare it with something.")


def _joined(
    join: Callable[..., States], operands: tuple[Node, ...], given: Mapping[str, Given]
) -> States:
    result = states(operands[0], given)
    for part in operands[1:]:
        result = join(result, states(part, given))
    return result


def _as_states(value: Given, name: str) -> States:
    if isinstance(value, bool):
        return np.int8(ON if value else OFF)  # type: ignore[return-value]
    if isinstance(value, np.ndarray) and value.dtype == np.int8:
        return value  # type: ignore[return-value]  # its type is only known by its dtype
    raise FormulaError(f"'{name}' is a measurement or a text, not a state; compare it.")


def _comparison(node: Comparison, given: Mapping[str, Given]) -> States:
    left, right = _value(node.left, given), _value(node.right, given)
    if isinstance(left, str) or isinstance(right, str):
        same = left == right
        return _as_states(same if node.operator == "==" else not same, "")
    true = _COMPARE[node.operator](left, right)
    result = np.asarray(true, np.int8) * np.int8(ON)
    unknown = np.isnan(left) | np.isnan(right)
    if np.any(unknown):
        result = np.where(unknown, np.int8(UNKNOWN), result)
    return result


def _value(node: Node, given: Mapping[str, Given]) -> Given:
    match node:
        case Number(value):
            return np.float32(value)  # type: ignore[return-value]
        case Text(value):
            return value
        case Negative(operand):
            return -numbers(operand, given)
        case Arithmetic(sign, left, right) if sign in _ARITHMETIC:
            with np.errstate(divide="ignore", invalid="ignore"):
                return _ARITHMETIC[sign](numbers(left, given), numbers(right, given))
        case Call(function, arguments) if function in _FUNCTIONS:
            return _function(function, arguments, given)
        case Name(name):
            return _look_up(name, given)
    raise FormulaError(f"{node} cannot stand in a rule's condition.")


def _function(
    function: str, arguments: tuple[Node, ...], given: Mapping[str, Given]
) -> NDArray[np.float32]:
    values = [numbers(part, given) for part in arguments]
    if function == "abs":
        return np.abs(values[0])
    result = values[0]
    for value in values[1:]:
        result = _FUNCTIONS[function](result, value)
    return result


def numbers(node: Node, given: Mapping[str, Given]) -> NDArray[np.float32]:
    """Evaluate the number part of a condition: float32, NaN where not known."""
    value = _value(node, given)
    if isinstance(value, str):
        raise FormulaError(f"'{value}' is a text where a number is needed.")
    if isinstance(value, np.ndarray) and value.dtype == np.int8:
        raise FormulaError(f"{node} is a state where a number is needed.")
    return np.asarray(value, np.float32)


def _look_up(name: str, given: Mapping[str, Given]) -> Given:
    if name not in given:
        raise FormulaError(f"'{name}' is not a signal, a limit or an answer.")
    return given[name]
