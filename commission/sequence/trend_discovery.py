"""What can be found of a trend file by looking: encoding, cells, headings, dates, signals."""

from __future__ import annotations

import codecs
import csv
import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from pathlib import Path

import numpy as np

from commission.errors import ReadingError
from commission.language import spoken
from commission.sequence.trend_columns import number_in
from commission.sequence.trend_reading import IN_STAMPS, FileReading
from commission.sequence.trend_stamps import read_stamps
from commission.sequence.trend_suggestion import suggested_columns
from commission.units import recognised

_HEAD_BYTES, _TAIL_BYTES, _BLOCK_BYTES = 65_536, 32_768, 65_536
_DELIMITERS = ("\t", ";", "|", ",")
_ZONE = re.compile(r"\b(?:GMT|UTC)\s*([+-−])\s*(\d{1,2})(?::?(\d{2}))?\b")
_ZONE_WORD = re.compile(r"\d\s*(?:[AP]\.?M\.?\s*)?\b([ECMP][SD]T|GMT|CET|CEST|BST)\b", re.I)
_LONE_UTC = re.compile(r"\b(?:UTC|GMT)\b(?!\s*[+-])")
_COMMA_NUMBER, _POINT_NUMBER = re.compile(r"-?\d+,\d+"), re.compile(r"-?\d+\.\d+")


@dataclass(frozen=True, slots=True)
class _Sample:
    """Lines of the head of the file split into cells, and the last lines of its tail."""

    head: list[list[str]]
    tail: list[list[str]]
    size_bytes: int
    head_bytes: int
    first_lines: tuple[str, ...]


def find_reading(path: Path, delimiter: str = "") -> FileReading:
    """Return how a trend file seems to be written, with what could not be told as questions.

    Args:
        delimiter: What sets cells apart, where a person knows; else it is found.
    Raises:
        ReadingError: The file is empty, cannot be read, or has no column of dates and times.
    """
    encoding = _encoding(path)
    head, tail, size, used = _texts(path, encoding)
    if not any(line.strip() for line in head):
        raise ReadingError(
            spoken("{name}: the file is empty. Export the trend again.", name=path.name)
        )
    try:
        delimiter = delimiter or _delimiter(head)
        rows, last = _cells(head, delimiter), _cells(tail, delimiter)
    except csv.Error as error:
        raise ReadingError(
            spoken("{name}: cannot be split into cells ({error}).", name=path.name, error=error)
        ) from None
    if not any(any(row) for row in rows):
        raise ReadingError(
            spoken("{name}: the file is empty. Export the trend again.", name=path.name)
        )
    sample = _Sample(rows, last, size, used, tuple(head[:40]))
    return _found(path, encoding, delimiter, sample)


def first_cells(path: Path, reading: FileReading, rows: int = 3) -> list[list[str]]:
    """Return the cells of the first lines of data, for showing what a column holds."""
    head = _texts(path, reading.encoding)[0]
    lines = _cells(head[: reading.first_line + rows], reading.delimiter)
    data = lines[max(reading.first_line - 1, 0) :]
    return [row for row in data if len(row) == reading.cells][:rows]


def _encoding(path: Path) -> str:
    """Return the encoding that the whole file can be read in: by its mark, or UTF-8, or 1252."""
    try:
        with path.open("rb") as file:
            begin = file.read(4)
            for mark, name in ((codecs.BOM_UTF8, "utf-8-sig"), (codecs.BOM_UTF16_LE, "utf-16"),
                               (codecs.BOM_UTF16_BE, "utf-16")):  # fmt: skip
                if begin.startswith(mark):
                    return name
            decoder = codecs.getincrementaldecoder("utf-8")()
            decoder.decode(begin)
            while block := file.read(_BLOCK_BYTES):
                decoder.decode(block)
            decoder.decode(b"", True)
    except UnicodeDecodeError:
        return "cp1252"
    except OSError as error:
        raise ReadingError(
            spoken("{path}: cannot be read ({strerror}).", path=path, strerror=error.strerror)
        ) from None
    return "utf-8"


def _texts(path: Path, encoding: str) -> tuple[list[str], list[str], int, int]:
    size = path.stat().st_size
    with path.open("rb") as file:
        raw = file.read(_HEAD_BYTES)
        head = raw.decode(encoding, "replace").splitlines()
        if len(raw) < size and head:
            head.pop()  # its last line may be cut
        tail: list[str] = []
        if size > _HEAD_BYTES and encoding != "utf-16":
            file.seek(max(size - _TAIL_BYTES, 0))
            tail = file.read().decode(encoding, "replace").splitlines()[1:]
    return head, tail, size, len(raw)


def _cells(lines: Sequence[str], delimiter: str) -> list[list[str]]:
    return [[cell.strip() for cell in row] for row in csv.reader(lines, delimiter=delimiter)]


def _delimiter(lines: Sequence[str]) -> str:
    """Return the separator that gives most lines one number of cells, two or more."""
    best, score = ",", 0.0
    for delimiter in _DELIMITERS:
        counts = Counter(len(row) for row in _cells(lines[:200], delimiter) if any(row))
        width, times = max(counts.items(), key=lambda item: (item[0] > 1) * item[1], default=(1, 0))
        share = times / max(sum(counts.values()), 1)
        if width > 1 and share > score + 0.05:
            best, score = delimiter, share
    return best


def _found(path: Path, encoding: str, delimiter: str, sample: _Sample) -> FileReading:
    width = _width(sample.head)
    questions: list[str] = []
    body = [row for row in sample.head if len(row) == width]
    places = _stamp_places(path, body[len(body) // 2 :] or body, width)
    decimal, doubt = _decimal_mark(body[-200:], places)
    questions += doubt
    first = _first_row(sample.head, places, width)
    heading, units = _heading_rows(sample.head, first, width, places)
    order, doubt = _order(sample, places, width, first, decimal)
    questions += doubt
    reading = FileReading(
        encoding=encoding, delimiter=delimiter, decimal_mark=decimal,
        heading_line=heading + 1 if heading >= 0 else 0, first_line=first + 1, cells=width,
        stamp_places=places, stamp_order=order,
    )  # fmt: skip
    headings = (
        sample.head[heading]
        if heading >= 0
        else [spoken("column {n}", n=n + 1) for n in range(width)]
    )
    zone, doubt = _zone(sample, headings, places, width, order, first)
    columns, more = suggested_columns(headings, units, sample.head[first:], places, decimal, width)
    reading = replace(reading, zone=zone, columns=columns)
    blank, blank_doubt = _blanks(sample.head[first:], places, width)
    return replace(reading, blanks=blank, questions=(*questions, *doubt, *more, *blank_doubt))


def _width(rows: Sequence[Sequence[str]]) -> int:
    counts = Counter(len(row) for row in rows if any(row))
    return counts.most_common(1)[0][0]


def _reads(cells: Sequence[str]) -> dict[str, float]:
    """Return the share of cells that each order of date can read."""
    if not cells:
        return {}
    shares = {}
    for order in ("ymd", "mdy", "dmy"):
        local = read_stamps(cells, order, ".").local
        shares[order] = float(np.isfinite(local).mean())
    return shares


def _stamp_places(path: Path, rows: Sequence[Sequence[str]], width: int) -> tuple[int, ...]:
    """Return the first column of dates and times, or of dates with times in the next."""
    some = rows[:200]
    for place in range(width):
        cells = [row[place] for row in some]
        if max(_reads(cells).values(), default=0) < 0.8 or _all_plain(cells):
            continue
        if all(":" not in cell and "T" not in cell for cell in cells) and place + 1 < width:
            after = [row[place + 1] for row in some]
            if sum(bool(re.match(r"\d{1,2}:\d{2}", cell)) for cell in after) > 0.8 * len(after):
                return (place, place + 1)
        return (place,)
    for place in range(width):
        if _counted_order([row[place] for row in some]):
            return (place,)
    raise ReadingError(
        spoken(
            "{name}: no column of dates and times was found. Name the column in the reading "
            "of the file, or export the trend with a stamp on each line.",
            name=path.name,
        )
    )


def _all_plain(cells: Sequence[str]) -> bool:
    return all(number_in(cell, ".") is not None and len(cell) < 8 for cell in cells)


def _counted_order(cells: Sequence[str]) -> str:
    """Return the kind of plain numbers that could be stamps, or ""."""
    numbers = [number_in(cell, "." if "." in cell else ",") for cell in cells]
    known = [number for number in numbers if number is not None]
    if len(known) < 0.8 * len(cells) or not known:
        return ""
    if any(b < a for a, b in pairwise(known)):
        return ""
    middle = known[len(known) // 2]
    for order, low, high in (("epoch s", 6e8, 5e9), ("epoch ms", 6e11, 5e12),
                             ("serial day", 30_000, 80_000)):  # fmt: skip
        if low < middle < high:
            return order
    return ""


def _decimal_mark(rows: Sequence[Sequence[str]], places: tuple[int, ...]) -> tuple[str, list[str]]:
    """Return the decimal mark, and a question where commas may set thousands apart.

    In a file of commas a cell holds one only where it was quoted.
    """
    cells = [cell for row in rows for place, cell in enumerate(row) if place not in places]
    commas = [cell for cell in cells if _COMMA_NUMBER.fullmatch(cell)]
    points = sum(bool(_POINT_NUMBER.fullmatch(cell)) for cell in cells)
    if len(commas) <= points:
        return ".", []
    if points == 0 and all(len(cell.rsplit(",")[-1]) == 3 for cell in commas):
        return ",", [
            spoken(
                "'{commas}' may be a decimal or thousands; a decimal comma is assumed.",
                commas=commas[0],
            )
        ]
    return ",", []


def _stamp(row: Sequence[str], places: tuple[int, ...]) -> str:
    return " ".join(row[place] for place in places)


def _first_row(rows: Sequence[Sequence[str]], places: tuple[int, ...], width: int) -> int:
    for number, row in enumerate(rows):
        if len(row) != width:
            continue
        cell = _stamp(row, places)
        if max(_reads([cell]).values()) > 0 or _counted_order([cell]):
            return number
    return 0


def _heading_rows(
    rows: Sequence[Sequence[str]], first: int, width: int, places: tuple[int, ...]
) -> tuple[int, list[str]]:
    """Return the row of headings (-1 for none) and the row of units below it."""
    above = [number for number in range(first) if len(rows[number]) == width and any(rows[number])]
    if not above:
        return -1, []
    last = above[-1]
    cells = [cell for place, cell in enumerate(rows[last]) if place not in places and cell]
    unit_like = [cell for cell in cells if recognised(cell.strip("()[]")) is not None]
    if len(above) > 1 and len(unit_like) > 0.5 * max(len(cells), 1):
        return above[-2], list(rows[last])
    return last, []


def _order(
    sample: _Sample, places: tuple[int, ...], width: int, first: int, decimal: str
) -> tuple[str, list[str]]:
    """Return the order of the date, and a question where the data leave it open."""
    rows = [row for row in sample.head[first:] if len(row) == width]
    head = [_stamp(row, places) for row in rows]
    tail = [_stamp(row, places) for row in sample.tail if len(row) == width]
    if all(number_in(cell, decimal) is not None for cell in head[:50]) and (
        counted := _counted_order(head)
    ):
        return counted, []
    if sum(bool(re.match(r"\d{4}", cell)) for cell in head) > 0.5 * len(head):
        return "ymd", []
    cells = head + tail
    shares = _reads(cells)
    named = sum(bool(re.search("[A-Za-z]{3}", cell)) for cell in cells) > 0.5 * len(cells)
    if named:  # a month in letters: 15-Jun-2026 or Jun 15, 2026
        return ("mdy" if re.match(r"[A-Za-z]{3,9}\.?\s+\d", cells[0]) else "dmy"), []
    if shares["mdy"] != shares["dmy"]:
        return ("mdy" if shares["mdy"] > shares["dmy"] else "dmy"), []
    return _order_by_pace(sample, head, cells)


def _order_by_pace(
    sample: _Sample, head: Sequence[str], cells: Sequence[str]
) -> tuple[str, list[str]]:
    """Choose the order whose first-to-last span fits the number of lines and their interval."""
    share = sample.size_bytes / max(sample.head_bytes, 1)
    misfit = {}
    for order in ("mdy", "dmy"):
        local = read_stamps(cells, order, ".").local
        steps = np.diff(read_stamps(head, order, ".").local)
        steps = steps[steps > 0]
        usual = float(np.median(steps)) if steps.size else 1.0
        expected = usual * len(head) * share
        span = float(local[-1] - local[0])
        misfit[order] = abs(span - expected) / max(expected, 1.0) if span >= 0 else np.inf
    best = min(misfit, key=lambda order: misfit[order])
    if misfit["mdy"] == misfit["dmy"] or abs(misfit["mdy"] - misfit["dmy"]) < 0.2:
        question = spoken(
            "Day or month first cannot be told from '{head}': month first is assumed. "
            "Confirm or change it.",
            head=head[0],
        )
        return "mdy", [question]
    return best, []


def _zone(
    sample: _Sample, headings: Sequence[str], places: tuple[int, ...], width: int, order: str,
    first: int,
) -> tuple[str, list[str]]:  # fmt: skip
    rows = [row for row in sample.head[first:] if len(row) == width]
    cells = [_stamp(row, places) for row in rows[-100:]]
    if order.startswith("epoch"):
        return "UTC", []
    written = read_stamps(cells, order, ".").offset
    if np.isfinite(written).mean() > 0.9:
        return IN_STAMPS, []
    for text in (*(headings[place] for place in places), *sample.first_lines[:20]):
        if found := _ZONE.search(text):
            sign = "+" if found[1] == "+" else "-"
            return f"UTC{sign}{int(found[2]):02d}:{found[3] or '00'}", []
        if any(text == headings[place] for place in places) and _LONE_UTC.search(text):
            return "UTC", []
    for cell in cells:
        if found := _ZONE_WORD.search(cell):
            return "", [
                spoken(
                    "Stamps say '{found}', which names no one zone: name it, as 'America/Denver'. "
                    "Until then the clock is taken as it stands.",
                    found=found[1].upper(),
                )
            ]
    return "", [
        spoken(
            "The file names no time zone: the clock is taken as it stands, and a "
            "daylight-saving change in it would look like a gap or a step. Name the zone, "
            "as 'America/Denver'."
        )
    ]


def _blanks(
    rows: Sequence[Sequence[str]], places: tuple[int, ...], width: int
) -> tuple[str, list[str]]:
    cells = [cell for row in rows if len(row) == width
             for place, cell in enumerate(row) if place not in places]  # fmt: skip
    empty = sum(cell == "" for cell in cells) / max(len(cells), 1)
    if empty < 0.3:
        return "not known", []
    return "not known", [
        spoken(
            "{value:.0f} % of the cells are empty, as in a logger that writes changes only. "
            "They are taken as not known; choose 'unchanged' if an empty cell means no "
            "change.",
            value=100 * empty,
        )
    ]
