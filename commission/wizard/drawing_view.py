"""A drawing of plain shapes on the screen, in the colours of the appearance."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from functools import cache

from PySide6.QtCore import QPointF, QRectF, QSize, Qt
from PySide6.QtGui import (
    QColor,
    QFont,
    QFontDatabase,
    QPainter,
    QPaintEvent,
    QPen,
    QPolygonF,
    QResizeEvent,
)
from PySide6.QtWidgets import QSizePolicy, QWidget

from commission.drawing.lettering import BOLD_FILE, FAMILY, REGULAR_FILE, width_of
from commission.drawing.shapes import (
    Anchor,
    Circle,
    Clip,
    Drawing,
    Paint,
    Path,
    Role,
    Shape,
    Text,
)
from commission.resources import fonts_folder
from commission.wizard.appearance import Appearance, Palette

PIXELS_PER_POINT = 1.6
"""At 100 %: ordinary text of 7.5 points comes out 12 pixels high."""
NARROWEST = 300.0
"""Points; a narrower window shows a drawing of this width in smaller letters."""
_FINE = 16

_OWN: Mapping[Role, str] = {
    Role.INK: "ink",
    Role.QUIET: "muted",
    Role.GRID: "line",
    Role.GROUND: "surface",
    Role.TINT: "sunken",
    Role.ACCENT: "accent",
    Role.PASS: "done",
    Role.FAIL: "fail",
    Role.DOUBT: "inconclusive",
}
# Cool and warm stand for air and refrigerant; the palettes have no word for them.
_COOL_AND_WARM: Mapping[str, Mapping[Role, str]] = {
    "light": {Role.COOL: "#1D4E9E", Role.WARM: "#974600"},
    "dark": {Role.COOL: "#A3C6FF", Role.WARM: "#FFB680"},
    "bright sun": {Role.COOL: "#002A6B", Role.WARM: "#5C2A00"},
}


def colour_of(paint: Paint, palette: Palette) -> QColor:
    """Return a paint as shown: its role's colour mixed with the palette's surface."""
    own = _OWN.get(paint.role)
    full = QColor(palette[own] if own else _COOL_AND_WARM[palette.name][paint.role])
    ground = QColor(palette["surface"])
    share = paint.strength
    return QColor(
        round(ground.red() + share * (full.red() - ground.red())),
        round(ground.green() + share * (full.green() - ground.green())),
        round(ground.blue() + share * (full.blue() - ground.blue())),
    )


@cache
def _register_faces() -> None:
    for name in (REGULAR_FILE, BOLD_FILE):
        QFontDatabase.addApplicationFont(str(fonts_folder() / name))


def paint_drawing(painter: QPainter, drawing: Drawing, palette: Palette, scale: float) -> None:
    """Paint a drawing with its upper left corner at the painter's origin.

    Args:
        painter: An active painter.
        drawing: What to paint.
        palette: Colours.
        scale: Pixels per point.
    """
    _register_faces()
    painter.save()
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    painter.scale(scale, scale)
    _paint(painter, drawing.shapes, palette)
    painter.restore()


def _paint(painter: QPainter, shapes: Sequence[Shape], palette: Palette) -> None:
    for shape in shapes:
        if isinstance(shape, Text):
            _paint_text(painter, shape, palette)
        elif isinstance(shape, Clip):
            painter.save()
            box = shape.box
            painter.setClipRect(
                QRectF(box.left, box.top, box.width, box.height),
                Qt.ClipOperation.IntersectClip,
            )
            _paint(painter, shape.shapes, palette)
            painter.restore()
        else:
            _paint_outline(painter, shape, palette)


def _paint_outline(painter: QPainter, shape: Path | Circle, palette: Palette) -> None:
    painter.setPen(_pen(shape, palette))
    painter.setBrush(
        colour_of(shape.fill, palette) if shape.fill is not None else Qt.BrushStyle.NoBrush
    )
    if isinstance(shape, Circle):
        painter.drawEllipse(QPointF(shape.x, shape.y), shape.radius, shape.radius)
        return
    points = QPolygonF([QPointF(x, y) for x, y in shape.points])
    if shape.closed:
        painter.drawPolygon(points)
    else:
        painter.drawPolyline(points)


def _pen(shape: Path | Circle, palette: Palette) -> QPen:
    if shape.stroke is None:
        return QPen(Qt.PenStyle.NoPen)
    pen = QPen(colour_of(shape.stroke, palette), shape.width)
    pen.setJoinStyle(Qt.PenJoinStyle.RoundJoin)
    pen.setCapStyle(Qt.PenCapStyle.FlatCap)
    if isinstance(shape, Path) and shape.dash:
        # Qt counts dashes in widths of the pen.
        pen.setDashPattern([length / shape.width for length in shape.dash])
    return pen


def _paint_text(painter: QPainter, shape: Text, palette: Palette) -> None:
    """Set text at a whole number of small units: font sizes in pixels are whole numbers."""
    font = QFont(FAMILY)
    font.setPixelSize(max(1, round(shape.size * _FINE)))
    font.setBold(shape.bold)
    font.setHintingPreference(QFont.HintingPreference.PreferNoHinting)
    painter.save()
    painter.setFont(font)
    painter.setPen(colour_of(shape.paint, palette))
    painter.translate(shape.x, shape.y)
    if shape.turned:
        painter.rotate(-90)
    share = {Anchor.START: 0.0, Anchor.MIDDLE: 0.5, Anchor.END: 1.0}[shape.anchor]
    painter.translate(-share * width_of(shape.text, shape.size, shape.bold), 0)
    painter.scale(1 / _FINE, 1 / _FINE)
    painter.drawText(QPointF(0, 0), shape.text)
    painter.restore()


class DrawingView(QWidget):
    """Shows the drawing that `make` gives for a width in points, as wide as the view is.

    `make` is called again when the width changes; the drawing's description is the view's name
    for a screen reader.
    """

    def __init__(self, make: Callable[[float], Drawing], appearance: Appearance) -> None:
        super().__init__()
        self._make = make
        self._appearance = appearance
        self._drawing: Drawing | None = None
        self._scale = 1.0
        policy = QSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        policy.setHeightForWidth(True)
        self.setSizePolicy(policy)

    @property
    def drawing(self) -> Drawing:
        """The drawing as it is laid out for the present width."""
        if self._drawing is None:
            self._lay_out(max(self.width(), 1))
        assert self._drawing is not None
        return self._drawing

    def points(self) -> float:
        """Return the width for which the drawing is laid out, points."""
        scale = PIXELS_PER_POINT * self._appearance.percent / 100
        return max(NARROWEST, max(self.width(), 1) / scale)

    def refresh(self) -> None:
        """Make the drawing anew: a reading has changed."""
        self._drawing = None
        self._lay_out(max(self.width(), 1))
        self.update()

    def _lay_out(self, width: int) -> None:
        points = self.points()
        if self._drawing is None or abs(self._drawing.width - points) > 0.5:
            self._drawing = self._make(points)
            self.setAccessibleName(self._drawing.title)
            self.setAccessibleDescription(self._drawing.description)
        self._scale = width / self._drawing.width
        self.setFixedHeight(max(1, round(self._drawing.height * self._scale)))

    def sizeHint(self) -> QSize:
        return QSize(self._appearance.px(560), self.height())

    def minimumSizeHint(self) -> QSize:
        return QSize(1, self.height())

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self._lay_out(max(self.width(), 1))

    def paintEvent(self, event: QPaintEvent) -> None:
        painter = QPainter(self)
        palette = self._appearance.palette
        painter.fillRect(self.rect(), QColor(palette["surface"]))
        paint_drawing(painter, self.drawing, palette, self._scale)
        painter.end()
