"""The archive record's readings and quantities as one flat CSV table."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from commission.archive.files import Progress, silent, write_csv
from commission.archive.record import reading_rows
from commission.archive.results import Record, identity_row, quantity_rows
from commission.archive.rows import record_row
from commission.language import to_say
from commission.validation.site import SiteResults

COLUMNS = (
    *("project", "project_uuid", "form_id", "form_version", "form_hash"),
    *("row", "tag", "serial", "make", "model", "name", "index", "member", "label"),
    *("value", "unit", "unit_qudt", "unit_ucum", "u", "not_applicable", "state", "in_force"),
    *("pass_name", "at", "person", "instrument", "instrument_serial", "calibration_due"),
    *("entered", "note", "source", "id", "supersedes", "haystack_tags", "brick_class"),
)
"""Column names as in `record_schema.json`; `row` is "reading" or "quantity", and names stand
where the record has ids."""


def write_record_csv(site: SiteResults, path: Path, progress: Progress | None = None) -> Path:
    """Write every reading of every pass, and every quantity, as CSV; return the path.

    RFC 4180 in UTF-8 with a byte order mark. Texts that a spreadsheet would take for a
    formula have an apostrophe before them (see `files.write_csv`).

    Raises:
        OutputError: the file cannot be written.
    """
    path = Path(path)
    tell = progress or silent

    def rows() -> Iterator[tuple[str | float | bool | None, ...]]:
        yield COLUMNS
        tell(0, 2, "readings")
        yield from (tuple(row.get(name) for name in COLUMNS) for row in _readings(site))
        tell(1, 2, "quantities")
        yield from (tuple(row.get(name) for name in COLUMNS) for row in _quantities(site))

    write_csv(path, to_say("archive record"), rows())
    tell(2, 2, "done")
    return path


def _shared(site: SiteResults) -> Record:
    project, form = site.project, site.form
    return {
        "project": project.title,
        "project_uuid": project.uuid,
        "form_id": form.id,
        "form_version": form.version,
        "form_hash": form.content_hash,
    }


def _identities(site: SiteResults) -> dict[str, Record]:
    rows = (identity_row(site, results) for results in site.units)
    return {row["unit_id"]: {k: row[k] for k in ("serial", "make", "model")} for row in rows}


def _readings(site: SiteResults) -> Iterator[Record]:
    shared, identities = _shared(site), _identities(site)
    people = {person.id: person.name for person in site.project.people()}
    instruments = {item.id: item for item in site.project.instruments()}
    stored = (record_row(row) for row in site.project.rows("reading"))
    for row in reading_rows(site, stored):
        instrument = instruments.get(row["instrument_id"])
        yield (
            shared
            | identities.get(row["unit_id"], {})
            | row
            | {
                "row": "reading",
                "index": _index(row),
                "state": _state(row),
                "person": people.get(row["person_id"], ""),
                "instrument": f"{instrument.kind} {instrument.model}".strip() if instrument else "",
                "instrument_serial": instrument.serial if instrument else "",
                "calibration_due": instrument.calibration_due if instrument else "",
            }
        )


def _quantities(site: SiteResults) -> Iterator[Record]:
    shared, identities = _shared(site), _identities(site)
    for results in site.everything():
        for row in quantity_rows(results):
            yield (
                shared
                | identities.get(row["unit_id"], {})
                | row
                | {
                    "row": "quantity",
                    "index": _index(row),
                    "not_applicable": row["reason"] * (row["state"] == "not applicable"),
                    "note": row["reason"] * (row["state"] != "not applicable"),
                    "in_force": True,
                }
            )


def _index(row: Record) -> str:
    return ".".join(map(str, row["index"]))


def _state(row: Record) -> str:
    if row["removed"]:
        return "withdrawn"
    if row["not_applicable"]:
        return "not applicable"
    return "missing" if row["value"] is None else "known"
