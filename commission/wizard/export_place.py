"""Export: which output, where to; its progress, and the way to open what was written."""

from __future__ import annotations

from pathlib import Path

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QFrame, QLineEdit, QProgressBar, QScrollArea, QVBoxLayout, QWidget

from commission.language import spoken
from commission.wizard.appearance import Appearance
from commission.wizard.dialogs import Dialogs
from commission.wizard.document import Document
from commission.wizard.export_job import PACKAGE, WORKBOOK, ExportJob, Output
from commission.wizard.parts import bounded, button, label, row, stretch_last

_WORDS = {
    WORKBOOK.name: (
        "Workbook",
        "An editable spreadsheet: every reading an entry cell, every formula and verdict live.",
        "Write the workbook",
        "save_workbook",
    ),
    PACKAGE.name: (
        "Turnover package",
        "A PDF for the owner: stops and failures first, every page with its work and verdicts.",
        "Write the package",
        "save_package",
    ),
}


class ExportCard(QFrame):
    """One output: where to, write, progress, cancel, open.

    Signals:
        said: a sentence, and whether it is a refusal.
    """

    said = Signal(str, bool)

    def __init__(
        self, document: Document, output: Output, appearance: Appearance, dialogs: Dialogs
    ) -> None:
        super().__init__()
        self.setProperty("role", "card")
        self._document = document
        self.output = output
        self._dialogs = dialogs
        self.job: ExportJob | None = None
        self._written: Path | None = None
        title, words, act, picture = _WORDS[output.name]
        px = appearance.px
        project = document.session.project.path
        self.target = QLineEdit(str(project.with_suffix(output.suffix)))
        self.target.setAccessibleName(spoken("{title}: file", title=title))
        self.target.returnPressed.connect(self.start)
        colour = appearance.palette["on_accent"]
        self.write = button(act, self.start, "primary", picture, colour)
        self.cancel = button(spoken("Cancel"), self._cancel)
        self.open = button(spoken("Open it"), self._open)
        self.bar = QProgressBar()
        self.bar.setAccessibleName(spoken("{title}: progress", title=title))
        self.what = label("", "muted")
        self.result = label("")
        layout = QVBoxLayout(self)
        layout.setContentsMargins(px(16), px(12), px(16), px(14))
        layout.setSpacing(px(8))
        layout.addWidget(label(title, "heading"))
        layout.addWidget(label(words))
        place = row(px(8))
        named = label(spoken("File"), wraps=False)
        named.setBuddy(self.target)
        place.addWidget(named)
        place.addWidget(self.target, 1)
        place.addWidget(button(spoken("Choose"), self._choose))
        layout.addLayout(place)
        buttons = row(px(8))
        for made in (self.write, self.cancel, self.open):
            buttons.addWidget(made)
        layout.addLayout(stretch_last(buttons))
        for widget in (self.bar, self.what, self.result):
            layout.addWidget(widget)
            widget.hide()
        self.cancel.hide()
        self.open.hide()

    def _choose(self) -> None:
        chosen = self._dialogs.choose_to_save(self, Path(self.target.text()), self.output.kinds)
        if chosen is not None:
            self.target.setText(str(chosen))

    def start(self) -> None:
        """Write, if nothing is being written."""
        if self.job is not None:
            return
        target = Path(self.target.text().strip()).expanduser()
        if not target.suffix:
            target = target.with_suffix(self.output.suffix)
        project = self._document.session.project.path
        self.job = ExportJob(project, self._document.form, self.output, target, self)
        self.job.progressed.connect(self._progressed)
        self.job.finished_well.connect(self._finished)
        # Bound methods, so that Qt delivers them in this thread and not in the job's.
        self.job.refused.connect(self._refused)
        self.job.cancelled.connect(self._cancelled)
        self._show_running(True)
        self.job.start()

    def _show_running(self, running: bool) -> None:
        self.bar.setRange(0, 0)
        for widget in (self.bar, self.what, self.cancel):
            widget.setVisible(running)
        self.write.setEnabled(not running)
        self.target.setEnabled(not running)
        if running:
            self.result.hide()
            self.open.hide()
            self.what.setText(spoken("Starting"))
            self.cancel.setEnabled(True)
            self.cancel.setFocus(Qt.FocusReason.OtherFocusReason)

    def _progressed(self, done: int, total: int, what: str) -> None:
        self.bar.setRange(0, total)
        self.bar.setValue(done)
        counted = f" ({done} of {total})" if total else ""
        self.what.setText(f"{what}{counted}")

    def _cancel(self) -> None:
        if self.job is not None:
            self.job.cancel()
            self.cancel.setEnabled(False)
            self.what.setText(spoken("Cancelling"))

    def _finished(self, path: Path) -> None:
        self._written = path
        self._ended(f"Written: {path}", "done")
        self.open.show()
        self.open.setFocus(Qt.FocusReason.OtherFocusReason)

    def _refused(self, sentence: str) -> None:
        self._ended(sentence, "error")

    def _cancelled(self) -> None:
        self._ended("Cancelled. No file was written.", "warning")

    def _ended(self, sentence: str, role: str) -> None:
        job, self.job = self.job, None
        if job is not None:
            job.wait()
            job.deleteLater()
        self._show_running(False)
        self.result.setText(sentence)
        self.result.setProperty("role", role)
        self.result.style().unpolish(self.result)
        self.result.style().polish(self.result)
        self.result.show()
        self.write.setFocus(Qt.FocusReason.OtherFocusReason)
        self.said.emit(sentence, role == "error")

    def _open(self) -> None:
        if self._written is not None and not self._dialogs.open_outside(self._written):
            self.said.emit(f"{self._written}: this desktop has no program to open it.", True)

    def stop(self) -> None:
        """Cancel and wait; the window is closing."""
        if self.job is not None:
            job = self.job
            job.cancel()
            job.wait()


class ExportPlace(QScrollArea):
    """Both outputs.

    Signals:
        read_back_wanted: a workbook has come back.
    """

    read_back_wanted = Signal()

    def __init__(self, document: Document, appearance: Appearance, dialogs: Dialogs) -> None:
        super().__init__()
        self.setWidgetResizable(True)
        self.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        px = appearance.px
        content = QWidget()
        content.setObjectName("ground")
        layout = QVBoxLayout(content)
        layout.setContentsMargins(px(20), px(14), px(20), px(14))
        layout.setSpacing(px(12))
        layout.addWidget(label(spoken("Export"), "title"))
        self.cards = [
            ExportCard(document, output, appearance, dialogs) for output in (WORKBOOK, PACKAGE)
        ]
        for card in self.cards:
            card.said.connect(document.said)
            layout.addLayout(bounded(card, px(900)))
        self.back = button(spoken("Bring a workbook home"), self.read_back_wanted.emit)
        self.back.setToolTip("Ctrl+Shift+E")
        home = row(px(8))
        home.addWidget(self.back)
        layout.addLayout(stretch_last(home))
        layout.addStretch(1)
        self.setWidget(content)

    def stop(self) -> None:
        """Cancel what is being written."""
        for card in self.cards:
            card.stop()
