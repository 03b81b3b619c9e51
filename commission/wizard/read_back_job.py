"""Reading a returned workbook in a thread of its own; its file in a process of its own."""

from __future__ import annotations

from pathlib import Path

from PySide6.QtCore import QObject, QThread, Signal

from commission.definitions.model import Form
from commission.errors import CommissionError
from commission.language import ENGLISH, speaking, spoken


class ReadBackJob(QThread):
    """Compares one workbook with the project as it is on the disk. `cancel` ends it at once.

    Signals:
        compared: the review.
        refused: a sentence.
        cancelled: nothing was read.
    """

    compared = Signal(object)
    refused = Signal(str)
    cancelled = Signal()

    def __init__(self, project: Path, form: Form, workbook: Path, parent: QObject) -> None:
        super().__init__(parent)
        self._project = project
        self._form = form
        self._workbook = workbook
        self._is_cancelled = False

    def cancel(self) -> None:
        """End the reading process, and with it the job."""
        self._is_cancelled = True

    def run(self) -> None:
        """Read and compare; every fault becomes a sentence."""
        from commission.project import ProjectFile
        from commission.workbook.incoming_worker import IncomingCancelled
        from commission.workbook.read_back import read_back

        try:
            # What came back is compared in the words of the workbook, which are English.
            with speaking(ENGLISH), ProjectFile.open(self._project, read_only=True) as project:
                review = read_back(
                    project, self._form, self._workbook, cancelled=lambda: self._is_cancelled
                )
        except IncomingCancelled:
            self.cancelled.emit()
        except CommissionError as error:
            self.refused.emit(str(error))
        except Exception as error:
            self.refused.emit(
                spoken(
                    "{file}: could not be compared ({fault}). The project is unchanged.",
                    file=self._workbook,
                    fault=f"{type(error).__name__}: {error}",
                )
            )
        else:
            self.compared.emit(review)
