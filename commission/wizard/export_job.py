"""Writing workbook or package in a thread of its own, from the project file opened anew."""

from __future__ import annotations

import importlib
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from PySide6.QtCore import QObject, QThread, Signal

from commission.definitions.model import Form
from commission.errors import CommissionError
from commission.language import ENGLISH, speaking, spoken, to_say

if TYPE_CHECKING:
    from commission.validation.site import SiteResults
    from commission.validation.volumes import Written

Progress = Callable[[int, int, str], None]
Writer = Callable[["SiteResults", Path, Progress], object]
VolumesWriter = Callable[..., "Written"]  # of project, form, path and progress


class ExportCancelledError(Exception):
    """The person has cancelled; raised from the writer's progress call."""


@dataclass(frozen=True, slots=True)
class Output:
    """One thing that can be written.

    With many units an output may be a set of files: `in_volumes` then writes it from the
    project, so that no more is held in memory than one of them needs.
    """

    name: str
    suffix: str
    kinds: str
    writer: Callable[[], Writer]
    in_volumes: Callable[[], VolumesWriter] | None = None


def _lazily(module: str, function: str) -> Callable[[], Any]:
    """Return what imports a writer when it is first needed, and not before."""

    def load() -> Any:
        return getattr(importlib.import_module(module), function)

    return load


WORKBOOK = Output(
    "workbook",
    ".xlsx",
    to_say("Spreadsheet (*.xlsx)"),
    _lazily("commission.workbook", "write_workbook"),
    _lazily("commission.workbook", "write_workbooks"),
)
PACKAGE = Output(
    "turnover package",
    ".pdf",
    to_say("PDF (*.pdf)"),
    _lazily("commission.package", "write_package"),
    _lazily("commission.package", "write_packages"),
)


class ExportJob(QThread):
    """Writes one output. The window stays free; `cancel` stops it at the next step.

    It takes the form in English, the code of the language that the output is to speak, and the
    units that it shows ("" for the project's own).
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

    def __init__(
        self,
        project: Path,
        form: Form,
        output: Output,
        target: Path,
        parent: QObject,
        code: str = ENGLISH,
        unit_system: str = "",
    ) -> None:
        super().__init__(parent)
        self._project = project
        self._form = form
        self._output = output
        self._target = target
        self._language = code
        self._unit_system = unit_system
        self._is_cancelled = False
        self.written: Written | None = None

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
                spoken(
                    "{file}: it could not be written ({fault}). The project itself is unchanged.",
                    file=self._target,
                    fault=f"{type(error).__name__}: {error}",
                )
            )
        else:
            self.finished_well.emit(self._target)

    def _write(self) -> None:
        from commission.definitions.translated import translated
        from commission.project import ProjectFile
        from commission.validation.site import site_results

        self._progress(0, 0, spoken("Reading the project"))
        opened = ProjectFile.open(self._project, read_only=True)
        with opened as project, speaking(self._language):
            form = translated(self._form, self._language)
            if self._output.in_volumes is not None:
                write = self._output.in_volumes()
                shown = {"unit_system": self._unit_system} if self._unit_system else {}
                self.written = write(project, form, self._target, self._progress, **shown)
                return
            site = site_results(project, form, unit_system=self._unit_system)
            self._output.writer()(site, self._target, self._progress)

    def _progress(self, done: int, total: int, what: str) -> None:
        if self._is_cancelled:
            raise ExportCancelledError
        self.progressed.emit(done, total, what)
