"""Units by pages of the form: every page's state at a glance, each a link to it."""

from __future__ import annotations

from collections.abc import Sequence

from reportlab.platypus import Flowable

from commission.package.flowables import Heading, gap, kept, words
from commission.package.look import BOLD, NOTE, QUIET, STATE_COLOURS, STATE_GLYPHS, STATE_MEANINGS
from commission.package.tables import Cell, Column, DataTable, Row
from commission.package.turnover import Part, Turnover
from commission.package.wording import state_mark
from commission.validation.results import SectionState

KEY = "matrix"
TITLE = "Units and pages"
_UNITS_SIDE_BY_SIDE = 5


def matrix(turnover: Turnover) -> list[Flowable]:
    """Return one table for every five units, and what the states mean."""
    flowables: list[Flowable] = [
        Heading(TITLE, 1, KEY),
        words("How each page of the form stands in each unit. Each mark leads to its page.", NOTE),
    ]
    parts = [turnover.part(results) for results in turnover.units]
    for first in range(0, len(parts), _UNITS_SIDE_BY_SIDE):
        flowables.append(_block(turnover, parts[first : first + _UNITS_SIDE_BY_SIDE]))
    legend = DataTable(
        [Column("", 110), Column("", 406)],
        [
            Row([Cell(state_mark(state), colour=STATE_COLOURS[state]), STATE_MEANINGS[state]])
            for state in SectionState
        ],
        header=False,
    )
    return [*flowables, *kept(turnover.width, Heading("What the marks mean", 3), legend), gap(1)]


def _block(turnover: Turnover, parts: Sequence[Part]) -> DataTable:
    columns = [Column("Page of the form", 176)]
    columns += [Column(part.title, 68) for part in parts]
    missing = _UNITS_SIDE_BY_SIDE - len(parts)
    columns += [Column("", 68)] * missing
    shown = {part.number: set(part.results.sections()) for part in parts}
    rows: list[Row] = []
    stage = ""
    for section in turnover.site.form.sections:
        if not any(section in sections for sections in shown.values()):
            continue
        if section.stage and section.stage != stage:
            stage = section.stage
            rows.append(Row([Cell(stage, BOLD, span=len(columns))], group=True))
        cells: list[Cell | str] = [section.title]
        for part in parts:
            if section not in shown[part.number]:
                cells.append(Cell(STATE_GLYPHS[SectionState.NOT_APPLICABLE] + " n/a", colour=QUIET))
                continue
            state = part.results.state(section)
            mark = state_mark(state)
            colour = STATE_COLOURS[state]
            cells.append(Cell(mark, colour=colour, goes_to=part.page_key(section)))
        rows.append(Row([*cells, *([""] * missing)]))
    return DataTable(columns, rows)
