"""A trend file -> a trend log, in blocks, so that memory stays near the columns' own size."""

from __future__ import annotations

import csv
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from io import TextIOWrapper
from itertools import islice
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from commission.errors import ReadingError
from commission.language import spoken
from commission.sequence.trend_clock import clocked
from commission.sequence.trend_columns import ColumnParser, hold_last
from commission.sequence.trend_discovery import find_reading
from commission.sequence.trend_log import UNKNOWN, Column, Moments, Remark, TrendLog
from commission.sequence.trend_reading import IN_STAMPS, FileReading, check_reading
from commission.sequence.trend_stamps import read_stamps
from commission.sequence.trend_zone import utc_moments

_BLOCK_ROWS = 1_024
_SHOWN = 20
Progress = Callable[[int, int, str], None]


@dataclass(slots=True)
class _Gathered:
    """Blocks read so far."""

    local: list[Moments] = field(default_factory=list)
    offset: list[Moments] = field(default_factory=list)
    lines: list[NDArray[np.int32]] = field(default_factory=list)
    values: dict[str, list[Column]] = field(default_factory=dict)
    ragged: list[int] = field(default_factory=list)


def read_trend(
    path: Path | str, reading: FileReading | None = None, progress: Progress | None = None
) -> TrendLog:
    """Return the log in a CSV or TSV file.

    Args:
        reading: How the file is written, confirmed or changed by a person; found from the
            file (`find_reading`) where it is not given.
        progress: Called with (bytes read, bytes in all, what).
    Raises:
        ReadingError: The file cannot be read so, or holds no sample.
    Valid: CSV, TSV, semicolon or bar separated text of any length; nothing is filled in,
        and every oddity is among the log's remarks.
    """
    path = Path(path)
    if not path.is_file():
        raise ReadingError(spoken("{path}: there is no such file.", path=path))
    reading = reading or find_reading(path)
    check_reading(reading)
    used = [column for column in reading.columns if column.signal]
    parsers = {column.signal: ColumnParser(column, reading.decimal_mark) for column in used}
    if not parsers:
        raise ReadingError(
            spoken(
                "{name}: no column is taken for a signal. Choose what each column holds.",
                name=path.name,
            )
        )
    gathered = _gathered(path, reading, parsers, progress)
    if not gathered.local:
        raise ReadingError(
            spoken(
                "{name}: no line of data was found from line {first_line}.",
                name=path.name,
                first_line=reading.first_line,
            )
        )
    return _log(path, reading, gathered, parsers)


def _gathered(
    path: Path, reading: FileReading, parsers: dict[str, ColumnParser], progress: Progress | None
) -> _Gathered:
    gathered = _Gathered(values={name: [] for name in parsers})
    total = path.stat().st_size
    try:
        with path.open("rb") as raw, TextIOWrapper(raw, reading.encoding, newline="") as file:
            for rows, lines in _blocks(file, reading):
                _take(rows, lines, reading, parsers, gathered)
                if progress:
                    progress(raw.tell(), total, spoken("reading the log"))
    except UnicodeDecodeError as error:
        raise ReadingError(
            spoken(
                "{name}: not written in {encoding} ({reason}). Choose another encoding, cp1252 "
                "perhaps.",
                name=path.name,
                encoding=reading.encoding,
                reason=error.reason,
            )
        ) from None
    except csv.Error as error:
        raise ReadingError(
            spoken("{name}: cannot be split into cells ({error}).", name=path.name, error=error)
        ) from None
    return gathered


def _blocks(file: object, reading: FileReading) -> Iterator[tuple[list[list[str]], list[int]]]:
    reader = csv.reader(file, delimiter=reading.delimiter)  # type: ignore[arg-type]
    numbered = ((row, reader.line_num) for row in reader)
    data = (pair for pair in numbered if pair[1] >= reading.first_line)
    while block := list(islice(data, _BLOCK_ROWS)):
        yield [row for row, _ in block], [line for _, line in block]


def _take(
    rows: list[list[str]], lines: list[int], reading: FileReading,
    parsers: dict[str, ColumnParser], gathered: _Gathered,
) -> None:  # fmt: skip
    width = reading.cells or len(rows[0])
    if set(map(len, rows)) != {width}:
        keep = [place for place, row in enumerate(rows) if len(row) == width]
        lost = (place for place, row in enumerate(rows) if len(row) != width and any(row))
        gathered.ragged += [lines[place] for place in lost]
        rows, lines = [rows[place] for place in keep], [lines[place] for place in keep]
    if not rows:
        return
    columns = list(zip(*rows, strict=True))
    cells = columns[reading.stamp_places[0]]
    if len(reading.stamp_places) > 1:
        cells = tuple(map(" ".join, zip(*(columns[p] for p in reading.stamp_places), strict=True)))
    stamps = read_stamps(cells, reading.stamp_order, reading.decimal_mark)
    gathered.local.append(stamps.local)
    if reading.zone == IN_STAMPS:
        gathered.offset.append(stamps.offset)
    gathered.lines.append(np.array(lines, np.int32))
    for name, parser in parsers.items():
        gathered.values[name].append(parser.block(columns[parser.column.place]))


def _log(
    path: Path, reading: FileReading, gathered: _Gathered, parsers: dict[str, ColumnParser]
) -> TrendLog:
    moments, zone, remarks = _moments(reading, gathered)
    lines = np.concatenate(gathered.lines)
    columns: dict[str, Column] = {}
    for name in parsers:
        columns[name] = np.concatenate(gathered.values.pop(name))  # type: ignore[assignment]
    clock = clocked(moments, lines, columns, bool(zone))
    if not clock.kept.any():
        raise ReadingError(
            spoken(
                "{name}: no date and time could be read as {stamp_order}. Choose another date "
                "order or column.",
                name=path.name,
                stamp_order=reading.stamp_order,
            )
        )
    if not clock.kept.all():
        moments, lines = moments[clock.kept], lines[clock.kept]
        for name in columns:
            columns[name] = columns[name][clock.kept]
    remarks += [*clock.remarks, *_ragged(gathered.ragged, reading.cells)]
    if reading.blanks == "unchanged":
        columns = {name: hold_last(column, clock.joined) for name, column in columns.items()}
        remarks.append(
            Remark("blanks", spoken("Empty cells hold the value before, as was chosen."))
        )
    remarks += [said for name, parser in parsers.items() if (said := _unread(name, parser))]
    remarks += [said for name in columns if (said := _unknown(name, columns[name], parsers[name]))]
    remarks += [Remark("to confirm", question) for question in reading.questions]
    return TrendLog(moments, clock.joined, lines, columns, tuple(remarks), zone, path.name)


def _moments(reading: FileReading, gathered: _Gathered) -> tuple[Moments, str, list[Remark]]:
    local = np.concatenate(gathered.local)
    gathered.local = []
    if reading.stamp_order.startswith("epoch"):
        shown = reading.zone if reading.zone != IN_STAMPS else "UTC"
        return local, shown or "UTC", []
    if reading.zone == IN_STAMPS:
        offset = np.concatenate(gathered.offset)
        return local - offset, _zone_shown(offset[np.isfinite(offset)]), []
    moments, remarks = utc_moments(local, reading.zone)
    return moments, reading.zone, remarks


def _zone_shown(offsets: Moments) -> str:
    """Return the zone to show moments in: the first offset that the stamps write."""
    if not offsets.size or offsets[0] == 0:
        return "UTC"
    minutes = round(abs(float(offsets[0])) / 60)
    sign = "-" if offsets[0] < 0 else "+"
    return f"UTC{sign}{minutes // 60:02d}:{minutes % 60:02d}"


def _ragged(lines: list[int], width: int) -> list[Remark]:
    if not lines:
        return []
    sentence = spoken(
        "{count} lines do not have {width} cells; they are left out.", count=len(lines), width=width
    )
    return [Remark("lines", sentence, tuple(lines[:_SHOWN]), len(lines))]


def _unread(name: str, parser: ColumnParser) -> Remark | None:
    if not parser.unread:
        return None
    shown = ", ".join(f"'{word}' ({times})" for word, times in list(parser.unread.items())[:5])
    count = sum(parser.unread.values())
    return Remark(
        "cells",
        spoken(
            "'{heading}': {count} cells say nothing that can be used and are not known: {shown}.",
            heading=parser.column.heading,
            count=count,
            shown=shown,
        ),
        count=count,
    )


def _unknown(name: str, column: Column, parser: ColumnParser) -> Remark | None:
    unknown = column == UNKNOWN if column.dtype == np.int8 else np.isnan(column)
    count = int(unknown.sum())
    if not count:
        return None
    share = 100.0 * count / len(column)
    sentence = spoken(
        "'{heading}': {count} of {samples} samples not known ({share:.2g} %).",
        heading=parser.column.heading,
        count=count,
        samples=len(column),
        share=share,
    )
    return Remark("not known", sentence, count=count)
