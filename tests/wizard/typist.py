"""A person who types: presses keys where the focus is, and looks at nothing but the window.

Widgets are read to know where the focus stands and what is asked there; what is done is done by
key presses alone. Nothing here calls what a key press would call.
"""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import QEvent, Qt
from PySide6.QtGui import QKeyEvent
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QComboBox, QWidget

CONTROL = Qt.KeyboardModifier.ControlModifier
SHIFT = Qt.KeyboardModifier.ShiftModifier
PLAIN = Qt.KeyboardModifier.NoModifier
_MOST_TABS = 600


class TypistLostError(AssertionError):
    """The keys did not lead where they should."""


class Keyboard:
    """Key presses on whatever has the focus, counted."""

    def __init__(self) -> None:
        self.pressed = 0

    def focused(self) -> QWidget:
        """Return what has the focus."""
        widget = QApplication.focusWidget()
        if widget is None:
            raise TypistLostError("nothing has the focus")
        return widget

    def target(self) -> QWidget:
        """Return what the desktop gives a key to: the matches below a line first, if they show."""
        popup = QApplication.activePopupWidget()
        return popup if popup is not None and popup.focusProxy() is not None else self.focused()

    def press(self, key: Qt.Key, modifier: Qt.KeyboardModifier = PLAIN) -> None:
        """Press one key, and let the window do what follows from it."""
        self.pressed += 1
        matches = QApplication.activePopupWidget()
        QTest.keyClick(self.target(), key, modifier)
        if matches is not None and QApplication.activePopupWidget() is None:
            self.focused().window().activateWindow()  # as in `choose`
            QApplication.processEvents()
        if key not in (Qt.Key.Key_Tab, Qt.Key.Key_Backtab):
            QApplication.processEvents()

    def type(self, text: str) -> None:
        """Type a text, letter by letter."""
        for letter in text:
            self.pressed += 1
            widget = self.target()
            if letter.isascii():
                QTest.keyClick(widget, letter)
                continue
            for kind in (QEvent.Type.KeyPress, QEvent.Type.KeyRelease):
                QApplication.sendEvent(widget, QKeyEvent(kind, 0, PLAIN, letter))

    def replace(self, text: str) -> None:
        """Type over what stands in a line."""
        self.press(Qt.Key.Key_A, CONTROL)
        if text:
            self.type(text)
        else:
            self.press(Qt.Key.Key_Delete)

    def tab(self, back: bool = False) -> None:
        """Go on, or back, by Tab."""
        if back:
            self.press(Qt.Key.Key_Backtab, SHIFT)
        else:
            self.press(Qt.Key.Key_Tab)

    def tab_to(self, target: QWidget, back: bool = False) -> None:
        """Press Tab until a widget, or what takes the focus for it, has the focus."""
        self.tab_until(
            lambda: target is self.focused() or target.focusProxy() is self.focused(), back
        )

    def tab_until(self, there: Callable[[], bool], back: bool = False) -> None:
        """Press Tab until something holds."""
        for _ in range(_MOST_TABS):
            if there():
                return
            self.tab(back)
        raise TypistLostError(f"{_MOST_TABS} Tabs did not lead there; at {self.focused()}")

    def choose(self, box: QComboBox, place: int) -> None:
        """Choose from the list that has the focus: open it, go there, Enter."""
        if self.focused() is not box:
            raise TypistLostError(f"the list '{box.accessibleName()}' has not the focus")
        self.press(Qt.Key.Key_F4)
        if QApplication.activePopupWidget() is None:
            raise TypistLostError(f"F4 did not open the list '{box.accessibleName()}'")
        # While a list is open the desktop gives every key to it.
        for key in (Qt.Key.Key_Home, *[Qt.Key.Key_Down] * place, Qt.Key.Key_Return):
            self.pressed += 1
            QTest.keyClick(box.view(), key)
        # A desktop gives the window its focus back when the list closes; "offscreen" is none.
        box.window().activateWindow()
        QApplication.processEvents()
        if box.currentIndex() != place:
            raise TypistLostError(f"'{box.itemText(place)}' was not chosen")
