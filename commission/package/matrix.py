"""Units by pages of the form: every page's state at a glance, each a link to it."""

from __future__ import annotations

from collections.abc import Sequence

from reportlab.platypus import Flowable

from commission.language import spoken, to_say
from commission.package.flowables import Heading, kept, words
from commission.package.look import BOLD, NOTE, QUIET, STATE_COLOURS, STATE_GLYPHS, STATE_MEANINGS
from commission.package.tables import Cell, Column, DataTable, Row
from commission.package.turnover import Part, Turnover
from commission.package.wording import state_mark
from commission.validation.results import SectionState

KEY = "matrix"
TITLE = to_say("Units and pages")
_UNITS_SIDE_BY_SIDE = 6
_PAD = 0.7
_WHOLE, _UNIT = 516.0, 65.0


def matrix(turnover: Turnover) -> list[Flowable]:
    """Return one table for every six units, and what the states mean."""
    flowables: list[Flowable] = [
        Heading(spoken(TITLE), 1, KEY),
        words(
            spoken("How each page of the form stands in each unit. Each mark leads to its page."),
            NOTE,
        ),
    ]
    parts = [turnover.part(results) for results in turnover.units]
    for first in range(0, len(parts), _UNITS_SIDE_BY_SIDE):
        flowables.append(_block(turnover, parts[first : first + _UNITS_SIDE_BY_SIDE]))
    marks = list(SectionState)
    columns = [Column("", 68), Column("", 190)] * 2
    rows = [
        Row([cell for state in pair for cell in _meaning(state)], ruled=False)
        for pair in zip(marks[::2], marks[1::2], strict=True)
    ]
    legend = DataTable(columns, rows, header=False, size=6.8, leading=8.4, pad=_PAD)
    return [
        *flowables,
        *kept(turnover.width, Heading(spoken("What the marks mean"), 3, outlined=False), legend),
    ]


def _meaning(state: SectionState) -> tuple[Cell, Cell]:
    return Cell(state_mark(state), colour=STATE_COLOURS[state]), Cell(spoken(STATE_MEANINGS[state]))


def _block(turnover: Turnover, parts: Sequence[Part]) -> DataTable:
    columns = [Column(spoken("Page of the form"), _WHOLE - _UNITS_SIDE_BY_SIDE * _UNIT)]
    columns += [Column(part.title, _UNIT) for part in parts]
    missing = _UNITS_SIDE_BY_SIDE - len(parts)
    columns += [Column("", _UNIT)] * missing
    shown = {
        part.number: {section.name for section in turnover.sections_of(part.results)}
        for part in parts
    }
    rows: list[Row] = []
    stage = ""
    for section in turnover.site.form.sections:
        if not any(section.name in names for names in shown.values()):
            continue
        if section.stage and section.stage != stage:
            stage = section.stage
            rows.append(Row([Cell(stage, BOLD, span=len(columns))], group=True))
        cells: list[Cell | str] = [section.title]
        for part in parts:
            if section.name not in shown[part.number]:
                cells.append(Cell(STATE_GLYPHS[SectionState.NOT_APPLICABLE] + " n/a", colour=QUIET))
                continue
            state = turnover.state_of(part.results, section)
            mark = state_mark(state)
            colour = STATE_COLOURS[state]
            cells.append(Cell(mark, colour=colour, goes_to=part.page_key(section)))
        rows.append(Row([*cells, *([""] * missing)]))
    return DataTable(columns, rows, leading=8.7, pad=_PAD)
