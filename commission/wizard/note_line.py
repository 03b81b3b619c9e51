"""The note on a reading: shown below it, written in place."""

from __future__ import annotations

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QFrame, QLineEdit

from commission.definitions.model import Key
from commission.language import spoken
from commission.wizard.appearance import Appearance
from commission.wizard.document import Document
from commission.wizard.parts import bring_into_view, button, column, label, row


class NoteLine(QFrame):
    """What is noted, a button to change it, and the line in which it is typed.

    Signals:
        left: typing has ended by Enter or Esc; the focus is free.
    """

    left = Signal()

    def __init__(self, document: Document, unit_id: str, key: Key, appearance: Appearance) -> None:
        super().__init__()
        self._document = document
        self._unit_id = unit_id
        self._key = key
        px = appearance.px
        name = document.results(unit_id).label(key)
        self.words = label("")
        self.change = button(spoken("Change the note"), self.edit, "quiet")
        self.change.setToolTip(spoken("Write a note on this reading (Ctrl+M)"))
        self.change.setAccessibleName(spoken("Write a note: {name}", name=name))
        self.line = QLineEdit()
        self.line.setPlaceholderText(spoken("A note on this reading, then Enter"))
        self.line.setAccessibleName(spoken("Note on {name}", name=name))
        self.line.editingFinished.connect(self._keep)
        self.line.hide()
        self.refusal = label("", "error")
        self.refusal.hide()
        shown = row(px(10))
        shown.addWidget(self.words, 1)
        shown.addWidget(self.change, 0, Qt.AlignmentFlag.AlignTop)
        layout = column(px(4))
        layout.addLayout(shown)
        layout.addWidget(self.line)
        layout.addWidget(self.refusal)
        self.setLayout(layout)
        self.refresh()

    @property
    def is_open(self) -> bool:
        """Whether it is being typed."""
        return self.line.isVisibleTo(self)

    def refresh(self, *, offered: bool = False) -> None:
        """Show the note as it is now; `offered`: where there is none, the way to write one."""
        note = self._document.note(self._unit_id, self._key)
        typing = self.is_open
        self.words.setText(spoken("Note: {note}", note=note) if note else "")
        self.words.setVisible(bool(note) and not typing)
        self.change.setText(spoken("Change the note") if note else spoken("Write a note"))
        self.change.setVisible(not typing and (offered or bool(note)))
        self.setVisible(bool(note) or typing or offered)

    def edit(self) -> None:
        """Begin to type; Enter keeps it, Esc leaves it as it was."""
        self.line.setText(self._document.note(self._unit_id, self._key))
        self._refuse("")
        self.show()
        self.words.hide()
        self.change.hide()
        self.line.show()
        self.line.setFocus(Qt.FocusReason.OtherFocusReason)
        self.line.selectAll()
        bring_into_view(self)

    def _keep(self) -> None:
        """Store what is typed: by Enter, or since the line is left."""
        if not self.is_open:
            return
        refusal = self._document.write_note(self._unit_id, self._key, self.line.text())
        self._refuse(refusal)
        if not refusal:
            self._close()

    def _close(self) -> None:
        had_focus = self.line.hasFocus()
        self.line.hide()
        self.refresh()
        if had_focus:
            self.left.emit()

    def _refuse(self, sentence: str) -> None:
        self.refusal.setText(sentence)
        self.refusal.setVisible(bool(sentence))

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() == Qt.Key.Key_Escape and self.is_open:
            self.line.setText(self._document.note(self._unit_id, self._key))
            self._refuse("")
            self._close()
        else:
            super().keyPressEvent(event)
