"""The working of look-ups in typed tables, in cells of their own: which lines, how far between."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from commission.definitions.model import Key
from commission.formula.functions import FUNCTIONS
from commission.formula.parse import unparse
from commission.formula.tree import Call
from commission.language import to_say

if TYPE_CHECKING:
    from commission.workbook.book import Book
    from commission.workbook.sheet import Cached, Sheet

LOOK_UPS = to_say("Look-ups")
_FIRST, _LINES_EACH = 3, 3


@dataclass
class LookUp:
    """One look-up of one member: its steps as formulas with the values they have now."""

    owner: int
    key: Key
    call: Call
    cells: list[tuple[str, Cached]] = field(default_factory=list)


@dataclass
class LookUps:
    """All look-ups of a workbook, in the order in which their formulas were written."""

    rows: list[LookUp] = field(default_factory=list)
    _places: dict[tuple[int, Key, str], int] = field(default_factory=dict)

    def step(
        self, owner: int, key: Key, call: Call, at: int, formula: str, value: Cached
    ) -> tuple[int, int]:
        """Keep one step; return its row and column on the sheet. A known one is not repeated."""
        place = self._places.setdefault((owner, key, unparse(call)), len(self.rows))
        if place == len(self.rows):
            self.rows.append(LookUp(owner, key, call))
        cells = self.rows[place].cells
        if at == len(cells):
            cells.append((formula, value))
        return _FIRST + place * _LINES_EACH + 1, at + 1


def write_look_ups(book: Book, sheet: Sheet, look_ups: LookUps) -> None:
    """Write every look-up: what it is for, its steps, their formulas with values."""
    owners = list(book.site.everything())
    counts = (len(FUNCTIONS[row.call.function].steps) for row in look_ups.rows)
    most = max(counts, default=1)
    sheet.columns([46, *[14] * most])
    sheet.text(0, 0, to_say("Look-ups in typed tables"), "title")
    sheet.worksheet.set_row(0, 24)
    sheet.across(
        1, 0, most, to_say(
            "Rows and columns count from 1 within each table. A share is how far the reading lies "
            "from one line to the next."
        ), "note",
    )  # fmt: skip
    for place, look_up in enumerate(look_ups.rows):
        head = _FIRST + place * _LINES_EACH
        results = owners[look_up.owner]
        label = " ".join(part for part in (results.tag, results.label(look_up.key)) if part)
        steps = FUNCTIONS[look_up.call.function].steps
        sheet.text(head, 0, label, "head")
        sheet.text(head + 1, 0, unparse(look_up.call), "small")
        for at, (step, (formula, value)) in enumerate(
            zip(steps, look_up.cells, strict=True), start=1
        ):
            sheet.text(head, at, step.head, "head")
            sheet.formula(head + 1, at, formula, value, "number")
    sheet.fit_rows(_FIRST, _FIRST + len(look_ups.rows) * _LINES_EACH)
    sheet.worksheet.freeze_panes(_FIRST, 1)
    sheet.protect()
    footer = f"{book.site.form.id} {book.site.form.version}"
    title = book.site.project.title
    sheet.printed(left=title, right=LOOK_UPS, repeat=(0, 1), footer=footer)
