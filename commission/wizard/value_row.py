"""Lines of a page that nobody types into: a computed quantity, a check of another page."""

from __future__ import annotations

from PySide6.QtCore import Qt
from PySide6.QtGui import QKeyEvent, QMouseEvent
from PySide6.QtWidgets import QLabel, QWidget

from commission.definitions.model import Check, Key, Quantity
from commission.language import spoken
from commission.wizard.appearance import Appearance, set_role
from commission.wizard.document import Document
from commission.wizard.entry_row import LEFT, EntryRow
from commission.wizard.parts import button, label, reveal
from commission.wizard.value_words import value_words, work_words
from commission.wizard.verdict_view import VerdictView


class QuantityRow(EntryRow):
    """A computed value, live, with its uncertainty; its working on request."""

    def __init__(
        self,
        document: Document,
        unit_id: str,
        key: Key,
        appearance: Appearance,
        checks: tuple[Check, ...] = (),
    ) -> None:
        super().__init__(document, unit_id, key, appearance)
        entry = document.session.plan.entries[key.name]
        assert isinstance(entry, Quantity)
        self.quantity = entry
        self.value = label("", "value")
        self.work_button = button(spoken("Work"), self.toggle_help, "quiet")
        self.work_button.setCheckable(True)
        self.work_button.setToolTip(spoken("How this was worked out (Space)"))
        self.work_button.setAccessibleName(
            spoken("How this was worked out: {label}", label=entry.label)
        )
        self.work: QLabel | None = None
        self.add_name(entry.label, 0, LEFT)
        self.grid.addWidget(self.value, 0, 1, 1, 2)
        self.grid.addWidget(self.work_button, 0, 3)
        self.grid.setColumnStretch(1, 3)
        self.grid.setColumnStretch(4, 0)
        self.add_verdicts(checks, entry.label)
        self.refresh()

    def toggle_help(self) -> None:
        if self.work is None:
            self.work = label("", "work")
            self.work.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
            self.work.hide()
            self.grid.addWidget(self.work, 1, 0, 1, 5)
        shown = not self.work.isVisibleTo(self)
        self.work.setVisible(shown)
        self.work_button.setChecked(shown)
        self._show_work()

    def _show_work(self) -> None:
        if self.work is not None and self.work.isVisibleTo(self):
            self.work.setText(work_words(self.results, self.key, self.quantity))

    def refresh(self, changed: frozenset[Key] | None = None, *, stored: bool = True) -> None:
        asked = self.is_asked()
        reveal(self, asked)
        if not asked:
            return
        if changed is None or self.key in changed:
            text, role = value_words(self.results, self.key)
            self.value.setText(text)
            self.value.setAccessibleName(f"{self.quantity.label}: {text}")
            set_role(self.value, role)
            self._show_work()
        for view in self.verdicts:
            if changed is None or view.key in changed or not view.isVisibleTo(self):
                view.refresh()
        if changed is None:
            self.refresh_passes()

    def mousePressEvent(self, event: QMouseEvent) -> None:
        if self.childAt(event.position().toPoint()) in (self.value, None):
            self.toggle_help()
        super().mousePressEvent(event)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            self.toggle_help()
        else:
            super().keyPressEvent(event)

    def input_widget(self) -> QWidget:
        return self.work_button


class CheckRow(EntryRow):
    """A check that judges something of another page."""

    def __init__(self, document: Document, unit_id: str, key: Key, appearance: Appearance) -> None:
        super().__init__(document, unit_id, key, appearance)
        check = document.check_of(key.name)
        self.add_name(check.label, 1, Qt.AlignmentFlag.AlignTop)
        view = VerdictView(document, unit_id, key, appearance, named=False)
        view.deficiency_wanted.connect(self.deficiency_wanted)
        self.verdicts.append(view)
        self.grid.addWidget(view, 1, 1, 1, 4)
        self.refresh()

    def refresh(self, changed: frozenset[Key] | None = None, *, stored: bool = True) -> None:
        asked = self.is_asked()
        reveal(self, asked)
        for view in self.verdicts:
            if asked and (changed is None or view.key in changed):
                view.refresh()

    def input_widget(self) -> QWidget:
        return self.verdicts[0].change
