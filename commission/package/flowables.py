"""Everything that is set on a page is one of these; nothing else touches the canvas.

So what a heading, a table cell or a picture is stays known to the end, which is what tagging
a PDF needs.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from io import BytesIO
from typing import Any
from xml.sax.saxutils import escape

from reportlab.lib.utils import ImageReader
from reportlab.platypus import CondPageBreak, Flowable, PageBreak, Paragraph, Spacer
from reportlab.platypus.doctemplate import ActionFlowable

from commission.language import spoken
from commission.package.look import (
    ACCENT,
    BODY,
    BOLD,
    INK,
    NOTE,
    QUIET,
    REGULAR,
    RULE,
    SMALL_SIZE,
    STEP,
    TABLE_SIZE,
)
from commission.package.tagging import Tag, alternate
from commission.package.typesetting import broken, plain, width_of

_HEADING_SIZES = {1: 17.0, 2: 11.0, 3: 8.5}
_ROOM_BEFORE = {1: 5 * STEP, 2: 2 * STEP, 3: STEP}
_LEAST_LINES = 3  # of a paragraph or a list that may stand alone at the foot of a page


class Heading(Flowable):  # type: ignore[misc]
    """A heading of level 1 to 3; with `key` a place to link to, with `outlined` in the outline.

    `aside` is set at the right end of the same line, such as a page's state.
    """

    marks_itself = True

    def __init__(
        self,
        text: str,
        level: int = 1,
        key: str = "",
        outlined: bool = True,
        aside: str = "",
        aside_colour: Any = QUIET,
    ) -> None:
        super().__init__()
        self.text, self.level, self.key = plain(text).replace("\n", " "), level, key
        self.outlined, self.aside, self.aside_colour = outlined, aside, aside_colour
        self.size = _HEADING_SIZES[level]
        self.leading = self.size * 1.25
        self.spaceBefore = _ROOM_BEFORE[level]
        self.spaceAfter = STEP if level == 1 else STEP / 2

    def wrap(self, width: float, height: float) -> tuple[float, float]:
        """Return the room needed; a long heading takes further lines."""
        self.width = width
        room = width - (width_of(self.aside, BOLD, 8.5) + 12 if self.aside else 0)
        self.lines = broken(self.text, BOLD, self.size, room)
        self.height = len(self.lines) * self.leading + (5 if self.level < 3 else 0)
        return width, self.height

    def draw(self) -> None:
        """Draw the lines, the rule of a level 1 or 2, and note the place."""
        canvas = self.canv
        if self.key:
            canvas.mark_place(self.key, self.height + 4)
            if self.outlined:
                canvas.addOutlineEntry(self.text, self.key, self.level - 1, self.level > 1)
        with canvas.piece(*self._element()):
            self._draw_text()
        if self.level < 3:
            with canvas.artifact():
                canvas.setStrokeColor(INK if self.level == 1 else RULE)
                canvas.setLineWidth(1.2 if self.level == 1 else 0.7)
                canvas.line(0, 1, self.width, 1)

    def _element(self) -> tuple[str, int]:
        structure = self.canv.structure
        element = structure.heading(self.level)
        return structure.kind_of(element), element

    def _draw_text(self) -> None:
        canvas = self.canv
        canvas.setFillColor(INK if self.level == 1 else ACCENT if self.level == 2 else INK)
        canvas.setFont(BOLD, self.size)
        y = self.height - self.size
        for number, line in enumerate(self.lines):
            canvas.drawString(0, y - number * self.leading, line)
        if self.aside:
            canvas.setFillColor(self.aside_colour)
            canvas.setFont(BOLD, 8.5)
            canvas.drawRightString(self.width, y, self.aside)


class Words(Paragraph):  # type: ignore[misc]
    """A paragraph. What a person typed goes through `words`, which escapes it."""

    marks_itself = True
    is_title = False
    _tag: Tag | None = None

    def split(self, width: float, height: float) -> list[Flowable]:
        """Split between lines; all parts are one paragraph still."""
        self._tag = self._tag or Tag()
        parts: list[Flowable] = super().split(width, height)
        for part in parts:
            part._tag, part.is_title = self._tag, self.is_title
        return parts

    def draw(self) -> None:
        """Draw the lines."""
        canvas = self.canv
        structure = canvas.structure
        if self.is_title:
            element = structure.heading(1)
        else:
            self._tag = self._tag or Tag()
            element = self._tag.of(structure, "P")
        with canvas.piece(structure.kind_of(element), element):
            super().draw()


def words(text: str, style: Any = BODY, *, is_title: bool = False) -> Words:
    """Return plain text as a paragraph, or as the document's title; nothing in it is markup."""
    paragraph = Words(escape(plain(text)).replace("\n", "<br/>"), style)
    paragraph.is_title = is_title
    return paragraph


def named(name: str, text: str, style: Any = NOTE) -> Words:
    """Return a paragraph that opens with `name` in bold."""
    return Words(f"<b>{escape(name)}</b> {escape(plain(text))}".replace("\n", "<br/>"), style)


def gap(steps: float = 1) -> Spacer:
    """Return empty room."""
    return Spacer(1, steps * STEP)


class Box(Flowable):  # type: ignore[misc]
    """One emphasised statement with a bar at its left, such as a count of stops."""

    marks_itself = True

    def __init__(self, lines: Sequence[tuple[str, bool]], colour: Any) -> None:
        super().__init__()
        self.parts, self.colour = lines, colour
        self.spaceBefore = self.spaceAfter = STEP

    def wrap(self, width: float, height: float) -> tuple[float, float]:
        """Break the lines to the width."""
        self.width = width
        self.lines = [
            (line, strong)
            for text, strong in self.parts
            for line in broken(
                text, BOLD if strong else REGULAR, 9.5 if strong else 8.5, width - 24
            )
        ]
        self.height = len(self.lines) * 13.0 + 10
        return width, self.height

    def draw(self) -> None:
        """Draw the bar and the lines."""
        canvas = self.canv
        with canvas.artifact():
            canvas.setFillColor(self.colour)
            canvas.rect(0, 0, 4, self.height, stroke=0, fill=1)
        with canvas.tagged("P"):
            for number, (line, strong) in enumerate(self.lines):
                canvas.setFillColor(self.colour if strong else INK)
                canvas.setFont(BOLD if strong else REGULAR, 9.5 if strong else 8.5)
                canvas.drawString(14, self.height - 14 - number * 13.0, line)


class SignatureBlock(Flowable):  # type: ignore[misc]
    """Boxes side by side, one a role: name, company, licence, room to sign, date."""

    marks_itself = True

    def __init__(
        self,
        boxes: Sequence[tuple[str, Sequence[tuple[str, str]]]],
        fields: Sequence[tuple[str, str]] = (),
    ) -> None:
        """Take a role with its lines for each box, and the name and words of its field."""
        super().__init__()
        self.boxes, self.fields = boxes, fields
        self.spaceAfter = 2 * STEP

    def wrap(self, width: float, height: float) -> tuple[float, float]:
        """Return the room needed; a long name takes further lines."""
        self.width = width
        self.share = (width - 12 * (len(self.boxes) - 1)) / len(self.boxes)
        self.laid = [
            (role, [(name, broken(text, REGULAR, 8, self.share - 66)) for name, text in lines])
            for role, lines in self.boxes
        ]
        most = max(sum(max(len(text), 1) for _, text in lines) for _, lines in self.laid)
        self.height = 44 + most * 15.0
        return width, self.height

    def draw(self) -> None:
        """Draw each role's box with its lines."""
        canvas = self.canv
        for number, (role, lines) in enumerate(self.laid):
            x = number * (self.share + 12)
            with canvas.artifact():
                canvas.setStrokeColor(RULE)
                canvas.setLineWidth(0.7)
                canvas.rect(x, 0, self.share, self.height)
            with canvas.tagged("P"):
                canvas.setFillColor(INK)
                canvas.setFont(BOLD, 8.5)
                canvas.drawString(x + 7, self.height - 14, role)
            self._draw_lines(x, self.height - 32, lines, self.fields[number : number + 1])

    def _draw_lines(
        self,
        x: float,
        y: float,
        lines: Sequence[tuple[str, Sequence[str]]],
        fields: Sequence[tuple[str, str]],
    ) -> None:
        canvas = self.canv
        for name, text in lines:
            if name == spoken("Signature"):
                y -= 10
            with canvas.artifact():
                for number in range(max(len(text), 1)):
                    foot = y - 3 - 15 * number
                    canvas.line(x + 54, foot, x + self.share - 7, foot)
            with canvas.tagged("P"):
                canvas.setFillColor(QUIET)
                canvas.setFont(REGULAR, SMALL_SIZE)
                canvas.drawString(x + 7, y, name)
                canvas.setFillColor(INK)
                canvas.setFont(REGULAR, 8)
                for number, line in enumerate(text):
                    canvas.drawString(x + 56, y - 15 * number, line)
            if name == spoken("Signature"):
                for field, told in fields:
                    area = (x + 54, y - 2, x + self.share - 7, y + 19)
                    canvas.signature_field(field, told, area)
            y -= 15 * max(len(text), 1)


class Picture(Flowable):  # type: ignore[misc]
    """A photo within a width and a height, its caption beneath; bytes are read when drawn."""

    marks_itself = True

    def __init__(
        self, read: Callable[[], bytes], caption: str, width: float, height: float
    ) -> None:
        super().__init__()
        self.read, self.caption = read, caption
        self.most = (width, height)
        self.spaceAfter = 2 * STEP

    def wrap(self, width: float, height: float) -> tuple[float, float]:
        """Scale the picture to its room."""
        self.reader = ImageReader(BytesIO(self.read()))
        wide, high = self.reader.getSize()
        scale = min(self.most[0] / wide, self.most[1] / high)
        self.drawn = (wide * scale, high * scale)
        self.lines = broken(self.caption, REGULAR, TABLE_SIZE, width)
        self.height = self.drawn[1] + 4 + 10 * len(self.lines)
        return width, self.height

    def draw(self) -> None:
        """Draw the picture and its caption."""
        canvas, (wide, high) = self.canv, self.drawn
        canvas.saveState()
        canvas.translate(0, self.height - high)
        with canvas.tagged("Figure", alternate(self.caption) + canvas.box_trait(wide, high)):
            canvas.drawImage(self.reader, 0, 0, wide, high)
        canvas.restoreState()
        with canvas.tagged("P"):
            canvas.setFillColor(INK)
            canvas.setFont(REGULAR, TABLE_SIZE)
            for number, line in enumerate(self.lines):
                canvas.drawString(0, self.height - high - 10 - 10 * number, line)


class Running(ActionFlowable):  # type: ignore[misc]
    """From the next page on, what the running header says at its right."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.text = text

    def apply(self, document: Any) -> None:
        """Tell the document."""
        document.running = self.text


class Then(ActionFlowable):  # type: ignore[misc]
    """Flowables that are made when their turn comes, so that a long package stays small."""

    def __init__(self, make: Callable[[], Iterable[Flowable]]) -> None:
        super().__init__()
        self.make = make

    def apply(self, document: Any) -> None:
        """Put the flowables at the front of what is still to be set."""
        document.story[:0] = list(self.make())


def new_page(running: str) -> list[Flowable]:
    """Return what starts a page with its running header."""
    return [Running(running), PageBreak()]


def least_height(flowable: Flowable, width: float) -> float:
    """Return the height of the smallest piece that may stand at the foot of a page."""
    least = getattr(flowable, "least_height", None)
    if least is not None:
        return float(least(width))
    height = float(flowable.wrap(width, 10_000)[1])
    if isinstance(flowable, Paragraph):
        height = min(height, _LEAST_LINES * float(flowable.style.leading))
    return height


def kept(width: float, *flowables: Flowable) -> list[Flowable]:
    """Return flowables of which all but the last stay on one page with the last one's start."""
    *first, last = flowables
    height = least_height(last, width) + last.getSpaceBefore()
    for flowable in first:
        height += flowable.wrap(width, 10_000)[1]
        height += flowable.getSpaceBefore() + flowable.getSpaceAfter()
    return [CondPageBreak(height), *flowables]
