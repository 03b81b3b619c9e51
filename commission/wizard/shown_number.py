"""A stored number as a field shows it again: as it was typed, where that still says the same."""

from __future__ import annotations

from commission.definitions.model import Field
from commission.errors import CommissionError
from commission.project import Reading
from commission.units import convert
from commission.validation.entry import parse_number


def number_text(field: object, reading: Reading, shown: str) -> str:
    """Return a stored number as typed if it was typed in the shown unit, else converted."""
    assert isinstance(field, Field)
    assert isinstance(reading.value, float | int)
    value = convert(float(reading.value), field.unit, shown) if field.unit else reading.value
    try:
        number, suffix, _ = parse_number(reading.entered)
    except CommissionError:
        return f"{value:.10g}"
    same = not suffix and abs(number - value) <= 1e-9 * max(1.0, abs(value))
    return reading.entered if same else f"{value:.10g}"
