"""Scales, ticks, grids, bands and legends of charts."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from commission.drawing.lettering import CAP_HEIGHT, label, width_of
from commission.drawing.marks import Look, mark
from commission.drawing.shapes import (
    GRID,
    INK,
    QUIET,
    SOLID,
    TEXT_SIZE,
    Anchor,
    Box,
    Clip,
    Dash,
    Paint,
    Path,
    Point,
    Shape,
    line,
    rectangle,
)

_STEPS = (1.0, 2.0, 2.5, 5.0, 10.0)


@dataclass(frozen=True, slots=True)
class Tick:
    """A marked value of an axis and the words at it."""

    value: float
    words: str


def nice_ticks(low: float, high: float, most: int = 6) -> tuple[Tick, ...]:
    """Return ticks at round values from `low` to `high`, both included if they are round.

    Args:
        low, high: Ends of the axis, low < high.
        most: At most so many ticks (at least 2).
    """
    step = _step(low, high, most)
    first, last = math.ceil(low / step - 1e-9), math.floor(high / step + 1e-9)
    decimals = max(0, -math.floor(math.log10(step) + 1e-9))
    decimals += round(step * 10**decimals, 6) % 1 != 0
    return tuple(
        Tick(number * step, number_words(number * step, decimals))
        for number in range(first, last + 1)
    )


def _step(low: float, high: float, most: int) -> float:
    if not low < high:
        raise ValueError(f"an axis from {low:g} to {high:g} has no length")
    rough = (high - low) / max(most - 1, 1)
    power = 10.0 ** math.floor(math.log10(rough))
    return next(step * power for step in _STEPS if step * power >= rough * (1 - 1e-9))


def nice_ends(low: float, high: float, most: int = 6) -> tuple[float, float]:
    """Return round ends that hold low and high; equal ones are spread."""
    if high - low <= 1e-9 * max(abs(low), abs(high), 1e-9):
        spread = max(abs(low) * 0.1, 0.1)
        low, high = low - spread, high + spread
    step = _step(low, high, most)
    return math.floor(low / step + 1e-9) * step, math.ceil(high / step - 1e-9) * step


def number_words(value: float, decimals: int) -> str:
    """Return a number with a true minus sign and no "-0"."""
    rounded = round(value, decimals) + 0.0
    return f"{rounded:,.{decimals}f}".replace("-", "−")


@dataclass(frozen=True, slots=True)
class Scale:
    """Where values lie: `low` at place `start`, `high` at place `end` (points)."""

    low: float
    high: float
    start: float
    end: float
    logarithmic: bool = False

    def at(self, value: float) -> float:
        """Return the place of a value, on or off the axis."""
        if self.logarithmic:
            share = math.log(value / self.low) / math.log(self.high / self.low)
        else:
            share = (value - self.low) / (self.high - self.low)
        return self.start + share * (self.end - self.start)

    def holds(self, value: float) -> bool:
        """Return whether a value lies on the axis."""
        return self.low <= value <= self.high


@dataclass(frozen=True, slots=True)
class Axis:
    """One axis: its scale, its ticks, and the name that stands beside it."""

    scale: Scale
    ticks: tuple[Tick, ...]
    name: str = ""


@dataclass(frozen=True, slots=True)
class Plot:
    """A chart's area between an x and a y axis (y's scale starts at the box's bottom)."""

    box: Box
    x: Axis
    y: Axis

    def point(self, x: float, y: float) -> Point:
        """Return the place of a pair of values."""
        return self.x.scale.at(x), self.y.scale.at(y)

    def holds(self, x: float, y: float) -> bool:
        """Return whether a pair of values lies in the chart."""
        return self.x.scale.holds(x) and self.y.scale.holds(y)

    def curve(
        self,
        values: Sequence[Point],
        paint: Paint = INK,
        width: float = 1.0,
        dash: Dash = SOLID,
    ) -> Clip:
        """Return a line through pairs of values, clipped to the chart."""
        points = tuple(self.point(x, y) for x, y in values)
        return Clip(self.box, (Path(points, paint, width, dash),))

    def band_along(self, low: float, high: float, paint: Paint) -> Clip:
        """Return a filled band between two values of x, over the whole height."""
        left, right = self.x.scale.at(low), self.x.scale.at(high)
        band = Box(left, self.box.top, right - left, self.box.height)
        return Clip(self.box, (rectangle(band, None, fill=paint),))

    def grid(self, paint: Paint = GRID) -> tuple[Shape, ...]:
        """Return the lines at the ticks of both axes."""
        box = self.box
        upright = [self.x.scale.at(tick.value) for tick in self.x.ticks]
        level = [self.y.scale.at(tick.value) for tick in self.y.ticks]
        return (
            *(line(x, box.top, x, box.bottom, paint, 0.4) for x in upright),
            *(line(box.left, y, box.right, y, paint, 0.4) for y in level),
        )

    def axes(self, y_at_right: bool = False) -> tuple[Shape, ...]:
        """Return the frame, the words at the ticks, and the names of the axes."""
        return (
            rectangle(self.box, INK, 0.7),
            *_ticks_below(self.box, self.x),
            *_ticks_beside(self.box, self.y, y_at_right),
        )


def plot(
    box: Box,
    x: tuple[float, float],
    y: tuple[float, float],
    x_name: str = "",
    y_name: str = "",
    most: tuple[int, int] = (7, 6),
) -> Plot:
    """Return a plot with linear axes between given ends and round ticks.

    Args:
        box: The area between the axes; leave `room_beside` at its left and ROOM_BELOW below.
        x, y: Low and high end of each axis.
        x_name, y_name: Name with unit, such as "Dry bulb, °F".
        most: Most ticks of x and of y.
    """
    across = Axis(Scale(*x, box.left, box.right), nice_ticks(*x, most[0]), x_name)
    up = Axis(Scale(*y, box.bottom, box.top), nice_ticks(*y, most[1]), y_name)
    return Plot(box, across, up)


ROOM_BELOW = 26.0
"""What tick words and a name below a plot take, points."""


def room_beside(ticks: Sequence[Tick], name: str = "") -> float:
    """Return what tick words and a name beside a plot take, points."""
    widest = max((width_of(tick.words) for tick in ticks), default=0.0)
    return widest + 5.0 + (TEXT_SIZE + 4.0 if name else 0.0)


def _ticks_below(box: Box, axis: Axis) -> list[Shape]:
    y = box.bottom + 3.0 + TEXT_SIZE * CAP_HEIGHT / 2 + 2.0
    shapes: list[Shape] = []
    for tick in axis.ticks:
        x = axis.scale.at(tick.value)
        shapes.append(line(x, box.bottom, x, box.bottom + 2.5, INK, 0.6))
        shapes.append(label(x, y, tick.words, Anchor.MIDDLE))
    if axis.name:
        place = label(box.middle[0], y + TEXT_SIZE + 3.5, axis.name, Anchor.MIDDLE, paint=QUIET)
        shapes.append(place)
    return shapes


def _ticks_beside(box: Box, axis: Axis, at_right: bool) -> list[Shape]:
    side, out = (box.right, 1.0) if at_right else (box.left, -1.0)
    anchor = Anchor.START if at_right else Anchor.END
    shapes: list[Shape] = []
    for tick in axis.ticks:
        y = axis.scale.at(tick.value)
        shapes.append(line(side, y, side + 2.5 * out, y, INK, 0.6))
        shapes.append(label(side + 4.5 * out, y, tick.words, anchor))
    if axis.name:
        x = side + out * (room_beside(axis.ticks, axis.name) - TEXT_SIZE * CAP_HEIGHT / 2)
        name = label(x, box.middle[1], axis.name, Anchor.MIDDLE, paint=QUIET, turned=True)
        shapes.append(name)
    return shapes


@dataclass(frozen=True, slots=True)
class LegendEntry:
    """One line of a legend: its look, its words; `marked` if its points carry marks."""

    look: Look
    words: str
    marked: bool = True


_SAMPLE, _GAP, _LEADING = 18.0, 14.0, 12.0


def legend(
    entries: Sequence[LegendEntry], left: float, top: float, width: float
) -> tuple[tuple[Shape, ...], float]:
    """Return a legend set in rows within a width, and the height that it takes."""
    shapes: list[Shape] = []
    x, y = left, top + _LEADING / 2
    for entry in entries:
        room = _SAMPLE + 4.0 + width_of(entry.words)
        if x > left and x + room > left + width:
            x, y = left, y + _LEADING
        look = entry.look
        shapes.append(line(x, y, x + _SAMPLE, y, look.paint, look.width, look.dash))
        if entry.marked:
            shapes.append(mark(look.mark, x + _SAMPLE / 2, y, look.paint))
        shapes.append(label(x + _SAMPLE + 4.0, y, entry.words))
        x += room + _GAP
    return tuple(shapes), y + _LEADING / 2 - top if entries else 0.0
