"""The mapping tables against the published vocabularies.

UCUM: parsed by the ucumvert library (it ships the UCUM essence file). QUDT and Brick: looked
up in Brick 1.5, which ships in the brickschema library and uses QUDT's unit IRIs. Both are
test libraries; without them those tests are skipped and say so.
"""

from __future__ import annotations

import importlib.util
import re
from pathlib import Path

import pytest

from commission.archive.vocabulary import (
    QUDT,
    _fields,
    _unit_codes,
    equipment_categories,
    is_condition,
    is_requirement,
    role_fields,
    tags,
    unit_code,
)
from commission.definitions.model import Check, Form
from commission.units import UNITS


def brick() -> str:
    """Return the text of the Brick 1.5 ontology; its library need not be imported."""
    found = importlib.util.find_spec("brickschema")
    if found is None or not found.origin:
        pytest.skip("the brickschema library is not installed")
    path = Path(found.origin).parent / "ontologies" / "1.5" / "Brick.ttl"
    return path.read_text(encoding="utf-8")


def test_every_unit_has_its_codes() -> None:
    assert set(_unit_codes()) == set(UNITS)
    assert all(code.ucum for code in _unit_codes().values())
    assert unit_code("furlong").ucum == ""


# A point on a scale and an angle (which has a dimension of its own here) have no factor to
# compare; of the two pressures of a column, ucumvert takes another water and mercury.
APART = {"°F", "°C", "°", "in. Hg", "in. w.c."}


def test_ucum_codes_are_worth_what_our_units_are() -> None:
    ucumvert = pytest.importorskip("ucumvert", reason="the ucumvert library is not installed")
    registry = ucumvert.PintUcumRegistry()
    for code, entry in _unit_codes().items():
        measured = registry.from_ucum(entry.ucum)
        if code not in APART:
            in_si = (measured.magnitude * measured.units).to_base_units()
            assert in_si.magnitude == pytest.approx(UNITS[code].scale, rel=2e-6), code


def test_ucum_columns_of_water_and_mercury() -> None:
    # UCUM, table "Mercury and water column": m[H2O] = 9.80665 kPa, m[Hg] = 133.3220 kPa
    # (ucum-essence.xml); [in_i'H2O] and [in_i'Hg] are an inch of these.
    assert UNITS["in. w.c."].scale == pytest.approx(9806.65 * 0.0254, rel=1e-6)
    assert UNITS["in. Hg"].scale == pytest.approx(133_322.0 * 0.0254, rel=5e-6)


def test_qudt_units_that_brick_uses_are_named_alike() -> None:
    text = brick()
    used = set(re.findall(r"\bunit:([A-Za-z0-9_-]+)", text))
    ours = {code.qudt.removeprefix(QUDT) for code in _unit_codes().values() if code.qudt}
    for name in ("DEG_F", "DEG_C", "K", "PSI", "IN_H2O", "IN_HG", "PA", "KiloPA", "TON_FG"):
        assert name in used and name in ours
    assert len(ours & used) >= 20


def test_brick_classes_exist() -> None:
    classes = set(re.findall(r"^brick:(\w+) a", brick(), re.MULTILINE))
    ours = {brick_class for _, brick_class in _fields()["tags"].values() if brick_class}
    assert ours <= classes
    assert len(ours) > 20


def test_every_name_in_the_tables_is_of_the_shipped_form(shipped_form: Form) -> None:
    names = {e.name for e in shipped_form.entries() if not isinstance(e, Check)}
    fields = _fields()
    used = [*fields["tags"], *fields["conditions"]["names"], *role_fields().values()]
    used += [row["field"] for row in equipment_categories() if "field" in row]
    assert [name for name in used if name not in names] == []
    assert set(fields["pages"]["requirement"]) <= set(shipped_form.section_by_name)


def test_haystack_tags_make_points() -> None:
    for name, (haystack, _) in _fields()["tags"].items():
        words = haystack.split()
        assert not words or words[-1] == "point", name
        assert not words or {"sensor", "cmd", "sp"} & set(words), name


def test_unknown_names_have_no_tags() -> None:
    assert (tags("of_another_form").haystack, tags("of_another_form").brick) == ("", "")
    assert not is_condition("of_another_form") and not is_requirement("of_another_page")
