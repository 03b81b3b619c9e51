"""Export: which output, where to; its progress, and the way to open what was written."""

from __future__ import annotations

from pathlib import Path

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import (
    QFrame,
    QHBoxLayout,
    QLineEdit,
    QProgressBar,
    QScrollArea,
    QVBoxLayout,
    QWidget,
)

from commission.language import ENGLISH, language, spoken, to_say
from commission.wizard.appearance import Appearance
from commission.wizard.choice import Choice, fill
from commission.wizard.dialogs import Dialogs
from commission.wizard.document import Document
from commission.wizard.export_job import ExportJob
from commission.wizard.export_work import PACKAGE, WORKBOOK, Order, Output
from commission.wizard.language_choice import named_languages
from commission.wizard.parts import bounded, button, label, stretch_last, wrapping_row

_WORDS = {
    WORKBOOK.name: (
        to_say("Workbook"),
        to_say(
            "An editable spreadsheet: every reading an entry cell, every formula and verdict live."
        ),
        to_say("Write the workbook"),
        "save_workbook",
    ),
    PACKAGE.name: (
        to_say("Turnover package"),
        to_say(
            "A PDF for the owner: stops and failures first, every page with its work and verdicts."
        ),
        to_say("Write the package"),
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
        english, words, act, picture = _WORDS[output.name]
        title = spoken(english)
        px = appearance.px
        project = document.session.project.path
        self.target = QLineEdit(str(project.with_suffix(output.suffix)))
        self.target.setAccessibleName(spoken("{title}: file", title=title))
        self.target.returnPressed.connect(self.start)
        colour = appearance.palette["on_accent"]
        self.write = button(spoken(act), self.start, "primary", picture, colour)
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
        layout.addWidget(label(spoken(words)))
        layout.addLayout(self._file_row(appearance))
        self.languages = self._language_box(appearance)
        self.systems = self._system_box(appearance)
        layout.addLayout(self._choices(appearance))
        layout.addLayout(self._buttons(appearance))
        for widget in (self.bar, self.what, self.result):
            layout.addWidget(widget)
            widget.hide()
        self.cancel.hide()
        self.open.hide()

    def _file_row(self, appearance: Appearance) -> QHBoxLayout:
        row = wrapping_row(appearance.px(8))
        named = label(spoken("File"), wraps=False)
        named.setBuddy(self.target)
        row.addWidget(named)
        row.addWidget(self.target, 1)
        row.addWidget(button(spoken("Choose"), self._choose))
        return row

    def _buttons(self, appearance: Appearance) -> QHBoxLayout:
        buttons = wrapping_row(appearance.px(8))
        for made in (self.write, self.cancel, self.open):
            buttons.addWidget(made)
        return stretch_last(buttons)

    def _choices(self, appearance: Appearance) -> QHBoxLayout:
        """Return what an output may differ in from the window, each box beside its words."""
        row = wrapping_row(appearance.px(8))
        for words, box in (
            (to_say("Language of the file"), self.languages),
            (to_say("Units of measurement"), self.systems),
        ):
            if box is not None:
                box.setAccessibleName(spoken(words))
                named = label(spoken(words), wraps=False)
                named.setBuddy(box)
                row.addWidget(named)
                row.addWidget(box)
        return stretch_last(row)

    def _language_box(self, appearance: Appearance) -> Choice:
        """Return the choice of the language that the output speaks."""
        box = Choice(appearance)
        fill(box, named_languages(), language())
        box.setFixedWidth(appearance.px(150))
        return box

    def _system_box(self, appearance: Appearance) -> Choice | None:
        """Return the choice of the package's units; the workbook's are those it is typed in."""
        if self.output is not PACKAGE:
            return None
        box = Choice(appearance)
        own = self._document.session.project.unit_system
        fill(box, [(system, system) for system in ("IP", "SI")], own)
        box.setFixedWidth(appearance.px(90))
        return box

    def _choose(self) -> None:
        chosen = self._dialogs.choose_to_save(self, Path(self.target.text()), self.output.kinds)
        if chosen is not None:
            self.target.setText(str(chosen))

    def _language(self) -> str:
        return ENGLISH if self.languages is None else str(self.languages.currentData())

    def start(self) -> None:
        """Write, if nothing is being written."""
        if self.job is not None:
            return
        target = Path(self.target.text().strip()).expanduser()
        if not target.suffix:
            target = target.with_suffix(self.output.suffix)
        project = self._document.session.project.path
        form, code = self._document.original_form, self._language()
        system = "" if self.systems is None else str(self.systems.currentData())
        self.job = ExportJob(Order(project, form, self.output, target, code, system), self)
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
        if total:
            what = spoken("{what} ({done} of {total})", what=what, done=done, total=total)
        self.what.setText(what)

    def _cancel(self) -> None:
        if self.job is not None:
            self.job.cancel()
            self.cancel.setEnabled(False)
            self.what.setText(spoken("Cancelling"))

    def _finished(self, path: Path) -> None:
        self._written = path
        written = self.job.written if self.job is not None else None
        sentences = [spoken("Written: {file}", file=path)]
        if written is not None and written.volumes:
            sentences.append(
                spoken(
                    "It is the index of {count} volumes beside it; keep them in one folder.",
                    count=len(written.volumes),
                )
            )
        if written is not None and written.left_over:
            files = ", ".join(file.name for file in written.left_over)
            sentences.append(
                spoken("Of an earlier export, and no part of this one: {files}.", files=files)
            )
        self._ended("\n".join(sentences), "done")
        self.open.show()
        self.open.setFocus(Qt.FocusReason.OtherFocusReason)

    def _refused(self, sentence: str) -> None:
        self._ended(sentence, "error")

    def _cancelled(self) -> None:
        self._ended(spoken("Cancelled. No file was written."), "warning")

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
            self.said.emit(
                spoken("{file}: this desktop has no program to open it.", file=self._written), True
            )

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
        home = wrapping_row(px(8))
        home.addWidget(self.back)
        layout.addLayout(stretch_last(home))
        layout.addStretch(1)
        self.setWidget(content)

    def stop(self) -> None:
        """Cancel what is being written."""
        for card in self.cards:
            card.stop()
