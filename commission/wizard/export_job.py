"""Writing workbook or package: a thread waits for the process that does it."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, QThread, Signal

from commission.errors import CommissionError
from commission.language import spoken
from commission.wizard.apart import WorkCancelledError, WorkFailedError, apart
from commission.wizard.export_work import Order, written

if TYPE_CHECKING:
    from commission.validation.volumes import Written


class ExportJob(QThread):
    """Writes one output. The window stays free; `cancel` stops it at the next step.

    `written` says which files a set of volumes has.

    Signals:
        progressed: done, total, what.
        finished_well: the path.
        refused: a sentence.
        cancelled: nothing was written.
    """

    progressed = Signal(int, int, str)
    finished_well = Signal(Path)
    refused = Signal(str)
    cancelled = Signal()

    def __init__(self, order: Order, parent: QObject) -> None:
        super().__init__(parent)
        self._order = order
        self._is_cancelled = False
        self.written: Written | None = None

    def cancel(self) -> None:
        """Stop at the next step."""
        self._is_cancelled = True

    def run(self) -> None:
        """Have it written; every fault becomes a sentence."""
        self.progressed.emit(0, 0, spoken("Reading the project"))
        try:
            self.written = apart(
                written,
                self._order,
                told=self.progressed.emit,
                cancelled=lambda: self._is_cancelled,
            )
        except WorkCancelledError:
            self.cancelled.emit()
        except CommissionError as error:
            self.refused.emit(str(error))
        except WorkFailedError as error:
            self._refuse(str(error))
        except Exception as error:
            self._refuse(f"{type(error).__name__}: {error}")
        else:
            self.finished_well.emit(self._order.target)

    def _refuse(self, fault: str) -> None:
        self.refused.emit(
            spoken(
                "{file}: it could not be written ({fault}). The project itself is unchanged.",
                file=self._order.target,
                fault=fault,
            )
        )
