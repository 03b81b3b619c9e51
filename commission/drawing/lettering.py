"""How wide text is, so that every renderer can set it in the same places.

All renderers set the two faces that ship with the program; their advance widths are read from
the font files themselves (OpenType tables head, hhea, hmtx and cmap format 4 or 12).
"""

from __future__ import annotations

import struct
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache

from commission.drawing.shapes import GROUND, INK, TEXT_SIZE, Anchor, Box, Paint, Path, Text
from commission.resources import fonts_folder

REGULAR_FILE, BOLD_FILE = "DejaVuSans.ttf", "DejaVuSans-Bold.ttf"
FAMILY = "DejaVu Sans"
CAP_HEIGHT = 0.729
DESCENT = 0.236
_STAND_IN = 0xFFFD


@dataclass(frozen=True)
class Face:
    """Advance widths of one font file, in em."""

    data: bytes
    units_per_em: int
    metrics: int
    metric_count: int
    groups: tuple[tuple[int, int, int], ...]
    """First code point, last code point, glyph of the first."""

    def glyph(self, code: int) -> int:
        """Return the glyph of a code point; the stand-in's if there is none."""
        low, high = 0, len(self.groups)
        while low < high:
            middle = (low + high) // 2
            if self.groups[middle][1] < code:
                low = middle + 1
            else:
                high = middle
        if low < len(self.groups) and self.groups[low][0] <= code:
            return self.groups[low][2] + code - self.groups[low][0]
        return self.glyph(_STAND_IN) if code != _STAND_IN else 0

    def advance(self, code: int) -> float:
        """Return the width of a code point, in em."""
        number = min(self.glyph(code), self.metric_count - 1)
        (width,) = struct.unpack_from(">H", self.data, self.metrics + 4 * number)
        return float(width) / self.units_per_em


@cache
def face(bold: bool = False) -> Face:
    """Return one of the two faces, its file read once."""
    data = (fonts_folder() / (BOLD_FILE if bold else REGULAR_FILE)).read_bytes()
    tables = {}
    for place in range(12, 12 + 16 * struct.unpack_from(">H", data, 4)[0], 16):
        tag, _, offset, _ = struct.unpack_from(">4sLLL", data, place)
        tables[tag] = offset
    (units_per_em,) = struct.unpack_from(">H", data, tables[b"head"] + 18)
    (metric_count,) = struct.unpack_from(">H", data, tables[b"hhea"] + 34)
    return Face(data, units_per_em, tables[b"hmtx"], metric_count, _groups(data, tables[b"cmap"]))


def _groups(data: bytes, cmap: int) -> tuple[tuple[int, int, int], ...]:
    """Return the ranges of the font's format 12 character map."""
    (count,) = struct.unpack_from(">H", data, cmap + 2)
    for number in range(count):
        (offset,) = struct.unpack_from(">L", data, cmap + 8 + 8 * number)
        start = cmap + offset
        if struct.unpack_from(">H", data, start)[0] == 12:
            (groups,) = struct.unpack_from(">L", data, start + 12)
            return tuple(
                struct.unpack_from(">LLL", data, start + 16 + 12 * each) for each in range(groups)
            )
    raise ValueError("the font file has no character map of format 12")


@cache
def _advance(code: int, bold: bool) -> float:
    return face(bold).advance(code)


def width_of(text: str, size: float = TEXT_SIZE, bold: bool = False) -> float:
    """Return the width of a line of text, points."""
    return size * sum(_advance(ord(character), bold) for character in text)


def label(
    x: float,
    y: float,
    text: str,
    anchor: Anchor = Anchor.START,
    size: float = TEXT_SIZE,
    paint: Paint = INK,
    bold: bool = False,
    turned: bool = False,
) -> Text:
    """Return text whose capitals are centred on y (on x, if it is turned)."""
    drop = size * CAP_HEIGHT / 2
    if turned:
        return Text(x + drop, y, text, size, paint, anchor, bold, turned=True)
    return Text(x, y + drop, text, size, paint, anchor, bold)


def text_box(text: Text) -> Box:
    """Return the room that a text takes, from the foot of its descenders to its capitals."""
    width = width_of(text.text, text.size, text.bold)
    up, down = text.size * (CAP_HEIGHT + 0.03), text.size * DESCENT
    shift = {Anchor.START: 0.0, Anchor.MIDDLE: 0.5, Anchor.END: 1.0}[text.anchor] * width
    if text.turned:
        return Box(text.x - up, text.y + shift - width, up + down, width)
    return Box(text.x - shift, text.y - up, width, up + down)


def backing(text: Text, margin: float = 1.0) -> Path:
    """Return a piece of plain ground to stand behind a text."""
    box = text_box(text).inset(-margin)
    corners = (
        (box.left, box.top),
        (box.right, box.top),
        (box.right, box.bottom),
        (box.left, box.bottom),
    )
    return Path(corners, None, fill=GROUND, closed=True)


def unbroken(text: str) -> str:
    """Return a text that `wrapped` keeps on one line, such as a number with its unit."""
    return text.replace(" ", "\u00a0")


def wrapped(text: str, room: float, size: float = TEXT_SIZE, bold: bool = False) -> tuple[str, ...]:
    """Return the lines of a text broken between words to a room, points.

    A single word longer than the room is broken inside; nothing is cut off.
    """
    lines: list[str] = []
    here = ""
    words = [word for word in text.split(" ") if word]
    for word in _pieces(words, room, size, bold):
        joined = f"{here} {word}".strip()
        if here and width_of(joined, size, bold) > room:
            lines.append(here)
            here = word
        else:
            here = joined
    return (*lines, here) if here else tuple(lines)


def _pieces(words: Sequence[str], room: float, size: float, bold: bool) -> list[str]:
    pieces = []
    for word in words:
        rest = word
        while len(rest) > 1 and width_of(rest, size, bold) > room:
            fits = next(
                (n for n in range(len(rest) - 1, 0, -1) if width_of(rest[:n], size, bold) <= room),
                1,
            )
            pieces.append(rest[:fits])
            rest = rest[fits:]
        pieces.append(rest)
    return pieces
