"""A traverse as it lay in the duct: velocities at their places, shaded, their numbers printed."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

from commission.drawing.axes import number_words
from commission.drawing.labels import Room
from commission.drawing.lettering import backing, label, text_box, width_of
from commission.drawing.readings import FigureReadings, Wanting
from commission.drawing.shapes import (
    ACCENT,
    GRID,
    GROUND,
    INK,
    QUIET,
    Anchor,
    Box,
    Circle,
    Drawing,
    Paint,
    Path,
    Shape,
    line,
    rectangle,
)
from commission.engineering.traverse import rectangular_position, round_position
from commission.language import spoken

_PALEST, _STRONGEST = 0.04, 0.46
_DIAMETERS_FROM = {1: 90.0, 2: 45.0, 3: 30.0}


@dataclass(frozen=True, slots=True)
class TraversePoint:
    """One velocity read: its line and point, and the velocity shown (None if unread)."""

    line: int
    point: int
    velocity: float | None


def traverse_map(readings: FigureReadings, width: float) -> Drawing | Wanting:
    """Return the map; at least one velocity must have been read."""
    round_duct = readings.text("shape") == "round"
    sizes = ("diameter",) if round_duct else ("width", "height")
    wanted = [readings.figure.uses[role] for role in sizes if role in readings.figure.uses]
    missing = readings.wanting([*readings.required(), *wanted])
    if missing is not None:
        return missing
    return _Map(readings, width, round_duct).drawing()


class _Map:
    """The duct's outline, its points, and the scale of shades."""

    def __init__(self, readings: FigureReadings, width: float, round_duct: bool) -> None:
        self.readings, self.width, self.is_round = readings, width, round_duct
        self.lines, self.count = round(readings.given("lines")), round(readings.given("points"))
        self.measure = readings.measure("fpm")
        self.points = self._read()
        known = [point.velocity for point in self.points if point.velocity is not None]
        self.low, self.high = min(known, default=0.0), max(known, default=0.0)
        self.decimals = 0 if self.measure.shown == "fpm" else 1
        self.rule = readings.text("rule")

    def _read(self) -> list[TraversePoint]:
        keys = self.readings.keys(self.readings.figure.uses["velocity"])
        found = []
        for key in keys:
            number = self.readings.results.value(*key).number
            shown = None if number is None else self.measure.of(number)
            found.append(TraversePoint(key.index[-2], key.index[-1], shown))
        return found

    def drawing(self) -> Drawing | Wanting:
        """Return the whole figure."""
        if not any(point.velocity is not None for point in self.points):
            return self.readings.refused([spoken("a velocity at any point")])
        shapes, bottom = self._round() if self.is_round else self._rectangular()
        scale = list(self._scale_of_shades(bottom + 10.0))
        height = bottom + 38.0
        return Drawing(
            self.width, height, (*shapes, *scale), self.readings.title, self._description()
        )

    def _description(self) -> str:
        unread = sum(point.velocity is None for point in self.points)
        words = [
            spoken(
                "Velocities from {low} to {high} {unit} on {lines} lines of {points} points.",
                low=self._words(self.low),
                high=self._words(self.high),
                unit=self.measure.shown,
                lines=self.lines,
                points=self.count,
            )
        ]
        if self.readings.number("mean") is not None:
            words.append(spoken("Mean {value}.", value=self.readings.shown("mean")))
        for number in range(1, self.lines + 1):
            values = ", ".join(
                "–" if p.velocity is None else self._words(p.velocity)
                for p in self.points
                if p.line == number
            )
            words.append(spoken("Line {number}: {values}.", number=number, values=values))
        if unread:
            words.append(spoken("{count} points not read.", count=unread))
        return " ".join(words)

    def _words(self, velocity: float) -> str:
        return number_words(velocity, self.decimals).replace(",", "")

    def _shade(self, velocity: float | None) -> Paint:
        if velocity is None:
            return GROUND
        share = (velocity - self.low) / (self.high - self.low) if self.high > self.low else 0.5
        return ACCENT.faint(_PALEST + share * (_STRONGEST - _PALEST))

    def _text_of(self, point: TraversePoint) -> str:
        return "–" if point.velocity is None else self._words(point.velocity)

    # -- rectangular ---------------------------------------------------------------------

    def _rectangular(self) -> tuple[list[Shape], float]:
        wide, high = self.readings.given("width"), self.readings.given("height")
        least = 26.0  # so that a number fits its cell
        across = min(self.width - 70.0, 330.0)
        down = min(max(across * high / wide, least / 2 * self.count), 240.0)
        box = Box(60.0, 32.0, across, down)
        columns = [rectangular_position(self.rule, self.lines, n + 1) for n in range(self.lines)]
        rows = [rectangular_position(self.rule, self.count, n + 1) for n in range(self.count)]
        shapes: list[Shape] = []
        lefts, tops = _borders(columns), _borders(rows)
        for point in self.points:
            i, j = point.line - 1, point.point - 1
            cell = Box(
                box.left + lefts[i] * across,
                box.top + tops[j] * down,
                (lefts[i + 1] - lefts[i]) * across,
                (tops[j + 1] - tops[j]) * down,
            )
            shapes.append(rectangle(cell, GRID, 0.4, self._shade(point.velocity)))
            x, y = box.left + columns[i] * across, box.top + rows[j] * down
            words = self._text_of(point)
            half = width_of(words) / 2 + 1.0
            x = min(max(x, cell.left + half), cell.right - half)
            y = min(max(y, cell.top + 5.0), cell.bottom - 5.0)
            shapes.append(label(x, y, words, Anchor.MIDDLE))
        shapes.append(rectangle(box, INK, 1.4))
        shapes += self._rectangular_names(box, columns, rows)
        return shapes, box.bottom

    def _rectangular_names(
        self, box: Box, columns: Sequence[float], rows: Sequence[float]
    ) -> Iterator[Shape]:
        for number, share in enumerate(columns, start=1):
            x = box.left + share * box.width
            yield line(x, box.top - 4.0, x, box.top, INK, 0.7)
            yield label(x, box.top - 10.0, str(number), Anchor.MIDDLE, paint=QUIET)
        for number, share in enumerate(rows, start=1):
            y = box.top + share * box.height
            yield label(box.left - 6.0, y, str(number), Anchor.END, paint=QUIET)
        side = self.readings.shown("height")
        yield label(22.0, box.middle[1], spoken("Points; height {size}", size=side), Anchor.MIDDLE,
                    paint=QUIET, turned=True)  # fmt: skip
        size = spoken("Lines; width {size}", size=self.readings.shown("width"))
        yield label(box.left, 8.0, size, paint=QUIET)

    # -- round ---------------------------------------------------------------------------

    def _round(self) -> tuple[list[Shape], float]:
        across = min(self.width - 40.0, 300.0)
        centre = (self.width / 2, 24.0 + across / 2)
        shares = [round_position(self.rule, self.count, n + 1) for n in range(self.count)]
        first = _DIAMETERS_FROM.get(self.lines, 90.0)
        shapes: list[Shape] = [Circle(*centre, across / 2, INK, 1.4, GROUND)]
        room = Room(Box(4.0, 4.0, self.width - 8.0, across + 44.0))
        placed: list[tuple[float, float, TraversePoint]] = []
        for number in range(self.lines):
            angle = math.radians(first + 180.0 / self.lines * number)
            dx, dy = math.cos(angle), math.sin(angle)
            ends = [
                (centre[0] + s * dx * across / 2, centre[1] + s * dy * across / 2) for s in (-1, 1)
            ]
            shapes.append(Path(tuple(ends), GRID, 0.6))
            name = label(
                centre[0] - dx * (across / 2 + 11.0),
                centre[1] - dy * (across / 2 + 11.0),
                spoken("Line {number}", number=number + 1),
                Anchor.END if dx > 0.1 else Anchor.START if dx < -0.1 else Anchor.MIDDLE,
                paint=QUIET,
            )
            room.take(name)
            shapes.append(name)
            for point in self.points:
                if point.line == number + 1:
                    away = (shares[point.point - 1] - 0.5) * across
                    placed.append((centre[0] + away * dx, centre[1] + away * dy, point))
        shapes += self._round_points(room, placed)
        size = spoken("Diameter {size}", size=self.readings.shown("diameter"))
        shapes.append(label(8.0, 8.0, size, paint=QUIET))
        return shapes, centre[1] + across / 2 + 12.0

    def _round_points(
        self, room: Room, placed: Sequence[tuple[float, float, TraversePoint]]
    ) -> Iterator[Shape]:
        for x, y, point in placed:
            dot = Circle(x, y, 4.6, INK, 0.7, self._shade(point.velocity))
            room.take(dot)
            yield dot
        for x, y, point in placed:
            text = room.beside(x, y, self._text_of(point), away=7.0)
            if text is not None:
                box = text_box(text)
                if abs(box.middle[0] - x) > 26.0 or abs(box.middle[1] - y) > 18.0:
                    yield line(x, y, *box.middle, GRID, 0.5)
                yield backing(text, 0.3)
                yield text

    # -- the scale of shades -------------------------------------------------------------

    def _scale_of_shades(self, top: float) -> Iterator[Shape]:
        steps, left, wide = 8, 60.0, 16.0
        for number in range(steps):
            share = number / (steps - 1)
            paint = ACCENT.faint(_PALEST + share * (_STRONGEST - _PALEST))
            yield rectangle(Box(left + number * wide, top, wide, 9.0), None, fill=paint)
        frame = Box(left, top, steps * wide, 9.0)
        yield rectangle(frame, INK, 0.5)
        yield label(left, top + 16.0, self._words(self.low), Anchor.START)
        yield label(frame.right, top + 16.0, self._words(self.high), Anchor.END)
        words = self.measure.shown
        if self.readings.number("mean") is not None:
            mean = spoken("mean {value}", value=self.readings.shown("mean"))
            words = f"{words};  {mean}"
        yield label(frame.right + 8.0, top + 4.5, words)


def _borders(places: Sequence[float]) -> list[float]:
    """Return the edges of cells about places on a side, 0 and 1 at its ends."""
    between = [(a + b) / 2 for a, b in pairwise(places)]
    return [0.0, *between, 1.0]
