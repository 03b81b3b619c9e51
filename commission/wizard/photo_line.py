"""One photo on a page: its thumbnail, larger on request, its caption, and taking it away."""

from __future__ import annotations

from PySide6.QtCore import QBuffer, QIODevice, QSize, Qt, Signal
from PySide6.QtGui import QIcon, QImageReader, QKeyEvent, QPixmap
from PySide6.QtWidgets import QFrame, QLineEdit, QPushButton, QSpacerItem

from commission.definitions.model import Key
from commission.errors import CommissionError
from commission.language import spoken
from commission.project import Photo
from commission.wizard.album import Album
from commission.wizard.appearance import Appearance
from commission.wizard.parts import (
    bring_into_view,
    button,
    column,
    label,
    stretch_last,
    wrapping_row,
)

_KEPT: dict[tuple[str, int, int], QPixmap] = {}
_MOST_KEPT = 200
_SMALL = (132, 99)
_EDGE = 12
_LARGE = (640, 640)


class PhotoLine(QFrame):
    """One photo: picture (larger on request), what it belongs to, caption, take away.

    Signals:
        left: it was taken away.
    """

    left = Signal()

    def __init__(self, album: Album, photo: Photo, appearance: Appearance) -> None:
        super().__init__()
        self.setProperty("role", "entry")
        self._album = album
        self._appearance = appearance
        self.photo = photo
        key = Key(photo.name, photo.index) if photo.name else None
        place = album.place_words(photo.unit_id, key)
        px = appearance.px
        self.picture = QPushButton()
        self.picture.setProperty("kind", "picture")
        self.picture.setCheckable(True)
        self.picture.setAccessibleName(spoken("Photo of {place}: larger", place=place))
        self.picture.setToolTip(spoken("Larger, or small again (Space)"))
        self.picture.clicked.connect(self._show_picture)
        self.caption = QLineEdit(photo.caption)
        self.caption.setAcceptDrops(False)  # a picture dropped here is a further photo
        self.caption.setPlaceholderText(spoken("Caption, then Enter"))
        self.caption.setAccessibleName(spoken("Caption of the photo of {place}", place=place))
        self.caption.editingFinished.connect(self._caption_typed)
        self.remove, self.sure, self.keep = self._buttons(place)
        self.refusal = label("", "error")
        words = column(px(4))
        words.addWidget(label(f"{place}, {photo.at[:16].replace('T', ' ')}", "muted"))
        words.addWidget(self.caption)
        tools = wrapping_row(px(8))
        for made in (self.remove, self.sure, self.keep):
            tools.addWidget(made)
        words.addLayout(stretch_last(tools))
        words.addWidget(self.refusal)
        words.addStretch(1)
        line = wrapping_row(px(12))
        line.setContentsMargins(px(12), px(8), px(12), px(8))
        # As wide as the widest small picture, so that captions stand below one another.
        left = column()
        left.addWidget(self.picture, 0, Qt.AlignmentFlag.AlignTop)
        left.addSpacerItem(QSpacerItem(px(_SMALL[0] + _EDGE), 0))
        line.addLayout(left)
        line.addLayout(words, 1)
        self.setLayout(line)
        self._turn(False)
        self._say("")
        self._show_picture()

    def _buttons(self, place: str) -> tuple[QPushButton, QPushButton, QPushButton]:
        remove = button(spoken("Take away"), self._ask, "quiet")
        remove.setAccessibleName(spoken("Take away the photo of {place}", place=place))
        sure = button(spoken("Yes, take it away"), self._take_away)
        return remove, sure, button(spoken("Leave it"), self._leave_it, "quiet")

    def _show_picture(self) -> None:
        px = self._appearance.px
        large = self.picture.isChecked()
        width, height = (px(side) for side in (_LARGE if large else _SMALL))
        if large:
            width = min(width, max(self.width() - px(250), px(200)))
        shown = thumbnail(self.photo, width, height)
        self.picture.setIcon(QIcon(shown))
        if shown.isNull():
            self.picture.setText(spoken("no picture"))
        self.picture.setIconSize(shown.deviceIndependentSize().toSize())
        size = self.picture.iconSize().expandedTo(QSize(px(40), px(40)))
        self.picture.setFixedSize(size + QSize(px(_EDGE), px(_EDGE)))
        if large:
            bring_into_view(self)

    def _caption_typed(self) -> None:
        words = self.caption.text().strip()
        if words == self.photo.caption:
            return
        refusal = self._album.caption(self.photo, words)
        self._say(refusal)
        if not refusal:
            self.photo = next(
                (one for one in self._album.of_unit(self.photo.unit_id) if one.id == self.photo.id),
                self.photo,
            )

    def _ask(self) -> None:
        self._turn(True)
        self.keep.setFocus(Qt.FocusReason.OtherFocusReason)

    def _leave_it(self) -> None:
        self._turn(False)
        self.remove.setFocus(Qt.FocusReason.OtherFocusReason)

    def _turn(self, asking: bool) -> None:
        self.sure.setVisible(asking)
        self.keep.setVisible(asking)
        self.remove.setVisible(not asking)

    def _take_away(self) -> None:
        refusal = self._album.remove(self.photo)
        self._say(refusal)
        if not refusal:
            self.left.emit()

    def _say(self, refusal: str) -> None:
        self.refusal.setText(refusal)
        self.refusal.setVisible(bool(refusal))

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() == Qt.Key.Key_Escape and self.sure.isVisibleTo(self):
            self._leave_it()
        else:
            super().keyPressEvent(event)


def thumbnail(photo: Photo, width: int, height: int) -> QPixmap:
    """Return a photo within a width and a height; an empty picture where it has no bytes."""
    kept = _KEPT.get((photo.sha256, width, height))
    if kept is not None:
        return kept
    try:
        data = photo.data
    except CommissionError:
        return QPixmap()
    buffer = QBuffer()
    buffer.setData(data)
    buffer.open(QIODevice.OpenModeFlag.ReadOnly)
    reader = QImageReader(buffer)
    size = reader.size()
    reader.setScaledSize(size.scaled(width, height, Qt.AspectRatioMode.KeepAspectRatio))
    shown = QPixmap.fromImage(reader.read())
    while len(_KEPT) >= _MOST_KEPT:
        _KEPT.pop(next(iter(_KEPT)))
    _KEPT[(photo.sha256, width, height)] = shown
    return shown
