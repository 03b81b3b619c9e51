"""One reading process for all tests of a run: starting one takes longer than most of them."""

from __future__ import annotations

from pathlib import Path

from commission.definitions.model import Form
from commission.project import ProjectFile
from commission.workbook import read_back as module
from commission.workbook.incoming_worker import IncomingWorker
from commission.workbook.read_back_rows import Review

WORKER = IncomingWorker()


def read_back(project: ProjectFile, form: Form, path: Path) -> Review:
    """Read a workbook back as the program does, in the process that is at hand."""
    return module.read_back(project, form, path, worker=WORKER)
