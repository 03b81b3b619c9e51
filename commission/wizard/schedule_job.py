"""Reading an equipment schedule in a thread of its own; its file in a process of its own."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from PySide6.QtCore import QObject, QThread, Signal

from commission.definitions.model import Form
from commission.errors import CommissionError
from commission.language import spoken


class ScheduleJob(QThread):
    """Reads and understands one schedule; nothing is added. `cancel` ends it at once.

    Signals:
        understood: the schedule.
        refused: a sentence.
        cancelled: nothing was read.
    """

    understood = Signal(object)
    refused = Signal(str)
    cancelled = Signal()

    def __init__(
        self, path: Path, form: Form, taken: Sequence[str], unit_system: str, parent: QObject
    ) -> None:
        super().__init__(parent)
        self._path = path
        self._form = form
        self._taken = tuple(taken)
        self._unit_system = unit_system
        self._is_cancelled = False

    def cancel(self) -> None:
        """End the reading process, and with it the job."""
        self._is_cancelled = True

    def run(self) -> None:
        """Read and understand; every fault becomes a sentence."""
        from commission.workbook.incoming_worker import IncomingCancelled
        from commission.workbook.schedule_table import read_schedule
        from commission.workbook.schedule_units import understand_schedule

        try:
            table = read_schedule(self._path, self._form, lambda: self._is_cancelled)
            found = understand_schedule(table, self._form, self._taken, self._unit_system)
        except IncomingCancelled:
            self.cancelled.emit()
        except CommissionError as error:
            self.refused.emit(str(error))
        except Exception as error:
            self.refused.emit(
                spoken(
                    "{path}: could not be read as a schedule ({fault}). The project is unchanged.",
                    path=self._path,
                    fault=error,
                )
            )
        else:
            if self._is_cancelled:
                self.cancelled.emit()
            else:
                self.understood.emit(found)
