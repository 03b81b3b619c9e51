"""A test drawn from its marked times: one lane a thing, one panel a step, each in seconds.

Panels stand side by side since the time between two calls is not measured. Nothing is drawn
of a time that was not marked.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from commission.drawing.axes import Scale, nice_ticks
from commission.drawing.lettering import label, width_of
from commission.drawing.shapes import (
    ACCENT,
    GRID,
    INK,
    QUIET,
    TEXT_SIZE,
    WARM,
    Anchor,
    Drawing,
    Paint,
    Shape,
    line,
)
from commission.drawing.timeline import (
    LANE,
    Lane,
    Moment,
    Span,
    ground_of,
    lane_shapes,
    names_room,
)
from commission.language import spoken
from commission.sequence.functional_model import CALL, FunctionalTest, LaneRow
from commission.units import convert
from commission.validation.results import UnitResults

_TOP = 16.0
_BELOW = 26.0
_BETWEEN = 16.0
_EDGE = 8.0
_HEADROOM = 1.12
Place = tuple[int, float]
"""Which panel, and how many seconds after its call."""


@dataclass(frozen=True, slots=True)
class Marked:
    """The marked events of a test: name -> panel and seconds; the panels' ends."""

    events: Mapping[str, Place]
    ends: tuple[float, ...]


def marked_events(results: UnitResults, test: FunctionalTest) -> Marked:
    """Return when each event came, counted from its step's call, s.

    An event is left out if its own time, or one it is counted from, was not marked.
    """
    events: dict[str, Place] = {}
    ends = []
    for panel, step in enumerate(test.steps):
        events[step.name] = (panel, 0.0)
        own = {CALL: 0.0}
        for mark in step.marks:
            seconds = _seconds(results, mark.key) if mark.key and mark.is_timed else None
            if seconds is not None and mark.after in own:
                own[mark.name] = own[mark.after] + seconds
                events[mark.name] = (panel, own[mark.name])
        ends.append(max(own.values()))
    return Marked(events, tuple(ends))


def _seconds(results: UnitResults, key: tuple[str, tuple[int, ...]]) -> float | None:
    number = results.value(*key).number
    unit = results.calculation.plan.entries[key[0]].unit
    return None if number is None else convert(number, unit, "s")


def timeline(results: UnitResults, test: FunctionalTest, width: float) -> Drawing | None:
    """Return a test's timeline laid out for `width` points; None while no time is marked."""
    marked = marked_events(results, test)
    panels = [panel for panel, end in enumerate(marked.ends) if end > 0]
    if not test.lanes or not panels:
        return None
    names = [Lane(lane.label) for lane in test.lanes]
    bottom = _TOP + LANE * len(names)
    shapes: list[Shape] = []
    for number, scale in enumerate(_scales(marked, panels, _EDGE + names_room(names), width)):
        panel = panels[number]
        lanes = [
            _lane(lane, lane.label if number == 0 else "", marked, panel) for lane in test.lanes
        ]
        heading = test.steps[panel].call or test.steps[panel].name
        shapes += [label(scale.start, _TOP - 8.0, heading, paint=QUIET)]
        shapes += [ground_of(lanes, scale, _TOP), *_ticks(scale, marked.ends[panel], bottom)]
        shapes += lane_shapes(lanes, scale, _TOP)
    shapes.append(
        label(width - _EDGE, bottom + 18.0, spoken("s after the call"), Anchor.END, paint=QUIET)
    )
    title = spoken("{title}: as marked", title=test.title)
    return Drawing(width, bottom + _BELOW, tuple(shapes), title, _told(results, test, marked))


def _scales(marked: Marked, panels: Sequence[int], left: float, width: float) -> list[Scale]:
    """Share the width among the panels by their lengths; none narrower than its heading."""
    room = width - left - _EDGE - _BETWEEN * (len(panels) - 1)
    total = sum(marked.ends[panel] for panel in panels)
    least = 0.28
    shares = [max(marked.ends[panel] / total, least) for panel in panels]
    scales = []
    for panel, share in zip(panels, shares, strict=True):
        right = left + room * share / sum(shares)
        scales.append(Scale(0.0, marked.ends[panel] * _HEADROOM, left, right))
        left = right + _BETWEEN
    return scales


def _ticks(scale: Scale, end: float, bottom: float) -> list[Shape]:
    shapes: list[Shape] = []
    most = max(2, int((scale.end - scale.start) / 30.0))
    for tick in nice_ticks(0.0, end * _HEADROOM, most):
        x = scale.at(tick.value)
        if not scale.holds(tick.value):
            continue
        shapes.append(line(x, _TOP, x, bottom + 3.0, GRID, 0.4))
        shapes.append(label(x, bottom + 8.0, tick.words, Anchor.MIDDLE, TEXT_SIZE, INK))
    return shapes


def _lane(row: LaneRow, name: str, marked: Marked, panel: int) -> Lane:
    drawn: list[Span] = []
    moments: list[Moment] = []
    for span in row.spans:
        on, off = _first(marked, span.on), _first(marked, span.off)
        if on is not None and off is not None and on <= off and on[0] <= panel <= off[0]:
            start = on[1] if on[0] == panel else 0.0
            end = off[1] if off[0] == panel else marked.ends[panel] * _HEADROOM
            if end > start:
                drawn.append(Span(start, end, _length(on, off), _paint(row.name)))
        elif on is not None and off is None and on[0] == panel:
            moments.append(Moment(on[1], spoken("on at {on:.1f} s", on=on[1])))
        elif off is not None and on is None and off[0] == panel:
            moments.append(Moment(off[1], spoken("off at {off:.1f} s", off=off[1])))
    return Lane(name, tuple(drawn), tuple(moments))


def _paint(name: str) -> Paint:
    return WARM if name == "Flame" else ACCENT


def _first(marked: Marked, names: Sequence[str]) -> Place | None:
    return next((marked.events[name] for name in names if name in marked.events), None)


def _length(on: Place, off: Place) -> str:
    return f"{off[1] - on[1]:.1f} s" if on[0] == off[0] else ""


def _told(results: UnitResults, test: FunctionalTest, marked: Marked) -> str:
    """Return in words what the drawing shows, event by event."""
    told = []
    for step in test.steps:
        events = [
            f"{mark.event.lower()} at {marked.events[mark.name][1]:.1f} s"
            for mark in step.marks
            if mark.is_timed and mark.name in marked.events
        ]
        if events:
            told.append(
                spoken("{call}: {events} after the call.", call=step.call, events=", ".join(events))
            )
    missing = [
        mark.event.lower()
        for mark in test.marks
        if mark.is_timed and mark.key is not None and mark.name not in marked.events
    ]
    if missing:
        told.append(spoken("Not marked: {missing}.", missing=", ".join(missing)))
    return f"{results.tag}. " * bool(results.tag) + " ".join(told)


def least_width(test: FunctionalTest) -> float:
    """Return the least width, points, at which the lanes' names leave room for the panels."""
    return 2.2 * max((width_of(lane.label) for lane in test.lanes), default=100.0)
