"""Marks of points and looks of lines that differ in shape and dash, never in colour alone."""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum

from commission.drawing.shapes import (
    ACCENT,
    COOL,
    DASH_DOT,
    DASHED,
    DOTTED,
    GROUND,
    INK,
    LONG_DASHED,
    QUIET,
    SOLID,
    WARM,
    Circle,
    Dash,
    Paint,
    Path,
    Point,
    Shape,
)


class Mark(StrEnum):
    """The shape of a marked point."""

    DISC = "disc"
    SQUARE = "square"
    TRIANGLE = "triangle"
    DIAMOND = "diamond"
    RING = "ring"
    CROSS = "cross"
    PLUS = "plus"


@dataclass(frozen=True, slots=True)
class Look:
    """How one series is drawn: paint, dash, mark and line width."""

    paint: Paint
    dash: Dash = SOLID
    mark: Mark = Mark.DISC
    width: float = 1.2


LOOKS: tuple[Look, ...] = (
    Look(ACCENT, SOLID, Mark.DISC),
    Look(WARM, DASHED, Mark.SQUARE),
    Look(COOL, DASH_DOT, Mark.TRIANGLE),
    Look(INK, DOTTED, Mark.DIAMOND),
    Look(QUIET, LONG_DASHED, Mark.RING),
    Look(WARM, DOTTED, Mark.CROSS),
    Look(COOL, SOLID, Mark.PLUS, 0.8),
    Look(INK, LONG_DASHED, Mark.SQUARE, 0.8),
)
"""Series in their order; no two share dash and mark."""


def mark(kind: Mark, x: float, y: float, paint: Paint = INK, size: float = 5.0) -> Shape:
    """Return a mark about (x, y), `size` points across."""
    half = size / 2
    if kind is Mark.DISC:
        return Circle(x, y, half, GROUND, 0.5, paint)
    if kind is Mark.RING:
        return Circle(x, y, half, paint, 1.1, GROUND)
    if kind in (Mark.CROSS, Mark.PLUS):
        turn = 45.0 if kind is Mark.CROSS else 0.0
        ends = [_turned(half * 1.15, turn + 90 * quarter) for quarter in range(4)]
        star = [point for end in ends for point in ((x, y), (x + end[0], y + end[1]), (x, y))]
        return Path(tuple(star), paint, 1.3)
    corners = {Mark.SQUARE: 4, Mark.TRIANGLE: 3, Mark.DIAMOND: 4}[kind]
    start = {Mark.SQUARE: 45.0, Mark.TRIANGLE: -90.0, Mark.DIAMOND: 0.0}[kind]
    reach = half * 1.2
    points = [_turned(reach, start + 360 / corners * number) for number in range(corners)]
    return Path(tuple((x + dx, y + dy) for dx, dy in points), GROUND, 0.5, SOLID, paint, True)


def _turned(length: float, degrees: float) -> Point:
    angle = math.radians(degrees)
    return length * math.cos(angle), length * math.sin(angle)


def arrow_head(x: float, y: float, degrees: float, paint: Paint = INK, size: float = 5.0) -> Path:
    """Return an arrow head with its tip at (x, y); 0 degrees points right, 90 down."""
    left, right = _turned(size, degrees + 155), _turned(size, degrees - 155)
    points = ((x, y), (x + left[0], y + left[1]), (x + right[0], y + right[1]))
    return Path(points, None, fill=paint, closed=True)
