"""Tables of scenario files: which keys and kinds of value each may have; faults gathered."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping, Sequence
from datetime import date, datetime
from pathlib import Path
from typing import Any

from commission.language import near_miss
from commission.project.records import LIMIT_PARTS, Index
from commission.project.registers import ACCURACY_TERMS

SITE_FILE = "site.toml"

Entry = dict[str, Any]

_TEXT, _NUMBER, _DATE, _INDEX = (str,), (int, float), (str, date), (list,)
PERSON = dict.fromkeys(("name", "company", "role", "licence", "email"), _TEXT)
INSTRUMENT: dict[str, tuple[type, ...]] = {
    **dict.fromkeys(("kind", "make", "model", "serial", "range_text", "unit"), _TEXT),
    **dict.fromkeys(ACCURACY_TERMS, _NUMBER),
    **dict.fromkeys(("calibrated_on", "calibration_due"), _DATE),
}
DEFICIENCY: dict[str, tuple[type, ...]] = {
    **dict.fromkeys(("check", "requirement", "description", "owner", "correction"), _TEXT),
    **dict.fromkeys(("retest", "status"), _TEXT),
    **dict.fromkeys(("due", "corrected_on"), _DATE),
    "index": _INDEX,
}
OVERRIDE: dict[str, tuple[type, ...]] = {
    **dict.fromkeys(("check", "person_name", "reason"), _TEXT),
    "index": _INDEX,
}
SIGNATURE = dict.fromkeys(("section", "role", "person", "statement"), _TEXT)
LIMIT: dict[str, tuple[type, ...]] = {
    **dict.fromkeys(LIMIT_PARTS, _NUMBER),
    "origin": _TEXT,
    "confirmed": (bool,),
}
_TYPE_NAMES: Mapping[type, str] = {
    str: "text",
    int: "number",
    float: "decimal number",
    date: "date",
    list: "list",
    bool: "true or false",
    object: "value",
}


class TableReader:
    """Reads TOML files and their tables, gathering faults: place, rule and cure."""

    def __init__(self) -> None:
        self.faults: list[str] = []

    def fault(self, place: str, rule: str) -> None:
        """Add one fault."""
        self.faults.append(f"{place}: {rule}")

    def load(self, path: Path) -> Entry:
        """Return a file's top table; empty, with a fault, if it cannot be read."""
        try:
            return tomllib.loads(path.read_text(encoding="utf-8"))
        except OSError as fault:
            self.fault(str(path), f"cannot be read ({fault.strerror}). Add the file.")
        except (tomllib.TOMLDecodeError, UnicodeDecodeError) as fault:
            self.fault(path.name, f"is not TOML in UTF-8: {fault}.")
        return {}

    def refuse_unknown_keys(
        self, place: str, found: Mapping[str, Any] | Sequence[str], known: Sequence[str]
    ) -> None:
        """Add a fault, with the near miss, for every key that is not one of `known`."""
        for key in found:
            if key not in known:
                self.fault(place, f"'{key}' is not known here.{near_miss(key, known)}")

    def table(self, file: str, table: Entry, key: str) -> Entry:
        """Return the table under `key`, empty if there is none."""
        found = table.get(key, {})
        if isinstance(found, dict):
            return found
        self.fault(f"{file}, {key}", f"is a table, [{key}]; {found!r} is none.")
        return {}

    def text(self, file: str, table: Entry, key: str, *, required: bool = False) -> str:
        """Return the text under `key`, empty if there is none."""
        found = table.get(key, "")
        if not isinstance(found, str):
            self.fault(f"{file}, {key}", f"is a text; {found!r} is none.")
            return str(found)
        if required and not found.strip():
            self.fault(file, f"{key} is missing; give it as text.")
        return found

    def moment(self, file: str, table: Entry) -> datetime | None:
        """Return when something began, if it is told and has its offset from UTC."""
        found = table.get("began")
        if found is None:
            return None
        if not isinstance(found, datetime) or found.utcoffset() is None:
            self.fault(
                f"{file}, began", "is a time with its offset, like 2026-09-14T08:00:00-06:00."
            )
            return None
        return found

    def records(
        self,
        file: str,
        table: Entry,
        kind: str,
        shape: Mapping[str, tuple[type, ...]],
        required: tuple[str, ...],
    ) -> list[Entry]:
        """Return the tables of a list [[kind]], each in the given shape."""
        found = table.get(kind, [])
        if not isinstance(found, list) or not all(isinstance(entry, dict) for entry in found):
            self.fault(f"{file}, {kind}", f"is a list of tables; write [[{kind}]] before each.")
            return []
        return [
            self.shaped(f"{file}, {kind} {number}", entry, shape, required)
            for number, entry in enumerate(found, start=1)
        ]

    def shaped(
        self,
        place: str,
        entry: Entry,
        shape: Mapping[str, tuple[type, ...]],
        required: tuple[str, ...] = (),
    ) -> Entry:
        """Return what of a table has the right kind; dates become ISO texts."""
        self.refuse_unknown_keys(place, entry, tuple(shape))
        for key in required:
            if not str(entry.get(key, "")).strip():
                self.fault(place, f"{key} is missing.")
        good: Entry = {}
        value: Any
        for key, value in entry.items():
            types = shape.get(key, (object,))
            if not isinstance(value, types) or (isinstance(value, bool) and bool not in types):
                names = " or ".join(_TYPE_NAMES[kind] for kind in types)
                self.fault(place, f"{key} is a {names}; {value!r} is none.")
            elif key == "index" and isinstance(value, list):
                good[key] = self.member_index(place, value)
            else:
                good[key] = value.isoformat() if isinstance(value, date) else value
        return good

    def member_index(self, place: str, value: list[Any]) -> Index:
        """Return a list of member numbers as an index."""
        if all(type(number) is int and number >= 1 for number in value):
            return tuple(value)
        self.fault(place, f"index holds member numbers from 1, such as [2]; {value!r} does not.")
        return ()

    def keyed_records(
        self,
        file: str,
        table: Entry,
        kind: str,
        shape: Mapping[str, tuple[type, ...]],
        required: tuple[str, ...],
    ) -> dict[str, Entry]:
        """Return the tables of a list [[kind]] by their `key`."""
        keyed: dict[str, Entry] = {}
        full = {"key": _TEXT, **shape}
        for number, entry in enumerate(
            self.records(file, table, kind, full, ("key", *required)), start=1
        ):
            key = entry.pop("key", f"#{number}")
            if key in keyed:
                self.fault(f"{file}, {kind} {number}", f"key '{key}' is used twice.")
            keyed[key] = entry
        return keyed

    def refuse_unknown_reference(self, place: str, key: str, keyed: Mapping[str, Entry]) -> None:
        """Add a fault if nothing has been declared under this key."""
        if key not in keyed:
            self.fault(
                place, f"no entry in {SITE_FILE} has the key '{key}'.{near_miss(key, keyed)}"
            )

    def refuse_other_than(self, place: str, key: str, value: str, known: Sequence[str]) -> None:
        """Add a fault if a value is none of `known`."""
        if value not in known:
            self.fault(
                place,
                f"{key} is one of {', '.join(known)}; '{value}' is not.{near_miss(value, known)}",
            )
