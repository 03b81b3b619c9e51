"""Tables of the literature as they were typed, in the units that the project shows."""

from __future__ import annotations

from collections.abc import Iterator

from commission.definitions.model import Axis, Field, Kind
from commission.engineering.chart import Chart
from commission.formula.figures import figure
from commission.language import spoken
from commission.package.look import BOLD, QUIET
from commission.package.page_values import PageValues
from commission.package.tables import Cell, Column, DataTable, Row
from commission.units import shown_unit

_MOST_ACROSS = 10
_HEAD_SHARE, _SHARE = 2.0, 1.0


def typed_tables(values: PageValues) -> Iterator[tuple[str, DataTable]]:
    """Yield (caption, table) for each typed table of a page, wide ones in parts."""
    for entry, members in values.shown_entries():
        if not isinstance(entry, Field) or entry.kind is not Kind.TABLE:
            continue
        for member in members:
            chart = values.results.table(entry.name, member)
            if chart is not None:
                yield from _parts(values, entry, chart)


def _parts(values: PageValues, asked: Field, chart: Chart) -> Iterator[tuple[str, DataTable]]:
    wide = max(len(chart.columns), 1)
    for start in range(0, wide, _MOST_ACROSS):
        end = min(start + _MOST_ACROSS, wide)
        yield _caption(values, asked, start), _part(values, asked, chart, start, end)


def _caption(values: PageValues, asked: Field, start: int) -> str:
    assert asked.body is not None
    body = _named(values, asked.body)
    if asked.columns is not None:
        across = _named(values, asked.columns)
        told = spoken(
            "{label}, as typed ({body}; across: {across})",
            label=asked.label,
            body=body,
            across=across,
        )
    else:
        told = spoken("{label}, as typed ({body})", label=asked.label, body=body)
    return spoken("{text} (continued)", text=told) if start else told


def _part(values: PageValues, asked: Field, chart: Chart, start: int, end: int) -> DataTable:
    assert asked.rows is not None and asked.body is not None
    heads = [_shown(values, at, asked.columns) for at in chart.columns[start:end]]
    titles = heads or [_named(values, asked.body)]
    columns = [Column(_named(values, asked.rows), _HEAD_SHARE)]
    columns += [Column(title, _SHARE, "right") for title in titles]
    columns += [Column("", _SHARE)] * (_MOST_ACROSS - len(titles))
    rows = []
    for row, line in zip(chart.rows, chart.body, strict=True):
        cells = [_shown(values, value, asked.body) for value in line[start:end]]
        empty = [""] * (_MOST_ACROSS - len(cells))
        read = [text if text else Cell("–", colour=QUIET) for text in cells]
        rows.append(Row([Cell(_shown(values, row, asked.rows), BOLD), *read, *empty]))
    return DataTable(columns, rows)


def _named(values: PageValues, axis: Axis) -> str:
    unit = shown_unit(axis.unit, values.results.unit_system)
    return f"{axis.label}, {unit}" if unit else axis.label


def _shown(values: PageValues, value: float | None, axis: Axis | None) -> str:
    if value is None or axis is None:
        return ""
    same = shown_unit(axis.unit, values.results.unit_system) == axis.unit
    return figure(value, axis.decimals if same else None)
