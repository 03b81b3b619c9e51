"""What a reading can be at all: one sentence of refusal for each way it cannot."""

from __future__ import annotations

from commission.errors import ReadingError

Bounds = tuple[float, float]


def refuse_outside(what: str, value: float, bounds: Bounds, unit: str, cure: str) -> None:
    """Refuse a value outside `bounds`, both ends allowed.

    Raises:
        ReadingError: The value is outside, or not a number.
    """
    low, high = bounds
    if not low <= value <= high:
        raise ReadingError(
            f"{what} {_shown(value, unit)} is outside {low:g} to {_shown(high, unit)}. {cure}"
        )


def refuse_not_above(what: str, value: float, floor: float, unit: str, cure: str) -> None:
    """Refuse a value at or below `floor`.

    Raises:
        ReadingError: The value is not above the floor, or not a number.
    """
    if not value > floor:
        raise ReadingError(
            f"{what} {_shown(value, unit)} must be above {_shown(floor, unit)}. {cure}"
        )


def refuse_below(what: str, value: float, floor: float, unit: str, cure: str) -> None:
    """Refuse a value below `floor`.

    Raises:
        ReadingError: The value is below the floor, or not a number.
    """
    if not value >= floor:
        raise ReadingError(
            f"{what} {_shown(value, unit)} cannot be below {_shown(floor, unit)}. {cure}"
        )


def _shown(value: float, unit: str) -> str:
    return f"{value:.6g} {unit}".rstrip()
