"""Lanes of what ran when: calls, parts, gas chain; one lane a thing, filled while it is on."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from commission.drawing.axes import Scale
from commission.drawing.lettering import label, width_of
from commission.drawing.marks import Mark, mark
from commission.drawing.shapes import (
    ACCENT,
    GRID,
    GROUND,
    INK,
    TEXT_SIZE,
    Anchor,
    Box,
    Paint,
    Shape,
    line,
    rectangle,
)

LANE = 15.0
"""Height of one lane, points."""


@dataclass(frozen=True, slots=True)
class Span:
    """On from `start` to `end` (on the timeline's own scale); `words` stand in it if they fit."""

    start: float
    end: float
    words: str = ""
    paint: Paint = ACCENT


@dataclass(frozen=True, slots=True)
class Moment:
    """One marked moment of a lane."""

    at: float
    words: str = ""
    mark: Mark = Mark.DIAMOND
    paint: Paint = INK


@dataclass(frozen=True, slots=True)
class Lane:
    """A named row of spans and moments."""

    name: str
    spans: tuple[Span, ...] = ()
    moments: tuple[Moment, ...] = ()


def names_room(lanes: Sequence[Lane]) -> float:
    """Return the width that the lanes' names take at the left, points."""
    return max((width_of(lane.name) for lane in lanes), default=0.0) + 6.0


def lane_shapes(lanes: Sequence[Lane], scale: Scale, top: float) -> tuple[Shape, ...]:
    """Return the lanes from `top` down, LANE points each, names left of the scale's start."""
    shapes: list[Shape] = []
    for number, lane in enumerate(lanes):
        y = top + number * LANE
        bottom = y + LANE
        shapes.append(line(scale.start, bottom, scale.end, bottom, GRID, 0.4))
        shapes.append(label(scale.start - 6.0, y + LANE / 2, lane.name, Anchor.END))
        for span in lane.spans:
            shapes += _span(span, scale, y)
        for moment in lane.moments:
            shapes += _moment(moment, scale, y + LANE / 2)
    return tuple(shapes)


def _span(span: Span, scale: Scale, top: float) -> list[Shape]:
    left = max(scale.start, min(scale.end, scale.at(span.start)))
    right = max(scale.start, min(scale.end, scale.at(span.end)))
    box = Box(left, top + 3.0, max(right - left, 0.6), LANE - 6.0)
    shapes: list[Shape] = [rectangle(box, span.paint, 0.7, span.paint.faint(0.35))]
    if span.words and width_of(span.words) + 4.0 <= box.width:
        shapes.append(label(*box.middle, span.words, Anchor.MIDDLE))
    return shapes


def _moment(moment: Moment, scale: Scale, y: float) -> list[Shape]:
    x = scale.at(moment.at)
    shapes: list[Shape] = [mark(moment.mark, x, y, moment.paint, 6.0)]
    if moment.words:
        at_left = x + 6.0 + width_of(moment.words) > scale.end
        text = label(
            x + (-6.0 if at_left else 6.0),
            y,
            moment.words,
            Anchor.END if at_left else Anchor.START,
            TEXT_SIZE,
        )
        shapes.append(text)
    return shapes


def ground_of(lanes: Sequence[Lane], scale: Scale, top: float) -> Shape:
    """Return the frame about lanes, filled with the ground."""
    box = Box(scale.start, top, scale.end - scale.start, len(lanes) * LANE)
    return rectangle(box, INK, 0.7, GROUND)
