"""A file that comes in: dropped, chosen or typed, and read in a thread of its own."""

from __future__ import annotations

from collections.abc import Callable, Collection
from pathlib import Path

from PySide6.QtCore import QMimeData, QObject, Qt, QThread, Signal
from PySide6.QtGui import QDragEnterEvent, QDropEvent
from PySide6.QtWidgets import QHBoxLayout, QLineEdit, QProgressBar, QWidget

from commission.errors import CommissionError
from commission.language import spoken
from commission.wizard.parts import button, label, wrapping_row


def dropped_file(mime: QMimeData | None, kinds: Collection[str]) -> Path | None:
    """Return the one file that is dropped, if its ending is one of `kinds` (".xlsx")."""
    if mime is None:
        return None
    paths = [Path(url.toLocalFile()) for url in mime.urls() if url.isLocalFile()]
    fitting = [path for path in paths if path.suffix.casefold() in kinds]
    return fitting[0] if len(paths) == 1 and fitting else None


class IncomingJob(QThread):
    """Reads one file; the window stays free. `cancel` ends the reading process, and so the job.

    Signals:
        found: what the file holds.
        refused: a sentence.
        cancelled: nothing was read.
    """

    found = Signal(object)
    refused = Signal(str)
    cancelled = Signal()

    def __init__(self, parent: QObject) -> None:
        super().__init__(parent)
        self.is_cancelled = False

    def cancel(self) -> None:
        """End the reading process, and with it the job."""
        self.is_cancelled = True

    def read(self) -> object:
        """Return what the file holds; runs in the job's own thread."""
        raise NotImplementedError

    def unforeseen(self, fault: str) -> str:
        """Return what is said of a fault that nothing foresaw."""
        raise NotImplementedError

    def run(self) -> None:
        """Read; every fault becomes a sentence."""
        from commission.workbook.incoming_worker import IncomingCancelled

        try:
            found = self.read()
        except IncomingCancelled:
            self.cancelled.emit()
        except CommissionError as error:
            self.refused.emit(str(error))
        except Exception as error:
            self.refused.emit(self.unforeseen(f"{type(error).__name__}: {error}"))
        else:
            if self.is_cancelled:
                self.cancelled.emit()
            else:
                self.found.emit(found)


class IncomingPlace(QWidget):
    """A place that reads a file: its name, Choose, Cancel, and what is dropped on it.

    A kind of place says in `start` which job reads the file that is named.
    """

    kinds: tuple[str, ...] = ()

    def __init__(self, choose: Callable[[QWidget], Path | None]) -> None:
        super().__init__()
        self.setObjectName("ground")
        self.setAcceptDrops(True)
        self._choose_file = choose
        self.job: IncomingJob | None = None
        self.path = QLineEdit()
        self.path.returnPressed.connect(self.start)
        self.cancel = button(spoken("Cancel"), self._cancel)
        self.bar = QProgressBar()
        self.bar.hide()
        self.cancel.hide()

    def start(self) -> None:
        """Read the file that is named, if nothing is under way."""
        raise NotImplementedError

    def open_file(self, path: Path) -> None:
        """Read a file."""
        self.path.setText(str(path))
        self.start()

    def file_line(self, gap: int, read: QWidget) -> QHBoxLayout:
        """Return the line with the file's name and what can be done with it."""
        line = wrapping_row(gap)
        named = label(spoken("File"), wraps=False)
        named.setBuddy(self.path)
        line.addWidget(named)
        line.addWidget(self.path, 1)
        for made in (button(spoken("Choose"), self._choose), read, self.cancel):
            line.addWidget(made)
        return line

    def run_job(self, job: IncomingJob, found: Callable[..., None]) -> None:
        """Start a job; `found`, `_refused` or `_cancelled` hears of its end."""
        self.job = job
        # Bound methods, so that Qt delivers them in this thread and not in the job's.
        job.found.connect(found)
        job.refused.connect(self._refused)
        job.cancelled.connect(self._cancelled)
        self._show_running(True)
        job.start()
        self.cancel.setFocus(Qt.FocusReason.OtherFocusReason)

    def stop(self) -> None:
        """Cancel and wait; the window is closing."""
        if self.job is not None:
            self.job.cancel()
            self.job.wait()

    def dragEnterEvent(self, event: QDragEnterEvent) -> None:
        if dropped_file(event.mimeData(), self.kinds) is not None:
            event.acceptProposedAction()

    def dropEvent(self, event: QDropEvent) -> None:
        path = dropped_file(event.mimeData(), self.kinds)
        if path is not None:
            event.acceptProposedAction()
            self.open_file(path)

    def _choose(self) -> None:
        chosen = self._choose_file(self)
        if chosen is not None:
            self.open_file(chosen)

    def _show_running(self, running: bool) -> None:
        for widget in (self.bar, self.cancel):
            widget.setVisible(running)
        self.cancel.setEnabled(running)
        self.path.setEnabled(not running)

    def _cancel(self) -> None:
        if self.job is not None:
            self.job.cancel()
            self.cancel.setEnabled(False)

    def _ended(self) -> None:
        job, self.job = self.job, None
        if job is not None:
            job.wait()
            job.deleteLater()
        self._show_running(False)

    def _refused(self, sentence: str) -> None:
        raise NotImplementedError

    def _cancelled(self) -> None:
        raise NotImplementedError
