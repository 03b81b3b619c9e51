"""All keys, laid over the window on request."""

from __future__ import annotations

from PySide6.QtCore import Qt
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import (
    QBoxLayout,
    QFrame,
    QGridLayout,
    QLabel,
    QScrollArea,
    QVBoxLayout,
    QWidget,
)

from commission.language import spoken, to_say
from commission.wizard.appearance import Appearance
from commission.wizard.parts import button, label, wrapping_row

KEYS = (
    (
        to_say("Anywhere"),
        (
            (
                "F1",
                to_say("How to find the reading at hand, and its history; these keys elsewhere"),
            ),
            ("Ctrl+N, Ctrl+O", to_say("New project; open a project")),
            ("Ctrl+B", to_say("Board of all units and pages")),
            ("Ctrl+K", to_say("Find a page or a reading by its words")),
            ("Ctrl+R", to_say("Functional tests, step by step")),
            ("Ctrl+D, Ctrl+G", to_say("Deficiencies; sign-off")),
            ("Ctrl+Shift+G", to_say("Witness a sample of the readings")),
            ("Ctrl+T", to_say("Trend logs: read, judge, limits")),
            ("Ctrl+I", to_say("People and instruments")),
            ("Ctrl+Shift+N", to_say("Say who records")),
            ("Ctrl+E", to_say("Export workbook or package")),
            ("Ctrl+Shift+E", to_say("Bring a workbook home")),
            ("Ctrl+L", to_say("Units from an equipment schedule")),
            ("Ctrl+,", to_say("Settings")),
            ("Ctrl+Z, Ctrl+Y", to_say("Undo, redo, and go to the field")),
            (to_say("Enter, Space"), to_say("Press the button at hand")),
            ("Ctrl+Enter", to_say("Keep the form at hand; sign; add the units chosen")),
            ("Ctrl+Q", to_say("Leave; everything is in the file already")),
        ),
    ),
    (
        to_say("On a page"),
        (
            (to_say("Enter"), to_say("Keep the reading and go to the next")),
            ("Tab, Shift+Tab", to_say("Keep it and go on, or back")),
            ("Esc", to_say("As it was before typing")),
            (to_say("D, N, A"), to_say("Done, not done, not applicable")),
            (to_say("Y, N, A"), to_say("Yes, no, not applicable")),
            (to_say("n/a reason"), to_say("Typed in any field: it does not apply, and why")),
            ("F8", to_say("n/a in any field, with the reason given last: Enter keeps it")),
            ("Ctrl+Shift+D", to_say("Make a deficiency of the reading or verdict at hand")),
            ("Ctrl+Shift+S", to_say("Sign the page that is open, alone")),
            ("Ctrl+M", to_say("Write a note on the reading at hand")),
            ("F4, Alt+Down", to_say("Open a list of choices")),
            (to_say("Space"), to_say("On Work, How or Limit: show or hide it")),
            ("Ctrl+P", to_say("Photos of the page, or of the field at hand")),
            ("Ctrl+J", to_say("Figures of the page")),
            ("Ctrl+Shift+V", to_say("Paste a copied picture as a photo")),
            ("Ctrl+PgDn, Ctrl+PgUp", to_say("Next page, page before")),
            ("Alt+PgDn, Alt+PgUp", to_say("Same page of the next unit, of the unit before")),
            (
                to_say("Space"),
                to_say("In a functional test: the call is made, then each event as it comes"),
            ),
            ("PgDn, PgUp", to_say("In a functional test: next step, step before")),
            ("F5, F6", to_say("In a functional test: repeat as retest; clock to zero")),
        ),
    ),
    (
        to_say("In a table"),
        (
            (to_say("Enter"), to_say("Down, and out at the end; on a verdict: its limit")),
            ("Tab, Shift+Tab", to_say("Right, left; out at the end")),
            (to_say("Any letter or digit"), to_say("Begins to type into the cell")),
            ("F4", to_say("To the instrument and the limits of the cell")),
            ("Ctrl+C, Ctrl+V", to_say("Copy; paste a block from a spreadsheet")),
            (to_say("Delete"), to_say("Clear the selected readings")),
            (to_say("Enter"), to_say("On a schedule's column: take it as something else")),
            (to_say("+ and -"), to_say("On the board: open or close a stage")),
            ("Alt+Up, Alt+Down", to_say("On the board: move the unit up or down")),
            ("1, 2, 3, 4, 5", to_say("On the board: all units, failing, stopped, missing, mine")),
        ),
    ),
)


_SCROLLS: dict[int, int] = {
    Qt.Key.Key_Down: 1,
    Qt.Key.Key_Up: -1,
    Qt.Key.Key_PageDown: 4,
    Qt.Key.Key_PageUp: -4,
}


_THREE_COLUMNS = 840  # pixels at 100 %; what is narrower has them one below the other


class KeyHelp(QFrame):
    """Covers the window until Esc, F1 or Close."""

    def __init__(self, parent: QWidget, appearance: Appearance) -> None:
        super().__init__(parent)
        self._ground = parent
        self._appearance = appearance
        self.setObjectName("ground")
        self.setProperty("role", "card")
        self.setAccessibleName(spoken("Keys"))
        self._before: QWidget | None = None
        px = appearance.px
        outer = QVBoxLayout(self)
        outer.setContentsMargins(px(24), px(16), px(24), px(16))
        head = wrapping_row(px(12))
        head.addWidget(label(spoken("Keys"), "title"), 1)
        self.close_button = button(spoken("Close"), self.leave)
        head.addWidget(self.close_button)
        outer.addLayout(head)
        self.area = area = QScrollArea()
        area.setWidgetResizable(True)
        area.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        content = QWidget()
        self._columns = QBoxLayout(QBoxLayout.Direction.LeftToRight, content)
        self._columns.setContentsMargins(0, 0, 0, 0)
        self._columns.setSpacing(px(32))
        for title, keys in KEYS:
            self._columns.addWidget(self._part(title, keys, px), 1, Qt.AlignmentFlag.AlignTop)
        area.setWidget(content)
        outer.addWidget(area, 1)
        self.hide()

    def _part(self, title: str, keys: tuple[tuple[str, str], ...], px) -> QWidget:
        part = QWidget()
        grid = QGridLayout(part)
        grid.setContentsMargins(0, 0, 0, 0)
        grid.setHorizontalSpacing(px(12))
        grid.setVerticalSpacing(px(8))
        grid.setColumnStretch(1, 1)
        grid.addWidget(label(spoken(title), "heading"), 0, 0, 1, 2)
        for place, (key, words) in enumerate(keys, start=1):
            named: QLabel = label(spoken(key), "note")
            named.setFixedWidth(px(112))
            grid.addWidget(named, place, 0, Qt.AlignmentFlag.AlignTop)
            grid.addWidget(label(spoken(words)), place, 1, Qt.AlignmentFlag.AlignTop)
        return part

    def show_over(self) -> None:
        """Lay it over the window."""
        self._before = self.window().focusWidget()
        self.fit()
        self.show()
        self.raise_()
        self.close_button.setFocus(Qt.FocusReason.OtherFocusReason)

    def leave(self) -> None:
        """Take it away, and give the focus back."""
        self.hide()
        if self._before is not None:
            self._before.setFocus(Qt.FocusReason.OtherFocusReason)

    def fit(self) -> None:
        """Take the size of the window."""
        self.setGeometry(self._ground.rect().adjusted(24, 24, -24, -24))
        directions = QBoxLayout.Direction
        is_wide = self.width() >= self._appearance.px(_THREE_COLUMNS)
        self._columns.setDirection(directions.LeftToRight if is_wide else directions.TopToBottom)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() in (Qt.Key.Key_Escape, Qt.Key.Key_F1):
            self.leave()
        elif event.key() in _SCROLLS:
            bar = self.area.verticalScrollBar()
            bar.setValue(bar.value() + _SCROLLS[event.key()] * bar.pageStep() // 4)
        else:
            super().keyPressEvent(event)
