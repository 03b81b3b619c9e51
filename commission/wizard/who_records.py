"""Who records: asked once in place, at the first entry that stands in nobody's name."""

from __future__ import annotations

from PySide6.QtCore import Qt
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QCompleter, QFrame, QLineEdit, QVBoxLayout, QWidget
from shiboken6 import isValid

from commission.language import spoken, to_say
from commission.wizard.appearance import Appearance
from commission.wizard.document import Document
from commission.wizard.parts import button, label, wrapping_row

_ASKED = to_say(
    "Nobody is named: what is entered stands without a name. Who records? (Ctrl+Shift+N)"
)


class WhoRecords(QFrame):
    """A line below the header. It takes no focus by itself, and goes on "Not now"."""

    def __init__(self, document: Document, appearance: Appearance) -> None:
        super().__init__()
        self.setProperty("role", "ask")
        self._document = document
        self._asked = False
        self._before: QWidget | None = None
        px = appearance.px
        self.name = QLineEdit()
        self.name.setPlaceholderText(spoken("Name"))
        self.name.setAccessibleName(spoken("Name of the person who records"))
        self.name.setFixedWidth(px(190))
        self.name.returnPressed.connect(self._keep)
        self.keep = button(spoken("Use this name"), self._keep, "primary")
        self.keep.setAccessibleName(spoken("Record in this name from now on"))
        self.later = button(spoken("Not now"), self.leave, "quiet")
        self.refusal = label("", "error")
        self.refusal.hide()
        line = wrapping_row(px(10))
        line.addWidget(label(spoken(_ASKED)), 1)
        for made in (self.name, self.keep, self.later):
            line.addWidget(made)
        outer = QVBoxLayout(self)
        outer.setContentsMargins(px(20), px(6), px(20), px(6))
        outer.addLayout(line)
        outer.addWidget(self.refusal)
        self.hide()
        document.committed.connect(self._entered)
        document.recording_changed.connect(self._recording_changed)

    def _entered(self) -> None:
        """Ask at the first entry in nobody's name, and never again in this opening."""
        if not self._asked and not self._document.session.person_id:
            self._asked = True
            self._open()

    def _open(self) -> None:
        names = [person.name for person in self._document.session.project.people()]
        completer = QCompleter(names, self)
        completer.setCaseSensitivity(Qt.CaseSensitivity.CaseInsensitive)
        completer.setCompletionMode(QCompleter.CompletionMode.InlineCompletion)
        self.name.setCompleter(completer)
        self._say("")
        self.show()

    def ask(self) -> None:
        """Come here to say who records."""
        self._asked = True
        self._before = self.window().focusWidget()
        self._open()
        self.name.setText(self._document.person_name(self._document.session.person_id))
        self.name.selectAll()
        self.name.setFocus(Qt.FocusReason.ShortcutFocusReason)

    def _recording_changed(self) -> None:
        if self._document.session.person_id and self.isVisible():
            self.leave()

    def _keep(self) -> None:
        if not self.name.text().strip():
            self._say(spoken("Type a name, or choose 'Not now'."))
            return
        self._say(self._document.record_as(self.name.text()))

    def _say(self, refusal: str) -> None:
        self.refusal.setText(refusal)
        self.refusal.setVisible(bool(refusal))

    def leave(self) -> None:
        """Go, and give the focus back."""
        had_focus = self.isAncestorOf(self.window().focusWidget() or self.window())
        self.hide()
        before, self._before = self._before, None
        if had_focus and before is not None and isValid(before):
            before.setFocus(Qt.FocusReason.OtherFocusReason)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() == Qt.Key.Key_Escape:
            self.leave()
        else:
            super().keyPressEvent(event)
