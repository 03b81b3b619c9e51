"""A form's figure drawn from a unit's results; the same shapes for every output."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from commission.definitions.model import Figure, FigureKind
from commission.drawing.mixing import mixing
from commission.drawing.pressure_enthalpy import pressure_enthalpy
from commission.drawing.pressure_profile import pressure_profile
from commission.drawing.psychrometric import psychrometric
from commission.drawing.readings import FigureReadings, Wanting
from commission.drawing.shapes import Drawing
from commission.drawing.traverse_map import traverse_map
from commission.drawing.unit_calls import IDLE, Call, calls_of
from commission.drawing.unit_diagram import unit_diagram
from commission.errors import CommissionError
from commission.formula.graph import Index
from commission.validation.results import UnitResults

_Drawn = Callable[[FigureReadings, float], Drawing | Wanting]
_KINDS: Mapping[FigureKind, _Drawn] = {
    FigureKind.PSYCHROMETRIC: psychrometric,
    FigureKind.PRESSURE_ENTHALPY: pressure_enthalpy,
    FigureKind.PRESSURE_PROFILE: pressure_profile,
    FigureKind.TRAVERSE: traverse_map,
    FigureKind.MIXING: mixing,
}


def drawn(
    results: UnitResults, figure: Figure, index: Index, width: float, call: Call = IDLE
) -> Drawing | Wanting:
    """Return a figure's drawing, or the one line that says what is wanting for it.

    Args:
        results: The unit's results.
        figure, index: One of `results.figures(section)`.
        width: Width to lay it out for, points (300 or more).
        call: What a unit diagram shows lit, one of `calls`; other kinds have none.
    """
    readings = FigureReadings(results, figure, index)
    try:
        if figure.kind is FigureKind.UNIT:
            return unit_diagram(readings, width, call)
        return _KINDS[figure.kind](readings, width)
    except CommissionError as error:
        # A reading outside what a closed form or a table holds: the fault says which.
        return Wanting(readings.title, str(error))


def calls(results: UnitResults, figure: Figure, index: Index) -> tuple[Call, ...]:
    """Return the calls that a unit diagram can be shown under, the idle unit first."""
    if figure.kind is not FigureKind.UNIT:
        return ()
    return calls_of(FigureReadings(results, figure, index))
