"""One quantity's shown work on the page: label at the left, its lines and the source beside."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from reportlab.platypus import Flowable

from commission.language import spoken
from commission.package.formula_setting import Setting, draw_setting, setting_of
from commission.package.formula_shape import Shape
from commission.package.look import (
    INK,
    PAD_X,
    QUIET,
    REGULAR,
    RULE,
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

_LABEL_SHARE, _LEADING, _INDENT = 0.31, 10.0, 12.0
_RISE, _AIR = 7.7, 3.2
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


def fits_one_line(line: Line, width: float) -> bool:
    """Return whether a line of work fits beside the label in a page of this width."""
    room = width * (1 - _LABEL_SHARE) - 14
    if line.shape is not None:
        return setting_of(line.shape, TABLE_SIZE).width <= room
    return width_of(line.text, REGULAR, TABLE_SIZE) < room


class Work(Flowable):  # type: ignore[misc]
    """The shown work of one quantity."""

    marks_itself = True

    def __init__(self, label: str, lines: Sequence[Line], source: str) -> None:
        super().__init__()
        self.label, self.parts, self.source = label, lines, source

    # -- measuring -------------------------------------------------------------------

    def wrap(self, width: float, height: float) -> tuple[float, float]:
        """Break label, source and work to their columns."""
        self.width, self.left = width, width * _LABEL_SHARE
        self.label_lines = broken(self.label, REGULAR, TABLE_SIZE, self.left - PAD_X - 10)
        room = width - self.left - 14
        self.source_lines = broken(self.source, REGULAR, SMALL_SIZE, room) if self.source else ()
        self.laid = [self._laid(part) for part in self.parts]
        work = sum(laid.height for laid in self.laid) + len(self.source_lines) * _LEADING
        self.height = max(len(self.label_lines) * _LEADING, work) + 5
        return width, self.height

    def _laid(self, line: Line) -> _Laid:
        room = self.width - self.left - 14
        if line.shape is not None:
            setting = setting_of(line.shape, TABLE_SIZE)
            if setting.width <= room:
                return _Laid(line, (), setting, max(setting.height + _AIR, _LEADING))
        runs = broken_work(line.text, TABLE_SIZE, room)
        return _Laid(line, runs, None, len(runs) * _LEADING)

    def split(self, width: float, height: float) -> list[Flowable]:
        """Split between lines of work, if this is longer than half a page would hold."""
        self.wrap(width, height)
        fits, used = 0, 0.0
        for laid in self.laid:
            used += laid.height
            if used + 5 > height:
                break
            fits += 1
        if self.height < _LONG_WORK or not 0 < fits < len(self.parts):
            return []
        first = Work(self.label, self.parts[:fits], self.source)
        rest = Work(spoken("{text} (continued)", text=self.label), self.parts[fits:], "")
        return [first, rest] if first.wrap(width, height)[1] <= height else []

    # -- drawing -----------------------------------------------------------------------

    def draw(self) -> None:
        """Draw the label, the work, and its source in quiet ink beneath."""
        canvas = self.canv
        top = self.height - 2 - TABLE_SIZE
        self._draw_words(self.label, self.label_lines, (PAD_X, top), INK, TABLE_SIZE)
        y = self.height - 2
        for laid in self.laid:
            self._draw_laid(laid, y)
            y -= laid.height
        beneath = (self.left, y - SMALL_SIZE)
        self._draw_words(self.source, self.source_lines, beneath, QUIET, SMALL_SIZE)
        with canvas.artifact():
            canvas.setStrokeColor(RULE)
            canvas.setLineWidth(0.3)
            canvas.line(0, 0, self.width, 0)

    def _draw_words(
        self,
        whole: str,
        lines: Sequence[str],
        start: tuple[float, float],
        ink: Any,
        size: float,
    ) -> None:
        if not lines:
            return
        with self.canv.tagged("P"):
            text = self.canv.beginText()
            text.setFillColor(ink)
            text.setFont(REGULAR, size)
            for number, line in enumerate(read_on(whole, lines)):
                text.setTextOrigin(start[0], start[1] - number * _LEADING)
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
                x = self.left + (_INDENT if number else 0)
                whole = runs if number == len(laid.runs) - 1 else [*runs, Run(" ")]
                set_runs(text, x, top - TABLE_SIZE - number * _LEADING, whole, TABLE_SIZE)
            self.canv.drawText(text)

    def _draw_formula(self, line: Line, setting: Setting, top: float) -> None:
        """Draw a formula that says in one line what its fractions and roots show."""
        canvas = self.canv
        base = top - max(setting.rise, _RISE - 2) - _AIR / 2
        canvas.saveState()
        canvas.translate(self.left, base)
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
