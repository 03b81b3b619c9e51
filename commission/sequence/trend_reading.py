"""How a trend file is to be read: found from the file, shown to a person, kept as plain data."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass, field, fields, replace
from typing import Any

from commission.errors import ReadingError
from commission.language import listed, near_miss, spoken, to_say
from commission.sequence.trend_signals import SIGNALS
from commission.units import UNITS

ORDERS: Mapping[str, str] = {
    "ymd": to_say("year, month, day"),
    "mdy": to_say("month, day, year"),
    "dmy": to_say("day, month, year"),
    "epoch s": to_say("seconds since 1970-01-01 UTC"),
    "epoch ms": to_say("milliseconds since 1970-01-01 UTC"),
    "serial day": to_say("days of a spreadsheet (25569 is 1970-01-01)"),
}
BLANKS = (to_say("not known"), to_say("unchanged"))
IN_STAMPS = to_say("in the stamps")
_MARKS = {
    ",": to_say("comma"),
    ";": to_say("semicolon"),
    "\t": to_say("tab"),
    "|": to_say("bar"),
    ".": to_say("point"),
}


@dataclass(frozen=True, slots=True)
class ColumnReading:
    """One column of the file and the signal it is taken for.

    Attributes:
        place: Column of the file, counted from 0.
        signal: Name of `SIGNALS`, or "" for a column not used.
        unit: Unit of the numbers in the file; converted to the signal's.
        threshold: For a state read from numbers (amps, say): on at or above it.
        inverted: The file's "on" means the signal's off.
        on_words, off_words: Words beside the usual ones, lower case.
    """

    place: int
    heading: str
    signal: str = ""
    unit: str = ""
    threshold: float | None = None
    inverted: bool = False
    on_words: tuple[str, ...] = ()
    off_words: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class FileReading:
    """Everything found about a file. A person confirms it, or changes it with `replace`.

    Attributes:
        heading_line, first_line: Lines counted from 1; heading_line 0 where there is none.
        stamp_places: The column of the stamp, or those of date and time.
        zone: IANA name, "UTC", "UTC-06:00", "in the stamps", or "" where it is not known.
        blanks: What an empty cell means: "not known", or "unchanged" for a logger that
            writes changes only.
        questions: What could not be told from the file and was assumed, one sentence each.
    """

    encoding: str = "utf-8"
    delimiter: str = ","
    decimal_mark: str = "."
    heading_line: int = 1
    first_line: int = 2
    cells: int = 0
    stamp_places: tuple[int, ...] = (0,)
    stamp_order: str = "ymd"
    zone: str = ""
    blanks: str = "not known"
    columns: tuple[ColumnReading, ...] = ()
    questions: tuple[str, ...] = field(default=())


def reading_rows(reading: FileReading) -> list[tuple[str, str]]:
    """Return what was found as (what, value) rows, to be shown for confirmation."""
    rows = [
        (spoken("Encoding"), reading.encoding),
        (spoken("Cells apart by"), spoken(_MARKS.get(reading.delimiter, reading.delimiter))),
        (spoken("Decimal mark"), spoken(_MARKS.get(reading.decimal_mark, "point"))),
        (
            spoken("Headings on line"),
            str(reading.heading_line) if reading.heading_line else spoken("none"),
        ),
        (spoken("Data from line"), str(reading.first_line)),
        (
            spoken("Date and time in column"),
            listed(str(place + 1) for place in reading.stamp_places),
        ),
        (spoken("Date order"), spoken(ORDERS[reading.stamp_order])),
        (spoken("Time zone"), spoken(reading.zone or "not known")),
        (spoken("Empty cells"), spoken(reading.blanks)),
    ]
    for column in reading.columns:
        signal = SIGNALS[column.signal].label if column.signal else spoken("not used")
        unit = f", {column.unit}" if column.unit else ""
        limit = (
            spoken(", on from {threshold:g}", threshold=column.threshold)
            if column.threshold is not None
            else ""
        )
        turned = f", {spoken('inverted')}" if column.inverted else ""
        rows.append(
            (
                spoken("Column {place}: {heading}", place=column.place + 1, heading=column.heading),
                signal + unit + limit + turned,
            )
        )
    return rows + [(spoken("To confirm"), question) for question in reading.questions]


def reading_to_plain(reading: FileReading) -> dict[str, Any]:
    """Return the reading as plain dicts, lists, texts and numbers, for JSON."""
    return asdict(reading)


def reading_from_plain(plain: Mapping[str, Any]) -> FileReading:
    """Return the reading that was kept.

    Raises:
        ReadingError: It is not one; the message holds every fault.
    """
    known = {item.name for item in fields(FileReading)}
    faults = [
        spoken("'{key}' is no part of a file reading.{hint}", key=key, hint=near_miss(key, known))
        for key in plain
        if key not in known
    ]
    if faults:
        raise ReadingError("\n".join(faults))
    columns = tuple(_column(row) for row in plain.get("columns", ()))
    rest: dict[str, Any] = {key: tuple(value) if isinstance(value, list) else value
            for key, value in plain.items() if key != "columns"}  # fmt: skip
    reading = FileReading(**rest, columns=columns)
    check_reading(reading)
    return reading


def _column(row: Mapping[str, Any]) -> ColumnReading:
    known = {item.name for item in fields(ColumnReading)}
    if strangers := [key for key in row if key not in known]:
        raise ReadingError(
            spoken("column reading: unknown keys {strangers}.", strangers=", ".join(strangers))
        )
    known_parts: dict[str, Any] = {
        key: tuple(value) if isinstance(value, list) else value for key, value in row.items()
    }
    return ColumnReading(**known_parts)


def check_reading(reading: FileReading) -> None:
    """Refuse a reading that cannot be used.

    Raises:
        ReadingError: Every fault at once.
    """
    faults = []
    if reading.stamp_order not in ORDERS:
        faults.append(
            spoken(
                "date order '{stamp_order}' is not one of {orders}.",
                stamp_order=reading.stamp_order,
                orders=", ".join(ORDERS),
            )
        )
    if reading.blanks not in BLANKS:
        faults.append(
            spoken(
                "empty cells: '{blanks}' is not one of {choices}.",
                blanks=reading.blanks,
                choices=", ".join(BLANKS),
            )
        )
    if reading.decimal_mark not in (".", ","):
        faults.append(
            spoken(
                "decimal mark '{decimal_mark}' is neither point nor comma.",
                decimal_mark=reading.decimal_mark,
            )
        )
    used = [column.signal for column in reading.columns if column.signal]
    for name in sorted({name for name in used if used.count(name) > 1}):
        faults.append(spoken("two columns are taken for {name}; choose one.", name=name))
    for column in reading.columns:
        faults += _column_faults(column)
    if faults:
        raise ReadingError(
            "\n".join(spoken("Reading of the file: {fault}", fault=fault) for fault in faults)
        )


def _column_faults(column: ColumnReading) -> list[str]:
    faults = []
    if column.signal and column.signal not in SIGNALS:
        hint = near_miss(column.signal, SIGNALS)
        faults.append(
            spoken(
                "column '{heading}': '{signal}' is not a signal.{hint}",
                heading=column.heading,
                signal=column.signal,
                hint=hint,
            )
        )
    if column.unit and column.unit not in UNITS:
        faults.append(
            spoken(
                "column '{heading}': '{unit}' is not a unit.{hint}",
                heading=column.heading,
                unit=column.unit,
                hint=near_miss(column.unit, UNITS),
            )
        )
    return faults


_MAPPED = ("signal", "unit", "threshold", "inverted", "on_words", "off_words")


def mapping_of(reading: FileReading) -> dict[str, dict[str, Any]]:
    """Return heading -> signal, unit and so on: what is kept for the next file of a project."""
    return {
        column.heading: {
            key: list(value) if isinstance(value := getattr(column, key), tuple) else value
            for key in _MAPPED
        }
        for column in reading.columns
    }


def with_mapping(reading: FileReading, mapping: Mapping[str, Mapping[str, Any]]) -> FileReading:
    """Return the reading with the columns that a kept mapping knows taken as it says.

    Raises:
        ReadingError: The mapping names a signal or unit that does not exist.
    """
    columns = tuple(_mapped(column, mapping.get(column.heading)) for column in reading.columns)
    changed = replace(reading, columns=columns)
    check_reading(changed)
    return changed


def _mapped(column: ColumnReading, kept: Mapping[str, Any] | None) -> ColumnReading:
    if kept is None:
        return column
    return _column({"place": column.place, "heading": column.heading} | dict(kept))
