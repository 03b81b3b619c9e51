"""The archive record: a whole project with its results in one JSON file.

`record_schema.json` beside this module describes every column. The file is canonical: UTF-8,
keys sorted, no blanks, one row a line, numbers in the shortest form that reads back the same;
one project gives the same bytes each time.
"""

from __future__ import annotations

import base64
import json
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import Any

from commission import __version__
from commission.archive.files import Progress, silent, written_whole
from commission.archive.results import (
    Record,
    code_of,
    entry_of,
    field_row,
    identity_row,
    in_force,
    member_label,
    quantity_rows,
    reading_uncertainty,
    verdict_rows,
)
from commission.archive.rows import LISTS, record_row
from commission.archive.vocabulary import tags
from commission.definitions.model import Field, Quantity
from commission.engineering.refrigerant import saturation_table
from commission.language import ENGLISH, speaking, to_say
from commission.project.journal import Row
from commission.project.merge import stored_photos, stored_trends
from commission.validation.site import SiteResults

RECORD_NAME = "rooftop unit commissioning record"
RECORD_VERSION = 2
SUFFIX = ".record.json"
SCHEMA_PATH = Path(__file__).resolve().parent / "record_schema.json"


def write_record(
    site: SiteResults,
    path: Path,
    progress: Progress | None = None,
    *,
    with_photos: bool = True,
) -> Path:
    """Write the archive record of a project, in English, and return its path.

    Args:
        site: the results under the form in English; the project file behind it gives the rows.
            Of a site of some of the project's units the record holds those and the project's own
            rows, and says so.
        path: the file to write; one of this name is replaced, once the new one is whole.
        progress: called with (done, total, what) for each list; it may raise to cancel, and
            then nothing is left behind.
        with_photos: put the pictures' bytes in; without, only their SHA-256 and captions
            stand in the record, and a project rebuilt from it lacks the pictures.
    Raises:
        OutputError: the file cannot be written.
    """
    path = Path(path)
    tell = progress or silent
    with written_whole(path, to_say("archive record")) as stream, speaking(ENGLISH):
        parts = dict(sorted(_parts(site, with_photos).items()))
        before = "{"
        for done, (name, content) in enumerate(parts.items()):
            tell(done, len(parts), name)
            stream.write(f"{before}\n{_compact(name)}:")
            if isinstance(content, dict | str | int):
                stream.write(_compact(content))
            else:
                _write_list(stream.write, content)
            before = ","
        stream.write("\n}\n")
    tell(len(parts), len(parts), "done")
    return path


def _write_list(write: Any, rows: Iterable[Record]) -> None:
    write("[")
    before = "\n"
    for row in rows:
        write(before + _compact(row))
        before = ",\n"
    write("]")


def _compact(content: object) -> str:
    return json.dumps(
        content, ensure_ascii=False, sort_keys=True, separators=(",", ":"), allow_nan=False
    )


def _parts(site: SiteResults, with_photos: bool) -> dict[str, Any]:
    project, form = site.project, site.form
    held = _units_held(site)
    rows = {name: _held_rows(project.rows(kind), kind, held) for name, kind in LISTS.items()}
    lists: dict[str, Any] = {name: _list_rows(site, name, found) for name, found in rows.items()}
    if held is not None:
        lists["covers"] = {
            "tags": [results.tag for results in site.units],
            "units_of_project": len(project.units()),
        }
    entries = [entry for entry in form.entries() if isinstance(entry, Field | Quantity)]
    return lists | {
        "record": RECORD_NAME,
        "record_version": RECORD_VERSION,
        "project": {
            "uuid": project.uuid,
            "made_at": project.made_at,
            "title": project.title,
            "revision": project.revision,
            "decision_rule": project.decision_rule,
            "coverage_factor": project.coverage_factor,
            "unit_system": project.unit_system,
        },
        "form": {
            "id": form.id,
            "version": form.version,
            "hash": form.content_hash,
            "title": form.title,
        },
        "computed_by": {
            "program": f"commission {__version__}",
            "refrigerant_properties": f"CoolProp {saturation_table().coolprop_version}",
        },
        "fields": (field_row(form, entry) for entry in entries),
        "identities": (identity_row(site, results) for results in site.units),
        "quantities": (row for results in site.everything() for row in quantity_rows(results)),
        "verdicts": (row for results in site.everything() for row in verdict_rows(results)),
        "photo_data": _bytes_rows(stored_photos(project), rows["photos"]) if with_photos else [],
        "trend_data": _bytes_rows(stored_trends(project), rows["trend_logs"]),
    }


def _units_held(site: SiteResults) -> frozenset[str] | None:
    """Return the ids of the units of a record of some of them; None for the whole project."""
    held = {results.unit_id for results in site.units}
    return frozenset(held) if {unit.id for unit in site.project.units()} - held else None


def _held_rows(rows: Iterable[Row], kind: str, held: frozenset[str] | None) -> list[Row]:
    """Return the rows of a record: all, or those of the units held and of the project itself."""
    if held is None:
        return list(rows)
    if kind == "unit":
        return [row for row in rows if row["id"] in held]
    return [row for row in rows if row.get("unit_id", "") in {"", *held}]


def _bytes_rows(stored: Iterable[tuple[str, bytes]], rows: Iterable[Row]) -> Iterator[Record]:
    """Yield the bytes that any of the rows names."""
    named = {row["sha256"] for row in rows}
    for sha256, data in stored:
        if sha256 not in named:
            continue
        yield {"sha256": sha256, "base64": base64.b64encode(data).decode("ascii")}


def _list_rows(site: SiteResults, name: str, rows: Iterable[Row]) -> Iterator[Record]:
    shown = (record_row(row) for row in rows)
    return reading_rows(site, shown) if name == "readings" else shown


def reading_rows(site: SiteResults, rows: Iterable[Record]) -> Iterator[Record]:
    """Yield rows of readings with what they mean: label, unit, uncertainty, tags.

    `rows` are as `record_row` gives them; every row of every pass is taken.
    """
    project = site.project
    known = {unit.id: unit.tag for unit in (*project.units(), *project.units(removed=True))}
    instruments = {item.id: item for item in project.instruments()}
    counting = in_force(site)
    for row in rows:
        entry = entry_of(site, row["name"])
        unit = entry.unit if entry is not None else ""
        code, meaning = code_of(entry), tags(row["name"])
        yield row | {
            "tag": known.get(row["unit_id"], ""),
            "label": entry.label if entry is not None else row["name"],
            "member": member_label(site.form, entry, tuple(row["index"])),
            "unit": unit,
            "unit_qudt": code.qudt,
            "unit_ucum": code.ucum,
            "u": reading_uncertainty(entry, row["value"], instruments.get(row["instrument_id"])),
            "in_force": row["id"] in counting,
            "haystack_tags": meaning.haystack,
            "brick_class": meaning.brick,
        }
