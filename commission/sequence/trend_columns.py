"""Cells of a trend file -> states and measurements, a block at a time."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from commission.errors import ReadingError, UnitError
from commission.language import spoken
from commission.sequence.trend_log import OFF, ON, UNKNOWN, Column
from commission.sequence.trend_reading import ColumnReading
from commission.sequence.trend_signals import SIGNALS
from commission.units import convert

ON_WORDS = frozenset(
    "on true yes y t active enabled enable run running start started energized energised proved "
    "proven made occupied occ alarm trip tripped fault called call".split()
)
OFF_WORDS = frozenset(
    "off false no n f inactive disabled disable stop stopped idle de-energized de-energised "
    "unproved unproven unoccupied unocc normal ok okay clear none".split()
)
# A switch that is "closed" is on where it proves, off where it protects.
_CLOSED_IS_ON = frozenset({"vent_switch", "airflow_proved", "filter_dirty"})
_SWITCHES = re.compile(r"(_open|_trip)$")
_BLANK = frozenset(
    {"", "-", "--", "---", "n/a", "na", "nan", "null", "none", "#n/a", "?", "missing"}
)
_NUMBER = {
    decimal: re.compile(
        rf"(?P<sign>[-+−]?)(?P<whole>\d{{1,3}}(?:[{thousands}'\s]\d{{3}})+(?!\d)|\d*)"
        rf"(?:{re.escape(decimal)}(?P<part>\d*))?(?P<exponent>[eE][-+]?\d+)?"
    )
    for decimal, thousands in ((".", ","), (",", "."))
}


@dataclass(slots=True)
class ColumnParser:
    """Turns one column's cells into values; remembers what it could not read."""

    column: ColumnReading
    decimal_mark: str
    unread: dict[str, int] = field(default_factory=dict)
    blanks: int = 0
    _words: dict[str, int] = field(default_factory=dict)

    def block(self, cells: Sequence[str]) -> Column:
        """Return a block's values: int8 states, or float32 in the signal's unit."""
        signal = SIGNALS[self.column.signal]
        if signal.is_on_off:
            return self._states(cells)
        return self._scaled(self._numbers(cells), signal.unit or "")

    def _states(self, cells: Sequence[str]) -> NDArray[np.int8]:
        if self.column.threshold is not None:
            return self._above(self._numbers(cells), self.column.threshold)
        table = self._words
        for word in set(cells).difference(table):
            table[word] = self._state(word)
        found = np.fromiter(map(table.__getitem__, cells), np.int8, len(cells))
        if (found == UNKNOWN).any():
            self._count(cells)
        return found

    def _above(self, numbers: NDArray[np.float32], threshold: float) -> NDArray[np.int8]:
        states = np.where(numbers >= threshold, np.int8(ON), np.int8(OFF))
        if self.column.inverted:
            states = (ON - states).astype(np.int8)
        return np.where(np.isnan(numbers), np.int8(UNKNOWN), states)

    def _state(self, cell: str) -> int:
        state = state_of(cell, self.column, self.decimal_mark)
        if state is None:
            return UNKNOWN
        return OFF if state == self.column.inverted else ON

    def _numbers(self, cells: Sequence[str]) -> NDArray[np.float32]:
        self.blanks += cells.count("")
        try:
            return np.fromiter(map(float, self._plain(cells)), np.float32, len(cells))
        except ValueError:
            self.blanks -= cells.count("")
            return np.array([self._number(cell) for cell in cells], np.float32)

    def _plain(self, cells: Sequence[str]) -> Sequence[str]:
        """Return cells that `float` can read, if each is a plain number or empty."""
        if self.decimal_mark == ",":
            text = "\n".join(cells)
            if "." in text:  # a thousands mark, perhaps
                raise ValueError(text)
            cells = text.replace(",", ".").split("\n")
        return [cell or "nan" for cell in cells] if "" in cells else cells

    def _number(self, cell: str) -> float:
        text = cell.strip()
        if text.lower() in _BLANK:
            self.blanks += 1
            return float("nan")
        number = number_in(text, self.decimal_mark)
        if number is None:
            self.unread[text] = self.unread.get(text, 0) + 1
            return float("nan")
        return number

    def _count(self, cells: Sequence[str]) -> None:
        for cell, times in Counter(cells).items():
            if self._words[cell] != UNKNOWN:
                continue
            text = cell.strip()
            if text.lower() in _BLANK:
                self.blanks += times
            else:
                self.unread[text] = self.unread.get(text, 0) + times

    def _scaled(self, numbers: NDArray[np.float32], unit: str) -> NDArray[np.float32]:
        source = self.column.unit or unit
        if source == unit:
            return numbers
        scale, shift = linear(source, unit, self.column.heading)
        return (numbers * np.float32(scale) + np.float32(shift)).astype(np.float32)


def linear(source: str, target: str, heading: str) -> tuple[float, float]:
    """Return scale and shift from one unit to another.

    Raises:
        ReadingError: The two measure different things.
    """
    try:
        shift = convert(0.0, source, target)
        return convert(1.0, source, target) - shift, shift
    except UnitError as error:
        raise ReadingError(
            spoken(
                "column '{heading}': {error} Choose the column's unit.",
                heading=heading,
                error=error,
            )
        ) from None


def state_of(cell: str, column: ColumnReading, decimal_mark: str) -> bool | None:
    """Return whether a cell says on; None where it says nothing known."""
    text = cell.strip().lower()
    if text in column.on_words:
        return True
    if text in column.off_words:
        return False
    if text in ("open", "opened", "closed", "close"):
        return _switch(text.startswith("close"), column.signal)
    if text in ON_WORDS or text in OFF_WORDS:
        return text in ON_WORDS
    try:
        number = float(text.replace(decimal_mark, "."))
    except ValueError:
        return None
    return {0.0: False, 1.0: True, 100.0: True}.get(number)


def _switch(closed: bool, signal: str) -> bool | None:
    if signal in _CLOSED_IS_ON:
        return closed
    if _SWITCHES.search(signal):
        return not closed
    if signal.startswith("gas_valve"):
        return not closed
    return None


def number_in(text: str, decimal_mark: str) -> float | None:
    """Return the number in a cell such as "1,234.5", "72.3 °F" or "−4", or None.

    Digits in groups of three may be apart; any other stray mark ("71,5" in a file with
    decimal points) is refused rather than guessed.
    """
    found = _NUMBER[decimal_mark].match(text)
    if not found or not (found["whole"] or found["part"]):
        return None
    rest = text[found.end() :].strip()
    if len(rest) > 8 or any(character.isdigit() for character in rest):
        return None
    if rest[:1] in (".", ",", "'"):
        return None
    whole = re.sub(r"[^\d]", "", found["whole"])
    sign = "-" if found["sign"] in ("-", "−") else ""
    exponent = found["exponent"] or ""
    return float(f"{sign}{whole or '0'}.{found['part'] or '0'}{exponent}")


def hold_last(column: Column, joined: NDArray[np.bool_]) -> Column:
    """Return a column whose unknown cells hold the value before, never across a break."""
    known = column != UNKNOWN if column.dtype == np.int8 else ~np.isnan(column)
    rows = np.where(known, np.arange(len(column)), 0)
    source = np.maximum.accumulate(rows)
    begins = np.maximum.accumulate(np.where(joined, 0, np.arange(len(column))))
    usable = (source >= begins) & known[source]
    held: Column = np.where(usable, column[source], column)
    return held
