"""The unit itself, seen from above as a plan of its parts, with readings where they were taken.

Air goes from left to right along the upper half; each refrigerant circuit is a row of the lower
half. What should run under the call chosen is filled and drawn heavily, with arrows.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from commission.definitions.model import Key
from commission.drawing.extents import extent
from commission.drawing.labels import LEADING, Room, note
from commission.drawing.lettering import label, unbroken, width_of
from commission.drawing.readings import FigureReadings, Wanting
from commission.drawing.shapes import (
    INK,
    QUIET,
    Anchor,
    Box,
    Circle,
    Drawing,
    Point,
    Shape,
    Text,
    line,
    moved,
)
from commission.drawing.unit_calls import Call, CallKind, Fitted, Lit, Part, fitted, lit
from commission.drawing.unit_parts import (
    CIRCUIT_PLACES,
    FIRST_CIRCUIT,
    PLACES,
    ROW,
    Frame,
    air_parts,
    circuit_parts,
    gas_parts,
    heat_parts,
)
from commission.formula.evaluate import State
from commission.language import spoken, to_say

_MOST_LINES = 3
# Places that no name of a part stands at already.
_NAMES = {
    "mixed air": to_say("mixed"),
    "after filters": to_say("after filters"),
    "after coil": to_say("after coil"),
    "after fan": to_say("after fan"),
    "gas supply": to_say("gas supply"),
    "manifold": to_say("manifold"),
    "flue": to_say("flue"),
    "condenser entering": to_say("air in"),
    "condenser leaving": to_say("air out"),
    "supply power": to_say("power"),
}


@dataclass(frozen=True, slots=True)
class PlacedReading:
    """One reading with where it was taken: the place, and the circuit where it is of one."""

    place: str
    label: str
    shown: str
    circuit: int = 0


def unit_diagram(readings: FigureReadings, width: float, call: Call) -> Drawing | Wanting:
    """Return the diagram of the unit as it is configured, under a call."""
    missing = readings.wanting(readings.required())
    if missing is not None:
        return missing
    unit = fitted(readings)
    return _Diagram(readings, width, unit, call, lit(unit, call)).drawing()


def placed_readings(readings: FigureReadings) -> list[PlacedReading]:
    """Return the readings of a unit diagram's points that there are."""
    found = []
    for point in readings.figure.points:
        for key in readings.keys(point.uses["value"]):
            if readings.results.value(*key).state is State.KNOWN:
                shown = readings.results.shown(*key)
                words = readings.results.label(Key(*key))
                found.append(PlacedReading(point.place, words, shown, _circuit_of(readings, key)))
    return found


def _circuit_of(readings: FigureReadings, key: Key) -> int:
    repeats = readings.results.calculation.plan.repeats[key.name]
    return next((n for r, n in zip(repeats, key.index, strict=True) if r == "circuit"), 0)


class _Diagram:
    """The plan of one unit."""

    def __init__(
        self, readings: FigureReadings, width: float, unit: Fitted, call: Call, running: Lit
    ) -> None:
        self.readings, self.width, self.unit = readings, width, unit
        self.call, self.running = call, running
        self.frame = Frame(width, unit, running, call.kind is CallKind.HEAT_PUMP)
        self.found = placed_readings(readings)
        self.told: set[int] = set()

    def drawing(self) -> Drawing:
        """Return the whole figure."""
        frame = self.frame
        room = Room(Box(1.0, 1.0, self.width - 2.0, frame.bottom - 2.0))
        parts: list[Shape] = [
            *air_parts(frame),
            *heat_parts(frame),
            *gas_parts(frame),
            *circuit_parts(frame),
        ]
        drawn = [shape for shape in parts if not isinstance(shape, Text)]
        room.take_lines(drawn)
        named = self._part_names(room, parts)
        words = [*self._circuit_readings(room), *self._callouts(room)]
        told, high = note(self._below(), 8.0, frame.bottom + 4.0, self.width - 16.0)
        shapes = (*drawn, *named, *words, *told)
        # Without a gas train nothing stands at the top: the drawing begins where its parts do.
        up = 6.0 - min(extent(shape).top for shape in shapes)
        return Drawing(
            self.width,
            frame.bottom + high + 10.0 + up,
            tuple(moved(shape, up) for shape in shapes),
            self.readings.title,
            self._description(),
        )

    def _part_names(self, room: Room, parts: Sequence[Shape]) -> list[Shape]:
        """Return the names of parts that have room; numbers in and of parts always stand."""
        named: list[Shape] = []
        for text in parts:
            if isinstance(text, Text) and text.bold:
                room.take(text)
                named.append(text)
            elif isinstance(text, Text):
                named += room.if_free(text)
        return named

    def _below(self) -> str:
        """Return what the drawing's look means, and the readings it had no room for."""
        if self.call.kind is CallKind.IDLE:
            said = spoken("Plan of the parts fitted, not to scale; readings where they were taken.")
        else:
            said = spoken(
                "{call}: what should run is filled and drawn heavily, with arrows.",
                call=self.call.words,
            )
        left = [one for n, one in enumerate(self.found) if n not in self.told]
        if not left:
            return said
        more = "; ".join(f"{one.label} {unbroken(one.shown)}" for one in left)
        return spoken("{said} Also read: {readings}.", said=said, readings=more)

    def _description(self) -> str:
        unit = self.unit
        has = [spoken("{count} refrigerant circuits", count=unit.circuits)]
        if unit.heat not in ("", "none"):
            has.append(spoken("heat: {heat}", heat=spoken(unit.heat)))
        if unit.has_outdoor_air:
            has.append(spoken("outdoor-air damper: {damper}", damper=spoken(unit.damper)))
        parts = [spoken(str(part)) for part in Part if part in self.running.parts]
        parts += [
            spoken("compressor {number}", number=number)
            for number in sorted(self.running.compressors)
        ]
        lines = [spoken("The unit has {parts}.", parts=", ".join(has))]
        if parts:
            lines.append(spoken("Should run: {parts}.", parts=", ".join(parts)))
        lines += [f"{one.label}: {one.shown}." for one in self.found]
        return " ".join(lines)

    # -- readings ------------------------------------------------------------------------

    def _circuit_readings(self, room: Room) -> Iterator[Shape]:
        """Yield the readings of each circuit along its row."""
        for circuit in range(1, self.unit.circuits + 1):
            for place, (share, down) in CIRCUIT_PLACES.items():
                here = [
                    (n, one)
                    for n, one in enumerate(self.found)
                    if one.place == place and one.circuit == circuit
                ]
                if not here:
                    continue
                x = self.frame.x(share)
                y = FIRST_CIRCUIT + ROW * (circuit - 1) + down
                name = f"{spoken(_NAMES[place])} " if place in _NAMES else ""
                for count in range(len(here), 0, -1):
                    words = name + "  ".join(one.shown for _, one in here[:count])
                    text = room.if_free(label(x, y, words, Anchor.MIDDLE))
                    if text:
                        self.told |= {n for n, _ in here[:count]}
                        yield from text
                        break

    def _callouts(self, room: Room) -> Iterator[Shape]:
        """Yield the readings of the air, the gas and the electric side, each by its place."""
        for place, (share, y, above) in PLACES.items():
            here = [
                (n, one)
                for n, one in enumerate(self.found)
                if one.place == place and n not in self.told
            ]
            if not here:
                continue
            name = [spoken(_NAMES[place])] if place in _NAMES else []
            lines = [*name, *(one.shown for _, one in here[:_MOST_LINES])]
            texts = _callout(room, (self.frame.x(share), y), above, lines, len(name))
            if texts:
                self.told |= {n for n, _ in here[:_MOST_LINES]}
                yield from texts


def _callout(
    room: Room, place: Point, above: bool, lines: Sequence[str], quiet: int
) -> list[Shape]:
    """Return a short column of words near a place with a line to it; the first `quiet` dimmer.

    Nothing is returned if there is no room near by.
    """
    x, y = place
    half = max(width_of(words) for words in lines) / 2
    for step in range(6):
        away = 6.0 + step * 8.0
        top = y - away - LEADING * (len(lines) - 0.5) if above else y + away + LEADING * 0.5
        for aside in (0.0, 14.0, -14.0, 28.0, -28.0, 42.0, -42.0, 56.0):
            whole = Box(x + aside - half, top - 6.0, 2 * half, LEADING * len(lines))
            if not room.is_free(whole.inset(-2.5)):
                continue
            room.taken.append(whole)
            end = whole.bottom if above else whole.top - 0.5
            foot = min(max(x, whole.left), whole.right)
            return [
                line(x, y, foot, end, QUIET, 0.5),
                Circle(x, y, 1.2, None, fill=QUIET),
                *(
                    label(
                        x + aside,
                        top + LEADING * number,
                        words,
                        Anchor.MIDDLE,
                        paint=QUIET if number < quiet else INK,
                    )
                    for number, words in enumerate(lines)
                ),
            ]
    return []
