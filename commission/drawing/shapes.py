"""What a figure is made of: paths, circles, text, clipped groups. No colours, only their roles.

Measures are points; (0, 0) is the drawing's upper left corner and y grows downwards. Shapes are
drawn in their order. A renderer turns roles into the colours of its appearance; the shapes are
the same on every one.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

Point = tuple[float, float]
Dash = tuple[float, ...]

SOLID: Dash = ()
DASHED: Dash = (5.0, 2.5)
DOTTED: Dash = (1.0, 2.0)
DASH_DOT: Dash = (6.0, 2.0, 1.0, 2.0)
LONG_DASHED: Dash = (9.0, 3.0)

TEXT_SIZE = 7.5
"""Size of ordinary text, points; renderers scale a drawing so that it stays legible."""


class Role(StrEnum):
    """What a colour is for."""

    INK = "ink"
    QUIET = "quiet"
    GRID = "grid"
    GROUND = "ground"
    TINT = "tint"
    ACCENT = "accent"
    COOL = "cool"
    WARM = "warm"
    PASS = "pass"
    FAIL = "fail"
    DOUBT = "doubt"


@dataclass(frozen=True, slots=True)
class Paint:
    """A role's colour, mixed with the ground: strength 1 is the colour itself, 0 the ground."""

    role: Role
    strength: float = 1.0

    def faint(self, strength: float) -> Paint:
        """Return the same role at another strength."""
        return Paint(self.role, strength)


INK, QUIET, GRID, GROUND, TINT, ACCENT, COOL, WARM, PASS, FAIL, DOUBT = map(Paint, Role)


class Anchor(StrEnum):
    """Which end of a text its x names (its y, if the text is turned)."""

    START = "start"
    MIDDLE = "middle"
    END = "end"


@dataclass(frozen=True, slots=True)
class Box:
    """An upright rectangle, points."""

    left: float
    top: float
    width: float
    height: float

    @property
    def right(self) -> float:
        """x of the right edge."""
        return self.left + self.width

    @property
    def bottom(self) -> float:
        """y of the lower edge."""
        return self.top + self.height

    @property
    def middle(self) -> Point:
        """The centre."""
        return self.left + self.width / 2, self.top + self.height / 2

    def inset(self, by: float) -> Box:
        """Return the box made smaller (negative: larger) on all sides."""
        return Box(self.left + by, self.top + by, self.width - 2 * by, self.height - 2 * by)

    def holds(self, other: Box, slack: float = 0.01) -> bool:
        """Return whether another box lies wholly inside."""
        return (
            other.left >= self.left - slack
            and other.top >= self.top - slack
            and other.right <= self.right + slack
            and other.bottom <= self.bottom + slack
        )

    def meets(self, other: Box) -> bool:
        """Return whether two boxes share more than an edge."""
        return (
            self.left < other.right
            and other.left < self.right
            and self.top < other.bottom
            and other.top < self.bottom
        )


@dataclass(frozen=True, slots=True)
class Path:
    """A line, polyline or area through points; `stroke` and `fill` may each be None."""

    points: tuple[Point, ...]
    stroke: Paint | None = INK
    width: float = 0.8
    dash: Dash = SOLID
    fill: Paint | None = None
    closed: bool = False


@dataclass(frozen=True, slots=True)
class Circle:
    """A circle about (x, y)."""

    x: float
    y: float
    radius: float
    stroke: Paint | None = INK
    width: float = 0.8
    fill: Paint | None = None


@dataclass(frozen=True, slots=True)
class Text:
    """One line of text; (x, y) lies on its base line. `turned` text reads upwards."""

    x: float
    y: float
    text: str
    size: float = TEXT_SIZE
    paint: Paint = INK
    anchor: Anchor = Anchor.START
    bold: bool = False
    turned: bool = False


@dataclass(frozen=True, slots=True)
class Clip:
    """Shapes of which only what lies inside a box is drawn."""

    box: Box
    shapes: tuple[Shape, ...]


Shape = Path | Circle | Text | Clip


@dataclass(frozen=True, slots=True)
class Drawing:
    """A whole figure. `description` says in words what it shows, for those who cannot see it."""

    width: float
    height: float
    shapes: tuple[Shape, ...]
    title: str
    description: str

    @property
    def frame(self) -> Box:
        """The whole area."""
        return Box(0.0, 0.0, self.width, self.height)


def line(
    x1: float,
    y1: float,
    x2: float,
    y2: float,
    stroke: Paint = INK,
    width: float = 0.8,
    dash: Dash = SOLID,
) -> Path:
    """Return a straight line."""
    return Path(((x1, y1), (x2, y2)), stroke, width, dash)


def rectangle(
    box: Box,
    stroke: Paint | None = INK,
    width: float = 0.8,
    fill: Paint | None = None,
    dash: Dash = SOLID,
) -> Path:
    """Return an upright rectangle."""
    corners = (
        (box.left, box.top),
        (box.right, box.top),
        (box.right, box.bottom),
        (box.left, box.bottom),
    )
    return Path(corners, stroke, width, dash, fill, closed=True)


def area(points: Sequence[Point], fill: Paint) -> Path:
    """Return a filled area without an outline."""
    return Path(tuple(points), None, fill=fill, closed=True)


def moved(shape: Shape, down: float) -> Shape:
    """Return a shape lower (or, with a negative measure, higher) in the drawing."""
    if isinstance(shape, Path):
        return replace(shape, points=tuple((x, y + down) for x, y in shape.points))
    if isinstance(shape, Clip):
        box = replace(shape.box, top=shape.box.top + down)
        return Clip(box, tuple(moved(inner, down) for inner in shape.shapes))
    return replace(shape, y=shape.y + down)


def flat(shapes: Sequence[Shape]) -> Iterator[Shape]:
    """Yield all shapes, those inside clipped groups too (the groups themselves not)."""
    for shape in shapes:
        if isinstance(shape, Clip):
            yield from flat(shape.shapes)
        else:
            yield shape
