"""How a trend file is to be read: found from the file, shown to a person, kept as plain data."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, field, fields, replace
from typing import Any

from commission.errors import ReadingError
from commission.language import near_miss, to_say
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
BLANKS = ("not known", "unchanged")
IN_STAMPS = "in the stamps"


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
    mark = {",": "comma", ";": "semicolon", "\t": "tab", "|": "bar"}
    stamps = " and ".join(str(place + 1) for place in reading.stamp_places)
    rows = [
        ("Encoding", reading.encoding),
        ("Cells apart by", mark.get(reading.delimiter, reading.delimiter)),
        ("Decimal mark", "comma" if reading.decimal_mark == "," else "point"),
        ("Headings on line", str(reading.heading_line) if reading.heading_line else "none"),
        ("Data from line", str(reading.first_line)),
        ("Date and time in column", stamps),
        ("Date order", ORDERS[reading.stamp_order]),
        ("Time zone", reading.zone or "not known"),
        ("Empty cells", reading.blanks),
    ]
    for column in reading.columns:
        signal = SIGNALS[column.signal].label if column.signal else "not used"
        unit = f", {column.unit}" if column.unit else ""
        limit = f", on from {column.threshold:g}" if column.threshold is not None else ""
        turned = ", inverted" if column.inverted else ""
        rows.append(
            (f"Column {column.place + 1}: {column.heading}", signal + unit + limit + turned)
        )
    return rows + [("To confirm", question) for question in reading.questions]


def reading_to_plain(reading: FileReading) -> dict[str, Any]:
    """Return the reading as plain dicts, lists, texts and numbers, for JSON."""
    return asdict(reading)


def reading_from_plain(plain: Mapping[str, Any]) -> FileReading:
    """Return the reading that was kept.

    Raises:
        ReadingError: It is not one; the message holds every fault.
    """
    known = {item.name for item in fields(FileReading)}
    faults = [f"'{key}' is no part of a file reading.{near_miss(key, known)}"
              for key in plain if key not in known]  # fmt: skip
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
        raise ReadingError(f"column reading: unknown keys {', '.join(strangers)}.")
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
        faults.append(f"date order '{reading.stamp_order}' is not one of {', '.join(ORDERS)}.")
    if reading.blanks not in BLANKS:
        faults.append(f"empty cells: '{reading.blanks}' is not one of {', '.join(BLANKS)}.")
    if reading.decimal_mark not in (".", ","):
        faults.append(f"decimal mark '{reading.decimal_mark}' is neither point nor comma.")
    used = [column.signal for column in reading.columns if column.signal]
    for name in sorted({name for name in used if used.count(name) > 1}):
        faults.append(f"two columns are taken for {name}; choose one.")
    for column in reading.columns:
        faults += _column_faults(column)
    if faults:
        raise ReadingError("\n".join(f"Reading of the file: {fault}" for fault in faults))


def _column_faults(column: ColumnReading) -> list[str]:
    faults = []
    if column.signal and column.signal not in SIGNALS:
        hint = near_miss(column.signal, SIGNALS)
        faults.append(f"column '{column.heading}': '{column.signal}' is not a signal.{hint}")
    if column.unit and column.unit not in UNITS:
        faults.append(f"column '{column.heading}': '{column.unit}' is not a unit."
                      f"{near_miss(column.unit, UNITS)}")  # fmt: skip
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


def named_columns(headings: Sequence[str]) -> tuple[ColumnReading, ...]:
    """Return columns that are used for nothing yet."""
    return tuple(ColumnReading(place, heading) for place, heading in enumerate(headings))
