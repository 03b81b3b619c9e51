"""Flowables of a part looked through, those set side by side too."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from reportlab.platypus import Flowable

from commission.package.abreast import Abreast
from commission.package.drawing_flowable import DrawingFlowable


def all_of(flowables: Iterable[Flowable]) -> Iterator[Flowable]:
    """Yield flowables in the order in which they are read."""
    for flowable in flowables:
        if isinstance(flowable, Abreast):
            for stack in flowable.stacks:
                yield from all_of(stack)
        else:
            yield flowable


def drawings_of(flowables: Iterable[Flowable]) -> list[DrawingFlowable]:
    """Return the drawings among flowables."""
    return [one for one in all_of(flowables) if isinstance(one, DrawingFlowable)]
