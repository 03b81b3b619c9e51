"""Return and outdoor air on one scale of temperature, and the mixed air between them."""

from __future__ import annotations

from collections.abc import Iterator

from commission.drawing.axes import (
    ROOM_BELOW,
    Axis,
    Plot,
    Scale,
    nice_ends,
    nice_ticks,
)
from commission.drawing.labels import Room, note
from commission.drawing.lettering import label, width_of
from commission.drawing.marks import Mark, mark
from commission.drawing.readings import FigureReadings, Wanting
from commission.drawing.shapes import (
    ACCENT,
    COOL,
    GRID,
    INK,
    QUIET,
    WARM,
    Anchor,
    Box,
    Drawing,
    Paint,
    Shape,
    line,
)
from commission.language import spoken


def mixing(readings: FigureReadings, width: float) -> Drawing | Wanting:
    """Return the diagram of one member, such as one fan speed."""
    missing = readings.wanting(readings.required())
    return missing if missing is not None else _Mixing(readings, width).drawing()


class _Mixing:
    """One scale with three marks; the share of the way is the share of outdoor air."""

    def __init__(self, readings: FigureReadings, width: float) -> None:
        self.readings, self.width = readings, width
        self.measure = readings.measure("°F")
        self.marks: tuple[tuple[str, str, Mark, Paint], ...] = (
            ("outdoor", spoken("outdoor"), Mark.TRIANGLE, COOL),
            ("return", spoken("return"), Mark.SQUARE, WARM),
            ("mixed", spoken("mixed"), Mark.DISC, ACCENT),
        )
        values = [self.measure.of(readings.given(role)) for role, _, _, _ in self.marks]
        ends = nice_ends(min(values), max(values), 9)
        box = Box(30.0, 34.0, width - 60.0, 26.0)
        name = spoken("Temperature, {unit}", unit=self.measure.shown)
        across = Axis(Scale(*ends, box.left, box.right), nice_ticks(*ends, 9), name)
        self.plot = Plot(box, across, Axis(Scale(0, 1, box.bottom, box.top), ()))

    def drawing(self) -> Drawing:
        """Return the whole figure."""
        box = self.plot.box
        words = [f"{name}: {self.readings.shown(role)}" for role, name, _, _ in self.marks]
        known = []
        if self.readings.number("fraction") is not None:
            value = self.readings.shown("fraction")
            known.append(spoken("outdoor share {value}", value=value))
        if self.readings.number("damper") is not None:
            known.append(spoken("damper at {value}", value=self.readings.shown("damper")))
        told, high = note("; ".join(known), 30.0, box.bottom + ROOM_BELOW + 2.0, box.width)
        words += known
        shapes = (
            *self.plot.grid(GRID),
            *self.plot.axes(),
            *self._between(),
            *self._named(),
            *told,
        )
        description = spoken("Mixing of air.") + " " + "; ".join(words) + "."
        height = box.bottom + ROOM_BELOW + high + 6.0
        return Drawing(self.width, height, shapes, self.readings.title, description)

    def _x(self, role: str) -> float:
        return self.plot.x.scale.at(self.measure.of(self.readings.given(role)))

    def _between(self) -> Iterator[Shape]:
        y = self.plot.box.middle[1]
        yield line(self._x("outdoor"), y, self._x("return"), y, QUIET, 1.0)
        yield line(self._x("return"), y, self._x("mixed"), y, ACCENT, 2.4)
        for role, _, kind, paint in self.marks:
            yield mark(kind, self._x(role), y, paint, 8.0)

    def _named(self) -> Iterator[Shape]:
        """Yield the names above the scale, in as many rows as they need."""
        room = Room(Box(2.0, 0.0, self.width - 4.0, self.plot.box.top))
        for role, name, _, _ in self.marks:
            words = f"{name} {self.readings.shown(role)}"
            half = width_of(words) / 2
            x = min(max(self._x(role), half + 3.0), self.width - half - 3.0)
            for y in (26.0, 14.0, 5.0):
                found = room.if_free(label(x, y, words, Anchor.MIDDLE))
                if found:
                    yield from found
                    if y < 26.0:
                        yield line(self._x(role), y + 5.0, self._x(role), 33.0, INK, 0.4)
                    break
