"""Places of a traverse one at a time: the rules' rows, symmetry, and what is refused."""

from __future__ import annotations

import pytest

from commission.engineering import airflow, traverse
from commission.errors import ReadingError


@pytest.mark.parametrize("lines", [5, 6, 7])
def test_rectangular_places_are_the_rule_s(lines: int) -> None:
    """ISO 3966's rows stand in tests/reference."""
    found = [traverse.rectangular_position("log-Tchebycheff", lines, n + 1) for n in range(lines)]
    assert tuple(found) == airflow.log_tchebycheff_positions(lines)


@pytest.mark.parametrize("points", [4, 6, 8, 10])
@pytest.mark.parametrize("rule", ["log-linear", "equal area"])
def test_round_places_are_symmetric_and_rise(rule: str, points: int) -> None:
    found = [traverse.round_position(rule, points, n + 1) for n in range(points)]
    assert found == sorted(set(found))
    for near, far in zip(found, reversed(found), strict=True):
        assert near + far == pytest.approx(1)


def test_a_duct_s_inches() -> None:
    """34 in. by six lines: 2.1 in. from the wall for the first, by the rule's 0.061."""
    assert 34 * traverse.rectangular_position("log-Tchebycheff", 6, 1) == pytest.approx(2.074)
    assert 34 * traverse.rectangular_position("equal area", 4, 1) == pytest.approx(4.25)


@pytest.mark.parametrize(("rule", "count", "number", "word"), [
    ("log-linear", 6, 1, "choose log-Tchebycheff or equal area"),
    ("log-Tchebycheff", 8, 1, "not in the rule"),
    ("log-Tchebycheff", 5, 6, "not one of the 5 places"),
    ("equal area", 2.5, 1, "whole number"),
    ("equal area", 3, 0, "not one of the 3 places"),
])  # fmt: skip
def test_what_cannot_be_is_refused(rule: str, count: float, number: float, word: str) -> None:
    with pytest.raises(ReadingError, match=word):
        traverse.rectangular_position(rule, count, number)


def test_rings_need_an_even_count() -> None:
    with pytest.raises(ReadingError, match="Choose an even number"):
        traverse.round_position("equal area", 5, 1)
