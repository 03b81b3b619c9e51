"""All keys, laid over the window on request."""

from __future__ import annotations

from PySide6.QtCore import Qt
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QFrame, QGridLayout, QLabel, QScrollArea, QVBoxLayout, QWidget

from commission.language import spoken
from commission.wizard.appearance import Appearance
from commission.wizard.parts import button, label, row

KEYS = (
    (
        "Anywhere",
        (
            ("F1", "How to find the reading at hand, and its history; these keys elsewhere"),
            ("Ctrl+N, Ctrl+O", "New project; open a project"),
            ("Ctrl+B", "Board of all units and pages"),
            ("Ctrl+K", "Find a page or a reading by its words"),
            ("Ctrl+R", "Functional tests, step by step"),
            ("Ctrl+D, Ctrl+G", "Deficiencies; sign-off"),
            ("Ctrl+T", "Trend logs: read, judge, limits"),
            ("Ctrl+I", "People and instruments"),
            ("Ctrl+Shift+N", "Say who records"),
            ("Ctrl+E", "Export workbook or package"),
            ("Ctrl+Shift+E", "Bring a workbook home"),
            ("Ctrl+,", "Settings"),
            ("Ctrl+Z, Ctrl+Y", "Undo, redo, and go to the field"),
            ("Ctrl+Q", "Leave; everything is in the file already"),
        ),
    ),
    (
        "On a page",
        (
            ("Enter", "Keep the reading and go to the next"),
            ("Tab, Shift+Tab", "Keep it and go on, or back"),
            ("Esc", "As it was before typing"),
            ("D, N, A", "Done, not done, not applicable"),
            ("Y, N, A", "Yes, no, not applicable"),
            ("n/a reason", "Typed in any field: it does not apply, and why"),
            ("F4, Alt+Down", "Open a list of choices"),
            ("Space", "On Work, How or Limit: show or hide it"),
            ("Ctrl+P", "Photos of the page, or of the field at hand"),
            ("Ctrl+J", "Figures of the page"),
            ("Ctrl+Shift+V", "Paste a copied picture as a photo"),
            ("Ctrl+PgDn, Ctrl+PgUp", "Next page, page before"),
            ("Alt+PgDn, Alt+PgUp", "Same page of the next unit, of the unit before"),
            ("Space", "In a functional test: the call is made, then each event as it comes"),
            ("PgDn, PgUp", "In a functional test: next step, step before"),
            ("F5, F6", "In a functional test: repeat as retest; clock to zero"),
        ),
    ),
    (
        "In a table",
        (
            ("Enter", "Down; on a verdict: its limit"),
            ("Tab, Shift+Tab", "Right, left; out at the end"),
            ("Any letter or digit", "Begins to type into the cell"),
            ("Ctrl+C, Ctrl+V", "Copy; paste a block from a spreadsheet"),
            ("Delete", "Clear the selected readings"),
            ("+ and -", "On the board: open or close a stage"),
            ("Alt+Up, Alt+Down", "On the board: move the unit up or down"),
        ),
    ),
)


_SCROLLS: dict[int, int] = {
    Qt.Key.Key_Down: 1,
    Qt.Key.Key_Up: -1,
    Qt.Key.Key_PageDown: 4,
    Qt.Key.Key_PageUp: -4,
}


class KeyHelp(QFrame):
    """Covers the window until Esc, F1 or Close."""

    def __init__(self, parent: QWidget, appearance: Appearance) -> None:
        super().__init__(parent)
        self._ground = parent
        self.setObjectName("ground")
        self.setProperty("role", "card")
        self.setAccessibleName(spoken("Keys"))
        self._before: QWidget | None = None
        px = appearance.px
        outer = QVBoxLayout(self)
        outer.setContentsMargins(px(24), px(16), px(24), px(16))
        head = row(px(12))
        head.addWidget(label(spoken("Keys"), "title"), 1)
        self.close_button = button(spoken("Close"), self.leave)
        head.addWidget(self.close_button)
        outer.addLayout(head)
        self.area = area = QScrollArea()
        area.setWidgetResizable(True)
        area.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        content = QWidget()
        columns = row(px(32))
        content.setLayout(columns)
        for title, keys in KEYS:
            columns.addWidget(self._part(title, keys, px), 1, Qt.AlignmentFlag.AlignTop)
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
        grid.addWidget(label(title, "heading"), 0, 0, 1, 2)
        for place, (key, words) in enumerate(keys, start=1):
            named: QLabel = label(key, "note")
            named.setFixedWidth(px(112))
            grid.addWidget(named, place, 0, Qt.AlignmentFlag.AlignTop)
            grid.addWidget(label(words), place, 1, Qt.AlignmentFlag.AlignTop)
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

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() in (Qt.Key.Key_Escape, Qt.Key.Key_F1):
            self.leave()
        elif event.key() in _SCROLLS:
            bar = self.area.verticalScrollBar()
            bar.setValue(bar.value() + _SCROLLS[event.key()] * bar.pageStep() // 4)
        else:
            super().keyPressEvent(event)
