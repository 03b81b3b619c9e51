"""The marks of a step: fields with live verdict and their runs, and moments that are only timed."""

from __future__ import annotations

from PySide6.QtCore import Qt
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import QFrame, QVBoxLayout, QWidget

from commission.definitions.model import Check, Key
from commission.language import spoken
from commission.project import Reading, pass_rank
from commission.sequence.functional_model import StepMark
from commission.validation.sentences import pass_words
from commission.wizard.appearance import Appearance, set_role
from commission.wizard.document import Document
from commission.wizard.entry_row import WIDE_FROM, FieldRow
from commission.wizard.parts import label, reveal, wrapping_row
from commission.wizard.stepper_run import StepRun

_EVENT_WIDTH = 208


class MarkRow(QFrame):
    """One mark: what is seen, when it came, and its field if it has one."""

    def __init__(
        self, document: Document, unit_id: str, mark: StepMark, appearance: Appearance
    ) -> None:
        super().__init__()
        self.mark = mark
        self._document = document
        self._unit_id = unit_id
        self.field: FieldRow | None = None
        self._wide_from = appearance.px(WIDE_FROM)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.setSpacing(0)
        if mark.event:
            layout.addLayout(self._event_line(appearance))
        if mark.key is not None:
            checks = tuple(self._check(key) for key in mark.checks)
            self.field = FieldRow(document, unit_id, mark.key, appearance, checks)
            layout.addWidget(self.field)
        self.runs = label("", "muted")
        if self.field is not None:
            grid = self.field.grid
            grid.addWidget(self.runs, grid.rowCount(), 1, 1, 4)
        self.show_runs()

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        if self.field is not None:
            self.field.set_narrow(event.size().width() < self._wide_from)

    def _check(self, key: Key) -> Check:
        return self._document.check_of(key.name)

    def _event_line(self, appearance: Appearance):
        px = appearance.px
        line = wrapping_row(px(10))
        line.setContentsMargins(px(12), px(8), px(12), 0)
        self.named = label(self.mark.event, "value")
        self.named.setMinimumWidth(px(_EVENT_WIDTH))
        line.addWidget(self.named, 3)
        self.came = label("", "muted", wraps=False)
        line.addWidget(self.came, 1, Qt.AlignmentFlag.AlignLeft)
        return line

    def editor(self) -> QWidget | None:
        """Return what takes the focus."""
        return self.field.input_widget() if self.field is not None else None

    def show_event(self, run: StepRun) -> None:
        """Show when the event came, and whether it is the one that comes next."""
        if not self.mark.event:
            return
        came = run.came_s(self.mark)
        is_next = run.is_running and run.next_mark() is self.mark
        if came is not None:
            words = spoken("at {seconds} s", seconds=f"{came:.1f}")
        else:
            words = spoken("Space when this happens") if is_next else ""
        self.came.setText(words)
        set_role(self.came, "remark" if is_next else "muted")

    def show_runs(self) -> None:
        """Show what each pass holds, where there is more than one."""
        words = self._runs_words()
        self.runs.setText(words)
        reveal(self.runs, bool(words))

    def _runs_words(self) -> str:
        key = self.mark.key
        if key is None:
            return ""
        newest: dict[str, Reading] = {}
        for reading in self._document.session.history(self._unit_id, key.name, key.index):
            newest[reading.pass_name] = reading
        kept = {name: one for name, one in newest.items() if not one.is_unread}
        if len(kept) < 2:
            return ""
        told = (
            f"{pass_words(name)}: {self._shown(kept[name])}" for name in sorted(kept, key=pass_rank)
        )
        return spoken("Runs kept: {runs}", runs="; ".join(told))

    def _shown(self, reading: Reading) -> str:
        results = self._document.results(self._unit_id)
        entry = results.calculation.plan.entries[reading.name]
        if reading.not_applicable:
            return f"n/a ({reading.not_applicable})"
        if isinstance(reading.value, float | int) and not isinstance(reading.value, bool):
            return results.shown_number(float(reading.value), entry.unit, entry.decimals)
        return str(reading.value)

    def refresh(self, changed: frozenset[Key] | None) -> None:
        """Show what is known now."""
        if self.field is not None:
            self.field.refresh(changed)
        if changed is None or self.mark.key in changed:
            self.show_runs()
