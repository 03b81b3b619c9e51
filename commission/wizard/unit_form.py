"""Units on the board: add, rename, put in order, remove with a reason, and put back."""

from __future__ import annotations

from functools import partial

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QFrame, QLineEdit, QVBoxLayout, QWidget

from commission.language import spoken
from commission.wizard.appearance import Appearance
from commission.wizard.choice import Choice, fill
from commission.wizard.document import Document
from commission.wizard.flow import FlowLayout
from commission.wizard.parts import button, clear, column, hint, label, reveal, wrapping_row


class UnitForm(QFrame):
    """Add a unit, or change one; typed in place.

    Signals:
        added: the id of a new unit, or of one that was put back.
        moved: the id of a unit that has another place in the order.
        closed: there is nothing more to do here.
        schedule_wanted: the units stand in a file.
    """

    added = Signal(str)
    moved = Signal(str)
    closed = Signal()
    schedule_wanted = Signal()

    def __init__(self, document: Document, appearance: Appearance) -> None:
        super().__init__()
        self.setProperty("role", "card")
        self._document = document
        self.unit_id = ""
        px = self._px = appearance.px
        self.title = label("", "heading", wraps=False)
        self.tag = QLineEdit()
        hint(self.tag, spoken("Tag, such as RTU-1"))
        self.tag.setAccessibleName(spoken("Unit tag"))
        self.tag.setFixedWidth(px(180))
        self.tag.returnPressed.connect(self._record)
        self.like_label = label(spoken("with the configuration of"), wraps=False)
        self.like = Choice(appearance)
        self.like.setAccessibleName(spoken("Copy configuration, nameplate and design from"))
        self.like.setFixedWidth(px(200))
        self.like_label.setBuddy(self.like)
        self.record = button(spoken("Add"), self._record, "primary")
        self.up = button(spoken("Move up"), partial(self._move, -1))
        self.down = button(spoken("Move down"), partial(self._move, 1))
        self.up.setToolTip(spoken("Alt+Up in the table"))
        self.down.setToolTip(spoken("Alt+Down in the table"))
        self.remove = button(spoken("Remove"), self._ask_reason)
        self.reason = QLineEdit()
        hint(self.reason, spoken("Why it is removed; its readings stay in the file"))
        self.reason.setAccessibleName(spoken("Why the unit is removed"))
        self.reason.returnPressed.connect(self._remove)
        self.sure = button(spoken("Remove it"), self._remove, "primary")
        self.not_sure = button(spoken("Leave it"), self._leave_it, "quiet")
        self.schedule = button(spoken("From a schedule"), self.schedule_wanted.emit)
        self.schedule.setToolTip(spoken("Units from an equipment schedule (Ctrl+L)"))
        self.refusal = label("", "error")
        self._away = column(px(4))
        self._lay_out(px)
        document.units_changed.connect(self._list_removed)
        self.refusal.hide()
        self._reason_part.hide()
        self.hide()

    def _lay_out(self, px) -> None:
        line = FlowLayout(px(10), px(6))
        for widget in (self.title, self.tag, self.like_label, self.like, self.record):
            line.addWidget(widget)
        for widget in (self.up, self.down, self.remove):
            line.addWidget(widget)
        line.addWidget(self.schedule)
        line.addWidget(button(spoken("Close"), self._close, "quiet"))
        self._reason_part = QWidget()
        why = wrapping_row(px(10))
        named = label(spoken("Reason"), wraps=False)
        named.setBuddy(self.reason)
        why.addWidget(named)
        why.addWidget(self.reason, 1)
        why.addWidget(self.sure)
        why.addWidget(self.not_sure)
        self._reason_part.setLayout(why)
        outer = QVBoxLayout(self)
        outer.setContentsMargins(px(14), px(10), px(14), px(10))
        outer.addLayout(line)
        outer.addWidget(self._reason_part)
        outer.addWidget(self.refusal)
        outer.addLayout(self._away)

    # -- opening -----------------------------------------------------------------------

    def ask_new(self, like: str = "") -> None:
        """Ask for a new unit's tag."""
        self.unit_id = ""
        pairs = [(spoken("no other unit"), ""), *((u.tag, u.id) for u in self._document.units())]
        fill(self.like, pairs, like)
        self._show(spoken("New unit"), "", spoken("Add"), len(pairs) > 1)

    def ask_change(self, unit_id: str) -> None:
        """Offer to rename, move or remove a unit ("": only to put removed ones back)."""
        self.unit_id = unit_id
        tag = self._document.tag(unit_id) if unit_id else ""
        self._show(tag or spoken("Removed units"), tag, spoken("Rename"), False)

    def _show(self, title: str, tag: str, word: str, with_like: bool) -> None:
        changing = bool(self.unit_id)
        asks_tag = changing or word == spoken("Add")
        self.title.setText(title)
        self.tag.setText(tag)
        self.record.setText(word)
        self.record.setAccessibleName(word)
        shown: tuple[tuple[QWidget, bool], ...] = (
            *((widget, asks_tag) for widget in (self.tag, self.record)),
            *((widget, with_like) for widget in (self.like, self.like_label)),
            *((widget, changing) for widget in (self.up, self.down, self.remove)),
            (self.schedule, asks_tag and not changing),
        )
        for widget, is_shown in shown:
            widget.setVisible(is_shown)
        self._reason_part.hide()
        self._say("")
        self._list_removed()
        self.show()
        if asks_tag:
            self.tag.setFocus(Qt.FocusReason.OtherFocusReason)
            self.tag.selectAll()

    def _list_removed(self) -> None:
        """Show the removed units with their reasons, and the way back."""
        clear(self._away)
        for unit, reason in self._document.removed_units():
            back = button(spoken("Put it back"), partial(self._restore, unit.id))
            back.setAccessibleName(spoken("Put {tag} back", tag=unit.tag))
            line = wrapping_row(self._px(10))
            why = f": {reason}" if reason else ""
            line.addWidget(back)
            line.addWidget(label(spoken("{tag} was removed{why}", tag=unit.tag, why=why)), 1)
            self._away.addLayout(line)

    # -- acting ------------------------------------------------------------------------

    def _record(self) -> None:
        if self.unit_id:
            refusal = self._document.rename_unit(self.unit_id, self.tag.text())
        else:
            made = self._document.add_unit(self.tag.text(), self.like.currentData() or "")
            refusal = made if isinstance(made, str) else ""
            if not isinstance(made, str):
                self.added.emit(made.id)
        self._say(refusal)
        if not refusal:
            self.hide()

    def _move(self, by: int) -> None:
        self._say(self._document.move_unit(self.unit_id, by))
        self.moved.emit(self.unit_id)

    def _ask_reason(self) -> None:
        self.reason.clear()
        self.sure.setText(spoken("Remove {tag}", tag=self._document.tag(self.unit_id)))
        self._reason_part.show()
        self.reason.setFocus(Qt.FocusReason.OtherFocusReason)

    def _leave_it(self) -> None:
        self._reason_part.hide()
        self._say("")
        self.remove.setFocus(Qt.FocusReason.OtherFocusReason)

    def _remove(self) -> None:
        refusal = self._document.remove_unit(self.unit_id, self.reason.text())
        self._say(refusal)
        if not refusal:
            self._close()

    def _restore(self, unit_id: str) -> None:
        refusal = self._document.restore_unit(unit_id)
        self._say(refusal)
        if not refusal:
            self.hide()
            self.added.emit(unit_id)

    def _say(self, refusal: str) -> None:
        self.refusal.setText(refusal)
        reveal(self.refusal, bool(refusal))

    def _close(self) -> None:
        self.hide()
        self.closed.emit()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() != Qt.Key.Key_Escape:
            super().keyPressEvent(event)
        elif self._reason_part.isVisibleTo(self):
            self._leave_it()
        else:
            self._close()
