"""One quantity's shown work: its label, the source run in after it, and its lines beneath.

Works go two abreast wherever that is lower (`abreast.py`).
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from reportlab.platypus import Flowable

from commission.language import spoken
from commission.package.abreast import Abreast, half
from commission.package.formula_setting import Setting, draw_setting, setting_of
from commission.package.formula_shape import Shape
from commission.package.look import (
    BOLD,
    INK,
    PAD_X,
    QUIET,
    REGULAR,
    SMALL_SIZE,
    TABLE_SIZE,
)
from commission.package.tagging import alternate
from commission.package.typesetting import (
    Run,
    broken,
    broken_work,
    read_on,
    runs_of,
    set_runs,
    width_of,
)

_LEADING, _INDENT, _LEFT = 9.6, 12.0, PAD_X + 7.0
_SPACES = re.compile(r"\s")
_RISE, _AIR, _FOOT = 7.7, 3.2, 6.0
_MUCH = 0.9  # works abreast must be lower by this share
_BESIDE_LABEL = 8.0  # points between a label and its source on the same line
_LONG_WORK = 300.0  # points; shorter work is not split over two pages


@dataclass(frozen=True, slots=True)
class Line:
    """A line of work as text, and as a shape where it has fractions, roots or powers."""

    text: str
    shape: Shape | None = None


@dataclass(frozen=True, slots=True)
class _Laid:
    """A line measured: text broken into lines of runs, or a setting in one line."""

    line: Line
    runs: Sequence[list[Run]]
    setting: Setting | None
    height: float


class Work(Flowable):  # type: ignore[misc]
    """The shown work of one quantity; `joined` is all of it in one line, taken where it fits."""

    marks_itself = True

    def __init__(
        self, label: str, lines: Sequence[Line], source: str, joined: Line | None = None
    ) -> None:
        super().__init__()
        self.label, self.parts, self.source, self.joined = label, lines, source, joined
        self._wide = -1.0

    # -- measuring -------------------------------------------------------------------

    def wrap(self, width: float, height: float) -> tuple[float, float]:
        """Break label, source and work to this width, once."""
        if width != self._wide:
            self._lay(width)
        return width, self.height

    def _lay(self, width: float) -> None:
        self._wide = self.width = width
        room = width - 2 * PAD_X
        self.label_lines = broken(self.label, BOLD, TABLE_SIZE, room)
        self._lay_source(room)
        self.laid = self._laid_lines(width - _LEFT - PAD_X)
        self.heads = len(self.label_lines) + len(self.source_lines) - self.is_run_in
        work = sum(laid.height for laid in self.laid)
        self.height = self.heads * _LEADING + work + _FOOT

    def _lay_source(self, room: float) -> None:
        """Break the source, its first line on the label's last one if a word of it fits there."""
        self.source_start = width_of(self.label_lines[-1], BOLD, TABLE_SIZE) + _BESIDE_LABEL
        first = _opening(self.source, room - self.source_start)
        rest = self.source[len(first) :].lstrip()
        self.is_run_in = bool(first)
        further = broken(rest, REGULAR, SMALL_SIZE, room) if rest else ()
        self.source_lines = (*filter(None, [first]), *further)

    def _laid_lines(self, room: float) -> list[_Laid]:
        if self.joined is not None and _natural_width(self.joined) <= room:
            return [_laid(self.joined, room)]
        return [_laid(part, room) for part in self.parts]

    def is_set_in(self, width: float) -> bool:
        """Return whether what has fractions, roots or powers keeps them in this width."""
        room = width - _LEFT - PAD_X
        return all(part.shape is None or _natural_width(part) <= room for part in self.parts)

    def split(self, width: float, height: float) -> list[Flowable]:
        """Split between lines of work, if this is longer than half a page would hold."""
        self.wrap(width, height)
        fits = 0
        used = _FOOT + self.heads * _LEADING
        for laid in self.laid:
            used += laid.height
            if used > height:
                break
            fits += 1
        if self.height < _LONG_WORK or not 0 < fits < len(self.parts):
            return []
        first = Work(self.label, self.parts[:fits], self.source)
        rest = Work(spoken("{text} (continued)", text=self.label), self.parts[fits:], "")
        return [first, rest] if first.wrap(width, height)[1] <= height else []

    # -- drawing -----------------------------------------------------------------------

    def draw(self) -> None:
        """Draw the label, its source in quiet ink, and the work."""
        y = self.height - TABLE_SIZE
        places = [(PAD_X, y - number * _LEADING) for number in range(self.heads)]
        last = len(self.label_lines) - 1
        self._draw_words(self.label, self.label_lines, places, INK, BOLD, TABLE_SIZE)
        beside = [(PAD_X + self.source_start, places[last][1])] if self.is_run_in else []
        places = [*beside, *places[last + 1 :]]
        self._draw_words(self.source, self.source_lines, places, QUIET, REGULAR, SMALL_SIZE)
        top = self.height - self.heads * _LEADING
        for laid in self.laid:
            self._draw_laid(laid, top)
            top -= laid.height

    def _draw_words(
        self,
        whole: str,
        lines: Sequence[str],
        places: Sequence[tuple[float, float]],
        ink: Any,
        font: str,
        size: float,
    ) -> None:
        """Draw lines, each at its place."""
        if not whole:
            return
        with self.canv.tagged("P"):
            text = self.canv.beginText()
            text.setFillColor(ink)
            text.setFont(font, size)
            for line, place in zip(read_on(whole, lines), places, strict=False):
                text.setTextOrigin(*place)
                text.textOut(line)
            self.canv.drawText(text)

    def _draw_laid(self, laid: _Laid, top: float) -> None:
        if laid.setting is not None:
            self._draw_formula(laid.line, laid.setting, top)
            return
        with self.canv.tagged("P"):
            text = self.canv.beginText()
            text.setFillColor(INK)
            text.setFont(REGULAR, TABLE_SIZE)
            for number, runs in enumerate(laid.runs):
                x = _LEFT + (_INDENT if number else 0)
                whole = runs if number == len(laid.runs) - 1 else [*runs, Run(" ")]
                set_runs(text, x, top - TABLE_SIZE - number * _LEADING, whole, TABLE_SIZE)
            self.canv.drawText(text)

    def _draw_formula(self, line: Line, setting: Setting, top: float) -> None:
        """Draw a formula that says in one line what its fractions and roots show."""
        canvas = self.canv
        base = top - max(setting.rise, _RISE - 2) - _AIR / 2
        canvas.saveState()
        canvas.translate(_LEFT, base)
        said = "".join(run.text for run in runs_of(line.text))
        trait = alternate(said) + canvas.box_trait(setting.width, setting.rise)
        canvas.setFillColor(INK)
        canvas.setStrokeColor(INK)
        canvas.setLineWidth(0.5)
        if canvas.is_marking:
            draw_setting(canvas, setting, 0, 0)
        else:
            element = canvas.structure.add("Formula", None, trait)
            with canvas.piece("Formula", element), canvas.saying(said):
                draw_setting(canvas, setting, 0, 0)
        canvas.restoreState()


def _opening(source: str, room: float) -> str:
    """Return as many whole words of a source as fit a room, "" if none does."""
    at = 0
    for end in (*(m.start() for m in _SPACES.finditer(source)), len(source)):
        if width_of(source[:end], REGULAR, SMALL_SIZE) > room:
            break
        at = end
    return source[:at]


def _natural_width(line: Line) -> float:
    """Return the width of a line of work that is not broken."""
    if line.shape is not None:
        return setting_of(line.shape, TABLE_SIZE).width
    return width_of(line.text, REGULAR, TABLE_SIZE)


def _laid(line: Line, room: float) -> _Laid:
    if line.shape is not None:
        setting = setting_of(line.shape, TABLE_SIZE)
        if setting.width <= room:
            return _Laid(line, (), setting, max(setting.height + _AIR, _LEADING))
    runs = broken_work(line.text, TABLE_SIZE, room - _INDENT)
    return _Laid(line, runs, None, len(runs) * _LEADING)


def works_abreast(width: float, works: Sequence[Work]) -> list[Flowable]:
    """Return works in their order, two abreast where both keep their fractions and it is lower."""
    placed: list[Flowable] = []
    at = 0
    while at < len(works):
        pair = works[at : at + 2]
        if len(pair) == 2 and _lower_abreast(width, *pair):
            placed.append(Abreast([[work] for work in pair]))
            at += 2
        else:
            placed.append(works[at])
            at += 1
    return placed


def _lower_abreast(width: float, one: Work, other: Work) -> bool:
    column = half(width)
    if not (one.is_set_in(column) and other.is_set_in(column)):
        return False
    beneath = sum(work.wrap(width, 0)[1] for work in (one, other))
    beside: float = max(work.wrap(column, 0)[1] for work in (one, other))
    return beside < _MUCH * beneath
