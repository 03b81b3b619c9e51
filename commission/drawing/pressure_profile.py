"""Static pressure along the air path: one step for each thing that the air goes through."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from commission.definitions.model import FigurePoint
from commission.drawing.axes import Axis, Plot, Scale, nice_ends, nice_ticks, room_beside
from commission.drawing.labels import LEADING, Room, note
from commission.drawing.lettering import backing, label, wrapped
from commission.drawing.marks import Mark, arrow_head, mark
from commission.drawing.readings import FigureReadings, Wanting
from commission.drawing.shapes import (
    ACCENT,
    DASHED,
    DOTTED,
    INK,
    QUIET,
    TINT,
    WARM,
    Anchor,
    Box,
    Drawing,
    Path,
    Shape,
    line,
    rectangle,
)
from commission.language import spoken

_BRACKET = 92.0
Station = tuple[FigurePoint, float]


def pressure_profile(readings: FigureReadings, width: float) -> Drawing | Wanting:
    """Return the profile; at least two stations must have been read."""
    asked = [point for point in readings.figure.points if readings.is_asked(point)]
    numbers = [(point, readings.point_number(point, "static")) for point in asked]
    stations = [(point, number) for point, number in numbers if number is not None]
    if len(stations) < 2:
        unread = [point.uses["static"] for point, number in numbers if number is None]
        return readings.refused(readings.unread(unread))
    unread = [point.label for point, number in numbers if number is None]
    return _Profile(readings, width, stations, unread).drawing()


class _Profile:
    """The profile's frame and what is drawn in it."""

    def __init__(
        self,
        readings: FigureReadings,
        width: float,
        stations: Sequence[Station],
        unread: Sequence[str],
    ) -> None:
        self.readings, self.width = readings, width
        self.stations, self.unread = stations, unread
        self.measure = readings.measure("in. w.c.")
        self.values = [self.measure.of(number) for _, number in stations]
        self.has_external = readings.number("external") is not None
        self.plot = self._plot()

    def _plot(self) -> Plot:
        low, high = min(0.0, *self.values), max(0.0, *self.values)
        room = 0.18 * (high - low or 1.0)
        ends = nice_ends(low - room, high + room)
        up = nice_ticks(*ends)
        name = spoken("Static pressure, {unit}", unit=self.measure.shown)
        left = 4.0 + room_beside(up, name)
        right = _BRACKET if self.has_external else 10.0
        box = Box(left, 10.0, self.width - left - right, min(170.0, max(130.0, self.width * 0.34)))
        across = Axis(Scale(-0.5, len(self.stations) - 0.5, box.left, box.right), ())
        return Plot(box, across, Axis(Scale(*ends, box.bottom, box.top), up, name))

    def drawing(self) -> Drawing:
        """Return the whole figure."""
        box = self.plot.box
        names, deep = self._station_names()
        shapes = [
            *self._columns(),
            *self.plot.grid(),
            *self._zero(),
            *self._path(),
            *self.plot.axes(),
            *self._values(),
            *names,
            *(self._external() if self.has_external else ()),
        ]
        remarks = self._remarks()
        told, high = note(" ".join(remarks), 8.0, box.bottom + deep + 8.0, self.width - 16.0, QUIET)
        description = " ".join([
            spoken("Static pressure against the roof."),
            *(f"{point.label}: {self._shown(number)}." for point, number in self.stations),
            *self._external_words(),
            *remarks,
        ])  # fmt: skip
        height = box.bottom + deep + 8.0 + high + 4.0
        return Drawing(self.width, height, (*shapes, *told), self.readings.title, description)

    def _shown(self, inwc: float) -> str:
        return self.readings.words(inwc, "in. w.c.", 2).replace("-", "−")

    def _remarks(self) -> list[str]:
        if not self.unread:
            return []
        return [spoken("Not read yet: {states}.", states=", ".join(self.unread))]

    def _place(self, number: int) -> tuple[float, float]:
        return self.plot.point(float(number), self.values[number])

    def _columns(self) -> Iterator[Shape]:
        """Yield a light ground behind every other station."""
        box = self.plot.box
        for number in range(0, len(self.stations), 2):
            left = self.plot.x.scale.at(number - 0.5)
            across = self.plot.x.scale.at(number + 0.5) - left
            yield rectangle(Box(left, box.top, across, box.height), None, fill=TINT)

    def _zero(self) -> Iterator[Shape]:
        box, y = self.plot.box, self.plot.y.scale.at(0.0)
        yield line(box.left, y, box.right, y, INK, 0.8, DASHED)

    def _path(self) -> Iterator[Shape]:
        """Yield the pressure: level at a station, sloping through what lies between two."""
        points = []
        for number in range(len(self.stations)):
            x, y = self._place(number)
            reach = (self.plot.x.scale.at(1.0) - self.plot.x.scale.at(0.0)) * 0.2
            points += [(x - reach, y), (x + reach, y)]
        yield Path(tuple(points), ACCENT, 1.8)

    def _values(self) -> Iterator[Shape]:
        room = Room(self.plot.box)
        for number in range(len(self.stations)):
            x, y = self._place(number)
            dot = mark(Mark.DISC, x, y, ACCENT)
            room.take(dot)
            yield dot
        for number, (_, inwc) in enumerate(self.stations):
            x, y = self._place(number)
            words = self._shown(inwc).removesuffix(f" {self.measure.shown}")
            rising = number + 1 < len(self.stations) and self._place(number + 1)[1] < y
            for down in (10.0, -10.0) if rising else (-10.0, 10.0):
                found = room.if_free(label(x, y + down, words, Anchor.MIDDLE, bold=True))
                if found:
                    yield backing(found[0])
                    yield from found
                    break

    def _station_names(self) -> tuple[list[Shape], float]:
        """Return the names below the chart, broken to their columns, and how deep they reach."""
        column = self.plot.x.scale.at(1.0) - self.plot.x.scale.at(0.0)
        shapes: list[Shape] = []
        deepest = 0
        for number, (point, _) in enumerate(self.stations):
            lines = wrapped(point.label, column - 6.0)
            deepest = max(deepest, len(lines))
            x, top = self.plot.x.scale.at(number), self.plot.box.bottom + 3.0
            for row, words in enumerate(lines):
                y = top + LEADING * (row + 0.6)
                shapes.append(label(x, y, words, Anchor.MIDDLE))
        return shapes, deepest * LEADING + 3.0

    def _external_words(self) -> list[str]:
        if not self.has_external:
            return []
        words = [spoken("external static {value}", value=self.readings.shown("external"))]
        if self.readings.number("rated_external") is not None:
            rated = self.readings.shown("rated_external")
            words.append(spoken("against {value} by design", value=rated))
        return words

    def _external(self) -> Iterator[Shape]:
        """Yield a measure at the right from the first station's pressure to the last one's."""
        box = self.plot.box
        last = len(self.stations) - 1
        (x1, y1), (x2, y2) = self._place(0), self._place(last)
        x = box.right + 12.0
        yield line(x1, y1, x + 3.0, y1, QUIET, 0.6, DOTTED)
        yield line(x2, y2, x + 3.0, y2, QUIET, 0.6, DOTTED)
        yield line(x, y1, x, y2, WARM, 1.2)
        down = y1 > y2
        yield arrow_head(x, y1, 90.0 if down else -90.0, WARM, 6.0)
        yield arrow_head(x, y2, -90.0 if down else 90.0, WARM, 6.0)
        lines = [row for words in self._external_words() for row in wrapped(words, _BRACKET - 22.0)]
        top = (y1 + y2) / 2 - LEADING * (len(lines) - 1) / 2
        for number, words in enumerate(lines):
            yield label(x + 6.0, top + LEADING * number, words)
