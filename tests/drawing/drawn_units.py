"""Units from plain values, and a form's figures by name."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from builders import calculation_of
from commission.definitions.model import Figure, Form
from commission.drawing.readings import FigureReadings
from commission.validation.calculation import Decision
from commission.validation.results import UnitResults


def results_of(form: Form, values: Mapping[str, Any], unit_system: str = "IP") -> UnitResults:
    """Return one unit's results from name -> value."""
    calculation = calculation_of(form, values, decision=Decision(unit_system=unit_system))
    return UnitResults(calculation, "RTU-9", "unit", unit_system=unit_system)


def figure_named(form: Form, name: str) -> Figure:
    """Return a figure of a form."""
    return next(f for section in form.sections for f in section.figures if f.name == name)


def readings_of(
    form: Form,
    name: str,
    values: Mapping[str, Any],
    index: tuple[int, ...] = (),
    unit_system: str = "IP",
) -> FigureReadings:
    """Return what one member of a figure draws."""
    results = results_of(form, values, unit_system)
    return FigureReadings(results, figure_named(form, name), index)
