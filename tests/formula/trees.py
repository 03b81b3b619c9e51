"""Hypothesis strategies for expression trees, and a scope of plain values."""

from __future__ import annotations

import keyword
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import TypeVar

from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st
from hypothesis.strategies import SearchStrategy

from commission.formula.evaluate import MISSING, State, Value, known
from commission.formula.functions import FUNCTIONS, Function, FunctionKind
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
)

T = TypeVar("T")

NOT_ASKED = Value(State.NOT_APPLICABLE, reason="not asked for this configuration")
OUT_OF_RANGE = Value(State.FAULT, reason="Division by zero.")


@dataclass
class Values:
    """A scope of plain values: `single` by name, `many` by repeated name."""

    single: Mapping[str, Value] = field(default_factory=dict)
    many: Mapping[str, Sequence[Value]] = field(default_factory=dict)

    def value(self, name: str) -> Value:
        return self.single.get(name, MISSING)

    def members(self, name: str) -> Sequence[Value]:
        return self.many.get(name, ())


def scope_of(**values: object) -> Values:
    """Return a scope; a list is the members of a repeat, None is missing, a Value is itself."""

    def one(content: object) -> Value:
        if isinstance(content, Value):
            return content
        return MISSING if content is None else known(content)  # type: ignore[arg-type]

    single = {name: one(part) for name, part in values.items() if not isinstance(part, list)}
    many = {n: [one(p) for p in part] for n, part in values.items() if isinstance(part, list)}
    return Values(single, many)


def drawn(strategy: SearchStrategy[T], count: int) -> list[T]:
    """Return `count` examples (fewer if the strategy has fewer), always the same."""
    found: list[T] = []

    @settings(
        max_examples=count,
        derandomize=True,
        database=None,
        phases=[Phase.generate],
        suppress_health_check=list(HealthCheck),
    )
    @given(strategy)
    def keep(example: T) -> None:
        found.append(example)

    keep()
    return found


# -- whatever the syntax allows -----------------------------------------------------

_IDENTIFIERS = st.from_regex(r"[a-z][a-z0-9_]{0,8}", fullmatch=True).filter(
    lambda word: not keyword.iskeyword(word)
)
_LEAVES: SearchStrategy[Node] = st.one_of(
    st.floats(0, 1e300, allow_nan=False).map(lambda value: Number(abs(value))),
    st.integers(0, 10**6).map(lambda value: Number(float(value))),
    st.text(max_size=12).map(Text),
    _IDENTIFIERS.map(Name),
)


def _calls(inner: SearchStrategy[Node]) -> SearchStrategy[Node]:
    def call(name: str) -> SearchStrategy[Node]:
        function = FUNCTIONS[name]
        most = len(function.arguments)
        counts = st.integers(most - function.optional, most)
        return counts.flatmap(lambda count: st.tuples(*arguments(function, count))).map(
            lambda parts: Call(name, parts)
        )

    def arguments(function: Function, count: int) -> list[SearchStrategy[Node]]:
        """A look-up's first argument is a table's name, a member's only one that of a repeat."""
        if function.kind is FunctionKind.MEMBER:
            return [_IDENTIFIERS.map(Text)]
        first = _IDENTIFIERS.map(Name) if function.kind is FunctionKind.ENTERED else inner
        return [first, *[inner] * (count - 1)]

    return st.sampled_from(sorted(FUNCTIONS)).flatmap(call)


def _compound(inner: SearchStrategy[Node]) -> SearchStrategy[Node]:
    operands = st.lists(inner, min_size=2, max_size=3).map(tuple)
    return st.one_of(
        inner.map(Negative),
        inner.map(Not),
        st.builds(Arithmetic, st.sampled_from(["+", "-", "*", "/", "**"]), inner, inner),
        st.builds(Comparison, st.sampled_from(["==", "!=", "<", "<=", ">", ">="]), inner, inner),
        st.builds(Logic, st.sampled_from(["and", "or"]), operands),
        _calls(inner),
    )


SYNTAX: SearchStrategy[Node] = st.recursive(_LEAVES, _compound, max_leaves=20)
FORMULAS: SearchStrategy[Node] = st.recursive(
    SYNTAX, lambda inner: st.builds(Choice, SYNTAX, inner, inner), max_leaves=4
)

# -- trees that mean something, over a few names ------------------------------------

NUMBER_NAMES = ("a", "b", "c", "d")
TEXT_NAMES = ("s", "t")
REPEATED_NAMES = ("r", "q")
WORDS = ("yes", "no", "gas", "fixed orifice")
NUMBERS = (0.0, 0.5, 1.0, 2.0, 2.5, 7.0, 12.0, 100.0)

_NUMBER_NAMES = st.sampled_from(NUMBER_NAMES).map(Name)
_NUMBERS = st.sampled_from(NUMBERS).map(Number)
_AGGREGATES = st.builds(
    lambda function, name: Call(function, (Name(name),)),
    st.sampled_from(["sum_of", "mean_of", "largest_of", "smallest_of", "count_of", "imbalance_of"]),
    st.sampled_from(REPEATED_NAMES),
)


def _numeric(inner: SearchStrategy[Node]) -> SearchStrategy[Node]:
    one = st.tuples(inner)
    two = st.tuples(inner, inner)
    exponents = st.sampled_from([2.0, 3.0, 0.5]).map(Number)
    return st.one_of(
        inner.map(Negative),
        st.builds(Arithmetic, st.sampled_from(["+", "-", "*", "/"]), inner, inner),
        st.builds(Arithmetic, st.just("**"), inner, exponents),
        st.builds(Call, st.sampled_from(["abs", "sqrt", "ln"]), one),
        st.builds(Call, st.sampled_from(["min", "max"]), two),
    )


NUMERIC: SearchStrategy[Node] = st.recursive(
    st.one_of(_NUMBER_NAMES, _NUMBERS, _AGGREGATES), _numeric, max_leaves=6
)

# Sides of a comparison are exact (sums of halves), so that both programs see the same.
_EXACT = st.one_of(
    _NUMBER_NAMES,
    _NUMBERS,
    st.builds(Arithmetic, st.sampled_from(["+", "-"]), _NUMBER_NAMES, _NUMBERS),
)
_FAULTY = st.builds(Arithmetic, st.just("/"), _NUMBERS, _NUMBER_NAMES)
_SIMPLE_CONDITIONS: SearchStrategy[Node] = st.one_of(
    st.builds(Comparison, st.sampled_from(["==", "!=", "<", "<=", ">", ">="]), _EXACT, _EXACT),
    st.builds(Comparison, st.sampled_from(["<", ">"]), _FAULTY, _NUMBERS),
    st.builds(
        Comparison,
        st.sampled_from(["==", "!="]),
        st.sampled_from(TEXT_NAMES).map(Name),
        st.sampled_from(WORDS).map(Text),
    ),
    st.sampled_from(NUMBER_NAMES + TEXT_NAMES).map(lambda name: Call("known", (Name(name),))),
)
CONDITIONS: SearchStrategy[Node] = st.recursive(
    _SIMPLE_CONDITIONS,
    lambda inner: st.one_of(
        inner.map(Not),
        st.builds(
            Logic,
            st.sampled_from(["and", "or"]),
            st.lists(inner, min_size=2, max_size=3).map(tuple),
        ),
    ),
    max_leaves=4,
)
RELEVANCE: SearchStrategy[Node] = st.one_of(
    CONDITIONS, st.builds(Choice, CONDITIONS, CONDITIONS, CONDITIONS)
)
NUMBER_FORMULAS: SearchStrategy[Node] = st.recursive(
    NUMERIC, lambda inner: st.builds(Choice, CONDITIONS, inner, inner), max_leaves=3
)
_TEXTS: SearchStrategy[Node] = st.one_of(
    st.sampled_from(WORDS).map(Text), st.sampled_from(TEXT_NAMES).map(Name)
)
TEXT_FORMULAS: SearchStrategy[Node] = st.recursive(
    _TEXTS, lambda inner: st.builds(Choice, CONDITIONS, inner, inner), max_leaves=3
)

_ABSENT = st.sampled_from([MISSING, NOT_ASKED, OUT_OF_RANGE])


def _mostly(contents: SearchStrategy[Value]) -> SearchStrategy[Value]:
    return st.integers(0, 9).flatmap(lambda dice: _ABSENT if dice == 0 else contents)


VALUES: SearchStrategy[Values] = st.builds(
    Values,
    st.fixed_dictionaries(
        {name: _mostly(st.sampled_from([*NUMBERS, -1.0, -3.5]).map(known)) for name in NUMBER_NAMES}
        | {name: _mostly(st.sampled_from(WORDS).map(known)) for name in TEXT_NAMES}
    ),
    st.fixed_dictionaries(
        {
            name: st.lists(_mostly(st.sampled_from(NUMBERS).map(known)), max_size=3)
            for name in REPEATED_NAMES
        }
    ),
)
