"""Conditions over columns: Kleene's three values, and plain Python as the oracle."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from commission.errors import FormulaError
from commission.sequence.rules_condition import holds, states_of
from commission.sequence.trend_log import OFF, ON, UNKNOWN

THREE = (OFF, UNKNOWN, ON)


def pairs() -> tuple[np.ndarray, np.ndarray]:
    left = np.array([a for a in THREE for _ in THREE], np.int8)
    right = np.array([b for _ in THREE for b in THREE], np.int8)
    return left, right


def test_truth_tables() -> None:
    # Kleene's strong three-valued logic (S. C. Kleene, Introduction to Metamathematics, 1952, §64).
    a, b = pairs()
    given_names = {"a": a, "b": b}
    conjunction = states_of("a and b", given_names).tolist()
    disjunction = states_of("a or b", given_names).tolist()
    assert conjunction == [0, 0, 0, 0, 1, 1, 0, 1, 2]
    assert disjunction == [0, 1, 2, 1, 1, 2, 2, 2, 2]
    assert states_of("not a", {"a": np.array(THREE, np.int8)}).tolist() == [2, 1, 0]


def test_a_number_not_known_gives_an_unknown_condition() -> None:
    column = np.array([50.0, np.nan, 80.0], np.float32)
    assert states_of("t > 65", {"t": column}).tolist() == [OFF, UNKNOWN, ON]
    assert states_of("min(t, 60) == 60", {"t": column}).tolist() == [OFF, UNKNOWN, ON]
    assert states_of("abs(t - 60) / 2 <= 5", {"t": column}).tolist() == [ON, UNKNOWN, OFF]


numbers = st.one_of(st.none(), st.integers(-50, 50))


@given(st.lists(st.tuples(numbers, numbers, st.sampled_from(THREE)), min_size=1, max_size=30))
def test_conditions_agree_with_python(rows: list[tuple[int | None, int | None, int]]) -> None:
    x = np.array([np.nan if a is None else a for a, _, _ in rows], np.float32)
    y = np.array([np.nan if b is None else b for _, b, _ in rows], np.float32)
    s = np.array([c for _, _, c in rows], np.int8)
    got = states_of("(x - y > 3 or s) and not y == 0", {"x": x, "y": y, "s": s}).tolist()
    for (a, b, c), state in zip(rows, got, strict=True):
        greater = None if a is None or b is None else a - b > 3
        zero = None if b is None else b == 0
        told = {OFF: False, UNKNOWN: None, ON: True}[c]
        first = True if True in (greater, told) else (None if None in (greater, told) else False)
        second = None if zero is None else not zero
        both = False if False in (first, second) else (None if None in (first, second) else True)
        assert {False: OFF, None: UNKNOWN, True: ON}[both] == state


def test_facts_of_the_configuration() -> None:
    facts = {"heat_type": "gas", "stages": 2, "fitted": False}
    assert holds("heat_type == 'gas' and stages >= 2 and not fitted", facts)
    assert not holds("heat_type != 'gas' or fitted", facts)


@pytest.mark.parametrize("text", ["t", "s + 1 > 2", "nothing > 1", "t > 'x' + 1", "saturated(t)"])
def test_what_is_not_a_condition_is_refused(text: str) -> None:
    columns = {"t": np.zeros(2, np.float32), "s": np.zeros(2, np.int8)}
    with pytest.raises(FormulaError):
        states_of(text, columns)
