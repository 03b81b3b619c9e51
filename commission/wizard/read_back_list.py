"""The rows of a review: how each stands, and what it was, is in the file, and is now."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QFrame, QGridLayout, QVBoxLayout

from commission.language import spoken, to_say
from commission.wizard.appearance import Appearance
from commission.wizard.icon import icon
from commission.wizard.parts import SignLabel, button, label, stretch_last, wrapping_row
from commission.wizard.record_form import ListModel, Place, RecordList
from commission.wizard.sign import Sign

if TYPE_CHECKING:
    from commission.workbook.read_back_rows import ReviewRow

_TITLES = (
    to_say("How it stands"),
    to_say("Unit"),
    to_say("What"),
    to_say("At export"),
    to_say("In the file"),
    to_say("Project now"),
)
_WIDTHS = (17, 12, 29, 14, 14, 14)
_SIGNS = {
    "changed": Sign("next", to_say("changed"), "done"),
    "conflict": Sign("warning", to_say("conflict"), "fail"),
    "overwritten": Sign("inconclusive", to_say("formula gone"), "inconclusive"),
    "formula": Sign("inconclusive", to_say("formula"), "inconclusive"),
    "not clear": Sign("help", to_say("not understood"), "inconclusive"),
    "lost": Sign("missing", to_say("not found"), "missing"),
    "unknown": Sign("missing", to_say("unknown"), "missing"),
    "entered": Sign("pass", to_say("entered"), "done"),
    "refused": Sign("fail", to_say("refused"), "fail"),
}
ENTERED, REFUSED = "entered", "refused"


def word_of(standing: str) -> str:
    """Return what a standing is called."""
    return _SIGNS[standing].word


class ReviewModel(ListModel):
    """Rows of a review, each with the icon of how it stands."""

    def __init__(self, appearance: Appearance) -> None:
        super().__init__(tuple(spoken(title) for title in _TITLES))
        self._appearance = appearance
        self._signs: list[Sign] = []

    def show_rows(self, rows: Sequence[tuple[int, str, ReviewRow]]) -> None:
        """Show other rows: (number in the review, how it stands, row)."""
        self._signs = [_SIGNS[standing] for _, standing, _ in rows]
        self.fill([(str(n), _texts(sign, one)) for (n, _, one), sign in
                   zip(rows, self._signs, strict=True)])  # fmt: skip

    def data(self, place: Place, role: int = Qt.ItemDataRole.DisplayRole) -> object:
        if role == Qt.ItemDataRole.DecorationRole and place.isValid() and place.column() == 0:
            sign = self._signs[place.row()]
            look = self._appearance
            return icon(sign.icon, look.palette[sign.colour], look.px(18))
        return super().data(place, role)


def _texts(sign: Sign, one: ReviewRow) -> tuple[str, ...]:
    now = one.in_file if sign is _SIGNS[ENTERED] else one.now
    return (
        sign.word,
        one.tag or spoken("Project"),
        one.label,
        *map(_short, (one.was, one.in_file, now)),
    )


def _short(text: str) -> str:
    return text if len(text) <= 60 else f"{text[:58]} …"


class ReviewList(RecordList):
    """The list; Enter takes the row at hand, Ctrl+Enter all that only the file has changed.

    Signals:
        taken: a row's number in the review.
        all_taken.
    """

    taken = Signal(str)
    all_taken = Signal()

    def __init__(self, model: ReviewModel, appearance: Appearance) -> None:
        super().__init__(model, _WIDTHS, spoken("What came back"), appearance, (3, 5))
        self._review_model = model

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            place = self.currentIndex()
            if event.modifiers() & Qt.KeyboardModifier.ControlModifier:
                self.all_taken.emit()
            elif place.isValid():
                self.taken.emit(self._review_model.ids[place.row()])
        elif event.key() != Qt.Key.Key_Space:
            super().keyPressEvent(event)


class RowDetail(QFrame):
    """One row in full: the three values side by side, what was found, and taking it.

    Signals:
        taken: the file's value is to be entered.
    """

    taken = Signal()

    def __init__(self, appearance: Appearance) -> None:
        super().__init__()
        self.setProperty("role", "card")
        px = appearance.px
        self.sign = SignLabel(appearance)
        self.title = label("", "heading")
        self.where = label("", "muted")
        self.values = [label(""), label(""), label("")]
        self.sentence = label("")
        self.take = button(spoken("Take the file's value"), self.taken.emit, "primary")
        self.take.setToolTip(spoken("Enter, in the list"))
        layout = QVBoxLayout(self)
        layout.setContentsMargins(px(16), px(10), px(16), px(12))
        layout.setSpacing(px(6))
        head = wrapping_row(px(8))
        head.addWidget(self.sign)
        head.addWidget(self.title, 1)
        layout.addLayout(head)
        layout.addWidget(self.where)
        beside = QGridLayout()
        beside.setHorizontalSpacing(px(14))
        for column, words in enumerate(spoken(title) for title in _TITLES[3:]):
            beside.addWidget(label(words, "muted"), 0, column)
            self.values[column].setTextInteractionFlags(
                Qt.TextInteractionFlag.TextSelectableByMouse
            )
            self.values[column].setAccessibleName(words)
            beside.addWidget(self.values[column], 1, column, Qt.AlignmentFlag.AlignTop)
            beside.setColumnStretch(column, 1)
        layout.addLayout(beside)
        layout.addWidget(self.sentence)
        buttons = wrapping_row(px(8))
        buttons.addWidget(self.take)
        layout.addLayout(stretch_last(buttons))

    def show_row(self, one: ReviewRow, standing: str, refusal: str = "") -> None:
        """Show a row of the review."""
        sign = _SIGNS[standing]
        self.sign.show_sign(sign)
        self.title.setText(f"{one.tag or spoken('Project')}: {one.label}")
        self.where.setText(spoken("Cell {place}", place=one.place))
        now = one.in_file if standing == ENTERED else one.now
        for shown, text in zip(self.values, (one.was, one.in_file, now), strict=True):
            shown.setText(text or spoken("empty"))
        self.sentence.setText(
            spoken("Entered.") if standing == ENTERED else refusal or one.sentence
        )
        self.take.setVisible(one.acceptable and standing not in (ENTERED, REFUSED))
        conflict = standing == "conflict"
        self.take.setText(spoken("Take the file's value in place of the project's") if conflict
                          else spoken("Take the file's value"))  # fmt: skip
