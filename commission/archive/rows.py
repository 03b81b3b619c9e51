"""Stored rows as the archive record shows them, and back: every column, none changed.

A record's row has the stored columns under the same names, with three spellings made plain:
an index as a list, flags as true and false, the parts of a limit as an object.
"""

from __future__ import annotations

import json
from typing import Any

from commission.language import spoken
from commission.project import LIMIT_PARTS
from commission.project.journal import Row, index_from, index_text
from commission.project.registers import ACCURACY_TERMS
from commission.project.schema import TABLES
from commission.project.trend_logs import plain_text

Record = dict[str, Any]

LISTS: dict[str, str] = {
    "settings": "setting",
    "units": "unit",
    "readings": "reading",
    "limits": "limit_entry",
    "people": "person",
    "instruments": "instrument",
    "deficiencies": "deficiency",
    "overrides": "override_entry",
    "photos": "photo",
    "signatures": "signature",
    "trend_logs": "trend_log",
    "trend_limits": "trend_limit",
    "witness_draws": "witness_draw",
    "witness_readings": "witness_reading",
}
"""The record's lists, each with the kind of stored row it holds."""

ADDED: dict[str, Record] = {
    "instruments": {"repeatability": 0.0, "resolution": 0.0},
    "signatures": {"hash_kind": "readings"},
}
"""Columns that a record of version 1 does not have, with what it means by that."""

_ADDED_LISTS = ("trend_logs", "trend_limits", "trend_data", "witness_draws", "witness_readings")
_PLAIN: dict[str, type] = {"read_as": dict, "facts": dict, "findings": list, "population": list}
"""Columns that hold JSON; in the record they are what the JSON says."""

_FLAGS = ("removed", "confirmed")
_NUMBERS = (*ACCURACY_TERMS, "value", "limit_value", "share")


def record_row(row: Row) -> Record:
    """Return a stored row as it stands in the record."""
    shown = dict(row)
    if "index" in shown:
        shown["index"] = list(index_from(shown["index"]))
    if "parts" in shown:
        shown["parts"] = json.loads(shown["parts"])
    for name in _PLAIN:
        if name in shown:
            shown[name] = json.loads(shown[name])
    for flag in _FLAGS:
        if flag in shown:
            shown[flag] = bool(shown[flag])
    return shown


def complete_older(content: Record) -> None:
    """Give a record of version 1 the columns that have been added since.

    What is not a list of rows is left for the reader to refuse.
    """
    content |= {name: [] for name in _ADDED_LISTS} | content
    for name, columns in ADDED.items():
        rows = content.get(name)
        for row in rows if isinstance(rows, list) else ():
            if isinstance(row, dict):
                row |= columns | row


def stored_row(kind: str, record: Record) -> Row:
    """Return the stored row that a record's row shows; columns of the record alone are left.

    Raises:
        KeyError, TypeError, ValueError, ReadingError: the row is not one of this kind.
    """
    row: Row = {name: record[name] for name in TABLES[kind].all_columns}
    if "index" in row:
        row["index"] = index_text(row["index"])
    if "parts" in row:
        parts = {name: float(row["parts"][name]) for name in LIMIT_PARTS if name in row["parts"]}
        strange = set(row["parts"]) - set(parts)
        if strange:
            raise ValueError(spoken("'{part}' is no part of a limit", part=strange.pop()))
        row["parts"] = json.dumps(parts)
    for name, kind_of in _PLAIN.items():
        if name in row:
            if not isinstance(row[name], kind_of):
                raise TypeError(spoken("{name} is not as the record's schema says", name=name))
            row[name] = plain_text(row[name])
    for flag in _FLAGS:
        if flag in row:
            if not isinstance(row[flag], bool):
                raise TypeError(spoken("{flag} must be true or false", flag=flag))
            row[flag] = int(row[flag])
    for name in _NUMBERS:  # 5 and 5.0 are one number in JSON
        if isinstance(row.get(name), int) and not isinstance(row[name], bool):
            row[name] = float(row[name])
    return row
