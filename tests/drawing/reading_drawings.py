"""Reading values back from a drawing, as a person does: by its ticks and its marks."""

from __future__ import annotations

import math
from collections.abc import Callable
from itertools import pairwise

from commission.drawing.axes import Scale
from commission.drawing.labels import DOT, TAG
from commission.drawing.shapes import INK, Anchor, Circle, Drawing, Text


def discs(drawing: Drawing) -> dict[int, tuple[float, float]]:
    """Return the point of each numbered disc of the chart, not those of the list below.

    A disc that was moved aside has a dot at its point just before it.
    """
    found: dict[int, tuple[float, float]] = {}
    dot: Circle | None = None
    for shape, text in pairwise(drawing.shapes):
        if isinstance(shape, Circle) and shape.radius == TAG and isinstance(text, Text):
            point = dot or shape
            found.setdefault(int(text.text), (point.x, point.y))
        dot = shape if isinstance(shape, Circle) and shape.radius == DOT else None
    return found


def axis_below(drawing: Drawing) -> Callable[[float], float]:
    """Return value at a place across, read from the words at the ticks of the lower axis."""
    return _linear([(t.x, number) for t, number in _ticks(drawing, Anchor.MIDDLE)])


def axis_at_right(drawing: Drawing) -> Callable[[float], float]:
    """Return value at a place up, read from the words right of the chart."""
    ticks = [(t.y - t.size * 0.729 / 2, n) for t, n in _ticks(drawing, Anchor.START)]
    return _linear(ticks)


def axis_at_left(drawing: Drawing, logarithmic: bool = False) -> Callable[[float], float]:
    """Return value at a place up, read from the words left of the chart."""
    ticks = [(t.y - t.size * 0.729 / 2, n) for t, n in _ticks(drawing, Anchor.END)]
    if not logarithmic:
        return _linear(ticks)
    inner = _linear([(place, math.log(value)) for place, value in ticks])
    return lambda place: math.exp(inner(place))


def _ticks(drawing: Drawing, anchor: Anchor) -> list[tuple[Text, float]]:
    """Return the longest run of plain numbers in ink with one anchor on one line."""
    found: dict[float, list[tuple[Text, float]]] = {}
    for shape in drawing.shapes:
        if not isinstance(shape, Text) or shape.anchor is not anchor or shape.paint != INK:
            continue
        if shape.bold:
            continue
        try:
            value = float(shape.text.replace("−", "-").replace(",", ""))
        except ValueError:
            continue
        line = shape.y if anchor is Anchor.MIDDLE else shape.x
        found.setdefault(round(line, 3), []).append((shape, value))
    return max(found.values(), key=len)


def _linear(ticks: list[tuple[float, float]]) -> Callable[[float], float]:
    (x1, v1), (x2, v2) = ticks[0], ticks[-1]
    scale = Scale(x1, x2, v1, v2)
    for place, value in ticks:
        assert abs(scale.at(place) - value) < 1e-6 * max(1.0, abs(v2 - v1)), "uneven ticks"
    return scale.at
