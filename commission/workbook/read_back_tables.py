"""A typed table that came back: found by its ranges, compared number by number.

A table is one reading. On the hidden sheet it is kept on one line: rows parted by "|", values
by ";", in the units that the workbook shows.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import Any

from commission.definitions.model import Field
from commission.engineering.chart import Chart, from_text
from commission.errors import CommissionError, ReadingError
from commission.formula.evaluate import Content
from commission.formula.excel import NOT_APPLICABLE
from commission.language import spoken
from commission.validation.entry import understand
from commission.validation.results import UnitResults
from commission.validation.table_entry import shown_chart, size_of
from commission.workbook.read_back_cells import Holds, ReturnedCell
from commission.workbook.read_back_exported import READING, kept_chart
from commission.workbook.read_back_readings import Target
from commission.workbook.read_back_rows import ReviewRow, Standing

_ALIKE = 1e-10  # twelve digits are kept of a number shown in another unit
_MOST_TOLD = 4


def compare_table(target: Target, field: Field, cell: ReturnedCell) -> ReviewRow:
    """Return how a returned table stands; accepted, it is entered as one reading."""
    target = target.about(READING)
    exported, results = target.exported, target.results
    system = exported.unit or "IP"
    now = _now(field, results, target, system)
    reading = results.reading(*exported.key)
    shown = {
        "was": _shown(exported.held),
        "now": _shown(now),
        "in_file": cell.text if cell.holds in (Holds.FORMULA, Holds.OTHER) else "",
        "now_id": reading.id if reading is not None else "",
    }
    if cell.holds is Holds.FORMULA:
        words = spoken(
            "holds the formula {value}; type the number of the literature.", value=cell.text[:80]
        )
        return target.row(Standing.FORMULA, cell.place, words, **shown)
    if cell.holds is Holds.OTHER:
        words = spoken("holds {value}, which is no number of a table.", value=cell.text[:80])
        return target.row(Standing.NOT_UNDERSTOOD, cell.place, words, **shown)
    plain = _plain(cell.text)
    if (plain is not None or not cell.text) and _alike(plain, _chart(exported.held)):
        return target.row(
            Standing.UNCHANGED, cell.place, "", **shown | {"in_file": _shown(exported.held)}
        )
    return _changed(target, field, cell, shown, now, system)


def _changed(
    target: Target,
    field: Field,
    cell: ReturnedCell,
    shown: dict[str, Any],
    now: Content | None,
    system: str,
) -> ReviewRow:
    exported, results = target.exported, target.results
    try:
        meant = understand(field, cell.text, system)
    except CommissionError as fault:
        words = str(fault).removeprefix(f"{field.label}: ")
        return target.row(Standing.NOT_UNDERSTOOD, cell.place, words, **shown)
    text = str(meant.content or "")
    given = shown_chart(field, text, system) if text else None
    held, standing_now = _chart(exported.held), _chart(now)
    shown |= {"in_file": size_of(given) if given is not None else ""}
    if _alike(given, held):
        return target.row(Standing.UNCHANGED, cell.place, "", **shown)
    if _alike(given, standing_now) and now != NOT_APPLICABLE:
        return target.row(
            Standing.TAKEN, cell.place, spoken("the project holds it already."), **shown
        )
    conflict = not _alike(held, standing_now)
    words = "; ".join(_told(held, given))
    if conflict:
        words += spoken(
            "; but the project holds {shown} now, not what was exported",
            shown=_shown(now) or spoken("none"),
        )
    moved = meant.remark.partition("; ")[2]
    unasked = (
        ""
        if results.relevant(*exported.key)
        else spoken("It is not asked with the answers so far.")
    )
    sentence = " ".join(part for part in (f"{words}.", moved, unasked) if part)
    # The project may show other units now than those the workbook was written in.
    entry = cell.text if system == results.unit_system else _in_system(field, text, results)
    standing = Standing.CONFLICT if conflict else Standing.CHANGED
    return target.row(standing, cell.place, sentence, **shown, entry=entry)


def _in_system(field: Field, text: str, results: UnitResults) -> str:
    return shown_chart(field, text, results.unit_system).to_text() if text else ""


def _now(field: Field, results: UnitResults, target: Target, system: str) -> Content | None:
    """Return what the project holds now, as it would be kept on the hidden sheet."""
    reading = results.reading(*target.exported.key)
    if reading is None or reading.is_unread:
        return None
    if reading.not_applicable:
        return NOT_APPLICABLE
    return kept_chart(field, str(reading.value), system)


def _plain(text: str) -> Chart | None:
    try:
        return from_text(text) if text else None
    except ReadingError:
        return None


def _chart(held: Content | None) -> Chart | None:
    """Return the table that a line of the hidden sheet holds."""
    return _plain(str(held or "").replace("|", "\n").replace(";", "\t"))


def _shown(held: Content | None) -> str:
    if held == NOT_APPLICABLE:
        return NOT_APPLICABLE
    chart = _chart(held)
    return size_of(chart) if chart is not None else str(held or "")


def _alike(first: Chart | None, second: Chart | None) -> bool:
    if first is None or second is None:
        return first is second
    pairs = ((first.rows, second.rows), (first.columns, second.columns))
    if any(len(ours) != len(theirs) for ours, theirs in pairs):
        return False
    lines = (*pairs, *zip(first.body, second.body, strict=True))
    return all(_same(*pair) for line in lines for pair in zip(*line, strict=True))


def _same(first: float | None, second: float | None) -> bool:
    if first is None or second is None:
        return first is second
    return math.isclose(first, second, rel_tol=_ALIKE, abs_tol=1e-300)


def _told(before: Chart | None, after: Chart | None) -> Iterator[str]:
    """Yield, in words, how the table in the file differs from the one that was sent out."""
    if before is None or after is None:
        yield spoken("{was} at export, {now} in the file", was=_size(before), now=_size(after))
        return
    yield from _lines_told("row", before.rows, after.rows)
    yield from _lines_told("column", before.columns, after.columns)
    changes = list(_values_told(before, after))
    yield from changes[:_MOST_TOLD]
    if len(changes) > _MOST_TOLD:
        yield spoken("and {count} more values", count=len(changes) - _MOST_TOLD)


def _size(chart: Chart | None) -> str:
    return "empty" if chart is None else size_of(chart)


def _lines_told(what: str, before: Sequence[float], after: Sequence[float]) -> Iterator[str]:
    for words, lines, others in (("added", after, before), ("gone", before, after)):
        named = [f"{line:g}" for line in lines if not _among(line, others)]
        if named:
            more = (
                spoken(" and {count} more", count=len(named) - _MOST_TOLD)
                if len(named) > _MOST_TOLD
                else ""
            )
            yield f"{what} {', '.join(named[:_MOST_TOLD])}{more} {words}"


def _among(line: float, lines: Sequence[float]) -> bool:
    return any(_same(line, other) for other in lines)


def _values_told(before: Chart, after: Chart) -> Iterator[str]:
    """Yield each value on a row and a column that both have, if it is another."""
    for row, line in zip(before.rows, before.body, strict=True):
        for place, was in enumerate(line):
            now = _value_at(after, row, before.columns[place] if before.columns else None)
            if now is not _GONE and not _same(was, now):  # type: ignore[arg-type]
                head = (
                    spoken(", column {columns:g}", columns=before.columns[place])
                    if before.columns
                    else ""
                )
                yield spoken(
                    "row {row:g}{head}: {was} at export, {now} in the file",
                    row=row,
                    head=head,
                    was=_figure(was),
                    now=_figure(now),
                )


_GONE = object()


def _value_at(chart: Chart, row: float, column: float | None) -> object:
    line = next((at for at, one in enumerate(chart.rows) if _same(one, row)), None)
    heads = chart.columns or (0.0,)
    place = next((at for at, one in enumerate(heads) if _same(one, column or 0.0)), None)
    return _GONE if line is None or place is None else chart.body[line][place]


def _figure(value: object) -> str:
    return "empty" if value is None else f"{value:.10g}"
