"""A trend log as packed bytes for the project file, and back, bit for bit.

Each column is compressed by itself: states as they are, numbers and moments after a step that
makes neighbours alike (differences of the integers that their bits spell, bytes of one place
side by side). Nothing is rounded, thinned or filled.
"""

from __future__ import annotations

import hashlib
import json
import zlib
from collections.abc import Mapping, Sequence
from dataclasses import asdict
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from commission.definitions.model import Severity
from commission.errors import ProjectFileError, ReadingError
from commission.language import spoken
from commission.sequence.findings import Finding
from commission.sequence.trend_log import Remark, TrendLog
from commission.sequence.trend_signals import SIGNALS
from commission.validation.verdict import Outcome

_MARK = b"RTUTREND1\n"
_MOST_ROWS = 100_000_000
_LEVEL = 6
_KINDS: Mapping[str, type[np.generic]] = {
    "moments": np.float64, "joined": np.bool_, "lines": np.int32,
}  # fmt: skip


def packed(log: TrendLog) -> bytes:
    """Return a log's samples as bytes; `unpacked` gives the same log back."""
    parts: dict[str, NDArray[Any]] = {
        "moments": log.moments, "joined": log.joined, "lines": log.lines, **log.columns
    }  # fmt: skip
    streams, columns = [], []
    for name, values in parts.items():
        stream = zlib.compress(_prepared(values), _LEVEL)
        kind = "state" if values.dtype == np.int8 else "number"
        columns.append({"name": name, "kind": kind, "bytes": len(stream)})
        streams.append(stream)
    head = {
        "rows": len(log.moments), "zone": log.zone, "source": log.source, "columns": columns,
        "remarks": [asdict(remark) for remark in log.remarks],
    }  # fmt: skip
    text = json.dumps(head, ensure_ascii=False, sort_keys=True).encode()
    return b"".join((_MARK, len(text).to_bytes(4, "big"), text, *streams))


def unpacked(data: bytes) -> TrendLog:
    """Return the log that was packed.

    Raises:
        ProjectFileError: The bytes are not those of a log.
    """
    try:
        return _unpacked(memoryview(data))
    except (ValueError, KeyError, TypeError, AttributeError, zlib.error) as fault:
        raise ProjectFileError(
            spoken(
                "The samples of a trend log cannot be read ({fault}). Read the logger's file "
                "again.",
                fault=fault,
            )
        ) from None


def _unpacked(data: memoryview) -> TrendLog:
    begin = len(_MARK) + 4
    if bytes(data[: len(_MARK)]) != _MARK:
        raise ValueError(spoken("no trend log"))
    size = int.from_bytes(data[len(_MARK) : begin], "big")
    head = json.loads(bytes(data[begin : begin + size]))
    rows, place = int(head["rows"]), begin + size
    if not 0 < rows <= _MOST_ROWS:
        raise ValueError(spoken("{rows} samples", rows=rows))
    found: dict[str, NDArray[Any]] = {}
    for column in head["columns"]:
        name, end = str(column["name"]), place + int(column["bytes"])
        if name not in _KINDS and name not in SIGNALS:
            raise ValueError(spoken("column '{name}' is no signal", name=name))
        number = np.float32 if column["kind"] == "number" else np.int8
        found[name] = _column(data[place:end], _KINDS.get(name, number), rows)
        place = end
    remarks = tuple(
        Remark(str(r["kind"]), str(r["sentence"]), tuple(map(int, r["lines"])), int(r["count"]))
        for r in head["remarks"]
    )
    moments, joined, lines = (found.pop(name) for name in _KINDS)
    zone, source = str(head["zone"]), str(head["source"])
    return TrendLog(moments, joined, lines, found, remarks, zone, source)


def _prepared(values: NDArray[Any]) -> bytes:
    """Return a column's bytes, put so that they compress."""
    if values.dtype.itemsize == 1:
        return np.packbits(values).tobytes() if values.dtype == np.bool_ else values.tobytes()
    integers = values.view(f"<i{values.dtype.itemsize}")
    steps = np.diff(integers, prepend=integers.dtype.type(0))
    if values.dtype == np.float64:  # a steady clock: then all steps but the first are alike
        steps = np.diff(steps, prepend=steps.dtype.type(0))
    return np.ascontiguousarray(steps.view(np.uint8).reshape(-1, values.dtype.itemsize).T).tobytes()


def _column(stream: memoryview, kind: type[np.generic], rows: int) -> NDArray[Any]:
    """Return a column, refusing more bytes than its samples take."""
    dtype = np.dtype(kind)
    size = -(-rows // 8) if dtype == np.bool_ else rows * dtype.itemsize
    decompressor = zlib.decompressobj()
    raw = decompressor.decompress(stream, size + 1)
    if len(raw) != size:
        raise ValueError(spoken("{count} bytes for {rows} samples", count=len(raw), rows=rows))
    flat = np.frombuffer(raw, np.uint8)
    if dtype == np.bool_:
        return np.unpackbits(flat, count=rows).astype(np.bool_)
    if dtype.itemsize == 1:
        return flat.view(dtype).copy()
    steps = np.ascontiguousarray(flat.reshape(dtype.itemsize, rows).T).view(f"<i{dtype.itemsize}")
    integers = np.cumsum(steps[:, 0], dtype=steps.dtype)
    if dtype == np.float64:
        integers = np.cumsum(integers, dtype=steps.dtype)
    return integers.view(dtype)


def digest_of_file(path: Path) -> str:
    """Return the SHA-256 of a file as it is now.

    Raises:
        ReadingError: It cannot be read.
    """
    try:
        with path.open("rb") as file:
            return hashlib.file_digest(file, "sha256").hexdigest()
    except OSError as error:
        raise ReadingError(
            spoken("{path}: cannot be read ({strerror}).", path=path, strerror=error.strerror)
        ) from None


def facts_of(log: TrendLog) -> dict[str, Any]:
    """Return what a person should know of a log, as plain data."""
    interval = log.interval_s
    return {
        "samples": len(log.moments),
        "first": log.clock(0),
        "last": log.clock(len(log.moments) - 1),
        "interval_s": interval if np.isfinite(interval) else None,
        "zone": log.zone,
        "signals": list(log.columns),
        "remarks": [asdict(remark) for remark in log.remarks],
    }


_TEXTS = ("rule", "title", "sentence", "limit", "source", "cure", "first_moment", "worst_moment")


def finding_to_plain(finding: Finding) -> dict[str, Any]:
    """Return a finding as plain data for JSON; its stretches as [first, last] pairs."""
    plain: dict[str, Any] = {name: getattr(finding, name) for name in _TEXTS}
    return plain | {
        "member": finding.member, "severity": str(finding.severity),
        "outcome": str(finding.outcome), "count": finding.count,
        "rows": [list(pair) for pair in finding.rows],
        "lines": [list(pair) for pair in finding.lines],
        "worst_row": finding.worst_row, "signals": list(finding.signals),
        "needed_interval_s": finding.needed_interval_s,
    }  # fmt: skip


def finding_from_plain(plain: Mapping[str, Any]) -> Finding:
    """Return a finding that was kept.

    Raises:
        ProjectFileError: It is none.
    """
    try:
        return Finding(
            **{name: str(plain[name]) for name in _TEXTS},
            member=int(plain["member"]), severity=Severity(plain["severity"]),
            outcome=Outcome(plain["outcome"]), count=int(plain["count"]),
            rows=_pairs(plain["rows"]), lines=_pairs(plain["lines"]),
            worst_row=int(plain["worst_row"]), signals=tuple(map(str, plain["signals"])),
            needed_interval_s=plain["needed_interval_s"],
        )  # fmt: skip
    except (KeyError, TypeError, ValueError) as fault:
        raise ProjectFileError(
            spoken("A kept finding of a trend log cannot be read ({fault}).", fault=fault)
        ) from None


def _pairs(pairs: Sequence[Sequence[int]]) -> tuple[tuple[int, int], ...]:
    return tuple((int(first), int(last)) for first, last in pairs)
