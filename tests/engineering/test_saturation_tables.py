"""Bridges across points where a property library fails, tested by leaving points out."""

from __future__ import annotations

import math
import random

import pytest

from commission.engineering import refrigerant, saturation_tables
from commission.engineering.refrigerant import REFRIGERANTS, Curve
from commission.errors import CommissionError

# Gaps as wide as the widest that CoolProp 8.0.0 leaves (five points), and wider.
GAPS = [range(100, 105), range(131, 136), range(140, 149)]
TOLERANCE = 2e-5  # in ln p, 0.001 °F


def _curve(name: str, kind: Curve) -> dict[int, float]:
    logs = refrigerant.saturation_table().curves[name, kind]
    return dict(enumerate(logs, start=saturation_tables.FIRST_F))


@pytest.mark.parametrize("gap", GAPS, ids=str)
@pytest.mark.parametrize("name", ["R-32", "R-410A", "R-407C", "R-448A", "R-454B", "R-452B"])
def test_left_out_points_come_back(name: str, gap: range) -> None:
    for kind in Curve:
        points = _curve(name, kind)
        kept = {at: value for at, value in points.items() if at not in gap}
        for at in gap:
            assert saturation_tables.bridged(kept, at) == pytest.approx(points[at], abs=TOLERANCE)


@pytest.mark.parametrize("name", ["R-454B", "R-452B"])
def test_bridges_meet_points_computed_inside_them(name: str) -> None:
    """The library often succeeds at half degrees where whole ones fail: an outside witness."""
    fluid, witnesses = REFRIGERANTS[name].coolprop_name, 0
    for kind in Curve:
        lookup = refrigerant.dew_psia if kind is Curve.DEW else refrigerant.bubble_psia
        for tenth in range(1300, 1520, 3):
            at = tenth / 10
            log = refrigerant.log_saturation_pressure(fluid, kind, at)
            whole = refrigerant.log_saturation_pressure(fluid, kind, float(round(at)))
            if log is None or whole is not None:
                continue
            witnesses += 1
            assert math.log(lookup(name, at)) == pytest.approx(log, abs=3e-5)
    assert witnesses


def test_a_jump_is_found_and_its_neighbours_are_kept() -> None:
    points = _curve("R-32", Curve.DEW)
    spoilt = points | {100: points[100] + 0.01, 120: points[120] - 3e-4}
    sound = saturation_tables.without_jumps(spoilt)
    assert set(points) - set(sound) == {100, 120}


def test_failures_and_jumps_are_mended_in_a_whole_curve() -> None:
    points = _curve("R-32", Curve.DEW)
    source = random.Random(7)
    failing = {*source.sample(range(-30, 140), 8), *range(80, 85)}

    def log_pressure(at: float) -> float | None:
        if at in failing or at not in points:
            return None
        return points[int(at)] + (0.02 if at == 60 else 0.0)

    built = saturation_tables.curve(log_pressure, 140)
    expected = [points[at] for at in range(saturation_tables.FIRST_F, 141)]
    assert built == pytest.approx(expected, abs=TOLERANCE)


def test_a_curve_without_footing_is_refused() -> None:
    points = _curve("R-32", Curve.DEW)
    with pytest.raises(CommissionError, match="fewer than 3 sound points"):
        saturation_tables.curve(lambda at: points.get(int(at)) if at < 120 else None, 130)
