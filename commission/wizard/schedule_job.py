"""Reading an equipment schedule in a thread of its own; its file in a process of its own."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject

from commission.definitions.model import Form
from commission.language import spoken
from commission.wizard.incoming_file import IncomingJob

if TYPE_CHECKING:
    from commission.workbook.schedule_table import ScheduleTable


class ScheduleJob(IncomingJob):
    """Reads and understands one schedule; nothing is added."""

    def __init__(
        self, path: Path, form: Form, taken: Sequence[str], unit_system: str, parent: QObject
    ) -> None:
        super().__init__(parent)
        self._path = path
        self._form = form
        self._taken = tuple(taken)
        self._unit_system = unit_system

    def table(self) -> ScheduleTable:
        """Return the file as a table with its columns matched."""
        from commission.workbook.schedule_table import read_schedule

        return read_schedule(self._path, self._form, lambda: self.is_cancelled, by_hand=True)

    def read(self) -> object:
        from commission.workbook.schedule_units import understand_schedule

        return understand_schedule(self.table(), self._form, self._taken, self._unit_system)

    def unforeseen(self, fault: str) -> str:
        return spoken(
            "{path}: could not be read as a schedule ({fault}). The project is unchanged.",
            path=self._path,
            fault=fault,
        )


class AgainJob(ScheduleJob):
    """Understands a schedule once more: a column of it is taken as something else."""

    def __init__(
        self,
        table: ScheduleTable,
        form: Form,
        taken: Sequence[str],
        unit_system: str,
        parent: QObject,
    ) -> None:
        super().__init__(table.path, form, taken, unit_system, parent)
        self._table = table

    def table(self) -> ScheduleTable:
        return self._table
