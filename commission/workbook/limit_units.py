"""Limits between the form's unit and the one that a page shows.

Low, high and target are values on the scale of what is judged; a tolerance is a difference
on it (1 K is 1.8 °F of tolerance), and a tolerance in percent has no unit to turn.
"""

from __future__ import annotations

from collections.abc import Mapping

from commission.definitions.model import Check
from commission.units import convert, difference_scale, shown_unit

_PERCENT = "tolerance_percent"
_DIFFERENCES: Mapping[str, str] = {"°F": "Δ°F", "°C": "K", "psia": "psi", "kPa abs": "kPa"}


def form_unit_of(check: Check, part: str) -> str:
    """Return the unit in which one part of a check's limit is kept."""
    if part == _PERCENT:
        return "%"
    return _DIFFERENCES.get(check.unit, check.unit) if part == "tolerance" else check.unit


def shown_unit_of(check: Check, part: str, system: str) -> str:
    """Return the unit in which a page shows one part of a check's limit."""
    if part == _PERCENT:
        return "%"
    shown = shown_unit(check.unit, system)
    return _DIFFERENCES.get(shown, shown) if part == "tolerance" else shown


def limit_in_unit(part: str, number: float, source: str, target: str) -> float:
    """Return one part of a limit, given in `source`, in the unit `target`."""
    if source == target or part == _PERCENT:
        return number
    if part == "tolerance":
        return number * difference_scale(source, target)
    return convert(number, source, target)
