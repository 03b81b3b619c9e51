"""Values printed by others, each with its source, against `commission.engineering`."""

from __future__ import annotations

import importlib
import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

from commission.units import UNITS, convert

FOLDER = Path(__file__).parent
FILES = sorted(FOLDER.glob("*.toml"))
SEA_LEVEL_PSIA = 14.696
FEWEST_VALUES = 150
KEYS = {"id", "call", "unit", "why", "source", "seen"}
OPTIONAL = {"arguments", "each", "value", "values", "gauge_values", "computed_unit"}
OPTIONAL |= {"tolerance", "tolerance_percent"}


@dataclass(frozen=True, slots=True)
class Published:
    """One printed value (or printed list) and the call that must give it."""

    row: Mapping[str, Any]
    arguments: list[Any]
    expected: Any

    def found(self) -> list[float]:
        """What the code gives, in the printed unit."""
        value = called(self.row["call"], self.arguments)
        if "computed_unit" in self.row:
            value = convert(value, self.row["computed_unit"], self.row["unit"])
        return list(value) if isinstance(value, tuple) else [value]

    def printed(self) -> list[float]:
        """What was printed."""
        return self.expected if isinstance(self.expected, list) else [self.expected]

    def allowed(self, printed: float) -> float:
        """How far the code may be from `printed`."""
        percent = self.row.get("tolerance_percent", 0)
        return float(self.row.get("tolerance", abs(printed) * percent / 100))

    def agrees(self, found: list[float]) -> bool:
        """Whether found values lie within the row's tolerance of the printed ones."""
        pairs = zip(found, self.printed(), strict=True)
        return all(abs(one - other) <= self.allowed(other) + 1e-12 for one, other in pairs)


def called(call: str, arguments: list[Any]) -> Any:
    """Return what a function of `commission.engineering` gives; arguments may be calls."""
    module, name = call.split(".")
    function = getattr(importlib.import_module(f"commission.engineering.{module}"), name)
    values = [called(**one) if isinstance(one, Mapping) else one for one in arguments]
    return function(*values)


def _rows() -> Iterator[Any]:
    for path in FILES:
        for row in tomllib.loads(path.read_text(encoding="utf-8"))["row"]:
            yield pytest.param(row, id=f"{path.stem}-{row['id']}")


def _expected(row: Mapping[str, Any]) -> list[Any]:
    if "gauge_values" in row:
        return [value + SEA_LEVEL_PSIA for value in row["gauge_values"]]
    return row["values"] if "each" in row else [row["value"]]


def _published() -> Iterator[Any]:
    for parameter in ROWS:
        row = parameter.values[0]
        inputs = row["each"] if "each" in row else [row["arguments"]]
        for at, (arguments, expected) in enumerate(zip(inputs, _expected(row), strict=True)):
            yield pytest.param(Published(row, arguments, expected), id=f"{parameter.id}-{at}")


ROWS = list(_rows())
PUBLISHED = list(_published())


@pytest.mark.parametrize("published", PUBLISHED)
def test_published_value(published: Published) -> None:
    found = published.found()
    assert published.agrees(found), (published.arguments, published.expected, found)


@pytest.mark.parametrize("published", PUBLISHED)
def test_published_value_can_fail(published: Published) -> None:
    """A result off by a little more than twice the tolerance, either way, is refused."""
    found = published.found()
    for sign in (1, -1):
        for at, printed in enumerate(published.printed()):
            step = sign * (2.01 * published.allowed(printed) + 1e-6 * max(abs(printed), 1e-3))
            wrong = [value + step if place == at else value for place, value in enumerate(found)]
            assert not published.agrees(wrong)


@pytest.mark.parametrize("published", PUBLISHED)
def test_tolerance_is_no_free_pass(published: Published) -> None:
    """None, not even of a value read from a chart, is wider than a third of the value."""
    for printed in published.printed():
        assert published.allowed(printed) <= abs(printed) / 3


@pytest.mark.parametrize("row", ROWS)
def test_row_says_where_it_comes_from(row: Mapping[str, Any]) -> None:
    assert set(row) >= KEYS
    assert set(row) <= KEYS | OPTIONAL
    assert row["seen"] in ("seen", "from memory")
    assert row["unit"] in UNITS
    assert ("tolerance" in row) != ("tolerance_percent" in row)
    assert all(len(row[key]) > 8 for key in ("why", "source"))


def test_rows_are_named_once() -> None:
    names = [parameter.id for parameter in ROWS]
    assert len(names) == len(set(names))


def test_there_are_enough_published_values() -> None:
    assert len(PUBLISHED) >= FEWEST_VALUES
    seen = [one for one in PUBLISHED if one.values[0].row["seen"] == "seen"]
    assert len(seen) >= FEWEST_VALUES, "from memory alone proves too little"
    asked = {(one.values[0].row["call"], str(one.values[0].arguments)) for one in PUBLISHED}
    assert len(asked) >= FEWEST_VALUES, "the same question twice is one value"


def test_every_subject_has_rows() -> None:
    subjects = {"airflow", "economizer", "electrical", "gas_heat", "moist_air", "refrigerant"}
    assert {path.stem for path in FILES} >= subjects


def test_a_wrong_row_fails() -> None:
    row = {"call": "heating.gas_flow_cfh", "unit": "ft³/h", "tolerance": 0.005}
    with pytest.raises(AssertionError):
        test_published_value(Published(row, [0.5, 22], 82.82))
