"""A schedule on the screen: its units to choose from, its columns, what of it is not taken."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QKeyEvent

from commission.definitions.model import Form
from commission.language import spoken, to_say
from commission.wizard.appearance import Appearance
from commission.wizard.icon import icon
from commission.wizard.record_form import ListModel, Place, RecordList
from commission.wizard.sign import Sign

if TYPE_CHECKING:
    from commission.workbook.schedule_units import Schedule, ScheduleUnit

CHOSEN, LEFT_OUT, ADDED = "chosen", "left out", "added"
_SIGNS = {
    CHOSEN: Sign("pass", to_say("to be added"), "done"),
    LEFT_OUT: Sign("missing", to_say("left out"), "missing"),
    ADDED: Sign("pass", to_say("added"), "muted"),
}
_WIDTHS = (18, 14, 10, 58)


class UnitsModel(ListModel):
    """The units of a schedule, each with the icon of what happens to it."""

    def __init__(self, appearance: Appearance) -> None:
        super().__init__(
            (spoken("What happens"), spoken("Tag"), spoken("Row"), spoken("What it says"))
        )
        self._appearance = appearance
        self._signs: list[Sign] = []

    def show(self, form: Form, schedule: Schedule | None, standings: Mapping[int, str]) -> None:
        """Show the units with their standings, by row of the file."""
        units = schedule.units if schedule is not None else ()
        self._signs = [_SIGNS[standings[unit.row]] for unit in units]
        self.fill(
            [
                (str(unit.row), (spoken(sign.word), unit.tag, str(unit.row), answers(form, unit)))
                for unit, sign in zip(units, self._signs, strict=True)
            ]
        )

    def data(self, place: Place, role: int = Qt.ItemDataRole.DisplayRole) -> object:
        if role == Qt.ItemDataRole.DecorationRole and place.isValid() and place.column() == 0:
            sign = self._signs[place.row()]
            look = self._appearance
            return icon(sign.icon, look.palette[sign.colour], look.px(18))
        return super().data(place, role)


def answers(form: Form, unit: ScheduleUnit) -> str:
    """Return what a row answers: "Heat: gas; Compressor rated-load amps 2: 8.2 A"."""
    told = []
    for entry in unit.entries:
        number = f" {entry.key.index[-1]}" if entry.key.index else ""
        told.append(f"{form.by_name[entry.key.name].label}{number}: {entry.text}")
    return "; ".join(told) or spoken("only its tag")


class UnitsList(RecordList):
    """The units; Space or Enter takes one in or leaves it out, Ctrl+Enter adds the chosen.

    Signals:
        turned: a unit's row in the file.
        all_wanted.
    """

    turned = Signal(str)
    all_wanted = Signal()

    def __init__(self, model: UnitsModel, appearance: Appearance) -> None:
        super().__init__(model, _WIDTHS, spoken("Units of the schedule"), appearance, (2,))
        self.opened.connect(self.turned)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        entered = event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter)
        if entered and event.modifiers() & Qt.KeyboardModifier.ControlModifier:
            self.all_wanted.emit()
        else:
            super().keyPressEvent(event)


def columns_model() -> ListModel:
    """Return the empty table of a schedule's columns."""
    return ListModel((spoken("Column"), spoken("Head"), spoken("Taken as"), spoken("In")))


def column_rows(form: Form, schedule: Schedule) -> list[tuple[str, tuple[str, ...]]]:
    """Return each column with a head, and what it is taken as."""
    from commission.workbook.addresses import column_letters
    from commission.workbook.schedule_match import SEVERAL, TAG

    special = {TAG: spoken("the unit's tag"), SEVERAL: spoken("several answers in one")}
    rows: list[tuple[str, tuple[str, ...]]] = []
    for column in schedule.table.columns:
        if not column.head:
            continue
        letters = column_letters(column.column - 1)
        entry = form.by_name.get(column.field)
        named = entry.label if entry is not None else spoken("not read")
        number = f" {column.member}" if column.member else ""
        taken = special.get(column.field, f"{named}{number}")
        head = " ".join(column.head.split())
        rows.append((letters, (letters, head, taken, column.unit)))
    return rows


def faults_model() -> ListModel:
    """Return the empty table of what is not taken."""
    return ListModel((spoken("Cell"), spoken("Not taken, or to be looked at")))
