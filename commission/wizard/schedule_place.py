"""Units from an equipment schedule: read the file, look through it, then add what is chosen."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import Qt, QTimer, Signal
from PySide6.QtWidgets import QPushButton, QVBoxLayout

from commission.errors import CommissionError
from commission.language import spoken, spoken_count, to_say
from commission.wizard.appearance import Appearance
from commission.wizard.dialogs import Dialogs
from commission.wizard.document import Document
from commission.wizard.incoming_file import IncomingPlace
from commission.wizard.parts import button, hint, label, stretch_last, wrapping_row
from commission.wizard.record_form import RecordList
from commission.wizard.room import RoomyStack
from commission.wizard.schedule_columns import ColumnsPart
from commission.wizard.schedule_job import AgainJob, ScheduleJob
from commission.wizard.schedule_list import (
    ADDED,
    CHOSEN,
    LEFT_OUT,
    UnitsList,
    UnitsModel,
    column_rows,
    columns_model,
    faults_model,
)

if TYPE_CHECKING:
    from commission.workbook.schedule_units import Schedule

KINDS = (".csv", ".tsv", ".txt", ".xlsx", ".ods")
_NO_TAGS = to_say(
    "No head is known to stand over the units' tags. Enter on a column below, or a click, "
    "takes it as the unit's tag."
)


class SchedulePlace(IncomingPlace):
    """Choose or drop a file, see how it is understood, add the units that are chosen.

    Signals:
        added: the id of the first unit that was added.
    """

    added = Signal(str)
    kinds = KINDS

    def __init__(self, document: Document, appearance: Appearance, dialogs: Dialogs) -> None:
        super().__init__(dialogs.choose_schedule)
        self._document = document
        self.schedule: Schedule | None = None
        self.standings: dict[int, str] = {}
        self._steps: Iterator[str] | None = None
        self._added: list[str] = []
        self._step_count = self._steps_done = 0
        self._make(appearance)
        self._lay_out(appearance)
        self.units.turned.connect(self._turn)
        self.units.all_wanted.connect(self.add_chosen)
        self.columns.chosen.connect(self._take_column)
        document.closing.connect(self.stop)
        self._show()

    def _make(self, look: Appearance) -> None:
        self.path.setAccessibleName(spoken("Equipment schedule"))
        hint(self.path, spoken("Drop a schedule here (.csv, .xlsx, .ods), or choose"))
        self.read = button(spoken("Read it"), self.start, "primary")
        self.bar.setAccessibleName(spoken("Reading the schedule, or adding its units"))
        self.said = label("", "error")
        self.summary = label("")
        self.model = UnitsModel(look)
        self.units = UnitsList(self.model, look)
        self.columns_of = columns_model()
        self.columns = ColumnsPart(self.columns_of, self._document.form, look)
        self.faults_of = faults_model()
        faults = RecordList(self.faults_of, (12, 88), spoken("Not taken"), look)
        self.stack = RoomyStack()
        self.tabs: list[QPushButton] = []
        for number, shown in enumerate((self.units, self.columns, faults)):
            self.stack.addWidget(shown)
            tab = button("", partial(self._show_list, number), "quiet")
            tab.setCheckable(True)
            self.tabs.append(tab)
        self.add = button(spoken("Add"), self.add_chosen, "primary")
        self.add.setToolTip(spoken("Ctrl+Enter, in the list"))

    def _lay_out(self, look: Appearance) -> None:
        px = look.px
        layout = QVBoxLayout(self)
        layout.setContentsMargins(px(20), px(14), px(20), px(14))
        layout.setSpacing(px(8))
        layout.addWidget(label(spoken("Units from a schedule"), "title"))
        layout.addWidget(
            label(
                spoken(
                    "The drawings' equipment schedule as a file. Its columns are told by their "
                    "heads; nothing is added until you say so."
                )
            )
        )
        layout.addLayout(self.file_line(px(8), self.read))
        for widget in (self.bar, self.said):
            layout.addWidget(widget)
        tabs = wrapping_row(px(8))
        for tab in self.tabs:
            tabs.addWidget(tab)
        layout.addLayout(stretch_last(tabs))
        layout.addWidget(self.stack, 1)
        foot = wrapping_row(px(8))
        foot.addWidget(self.summary, 1)
        foot.addWidget(self.add)
        layout.addLayout(foot)
        layout.addStretch(0)  # so that words do not spread where nothing has been read yet

    # -- the file ----------------------------------------------------------------------

    def start(self) -> None:
        """Read the file that is named, if nothing is under way."""
        text = self.path.text().strip()
        if self.job is not None or self._steps is not None or not text:
            return
        session = self._document.session
        taken = [unit.tag for unit in self._document.units()]
        form, system = self._document.form, session.project.unit_system
        self.bar.setRange(0, 0)
        job = ScheduleJob(Path(text).expanduser(), form, taken, system, self)
        self.run_job(job, self._understood)

    def _show_running(self, running: bool) -> None:
        super()._show_running(running)
        for widget in (self.read, self.add):
            widget.setEnabled(not running)

    def _cancel(self) -> None:
        if self._steps is not None:
            self._end_adding(spoken("Stopped."))
        else:
            super()._cancel()

    def _refused(self, sentence: str) -> None:
        self._ended()
        self.schedule = None
        self._show(sentence)
        self.path.setFocus(Qt.FocusReason.OtherFocusReason)

    def _cancelled(self) -> None:
        self._ended()
        self._document.said.emit(spoken("Cancelled. Nothing was read."), False)
        self.path.setFocus(Qt.FocusReason.OtherFocusReason)

    def _understood(self, schedule: Schedule) -> None:
        self._ended()
        self.schedule = schedule
        self.standings = {unit.row: CHOSEN for unit in schedule.units}
        self._show("" if schedule.has_tags else spoken(_NO_TAGS))
        self._show_list(1 if not schedule.has_tags else 0 if schedule.units else 2)

    def _take_column(self, letters: str, name: str, member: int) -> None:
        """Take a column as something else, and understand all rows anew."""
        from commission.workbook.addresses import column_letters
        from commission.workbook.schedule_match import reassigned

        schedule, form = self.schedule, self._document.form
        if schedule is None or self.job is not None or self._steps is not None:
            return
        table = schedule.table
        number = next(
            one.column for one in table.columns if column_letters(one.column - 1) == letters
        )
        try:
            columns = reassigned(table.columns, number, form, name, member)
        except CommissionError as error:
            self.columns.refuse(str(error))
            return
        self.columns.asking.hide()
        taken = [unit.tag for unit in self._document.units()]
        system = self._document.session.project.unit_system
        self.bar.setRange(0, 0)
        job = AgainJob(replace(table, columns=columns), form, taken, system, self)
        self.run_job(job, self._understood_again)

    def _understood_again(self, schedule: Schedule) -> None:
        """Show it; what a person has left out stays out."""
        self._ended()
        self.schedule = schedule
        before = self.standings
        self.standings = {unit.row: before.get(unit.row, CHOSEN) for unit in schedule.units}
        at = self.columns.list.currentIndex().row()
        self._show()
        self._show_list(1)
        self.columns.list.selectRow(max(at, 0))
        said = spoken("The rows are read anew. Units, columns and what is not taken follow.")
        self._document.said.emit(said, False)

    # -- what is shown -----------------------------------------------------------------

    def _show_list(self, number: int) -> None:
        self.stack.setCurrentIndex(number)
        for place, tab in enumerate(self.tabs):
            tab.setChecked(place == number)
        shown = self.stack.currentWidget()
        shown = shown.list if isinstance(shown, ColumnsPart) else shown
        if isinstance(shown, RecordList):
            shown.setFocus(Qt.FocusReason.OtherFocusReason)
            if not shown.currentIndex().isValid():
                shown.selectRow(0)

    def _show(self, refusal: str = "") -> None:
        schedule = self.schedule
        self.said.setText(refusal)
        self.said.setVisible(bool(refusal))
        for widget in (*self.tabs, self.stack, self.summary, self.add):
            widget.setVisible(schedule is not None)
        form = self._document.form
        at = self.units.currentIndex().row()
        self.model.show(form, schedule, self.standings)
        if schedule is None:
            return
        self.units.selectRow(max(at, 0))
        self.columns_of.fill(column_rows(form, schedule))
        faults = [(fault.place, (fault.place, fault.sentence)) for fault in schedule.faults]
        self.faults_of.fill([*faults, *(("", ("", one)) for one in schedule.table.set_aside)])
        unread = len(schedule.unmatched)
        words = (
            spoken("Units ({count})", count=len(schedule.units)),
            spoken(
                "Columns ({count}, {unread} not read)",
                count=self.columns_of.rowCount(),
                unread=unread,
            ),
            spoken("Not taken ({count})", count=self.faults_of.rowCount()),
        )
        for tab, text in zip(self.tabs, words, strict=True):
            tab.setText(text)
        self._summarise()

    def _summarise(self) -> None:
        chosen = list(self.standings.values()).count(CHOSEN)
        done = list(self.standings.values()).count(ADDED)
        self.add.setText(spoken_count("Add {count} unit", "Add {count} units", chosen))
        self.add.setEnabled(bool(chosen))
        told = spoken("Space takes a unit in or leaves it out.")
        if done:
            told = spoken_count("{count} unit is added.", "{count} units are added.", done)
        self.summary.setText(told)

    def _turn(self, unit_row: str) -> None:
        number = int(unit_row)
        other = {CHOSEN: LEFT_OUT, LEFT_OUT: CHOSEN}
        self.standings[number] = other.get(self.standings[number], self.standings[number])
        self._show()

    # -- adding ------------------------------------------------------------------------

    def add_chosen(self) -> None:
        """Add the units that are chosen, a step at a time."""
        from commission.workbook.schedule_units import adding

        if self.schedule is None or self._steps is not None or self.job is not None:
            return
        units = [one for one in self.schedule.units if self.standings[one.row] == CHOSEN]
        if not units:
            return
        self._steps = adding(self._document.session, units)
        self._added = []
        self._step_count = sum(1 + len(unit.entries) for unit in units)
        self._steps_done = 0
        self.bar.setRange(0, self._step_count)
        self._show_running(True)
        self.cancel.setFocus(Qt.FocusReason.OtherFocusReason)
        self._add_one()

    def _add_one(self) -> None:
        """Do one step, let the window breathe, go on."""
        steps = self._steps
        if steps is None:
            return
        done: list[str] = []
        refusal = self._document.attempt(lambda: done.extend(filter(None, [next(steps, "")])))
        if refusal or not done:
            self._end_adding(refusal)
            return
        if done[0] not in self._added:
            self._added.append(done[0])
        self._steps_done += 1
        self.bar.setValue(self._steps_done)
        QTimer.singleShot(0, self, self._add_one)

    def _end_adding(self, refusal: str = "") -> None:
        whole = self._steps_done == self._step_count
        self._steps = None
        self._show_running(False)
        there = {unit.tag for unit in self._document.session.units()}
        assert self.schedule is not None
        for unit in self.schedule.units:
            if unit.tag in there and self.standings[unit.row] == CHOSEN:
                self.standings[unit.row] = ADDED
        self._document.units_added()
        self._show()
        count = len(self._added)
        told = spoken_count(
            "{count} unit added from the schedule.", "{count} units added from the schedule.", count
        )
        if not whole:
            told = spoken("{refusal} {told} The last of them is not whole.", refusal=refusal,
                          told=told)  # fmt: skip
        if whole and self._added:
            self.added.emit(self._added[0])
        else:
            self.units.setFocus(Qt.FocusReason.OtherFocusReason)
        self._document.said.emit(told, not whole)

    def stop(self) -> None:
        """Cancel and wait; the window is closing. Units added so far are kept."""
        self._steps = None
        super().stop()
