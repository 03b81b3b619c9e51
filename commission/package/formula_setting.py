"""A shape of a formula given its size: where each piece of text and each stroke stands."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from commission.package.formula_shape import (
    Bracketed,
    Fraction,
    Glyphs,
    Power,
    Root,
    Row,
    Shape,
    is_tall,
)
from commission.package.look import REGULAR
from commission.package.typesetting import Run, runs_of, set_runs, width_of

# As shares of the size of the text.
_RISE, _DROP, _AXIS = 0.76, 0.24, 0.30
_GAP, _OVERHANG = 0.21, 0.18
_SMALLER, _SMALLEST = 0.9, 5.6
_RAISED, _EXPONENT = 0.42, 0.74


@dataclass(slots=True)
class Setting:
    """A shape with measures in points from the left end of its base line.

    `texts` are (x, y, runs, size); `lines` are polylines; `curves` are the brackets, each
    (x of its ends, x of its bow, bottom, top).
    """

    width: float
    rise: float
    drop: float
    texts: list[tuple[float, float, list[Run], float]] = field(default_factory=list)
    lines: list[list[tuple[float, float]]] = field(default_factory=list)
    curves: list[tuple[float, float, float, float]] = field(default_factory=list)

    @property
    def height(self) -> float:
        """The height from the lowest to the highest point."""
        return self.rise + self.drop

    def take(self, other: Setting, x: float, y: float = 0.0) -> None:
        """Put another setting's pieces into this one, its base line's left end at (x, y)."""
        self.texts += [(x + a, y + b, runs, size) for a, b, runs, size in other.texts]
        self.lines += [[(x + a, y + b) for a, b in line] for line in other.lines]
        self.curves += [(x + a, x + b, y + c, y + d) for a, b, c, d in other.curves]
        self.width = max(self.width, x + other.width)
        self.rise = max(self.rise, y + other.rise)
        self.drop = max(self.drop, other.drop - y)


def setting_of(shape: Shape, size: float) -> Setting:
    """Return a shape set at a size of text."""
    match shape:
        case Glyphs(text):
            runs = runs_of(text)
            wide = sum(width_of(run.text, REGULAR, run.size(size)) for run in runs)
            return Setting(wide, _RISE * size, _DROP * size, [(0.0, 0.0, runs, size)])
        case Row(parts):
            return _row([setting_of(part, size) for part in parts])
        case Fraction(top, bottom):
            smaller = max(size * _SMALLER, _SMALLEST)
            return _fraction(setting_of(top, smaller), setting_of(bottom, smaller), size)
        case Root(inner):
            return _root(setting_of(inner, size), size)
        case Power(base, exponent):
            raised = setting_of(exponent, max(size * _EXPONENT, _SMALLEST))
            return _power(setting_of(base, size), raised, size)
        case Bracketed(inner):
            held = setting_of(inner, size)
            return _curved(held, size) if is_tall(inner) else _row(_plain_brackets(held, size))


def draw_setting(canvas: Any, setting: Setting, x: float, y: float) -> None:
    """Draw a setting with its base line's left end at (x, y), in the ink that is set."""
    text = canvas.beginText()
    for a, b, runs, size in setting.texts:
        text.setFont(REGULAR, size)
        set_runs(text, x + a, y + b, runs, size)
    canvas.drawText(text)
    if not setting.lines and not setting.curves:
        return
    path = canvas.beginPath()
    for (a, b), *others in setting.lines:
        path.moveTo(x + a, y + b)
        for c, d in others:
            path.lineTo(x + c, y + d)
    for ends, bow, low, high in setting.curves:
        path.moveTo(x + ends, y + high)
        path.curveTo(x + bow, y + high - 3, x + bow, y + low + 3, x + ends, y + low)
    canvas.drawPath(path, stroke=1, fill=0)


def _row(parts: list[Setting]) -> Setting:
    whole = Setting(0.0, 0.0, 0.0)
    for part in parts:
        whole.take(part, whole.width)
    return whole


def _plain_brackets(inner: Setting, size: float) -> list[Setting]:
    return [setting_of(Glyphs("("), size), inner, setting_of(Glyphs(")"), size)]


def _curved(inner: Setting, size: float) -> Setting:
    """Return a tall shape between brackets drawn to its height."""
    wide = 0.45 * size
    whole = Setting(2 * wide + inner.width, inner.rise, inner.drop)
    whole.take(inner, wide)
    for ends, bow in ((wide - 1, 0.4), (wide + inner.width + 1, 2 * wide + inner.width - 0.4)):
        whole.curves.append((ends, bow, -inner.drop, inner.rise))
    return whole


def _fraction(top: Setting, bottom: Setting, size: float) -> Setting:
    gap, over, axis = _GAP * size, _OVERHANG * size, _AXIS * size
    bar = max(top.width, bottom.width) + 2 * over
    left = 0.1 * size
    whole = Setting(bar + 2 * left, 0.0, 0.0)
    whole.take(top, left + (bar - top.width) / 2, axis + gap + top.drop)
    whole.take(bottom, left + (bar - bottom.width) / 2, axis - gap - bottom.rise)
    whole.lines.append([(left, axis), (left + bar, axis)])
    return whole


def _root(inner: Setting, size: float) -> Setting:
    lead, over = 0.62 * size, 0.16 * size
    whole = Setting(lead + inner.width + over, inner.rise + over, inner.drop)
    whole.take(inner, lead)
    foot, top = -inner.drop + 0.8, inner.rise + over - 0.6
    knee = foot + 0.42 * (top - foot)
    whole.lines.append(
        [
            (0.08 * size, knee - 0.6),
            (0.2 * size, knee),
            (0.36 * size, foot),
            (lead - 0.05 * size, top),
            (lead + inner.width + over / 2, top),
        ]
    )
    return whole


def _power(base: Setting, exponent: Setting, size: float) -> Setting:
    whole = Setting(0.0, 0.0, 0.0)
    whole.take(base, 0.0)
    lift = max(_RAISED * size, base.rise - 0.5 * exponent.rise)
    whole.take(exponent, base.width + 0.04 * size, lift)
    return whole
