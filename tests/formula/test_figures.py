"""Numbers as people read them."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from commission.formula.figures import figure, told_apart, uncertainty_figure, with_unit


@pytest.mark.parametrize(
    ("value", "decimals", "shown"),
    [
        (12.24, 1, "12.2"),
        (12.25, 1, "12.2"),  # half to even, as Python and IEEE 754 round
        (12.35, 0, "12"),
        (0.04, 1, "0.0"),
        (-0.04, 1, "0.0"),  # never "minus nought"
        (-3.5, 1, "−3.5"),  # a true minus sign
        (1234567.8, 0, "1,234,568"),
        (1234.5, 2, "1,234.50"),
        (0.0, None, "0"),
        (208.0, None, "208"),
        (0.011172, None, "0.01117"),
        (3.14159, None, "3.142"),
        (118.4567, None, "118.5"),
        (48123.4, None, "48,123"),
        (1234567.8, None, "1,234,568"),
        (-0.5, None, "−0.5000"),
    ],
)
def test_figures(value: float, decimals: int | None, shown: str) -> None:
    assert figure(value, decimals) == shown


def test_units_follow_a_space_and_plain_numbers_have_none() -> None:
    assert with_unit(3.44, "%", 1) == "3.4 %"
    assert with_unit(3.44, "", 1) == "3.4"


@pytest.mark.parametrize(
    ("first", "second", "decimals", "shown"),
    [
        (12.01, 12.0, 1, ("12.01", "12.00")),
        (12.0004, 12.0, 1, ("12.0004", "12.0000")),
        (13.0, 12.0, 1, ("13.0", "12.0")),
        (12.0, 12.0, 1, ("12.0", "12.0")),
        (208.04, 208.0, None, ("208.04", "208.00")),
    ],
)
def test_different_numbers_read_differently(
    first: float, second: float, decimals: int | None, shown: tuple[str, str]
) -> None:
    assert told_apart(first, second, decimals) == shown


@given(st.floats(-1e6, 1e6), st.floats(-1e6, 1e6), st.integers(0, 3))
def test_no_two_numbers_that_differ_in_eight_decimals_read_the_same(
    first: float, second: float, decimals: int
) -> None:
    shown = told_apart(first, second, decimals)
    assert (shown[0] != shown[1]) or abs(first - second) <= 1e-8


@pytest.mark.parametrize(
    ("expanded", "shown"),
    # GUM (JCGM 100:2008) 7.2.6: at most two significant digits usually suffice.
    [
        (0, "0"), (1.234, "1.2"), (0.0456, "0.046"), (12.6, "13"), (123.4, "120"),
        (1960.0, "2,000"), (0.5, "0.50"),
    ],
)  # fmt: skip
def test_uncertainties_have_two_significant_digits(expanded: float, shown: str) -> None:
    assert uncertainty_figure(expanded) == shown


@given(st.floats(-1e9, 1e9), st.integers(0, 6))
def test_the_figure_is_the_number_within_half_a_unit_of_its_last_place(
    value: float, decimals: int
) -> None:
    back = float(figure(value, decimals).replace(",", "").replace("−", "-"))
    assert abs(back - value) <= 0.5 * 10**-decimals * (1 + 1e-9) + abs(value) * 1e-15
