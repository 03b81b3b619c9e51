"""Trend logs of a project file: what was read, what was found, and the samples themselves.

The samples are packed bytes that `commission.sequence.trend_store` makes and reads; here they
are kept once under their SHA-256, and read only when asked for. What a person made of a log
(how it is read, what was found) is text, so that an older program and an archive can show it.
"""

from __future__ import annotations

import hashlib
import json
import math
from collections.abc import Mapping
from typing import Any

from commission.errors import ProjectFileError, ReadingError
from commission.language import spoken
from commission.project.journal import Row
from commission.project.photos import PhotoAlbum
from commission.project.records import TrendLimit, TrendRecord
from commission.project.register import given
from commission.project.schema import TABLES

MOST_TREND_BYTES = 400_000_000
_KEEP_BYTES = "INSERT INTO trend_data (sha256, data) VALUES (?, ?) ON CONFLICT DO NOTHING"


class TrendShelf(PhotoAlbum):
    """The trend logs of units, and the limits that were typed for judging them."""

    def trend_logs(self, unit_id: str | None = None) -> list[TrendRecord]:
        """Return the logs of one unit or of all, without reading their samples."""
        return self._register("trend_log", self._trend_log, unit_id)

    def add_trend_log(
        self, unit_id: str, name: str, data: bytes, *, file_sha256: str = "",
        read_as: Mapping[str, Any], facts: Mapping[str, Any], findings: list[dict[str, Any]],
    ) -> TrendRecord:  # fmt: skip
        """Keep a log of a unit.

        Args:
            name: the file's name; `file_sha256` the digest of the file as it was read.
            data: the packed samples.
            read_as, facts, findings: plain data, kept as JSON.
        Raises:
            ProjectFileError: no such unit, more than `MOST_TREND_BYTES`, or not kept.
        """
        what = spoken("The trend log {name}", name=name)
        if len(data) > MOST_TREND_BYTES:
            raise ProjectFileError(
                spoken(
                    "{what} was NOT kept: its {count:,} bytes are more than a project file takes "
                    "({most_trend_bytes:,}). Export fewer days, or every few seconds.",
                    what=what,
                    count=len(data),
                    most_trend_bytes=MOST_TREND_BYTES,
                )
            )
        sha256 = hashlib.sha256(data).hexdigest()
        content = {
            "unit_id": unit_id,
            "name": given(name, spoken("A log's name")),
            "sha256": sha256,
        }
        content |= {
            "file_sha256": file_sha256,
            "read_as": plain_text(read_as),
            "facts": plain_text(facts),
        }
        content |= {"findings": plain_text(findings)}
        with self.transaction(what):
            self._refuse_unknown_unit(unit_id)
            self._connection.execute(_KEEP_BYTES, (sha256, data))
            return self._trend_log(self._add("trend_log", content, what))

    def update_trend_findings(self, log_id: str, findings: list[dict[str, Any]]) -> TrendRecord:
        """Keep what a log was found to show under other limits; nothing if it is the same."""
        text = plain_text(findings)
        row = self._row_of(TABLES["trend_log"], log_id)
        if row["findings"] == text:
            return self._trend_log(row)
        return self._trend_log(
            self._update(
                "trend_log",
                log_id,
                {"findings": text},
                spoken("What the log shows"),
            )
        )

    def remove_trend_log(self, log_id: str) -> None:
        """Take a log off the list; it stays in the file's history."""
        self._update("trend_log", log_id, {"removed": True}, spoken("The removal of the log"))

    def _trend_log(self, row: Row) -> TrendRecord:
        sha256 = row["sha256"]
        return TrendRecord(
            row["record"],
            row["unit_id"],
            row["name"],
            row["file_sha256"],
            _plain(row["read_as"], {}),
            _plain(row["facts"], {}),
            tuple(_plain(row["findings"], [])),
            row["first_at"],
            sha256,
            lambda: self._trend_bytes(sha256),
        )

    def _trend_bytes(self, sha256: str) -> bytes:
        rows = self._select("SELECT data FROM trend_data WHERE sha256 = ?", [sha256])
        if not rows:
            raise ProjectFileError(
                spoken(
                    "{path}: the samples of trend log {sha256} are not in the file. Read the "
                    "logger's file again.",
                    path=self.path,
                    sha256=sha256[:8],
                )
            )
        return bytes(rows[0]["data"])

    # --- limits typed for judging logs

    def trend_limits(self, unit_id: str) -> dict[str, TrendLimit]:
        """Return the limits typed for a unit's logs, by name."""
        rows = self._current(TABLES["trend_limit"], unit_id=unit_id)
        return {
            row["name"]: TrendLimit(
                row["name"], row["limit_value"], row["origin"], row["person_id"]
            )
            for row in rows
        }

    def set_trend_limit(self, unit_id: str, name: str, value: float, origin: str) -> None:
        """Keep a limit and where it comes from.

        Raises:
            ReadingError: not a number, or no origin.
        """
        if not math.isfinite(value):
            raise ReadingError(
                spoken(
                    "Limit {name}: {value} is not a number. Enter it again.", name=name, value=value
                )
            )
        said = given(origin, spoken("Where a limit comes from"))
        content = {"limit_value": float(value), "origin": said, "removed": 0}
        self._put_trend_limit(unit_id, name, content)

    def clear_trend_limit(self, unit_id: str, name: str) -> None:
        """Take a typed limit back; the form's, or the default, is in force again."""
        if name in self.trend_limits(unit_id):
            self._put_trend_limit(unit_id, name, {"removed": 1})

    def _put_trend_limit(self, unit_id: str, name: str, content: dict[str, object]) -> None:
        table = TABLES["trend_limit"]
        with self.transaction(spoken("The limit")):
            self._refuse_unknown_unit(unit_id)
            before = self._newest(table, unit_id=unit_id, name=name)
            row: dict[str, object] = {"limit_value": 0.0, "origin": ""}
            if before:
                row |= {part: before[0][part] for part in row}
                row["supersedes"] = before[0]["id"]
            row |= {"unit_id": unit_id, "name": name, "person_id": self.person_id} | content
            self._append(table, [row], spoken("The limit"))


def plain_text(content: object) -> str:
    """Return plain data as the JSON that is kept: one text for one content."""
    return json.dumps(content, ensure_ascii=False, sort_keys=True, allow_nan=False)


def _plain(text: str, nothing: Any) -> Any:
    """Return JSON as plain data; what is none of the kind (another program's) is nothing."""
    try:
        content = json.loads(text)
    except ValueError:
        return nothing
    return content if isinstance(content, type(nothing)) else nothing
