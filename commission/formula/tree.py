"""The expression tree: one shape for values, spreadsheet text, shown work and uncertainty.

Nodes are frozen and know nothing of how they are used; each use is a module of its own
(`evaluate`, `excel`, `work`, `dimensions`).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Number:
    """A literal number."""

    value: float


@dataclass(frozen=True, slots=True)
class Text:
    """A literal text, such as a choice."""

    value: str


@dataclass(frozen=True, slots=True)
class Name:
    """A field or quantity of the form."""

    name: str


@dataclass(frozen=True, slots=True)
class Negative:
    """Minus something."""

    operand: Node


@dataclass(frozen=True, slots=True)
class Arithmetic:
    """Two numbers joined by one of + - * / **."""

    operator: str
    left: Node
    right: Node


@dataclass(frozen=True, slots=True)
class Comparison:
    """Two values compared by one of == != < <= > >=."""

    operator: str
    left: Node
    right: Node


@dataclass(frozen=True, slots=True)
class Logic:
    """Conditions joined by `and` or `or`."""

    operator: str
    operands: tuple[Node, ...]


@dataclass(frozen=True, slots=True)
class Not:
    """The opposite of a condition."""

    operand: Node


@dataclass(frozen=True, slots=True)
class Choice:
    """`then if condition else otherwise`: only the chosen branch needs its inputs."""

    condition: Node
    then: Node
    otherwise: Node


@dataclass(frozen=True, slots=True)
class Call:
    """A function of `commission.formula.functions` with its arguments."""

    function: str
    arguments: tuple[Node, ...]


Node = Number | Text | Name | Negative | Arithmetic | Comparison | Logic | Not | Choice | Call


def children(node: Node) -> tuple[Node, ...]:
    """Return the nodes directly below `node`, left to right."""
    match node:
        case Negative(operand) | Not(operand):
            return (operand,)
        case Arithmetic(_, left, right) | Comparison(_, left, right):
            return (left, right)
        case Logic(_, operands):
            return operands
        case Choice(condition, then, otherwise):
            return (condition, then, otherwise)
        case Call(_, arguments):
            return arguments
        case _:
            return ()


def walk(node: Node) -> Iterator[Node]:
    """Yield `node` and everything below it, top down and left to right."""
    yield node
    for child in children(node):
        yield from walk(child)


NUMBER_OF = "number_of"
"""The function that gives a member's own number; its one argument is a repeat's name."""


def numbered_repeats(node: Node) -> tuple[str, ...]:
    """Return the repeats whose member numbers a tree uses, each once."""
    calls = (part for part in walk(node) if isinstance(part, Call))
    named = (call.arguments[0] for call in calls if call.function == NUMBER_OF)
    return tuple(dict.fromkeys(name.value for name in named if isinstance(name, Text)))


def names_in(node: Node) -> tuple[str, ...]:
    """Return the names a tree uses, each once, in order of first use."""
    return tuple(dict.fromkeys(part.name for part in walk(node) if isinstance(part, Name)))
