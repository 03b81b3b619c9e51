"""What the limits book knows of a unit's model: one line on a page, and a review before taking."""

from __future__ import annotations

from PySide6.QtCore import Qt, QTimer
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QCheckBox, QFrame, QVBoxLayout, QWidget

from commission.definitions.model import Section
from commission.language import spoken, spoken_count
from commission.validation.known_limits import Offer, proposed
from commission.wizard.appearance import Appearance
from commission.wizard.book_keeper import BookKeeper
from commission.wizard.book_words import name_of, numbers_of, standing_words, whence
from commission.wizard.document import Document
from commission.wizard.parts import (
    bring_into_view,
    button,
    clear,
    column,
    label,
    reveal,
    stretch_last,
    wrapping_row,
)


class LimitsOffer(QFrame):
    """Hidden while the book has nothing new for this page of this unit.

    On the page that asks for the model it speaks of all pages, elsewhere of its own.
    """

    def __init__(
        self, document: Document, unit_id: str, section: Section, appearance: Appearance
    ) -> None:
        super().__init__()
        self.setProperty("role", "ask")
        self._document = document
        self._unit_id = unit_id
        self._section = section
        self._px = appearance.px
        self._keeper = BookKeeper.of(document)
        self._shown: list[Offer] = []
        self.boxes: list[tuple[QCheckBox, Offer]] = []
        px = self._px
        self.words = label("")
        self.review = button(spoken("Review them"), self.open_review)
        head = wrapping_row(px(10))
        head.addWidget(self.words, 1)
        head.addWidget(self.review, 0, Qt.AlignmentFlag.AlignTop)
        self.list = QWidget()
        self.lines = column(px(8))
        self.list.setLayout(self.lines)
        self.refusal = label("", "error")
        self.take_button = button(spoken("Take the chosen"), self.take_chosen, "primary")
        self.close_button = button(spoken("Close"), self.close_review, "quiet")
        tools = wrapping_row(px(8))
        tools.addWidget(self.take_button)
        tools.addWidget(self.close_button)
        self.foot = QWidget()
        self.foot.setLayout(stretch_last(tools))
        layout = QVBoxLayout(self)
        layout.setContentsMargins(px(16), px(10), px(16), px(10))
        layout.setSpacing(px(8))
        layout.addLayout(head)
        for part in (self.list, self.refusal, self.foot):
            layout.addWidget(part)
            part.hide()
        self.hide()
        self._due = QTimer(self)
        self._due.setSingleShot(True)
        self._due.timeout.connect(self.refresh)
        for signal in (self._keeper.changed, document.replaced):
            signal.connect(self._due.start)
        document.committed.connect(self._committed)
        document.closing.connect(self._due.stop)

    def _committed(self, unit_id: str, _keys: object) -> None:
        if unit_id == self._unit_id:
            self._due.start()

    # -- the line ------------------------------------------------------------------

    def offers(self) -> list[Offer]:
        """Return what the book offers here, what is in force already left out."""
        found = [one for one in self._keeper.offers(self._unit_id) if one.can_be_taken]
        if self._keeper.model_field in {field.name for field in self._section.fields}:
            return found
        entries = self._document.session.plan.entries
        page = self._section.name
        return [one for one in found if entries[one.entry.name].section == page]

    def refresh(self) -> None:
        """Say what the book has for this page now."""
        found = self.offers() if self._section.level == "unit" else []
        if found == self._shown:
            return
        self._shown = found
        if self.list.isVisibleTo(self):
            self.close_review()
        if found:
            self.words.setText(self._line(found))
        reveal(self, bool(found))

    def _line(self, found: list[Offer]) -> str:
        newest = max(found, key=lambda one: one.entry.entered_on).entry
        return spoken_count(
            "Your limits book has one limit or table of this model that does not count here yet: "
            "{whence}.",
            "Your limits book has {count} limits and tables of this model that do not count here "
            "yet. The newest: {whence}.",
            len(found),
            whence=whence(newest),
        )

    # -- the review ----------------------------------------------------------------

    def open_review(self) -> None:
        """Show each of them, with its origin and with what counts now."""
        self.refresh()
        clear(self.lines)
        self.boxes = []
        chosen = proposed(self._shown)
        for offer in self._shown:
            self.lines.addWidget(self._offer_line(offer, offer in chosen))
        self._refuse("")
        for part in (self.list, self.foot):
            part.show()
        self.review.hide()
        before: QWidget = self.review
        for after in (*(box for box, _ in self.boxes), self.take_button, self.close_button):
            QWidget.setTabOrder(before, after)
            before = after
        if self.boxes:
            self.boxes[0][0].setFocus(Qt.FocusReason.OtherFocusReason)
            bring_into_view(self.boxes[0][0])

    def _offer_line(self, offer: Offer, chosen: bool) -> QWidget:
        entry = offer.entry
        name = name_of(self._document, self._unit_id, entry)
        numbers = numbers_of(self._document, self._unit_id, entry)
        box = QCheckBox()
        box.setChecked(chosen)
        box.setAccessibleName(f"{name}: {numbers}")
        box.setAccessibleDescription(whence(entry))
        self.boxes.append((box, offer))
        words = column(self._px(2))
        words.addWidget(label(f"{name}: {numbers}"))
        words.addWidget(label(whence(entry), "muted"))
        words.addWidget(label(standing_words(self._document, self._unit_id, offer), "muted"))
        line = wrapping_row(self._px(8))
        line.addWidget(box, 0, Qt.AlignmentFlag.AlignTop)
        line.addLayout(words, 1)
        made = QWidget()
        made.setLayout(line)
        if entry.kind == "table":
            made.setToolTip(entry.table)
        return made

    def take_chosen(self) -> None:
        """Record the chosen ones in this unit."""
        chosen = [offer for box, offer in self.boxes if box.isChecked()]
        if not chosen:
            self._refuse(spoken("None is chosen. Choose with the space bar, or close the review."))
            return
        done = spoken_count(
            "One limit or table is taken from your book. Undo takes it back.",
            "{count} limits and tables are taken from your book. Undo takes them back.",
            len(chosen),
        )
        refusal = self._keeper.take(self._unit_id, chosen, done)
        self._refuse(refusal)
        if not refusal:
            self.close_review()
            self.refresh()

    def close_review(self) -> None:
        """Put the review away; nothing is taken."""
        for part in (self.list, self.foot, self.refusal):
            part.hide()
        clear(self.lines)
        self.boxes = []
        self.review.show()
        if self.isVisible():
            self.review.setFocus(Qt.FocusReason.OtherFocusReason)

    def _refuse(self, sentence: str) -> None:
        self.refusal.setText(sentence)
        self.refusal.setVisible(bool(sentence))

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() == Qt.Key.Key_Escape and self.list.isVisibleTo(self):
            self.close_review()
        else:
            super().keyPressEvent(event)
