"""How far later values are from a baseline, each measured by its own uncertainty.

Drawn is the E_n number of ISO 13528, the difference over its expanded uncertainty: between -1
and 1 the two agree, whatever the unit, so that all values stand on one axis.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

from commission.drawing.axes import ROOM_BELOW, number_words, plot
from commission.drawing.lettering import label, width_of, wrapped
from commission.drawing.marks import Mark, arrow_head, mark
from commission.drawing.shapes import (
    ACCENT,
    FAIL,
    INK,
    PASS,
    QUIET,
    TEXT_SIZE,
    Anchor,
    Box,
    Drawing,
    Shape,
    line,
)
from commission.language import spoken, to_say

MOST_ROWS = 40
"""Rows of one figure; more are for a further one."""
_FURTHEST = 10.0  # beyond this an arrow at the edge says that it goes on; its number is printed
_LEADING, _ROW_GAP = 9.5, 5.0
_AXIS_NAME = to_say("Difference over its expanded uncertainty (1 or more: beyond it)")


@dataclass(frozen=True, slots=True)
class DriftRow:
    """One value: its name, its difference in words with unit, and its ratio: an E_n number."""

    name: str
    difference: str
    ratio: float


@dataclass(frozen=True, slots=True)
class Measure:
    """What a lane measures by: within `band` of nought nothing is beyond it."""

    axis_name: str
    band: float
    told: str


def drift_figure(rows: Sequence[DriftRow], width: float, title: str = "") -> Drawing:
    """Return a figure with one line a value, in the order given.

    Args:
        rows: 1 to `MOST_ROWS`.
        width: points, 300 or more.
    """
    measure = Measure(spoken(_AXIS_NAME), 1.0, spoken("times its uncertainty"))
    return lanes_figure(rows, width, title or spoken("Drift"), measure)


def lanes_figure(rows: Sequence[DriftRow], width: float, title: str, measure: Measure) -> Drawing:
    """Return a figure with one lane a value, all on one axis, by any measure."""
    words_room = max(width_of(row.difference) for row in rows) + 8
    names_room = min(0.42 * width, max(width_of(row.name) for row in rows) + 4)
    lines = [wrapped(row.name, names_room) for row in rows]
    heights = [len(one) * _LEADING + _ROW_GAP for one in lines]
    box = Box(names_room + 6, 4, width - names_room - words_room - 12, sum(heights) + 4)
    furthest = max(2.0 * measure.band, *(abs(row.ratio) for row in rows))
    reach = min(math.ceil(furthest), _FURTHEST * measure.band)
    area = plot(box, (-reach, reach), (0, 1), most=(7, 2))
    shapes: list[Shape] = [area.band_along(-measure.band, measure.band, PASS.faint(0.14))]
    shapes += [line(area.x.scale.at(t.value), box.top, area.x.scale.at(t.value), box.bottom,
                    QUIET.faint(0.3), 0.4) for t in area.x.ticks]  # fmt: skip
    y = box.top + 2
    for row, name_lines, height in zip(rows, lines, heights, strict=True):
        lane = _Lane(row, name_lines, y + height / 2, abs(row.ratio) > measure.band)
        shapes += lane.shapes(area.x.scale.at, reach, box)
        y += height
    # The axis below alone: a lane has no value of its own on the other.
    shapes += [shape for shape in area.axes() if not _is_of_the_side(shape, box)]
    middle, below = width / 2, box.bottom + ROOM_BELOW - 6
    shapes.append(label(middle, below, measure.axis_name, Anchor.MIDDLE, paint=QUIET))
    told = _described(rows, title, measure)
    return Drawing(width, box.bottom + ROOM_BELOW, tuple(shapes), title, told)


def _is_of_the_side(shape: Shape, box: Box) -> bool:
    """Return whether a shape stands left of the chart, where the names are."""
    points = getattr(shape, "points", None)
    if points is not None:
        return all(x <= box.left for x, _ in points) and any(x < box.left for x, _ in points)
    x, y = getattr(shape, "x", box.left), getattr(shape, "y", box.bottom)
    return bool(x < box.left and y < box.bottom + 5)


@dataclass(frozen=True, slots=True)
class _Lane:
    row: DriftRow
    names: Sequence[str]
    middle: float
    is_beyond: bool

    def shapes(self, at: Callable[[float], float], reach: float, box: Box) -> Iterator[Shape]:
        """Yield the name, the way from nought, its end, and the difference in words."""
        row, middle = self.row, self.middle
        paint = FAIL if self.is_beyond else ACCENT
        first = middle - (len(self.names) - 1) * _LEADING / 2
        for number, text in enumerate(self.names):
            yield label(box.left - 6, first + number * _LEADING, text, Anchor.END)
        off = abs(row.ratio) > reach
        x = at(math.copysign(reach, row.ratio) if off else row.ratio)
        yield line(at(0.0), middle, x, middle, paint, 1.1)
        if off:
            yield arrow_head(x, middle, 0 if row.ratio > 0 else 180, paint, 7)
        else:
            what, size = (Mark.DIAMOND, 6) if self.is_beyond else (Mark.DISC, 5)
            yield mark(what, x, middle, paint, size)
        yield label(
            box.right + 6, middle, row.difference, paint=INK, size=TEXT_SIZE, bold=self.is_beyond
        )


def _described(rows: Sequence[DriftRow], title: str, measure: Measure) -> str:
    told = "; ".join(
        f"{row.name} {row.difference}, {number_words(row.ratio, 1)} {measure.told}" for row in rows
    )
    return f"{title}: {told}."
