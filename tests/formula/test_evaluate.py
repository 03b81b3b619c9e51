"""Values: what is missing, not applicable or impossible, and how each travels on."""

from __future__ import annotations

import math
import time

import pytest
from hypothesis import given
from hypothesis import strategies as st

from commission.formula.evaluate import (
    MISSING,
    State,
    Value,
    chosen_branch,
    evaluate,
    known,
    needs,
)
from commission.formula.parse import parse
from commission.formula.tree import Call, Node, walk
from tests.formula.trees import (
    CONDITIONS,
    NOT_ASKED,
    NUMBER_FORMULAS,
    OUT_OF_RANGE,
    TEXT_FORMULAS,
    VALUES,
    Values,
    scope_of,
)

K, M, N, F = State.KNOWN, State.MISSING, State.NOT_APPLICABLE, State.FAULT
NA = Value(State.NOT_APPLICABLE, reason="no port fitted")


@pytest.mark.parametrize(
    ("text", "values", "expected"),
    [
        ("a + b", {"a": 1, "b": 2}, 3.0),
        ("2 ** 3 ** 2", {}, 512.0),
        ("-a ** 2", {"a": 3}, -9.0),
        ("a / b", {"a": 1, "b": 4}, 0.25),
        ("a - b - 1", {"a": 5, "b": 2}, 2.0),
        ("max(a, 3, b)", {"a": 1, "b": 2}, 3.0),
        ("abs(a)", {"a": -4}, 4.0),
        ("s", {"s": "gas"}, "gas"),
        ("'x' if s == 'gas' else 'y'", {"s": "gas"}, "x"),
        ("sum_of(r)", {"r": [1, 2, 4]}, 7.0),
        ("mean_of(r)", {"r": [1, 2, 6]}, 3.0),
        ("largest_of(r) - smallest_of(r)", {"r": [1, 2, 6]}, 5.0),
        ("count_of(r)", {"r": [1, 2, 6]}, 3.0),
        # NEMA MG 1, 14.36: the example of 460, 467 and 450 V gives 1.96 %.
        ("imbalance_of(r)", {"r": [460, 467, 450]}, 100 * 9 / 459),
        ("1 if a > 1 and b > 1 else 0", {"a": 2, "b": 2}, 1.0),
        ("1 if a > 1 or b > 1 else 0", {"a": 0, "b": 2}, 1.0),
        ("1 if not a > 1 else 0", {"a": 0}, 1.0),
        ("1 if 1 < a <= 3 else 0", {"a": 3}, 1.0),
    ],
)
def test_values(text: str, values: dict[str, object], expected: float | str) -> None:
    result = evaluate(parse(text), scope_of(**values))
    assert result.state is K
    wanted = pytest.approx(expected, rel=1e-14) if isinstance(expected, float) else expected
    assert result.content == wanted


@pytest.mark.parametrize(
    ("text", "values", "state"),
    [
        # missing in, missing out; never zero
        ("a + b", {"a": 1, "b": None}, M),
        ("a * 0", {"a": None}, M),
        ("sum_of(r)", {"r": [1, None]}, M),
        ("sum_of(r)", {"r": []}, M),
        # not applicable in, not applicable out, even beside something missing
        ("a + b", {"a": 1, "b": NA}, N),
        ("a + b", {"a": None, "b": NA}, N),
        ("sum_of(r)", {"r": [1, NA, None]}, N),
        ("sum_of(r) + a", {"r": [], "a": NA}, N),
        # what rests on an impossible value is missing until that is put right
        ("a + b", {"a": 1, "b": OUT_OF_RANGE}, M),
        ("sum_of(r)", {"r": [1, OUT_OF_RANGE]}, M),
        ("a + b", {"a": NA, "b": OUT_OF_RANGE}, N),
        # impossible here
        ("a / b", {"a": 1, "b": 0}, F),
        ("sqrt(a)", {"a": -1}, F),
        ("ln(a)", {"a": 0}, F),
        ("a ** 0.5", {"a": -1}, F),
        ("0 ** a", {"a": -1}, F),
        ("exp(a)", {"a": 1e6}, F),
        ("a * a", {"a": 1e200}, F),
        ("humidity_ratio_from_wet_bulb(a, b, 14.7)", {"a": 75, "b": 78}, F),
        ("imbalance_of(r)", {"r": [0, 0, 0]}, F),
        # only the chosen branch needs its inputs
        ("a if s == 'x' else b", {"a": 1, "b": None, "s": "x"}, K),
        ("a if s == 'x' else b", {"a": 1, "b": None, "s": "y"}, M),
        ("a if s == 'x' else b", {"a": 1, "b": NA, "s": "y"}, N),
        ("a if s == 'x' else 1 / b", {"a": 1, "b": 0, "s": "x"}, K),
        # a condition that is not known decides nothing
        ("a if s == 'x' else b", {"a": 1, "b": 1, "s": None}, M),
        ("a if s == 'x' else b", {"a": 1, "b": 1, "s": NA}, N),
        ("a if 1 / b > 2 else 3", {"a": 1, "b": 0}, F),
        # all parts of a condition are needed and computed, as in a spreadsheet
        ("1 if b != 0 and 1 / b > 2 else 3", {"b": 0}, F),
        ("1 if a > 0 or b > 0 else 3", {"a": 1, "b": None}, M),
        # known asks and needs nothing
        ("a if known(a) else 14.7", {"a": None}, K),
        ("a if known(a) else 14.7", {"a": NA}, K),
        ("a if known(a) else 14.7", {"a": OUT_OF_RANGE}, K),
    ],
)
def test_states(text: str, values: dict[str, object], state: State) -> None:
    result = evaluate(parse(text), scope_of(**values))
    assert result.state is state
    assert (result.content is None) == (state is not K)


def test_a_missing_value_names_what_is_missing_each_once_in_order() -> None:
    result = evaluate(parse("b + a * b + c"), scope_of(a=None, b=None, c=1))
    assert result.reason == "b, a"


def test_not_applicable_hands_on_its_reason() -> None:
    assert evaluate(parse("a + 1"), scope_of(a=NA)).reason == "no port fitted"


def test_a_fault_says_why_in_a_sentence() -> None:
    ratio = parse("humidity_ratio_from_wet_bulb(a, b, 14.7)")
    reason = evaluate(ratio, scope_of(a=75, b=78)).reason
    assert "78" in reason
    assert "75" in reason
    assert "Division by zero" in evaluate(parse("1 / a"), scope_of(a=0)).reason


@pytest.mark.parametrize(
    "text", ["9**9**9", "9**9**9**9", "2**0.5**-9**9", "exp(exp(exp(9)))", "(a*a)**(a*a)"]
)
def test_a_huge_power_is_a_fault_at_once_and_never_a_hang(text: str) -> None:
    began = time.perf_counter()
    result = evaluate(parse(text), scope_of(a=1e6))
    assert time.perf_counter() - began < 1  # floats overflow; whole-number powers would hang
    assert result.state in (F, K)
    assert result.number is None or math.isfinite(result.number)


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("a >= 0.9 * b", True),
        ("a < 0.9 * b", False),
        ("a == 0.9 * b", True),
        ("a != 0.9 * b", False),
        ("a <= 0.9 * b", True),
        ("a > 0.9 * b", False),
    ],
)
def test_comparison_does_not_see_the_last_bits(text: str, expected: bool) -> None:
    # 0.9 * 208 is 187.20000000000002 in binary; a spreadsheet calls it equal to 187.2.
    assert 0.9 * 208 != 187.2
    assert evaluate(parse(text), scope_of(a=187.2, b=208)).content is expected


def test_comparison_does_see_a_real_difference() -> None:
    assert evaluate(parse("a == b"), scope_of(a=187.2, b=187.2000001)).content is False
    assert evaluate(parse("a > 0"), scope_of(a=1e-30)).content is True


@given(NUMBER_FORMULAS | TEXT_FORMULAS | CONDITIONS, VALUES)
def test_every_formula_gives_a_finite_content_or_a_state(tree: Node, values: Values) -> None:
    result = evaluate(tree, values)
    if result.state is State.KNOWN:
        assert isinstance(result.content, float | str | bool)
        assert not isinstance(result.content, float) or math.isfinite(result.content)
    else:
        assert result.content is None
        assert result.reason or result.state is not State.FAULT


@given(NUMBER_FORMULAS, VALUES, st.sampled_from([MISSING, NOT_ASKED, OUT_OF_RANGE]))
def test_nothing_is_known_without_each_input_of_the_branch_in_use(
    tree: Node, values: Values, absent: Value
) -> None:
    asks = any(isinstance(part, Call) and part.function == "known" for part in walk(tree))
    branch = chosen_branch(tree, values)
    if asks or isinstance(branch, Value):
        return
    for name, _ in needs(branch):
        without = Values(
            {**values.single, name.name: absent}, {**values.many, name.name: [known(1), absent]}
        )
        assert evaluate(tree, without).state is not State.KNOWN


def test_whole_numbers_are_floats() -> None:
    assert known(3).content == 3.0
    assert isinstance(known(3).content, float)
