"""Tables of what a page asks once: a row each, a column for each pass."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import groupby

from commission.definitions.model import LimitKind
from commission.language import spoken
from commission.package.look import QUIET, REGULAR, TABLE_SIZE
from commission.package.page_values import Item, PageValues
from commission.package.tables import LEAD, Cell, Column, DataTable, Row, title_width
from commission.package.typesetting import plain, width_of
from commission.validation.verdict import Verdict

_WHOLE = 516.0
_UNIT, _VALUE, _LIMIT, _MUST, _VERDICT, _UNCERTAIN, _INSTRUMENT = 40, 54, 92, 58, 72, 46, 36
_MOST_LIMIT, _LEAST_VERDICT = 112.0, 40.0
_WIDER_VALUE = 62.0  # where the title of a pass is long, as in some languages
_FEWEST_PAIRED = 6
_PAIRED_LABEL, _PAIRED_VALUE, _BETWEEN = 132, 120, 12


def single_tables(values: PageValues, items: Sequence[Item]) -> Iterator[DataTable]:
    """Yield tables in the order of the page: pairs where things are only recorded."""
    run: list[Item] = []
    for recorded, group in groupby(items, key=lambda item: _only_recorded(values, item)):
        found = list(group)
        if recorded and len(found) >= _FEWEST_PAIRED:
            yield from _table(values, run)
            yield paired_table((item[0].label, _with_unit(values, item)) for item in found)
            run = []
        else:
            run += found
    yield from _table(values, run)


def _only_recorded(values: PageValues, item: Item) -> bool:
    return (
        not values.verdicts(item) and not values.measured(item) and values.passes_of([item]) == [0]
    )


def _with_unit(values: PageValues, item: Item) -> str:
    return values.results.shown(item[0].name, item[1])


def paired_table(pairs: Iterable[tuple[str, str]]) -> DataTable:
    """Return a table of two labels with their values a row; a long value has its own row."""
    columns = [Column("", _PAIRED_LABEL), Column("", _PAIRED_VALUE), Column("", _BETWEEN)]
    columns += columns[:2]
    rows: list[Row] = []
    waiting: list[Cell | str] = []
    for label, text in pairs:
        pair: list[Cell | str] = [Cell(label, colour=QUIET), text]
        if width_of(plain(text), REGULAR, TABLE_SIZE) > 1.8 * _PAIRED_VALUE or "\n" in text:
            rows += [Row([*waiting, Cell(span=3)])] if waiting else []
            rows.append(Row([pair[0], Cell(text, span=4)]))
            waiting = []
        elif waiting:
            rows.append(Row([*waiting, "", *pair]))
            waiting = []
        else:
            waiting = pair
    rows += [Row([*waiting, Cell(span=3)])] if waiting else []
    return DataTable(columns, rows, header=False)


@dataclass(frozen=True, slots=True)
class _Columns:
    """Which columns a table has; the label takes the room that is left."""

    passes: Sequence[int]
    has_unit: bool
    judged: bool
    only_musts: bool
    measured: bool

    @property
    def extra(self) -> int:
        """How many columns stand behind the values."""
        return 2 * self.judged + 2 * self.measured

    @property
    def limit(self) -> int:
        return _MUST if self.only_musts else _LIMIT

    @property
    def label(self) -> float:
        values = len(self.passes) * _VALUE + _UNIT * self.has_unit
        judged = (self.limit + _VERDICT) * self.judged
        return _WHOLE - values - judged - (_UNCERTAIN + _INSTRUMENT) * self.measured


def _table(values: PageValues, items: Sequence[Item]) -> Iterator[DataTable]:
    if not items:
        return
    if all(_only_recorded(values, item) for item in items):
        yield paired_table((item[0].label, _with_unit(values, item)) for item in items)
        return
    shape = _shape(values, items)
    columns = [Column(spoken("Reading or quantity"), shape.label)]
    columns += [Column(spoken("Unit"), _UNIT)] * shape.has_unit
    columns += [Column(values.pass_title(p), _VALUE, "right") for p in shape.passes]
    if shape.judged:
        title = spoken("Must be") if shape.only_musts else spoken("Limit")
        columns += [Column(title, shape.limit, lead=LEAD), Column(spoken("Verdict"), _VERDICT)]
    if shape.measured:
        columns += [
            Column("±", _UNCERTAIN, "right"),
            Column(spoken("Instr."), _INSTRUMENT, lead=LEAD / 2),
        ]
    rows = [row for item in items for row in _rows(values, item, shape)]
    yield _fitted(DataTable(columns, rows), shape, _WHOLE / values.turnover.width)


def _fitted(table: DataTable, shape: _Columns, scale: float) -> DataTable:
    """Return the table with its columns of limit and verdict as wide as what they hold.

    What they give up, or take within bounds, is the label's. `scale` is how many units of
    `_WHOLE` a point has.
    """
    natural = [scale * width for width in table.natural_widths()]
    first = 1 + shape.has_unit
    limit = first + len(shape.passes)
    widths: dict[int, float] = {
        place: _WIDER_VALUE
        for place in range(first, limit)
        if scale * title_width(table.columns[place]) > _WIDER_VALUE
    }
    if shape.judged:
        widths[limit] = min(max(natural[limit], shape.limit), _MOST_LIMIT)
        widths[limit + 1] = min(max(natural[limit + 1], _LEAST_VERDICT), _VERDICT)
    columns = [
        replace(column, share=widths.get(place, column.share))
        for place, column in enumerate(table.columns)
    ]
    columns[0] = replace(columns[0], share=_WHOLE - sum(column.share for column in columns[1:]))
    return DataTable(columns, table.rows)


def _shape(values: PageValues, items: Sequence[Item]) -> _Columns:
    verdicts = [verdict for item in items for verdict in values.verdicts(item)]
    return _Columns(
        passes=values.passes_of(items),
        has_unit=any(values.unit_of(entry) for entry, _ in items),
        judged=bool(verdicts),
        only_musts=all(verdict.check.limit is LimitKind.IS for verdict in verdicts),
        measured=any(values.measured(item) for item in items),
    )


def _rows(values: PageValues, item: Item, shape: _Columns) -> Iterator[Row]:
    entry, index = item
    texts = values.pass_texts(item)
    shown = [texts[place] for place in shape.passes]
    verdicts = values.verdicts(item)
    long = _long_row(values, entry.label, shown, shape) if not verdicts else None
    if long is not None:
        yield long
        return
    unit_text = [values.unit_of(entry)] if shape.has_unit else []
    tail: list[Cell | str] = []
    if shape.measured:
        tag = values.instrument(entry.name, index)
        link = Cell(tag, link="instruments" if tag else "")
        tail = [values.uncertainty(entry.name, index), link]
    limit = values.limit_cells(verdicts[0] if verdicts else None) if shape.judged else []
    yield Row([entry.label, *unit_text, *shown, *limit, *tail], ruled=len(verdicts) < 2)
    yield from _further_checks(values, verdicts[1:], shape)


def _long_row(values: PageValues, label: str, shown: Sequence[str], shape: _Columns) -> Row | None:
    """Return a row for words too long for a value's column: in further columns, or all."""
    widths = [width_of(plain(text), REGULAR, TABLE_SIZE) for text in shown]
    if max(widths) <= _VALUE - 8:
        return None
    before = int(shape.has_unit) + len(shape.passes)
    given = [(p, text) for p, text in zip(shape.passes, shown, strict=True) if text]
    if len(given) == 1 and max(widths) <= _VALUE * len(shape.passes) + _UNIT * shape.has_unit - 8:
        return Row([label, Cell(given[0][1], span=before, align="right"), *[""] * shape.extra])
    text = given[0][1]
    if len(given) > 1:
        text = "\n".join(f"{values.pass_title(p)}: {text}" for p, text in given)
    return Row([label, Cell(text, span=before + shape.extra)])


def _further_checks(
    values: PageValues, verdicts: Sequence[Verdict], shape: _Columns
) -> Iterator[Row]:
    """Yield a row for each check after a value's first."""
    for place, verdict in enumerate(verdicts, 1):
        label = Cell(f"· {verdict.check.label}", colour=QUIET)
        blank: list[Cell | str] = [""] * (int(shape.has_unit) + len(shape.passes))
        tail: list[Cell | str] = [""] * (2 * shape.measured)
        cells = [label, *blank, *values.limit_cells(verdict), *tail]
        yield Row(cells, ruled=place == len(verdicts))


def table_of_other_pages(values: PageValues, verdicts: Sequence[Verdict]) -> DataTable:
    """Return the verdicts on what stands on other pages."""
    columns = [
        Column(spoken("Check"), 200),
        Column(spoken("Value"), 84),
        Column(spoken("Limit"), 110),
    ]
    columns += [Column(spoken("Verdict"), 80), Column("±", 42, "right")]
    rows = []
    for verdict in verdicts:
        check = verdict.check
        member = values.results.member_label(check.name, verdict.index)
        cells: list[Cell | str] = [", ".join(filter(None, (check.label, member)))]
        cells.append(values.results.shown(check.judges, verdict.index))
        cells += values.limit_cells(verdict)
        cells.append(values.uncertainty(check.judges, verdict.index))
        rows.append(Row(cells))
    return DataTable(columns, rows)
