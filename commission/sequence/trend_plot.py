"""A log drawn: calls as bands, runs as lanes, measurements as lines, what failed marked.

Plain shapes of `commission.drawing`; the window and the package draw the same ones.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import timedelta

import numpy as np

from commission.drawing.axes import (
    ROOM_BELOW,
    Axis,
    LegendEntry,
    Plot,
    Scale,
    Tick,
    legend,
    nice_ends,
    nice_ticks,
    room_beside,
)
from commission.drawing.lettering import label, wrapped
from commission.drawing.marks import LOOKS
from commission.drawing.shapes import (
    COOL,
    DOUBT,
    FAIL,
    INK,
    QUIET,
    TEXT_SIZE,
    TINT,
    WARM,
    Box,
    Clip,
    Drawing,
    Paint,
    Shape,
    rectangle,
)
from commission.drawing.timeline import LANE, Lane, Span, ground_of, lane_shapes, names_room
from commission.language import spoken, to_say
from commission.sequence.configuration import Configuration
from commission.sequence.findings import Finding
from commission.sequence.trend_log import TrendLog, clock_time
from commission.sequence.trend_signals import SIGNALS
from commission.sequence.trend_view import (
    Pair,
    View,
    about,
    breaks_shown,
    columns_of,
    curve_shown,
    runs_shown,
    stretches_shown,
    whole,
)
from commission.units import convert, shown_unit
from commission.validation.verdict import Outcome

_PANEL, _GAP, _EDGE = 84.0, 12.0, 8.0
_CALLS = ("call_fan", "call_cool_", "call_heat_")
_FOUND = to_say("Not as wanted")
_DOUBTFUL = to_say("Cannot be told")
_MOST_LANES, _MOST_CURVES = 14, 6
_STEPS_S = (
    1, 2, 5, 10, 15, 30, 60, 120, 300, 600, 900, 1_800, 3_600, 7_200, 10_800, 21_600, 43_200,
    86_400, 172_800, 604_800, 1_209_600, 2_592_000,
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class _Page:
    """What a drawing is made of before it is laid out."""

    view: View
    states: Sequence[str]
    measured: Sequence[str]
    found: tuple[str, Sequence[Pair]] = ("", ())
    width: float = 516.0
    unit_system: str = "IP"
    title: str = ""
    description: str = ""
    shapes: list[Shape] = field(default_factory=list)

    @property
    def columns(self) -> int:
        """Columns of pixels at two a point."""
        return max(int(self.width * 2), 200)


def finding_drawing(
    log: TrendLog, finding: Finding, configuration: Configuration, width: float,
    unit_system: str = "IP",
) -> Drawing:  # fmt: skip
    """Return the worst stretch of a finding with the calls and the signals it rests on."""
    states, measured = columns_of(finding, log, configuration)
    view = about(log, finding)
    shown = list(dict.fromkeys([*_calls(log), *states]))[:_MOST_LANES]
    doubtful = finding.outcome is Outcome.INCONCLUSIVE
    columns = max(int(width * 2), 200)
    found = (spoken(_DOUBTFUL if doubtful else _FOUND), stretches_shown(view, finding, columns))
    lines = log.lines
    said = spoken(
        "{title}: {sentence} Shown from {begin} to {end}, lines {first} to "
        "{last} of the file; lanes: {lanes}; curves: {curves}.",
        title=finding.title,
        sentence=finding.sentence,
        begin=log.clock(view.first),
        end=log.clock(view.last),
        first=lines[view.first],
        last=lines[view.last],
        lanes=_listed(shown),
        curves=_listed(measured),
    )
    curves = measured[:_MOST_CURVES]
    return _drawn(_Page(view, shown, curves, found, width, unit_system, finding.title, said))


def overview_drawing(
    log: TrendLog, findings: Sequence[Finding], width: float, unit_system: str = "IP"
) -> Drawing:
    """Return the whole log: calls and parts that ran, temperatures, and where rules failed."""
    view = whole(log)
    failed = [f for f in findings if f.outcome is Outcome.FAIL and f.rows]
    columns = max(int(width * 2), 200)
    stretches = sorted(pair for f in failed for pair in stretches_shown(view, f, columns))
    states = [name for name in _ran(log) if name != "call_fan"][:_MOST_LANES]
    measured = [name for name in log.columns if SIGNALS[name].unit == "°F"][:_MOST_CURVES]
    said = spoken(
        "The whole log from {begin} to {end}; lanes: {lanes}; curves: {curves}; "
        "{count} rules failed.",
        begin=log.clock(0),
        end=log.clock(len(log.moments) - 1),
        lanes=_listed(states),
        curves=_listed(measured),
        count=len(failed),
    )
    found = (spoken(_FOUND), stretches)
    return _drawn(_Page(view, states, measured, found, width, unit_system, spoken("The log"), said))


def _calls(log: TrendLog) -> list[str]:
    """Return the calls of the log that are ever on."""
    return [n for n in log.columns if n.startswith(_CALLS) and (log.columns[n] == 2).any()]


def _ran(log: TrendLog) -> list[str]:
    return [
        name
        for name, column in log.columns.items()
        if column.dtype == np.int8 and name != "occupied" and (column == 2).any()
    ]


def _listed(names: Sequence[str]) -> str:
    return ", ".join(SIGNALS[name].label for name in names) or spoken("none")


def _drawn(page: _Page) -> Drawing:
    """Lay out lanes above panels above the clock, and return the drawing."""
    lanes = _lanes(page)
    groups = _groups(page.measured)
    curves = {name: _curve(page, name) for name in page.measured}
    plots = [
        _axis_of(shown_unit(unit, page.unit_system), [curves[name] for name in names])
        for unit, names in groups
    ]
    left = max([names_room(lanes), *(room_beside(axis.ticks, axis.name) for axis in plots), 30.0])
    # The last clock word hangs over the right edge by half its width.
    scale = Scale(page.view.begin, page.view.end, left + 2.0, page.width - 22.0)
    clock = _clock_axis(page.view, scale)
    y = 4.0
    if lanes:
        page.shapes.append(ground_of(lanes, scale, y))
        page.shapes.extend(_bands(page, scale, y, y + len(lanes) * LANE))
        page.shapes.extend(lane_shapes(lanes, scale, y))
        page.shapes.append(_frame(lanes, scale, y))
        y += len(lanes) * LANE + _GAP
    for axis, (_, names) in zip(plots, groups, strict=True):
        y = _panel(page, axis, names, curves, clock, y)
    y = _clock(page, clock, y - _GAP)
    return Drawing(page.width, y, tuple(page.shapes), page.title, page.description)


def _frame(lanes: Sequence[Lane], scale: Scale, top: float) -> Shape:
    return rectangle(Box(scale.start, top, scale.end - scale.start, len(lanes) * LANE), INK, 0.7)


def _lanes(page: _Page) -> list[Lane]:
    name, stretches = page.found
    lanes = [Lane(SIGNALS[state].label, _spans(page, state)) for state in page.states]
    if name and stretches:
        paint = DOUBT if name == _DOUBTFUL else FAIL
        lanes.append(Lane(name, tuple(Span(a, b, paint=paint) for a, b in stretches)))
    return lanes


def _spans(page: _Page, state: str) -> tuple[Span, ...]:
    paint = _paint_of(state)
    return tuple(Span(a, b, paint=paint) for a, b in runs_shown(page.view, state, page.columns))


def _paint_of(state: str) -> Paint:
    if state.startswith(("call_cool", "compressor", "condenser_fan")):
        return COOL
    hot = ("call_heat", "gas_valve", "flame", "igniter", "electric_heat", "inducer")
    return WARM if state.startswith(hot) else QUIET


def _groups(measured: Sequence[str]) -> list[tuple[str, list[str]]]:
    """Return the measurements by unit, in order of first appearance."""
    groups: dict[str, list[str]] = {}
    for name in measured:
        groups.setdefault(SIGNALS[name].unit or "", []).append(name)
    return list(groups.items())


def _curve(page: _Page, name: str) -> list[list[Pair]]:
    """Return a measurement's lines, in the unit it is shown in."""
    own = SIGNALS[name].unit or ""
    shown = shown_unit(own, page.unit_system)
    pieces = curve_shown(page.view, name, page.columns)
    if shown == own:
        return pieces
    return [[(at, convert(value, own, shown)) for at, value in piece] for piece in pieces]


def _axis_of(unit: str, curves: Sequence[Sequence[Sequence[Pair]]]) -> Axis:
    values = [value for curve in curves for piece in curve for _, value in piece]
    least, greatest = min(values, default=0.0), max(values, default=1.0)
    if unit == "%":  # a damper that does not move is seen against its whole stroke
        least, greatest = min(least, 0.0), max(greatest, 100.0)
    low, high = nice_ends(least, greatest, 5)
    return Axis(Scale(low, high, 0.0, 1.0), nice_ticks(low, high, 5), unit)


def _panel(
    page: _Page, axis: Axis, names: Sequence[str],
    curves: dict[str, list[list[Pair]]], clock: Axis, top: float,
) -> float:  # fmt: skip
    """Add a panel of curves of one unit; return where the next may begin."""
    entries = [
        LegendEntry(LOOKS[number % len(LOOKS)], SIGNALS[name].label, marked=False)
        for number, name in enumerate(names)
    ]
    room = clock.scale.end - clock.scale.start
    shapes, height = legend(entries, clock.scale.start, top, room)
    box = Box(clock.scale.start, top + height + 2.0, room, _PANEL)
    low, high = axis.scale.low, axis.scale.high
    plot = Plot(
        box,
        Axis(clock.scale, ()),
        Axis(Scale(low, high, box.bottom, box.top), axis.ticks, axis.name),
    )
    page.shapes.extend(_bands(page, clock.scale, box.top, box.bottom))
    page.shapes.extend(plot.grid())
    for entry, name in zip(entries, names, strict=True):
        look = entry.look
        page.shapes.extend(plot.curve(c, look.paint, look.width, look.dash) for c in curves[name])
    page.shapes.extend(plot.axes())
    page.shapes.extend(shapes)
    return box.bottom + _GAP


def _bands(page: _Page, scale: Scale, top: float, bottom: float) -> list[Shape]:
    """Return the calls as bands, gaps as blanks, what failed on top, over one area."""
    bands: list[tuple[Pair, Paint]] = []
    for prefix, paint in (("call_cool_1", COOL.faint(0.1)), ("call_heat_1", WARM.faint(0.1))):
        if prefix in page.states:
            bands += [(pair, paint) for pair in runs_shown(page.view, prefix, page.columns)]
    bands += [(pair, TINT) for pair in breaks_shown(page.view)]
    found = DOUBT if page.found[0] == _DOUBTFUL else FAIL
    bands += [(pair, found.faint(0.22)) for pair in page.found[1]]
    area = Box(scale.start, top, scale.end - scale.start, bottom - top)
    return [Clip(area, tuple(_band(pair, scale, area, paint) for pair, paint in bands))]


def _band(pair: Pair, scale: Scale, area: Box, paint: Paint) -> Shape:
    left = scale.at(pair[0])
    width = max(scale.at(pair[1]) - left, 0.6)
    return rectangle(Box(left, area.top, width, area.height), None, fill=paint)


def _clock(page: _Page, clock: Axis, top: float) -> float:
    """Add the clock below; return the height of the whole drawing."""
    plot = Plot(
        Box(clock.scale.start, top, clock.scale.end - clock.scale.start, 0.0),
        clock,
        Axis(Scale(0.0, 1.0, top, top - 1.0), ()),
    )
    page.shapes.extend(plot.axes())
    y = top + ROOM_BELOW + 2.0
    for line in _key(page):
        for words in wrapped(line, page.width - 2 * _EDGE):
            page.shapes.append(label(_EDGE, y + TEXT_SIZE / 2, words, paint=QUIET))
            y += TEXT_SIZE + 3.5
    return y + 4.0


def _key(page: _Page) -> list[str]:
    """Return in words what the shaded bands are; colour is never told alone."""
    parts = []
    if {"call_cool_1", "call_heat_1"} & set(page.states):
        parts.append(spoken("faint bands: cooling or heating called (the lanes above tell which)"))
    if page.found[1]:
        parts.append(
            spoken("stronger bands: {found} (lowest lane)", found=spoken(page.found[0]).lower())
        )
    if breaks_shown(page.view):
        parts.append(spoken("grey bands: no samples"))
    text = "; ".join(parts)
    return [f"{text[:1].upper()}{text[1:]}."] if text else []


def _clock_axis(view: View, scale: Scale) -> Axis:
    """Return an axis with round times of the log's own clock."""
    span = view.end - view.begin
    most = max(int((scale.end - scale.start) / 62.0), 2)
    step = next((s for s in _STEPS_S if span / s <= most), _STEPS_S[-1])
    zone = view.log.zone
    begins = clock_time(view.begin, zone)
    midnight = begins.replace(hour=0, minute=0, second=0)
    since = (begins - midnight).total_seconds()
    first = view.begin + (-since) % step
    moments = np.arange(first, view.end + 0.5, step).tolist()
    ends = clock_time(view.end, zone)
    form = _clock_form(step, begins.date() != ends.date())
    ticks = tuple(Tick(moment, clock_time(moment, zone).strftime(form)) for moment in moments)
    days = f"{begins:%Y-%m-%d}"
    if begins.date() != ends.date():
        days = spoken("{low} to {high}", low=days, high=f"{ends:%Y-%m-%d}")
    return Axis(scale, ticks, f"{days}, {zone or spoken('clock of the file')}")


def _clock_form(step: float, many_days: bool) -> str:
    if step >= timedelta(days=1).total_seconds():
        return "%m-%d"
    if step < 60:
        return "%H:%M:%S"
    return "%m-%d %H:%M" if many_days else "%H:%M"
