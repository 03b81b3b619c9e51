"""Writing workbook or package in a thread of its own, from the project file opened anew."""

from __future__ import annotations

import importlib
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, QThread, Signal

from commission.definitions.model import Form
from commission.errors import CommissionError

if TYPE_CHECKING:
    from commission.validation.site import SiteResults

Progress = Callable[[int, int, str], None]
Writer = Callable[["SiteResults", Path, Progress], object]


class ExportCancelledError(Exception):
    """The person has cancelled; raised from the writer's progress call."""


@dataclass(frozen=True, slots=True)
class Output:
    """One thing that can be written."""

    name: str
    suffix: str
    kinds: str
    writer: Callable[[], Writer]


def _lazily(module: str, function: str) -> Callable[[], Writer]:
    """Return what imports a writer when it is first needed, and not before."""

    def load() -> Writer:
        loaded: Writer = getattr(importlib.import_module(module), function)
        return loaded

    return load


WORKBOOK = Output(
    "workbook",
    ".xlsx",
    "Spreadsheet (*.xlsx)",
    _lazily("commission.workbook", "write_workbook"),
)
PACKAGE = Output(
    "turnover package",
    ".pdf",
    "PDF (*.pdf)",
    _lazily("commission.package", "write_package"),
)


class ExportJob(QThread):
    """Writes one output. The window stays free; `cancel` stops it at the next step.

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

    def __init__(
        self, project: Path, form: Form, output: Output, target: Path, parent: QObject
    ) -> None:
        super().__init__(parent)
        self._project = project
        self._form = form
        self._output = output
        self._target = target
        self._is_cancelled = False

    def cancel(self) -> None:
        """Stop at the next step."""
        self._is_cancelled = True

    def run(self) -> None:
        """Open, compute, write; every fault becomes a sentence."""
        try:
            self._write()
        except ExportCancelledError:
            self.cancelled.emit()
        except CommissionError as error:
            self.refused.emit(str(error))
        except Exception as error:
            self.refused.emit(
                f"{self._target}: the {self._output.name} could not be written "
                f"({type(error).__name__}: {error}). The project itself is unchanged."
            )
        else:
            self.finished_well.emit(self._target)

    def _write(self) -> None:
        from commission.project import ProjectFile
        from commission.validation.site import site_results

        self._progress(0, 0, "Reading the project")
        with ProjectFile.open(self._project, read_only=True) as project:
            site = site_results(project, self._form)
            self._output.writer()(site, self._target, self._progress)

    def _progress(self, done: int, total: int, what: str) -> None:
        if self._is_cancelled:
            raise ExportCancelledError
        self.progressed.emit(done, total, what)
