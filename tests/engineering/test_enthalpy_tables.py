"""Enthalpy of refrigerants: the shipped tables against CoolProp 8.0, between their points."""

from __future__ import annotations

import json
import math
import os

import pytest

from commission.engineering import refrigerant
from commission.engineering.enthalpy_tables import (
    LARGEST_ERROR_BTULB,
    TABLE_PATH,
    build_table,
    enthalpy_tables,
    saturated_btulb,
    vapor_btulb,
)
from commission.engineering.refrigerant import REFRIGERANTS, Curve, dew_psia
from commission.errors import ReadingError

# Every how-many-th state is compared; 1 compares all 80 of each refrigerant (40 s).
STRIDE = int(os.environ.get("COMMISSION_ENTHALPY_STRIDE", "7"))
DEWS_F = (-33.3, -8.7, 17.4, 33.1, 41.6, 52.5, 77.3, 98.9, 113.7, 127.2)
SUPERHEATS_F = (2.3, 7.9, 16.0, 27.5, 41.0, 66.0, 92.0, 117.0)
STATES = [(dew, superheat) for dew in DEWS_F for superheat in SUPERHEATS_F]


def _zero(name: str) -> float:
    found = refrigerant.enthalpy_btulb(REFRIGERANTS[name].coolprop_name, -40.0, quality=0)
    assert found is not None
    return found


@pytest.mark.parametrize("name", REFRIGERANTS)
def test_vapour_is_coolprops(name: str) -> None:
    compared = 0
    fluid = REFRIGERANTS[name].coolprop_name
    for dew, superheat in STATES[::STRIDE]:
        found = refrigerant.enthalpy_btulb(fluid, dew + superheat, psia=dew_psia(name, dew))
        if found is None:
            continue  # the library's own holes, bridged in the table
        assert vapor_btulb(name, dew, superheat) == pytest.approx(
            found - _zero(name), abs=LARGEST_ERROR_BTULB
        ), (dew, superheat)
        compared += 1
    assert compared >= 0.75 * len(STATES[::STRIDE])


@pytest.mark.parametrize("name", REFRIGERANTS)
def test_saturated_is_coolprops(name: str) -> None:
    fluid = REFRIGERANTS[name].coolprop_name
    compared = 0
    for curve, quality in ((Curve.DEW, 1), (Curve.BUBBLE, 0)):
        for at in DEWS_F:
            found = refrigerant.enthalpy_btulb(fluid, at, quality=quality)
            if found is not None:
                shown = saturated_btulb(name, curve, at)
                assert shown == pytest.approx(found - _zero(name), abs=0.05), (curve, at)
                compared += 1
    assert compared >= 14


@pytest.mark.parametrize("name", REFRIGERANTS)
def test_curves_are_smooth(name: str) -> None:
    """No bridge leaves a step: second differences stay small below the steep end."""
    table = enthalpy_tables()[name]
    for row in (table.dew[:175], table.bubble[:175]):
        seconds = [a - 2 * b + c for a, b, c in zip(row, row[1:], row[2:], strict=False)]
        assert max(abs(second) for second in seconds) < 0.06
    for row in table.gains:
        assert list(row) == sorted(row)


def test_the_table_made_again_is_the_same() -> None:
    assert build_table("R-134a") == enthalpy_tables()["R-134a"]


def test_the_file_says_what_made_it() -> None:
    stored = json.loads(TABLE_PATH.read_text(encoding="utf-8"))
    assert stored["coolprop_version"] == refrigerant.saturation_table().coolprop_version
    assert set(stored["tables"]) == set(REFRIGERANTS)
    assert all(math.isclose(t["bubble"][0], 0.0) for t in stored["tables"].values())


@pytest.mark.parametrize(
    ("dew", "superheat"), [(-41.0, 10.0), (156.0, 10.0), (40.0, -1.0), (40.0, 151.0)]
)
def test_outside_the_tables_is_refused(dew: float, superheat: float) -> None:
    with pytest.raises(ReadingError):
        vapor_btulb("R-410A", dew, superheat)
