"""One number of a unit over its visits, each with its uncertainty."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from commission.drawing.axes import ROOM_BELOW, Plot, Tick, nice_ends, nice_ticks, plot, room_beside
from commission.drawing.marks import Mark, mark
from commission.drawing.shapes import ACCENT, QUIET, Box, Drawing, Shape, line
from commission.language import spoken

_HEIGHT, _CAP, _MARGIN = 130.0, 3.0, 0.05


@dataclass(frozen=True, slots=True)
class VisitPoint:
    """A value at a visit: the year and its part (2026.7), and its expanded uncertainty if known."""

    year: float
    value: float
    expanded: float | None
    words: str


def visits_figure(points: Sequence[VisitPoint], width: float, title: str, unit: str) -> Drawing:
    """Return a chart of values over the years; a bar each way is the expanded uncertainty.

    Args:
        points: two or more, the earliest first.
        width: points, 200 or more.
    """
    reaches = [point.expanded or 0.0 for point in points]
    lows = [point.value - reach for point, reach in zip(points, reaches, strict=True)]
    highs = [point.value + reach for point, reach in zip(points, reaches, strict=True)]
    ends = nice_ends(min(lows), max(highs), 5)
    room = room_beside(nice_ticks(*ends, 5), unit or " ")
    box = Box(room + 4, 6, width - room - 16, _HEIGHT)
    area = _years_unparted(plot(box, _years(points), ends, spoken("Year"), unit, most=(6, 5)))
    shapes = (*area.grid(), *_drawn(area, points), *area.axes())
    told = "; ".join(point.words for point in points)
    return Drawing(width, box.bottom + ROOM_BELOW, shapes, title, f"{title}: {told}.")


def _years(points: Sequence[VisitPoint]) -> tuple[float, float]:
    first, last = points[0].year, points[-1].year
    margin = max((last - first) * _MARGIN, 0.05)
    return first - margin, last + margin


def _years_unparted(area: Plot) -> Plot:
    """Return the plot with its years as years are written: 2027, not 2,027."""
    ticks = tuple(Tick(tick.value, tick.words.replace(",", "")) for tick in area.x.ticks)
    return replace(area, x=replace(area.x, ticks=ticks))


def _drawn(area: Plot, points: Sequence[VisitPoint]) -> Iterator[Shape]:
    yield area.curve([(point.year, point.value) for point in points], QUIET, 0.8)
    for point in points:
        x, y = area.point(point.year, point.value)
        if point.expanded:
            top = area.y.scale.at(point.value + point.expanded)
            bottom = area.y.scale.at(point.value - point.expanded)
            yield line(x, top, x, bottom, ACCENT, 1.0)
            yield from (line(x - _CAP, end, x + _CAP, end, ACCENT, 1.0) for end in (top, bottom))
        yield mark(Mark.DISC, x, y, ACCENT, 5)
