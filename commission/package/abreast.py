"""Columns side by side: short works, small figures and small tables share the page's width."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from reportlab.platypus import Flowable

from commission.package.look import STEP
from commission.package.tagging import marked_whole

BETWEEN = 4 * STEP


def half(width: float) -> float:
    """Return the width of either of two columns."""
    return (width - BETWEEN) / 2


class Abreast(Flowable):  # type: ignore[misc]
    """Stacks of flowables side by side, read one stack after the other; never split."""

    marks_itself = True

    def __init__(self, stacks: Sequence[Sequence[Flowable]], columns: int = 2) -> None:
        """Take one stack a column at most, at least one; each needs at least one flowable."""
        super().__init__()
        self.columns = columns
        self.stacks = [list(stack) for stack in stacks]
        self.spaceBefore = max(stack[0].getSpaceBefore() for stack in self.stacks)
        self.spaceAfter = max(stack[-1].getSpaceAfter() for stack in self.stacks)

    def wrap(self, width: float, height: float) -> tuple[float, float]:
        """Measure each stack in its share of the width."""
        count = self.columns
        self.width = width
        self.share = (width - BETWEEN * (count - 1)) / count
        self.heights = [_stacked(stack, self.share) for stack in self.stacks]
        self.height = max(self.heights)
        return width, self.height

    def draw(self) -> None:
        """Draw the stacks from the top down, each as it would stand alone."""
        for number, stack in enumerate(self.stacks):
            x, y = number * (self.share + BETWEEN), self.height
            before = 0.0
            for place, flowable in enumerate(stack):
                y -= max(before, flowable.getSpaceBefore()) if place else 0.0
                y -= flowable.height
                draw_on: Any = flowable.drawOn
                if not getattr(flowable, "marks_itself", False):
                    draw_on = marked_whole(draw_on, flowable)
                draw_on(self.canv, x, y)
                before = flowable.getSpaceAfter()


def _stacked(stack: Sequence[Flowable], width: float) -> float:
    """Return the height of flowables one below the other, as a frame would set them."""
    height, before = 0.0, 0.0
    for place, flowable in enumerate(stack):
        height += max(before, flowable.getSpaceBefore()) if place else 0.0
        flowable.width, flowable.height = flowable.wrap(width, 10_000)
        height += flowable.height
        before = flowable.getSpaceAfter()
    return height
