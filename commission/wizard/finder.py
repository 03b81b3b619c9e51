"""A long list to choose from by typing any part of its words."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QCompleter, QListView, QWidget

from commission.language import spoken
from commission.wizard.appearance import Appearance
from commission.wizard.choice import Choice, fill

_MOST_NAMED = 3


class Finder(Choice):
    """What is typed is looked for anywhere in the texts; an empty line chooses nothing.

    Signals:
        confirmed: Enter, while no list of matches is open (there, Enter takes one).
    """

    confirmed = Signal()

    def __init__(self, appearance: Appearance, hint: str, parent: QWidget | None = None) -> None:
        super().__init__(appearance, parent)
        self.let_type()
        # What stands before a colon has room in the line; the whole is said beside the pointer.
        self.line.setPlaceholderText(hint.partition(":")[0])
        self.setToolTip(hint)
        self.setAccessibleDescription(hint)
        completer = self._found = QCompleter(self.model(), self)
        completer.setFilterMode(Qt.MatchFlag.MatchContains)
        completer.setCaseSensitivity(Qt.CaseSensitivity.CaseInsensitive)
        completer.setMaxVisibleItems(8)
        completer.setPopup(self._matches_list(appearance))
        self.setCompleter(completer)
        self.line.returnPressed.connect(self._returned)

    def _matches_list(self, appearance: Appearance) -> QListView:
        """Return the list of matches: each text whole, on as many lines as it needs."""
        px, palette = appearance.px, appearance.palette
        shown = QListView()
        shown.setWordWrap(True)
        shown.setTextElideMode(Qt.TextElideMode.ElideNone)
        shown.setResizeMode(QListView.ResizeMode.Adjust)
        shown.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        shown.setMinimumHeight(px(190))  # two matches, if each needs several lines
        # It is a window of its own, which the window's style sheet does not reach.
        shown.setStyleSheet(
            f"QListView {{ background: {palette['surface']}; color: {palette['ink']};"
            f" border: 1px solid {palette['edge']}; font-size: {px(14)}px; }}"
            f"QListView::item {{ min-height: {px(44)}px; padding: 0 {px(8)}px; }}"
            f"QListView::item:selected {{ background: {palette['accent']};"
            f" color: {palette['on_accent']}; }}"
        )
        return shown

    def _returned(self) -> None:
        popup = self._found.popup()
        if popup is None or not popup.isVisible():
            self.confirmed.emit()

    def offer(self, pairs: Sequence[tuple[str, str]], chosen: str = "") -> None:
        """Offer (text, data) pairs, one of them chosen by its data."""
        fill(self, pairs, chosen)
        self.put(chosen)

    def put(self, data: str) -> None:
        """Choose by data; "" for nothing."""
        place = self.findData(data) if data else -1
        self.setCurrentIndex(place)
        self.setEditText(self.itemText(place) if place >= 0 else "")
        self.line.setCursorPosition(0)  # the beginning of a long text is what tells

    def _matches(self) -> list[int]:
        """Return the places of what was typed: the one text that it is, else all that hold it."""
        typed = self.currentText().strip().casefold()
        if not typed:
            return []
        here = self.currentIndex()
        if here >= 0 and self.itemText(here).casefold() == typed:
            return [here]
        texts = [self.itemText(place).casefold() for place in range(self.count())]
        whole = [place for place, text in enumerate(texts) if text == typed]
        return whole or [place for place, text in enumerate(texts) if typed in text]

    def data(self) -> str:
        """Return the data of what was typed or chosen; "" for nothing, or nothing certain."""
        found = self._matches()
        return str(self.itemData(found[0])) if len(found) == 1 else ""

    def refusal(self) -> str:
        """Return why what was typed chooses nothing; "" where it does, or is empty."""
        typed, found = self.currentText().strip(), self._matches()
        if not typed or len(found) == 1:
            return ""
        name = self.accessibleName()
        if not found:
            return spoken(
                "{name}: nothing is called '{typed}'. Choose from the list (F4), or leave it "
                "empty.",
                name=name,
                typed=typed,
            )
        first = "; ".join(self.itemText(place) for place in found[:_MOST_NAMED])
        return spoken(
            "{name}: '{typed}' is in {count} of them ({first} ...). Type more of it, or choose.",
            name=name,
            typed=typed,
            count=len(found),
            first=first,
        )
