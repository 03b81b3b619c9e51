"""The mapping tables: unit codes in open vocabularies, semantic tags and roles of fields."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Any

_FOLDER = Path(__file__).resolve().parent
QUDT = "http://qudt.org/vocab/unit/"


@dataclass(frozen=True, slots=True)
class UnitCode:
    """One unit in two open vocabularies; "" where a vocabulary has none.

    `qudt` is an IRI, `ucum` a code of The Unified Code for Units of Measure, `reference`
    what the value is counted from ("gauge", "absolute", "difference") or "".
    """

    qudt: str = ""
    ucum: str = ""
    reference: str = ""


@dataclass(frozen=True, slots=True)
class Tags:
    """Project Haystack tags, separated by blanks, and the Brick class; "" for none."""

    haystack: str = ""
    brick: str = ""


@lru_cache(maxsize=1)
def _unit_codes() -> dict[str, UnitCode]:
    table = _table("unit_codes.toml")
    return {
        code: UnitCode(
            QUDT + row["qudt"] if "qudt" in row else "", row["ucum"], row.get("reference", "")
        )
        for code, row in table.items()
    }


@lru_cache(maxsize=1)
def _fields() -> dict[str, Any]:
    return _table("field_tags.toml")


def _table(name: str) -> dict[str, Any]:
    return tomllib.loads((_FOLDER / name).read_text(encoding="utf-8"))


def unit_code(code: str) -> UnitCode:
    """Return a unit of this program in the open vocabularies; empty for an unknown one."""
    return _unit_codes().get(code, UnitCode())


def tags(name: str) -> Tags:
    """Return the semantic tags of a field or quantity; empty for a name not in the table."""
    return Tags(*_fields()["tags"].get(name, ("", "")))


def role_fields() -> dict[str, str]:
    """Return role -> field name: which field holds a unit's serial number, its make ..."""
    return dict(_fields()["roles"])


def is_condition(name: str) -> bool:
    """Return whether a value tells the conditions of the visit, not the unit itself."""
    return name in _fields()["conditions"]["names"]


def is_corrected(name: str) -> bool:
    """Return whether a quantity's formula takes the conditions of the visit out again."""
    return name in _fields()["corrected"]["names"]


def is_requirement(section: str) -> bool:
    """Return whether a page holds what was asked for, not what was found."""
    return section in _fields()["pages"]["requirement"]


def equipment_categories() -> list[dict[str, str]]:
    """Return rows of field, how its answer begins, and the OmniClass category; the last is all."""
    return list(_fields()["kind"])
