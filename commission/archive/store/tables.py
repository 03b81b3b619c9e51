"""The store's tables, and the numbered upgrades that make them.

A record is kept whole (`content`, its bytes compressed); the other tables are what is searched.
Columns ending in `_folded` hold a text as it is looked for: case folded here, so that both
databases find the same.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from sqlalchemy import (
    Boolean,
    Column,
    Connection,
    Double,
    ForeignKey,
    Index,
    Integer,
    LargeBinary,
    MetaData,
    Table,
    Text,
    UniqueConstraint,
)

APPLICATION = "rooftop commissioning portfolio store"
APPLICATION_ID = 0x52545553
"""'RTUS', bytes 68 to 71 of an SQLite file."""

METADATA = MetaData()


def _key(name: str, target: str, index: bool = True) -> Column[int]:
    return Column(name, ForeignKey(target, ondelete="CASCADE"), nullable=False, index=index)


def _text(*names: str) -> list[Column[str]]:
    return [Column(name, Text, nullable=False) for name in names]


def _count(*names: str) -> list[Column[int]]:
    return [Column(name, Integer, nullable=False) for name in names]


INFO = Table(
    "store_info",
    METADATA,
    Column("name", Text, primary_key=True),
    Column("value", Text, nullable=False),
)

RECORD = Table(
    "record",
    METADATA,
    Column("id", Integer, primary_key=True),
    Column("sha256", Text, nullable=False, unique=True),
    *_text("project_uuid", "title", "site", "unit_system", "made_at", "added_at"),
    *_text("site_folded", "form_id", "form_version", "form_hash"),
    *_count("revision", "record_version", "size"),
    Column("coverage_factor", Double, nullable=False),
    Column("content", LargeBinary, nullable=False),
)

UNIT = Table(
    "unit",
    METADATA,
    Column("id", Integer, primary_key=True),
    _key("record_id", "record.id"),
    # By what a unit is known again: make and serial number, else the project and its id there.
    Column("identity", Text, nullable=False, index=True),
    *_text("unit_id", "tag", "make", "model", "serial", "area_served", "made"),
    # When the last of its readings was taken: as written, and in UTC, to sort by.
    *_text("visited_at", "visited_utc"),
    *_text("tag_folded", "make_folded", "model_folded", "serial_folded"),
    Column("made_year", Double),
    *_count("passes", "fails", "inconclusives", "missing", "not_applicable", "stops", "overrides"),
)

ENTRY = Table(
    "entry",
    METADATA,
    Column("id", Integer, primary_key=True),
    *_text("form_hash", "name", "label", "unit", "kind"),
    Column("decimals", Integer),
    Column("condition", Boolean, nullable=False),
    Column("requirement", Boolean, nullable=False),
    UniqueConstraint("form_hash", "name", "unit", "label", "kind", name="entry_once"),
)

READ_VALUE = Table(
    "read_value",
    METADATA,
    _key("entry_id", "entry.id", index=False),
    _key("unit_key", "unit.id"),
    *_text("place", "member"),
    Column("number", Double, nullable=False),
    Column("u", Double),
    Index("read_value_by_entry", "entry_id", "unit_key"),
)

VERDICT = Table(
    "verdict",
    METADATA,
    _key("unit_key", "unit.id"),
    *_text("check_name", "place", "label", "outcome", "sentence"),
    Column("stop", Boolean, nullable=False),
    Index("verdict_by_check", "check_name", "outcome"),
)

SAID = Table(
    "said",
    METADATA,
    _key("unit_key", "unit.id"),
    *_text("kind", "label", "words", "folded"),
)


@dataclass(frozen=True, slots=True)
class Upgrade:
    """One step: what it does, in words and in code. Released steps never change."""

    summary: str
    take: Callable[[Connection], None]


def _first_version(connection: Connection) -> None:
    METADATA.create_all(connection, checkfirst=False)


UPGRADES: tuple[Upgrade, ...] = (Upgrade("first version", _first_version),)


def folded(text: str) -> str:
    """Return a text as it is looked for: case folded, blanks made single."""
    return " ".join(text.casefold().split())
