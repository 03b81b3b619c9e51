"""Text measured and broken into lines: plain text for tables, symbols with subscripts for work."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from reportlab.pdfbase.pdfmetrics import stringWidth

from commission.package.look import REGULAR
from commission.units import UNITS

_SHIFTED = re.compile(r"(?<![\w])([^\W\d_]{1,6}[*′]?)_(\w+)|(?<=[\w)])(\^)(\d+(?:\.\d+)?|\w+)")
_SCALE, _DROP, _RISE = 0.72, -0.18, 0.36
_NO_BREAK = "\N{NO-BREAK SPACE}"
_CODES = "|".join(re.escape(code) for code in sorted(filter(None, UNITS), key=len, reverse=True))
_MEASURED = re.compile(rf"(?<=\d) (?:{_CODES})(?!\w)")


def plain(text: str) -> str:
    """Return text as it can be set: line breaks kept, tabs and control characters as spaces."""
    kept = text.replace("\r\n", "\n").replace("\r", "\n").expandtabs(4)
    return "".join(mark if mark == "\n" or mark.isprintable() else " " for mark in kept)


@lru_cache(maxsize=50_000)
def width_of(text: str, font: str, size: float) -> float:
    """Return the width of one line of text, in points."""
    return float(stringWidth(text, font, size))


@lru_cache(maxsize=50_000)
def broken(text: str, font: str, size: float, width: float) -> tuple[str, ...]:
    """Return text as lines that fit `width`; a word wider than a line is cut into pieces.

    A number and its unit stay on one line that holds both.
    """
    lines: list[str] = []
    for paragraph in _with_units(plain(text)).split("\n"):
        lines.extend(_broken_paragraph(paragraph, font, size, width))
    return tuple(line.replace(_NO_BREAK, " ") for line in lines)


def read_on(text: str, lines: Sequence[str]) -> Iterator[str]:
    """Yield the lines of a broken text, each with the space that was lost where it was broken.

    So whoever has it read aloud or copies it meets whole words.
    """
    whole = plain(text)
    at = max(whole.find(lines[0]), 0)  # the lines of a long text may begin in its middle
    for line in lines:
        at += len(line)
        lost = whole[at : at + 1] in (" ", "\n")
        yield line + " " * lost
        at += lost


def _broken_paragraph(text: str, font: str, size: float, width: float) -> list[str]:
    space = width_of(" ", font, size)
    lines: list[str] = []
    line: list[str] = []
    used = 0.0
    for word in _words(text, font, size, width):
        wide = width_of(word, font, size)
        if line and used + space + wide > width:
            lines.append(" ".join(line))
            line, used = [word], wide
        else:
            used += wide + (space if line else 0.0)
            line.append(word)
    return [*lines, " ".join(line)]


def _words(text: str, font: str, size: float, width: float) -> Iterator[str]:
    for word in _unparted(text, font, size, width):
        while width_of(word, font, size) > width and len(word) > 1:
            fits = _fitting(word, font, size, width)
            yield word[:fits]
            word = word[fits:]
        yield word


def _unparted(text: str, font: str, size: float, width: float) -> Iterator[str]:
    """Yield words, a number with its unit as one unless a line is too short for both."""
    for word in text.split(" "):
        if _NO_BREAK in word and width_of(word, font, size) > width:
            yield from word.split(_NO_BREAK)
        else:
            yield word


def _fitting(word: str, font: str, size: float, width: float) -> int:
    """Return how many characters fit, at least one, by halving."""
    low, high = 1, len(word)
    while low < high:
        middle = (low + high + 1) // 2
        if width_of(word[:middle], font, size) <= width:
            low = middle
        else:
            high = middle - 1
    return low


@dataclass(frozen=True, slots=True)
class Run:
    """A piece of a line; `shift` is its rise as a share of the size, 0 on the line itself."""

    text: str
    shift: float = 0.0

    def size(self, size: float) -> float:
        """Return the size of this run in a line of `size`."""
        return size * (_SCALE if self.shift else 1)


def runs_of(text: str) -> list[Run]:
    """Return text with "p_s" as p and a subscript s, and "k^2" as k and a superscript 2."""
    runs, place = [], 0
    for match in _SHIFTED.finditer(text):
        symbol, low, raised, high = match.groups()
        runs.append(Run(text[place : match.start()] + (symbol or "")))
        runs.append(Run(high, _RISE) if raised else Run(low, _DROP))
        place = match.end()
    runs.append(Run(text[place:]))
    return [run for run in runs if run.text]


def _runs_width(runs: list[Run], size: float) -> float:
    return sum(width_of(run.text, REGULAR, run.size(size)) for run in runs)


def broken_work(text: str, size: float, width: float) -> list[list[Run]]:
    """Return a line of work as lines of runs that fit `width`, broken at spaces.

    A number and its unit stay on one line.
    """
    space = width_of(" ", REGULAR, size)
    whole = _with_units(plain(text).replace("\n", " "))
    lines: list[list[Run]] = []
    line: list[Run] = []
    used = 0.0
    for word in _words(whole, REGULAR, size, width):
        runs = runs_of(word.replace(_NO_BREAK, " "))
        wide = _runs_width(runs, size)
        if line and used + space + wide > width:
            lines.append(_joined(line))
            line, used = runs, wide
        else:
            used += wide + (space if line else 0.0)
            line += [Run(" "), *runs] if line else runs
    return [*lines, _joined(line)]


def _with_units(text: str) -> str:
    """Return text whose units are joined to their numbers by spaces that do not break."""
    return _MEASURED.sub(lambda found: found[0].replace(" ", _NO_BREAK), text)


def _joined(runs: list[Run]) -> list[Run]:
    """Return runs with neighbours of one shift put together."""
    joined: list[Run] = []
    for run in runs:
        if joined and joined[-1].shift == run.shift:
            joined[-1] = Run(joined[-1].text + run.text, run.shift)
        else:
            joined.append(run)
    return joined


def set_runs(text: Any, x: float, y: float, runs: list[Run], size: float) -> None:
    """Set one line of runs into a text object, its baseline at `y`; size and rise stay as met."""
    text.setTextOrigin(x, y)
    for run in runs:
        if run.shift:
            text.setFont(REGULAR, run.size(size))
            text.setRise(run.shift * size)
        text.textOut(run.text)
        if run.shift:
            text.setFont(REGULAR, size)
            text.setRise(0)
