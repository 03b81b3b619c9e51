"""Stamps of a trend file -> seconds, a block of cells at a time.

The digits of each cell are gathered into fields by one pass over its characters, all cells
at once, so "2026-06-15 08:00:00", "6/15/26 8:00 AM", "15.06.2026 08:00" and
"15-Jun-2026 08:00:00.5" are one path.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

_MONTHS = ("JAN", "FEB", "MAR", "APR", "MAY", "JUN", "JUL", "AUG", "SEP", "OCT", "NOV", "DEC")
_FIELDS, _LONGEST = 10, 40
_UNIX_DAY_OF_SERIAL_0 = -25_569.0  # a spreadsheet's day 0 is 1899-12-30
_LETTERS = re.compile("[A-Z]")

Seconds = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class StampFields:
    """Numbers found in each cell, (cells, 10): their value, digits, and the character before."""

    value: NDArray[np.int64]
    digits: NDArray[np.int8]
    before: NDArray[np.uint8]
    count: NDArray[np.int8]
    half: NDArray[np.int8]  # 0 none, 1 AM, 2 PM
    zulu: NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class Stamps:
    """Seconds by the file's own clock (NaN where unreadable), and the offset written, or NaN."""

    local: Seconds
    offset: Seconds


def stamp_fields(cells: Sequence[str]) -> StampFields:
    """Return the numbers of each cell."""
    text = "\n".join(cell[:_LONGEST] for cell in cells).upper()
    zulu = half = None
    if _LETTERS.search(text):
        parts = text.split("\n")
        half = np.array([2 * _says(part, "P") or _says(part, "A") for part in parts], np.int8)
        zulu = np.array([part.rstrip().endswith("Z") for part in parts])
        for number, name in enumerate(_MONTHS, 1):
            text = text.replace(name, f" {number} ")
    rows = [part.encode("ascii", "replace") for part in text.split("\n")]
    size = len(rows)
    array = np.array(rows, dtype=np.bytes_)
    width = max(array.dtype.itemsize, 1)
    characters = array.view(np.uint8).reshape(size, width)
    value, digits, before, count = _gather(characters)
    return StampFields(
        value, digits, before, count,
        half if half is not None else np.zeros(size, np.int8),
        zulu if zulu is not None else np.zeros(size, bool),
    )  # fmt: skip


def _says(part: str, letter: str) -> int:
    """Return 1 where a time ends in AM or PM (or A.M., a, p), for the letter A or P."""
    return int(re.search(rf"\d\s*{letter}\.?(?:M\b|M\.|\b)", part) is not None)


def _gather(
    characters: NDArray[np.uint8],
) -> tuple[NDArray[np.int64], NDArray[np.int8], NDArray[np.uint8], NDArray[np.int8]]:
    size, width = characters.shape
    value = np.zeros((size, _FIELDS + 1), np.int64)
    digits = np.zeros((size, _FIELDS + 1), np.int8)
    before = np.zeros((size, _FIELDS + 1), np.uint8)
    place = np.full(size, -1)
    rows = np.arange(size)
    was_digit = np.zeros(size, bool)
    last = np.full(size, ord(" "), np.uint8)
    for column in range(width):
        character = characters[:, column]
        is_digit = (character >= 48) & (character <= 57)
        begins = is_digit & ~was_digit
        if begins.any():
            place = np.minimum(place + begins, _FIELDS)
            at = rows[begins]
            before[at, place[begins]] = last[begins]
        if is_digit.any():
            at, to = rows[is_digit], place[is_digit]
            value[at, to] = np.minimum(value[at, to], 10**16) * 10 + (character[is_digit] - 48)
            digits[at, to] += 1
        was_digit, last = is_digit, character
    count = (place + 1).astype(np.int8)
    return value[:, :_FIELDS], digits[:, :_FIELDS], before[:, :_FIELDS], count


def stamps_of(fields: StampFields, order: str) -> Stamps:
    """Return the seconds that date-and-time cells say, read in an order ("ymd", "mdy", "dmy")."""
    value, digits = _unpacked(fields)
    year, month, day = (value[:, order.index(letter)] for letter in "ymd")
    year = np.where(year < 70, year + 2_000, np.where(year < 100, year + 1_900, year))
    is_time = _time_fields(fields, digits)
    hour, minute, second = (np.where(is_time[part], value[:, 3 + part], 0) for part in range(3))
    hour = np.where((fields.half > 0) & (hour == 12), 0, hour) + 12 * (fields.half == 2)
    possible = (
        (fields.count >= 3) & (month >= 1) & (month <= 12) & (day >= 1)
        & (day <= _days_in(year, month)) & (hour <= 24) & (minute < 60) & (second <= 60)
        & (year > 1_900) & (year < 2_200)
    )  # fmt: skip
    seconds = _days(year, month, day) * 86_400.0 + hour * 3_600 + minute * 60 + second
    seconds = seconds + _fraction(fields, value, digits)
    local = np.where(possible, seconds, np.nan)
    return Stamps(local, _offset(fields, value, digits))


def _unpacked(fields: StampFields) -> tuple[NDArray[np.int64], NDArray[np.int8]]:
    """Return fields with a packed date (20260615) and time (080000) taken apart."""
    if not (fields.digits[:, 0] == 8).any():
        return fields.value, fields.digits
    value, digits = fields.value.copy(), fields.digits.copy()
    packed = digits[:, 0] == 8
    date, time = value[packed, 0], value[packed, 1]
    short = digits[packed, 1] == 4  # hours and minutes only
    time = np.where(short, time * 100, time)
    apart = (date // 10_000, date // 100 % 100, date % 100, time // 10_000, time // 100 % 100,
             time % 100)  # fmt: skip
    whole = digits[packed, 1] >= 4
    for place, part in enumerate(apart):
        value[packed, place] = np.where((place < 3) | whole, part, value[packed, place - 2])
        digits[packed, place] = 2
    fields.count[packed] = np.where(whole, 6, fields.count[packed] + 2)
    return value, digits


def _time_fields(fields: StampFields, digits: NDArray[np.int8]) -> list[NDArray[np.bool_]]:
    """Return which of the fields 3, 4, 5 are hour, minute and second, not an offset."""
    found = []
    still = np.ones(len(fields.count), bool)
    for place in (3, 4, 5):
        sign = (fields.before[:, place] == ord("+")) | (fields.before[:, place] == ord("-"))
        still = still & (fields.count > place) & ~sign & (digits[:, place] <= 2)
        found.append(still)
    return found


def _fraction(fields: StampFields, value: NDArray[np.int64], digits: NDArray[np.int8]) -> Seconds:
    mark = (fields.before[:, 6] == ord(".")) | (fields.before[:, 6] == ord(","))
    is_part = (fields.count > 6) & mark
    if not is_part.any():
        return np.zeros(len(mark))
    return np.asarray(np.where(is_part, value[:, 6] / 10.0 ** digits[:, 6], 0.0))


def _offset(fields: StampFields, value: NDArray[np.int64], digits: NDArray[np.int8]) -> Seconds:
    """Return the offset from UTC written after the time, s; 0 for Z; NaN for none."""
    result = np.where(fields.zulu, 0.0, np.nan)
    for place in (4, 5, 6, 7):
        sign = fields.before[:, place]
        signed = (fields.count > place) & ((sign == ord("+")) | (sign == ord("-")))
        if not signed.any():
            continue
        packed = digits[:, place] == 4
        hours = np.where(packed, value[:, place] // 100, value[:, place])
        minutes = np.where(packed, value[:, place] % 100, 0)
        follows = (fields.count > place + 1) & (fields.before[:, place + 1] == ord(":"))
        minutes = np.where(follows, value[:, place + 1], minutes)
        seconds = (hours * 3_600 + minutes * 60) * np.where(sign == ord("-"), -1.0, 1.0)
        result = np.where(signed & (np.abs(seconds) <= 50_400), seconds, result)
    return np.asarray(result)


def _days(year: NDArray[np.int64], month: NDArray[np.int64], day: NDArray[np.int64]) -> Seconds:
    """Return days since 1970-01-01 of the proleptic Gregorian calendar."""
    years = year - (month <= 2)
    era = years // 400
    of_era = years - era * 400
    of_year = (153 * (month + np.where(month > 2, -3, 9)) + 2) // 5 + day - 1
    days = of_era * 365 + of_era // 4 - of_era // 100 + of_year
    return np.asarray(era * 146_097 + days - 719_468, np.float64)


def _days_in(year: NDArray[np.int64], month: NDArray[np.int64]) -> NDArray[np.int64]:
    days = np.array([0, 31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31])
    leap = (year % 4 == 0) & ((year % 100 != 0) | (year % 400 == 0))
    return np.asarray(days[np.clip(month, 0, 12)] + (leap & (month == 2)))


def counted_stamps(cells: Sequence[str], order: str, decimal_mark: str) -> Stamps:
    """Return the seconds that plain numbers say ("epoch s", "epoch ms", "serial day").

    A spreadsheet's days are by the file's own clock; epochs are UTC, so offset 0.
    """
    numbers = np.array([_number(cell, decimal_mark) for cell in cells])
    if order == "serial day":
        # A day's fraction is kept to about a microsecond; whole milliseconds are meant.
        seconds = np.round((numbers + _UNIX_DAY_OF_SERIAL_0) * 86_400.0, 3)
        return Stamps(seconds, np.full(len(numbers), np.nan))
    return Stamps(numbers / (1_000.0 if order == "epoch ms" else 1.0), np.zeros(len(numbers)))


def _number(cell: str, decimal_mark: str) -> float:
    try:
        return float(cell.replace(decimal_mark, "."))
    except ValueError:
        return float("nan")


def read_stamps(cells: Sequence[str], order: str, decimal_mark: str) -> Stamps:
    """Return the seconds that cells say, read in one of `ORDERS`."""
    if order in ("ymd", "mdy", "dmy"):
        return stamps_of(stamp_fields(cells), order)
    return counted_stamps(cells, order, decimal_mark)
