"""An equipment schedule as a table of texts: from .csv, .xlsx or .ods, its head row found."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from commission.definitions.model import Form
from commission.errors import IncomingFileError
from commission.language import spoken
from commission.units import recognised
from commission.workbook.incoming_tables import IncomingSheet
from commission.workbook.incoming_worker import read_tables
from commission.workbook.schedule_match import TAG, Matched, match_heads

_MOST_BYTES, _MOST_ROWS, _MOST_COLUMNS, _HEAD_ROWS = 20_000_000, 5_000, 200, 30
_FEWEST_MATCHED = 2


@dataclass(frozen=True, slots=True)
class ScheduleTable:
    """The rows of a schedule below its heads. `rows` are (row of the file from 1, texts)."""

    path: Path
    sheet: str
    columns: tuple[Matched, ...]
    rows: tuple[tuple[int, tuple[str, ...]], ...]
    set_aside: tuple[str, ...] = ()


def read_schedule(
    path: Path,
    form: Form,
    cancelled: Callable[[], bool] | None = None,
    *,
    by_hand: bool = False,
) -> ScheduleTable:
    """Return a schedule with its columns matched; nothing is understood yet.

    Args:
        by_hand: A person can say what the columns are: then the heads may be unknown ones, the
            tag's too.

    Raises:
        IncomingFileError: The file is hostile, damaged, too large, or has no row of heads with
            a tag and at least one more column that the form asks; `by_hand`: no heads at all.
    """
    path = Path(path)
    if path.suffix.casefold() in (".csv", ".txt", ".tsv"):
        tables = {"": _csv_rows(path)}
        set_aside: tuple[str, ...] = ()
    else:
        incoming = read_tables(path, computed=True, cancelled=cancelled)
        tables = {sheet.title: _sheet_rows(sheet) for sheet in incoming.sheets if sheet.visible}
        set_aside = incoming.set_aside
    title, columns, rows = _best_of(tables, form, _with_heads)
    if not columns and by_hand:
        title, columns, rows = _best_of(tables, form, _with_any_heads)
    if not columns:
        raise IncomingFileError(
            spoken(
                "{path}: no row of heads with a tag (Tag, Mark, Unit No.) and a column that the "
                "form asks, within the first {head_rows} rows. Put the names over the columns.",
                path=path,
                head_rows=_HEAD_ROWS,
            )
        )
    return ScheduleTable(path, title, tuple(columns), tuple(rows), set_aside)


Rows = list[tuple[int, tuple[str, ...]]]
Headed = tuple[list[Matched], Rows]
"""Columns with what each holds, and the rows below their heads."""


def _best_of(
    tables: Mapping[str, Rows], form: Form, headed: Callable[[Rows, Form], Headed]
) -> tuple[str, list[Matched], Rows]:
    """Return the table of which most columns are known, its title first."""
    found = [(title, *headed(rows, form)) for title, rows in tables.items()]
    return max(found, key=lambda one: (_known(one[1]), bool(one[1])), default=("", [], []))


def _with_heads(rows: Rows, form: Form) -> Headed:
    """Return the columns by the row of heads that matches most, the tag among them."""
    tagged = [
        (columns, below)
        for columns, below in _headed(rows, form)
        if _known(columns) >= _FEWEST_MATCHED and any(one.field == TAG for one in columns)
    ]
    return max(tagged, key=lambda one: _known(one[0]), default=([], []))


def _with_any_heads(rows: Rows, form: Form) -> Headed:
    """Return the columns by the row that matches most, or by the first that may be heads."""
    found = list(_headed(rows, form))
    matched = [one for one in found if _is_matched(one[0])]
    if matched:
        return max(matched, key=lambda one: _known(one[0]))
    return next((one for one in found if _may_be_heads(*one)), ([], []))


def _headed(rows: Rows, form: Form) -> Iterator[Headed]:
    """Yield what each of the first rows gives, taken as the row of heads."""
    for place, (_, texts) in enumerate(rows[:_HEAD_ROWS]):
        units = rows[place + 1][1] if place + 1 < len(rows) else ()
        has_units = _is_units(units)
        columns = match_heads(texts, form, units if has_units else ())
        yield columns, rows[place + 1 + has_units :]


def _known(columns: Sequence[Matched]) -> int:
    return sum(column.is_known for column in columns)


def _is_matched(columns: Sequence[Matched]) -> bool:
    """Whether a row has a known head: beside others, or the tag's alone; a lone word is a title."""
    heads = [column for column in columns if column.head]
    is_tag_alone = [column.field for column in heads] == [TAG]
    return is_tag_alone or (_known(heads) > 0 and len(heads) >= _FEWEST_MATCHED)


def _may_be_heads(columns: Sequence[Matched], below: Rows) -> bool:
    """Whether a row of unknown words stands over a table: no number in it, as wide a row below."""
    heads = [column.head for column in columns if column.head]
    widest = max((sum(bool(text.strip()) for text in texts) for _, texts in below), default=0)
    has_number = any(head.replace(",", "").replace(".", "").isdigit() for head in heads)
    return _FEWEST_MATCHED <= len(heads) <= widest and not has_number


def _is_units(texts: tuple[str, ...]) -> bool:
    """Whether a row below the heads says nothing but units, such as "(CFM)"."""
    said = [text.strip("()[] ") for text in texts if text.strip()]
    return bool(said) and all(recognised(text) is not None for text in said)


def _sheet_rows(sheet: IncomingSheet) -> Rows:
    last = min(sheet.last_column, _MOST_COLUMNS)
    return [
        (number, tuple(sheet.text(number, column) for column in range(1, last + 1)))
        for number in sorted(sheet.rows)[:_MOST_ROWS]
    ]


def _csv_rows(path: Path) -> Rows:
    try:
        if path.stat().st_size > _MOST_BYTES:
            raise IncomingFileError(
                spoken(
                    "{path}: more than {most_bytes} MB; a schedule is smaller.",
                    path=path,
                    most_bytes=_MOST_BYTES // 1000000,
                )
            )
        content = path.read_bytes()
    except OSError as fault:
        raise IncomingFileError(
            spoken(
                "{path}: cannot be read ({strerror}). Check the name.",
                path=path,
                strerror=fault.strerror,
            )
        ) from None
    text = _decoded(path, content)
    try:
        dialect: type[csv.Dialect] | csv.Dialect = csv.Sniffer().sniff(text[:20_000], ",;\t|")
    except csv.Error:
        dialect = csv.excel
    try:
        lines = list(csv.reader(io.StringIO(text), dialect))
    except csv.Error as fault:
        raise IncomingFileError(
            spoken("{path}: is no table ({fault}). Save it anew as CSV.", path=path, fault=fault)
        ) from None
    return [
        (number, tuple(cell.strip() for cell in line[:_MOST_COLUMNS]))
        for number, line in enumerate(lines[:_MOST_ROWS], start=1)
    ]


def _decoded(path: Path, content: bytes) -> str:
    for encoding in ("utf-8-sig", "cp1252"):
        try:
            text = content.decode(encoding)
        except UnicodeDecodeError:
            continue
        if "\0" not in text:
            return text
    raise IncomingFileError(
        spoken("{path}: is no text. Give the schedule as CSV or as a spreadsheet.", path=path)
    )
