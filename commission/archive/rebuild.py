"""An archive record read back: checked, and a project file made from it alone."""

from __future__ import annotations

import base64
import binascii
import hashlib
import json
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

from commission.archive.record import RECORD_NAME, RECORD_VERSION
from commission.archive.rows import LISTS, complete_older, stored_row
from commission.errors import CommissionError, ProjectFileError
from commission.language import spoken
from commission.project import ProjectFile
from commission.project.journal import Clock, Row
from commission.project.merge import project_from_rows

_LARGEST_BYTES = 2_000_000_000
_MOST_FAULTS = 20
_LISTS_READ = (*LISTS, "fields", "identities", "quantities", "verdicts", "photo_data", "trend_data")
_TABLES_READ = ("project", "form", "computed_by")


def read_record(path: Path) -> dict[str, Any]:
    """Return an archive record as plain data, its outline checked.

    Raises:
        ProjectFileError: it cannot be read, is not such a record, or is of a newer program.
    """
    path = Path(path)
    return record_content(path, record_bytes(path))


def record_content(path: Path, data: bytes) -> dict[str, Any]:
    """Return the bytes of an archive record as plain data; `path` names them in faults.

    Raises:
        ProjectFileError: they are not such a record, or it is of a newer program.
    """
    content = _parsed(path, data)
    if not isinstance(content, dict) or content.get("record") != RECORD_NAME:
        raise ProjectFileError(
            spoken(
                "{path}: is not an archive record of this program. Choose the .json file that "
                "'commission archive' wrote.",
                path=path,
            )
        )
    version = content.get("record_version")
    if not isinstance(version, int) or version > RECORD_VERSION:
        raise ProjectFileError(
            spoken(
                "{path}: is an archive record of version {version}; this program reads up to "
                "{record_version}. Install the newer program.",
                path=path,
                version=version,
                record_version=RECORD_VERSION,
            )
        )
    if version < RECORD_VERSION:
        complete_older(content)
    wrong = [name for name in _LISTS_READ if not _is_list_of_rows(content.get(name))]
    wrong += [name for name in _TABLES_READ if not isinstance(content.get(name), dict)]
    if wrong:
        raise ProjectFileError(
            spoken(
                "{path}: {wrong} cannot be read: missing, or not as the record's schema says. "
                "Take the record as it was written.",
                path=path,
                wrong=", ".join(wrong),
            )
        )
    return content


def _is_list_of_rows(content: object) -> bool:
    return isinstance(content, list) and all(isinstance(row, dict) for row in content)


def record_bytes(path: Path) -> bytes:
    """Return a record's bytes as they stand in its file.

    Raises:
        ProjectFileError: the file cannot be read, or is larger than any record.
    """
    try:
        if path.stat().st_size > _LARGEST_BYTES:
            raise ProjectFileError(
                spoken(
                    "{path}: is larger than {largest_bytes:,} bytes; no record is.",
                    path=path,
                    largest_bytes=_LARGEST_BYTES,
                )
            )
        return path.read_bytes()
    except OSError as fault:
        raise ProjectFileError(
            spoken(
                "{path}: cannot be read ({strerror}). Check the name and that the disk is there.",
                path=path,
                strerror=fault.strerror or fault,
            )
        ) from fault


def _parsed(path: Path, data: bytes) -> object:
    try:
        return json.loads(data.decode("utf-8"), parse_constant=_refuse_constant)
    except (ValueError, RecursionError) as fault:
        raise ProjectFileError(
            spoken(
                "{path}: is no JSON that can be read ({fault}). It may be cut short: copy or "
                "send it again.",
                path=path,
                fault=fault,
            )
        ) from fault


def _refuse_constant(text: str) -> None:
    raise ValueError(spoken("{value} is not a number", value=text))


def project_from_record(
    record_path: Path, project_path: Path, *, clock: Clock | None = None
) -> ProjectFile:
    """Make a project file from an archive record alone, and open it.

    Every row comes back with its id, time and history, so results and record are the same.

    Args:
        clock: the opened project's clock (default: the computer's).
    Raises:
        ProjectFileError: the record is damaged (all faults, the first twenty in words), the
            project file exists, or it cannot be written; then nothing is left.
    """
    record_path = Path(record_path)
    content = read_record(record_path)
    faults: list[str] = []
    rows = {kind: _rows(content[name], name, kind, faults) for name, kind in LISTS.items()}
    photos = list(_bytes_of(content, "photo_data", faults))
    trends = list(_bytes_of(content, "trend_data", faults))
    if faults:
        shown = faults[:_MOST_FAULTS]
        more = [spoken("... and {count} more.", count=len(faults) - len(shown))] * (
            len(faults) > len(shown)
        )
        raise ProjectFileError("\n".join(f"{record_path}: {line}" for line in (*shown, *more)))
    project: Mapping[str, Any] = content["project"]
    return project_from_rows(
        Path(project_path),
        project_uuid=str(project.get("uuid", "")),
        made_at=str(project.get("made_at", "")),
        rows=rows,
        photos=photos,
        trends=trends,
        clock=clock,
    )


def _rows(records: list[dict[str, Any]], name: str, kind: str, faults: list[str]) -> list[Row]:
    rows = []
    for place, record in enumerate(records, start=1):
        try:
            rows.append(stored_row(kind, record))
        except KeyError as fault:
            faults.append(
                spoken(
                    "{name}, row {place}: {fault} is missing.", name=name, place=place, fault=fault
                )
            )
        except (TypeError, ValueError, AttributeError, OverflowError, CommissionError) as fault:
            faults.append(
                spoken("{name}, row {place}: {fault}.", name=name, place=place, fault=fault)
            )
    return rows


def _bytes_of(
    content: Mapping[str, Any], name: str, faults: list[str]
) -> Iterator[tuple[str, bytes]]:
    for place, record in enumerate(content[name], start=1):
        try:
            data = base64.b64decode(record["base64"], validate=True)
        except (KeyError, TypeError, ValueError, binascii.Error):
            faults.append(
                spoken("{name}, row {place}: no bytes in base64.", name=name, place=place)
            )
            continue
        if hashlib.sha256(data).hexdigest() != record.get("sha256"):
            faults.append(
                spoken(
                    "{name}, row {place}: the bytes are not those of its SHA-256.",
                    name=name,
                    place=place,
                )
            )
            continue
        yield record["sha256"], data
