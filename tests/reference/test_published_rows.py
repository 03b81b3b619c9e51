"""Rows printed by others, each with its source, against `commission.engineering`."""

from __future__ import annotations

import importlib
import tomllib
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

import pytest

from commission.units import UNITS, convert

FOLDER = Path(__file__).parent
FILES = sorted(FOLDER.glob("*.toml"))
SEA_LEVEL_PSIA = 14.696
KEYS = {"id", "call", "unit", "why", "source", "seen"}
OPTIONAL = {"arguments", "each", "value", "values", "gauge_values", "computed_unit"}
OPTIONAL |= {"tolerance", "tolerance_percent"}


def _rows() -> Iterator[Any]:
    for path in FILES:
        for row in tomllib.loads(path.read_text(encoding="utf-8"))["row"]:
            yield pytest.param(row, id=f"{path.stem}-{row['id']}")


ROWS = list(_rows())


def called(call: str, arguments: list[Any]) -> Any:
    """Return what a function of `commission.engineering` gives; arguments may be calls."""
    module, name = call.split(".")
    function = getattr(importlib.import_module(f"commission.engineering.{module}"), name)
    values = [called(**one) if isinstance(one, Mapping) else one for one in arguments]
    return function(*values)


def _expected(row: Mapping[str, Any]) -> list[Any]:
    if "gauge_values" in row:
        return [value + SEA_LEVEL_PSIA for value in row["gauge_values"]]
    return row.get("values", [row.get("value")])


@pytest.mark.parametrize("row", ROWS)
def test_published_row(row: Mapping[str, Any]) -> None:
    inputs = row.get("each", [row.get("arguments")])
    for arguments, expected in zip(inputs, _expected(row), strict=True):
        found = called(row["call"], arguments)
        if "computed_unit" in row:
            found = convert(found, row["computed_unit"], row["unit"])
        if isinstance(expected, list):
            assert list(found) == pytest.approx(expected, abs=row["tolerance"]), arguments
            continue
        allowed = row.get("tolerance", abs(expected) * row.get("tolerance_percent", 0) / 100)
        assert abs(found - expected) <= allowed, (arguments, expected, found)


@pytest.mark.parametrize("row", ROWS)
def test_row_says_where_it_comes_from(row: Mapping[str, Any]) -> None:
    assert set(row) >= KEYS
    assert set(row) <= KEYS | OPTIONAL
    assert row["seen"] in ("seen", "from memory")
    assert row["unit"] in UNITS
    assert ("tolerance" in row) != ("tolerance_percent" in row)
    assert all(len(row[key]) > 8 for key in ("why", "source"))


def test_every_subject_has_rows() -> None:
    subjects = {"airflow", "economizer", "electrical", "gas_heat", "moist_air", "refrigerant"}
    assert {path.stem for path in FILES} >= subjects


def test_a_wrong_row_fails() -> None:
    row = {"call": "heating.gas_flow_cfh", "arguments": [0.5, 22], "value": 82.82}
    with pytest.raises(AssertionError):
        test_published_row({**row, "tolerance": 0.005})
