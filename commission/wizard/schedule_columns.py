"""A schedule's columns: what each is taken as, and taking it as something else."""

from __future__ import annotations

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QFrame, QVBoxLayout, QWidget

from commission.definitions.model import Form, Kind, Level
from commission.language import spoken
from commission.wizard.appearance import Appearance
from commission.wizard.finder import Finder
from commission.wizard.parts import button, label, wrapping_row
from commission.wizard.record_form import ListModel, RecordList

_NOT_READ, _TAG = "-", "tag"


class ColumnsPart(QWidget):
    """The list of columns; Enter or a click on one asks what it is taken as.

    Signals:
        chosen: the column's letters, the field's name ("" for not read, "tag"), the member.
    """

    chosen = Signal(str, str, int)

    def __init__(self, model: ListModel, form: Form, appearance: Appearance) -> None:
        super().__init__()
        self._form = form
        self._letters = ""
        px = appearance.px
        self.list = RecordList(model, (10, 34, 40, 16), spoken("Columns"), appearance)
        self.words = label("")
        self.finder = Finder(appearance, spoken("Type part of a name, or open the list (F4)"))
        self.finder.setAccessibleName(spoken("Taken as"))
        self.take = button(spoken("Take it so"), self._take, "primary")
        self.refusal = label("", "error")
        self.refusal.hide()
        self.asking = QFrame()
        self.asking.setProperty("role", "card")
        inner = QVBoxLayout(self.asking)
        inner.setContentsMargins(px(14), px(8), px(14), px(8))
        inner.addWidget(self.words)
        line = wrapping_row(px(8))
        line.addWidget(self.finder, 1)
        line.addWidget(self.take)
        line.addWidget(button(spoken("Leave it"), self.leave, "quiet"))
        inner.addLayout(line)
        inner.addWidget(self.refusal)
        self.asking.hide()
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.setSpacing(px(8))
        layout.addWidget(
            label(spoken("Enter on a column, or a click, takes it as something else."), "muted")
        )
        layout.addWidget(self.list, 1)
        layout.addWidget(self.asking)
        self.list.opened.connect(self._ask)
        self.finder.confirmed.connect(self._take)

    def _ask(self, letters: str) -> None:
        self._letters = letters
        model = self.list.model()
        at = self.list.currentIndex().row()
        head, taken = (str(model.index(at, n).data()) for n in (1, 2))
        self.words.setText(
            spoken(
                "Column {letters}, '{head}', is: {taken}.", letters=letters, head=head, taken=taken
            )
        )
        self.refuse("")
        self.finder.offer(column_choices(self._form))
        self.asking.show()
        self.finder.setFocus(Qt.FocusReason.OtherFocusReason)

    def _take(self) -> None:
        refusal, data = self.finder.refusal(), self.finder.data()
        if not refusal and not data:
            refusal = spoken("Say what the column is, or that it is not read.")
        self.refuse(refusal)
        if not refusal:
            name, _, member = data.partition(" ")
            self.chosen.emit(self._letters, "" if name == _NOT_READ else name, int(member or 0))

    def refuse(self, sentence: str) -> None:
        """Say why a column is not taken so; "" for no refusal."""
        self.refusal.setText(sentence)
        self.refusal.setVisible(bool(sentence))

    def leave(self) -> None:
        """Back to the list."""
        self.asking.hide()
        self.list.setFocus(Qt.FocusReason.OtherFocusReason)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() == Qt.Key.Key_Escape and self.asking.isVisible():
            self.leave()
        else:
            super().keyPressEvent(event)


def column_choices(form: Form) -> list[tuple[str, str]]:
    """Return (words, data) of all that a column may be: data is "field" or "field member"."""
    found = [(spoken("not read"), _NOT_READ), (spoken("the unit's tag"), _TAG)]
    for section in form.sections:
        if section.level is Level.PROJECT:
            continue
        for field in section.fields:
            if field.kind is Kind.TABLE or len(field.repeat) > 1:
                continue
            found.append((f"{field.label}, {section.title}", field.name))
            most = form.repeats[field.repeat[0]].maximum if field.repeat else 0
            for number in range(1, most + 1):
                words = f"{field.label} {number}, {section.title}"
                found.append((words, f"{field.name} {number}"))
    return found
