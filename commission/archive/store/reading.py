"""An archive record as the rows of a store: nothing of it is worked out anew."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any

from commission.archive.store.tables import folded
from commission.archive.vocabulary import role_fields

Record = dict[str, Any]
Row = dict[str, Any]

_OUTCOMES = {
    "pass": "passes",
    "fail": "fails",
    "inconclusive": "inconclusives",
    "missing": "missing",
    "not applicable": "not_applicable",
}
_WORDED = ("text", "note")
_YEAR = re.compile(r"(?<!\d)(19[5-9]\d|20[0-9]\d)(?:-(0[1-9]|1[0-2]))?(?!\d)")


@dataclass(frozen=True, slots=True)
class UnitRows:
    """What the store holds of one unit of a record; values carry their entry's name."""

    unit: Row
    values: list[Row]
    verdicts: list[Row]
    said: list[Row]


def record_row(content: Record) -> Row:
    """Return a record's own row, but for its bytes, hash and the time it was added."""
    project, form = content["project"], content["form"]
    site = _project_answer(content, "site") or str(project["title"])
    return {
        "project_uuid": str(project["uuid"]),
        "title": str(project["title"]),
        "site": site,
        "site_folded": folded(f"{site} {project['title']}"),
        "unit_system": str(project["unit_system"]),
        "made_at": str(project["made_at"]),
        "revision": int(project["revision"]),
        "coverage_factor": float(project["coverage_factor"]),
        "record_version": int(content["record_version"]),
        "form_id": str(form["id"]),
        "form_version": str(form["version"]),
        "form_hash": str(form["hash"]),
    }


def entry_rows(content: Record) -> dict[str, Row]:
    """Return what each field and quantity is, by name."""
    shared = ("name", "label", "unit", "kind", "decimals", "condition", "requirement")
    return {
        row["name"]: {"form_hash": content["form"]["hash"]} | {part: row[part] for part in shared}
        for row in content["fields"]
    }


def unit_rows(content: Record) -> Iterator[UnitRows]:
    """Yield the rows of each unit, in the record's order."""
    by_unit = {
        name: _grouped(content[name])
        for name in ("readings", "quantities", "verdicts", "deficiencies", "overrides")
    }
    known = {row["name"]: row["kind"] for row in content["fields"]}
    for identity in content["identities"]:
        rows = {name: found.get(identity["unit_id"], []) for name, found in by_unit.items()}
        in_force = [row for row in rows["readings"] if row["in_force"]]
        yield UnitRows(
            _unit_row(content, identity, in_force, rows["verdicts"]),
            list(_values(in_force, rows["quantities"], known)),
            [_verdict_row(row) for row in rows["verdicts"]],
            list(_said(in_force, known, rows)),
        )


def _grouped(rows: Sequence[Record]) -> dict[str, list[Record]]:
    found: dict[str, list[Record]] = {}
    for row in rows:
        found.setdefault(row["unit_id"], []).append(row)
    return found


def _unit_row(
    content: Record, identity: Record, in_force: Sequence[Record], verdicts: Sequence[Record]
) -> Row:
    texts = {name: str(identity[name]).strip() for name in ("tag", "make", "model", "serial")}
    made = next((str(r["value"] or "") for r in in_force if r["name"] == _made_field()), "")
    # The last reading in force; a unit without any counts from when the project was made.
    times = [str(row["at"]) for row in in_force] or [str(content["project"]["made_at"])]
    visited = max(times, key=_moment)
    counts = Counter(_OUTCOMES[row["outcome"]] for row in verdicts)
    return (
        texts
        | {f"{name}_folded": folded(text) for name, text in texts.items()}
        | {
            "unit_id": identity["unit_id"],
            "identity": _identity(content, identity),
            "area_served": str(identity["area_served"]),
            "made": made,
            "made_year": made_year(made),
            "visited_at": visited,
            "visited_utc": _moment(visited).astimezone(UTC).isoformat(),
            "stops": sum(bool(row["stop"]) for row in verdicts),
            "overrides": sum(bool(row["overridden_by"]) for row in verdicts),
        }
        | {column: counts[column] for column in _OUTCOMES.values()}
    )


def _moment(text: str) -> datetime:
    moment = datetime.fromisoformat(text)
    return moment if moment.tzinfo else moment.replace(tzinfo=UTC)


def _made_field() -> str:
    return role_fields().get("made", "")


def made_year(text: str) -> float | None:
    """Return the year in a date as it stands on a plate, with its month if that is told.

    "2019-07" is 2019.5 (July begins at half the year); "06/2019" and "2019" are 2019.
    """
    found = _YEAR.search(text)
    if not found:
        return None
    return int(found[1]) + ((int(found[2]) - 1) / 12 if found[2] else 0.0)


def _identity(content: Record, identity: Record) -> str:
    serial = folded(str(identity["serial"]))
    if serial:
        return f"serial {folded(str(identity['make']))} {serial}"
    return f"project {content['project']['uuid']} {identity['unit_id']}"


def _project_answer(content: Record, role: str) -> str:
    name = role_fields().get(role, "")
    found = (
        row["value"]
        for row in content["readings"]
        if row["in_force"] and row["name"] == name and not row["unit_id"]
    )
    return str(next(found, "") or "")


def _values(
    in_force: Sequence[Record], quantities: Sequence[Record], known: dict[str, str]
) -> Iterator[Row]:
    for row in (*in_force, *quantities):
        value = row["value"]
        if isinstance(value, int | float) and not isinstance(value, bool) and row["name"] in known:
            yield {
                "name": row["name"],
                "place": place_text(row["index"]),
                "member": row["member"],
                "number": float(value),
                "u": row["u"],
            }


def place_text(index: Sequence[int]) -> str:
    """Return an index as the store keeps it: [1, 2] -> "1.2"."""
    return ".".join(map(str, index))


def _verdict_row(row: Record) -> Row:
    told = row["outcome"] in ("fail", "inconclusive")
    return {
        "check_name": row["check"],
        "place": place_text(row["index"]),
        "label": _called(row),
        "outcome": row["outcome"],
        "sentence": row["sentence"] if told else "",
        "stop": bool(row["stop"]),
    }


def _called(row: Record) -> str:
    return ", ".join(filter(None, (row["label"], row.get("member", ""))))


def _said(
    in_force: Sequence[Record], known: dict[str, str], rows: dict[str, list[Record]]
) -> Iterator[Row]:
    """Yield all that was written in words: notes, remarks, deficiencies, overrides, failures."""
    for row in in_force:
        if known.get(row["name"]) in _WORDED and isinstance(row["value"], str):
            yield _words("reading", _called(row), row["value"])
        if row["note"]:
            yield _words("note", _called(row), row["note"])
    for row in _standing(rows["deficiencies"]):
        parts = (row["description"], row["requirement"], row["correction"])
        label = f"Deficiency {row['deficiency_number']}, {row['status']}"
        yield _words("deficiency", label, "; ".join(filter(None, parts)))
    for row in _standing(rows["overrides"]):
        yield _words("override", row["check"], f"{row['person_name']}: {row['reason']}")
    for row in rows["verdicts"]:
        if row["outcome"] == "fail":
            yield _words("failure", _called(row), row["sentence"])


def _standing(rows: Sequence[Record]) -> list[Record]:
    """Return the newest row of each thing, what was removed left out."""
    newest = {row["record"]: row for row in sorted(rows, key=lambda row: row["number"])}
    return [row for row in newest.values() if not row["removed"]]


def _words(kind: str, label: str, words: str) -> Row:
    return {"kind": kind, "label": label, "words": words, "folded": folded(f"{label} {words}")}
