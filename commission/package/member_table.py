"""Tables of what a page asks of several members: a column for each circuit, compressor ...

Things of two repeats (compressor by leg, traverse line by point) are a grid each.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from commission.definitions.model import Check
from commission.language import spoken
from commission.package.look import QUIET
from commission.package.page_values import UNREAD, Asked, Index, Item, PageValues, face, value_ink
from commission.package.tables import LEAD, Cell, Column, DataTable, Row
from commission.package.wording import verdict_colour, verdict_glyph, verdict_mark
from commission.validation.report import word
from commission.validation.sentences import pass_words
from commission.validation.verdict import Outcome, Verdict

_WHOLE = 516.0
_MOST_COLUMNS = 6
_LABEL, _UNIT, _PASS, _LIMIT, _INSTRUMENT = 150, 42, 44, 98, 38
_ROOM_FOR_BOTH = 62.0
_LEAST_MEMBER = 62.0
_WIDEST_MEMBER, _WIDEST_GRID_CELL, _ROW_NAME = 112.0, 84.0, 84.0


def member_tables(
    values: PageValues, entries: Sequence[Asked], members: Sequence[Index]
) -> Iterator[DataTable]:
    """Yield one table with a column a member, or a row a member where there are many."""
    if len(members) <= _MOST_COLUMNS:
        yield _by_entry(values, entries, members)
        return
    for first in range(0, len(entries), _MOST_COLUMNS):
        yield _by_member(values, entries[first : first + _MOST_COLUMNS], members)


# -- a column for each member ------------------------------------------------------------


def _by_entry(values: PageValues, entries: Sequence[Asked], members: Sequence[Index]) -> DataTable:
    passes = values.passes_of((entry, member) for entry in entries for member in members)
    several = len(passes) > 1
    judged = any(entry.name in values.checks for entry in entries)
    with_unit = any(values.unit_of(entry) for entry in entries)
    measured = any(values.instrument(entry.name, m) for entry in entries for m in members)
    fixed = _UNIT * with_unit + _PASS * several + _LIMIT * judged + _INSTRUMENT * measured
    room = (_WHOLE - _LABEL - fixed) / len(members)
    shape = _Shape(with_unit, several, judged, measured, beside=room >= _ROOM_FOR_BOTH)
    rows = [
        row for entry in entries for row in _EntryRows(values, entry, members, shape).rows(passes)
    ]
    name = entries[0].name
    before = [Column(spoken("Unit"), _UNIT)] * with_unit
    before += [Column(spoken("Pass"), _PASS)] * several
    after = [Column(spoken("Limit"), _LIMIT, lead=LEAD)] * judged
    after += [Column(spoken("Instr."), _INSTRUMENT, lead=LEAD / 2)] * measured
    titles = [values.results.member_label(name, member) for member in members]

    def table(share: float) -> DataTable:
        label = Column(spoken("Reading or quantity"), _WHOLE - fixed - share * len(members))
        shown = [Column(title, share, "right") for title in titles]
        return DataTable([label, *before, *shown, *after], rows)

    widest = min(room, _WIDEST_MEMBER)
    first = 1 + len(before)
    scale = _WHOLE / values.turnover.width
    natural = table(widest).natural_widths()[first : first + len(members)]
    return table(min(widest, max(scale * max(natural), _LEAST_MEMBER)))


@dataclass(frozen=True, slots=True)
class _Shape:
    """Which columns a table has beside the members; `beside`: ± stands beside the value."""

    with_unit: bool
    several: bool
    judged: bool
    measured: bool
    beside: bool


class _EntryRows:
    """The rows of one entry: its values a pass, uncertainty, each check."""

    def __init__(
        self, values: PageValues, entry: Asked, members: Sequence[Index], shape: _Shape
    ) -> None:
        self.values, self.entry, self.members, self.shape = values, entry, members, shape
        self.blank: list[Cell | str] = [""] * (shape.with_unit + shape.several)
        self.end: list[Cell | str] = [""] * (shape.judged + shape.measured)

    def rows(self, passes: Sequence[int]) -> Iterator[Row]:
        """Yield the rows in order; only the last is ruled."""
        found = [*self._value_rows(passes), *self._measured_rows(), *self._check_rows()]
        for number, cells in enumerate(found, 1):
            yield Row(cells, ruled=number == len(found))

    def _value_rows(self, passes: Sequence[int]) -> Iterator[list[Cell | str]]:
        texts = {m: self.values.pass_texts((self.entry, m)) for m in self.members}
        own = [p for p in passes if any(texts[m][p] for m in self.members)] or passes[:1]
        for number, place in enumerate(own):
            first = number == 0
            cells: list[Cell | str] = [self.entry.label if first else ""]
            unit_text = self.values.unit_of(self.entry) if first else ""
            cells += [unit_text] * self.shape.with_unit
            cells += [Cell(self.values.pass_title(place), colour=QUIET)] * self.shape.several
            for member in self.members:
                later = any(texts[member][p] for p in own[number + 1 :])
                cells.append(self._value_cell(member, texts[member][place], first, later))
            cells += [""] * self.shape.judged
            yield cells + [self._instruments() if first else ""] * self.shape.measured

    def _value_cell(self, member: Index, text: str, first: bool, later: bool) -> Cell:
        """Return a value; its uncertainty stands beside the last one, which is in force."""
        asked = self.values.results.relevant(self.entry.name, member)
        if not text:
            text = spoken(UNREAD) if first and asked and not later else ""
            return Cell(text, colour=value_ink(text))
        uncertain = self.values.uncertainty(self.entry.name, member)
        return Cell(
            f"{text} {uncertain}" if uncertain and self.shape.beside and not later else text
        )

    def _instruments(self) -> Cell:
        tags = [self.values.instrument(self.entry.name, member) for member in self.members]
        text = " ".join(dict.fromkeys(filter(None, tags)))
        return Cell(text, link="instruments" if text else "")

    def _measured_rows(self) -> Iterator[list[Cell | str]]:
        texts = [self.values.uncertainty(self.entry.name, member) for member in self.members]
        if any(texts) and not self.shape.beside:
            label = Cell(spoken("· uncertainty"), colour=QUIET)
            yield [label, *self.blank, *(Cell(text, colour=QUIET) for text in texts), *self.end]

    def _check_rows(self) -> Iterator[list[Cell | str]]:
        for check in self.values.checks.get(self.entry.name, ()):
            verdicts = self.values.verdicts_by_member(check, self.members)
            if verdicts:
                yield self._check_row(check, verdicts)

    def _check_row(self, check: Check, verdicts: dict[Index, Verdict]) -> list[Cell | str]:
        limits = {member: self.values.limit_text(v) for member, v in verdicts.items()}
        same = len(set(limits.values())) == 1
        label = spoken("verdict") if check.label == self.entry.label else check.label
        cells: list[Cell | str] = [Cell(f"· {label}", colour=QUIET), *self.blank]
        for member in self.members:
            own = "" if same or not limits.get(member) else f"\n{limits[member]}"
            cells.append(self.values.cell(verdicts[member], own) if member in verdicts else "")
        cells.append(next(iter(limits.values())) if same else spoken("as shown"))
        return cells + [""] * self.shape.measured


# -- a row for each of many members ------------------------------------------------------


def _by_member(values: PageValues, entries: Sequence[Asked], members: Sequence[Index]) -> DataTable:
    columns = [Column("", 76)]
    columns += [Column(values.titled(entry), 440 / len(entries)) for entry in entries]
    rows = []
    for member in members:
        cells: list[Cell | str] = [values.results.member_label(entries[0].name, member)]
        cells += [_crowded_cell(values, (entry, member)) for entry in entries]
        rows.append(Row(cells))
    return DataTable(columns, rows)


def _crowded_cell(values: PageValues, item: Item) -> str:
    """Return all that is known of one member of one entry, in one cell."""
    if not values.results.relevant(item[0].name, item[1]):
        return ""
    texts = [text for text in values.pass_texts(item) if text]
    lines = [" → ".join(texts) or spoken(UNREAD), *filter(None, [values.measured(item)])]
    for verdict in values.verdicts(item):
        limit = values.limit_text(verdict)
        lines.append(f"{verdict_mark(verdict)} ({limit})" if limit else verdict_mark(verdict))
    return "\n".join(lines)


# -- things of two repeats ---------------------------------------------------------------


def grids(
    values: PageValues, entry: Asked, members: Sequence[Index]
) -> Iterator[tuple[str, DataTable]]:
    """Yield (caption, grid) for each pass that says anything of an entry of two repeats.

    Of three repeats (speed by line by point) each member of the first has its own grids.
    """
    passes = values.passes_of((entry, member) for member in members)
    for outer in sorted({member[:-2] for member in members}):
        inner = [member for member in members if member[:-2] == outer]
        names = [
            values.results.form.repeats[repeat].member_label(number)
            for repeat, number in zip(entry.repeat, outer, strict=False)
        ]
        for place in passes:
            of_pass = [pass_words(values.part.passes[place][0])] if len(passes) > 1 else []
            caption = ", ".join([values.titled(entry), *names, *of_pass])
            yield caption, _grid(values, entry, inner, place, is_last=place == passes[-1])


def _grid(
    values: PageValues, entry: Asked, members: Sequence[Index], place: int, *, is_last: bool
) -> DataTable:
    firsts = sorted({member[:-1] for member in members})
    rests = sorted({member[-1] for member in members})
    down, across = (values.results.form.repeats[name] for name in entry.repeat[-2:])
    share = min((_WHOLE - _ROW_NAME) / len(rests), _WIDEST_GRID_CELL)
    columns = [Column("", _ROW_NAME)]
    columns += [Column(across.member_label(rest), share, "right") for rest in rests]
    columns.append(Column("", max(_WHOLE - _ROW_NAME - share * len(rests), 0.1)))
    rows = []
    for first in firsts:
        cells: list[Cell | str] = [down.member_label(first[-1])]
        cells += [_grid_cell(values, (entry, (*first, rest)), place, is_last) for rest in rests]
        rows.append(Row([*cells, ""]))
    notes = _grid_notes(values, entry, members) if is_last else []
    rows += [Row([Cell(note, colour=QUIET, span=len(columns))]) for note in notes]
    return DataTable(columns, rows)


def _grid_cell(values: PageValues, item: Item, place: int, is_last: bool) -> Cell | str:
    if not values.results.relevant(item[0].name, item[1]):
        return ""
    text = values.value_text(place, item) or spoken(UNREAD)
    verdicts = values.verdicts(item) if is_last else []
    odd = [verdict for verdict in verdicts if verdict.outcome is not Outcome.PASS]
    told = next(iter(odd or verdicts), None)
    if told is None:
        return Cell(text, colour=value_ink(text))
    return Cell(f"{text} {verdict_glyph(told)}", face(told), verdict_colour(told))


def _grid_notes(values: PageValues, entry: Asked, members: Sequence[Index]) -> Iterator[str]:
    """Yield what stands beneath a grid: each check's limit and counts, instruments, ±."""
    for check in values.checks.get(entry.name, ()):
        verdicts = list(values.verdicts_by_member(check, members).values())
        if verdicts:
            yield _grid_check_note(values, check, verdicts)
    tags = dict.fromkeys(filter(None, (values.instrument(entry.name, m) for m in members)))
    if tags:
        largest = max(members, key=lambda m: values.results.expanded(entry.name, m) or 0.0)
        uncertain = values.uncertainty(entry.name, largest)
        names = ", ".join(tags)
        if uncertain:
            yield spoken(
                "Instrument {names}; uncertainty at most {most}", names=names, most=uncertain
            )
        else:
            yield spoken("Instrument {names}", names=names)


def _grid_check_note(values: PageValues, check: Check, verdicts: Sequence[Verdict]) -> str:
    limits = dict.fromkeys(filter(None, (values.limit_text(verdict) for verdict in verdicts)))
    counts: dict[str, int] = {}
    for verdict in verdicts:
        counts[word(verdict)] = counts.get(word(verdict), 0) + 1
    told = ", ".join(f"{number} {name}" for name, number in counts.items())
    held = f" ({'; '.join(limits)})" if limits else ""
    return f"{check.label}{held}: {told}"
