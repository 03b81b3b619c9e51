"""Economizer limits and outdoor-air share."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from commission.engineering import controls
from commission.errors import ReadingError


def test_zones_of_the_standard_are_all_there() -> None:
    """ASHRAE 169 zones: moist A 0-6, dry B 0-6, marine C 3-5, and 7, 8 (from memory)."""
    zones = {f"{n}A" for n in range(7)} | {f"{n}B" for n in range(7)} | {"3C", "4C", "5C"}
    assert set(controls.ECONOMIZER_HIGH_LIMIT_F) == zones | {"7", "8"}


def test_moist_zones_never_have_a_higher_limit_than_dry_ones() -> None:
    for number in range(7):
        moist = controls.economizer_high_limit_f(f"{number}A")
        assert moist <= controls.economizer_high_limit_f(f"{number}b")


def test_unknown_zone_is_refused_with_the_near_miss() -> None:
    with pytest.raises(ReadingError, match="'5D' is not a climate zone"):
        controls.economizer_high_limit_f("5D")


@given(st.floats(0, 1), st.floats(60, 80), st.floats(-10, 55))
def test_outdoor_share_gives_back_the_mixing(share: float, back: float, outdoor: float) -> None:
    mixed = share * outdoor + (1 - share) * back
    try:
        assert controls.outdoor_air_fraction(back, mixed, outdoor) == pytest.approx(share, abs=1e-9)
    except ReadingError:  # all or none, past the end by a last bit
        assert share in (pytest.approx(0, abs=1e-9), pytest.approx(1, abs=1e-9))


def test_outdoor_share_example() -> None:
    assert controls.outdoor_air_fraction(75, 70, 50) == pytest.approx(0.2)  # plain arithmetic


@pytest.mark.parametrize("temperatures", [(75, 70, 75), (75, 80, 50), (75, 45, 50)])
def test_impossible_mixing_is_refused(temperatures: tuple[float, float, float]) -> None:
    with pytest.raises(ReadingError, match=r"75 °F"):
        controls.outdoor_air_fraction(*temperatures)


def test_delivered_share() -> None:
    assert controls.delivered_capacity_share(48_000, 60_000) == pytest.approx(0.8)
    with pytest.raises(ReadingError):
        controls.delivered_capacity_share(48_000, 0)
