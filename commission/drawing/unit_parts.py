"""The parts of the unit diagram, each drawn by our own hand from a few plain shapes."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from commission.drawing.lettering import label
from commission.drawing.marks import arrow_head
from commission.drawing.shapes import (
    ACCENT,
    COOL,
    DASHED,
    GROUND,
    INK,
    QUIET,
    SOLID,
    TINT,
    WARM,
    Anchor,
    Box,
    Circle,
    Paint,
    Path,
    Point,
    Shape,
    line,
    rectangle,
)
from commission.drawing.unit_calls import Fitted, Lit, Part
from commission.language import spoken

# Shares of the width, left to right.
HOOD, MIXING, FILTERS, COIL, FAN, HEAT, SUPPLY, END = (
    0.02, 0.10, 0.255, 0.36, 0.47, 0.62, 0.83, 0.95,
)  # fmt: skip
HEAT_END = 0.79
AIR_TOP, AIR_BOTTOM = 112.0, 184.0
FIRST_CIRCUIT, ROW = 258.0, 50.0
COMPRESSOR, OUTDOOR_COIL = 0.60, 0.86

# Where a callout points at: share of the width, y, and whether its words stand above.
PLACES: Mapping[str, tuple[float, float, bool]] = {
    "return air": (0.155, 166.0, False),
    "outdoor air": (0.05, 122.0, True),
    "relief air": (0.135, 92.0, True),
    "mixed air": (0.215, 128.0, True),
    "after filters": (0.315, 128.0, True),
    "after coil": (0.425, 168.0, False),
    "fan": (0.497, 130.0, True),
    "after fan": (0.575, 168.0, False),
    "electric heat": (0.70, 176.0, False),
    "supply air": (0.885, 166.0, False),
    "gas supply": (0.53, 46.0, True),
    "manifold": (0.605, 86.0, True),
    "flue": (0.80, 76.0, True),
    "combustion air": (0.70, 92.0, True),
    "condenser entering": (0.96, 240.0, True),
    "condenser leaving": (0.96, 240.0, True),
    "supply power": (0.93, 118.0, True),
}
# The same in a circuit's row: share of the width, and y below the row's upper line.
CIRCUIT_PLACES: Mapping[str, tuple[float, float]] = {
    "suction line": (0.475, -8.8),
    "discharge line": (0.80, -8.8),
    "liquid line": (0.60, 31.0),
    "compressor": (0.64, 12.0),
    "condenser entering": (0.79, 12.0),
    "condenser leaving": (0.79, 12.0),
}


@dataclass(frozen=True, slots=True)
class Frame:
    """Width, what the unit has, what of it should run, and whether circuits are reversed."""

    width: float
    unit: Fitted
    running: Lit
    reversed: bool

    def x(self, share: float) -> float:
        """Return a place across the drawing."""
        return share * self.width

    @property
    def is_free_cooling(self) -> bool:
        """Whether outdoor air alone goes through the unit."""
        return self.is_lit(Part.OUTDOOR_AIR) and not self.is_lit(Part.RETURN_AIR)

    def is_lit(self, part: Part) -> bool:
        """Return whether a part should run."""
        return part in self.running.parts

    def pen(self, on: bool, paint: Paint = ACCENT) -> tuple[Paint, float, Paint]:
        """Return stroke, width and fill of a part."""
        return (paint, 1.9, paint.faint(0.28)) if on else (QUIET, 0.8, GROUND)

    @property
    def bottom(self) -> float:
        """y of the lower edge of the plan."""
        rows = self.unit.circuits
        return FIRST_CIRCUIT + ROW * rows - 2.0 if rows else AIR_BOTTOM + 62.0


# -- air ------------------------------------------------------------------------------------


def air_parts(frame: Frame) -> Iterator[Shape]:
    """Yield the air's way: hood, damper, return, relief, filters, coil, fan, supply."""
    x = frame.x
    box = Box(x(MIXING), AIR_TOP, x(END) - x(MIXING), AIR_BOTTOM - AIR_TOP)
    yield rectangle(box, INK, 1.1, TINT)
    if frame.unit.has_outdoor_air:
        yield from _outdoor(frame)
    yield from _opening(frame, 0.155, Part.RETURN_AIR, spoken("return"), leaves=False)
    yield from _opening(frame, 0.885, Part.SUPPLY_AIR, spoken("supply"), leaves=True)
    if frame.unit.relief not in ("", "none"):
        yield from _relief(frame)
    yield from _filters(frame)
    yield from _indoor_coil(frame)
    yield from _indoor_fan(frame)
    if frame.is_lit(Part.FAN):
        for share in (0.225, 0.325, 0.55, 0.815):
            yield from _air_arrow(x(share), 148.0)


def _air_arrow(x: float, y: float) -> Iterator[Shape]:
    yield line(x - 9.0, y, x + 3.0, y, ACCENT, 2.2)
    yield arrow_head(x + 8.0, y, 0.0, ACCENT, 7.5)


def _outdoor(frame: Frame) -> Iterator[Shape]:
    x, on = frame.x, frame.is_lit(Part.OUTDOOR_AIR)
    stroke, width, fill = frame.pen(on, COOL)
    left, right = x(HOOD), x(MIXING)
    hood = ((left, AIR_TOP + 10.0), (right, AIR_TOP + 18.0), (right, AIR_BOTTOM - 10.0),
            (left, AIR_BOTTOM - 2.0))  # fmt: skip
    yield Path(hood, stroke, width, SOLID, fill, closed=True)
    if on:
        yield line(left + 4.0, 148.0, right - 14.0, 148.0, COOL, 2.2)
        yield arrow_head(right - 6.0, 148.0, 0.0, COOL, 7.5)
    opening = (1.0 if frame.is_free_cooling else 0.45) if on else 0.0
    yield from _damper(right, AIR_TOP + 18.0, AIR_BOTTOM - 10.0, opening)
    yield label(left, AIR_BOTTOM + 8.0, spoken("outdoor air"), paint=QUIET)


def _damper(x: float, top: float, bottom: float, opening: float) -> Iterator[Shape]:
    """Yield blades: level when fully open (1), upright when shut (0), aslant at minimum."""
    count = 3
    step = (bottom - top) / count
    reach = step * 0.46
    angle = math.radians(90.0 * (1.0 - opening))
    dx, dy = reach * math.cos(angle), reach * math.sin(angle)
    for number in range(count):
        y = top + step * (number + 0.5)
        yield line(x - dx, y - dy, x + dx, y + dy, INK, 1.8)
        yield Circle(x, y, 1.3, None, fill=INK)


def _opening(frame: Frame, share: float, part: Part, words: str, leaves: bool) -> Iterator[Shape]:
    """Yield a duct opening below the unit: a dashed square, a dot or a cross for its direction."""
    on = frame.is_lit(part)
    stroke, width, fill = frame.pen(on, WARM if part is Part.RETURN_AIR else ACCENT)
    x, y, half = frame.x(share), 148.0, min(16.0, frame.width * 0.035)
    square = Box(x - half, y - half, 2 * half, 2 * half)
    yield rectangle(square, stroke, width, fill, DASHED)
    if leaves:
        yield line(x - 4.0, y - 4.0, x + 4.0, y + 4.0, stroke, width)
        yield line(x - 4.0, y + 4.0, x + 4.0, y - 4.0, stroke, width)
    else:
        yield Circle(x, y, 2.6, None, fill=stroke)
    yield Circle(x, y, 6.5, stroke, width)
    yield label(x, AIR_TOP + 9.0, words, Anchor.MIDDLE, paint=QUIET)


def _relief(frame: Frame) -> Iterator[Shape]:
    on = frame.is_lit(Part.RELIEF)
    stroke, width, fill = frame.pen(on, WARM)
    x = frame.x(0.135)
    shape = ((x - 10.0, AIR_TOP), (x + 10.0, AIR_TOP), (x + 14.0, 94.0), (x - 14.0, 94.0))
    yield Path(shape, stroke, width, SOLID, fill, closed=True)
    if frame.unit.relief == "powered":
        yield Circle(x, 103.0, 5.0, stroke, width)
        yield line(x - 3.5, 106.5, x + 3.5, 99.5, stroke, width)
        yield line(x - 3.5, 99.5, x + 3.5, 106.5, stroke, width)
    if on:
        yield arrow_head(x, 84.0, -90.0, WARM, 7.5)
        yield line(x, 94.0, x, 88.0, WARM, 2.0)
    yield label(x + 18.0, 101.0, spoken("relief"), paint=QUIET)


def _filters(frame: Frame) -> Iterator[Shape]:
    x, steps = frame.x(FILTERS), 9
    high = (AIR_BOTTOM - AIR_TOP) / steps
    points = tuple((x + (6.0 if n % 2 else 0.0), AIR_TOP + n * high) for n in range(steps + 1))
    yield Path(points, INK, 1.0)
    yield label(x + 3.0, AIR_BOTTOM + 8.0, spoken("filters"), Anchor.MIDDLE, paint=QUIET)


def _indoor_coil(frame: Frame) -> Iterator[Shape]:
    on = bool(frame.running.compressors)
    stroke, width, fill = frame.pen(on, WARM if frame.reversed else COOL)
    box = Box(frame.x(COIL), AIR_TOP + 3.0, 14.0, AIR_BOTTOM - AIR_TOP - 6.0)
    yield from _coil(box, stroke, width, fill)
    yield label(box.middle[0], AIR_TOP - 7.0, spoken("indoor coil"), Anchor.MIDDLE, paint=QUIET)


def _coil(box: Box, stroke: Paint, width: float, fill: Paint) -> Iterator[Shape]:
    """Yield a finned coil: a box with close rows."""
    yield rectangle(box, stroke, width, fill)
    rows = max(4, round(box.height / 7.0))
    for number in range(1, rows):
        y = box.top + box.height * number / rows
        yield line(box.left, y, box.right, y, stroke, 0.5)


def _indoor_fan(frame: Frame) -> Iterator[Shape]:
    stroke, width, fill = frame.pen(frame.is_lit(Part.FAN))
    x, y = frame.x(FAN) + 14.0, 148.0
    yield Circle(x, y, 17.0, stroke, width, fill)
    for dx, dy in ((0.0, -1.0), (0.87, 0.5), (-0.87, 0.5)):
        yield Path(
            (
                (x, y),
                (x + 11 * dx - 5 * dy, y + 11 * dy + 5 * dx),
                (x + 14 * dx, y + 14 * dy),
                (x, y),
            ),
            stroke,
            1.0,
            SOLID,
            stroke.faint(0.6),
            closed=True,
        )
    count = frame.unit.indoor_fans
    words = spoken("fan") if count == 1 else spoken("{count} fans", count=count)
    yield label(x, AIR_TOP + 9.0, words, Anchor.MIDDLE, paint=QUIET)


# -- heat -----------------------------------------------------------------------------------


def heat_parts(frame: Frame) -> Iterator[Shape]:
    """Yield the heat section: exchanger tubes for gas, elements for electric heat."""
    unit = frame.unit
    if unit.has_gas:
        yield from _tubes(frame)
    if unit.has_electric:
        yield from _elements(frame)


def _tubes(frame: Frame) -> Iterator[Shape]:
    stroke, width, _ = frame.pen(frame.is_lit(Part.BURNER), WARM)
    left, right, rows = frame.x(HEAT), frame.x(HEAT_END), 4
    bottom = AIR_BOTTOM - 22.0 if frame.unit.has_electric else AIR_BOTTOM - 8.0
    step = (bottom - AIR_TOP - 20.0) / (rows - 1)
    points: list[Point] = [(left, AIR_TOP)]
    for number in range(rows):
        y = AIR_TOP + 20.0 + number * step
        ends = [(left, y), (right, y)]
        points += ends if number % 2 == 0 else reversed(ends)
    points.append((right + 6.0, points[-1][1]) if rows % 2 else (left, points[-1][1]))
    points = points[:-1] if rows % 2 == 0 else points
    last = points[-1]
    points += [(right + 7.0, last[1]) if last[0] == right else (left - 7.0, last[1])]
    yield Path(tuple(points), stroke, width + 2.0)
    middle = (left + right) / 2
    words = spoken("heat exchanger")
    yield label(middle, AIR_TOP + 9.0, words, Anchor.MIDDLE, paint=QUIET)


def _elements(frame: Frame) -> Iterator[Shape]:
    stroke, width, _ = frame.pen(frame.is_lit(Part.ELECTRIC_HEAT), WARM)
    left, right = frame.x(HEAT), frame.x(HEAT_END)
    top = AIR_BOTTOM - 18.0 if frame.unit.has_gas else AIR_TOP + 26.0
    rows = 1 if frame.unit.has_gas else 3
    for row in range(rows):
        y, teeth = top + row * 18.0, 10
        step = (right - left) / teeth
        points = [
            (left + step * n, y + (0.0 if n in (0, teeth) else 6.0 if n % 2 else -6.0))
            for n in range(teeth + 1)
        ]
        yield Path(tuple(points), stroke, width + 0.6)
    if not frame.unit.has_gas:
        words = spoken("electric heat")
        yield label((left + right) / 2, AIR_TOP + 9.0, words, Anchor.MIDDLE, paint=QUIET)


def gas_parts(frame: Frame) -> Iterator[Shape]:
    """Yield the gas train, burner, combustion air, inducer and flue, above the heat section."""
    if not frame.unit.has_gas:
        return
    on = frame.is_lit(Part.BURNER)
    stroke, width, fill = frame.pen(on, WARM)
    x = frame.x
    y, burner_top = 88.0, 94.0
    start, valve, burner = x(0.53), x(0.585), x(HEAT)
    yield Path(((start, 46.0), (start, y), (burner, y), (burner, burner_top)), stroke, width)
    yield from _valve(valve, y, stroke, width, fill)
    yield rectangle(Box(burner - 9.0, burner_top, 18.0, AIR_TOP - burner_top), stroke, width, fill)
    flame = (
        (burner - 4.0, AIR_TOP - 3.0),
        (burner, burner_top + 4.0),
        (burner + 4.0, AIR_TOP - 3.0),
    )
    yield Path(flame, stroke, 0.9, SOLID, stroke if on else GROUND, closed=True)
    yield from _flue(frame, stroke, width, fill)
    if on:
        yield arrow_head(start, 70.0, 90.0, WARM, 6.5)


def _valve(x: float, y: float, stroke: Paint, width: float, fill: Paint) -> Iterator[Shape]:
    """Yield two triangles tip to tip."""
    points = ((x - 8.0, y - 5.5), (x - 8.0, y + 5.5), (x + 8.0, y - 5.5), (x + 8.0, y + 5.5))
    yield Path(points, stroke, width, SOLID, fill, closed=True)


def _flue(frame: Frame, stroke: Paint, width: float, fill: Paint) -> Iterator[Shape]:
    """Yield what carries combustion products out, with the inducers if there are any."""
    right = frame.x(HEAT_END)
    top = 56.0
    yield line(right, AIR_TOP, right, top, stroke, width + 1.0)
    yield arrow_head(right, top - 6.0, -90.0, stroke, 8.0)
    count = frame.unit.inducers
    for number in range(count):
        place = right + number * 15.0
        yield Circle(place, 100.0, 6.5, stroke, width, fill)
        yield line(place - 4.6, 95.4, place + 4.6, 104.6, stroke, 0.8)
        yield line(place - 4.6, 104.6, place + 4.6, 95.4, stroke, 0.8)
    if count:
        words = spoken("inducer")
        yield label(right + 10.0 + 15.0 * (count - 1), 92.0 - 4.0, words, paint=QUIET)
    burner = frame.x(HEAT)
    yield line(burner + 30.0, 103.0, burner + 16.0, 103.0, stroke, width)
    yield arrow_head(burner + 11.0, 103.0, 180.0, stroke, 5.5)
    yield label(burner + 14.0, 91.0, spoken("combustion air"), paint=QUIET)


# -- refrigerant ------------------------------------------------------------------------------


def circuit_parts(frame: Frame) -> Iterator[Shape]:
    """Yield the outdoor coil with its fans, then each circuit as a row."""
    unit, x = frame.unit, frame.x
    if not unit.circuits:
        return
    top, bottom = FIRST_CIRCUIT - 12.0, FIRST_CIRCUIT + ROW * (unit.circuits - 1) + 30.0
    on = bool(frame.running.compressors)
    stroke, width, fill = frame.pen(on, COOL if frame.reversed else WARM)
    for circuit in range(1, unit.circuits + 1):
        yield from _circuit(frame, circuit)
    coil = Box(x(OUTDOOR_COIL), top, 12.0, bottom - top)
    yield from _coil(coil, stroke, width, fill)
    name = spoken("outdoor coil")
    yield label(coil.right, top - 8.0, name, Anchor.END, paint=QUIET)
    yield from _fans(frame, coil.right, top, bottom)


def _fans(frame: Frame, left: float, top: float, bottom: float) -> Iterator[Shape]:
    """Yield the condenser fans beside the coil, as large as they fit."""
    count = frame.unit.condenser_fans
    stroke, width, fill = frame.pen(frame.is_lit(Part.CONDENSER_FANS))
    columns = 1 if count <= 4 else 2
    step = (bottom - top) / max(1, -(-count // columns))
    room = (frame.width - left - 10.0) / (2.4 * columns - 0.4)
    radius = min(9.0, step / 2 - 1.0, room)
    for number in range(count):
        x = left + 6.0 + radius + (number % columns) * 2.4 * radius
        y = top + step * (number // columns + 0.5)
        yield Circle(x, y, radius, stroke, width, fill)
        for dx, dy in ((0.7, 0.7), (0.7, -0.7)):
            yield line(
                x - radius * dx, y - radius * dy, x + radius * dx, y + radius * dy, stroke, 0.9
            )


def _circuit(frame: Frame, circuit: int) -> Iterator[Shape]:
    """Yield a circuit: upper line gas, lower line liquid with the metering device."""
    x = frame.x
    y = FIRST_CIRCUIT + ROW * (circuit - 1)
    low = y + 22.0
    on = circuit in frame.running.circuits(frame.unit)
    gas, hot, liquid = (COOL, WARM, INK) if not frame.reversed else (WARM, COOL, INK)
    coil = x(COIL)
    rise, fall = coil + 4.0 - 1.5 * circuit + 8.0, coil + 1.0
    first = frame.pen(on, gas)
    yield Path(((rise, AIR_BOTTOM - 3.0), (rise, y), (x(COMPRESSOR), y)), first[0], first[1])
    second = frame.pen(on, hot)
    yield line(x(COMPRESSOR), y, x(OUTDOOR_COIL), y, second[0], second[1])
    third = frame.pen(on, liquid)
    left = fall - 3.0 * (circuit - 1)
    path = ((x(OUTDOOR_COIL), low), (left, low), (left, AIR_BOTTOM - 3.0))
    yield Path(path, third[0], third[1])
    yield from _metering(frame, left, low, third)
    yield from _compressors(frame, circuit, y)
    if on:
        yield from _flow_arrows(frame, y, low, (gas, hot, liquid))
    words = spoken("Circuit {n}", n=circuit)
    yield label(left - 22.0, (y + low) / 2, words, Anchor.END, bold=True)


def _metering(frame: Frame, x: float, y: float, pen: tuple[Paint, float, Paint]) -> Iterator[Shape]:
    """Yield the metering device where the liquid line turns up: a valve, or a narrowed piece."""
    place = x + 16.0
    if "orifice" in frame.unit.metering:
        yield line(place - 6.0, y - 4.5, place + 6.0, y - 1.2, pen[0], 1.4)
        yield line(place - 6.0, y + 4.5, place + 6.0, y + 1.2, pen[0], 1.4)
    else:
        yield from _valve(place, y, pen[0], pen[1], pen[2])


def _compressors(frame: Frame, circuit: int, y: float) -> Iterator[Shape]:
    for place, number in enumerate(frame.unit.compressors_of(circuit)):
        on = number in frame.running.compressors
        stroke, width, fill = frame.pen(on)
        x = frame.x(COMPRESSOR) + place * 21.0
        yield Circle(x, y, 9.0, stroke, width, fill if on else GROUND)
        yield label(x, y, str(number), Anchor.MIDDLE, bold=True)
    if frame.unit.is_heat_pump:
        stroke, width, fill = frame.pen(circuit in frame.running.circuits(frame.unit))
        x = frame.x(0.69)
        yield rectangle(Box(x - 6.0, y - 5.0, 12.0, 10.0), stroke, width, fill)
        yield line(x - 6.0, y + 5.0, x + 6.0, y - 5.0, stroke, 0.8)
        yield label(x, y - 11.0, spoken("reversing valve"), Anchor.MIDDLE, paint=QUIET)


def _flow_arrows(frame: Frame, y: float, low: float, paints: Sequence[Paint]) -> Iterator[Shape]:
    ahead = 180.0 if frame.reversed else 0.0
    yield arrow_head(frame.x(0.558 if frame.reversed else 0.572), y, ahead, paints[0], 7.0)
    yield arrow_head(frame.x(0.74), y, ahead, paints[1], 7.0)
    yield arrow_head(frame.x(0.50), low, 180.0 - ahead, paints[2], 7.0)
