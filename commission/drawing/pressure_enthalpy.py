"""A circuit's pressure-enthalpy sketch: the dome, and the cycle that the readings make."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from commission.drawing.axes import (
    ROOM_BELOW,
    Axis,
    Plot,
    Scale,
    Tick,
    nice_ends,
    nice_ticks,
    number_words,
    room_beside,
)
from commission.drawing.labels import Room, note, numbered_list, tags
from commission.drawing.lettering import backing, label
from commission.drawing.readings import FigureReadings, Wanting
from commission.drawing.shapes import (
    ACCENT,
    COOL,
    DASHED,
    INK,
    QUIET,
    TINT,
    WARM,
    Anchor,
    Box,
    Clip,
    Drawing,
    Path,
    Point,
    Shape,
    line,
)
from commission.engineering.enthalpy_tables import SUPERHEATS_F, saturated_btulb, vapor_btulb
from commission.engineering.refrigerant import Curve, bubble_f, bubble_psia, dew_f, dew_psia
from commission.engineering.saturation_tables import FIRST_F, LAST_F
from commission.language import spoken

_DOME_STEP_F = 5
_ROUND_PRESSURES = (20, 30, 50, 70, 100, 150, 200, 300, 400, 500, 700, 1000, 1500, 2000, 3000, 5000)


@dataclass(frozen=True, slots=True)
class CycleState:
    """One state of the cycle: Btu/lb and psia."""

    words: str
    enthalpy_btulb: float
    psia: float


@dataclass(frozen=True, slots=True)
class Cycle:
    """The states that the readings give; discharge only if its line was read."""

    suction: CycleState
    discharge: CycleState | None
    liquid: CycleState
    evaporator_inlet: CycleState
    suction_dew: CycleState
    head_dew: CycleState
    head_bubble: CycleState

    @property
    def states(self) -> tuple[CycleState, ...]:
        """The numbered states in the order of the flow."""
        after = (self.discharge,) if self.discharge else ()
        return (self.suction, *after, self.liquid, self.evaporator_inlet)


def pressure_enthalpy(readings: FigureReadings, width: float) -> Drawing | Wanting:
    """Return the sketch; what the readings leave no place for is said instead."""
    missing = readings.wanting(readings.required())
    if missing is not None:
        return missing
    for role, what in (
        ("superheat", spoken("the suction line is colder than its dew temperature")),
        ("subcooling", spoken("the liquid line is warmer than its bubble temperature")),
    ):
        if readings.given(role) < 0:
            sentence = spoken(
                "Not drawn: {what} ({value}), which has no place on the sketch. "
                "Read line and pressure again.",
                what=what,
                value=readings.shown(role),
            )
            return Wanting(readings.title, sentence)
    return _Sketch(readings, width, cycle_of(readings)).drawing()


def cycle_of(readings: FigureReadings) -> Cycle:
    """Return the cycle's states from the readings and the refrigerant's tables.

    Raises:
        CommissionError: A state lies outside the tables.
    """
    name = readings.text("refrigerant")
    suction, head, liquid = (readings.given(role) for role in ("suction", "head", "liquid"))
    entering = saturated_btulb(name, Curve.BUBBLE, readings.given("liquid_line"))
    low, high = dew_f(name, suction), dew_f(name, head)
    return Cycle(
        suction=CycleState(
            spoken("Suction gas"), vapor_btulb(name, low, readings.given("superheat")), suction
        ),
        discharge=_discharge(readings, name, head, high),
        liquid=CycleState(spoken("Liquid line"), entering, liquid),
        evaporator_inlet=CycleState(spoken("After the metering device"), entering, suction),
        suction_dew=CycleState("", saturated_btulb(name, Curve.DEW, low), suction),
        head_dew=CycleState("", saturated_btulb(name, Curve.DEW, high), head),
        head_bubble=CycleState(
            "", saturated_btulb(name, Curve.BUBBLE, bubble_f(name, liquid)), liquid
        ),
    )


def _discharge(readings: FigureReadings, name: str, head: float, dew: float) -> CycleState | None:
    line_f = readings.number("discharge_line")
    if line_f is None or not 0 <= line_f - dew <= SUPERHEATS_F[-1]:
        return None
    return CycleState(spoken("Discharge gas"), vapor_btulb(name, dew, line_f - dew), head)


class _Sketch:
    """The sketch's frame and what is drawn in it."""

    def __init__(self, readings: FigureReadings, width: float, cycle: Cycle) -> None:
        self.readings, self.width, self.cycle = readings, width, cycle
        self.name = readings.text("refrigerant")
        self.heat, self.pressure = readings.measure("Btu/lb"), readings.measure("psia")
        self.plot = self._plot()

    def _plot(self) -> Plot:
        pressures = [self.pressure.of(state.psia) for state in self.cycle.states]
        heats = [self.heat.of(state.enthalpy_btulb) for state in self.cycle.states]
        low, high = min(pressures) * 0.6, max(pressures) * 1.5
        ticks = tuple(
            Tick(float(p), number_words(p, 0)) for p in _ROUND_PRESSURES if low <= p <= high
        )
        spread = max(heats) - min(heats)
        ends = nice_ends(min(heats) - 0.12 * spread, max(heats) + 0.12 * spread, 9)
        name = spoken("Absolute pressure, {unit}", unit=self.pressure.shown)
        left = 4.0 + room_beside(ticks, name)
        box = Box(left, 10.0, self.width - left - 12.0, min(220.0, max(160.0, self.width * 0.42)))
        enthalpy = spoken(
            "Enthalpy, {unit} (0: saturated liquid at {zero})",
            unit=self.heat.shown,
            zero=self.readings.words(-40.0, "°F", 0),
        )
        across = Axis(Scale(*ends, box.left, box.right), nice_ticks(*ends, 9), enthalpy)
        return Plot(box, across, Axis(Scale(low, high, box.bottom, box.top, True), ticks, name))

    def at(self, state: CycleState) -> Point:
        """Return the place of a state, points."""
        return self.plot.point(self.heat.of(state.enthalpy_btulb), self.pressure.of(state.psia))

    def drawing(self) -> Drawing:
        """Return the whole figure."""
        room = Room(self.plot.box)
        marks = tags(room, [self.at(state) for state in self.cycle.states])
        shapes = [
            Clip(self.plot.box, tuple(self._dome())),
            *self.plot.grid(),
            *self.plot.axes(),
            *self._cycle_lines(),
            *self._brackets(room),
            *self._words(room),
            *marks,
        ]
        top = self.plot.box.bottom + ROOM_BELOW + 8.0
        lines = [self._state_words(state) for state in self.cycle.states]
        listed, high = numbered_list(lines, 8.0, top, self.width - 16.0)
        remarks = self._remarks()
        told, more = note(" ".join(remarks), 8.0, top + high, self.width - 16.0, QUIET)
        spoken_lines = [f"{number}: {words}." for number, words in enumerate(lines, 1)]
        opening = spoken("Sketch for {refrigerant}.", refrigerant=self.name)
        description = " ".join([opening, *spoken_lines, *remarks, *self._gaps()])
        height = top + high + more + 4.0
        return Drawing(
            self.width, height, (*shapes, *listed, *told), self.readings.title, description
        )

    def _state_words(self, state: CycleState) -> str:
        return spoken(
            "{state}: {pressure}, {enthalpy}",
            state=state.words,
            pressure=self.readings.words(state.psia, "psia", 1),
            enthalpy=self.readings.words(state.enthalpy_btulb, "Btu/lb", 1),
        )

    def _gaps(self) -> list[str]:
        return [
            spoken("Superheat {value}.", value=self.readings.shown("superheat")),
            spoken("Subcooling {value}.", value=self.readings.shown("subcooling")),
        ]

    def _remarks(self) -> list[str]:
        remarks = [
            spoken(
                "A sketch from the readings, not a property chart: pressure drops are left out "
                "and the liquid is taken as saturated at its temperature."
            )
        ]
        if self.cycle.discharge is None:
            remarks.append(
                spoken("Dashed: the discharge line was not read, or has no place in the tables.")
            )
        return remarks

    # -- what is drawn ------------------------------------------------------------------

    def _dome(self) -> Iterator[Shape]:
        temperatures = [float(t) for t in range(FIRST_F, LAST_F + 1, _DOME_STEP_F)]
        wet, dry = [], []
        for t in temperatures:
            liquid = CycleState(
                "", saturated_btulb(self.name, Curve.BUBBLE, t), bubble_psia(self.name, t)
            )
            vapor = CycleState("", saturated_btulb(self.name, Curve.DEW, t), dew_psia(self.name, t))
            wet.append(self.at(liquid))
            dry.append(self.at(vapor))
        yield Path((*wet, *reversed(dry)), None, fill=TINT, closed=True)
        yield Path(tuple(wet), INK, 1.2)
        yield Path(tuple(dry), INK, 1.2)

    def _cycle_lines(self) -> Iterator[Shape]:
        c = self.cycle
        gas = self.at(c.suction)
        head_dew, bubble, liquid = self.at(c.head_dew), self.at(c.head_bubble), self.at(c.liquid)
        inlet, dew = self.at(c.evaporator_inlet), self.at(c.suction_dew)
        if c.discharge is not None:
            yield Path((gas, self.at(c.discharge)), ACCENT, 1.8)
            yield Path((self.at(c.discharge), head_dew, bubble, liquid), WARM, 1.8)
        else:
            yield Path((gas, head_dew), ACCENT, 1.4, DASHED)
            yield Path((head_dew, bubble, liquid), WARM, 1.8)
        yield Path((liquid, inlet), INK, 1.4)
        yield Path((inlet, dew, gas), COOL, 1.8)

    def _brackets(self, room: Room) -> Iterator[Shape]:
        c, r = self.cycle, self.readings
        yield from self._bracket(
            room, self.at(c.suction_dew), self.at(c.suction), 1.0,
            spoken("superheat {value}", value=r.shown("superheat")),
        )  # fmt: skip
        yield from self._bracket(
            room, self.at(c.liquid), self.at(c.head_bubble), -1.0,
            spoken("subcooling {value}", value=r.shown("subcooling")),
        )  # fmt: skip

    def _bracket(
        self, room: Room, start: Point, end: Point, down: float, words: str
    ) -> Iterator[Shape]:
        """Yield a bracket below (down = 1) or above a piece of the cycle, with its words."""
        y = start[1] + 10.0 * down
        for x in (start[0], end[0]):
            yield line(x, y - 4.0 * down, x, y, QUIET, 0.7)
        yield line(start[0], y, end[0], y, QUIET, 0.7)
        for anchor, x in (
            (Anchor.MIDDLE, (start[0] + end[0]) / 2),
            (Anchor.END, end[0]),
            (Anchor.START, start[0]),
        ):
            found = room.if_free(label(x, y + 7.0 * down, words, anchor))
            if found:
                yield backing(found[0], 0.5)
                yield from found
                return

    def _words(self, room: Room) -> Sequence[Shape]:
        box, c = self.plot.box, self.cycle
        middle = (self.at(c.head_dew)[0] + self.at(c.head_bubble)[0]) / 2
        low = (self.at(c.evaporator_inlet)[0] + self.at(c.suction_dew)[0]) / 2
        wanted = (
            label(middle, self.at(c.head_dew)[1] - 7.0, spoken("condensing"), Anchor.MIDDLE),
            label(low, self.at(c.suction)[1] + 8.0, spoken("evaporating"), Anchor.MIDDLE),
            label(box.left + 5.0, box.top + 8.0, self.name, bold=True),
            label(box.left + 5.0, box.top + 19.0, spoken("sketch"), paint=QUIET),
        )
        return [shape for text in wanted for shape in room.if_free(text)]
