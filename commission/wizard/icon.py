"""Icons: the program's own SVG files, drawn in the colour of the palette.

An icon that is not there is an empty picture: a word always stands beside it.
"""

from __future__ import annotations

from functools import lru_cache

from PySide6.QtCore import QByteArray, QRectF, Qt
from PySide6.QtGui import QIcon, QPainter, QPixmap
from PySide6.QtSvg import QSvgRenderer

from commission.errors import CommissionError
from commission.resources import icons_folder

_LARGEST = 2.5  # as the window's largest scale
_DRAWN_IN = "#1f2933"
"""The colour of every stroke in the files, replaced by the wanted one."""


@lru_cache(maxsize=512)
def pixmap(name: str, colour: str, size: int, ratio: float = 1.0) -> QPixmap:
    """Return an icon as a square picture of `size` device-independent pixels."""
    image = QPixmap(round(size * ratio), round(size * ratio))
    image.setDevicePixelRatio(ratio)
    image.fill(Qt.GlobalColor.transparent)
    renderer = _renderer(name, colour)
    if renderer is not None:
        painter = QPainter(image)
        renderer.render(painter, QRectF(0, 0, size, size))
        painter.end()
    return image


def icon(name: str, colour: str, size: int = 20) -> QIcon:
    """Return an icon for a button, sharp on a display of twice the density and enlarged too."""
    made = QIcon(pixmap(name, colour, size))
    made.addPixmap(pixmap(name, colour, size, 2.0))
    made.addPixmap(pixmap(name, colour, round(size * _LARGEST)))
    return made


def draw(painter: QPainter, name: str, colour: str, place: QRectF) -> None:
    """Draw an icon into a rectangle."""
    renderer = _renderer(name, colour)
    if renderer is not None:
        renderer.render(painter, place)


@lru_cache(maxsize=256)
def _renderer(name: str, colour: str) -> QSvgRenderer | None:
    text = _svg(name)
    if not text:
        return None
    coloured = text.replace(_DRAWN_IN, colour).replace(_DRAWN_IN.upper(), colour)
    renderer = QSvgRenderer(QByteArray(coloured.encode()))
    return renderer if renderer.isValid() else None


@lru_cache(maxsize=128)
def _svg(name: str) -> str:
    try:
        return (icons_folder() / f"{name}.svg").read_text(encoding="utf-8")
    except (CommissionError, OSError):
        return ""
