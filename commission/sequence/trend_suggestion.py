"""Headings and cells of a trend file -> the signals its columns seem to hold, and questions."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import replace

from commission.errors import UnitError
from commission.sequence.trend_columns import number_in, state_of
from commission.sequence.trend_reading import ColumnReading
from commission.sequence.trend_signals import SIGNALS, suggested_signals
from commission.units import convert, recognised

_IN_BRACKETS = re.compile(r"[(\[{]\s*([^)\]}]*?)\s*[)\]}]")


def suggested_columns(
    headings: Sequence[str], units: Sequence[str], rows: Sequence[Sequence[str]],
    places: tuple[int, ...], decimal: str, width: int,
) -> tuple[tuple[ColumnReading, ...], list[str]]:  # fmt: skip
    """Return a column reading for each column but the stamps, and what a person must decide."""
    columns, questions = [], []
    taken: dict[str, str] = {}
    some = [row for row in rows if len(row) == width]
    for place, heading in enumerate(headings):
        if place in places:
            continue
        unit_text = units[place] if units else ""
        cells = [row[place] for row in some]
        column, doubts = _column(place, heading, unit_text, cells, decimal)
        if column.signal in taken:
            doubts = [f"'{heading}' and '{taken[column.signal]}' both look like "
                      f"{SIGNALS[column.signal].label.lower()}; the first is used."]  # fmt: skip
            column = replace(column, signal="")
        elif column.signal:
            taken[column.signal] = heading
        columns.append(column)
        questions += doubts
    return tuple(columns), questions


def _column(
    place: int, heading: str, unit_text: str, cells: Sequence[str], decimal: str
) -> tuple[ColumnReading, list[str]]:
    column = ColumnReading(place, heading)
    names = suggested_signals(heading)
    if not names:
        return column, [f"'{heading}' fits no signal; it is not used unless you choose one."]
    if len(names) > 1:
        labels = " or ".join(SIGNALS[name].label.lower() for name in names)
        return column, [f"'{heading}' could be {labels}; it is not used unless you choose."]
    column = replace(column, signal=names[0])
    if SIGNALS[names[0]].is_on_off:
        return _state_column(column, cells, decimal)
    return _number_column(column, unit_text)


def _state_column(
    column: ColumnReading, cells: Sequence[str], decimal: str
) -> tuple[ColumnReading, list[str]]:
    words = Counter(cell.strip().lower() for cell in cells if cell.strip())
    strange = [word for word in words if state_of(word, column, decimal) is None]
    if not strange:
        return column, []
    numbers = [number_in(word, decimal) for word in words]
    known = [number for number in numbers if number is not None]
    if len(known) == len(numbers) and known:
        threshold = max(known) / 4
        return replace(column, threshold=threshold), [
            f"'{column.heading}' holds numbers from {min(known):g} to {max(known):g}: taken as on "
            f"from {threshold:.3g}. Confirm or change it."
        ]
    shown = ", ".join(f"'{word}'" for word in strange[:4])
    return column, [f"'{column.heading}': {shown} says neither on nor off; say which."]


def _number_column(column: ColumnReading, unit_text: str) -> tuple[ColumnReading, list[str]]:
    own = SIGNALS[column.signal].unit or ""
    inside = _IN_BRACKETS.findall(column.heading)
    texts = [unit_text.strip("()[] "), *inside, column.heading.rsplit(",", 1)[-1].strip()]
    texts.append(re.split(r"[\s_]", column.heading.strip())[-1])
    for text in texts:
        code = recognised(text) if text else None
        if code is not None and _convertible(code, own):
            return replace(column, unit=code), []
    return replace(column, unit=own), [f"'{column.heading}' names no unit: taken as {own}."]


def _convertible(source: str, target: str) -> bool:
    try:
        convert(0.0, source, target)
    except UnitError:
        return False
    return True
