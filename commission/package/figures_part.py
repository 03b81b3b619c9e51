"""The figures of a page, after its tables; one whose readings are wanting says so in a line."""

from __future__ import annotations

from reportlab.platypus import Flowable

from commission.definitions.model import Section
from commission.drawing.figure import drawn
from commission.drawing.readings import Wanting
from commission.language import spoken
from commission.package.drawing_flowable import DrawingFlowable
from commission.package.flowables import Heading, kept, named
from commission.package.turnover import Turnover
from commission.validation.results import SectionState, UnitResults


def figure_flowables(turnover: Turnover, results: UnitResults, section: Section) -> list[Flowable]:
    """Return a heading, a drawing and its source for each figure of a page.

    A page on which nothing was recorded has none: what it lacks is said there already.
    """
    if results.state(section) is SectionState.EMPTY:
        return []
    flowables: list[Flowable] = []
    for figure, index in results.figures(section):
        made = drawn(results, figure, index, turnover.width)
        if isinstance(made, Wanting):
            flowables.append(named(f"{made.title}:", made.sentence))
            continue
        flowables += kept(turnover.width, Heading(made.title, 3), DrawingFlowable(made))
        if figure.source:
            flowables.append(named(spoken("Drawn from:"), f"{figure.source}."))
    return flowables
