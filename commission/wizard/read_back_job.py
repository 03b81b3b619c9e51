"""Reading a returned workbook in a thread of its own; its file in a process of its own."""

from __future__ import annotations

from pathlib import Path

from PySide6.QtCore import QObject

from commission.definitions.model import Form
from commission.language import spoken
from commission.wizard.incoming_file import IncomingJob


class ReadBackJob(IncomingJob):
    """Compares one workbook with the project as it is on the disk; what it finds is a review."""

    def __init__(self, project: Path, form: Form, workbook: Path, parent: QObject) -> None:
        super().__init__(parent)
        self._project = project
        self._form = form
        self._workbook = workbook

    def read(self) -> object:
        from commission.project import ProjectFile
        from commission.workbook.read_back import read_back

        with ProjectFile.open(self._project, read_only=True) as project:
            return read_back(
                project, self._form, self._workbook, cancelled=lambda: self.is_cancelled
            )

    def unforeseen(self, fault: str) -> str:
        return spoken(
            "{file}: could not be compared ({fault}). The project is unchanged.",
            file=self._workbook,
            fault=fault,
        )
