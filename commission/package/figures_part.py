"""The figures of a page, after its tables; one whose readings are wanting says so in a line."""

from __future__ import annotations

from collections.abc import Sequence

from reportlab.platypus import Flowable

from commission.definitions.model import Figure, FigureKind, Section
from commission.drawing.figure import drawn
from commission.drawing.readings import Wanting
from commission.language import spoken
from commission.package.abreast import Abreast
from commission.package.drawing_flowable import DrawingFlowable
from commission.package.flowables import Heading, kept, named
from commission.package.turnover import Turnover
from commission.validation.results import SectionState, UnitResults

_IN_WHOLE_WIDTH = (FigureKind.UNIT,)
_MOST_HEIGHT = 360.0  # points, of remarks beside a figure: half a page
LAID_FOR = 300.0  # points: the least a drawing is made for; scaled to half of the page's width
_MOST_SMALL = 320.0  # points: what is laid out wider would be too small to read in half


def figure_stacks(
    turnover: Turnover, results: UnitResults, section: Section
) -> list[list[Flowable]]:
    """Return for each figure of a page its heading, drawing and source, or what it lacks.

    A page on which nothing was recorded has none: what it lacks is said there already.
    """
    if results.state(section) is SectionState.EMPTY:
        return []
    return [_stack(turnover, results, figure, index) for figure, index in results.figures(section)]


def _stack(
    turnover: Turnover, results: UnitResults, figure: Figure, index: tuple[int, ...]
) -> list[Flowable]:
    width = turnover.width if figure.kind in _IN_WHOLE_WIDTH else LAID_FOR
    made = drawn(results, figure, index, width)
    if isinstance(made, Wanting):
        return [named(f"{made.title}:", made.sentence)]
    stack: list[Flowable] = [Heading(made.title, 3), DrawingFlowable(made)]
    if figure.source:
        stack.append(named(spoken("Drawn from:"), f"{figure.source}."))
    return stack


def figures_beside(
    width: float, stacks: Sequence[list[Flowable]], remarks: Sequence[Flowable]
) -> list[Flowable]:
    """Return remarks and, after them in reading, figures, each with its heading before it.

    Small figures stand two abreast; one that is left alone stands beside the remarks.
    """
    small = [stack for stack in stacks if _is_small(stack)]
    large = [stack for stack in stacks if not _is_small(stack)]
    flowables: list[Flowable] = list(remarks)
    if len(small) % 2 and remarks:
        beside = Abreast([remarks, small[0]])
        if beside.wrap(width, 0)[1] < _MOST_HEIGHT:
            flowables = [beside]
            del small[0]
    for stack in large:
        flowables += _kept(width, stack)
    for first in range(0, len(small), 2):
        pair = small[first : first + 2]
        flowables += [Abreast(pair)] if len(pair) == 2 else _kept(width, pair[0])
    return flowables


def _is_small(stack: Sequence[Flowable]) -> bool:
    return any(
        isinstance(flowable, DrawingFlowable) and flowable.drawing.width <= _MOST_SMALL
        for flowable in stack
    )


def _kept(width: float, stack: list[Flowable]) -> list[Flowable]:
    if len(stack) < 2:
        return stack
    return [*kept(width, *stack[:2]), *stack[2:]]
