"""The room that shapes take, for finding what is cut off or lies over something else."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import combinations

from commission.drawing.lettering import text_box
from commission.drawing.shapes import Box, Circle, Clip, Drawing, Shape, Text, flat


def extent(shape: Shape) -> Box:
    """Return the box about a shape (without the half of its line's width)."""
    if isinstance(shape, Text):
        return text_box(shape)
    if isinstance(shape, Circle):
        r = shape.radius
        return Box(shape.x - r, shape.y - r, 2 * r, 2 * r)
    if isinstance(shape, Clip):
        return shape.box
    xs = [x for x, _ in shape.points]
    ys = [y for _, y in shape.points]
    return Box(min(xs), min(ys), max(xs) - min(xs), max(ys) - min(ys))


def outside(drawing: Drawing) -> list[Shape]:
    """Return the shapes that reach over the drawing's edge; clipped paths cannot."""
    found = [shape for shape in drawing.shapes if not drawing.frame.holds(extent(shape))]
    for shape in drawing.shapes:
        if isinstance(shape, Clip):
            found += [
                inner
                for inner in flat(shape.shapes)
                if isinstance(inner, Text) and not shape.box.holds(extent(inner))
            ]
    return found


def texts(drawing: Drawing) -> Iterator[Text]:
    """Yield all texts of a drawing."""
    return (shape for shape in flat(drawing.shapes) if isinstance(shape, Text))


def overlapping(drawing: Drawing) -> list[tuple[Text, Text]]:
    """Return the pairs of texts that lie over one another."""
    boxes = [(text, text_box(text)) for text in texts(drawing)]
    return [
        (one, other)
        for (one, box), (other, other_box) in combinations(boxes, 2)
        if box.inset(0.2).meets(other_box.inset(0.2))
    ]
