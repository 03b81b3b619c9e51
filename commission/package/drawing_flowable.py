"""A drawing of plain shapes set on a page of the package."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from reportlab.lib.colors import Color, white
from reportlab.platypus import Flowable

from commission.drawing.shapes import (
    Anchor,
    Box,
    Circle,
    Clip,
    Drawing,
    Paint,
    Path,
    Role,
    Shape,
    Text,
)
from commission.package.look import (
    ACCENT,
    ALARM,
    BOLD,
    DOUBT,
    GOOD,
    INK,
    QUIET,
    REGULAR,
    RULE,
    STEP,
    TABLE_SIZE,
    TINT,
)
from commission.package.typesetting import broken

_MOST_HEIGHT = 620.0  # a page's, less a heading and a caption
_COOL, _WARM = Color(0.11, 0.31, 0.62), Color(0.60, 0.28, 0.0)
COLOURS: Mapping[Role, Any] = {
    Role.INK: INK,
    Role.QUIET: QUIET,
    Role.GRID: RULE,
    Role.GROUND: white,
    Role.TINT: TINT,
    Role.ACCENT: ACCENT,
    Role.COOL: _COOL,
    Role.WARM: _WARM,
    Role.PASS: GOOD,
    Role.FAIL: ALARM,
    Role.DOUBT: DOUBT,
}


def colour_of(paint: Paint) -> Color:
    """Return a paint as printed: its role's colour mixed with the white of the paper."""
    full, share = COLOURS[paint.role], paint.strength
    return Color(*(1 - share * (1 - part) for part in (full.red, full.green, full.blue)))


class DrawingFlowable(Flowable):  # type: ignore[misc]
    """A figure, scaled down if it is wider than the page, its caption beneath.

    `alternate_text` is what is read aloud in the figure's place.
    """

    def __init__(self, drawing: Drawing, caption: str = "") -> None:
        super().__init__()
        self.drawing, self.caption = drawing, caption
        self.alternate_text = " ".join(filter(None, (drawing.description, caption)))
        self.spaceBefore, self.spaceAfter = STEP, STEP

    def wrap(self, width: float, height: float) -> tuple[float, float]:
        """Return the room needed; nothing is ever scaled up, nor down to what a page has left."""
        drawing = self.drawing
        self.factor = min(1.0, width / drawing.width, _MOST_HEIGHT / drawing.height)
        self.lines = broken(self.caption, REGULAR, TABLE_SIZE, width) if self.caption else ()
        self.width = width
        self.height = drawing.height * self.factor + 10.0 * len(self.lines)
        return width, self.height

    def draw(self) -> None:
        """Draw the shapes from the top down, then the caption."""
        canvas = self.canv
        canvas.saveState()
        canvas.translate(0, self.height)
        canvas.scale(self.factor, self.factor)
        draw_shapes(canvas, self.drawing.shapes)
        canvas.restoreState()
        canvas.setFillColor(INK)
        canvas.setFont(REGULAR, TABLE_SIZE)
        for number, line in enumerate(self.lines):
            canvas.drawString(0, 10.0 * (len(self.lines) - number) - 8.0, line)


def draw_shapes(canvas: Any, shapes: Sequence[Shape]) -> None:
    """Draw shapes with the canvas's origin at the drawing's upper left corner."""
    for shape in shapes:
        if isinstance(shape, Path):
            _draw_path(canvas, shape)
        elif isinstance(shape, Circle):
            _prepare(canvas, shape.stroke, shape.width, shape.fill)
            canvas.circle(
                shape.x, -shape.y, shape.radius, shape.stroke is not None, shape.fill is not None
            )
        elif isinstance(shape, Text):
            _draw_text(canvas, shape)
        else:
            _draw_clipped(canvas, shape)


def _prepare(canvas: Any, stroke: Paint | None, width: float, fill: Paint | None) -> None:
    if stroke is not None:
        canvas.setStrokeColor(colour_of(stroke))
        canvas.setLineWidth(width)
    if fill is not None:
        canvas.setFillColor(colour_of(fill))


def _draw_path(canvas: Any, shape: Path) -> None:
    _prepare(canvas, shape.stroke, shape.width, shape.fill)
    canvas.setDash(list(shape.dash))
    canvas.setLineJoin(1)
    canvas.setLineCap(0)
    canvas.drawPath(
        _path(canvas, shape.points, shape.closed),
        stroke=shape.stroke is not None,
        fill=shape.fill is not None,
    )
    canvas.setDash([])


def _path(canvas: Any, points: Sequence[tuple[float, float]], closed: bool) -> Any:
    path = canvas.beginPath()
    path.moveTo(points[0][0], -points[0][1])
    for x, y in points[1:]:
        path.lineTo(x, -y)
    if closed:
        path.close()
    return path


def _draw_text(canvas: Any, shape: Text) -> None:
    canvas.saveState()
    canvas.setFillColor(colour_of(shape.paint))
    canvas.setFont(BOLD if shape.bold else REGULAR, shape.size)
    canvas.translate(shape.x, -shape.y)
    if shape.turned:
        canvas.rotate(90)
    draw = {
        Anchor.START: canvas.drawString,
        Anchor.MIDDLE: canvas.drawCentredString,
        Anchor.END: canvas.drawRightString,
    }[shape.anchor]
    draw(0, 0, shape.text)
    canvas.restoreState()


def _draw_clipped(canvas: Any, shape: Clip) -> None:
    canvas.saveState()
    box: Box = shape.box
    path = canvas.beginPath()
    path.rect(box.left, -box.bottom, box.width, box.height)
    canvas.clipPath(path, stroke=0, fill=0)
    draw_shapes(canvas, shape.shapes)
    canvas.restoreState()
