"""The project file's tables, version 1, and what each table's rows have become since.

All journal tables share their first columns: `number` (place in the file's one count of
committed rows), `id` (of the row), `supersedes`, `at`, `entered_by`, `removed`. Tables of
things that are edited over time (people, units ...) have `record`, the thing's stable id.
The text of VERSION_1 is frozen: a change is a further upgrade in `upgrades.py`.
"""

from __future__ import annotations

from dataclasses import dataclass

APPLICATION_ID = 0x52545550
"""'RTUP', bytes 68 to 71 of the file."""

SUFFIX = ".rtuproject"


def _journal_table(name: str, content: str, *, with_record: bool = True) -> str:
    record = "\n  record TEXT NOT NULL," if with_record else ""
    return f"""CREATE TABLE {name} (
  number INTEGER PRIMARY KEY,
  id TEXT NOT NULL UNIQUE,{record}
  supersedes TEXT NOT NULL,
  at TEXT NOT NULL,
  entered_by TEXT NOT NULL,
  removed INTEGER NOT NULL CHECK (removed IN (0, 1)),
{content}
) STRICT"""


VERSION_1: tuple[str, ...] = (
    "CREATE TABLE meta (\n  key TEXT PRIMARY KEY,\n  value TEXT NOT NULL\n) STRICT",
    """CREATE TABLE holder (
  one INTEGER PRIMARY KEY CHECK (one = 1),
  token TEXT NOT NULL,
  host TEXT NOT NULL,
  process INTEGER NOT NULL,
  process_started TEXT NOT NULL,
  file_identity TEXT NOT NULL,
  since TEXT NOT NULL
) STRICT""",
    _journal_table(
        "setting",
        """  name TEXT NOT NULL,
  value ANY NOT NULL CHECK (typeof(value) IN ('real', 'text'))""",
        with_record=False,
    ),
    _journal_table("unit", '  tag TEXT NOT NULL,\n  "order" INTEGER NOT NULL'),
    _journal_table(
        "reading",
        """  unit_id TEXT NOT NULL,
  name TEXT NOT NULL,
  "index" TEXT NOT NULL,
  value ANY CHECK (typeof(value) IN ('null', 'real', 'text')),
  not_applicable TEXT NOT NULL,
  pass_name TEXT NOT NULL,
  entered TEXT NOT NULL,
  note TEXT NOT NULL,
  instrument_id TEXT NOT NULL,
  person_id TEXT NOT NULL,
  source TEXT NOT NULL""",
        with_record=False,
    ),
    "CREATE INDEX reading_by_field ON reading (unit_id, name)",
    _journal_table(
        "limit_entry",
        """  unit_id TEXT NOT NULL,
  "check" TEXT NOT NULL,
  "index" TEXT NOT NULL,
  parts TEXT NOT NULL,
  origin TEXT NOT NULL,
  confirmed INTEGER NOT NULL CHECK (confirmed IN (0, 1)),
  person_id TEXT NOT NULL""",
        with_record=False,
    ),
    "CREATE INDEX limit_by_unit ON limit_entry (unit_id)",
    _journal_table(
        "person",
        """  name TEXT NOT NULL,
  company TEXT NOT NULL,
  role TEXT NOT NULL,
  licence TEXT NOT NULL,
  email TEXT NOT NULL""",
    ),
    _journal_table(
        "instrument",
        """  kind TEXT NOT NULL,
  make TEXT NOT NULL,
  model TEXT NOT NULL,
  serial TEXT NOT NULL,
  range_text TEXT NOT NULL,
  span REAL,
  percent_of_reading REAL NOT NULL,
  percent_of_span REAL NOT NULL,
  plus_minus REAL NOT NULL,
  unit TEXT NOT NULL,
  calibrated_on TEXT NOT NULL,
  calibration_due TEXT NOT NULL""",
    ),
    _journal_table(
        "deficiency",
        """  unit_id TEXT NOT NULL,
  deficiency_number INTEGER NOT NULL,
  "check" TEXT NOT NULL,
  "index" TEXT NOT NULL,
  requirement TEXT NOT NULL,
  description TEXT NOT NULL,
  owner TEXT NOT NULL,
  due TEXT NOT NULL,
  correction TEXT NOT NULL,
  corrected_on TEXT NOT NULL,
  retest TEXT NOT NULL,
  status TEXT NOT NULL,
  person_id TEXT NOT NULL""",
    ),
    _journal_table(
        "override_entry",
        """  unit_id TEXT NOT NULL,
  "check" TEXT NOT NULL,
  "index" TEXT NOT NULL,
  person_name TEXT NOT NULL,
  reason TEXT NOT NULL""",
    ),
    "CREATE TABLE photo_data (\n  sha256 TEXT PRIMARY KEY,\n  data BLOB NOT NULL\n) STRICT",
    _journal_table(
        "photo",
        """  unit_id TEXT NOT NULL,
  name TEXT NOT NULL,
  "index" TEXT NOT NULL,
  caption TEXT NOT NULL,
  media_type TEXT NOT NULL,
  sha256 TEXT NOT NULL""",
    ),
    _journal_table(
        "signature",
        """  unit_id TEXT NOT NULL,
  section TEXT NOT NULL,
  role TEXT NOT NULL,
  person_id TEXT NOT NULL,
  printed_name TEXT NOT NULL,
  statement TEXT NOT NULL,
  readings_hash TEXT NOT NULL""",
    ),
)

TREND_TABLES: tuple[str, ...] = (
    "CREATE TABLE trend_data (\n  sha256 TEXT PRIMARY KEY,\n  data BLOB NOT NULL\n) STRICT",
    _journal_table(
        "trend_log",
        """  unit_id TEXT NOT NULL,
  name TEXT NOT NULL,
  file_sha256 TEXT NOT NULL,
  read_as TEXT NOT NULL,
  facts TEXT NOT NULL,
  findings TEXT NOT NULL,
  sha256 TEXT NOT NULL""",
    ),
    _journal_table(
        "trend_limit",
        """  unit_id TEXT NOT NULL,
  name TEXT NOT NULL,
  limit_value REAL NOT NULL,
  origin TEXT NOT NULL,
  person_id TEXT NOT NULL""",
        with_record=False,
    ),
)
"""Upgrade "trend logs"; frozen as VERSION_1 is."""

WITNESS_TABLES: tuple[str, ...] = (
    _journal_table(
        "witness_draw",
        """  unit_id TEXT NOT NULL,
  share REAL NOT NULL,
  seed TEXT NOT NULL,
  population TEXT NOT NULL,
  person_id TEXT NOT NULL""",
        with_record=False,
    ),
    _journal_table(
        "witness_reading",
        """  unit_id TEXT NOT NULL,
  name TEXT NOT NULL,
  "index" TEXT NOT NULL,
  value ANY CHECK (typeof(value) IN ('null', 'real', 'text')),
  pass_name TEXT NOT NULL,
  entered TEXT NOT NULL,
  note TEXT NOT NULL,
  instrument_id TEXT NOT NULL,
  person_id TEXT NOT NULL""",
        with_record=False,
    ),
)
"""Samples drawn for a witness, and what the witness read; frozen as VERSION_1 is."""


@dataclass(frozen=True, slots=True)
class Table:
    """A journal table: its content columns, and those that identify what a row is about."""

    name: str
    columns: tuple[str, ...]
    keyed_by: tuple[str, ...] = ("record",)

    @property
    def has_record(self) -> bool:
        """Whether rows carry the stable id of a thing that is edited over time."""
        return self.keyed_by == ("record",)

    @property
    def all_columns(self) -> tuple[str, ...]:
        """Every column, the shared ones first."""
        record = ("record",) if self.has_record else ()
        shared = ("supersedes", "at", "entered_by", "removed")
        return ("number", "id", *record, *shared, *self.columns)


_FIELD_KEY = ("unit_id", "name", "index", "pass_name")
_PLACE = ("unit_id", "check", "index")

TABLES: dict[str, Table] = {
    table.name: table
    for table in (
        Table("setting", ("name", "value"), ("name",)),
        Table("unit", ("tag", "order")),
        Table(
            "reading",
            (
                *("unit_id", "name", "index", "value", "not_applicable", "pass_name", "entered"),
                *("note", "instrument_id", "person_id", "source"),
            ),
            _FIELD_KEY,
        ),
        Table("limit_entry", (*_PLACE, "parts", "origin", "confirmed", "person_id"), _PLACE),
        Table("person", ("name", "company", "role", "licence", "email")),
        Table(
            "instrument",
            (
                *("kind", "make", "model", "serial", "range_text", "span", "percent_of_reading"),
                *("percent_of_span", "plus_minus", "unit", "calibrated_on", "calibration_due"),
                *("repeatability", "resolution"),
            ),
        ),
        Table(
            "deficiency",
            (
                *("unit_id", "deficiency_number", "check", "index", "requirement", "description"),
                *("owner", "due", "correction", "corrected_on", "retest", "status", "person_id"),
            ),
        ),
        Table("override_entry", (*_PLACE, "person_name", "reason")),
        Table("photo", ("unit_id", "name", "index", "caption", "media_type", "sha256")),
        Table(
            "trend_log",
            ("unit_id", "name", "file_sha256", "read_as", "facts", "findings", "sha256"),
        ),
        Table(
            "trend_limit",
            ("unit_id", "name", "limit_value", "origin", "person_id"),
            ("unit_id", "name"),
        ),
        Table(
            "witness_draw",
            ("unit_id", "share", "seed", "population", "person_id"),
            ("unit_id",),
        ),
        Table(
            "witness_reading",
            (
                *("unit_id", "name", "index", "value", "pass_name", "entered", "note"),
                *("instrument_id", "person_id"),
            ),
            _FIELD_KEY,
        ),
        Table(
            "signature",
            (
                *("unit_id", "section", "role", "person_id", "printed_name", "statement"),
                *("readings_hash", "hash_kind"),
            ),
        ),
    )
}
