"""Finding room for words: tags with numbers, labels beside points, lists below a chart."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

from commission.drawing.extents import extent
from commission.drawing.lettering import label, text_box, width_of, wrapped
from commission.drawing.shapes import (
    GROUND,
    INK,
    TEXT_SIZE,
    Anchor,
    Box,
    Circle,
    Paint,
    Path,
    Shape,
    Text,
    line,
)

LEADING = 11.0
TAG, DOT = 5.4, 1.6  # radius of a numbered disc, and of the dot where it was moved from
_DIRECTIONS = (
    (1, 0, Anchor.START),
    (-1, 0, Anchor.END),
    (0, -1, Anchor.MIDDLE),
    (0, 1, Anchor.MIDDLE),
    (0.8, -0.9, Anchor.START),
    (0.8, 0.9, Anchor.START),
    (-0.8, -0.9, Anchor.END),
    (-0.8, 0.9, Anchor.END),
)


@dataclass
class Room:
    """What is taken already inside a frame; texts are put where nothing else is."""

    frame: Box
    taken: list[Box] = field(default_factory=list)

    def take(self, shape: Shape) -> None:
        """Count a shape's box as taken."""
        self.taken.append(extent(shape))

    def take_lines(self, shapes: Iterable[Shape]) -> None:
        """Count circles and each straight piece of paths as taken, but not what lies within."""
        for shape in shapes:
            if isinstance(shape, Path):
                ends = shape.points[1:] + (shape.points[:1] if shape.closed else ())
                for (x1, y1), (x2, y2) in zip(shape.points, ends, strict=False):
                    box = Box(min(x1, x2), min(y1, y2), abs(x2 - x1), abs(y2 - y1))
                    self.taken.append(box.inset(-1.2))
            elif isinstance(shape, Circle):
                self.take(shape)

    def is_free(self, box: Box) -> bool:
        """Return whether a box lies in the frame, over nothing."""
        return self.frame.holds(box) and not any(box.meets(other) for other in self.taken)

    def beside(
        self,
        x: float,
        y: float,
        text: str,
        away: float = 7.0,
        paint: Paint = INK,
        bold: bool = False,
    ) -> Text | None:
        """Return a text beside a point and take its room; None if there is no room at all."""
        for reach in (1.0, 1.5, 2.2, 3.0, 4.0):
            for across, down, anchor in _DIRECTIONS:
                place = x + across * away * reach, y + down * away * reach
                found = label(*place, text, anchor, paint=paint, bold=bold)
                if self.is_free(text_box(found).inset(-0.6)):
                    self.take(found)
                    return found
        return None

    def if_free(self, text: Text) -> tuple[Text, ...]:
        """Return a text if nothing is in its place (and take it), else nothing."""
        if not self.is_free(text_box(text).inset(-0.6)):
            return ()
        self.take(text)
        return (text,)


def tag(x: float, y: float, number: int, paint: Paint = INK) -> tuple[Shape, ...]:
    """Return a numbered disc."""
    return (
        Circle(x, y, TAG, GROUND, 0.8, paint),
        label(x, y, str(number), Anchor.MIDDLE, TEXT_SIZE, GROUND, bold=True),
    )


def tags(room: Room, points: Sequence[tuple[float, float]]) -> tuple[Shape, ...]:
    """Return numbered discs at points, from 1 on; one that lies over another is moved aside.

    A moved disc keeps a line to its point.
    """
    shapes: list[Shape] = []
    for number, (x, y) in enumerate(points, start=1):
        for across, down in ((0, 0), (0, -1), (1, 0), (0, 1), (-1, 0), (1, -1), (-1, 1), (0, -2)):
            place = x + across * 2.4 * TAG, y + down * 2.4 * TAG
            box = Box(place[0] - TAG, place[1] - TAG, 2 * TAG, 2 * TAG)
            if room.is_free(box):
                break
        else:
            place, box = (x, y), Box(x - TAG, y - TAG, 2 * TAG, 2 * TAG)
        room.taken.append(box)
        if place != (x, y):
            shapes += [line(x, y, *place, INK, 0.6), Circle(x, y, DOT, None, fill=INK)]
        shapes += tag(*place, number)
    return tuple(shapes)


def numbered_list(
    entries: Sequence[str], left: float, top: float, width: float
) -> tuple[tuple[Shape, ...], float]:
    """Return tags with their words in one or two columns, and the height that they take."""
    room = 2 * TAG + 6.0
    widest = max((width_of(entry) for entry in entries), default=0.0) + room + 12.0
    columns = 2 if len(entries) > 1 and 2 * widest <= width else 1
    shapes: list[Shape] = []
    y = top
    for first in range(0, len(entries), columns):
        deepest = 1
        for column, entry in enumerate(entries[first : first + columns]):
            x = left + column * width / columns
            lines = wrapped(entry, width / columns - room)
            shapes += tag(x + TAG, y + LEADING / 2 + 1, first + column + 1)
            shapes += [
                label(x + room, y + LEADING / 2 + 1 + number * LEADING, words)
                for number, words in enumerate(lines)
            ]
            deepest = max(deepest, len(lines))
        y += max(deepest * LEADING, 2 * TAG) + 2.5
    return tuple(shapes), y - top


def note(
    text: str, left: float, top: float, width: float, paint: Paint = INK
) -> tuple[tuple[Shape, ...], float]:
    """Return a short paragraph and the height that it takes."""
    lines = wrapped(text, width)
    shapes = tuple(
        label(left, top + LEADING / 2 + number * LEADING, words, size=TEXT_SIZE, paint=paint)
        for number, words in enumerate(lines)
    )
    return shapes, len(lines) * LEADING
