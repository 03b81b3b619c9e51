"""Headings and cells of a trend file -> the signals its columns seem to hold, and questions."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import replace

from commission.errors import UnitError
from commission.language import listed, spoken
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
            doubts = [
                spoken(
                    "'{heading}' and '{taken}' both look like {label}; the first is used.",
                    heading=heading,
                    taken=taken[column.signal],
                    label=SIGNALS[column.signal].label.lower(),
                )
            ]
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
        return column, [
            spoken(
                "'{heading}' fits no signal; it is not used unless you choose one.", heading=heading
            )
        ]
    if len(names) > 1:
        labels = listed((SIGNALS[name].label.lower() for name in names), "or")
        return column, [
            spoken(
                "'{heading}' could be {labels}; it is not used unless you choose.",
                heading=heading,
                labels=labels,
            )
        ]
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
            spoken(
                "'{heading}' holds numbers from {least:g} to {most:g}: taken as on from "
                "{threshold:.3g}. Confirm or change it.",
                heading=column.heading,
                least=min(known),
                most=max(known),
                threshold=threshold,
            )
        ]
    shown = ", ".join(f"'{word}'" for word in strange[:4])
    return column, [
        spoken(
            "'{heading}': {shown} says neither on nor off; say which.",
            heading=column.heading,
            shown=shown,
        )
    ]


def _number_column(column: ColumnReading, unit_text: str) -> tuple[ColumnReading, list[str]]:
    own = SIGNALS[column.signal].unit or ""
    inside = _IN_BRACKETS.findall(column.heading)
    texts = [unit_text.strip("()[] "), *inside, column.heading.rsplit(",", 1)[-1].strip()]
    texts.append(re.split(r"[\s_]", column.heading.strip())[-1])
    for text in texts:
        code = recognised(text) if text else None
        if code is not None and _convertible(code, own):
            return replace(column, unit=code), []
    return replace(column, unit=own), [
        spoken("'{heading}' names no unit: taken as {own}.", heading=column.heading, own=own)
    ]


def _convertible(source: str, target: str) -> bool:
    try:
        convert(0.0, source, target)
    except UnitError:
        return False
    return True
