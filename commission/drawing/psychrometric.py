"""The psychrometric chart at the site's barometer, with the states and processes read."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from commission.definitions.model import FigurePoint
from commission.drawing.axes import (
    ROOM_BELOW,
    Axis,
    Plot,
    Scale,
    Tick,
    nice_ends,
    nice_ticks,
    room_beside,
)
from commission.drawing.labels import Room, note, numbered_list, tags
from commission.drawing.lettering import label
from commission.drawing.marks import arrow_head
from commission.drawing.readings import FigureReadings, Wanting
from commission.drawing.shapes import (
    ACCENT,
    COOL,
    DOTTED,
    GRID,
    INK,
    QUIET,
    SOLID,
    TEXT_SIZE,
    Anchor,
    Box,
    Clip,
    Drawing,
    Path,
    Shape,
    line,
)
from commission.engineering.moist_air import (
    humidity_ratio_from_relative_humidity,
    humidity_ratio_from_vapor_pressure,
    humidity_ratio_from_wet_bulb,
    saturation_pressure_psia,
)
from commission.errors import CommissionError
from commission.language import spoken

# What the chart can be stretched to; a state outside is said in words, not drawn.
COLDEST_F, WARMEST_F = -20.0, 130.0
MOST_HUMID = 0.036
_USUAL_F, _USUAL_RATIO = (40.0, 100.0), 0.016
_RELATIVE = (20, 40, 60, 80)


@dataclass(frozen=True, slots=True)
class AirState:
    """One state read: °F dry bulb and lb/lb."""

    point: FigurePoint
    dry_bulb_f: float
    humidity_ratio: float

    @property
    def is_on_chart(self) -> bool:
        """Whether the chart reaches so far."""
        return COLDEST_F <= self.dry_bulb_f <= WARMEST_F and 0 <= self.humidity_ratio <= MOST_HUMID


def psychrometric(readings: FigureReadings, width: float) -> Drawing | Wanting:
    """Return the chart; points without all their readings are named below it."""
    missing = readings.wanting(readings.required())
    if missing is not None:
        return missing
    barometer = readings.given("barometer")
    asked = [point for point in readings.figure.points if readings.is_asked(point)]
    found = {point.name: state_of(readings, point, barometer) for point in asked}
    states = [state for state in found.values() if state is not None]
    if not states:
        return readings.refused(
            dict.fromkeys(label for p in asked for label in readings.unread(p.uses.values()))
        )
    drawn = [state for state in states if state.is_on_chart]
    chart = _Chart(readings, width, barometer, drawn)
    lines = [_state_words(readings, state) for state in drawn]
    remarks = [
        spoken("Off the chart: {state}.", state=_state_words(readings, state))
        for state in states
        if not state.is_on_chart
    ]
    unread = [point.label for point in asked if found[point.name] is None]
    if unread:
        remarks.append(spoken("Not read yet: {states}.", states=", ".join(unread)))
    return _below(chart, readings, lines, remarks)


def _below(
    chart: _Chart, readings: FigureReadings, lines: Sequence[str], remarks: Sequence[str]
) -> Drawing:
    """Set the list of states and the remarks below the chart."""
    shapes = list(chart.shapes())
    left, room = 8.0, chart.width - 16.0
    listed, high = numbered_list(lines, left, chart.bottom, room)
    top = chart.bottom + high
    shapes += listed
    for remark in remarks:
        words, high = note(remark, left, top, room)
        shapes += words
        top += high
    place = spoken("Psychrometric chart at {pressure}.", pressure=readings.shown("barometer"))
    description = " ".join(
        [place, *(f"{number}: {words}." for number, words in enumerate(lines, 1)), *remarks]
    )
    return Drawing(chart.width, top + 4.0, tuple(shapes), readings.title, description)


def state_of(
    readings: FigureReadings, point: FigurePoint, barometer_psia: float
) -> AirState | None:
    """Return the state of a point, or None while a reading of it is wanting."""
    dry = readings.point_number(point, "dry_bulb")
    wet = readings.point_number(point, "wet_bulb")
    relative = readings.point_number(point, "relative_humidity")
    ratio = readings.point_number(point, "humidity_ratio")
    if dry is None:
        return None
    if wet is not None:
        ratio = humidity_ratio_from_wet_bulb(dry, wet, barometer_psia)
    elif relative is not None:
        ratio = humidity_ratio_from_relative_humidity(dry, relative, barometer_psia)
    return None if ratio is None else AirState(point, dry, ratio)


def _state_words(readings: FigureReadings, state: AirState) -> str:
    dry = readings.words(state.dry_bulb_f, "°F", 1)
    moisture = readings.words(state.humidity_ratio * 7000, "gr/lb", 1)
    return spoken(
        "{label}: {dry} dry bulb, {moisture}",
        label=state.point.label,
        dry=dry,
        moisture=moisture,
    )


class _Chart:
    """The chart's frame and curves for what is to be shown."""

    def __init__(
        self,
        readings: FigureReadings,
        width: float,
        barometer_psia: float,
        states: Sequence[AirState],
    ) -> None:
        self.width, self.pressure, self.states = width, barometer_psia, states
        self.readings = readings
        self.dry, self.moisture = readings.measure("°F"), readings.measure("gr/lb")
        temperatures = [state.dry_bulb_f for state in states]
        self.low_f = max(COLDEST_F, min([_USUAL_F[0], *(t - 4 for t in temperatures)]))
        self.high_f = min(WARMEST_F, max([_USUAL_F[1], *(t + 4 for t in temperatures)]))
        wettest = max((state.humidity_ratio for state in states), default=0.0)
        self.most = min(MOST_HUMID, max(_USUAL_RATIO, wettest * 1.12))
        self.plot = self._plot()
        self.bottom = self.plot.box.bottom + ROOM_BELOW + 8.0

    def _plot(self) -> Plot:
        x_low, x_high = nice_ends(self.dry.of(self.low_f), self.dry.of(self.high_f), 9)
        y_high = nice_ends(0.0, self.moisture.of(self.most * 7000))[1]
        up = nice_ticks(0.0, y_high)
        humidity = spoken("Humidity ratio, {unit}", unit=self.moisture.shown)
        right = room_beside(up, humidity)
        height = min(250.0, max(170.0, self.width * 0.46))
        box = Box(14.0, 10.0, self.width - 14.0 - right - 2.0, height)
        name = spoken("Dry bulb, {unit}", unit=self.dry.shown)
        return Plot(
            box,
            Axis(Scale(x_low, x_high, box.left, box.right), nice_ticks(x_low, x_high, 9), name),
            Axis(Scale(0.0, y_high, box.bottom, box.top), up, humidity),
        )

    # -- where states lie --------------------------------------------------------------

    def place(self, dry_bulb_f: float, humidity_ratio: float) -> tuple[float, float]:
        """Return where a state lies, points."""
        return self.plot.point(self.dry.of(dry_bulb_f), self.moisture.of(humidity_ratio * 7000))

    def _saturated(self, dry_bulb_f: float) -> float:
        vapor = saturation_pressure_psia(dry_bulb_f)
        return humidity_ratio_from_vapor_pressure(vapor, self.pressure)

    def _ends_f(self) -> tuple[float, float]:
        scale = self.plot.x.scale
        return self.dry.back(scale.low), self.dry.back(scale.high)

    # -- drawing -----------------------------------------------------------------------

    def shapes(self) -> Iterator[Shape]:
        """Yield everything of the chart: curves, axes, processes, states, words on curves."""
        room = Room(self.plot.box)
        places = [self.place(state.dry_bulb_f, state.humidity_ratio) for state in self.states]
        marks = tags(room, places)
        yield from self._grid()
        yield Clip(self.plot.box, tuple(self._curves()))
        yield from self.plot.axes(y_at_right=True)
        yield from self._processes()
        yield from self._curve_words(room)
        yield from marks

    def _grid(self) -> Iterator[Shape]:
        """Yield the ruled lines, each only as far as the saturation curve."""
        box = self.plot.box
        for tick in self.plot.x.ticks:
            f = self.dry.back(tick.value)
            x, top = self.place(f, self._saturated(f))
            yield line(x, box.bottom, x, max(box.top, top), GRID, 0.4)
        for tick in self.plot.y.ticks:
            y = self.plot.y.scale.at(tick.value)
            start = self._dew_x(self.moisture.back(tick.value) / 7000)
            yield line(start, y, box.right, y, GRID, 0.4)

    def _dew_x(self, ratio: float) -> float:
        """Return where the saturation curve crosses a humidity ratio, by bisection."""
        low, high = self._ends_f()
        if self._saturated(low) >= ratio:
            return self.plot.box.left
        for _ in range(40):
            middle = (low + high) / 2
            low, high = (middle, high) if self._saturated(middle) < ratio else (low, middle)
        return self.place(low, ratio)[0]

    def _curves(self) -> Iterator[Shape]:
        low, high = self._ends_f()
        temperatures = [low + (high - low) * n / 80 for n in range(81)]
        for percent in _RELATIVE:
            yield Path(tuple(self._relative(t, percent) for t in temperatures), QUIET, 0.5, DOTTED)
        for wet in self._wet_bulbs():
            yield Path(self._wet_bulb_line(wet), COOL, 0.5, SOLID)
        yield Path(tuple(self._relative(t, 100) for t in temperatures), INK, 1.3)

    def _relative(self, dry_bulb_f: float, percent: float) -> tuple[float, float]:
        vapor = saturation_pressure_psia(dry_bulb_f) * percent / 100
        return self.place(dry_bulb_f, humidity_ratio_from_vapor_pressure(vapor, self.pressure))

    def _wet_bulbs(self) -> list[Tick]:
        low, high = self._ends_f()
        ticks = nice_ticks(self.dry.of(low), self.dry.of(high), 14)
        return [tick for tick in ticks if low < self.dry.back(tick.value) < high]

    def _wet_bulb_line(self, tick: Tick) -> tuple[tuple[float, float], ...]:
        wet = self.dry.back(tick.value)
        points = [self.place(wet, self._saturated(wet))]
        for number in range(1, 60):
            dry = wet + number * 2.0
            try:
                ratio = humidity_ratio_from_wet_bulb(dry, wet, self.pressure)
            except CommissionError:
                break  # drier than dry air: the line has met the axis
            points.append(self.place(dry, ratio))
        return tuple(points)

    def _curve_words(self, room: Room) -> Iterator[Shape]:
        box = self.plot.box
        for tick in self._wet_bulbs():
            wet = self.dry.back(tick.value)
            x, y = self.place(wet, self._saturated(wet))
            if y > box.top:
                place = label(x - 3.0, y - 5.0, tick.words, Anchor.END, TEXT_SIZE, COOL)
            else:
                x = next((x for x, y in self._wet_bulb_line(tick) if y > box.top + 2.0), -9.0)
                place = label(x + 4.0, box.top + 6.0, tick.words, Anchor.START, TEXT_SIZE, COOL)
            yield from room.if_free(place)
        for percent in _RELATIVE:
            yield from self._relative_words(room, percent)
        key = spoken("Wet bulb, {unit}", unit=self.dry.shown)
        yield from room.if_free(label(box.left + 5.0, box.top + 8.0, key, paint=COOL))
        key = spoken("Dotted: relative humidity, %")
        yield from room.if_free(label(box.left + 5.0, box.top + 19.0, key, paint=QUIET))

    def _relative_words(self, room: Room, percent: int) -> Iterator[Shape]:
        """Yield the name of a curve near where it leaves the chart."""
        low, high = self._ends_f()
        for step in range(4, 40):
            x, y = self._relative(high - (high - low) * step / 40, percent)
            if y < self.plot.box.top + 6.0:
                continue
            found = room.if_free(label(x, y - 4.5, f"{percent} %", Anchor.END, TEXT_SIZE, QUIET))
            if found:
                yield from found
                return

    def _processes(self) -> Iterator[Shape]:
        places = {
            state.point.name: self.place(state.dry_bulb_f, state.humidity_ratio)
            for state in self.states
        }
        for process in self.readings.figure.processes:
            if process.start in places and process.end in places:
                (x1, y1), (x2, y2) = places[process.start], places[process.end]
                yield line(x1, y1, x2, y2, ACCENT, 1.6)
                yield from _middle_arrow(x1, y1, x2, y2)


def _middle_arrow(x1: float, y1: float, x2: float, y2: float) -> Iterator[Shape]:
    if math.hypot(x2 - x1, y2 - y1) > 24.0:
        angle = math.degrees(math.atan2(y2 - y1, x2 - x1))
        yield arrow_head(x1 + 0.55 * (x2 - x1), y1 + 0.55 * (y2 - y1), angle, ACCENT, 6.5)
