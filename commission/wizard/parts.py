"""The small pieces that every page is made of: labels, buttons, an icon with its word."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from PySide6.QtCore import QSize, Qt, QTimer
from PySide6.QtGui import QFont, QFontMetrics, QKeyEvent
from PySide6.QtWidgets import (
    QFrame,
    QHBoxLayout,
    QHeaderView,
    QLabel,
    QLayout,
    QLineEdit,
    QPlainTextEdit,
    QPushButton,
    QSizePolicy,
    QVBoxLayout,
    QWidget,
)

from commission.language import spoken
from commission.wizard.appearance import Appearance, set_role
from commission.wizard.flow import WrappingRow
from commission.wizard.icon import icon, pixmap
from commission.wizard.in_sight import show_whole
from commission.wizard.sign import Sign


def label(text: str, role: str = "", *, wraps: bool = True) -> QLabel:
    """Return a plain-text label: what people typed is never read as markup."""
    made = QLabel(text)
    made.setTextFormat(Qt.TextFormat.PlainText)
    made.setWordWrap(wraps)
    if wraps:
        made.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Preferred)
        # A wrapping label may be made narrower than its longest word is wide, not wider.
        made.setMinimumWidth(1)
    if role:
        made.setProperty("role", role)
    return made


class Button(QPushButton):
    """Enter presses it as well as Space, once for each time the key goes down."""

    def keyPressEvent(self, event: QKeyEvent) -> None:
        plain = event.modifiers() in (
            Qt.KeyboardModifier.NoModifier,
            Qt.KeyboardModifier.KeypadModifier,
        )
        if event.key() not in (Qt.Key.Key_Return, Qt.Key.Key_Enter) or not plain:
            super().keyPressEvent(event)
        elif not event.isAutoRepeat():
            self.click()


def button(
    text: str, act: Callable[[], object], kind: str = "", picture: str = "", colour: str = ""
) -> QPushButton:
    """Return a button that calls `act`."""
    # The space keeps a picture off its word.
    made = Button(f" {text}" if picture and text else text)
    made.setAccessibleName(text)
    made.setAutoDefault(False)
    if kind:
        made.setProperty("kind", kind)
    if picture:
        made.setIcon(icon(picture, colour))
    made.clicked.connect(lambda _checked=False: act())
    return made


def frame(role: str, layout: QLayout, appearance: Appearance, margin: float = 12) -> QFrame:
    """Return a frame of a role round a layout."""
    made = QFrame()
    made.setProperty("role", role)
    edge = appearance.px(margin)
    layout.setContentsMargins(edge, edge, edge, edge)
    made.setLayout(layout)
    return made


def column(spacing: int = 0) -> QVBoxLayout:
    """Return a column without margins."""
    layout = QVBoxLayout()
    layout.setContentsMargins(0, 0, 0, 0)
    layout.setSpacing(spacing)
    return layout


def row(spacing: int = 0) -> QHBoxLayout:
    """Return a row without margins."""
    layout = QHBoxLayout()
    layout.setContentsMargins(0, 0, 0, 0)
    layout.setSpacing(spacing)
    return layout


def wrapping_row(spacing: int = 0) -> WrappingRow:
    """Return a row that goes on in the next line where there is no room."""
    return WrappingRow(spacing)


def hint(line: QLineEdit | QPlainTextEdit, words: str) -> None:
    """Say in an empty line what belongs there; where it is too narrow, the tool tip has it all."""
    line.setPlaceholderText(words)
    line.setToolTip(words)
    line.setAccessibleDescription(words)


class SignLabel(QWidget):
    """An icon and its word, always together."""

    def __init__(self, appearance: Appearance, size: int = 18, parent: QWidget | None = None):
        super().__init__(parent)
        self._appearance = appearance
        self._size = appearance.px(size)
        self._shown: Sign | None = None
        self.picture = QLabel(self)
        self.picture.setFixedSize(self._size, self._size)
        self.word = label("", wraps=False)
        line = QHBoxLayout(self)
        line.setContentsMargins(0, 0, 0, 0)
        line.setSpacing(appearance.px(6))
        line.addWidget(self.picture, 0, Qt.AlignmentFlag.AlignVCenter)
        line.addWidget(self.word, 0, Qt.AlignmentFlag.AlignVCenter)

    def show_sign(self, sign: Sign) -> None:
        """Show another state."""
        if sign == self._shown:
            return
        self._shown = sign
        colour = self._appearance.palette[sign.colour]
        ratio = self.devicePixelRatioF()
        self.picture.setPixmap(pixmap(sign.icon, colour, self._size, ratio))
        self.word.setText(sign.word)
        set_role(self.word, sign.colour)


def caution_frame(cautions: Sequence[str], appearance: Appearance) -> QFrame:
    """Return the cautions of what is about to be done, each with its sign."""
    lines = column(appearance.px(6))
    made = frame("caution_frame", lines, appearance)
    lines.setContentsMargins(*(appearance.px(edge) for edge in (16, 10, 16, 10)))
    size = appearance.px(20)
    for sentence in cautions:
        line = wrapping_row(appearance.px(10))
        picture = label("", wraps=False)
        colour = appearance.palette["caution"]
        picture.setPixmap(pixmap("warning", colour, size, made.devicePixelRatioF()))
        picture.setFixedSize(size, size)
        picture.setAccessibleName(spoken("Caution"))
        line.addWidget(picture, 0, Qt.AlignmentFlag.AlignTop)
        line.addWidget(label(sentence), 1)
        lines.addLayout(line)
    return made


def stretch_last(layout: QHBoxLayout) -> QHBoxLayout:
    """Push what is in a row to the left."""
    layout.addStretch(1)
    return layout


def bounded(inner: QWidget, widest: int) -> QHBoxLayout:
    """Return a row that keeps a widget from growing wider than is good to read.

    A row, not a column: a column would work out the height of wrapped text for a width that
    the widget may not take, and cut it off.
    """
    inner.setMaximumWidth(widest)
    line = row()
    line.addWidget(inner, 1000)
    line.addStretch(1)
    return line


def clear(layout: QLayout) -> None:
    """Take everything out of a layout and away."""
    while layout.count():
        item = layout.takeAt(0)
        if item is None:
            return
        widget, inner = item.widget(), item.layout()
        if widget is not None:
            widget.hide()
            widget.deleteLater()
        elif inner is not None:
            clear(inner)


def reveal(widget: QWidget, visible: bool) -> None:
    """Show or hide a widget; one that has no place yet would open as a window of its own."""
    if not visible:
        widget.hide()
    elif widget.parentWidget() is not None:
        widget.show()


def bring_into_view(widget: QWidget) -> None:
    """Scroll to a widget that has just been opened, once it has its place."""
    QTimer.singleShot(20, widget, lambda: show_whole(widget))


class SizedHeader(QHeaderView):
    """A header of a table, as thick as it is told to be, with wrapped names."""

    def __init__(self, orientation: Qt.Orientation, parent: QWidget) -> None:
        super().__init__(orientation, parent)
        self._thickness = 0
        self.setSectionResizeMode(QHeaderView.ResizeMode.Fixed)
        self.setHighlightSections(False)
        self.setDefaultAlignment(
            Qt.AlignmentFlag.AlignLeft
            | Qt.AlignmentFlag.AlignVCenter
            | Qt.AlignmentFlag(Qt.TextFlag.TextWordWrap)
        )

    def drawn_metrics(self) -> QFontMetrics:
        """Return the metrics of its words as they are drawn: bold, as the style sheet says."""
        font = QFont(self.font())
        font.setBold(True)
        return QFontMetrics(font)

    def set_thickness(self, pixels: int) -> None:
        """Take a width (beside a table) or height (above it)."""
        if pixels != self._thickness:
            self._thickness = pixels
            self.updateGeometry()
            self.geometriesChanged.emit()

    def sizeHint(self) -> QSize:
        hint = super().sizeHint()
        if self._thickness:
            if self.orientation() == Qt.Orientation.Horizontal:
                hint.setHeight(self._thickness)
            else:
                hint.setWidth(self._thickness)
        return hint


def next_in_focus(before: QWidget, made: QWidget) -> QWidget:
    """Let Tab come to what was made late after `before`, where it stands; return the last of it."""
    for widget in (made, *made.findChildren(QWidget)):
        if widget.window() is not made.window():
            continue  # a list's own pop-up
        takes_it = widget.focusPolicy() & Qt.FocusPolicy.TabFocus and widget.focusProxy() is None
        if takes_it and widget.window() is before.window():
            QWidget.setTabOrder(before, widget)
            before = widget
    return before
