"""What a reading can be at all: one sentence of refusal for each way it cannot.

What was read and the cure are English texts, said only where something is refused.
"""

from __future__ import annotations

from commission.errors import ReadingError
from commission.language import spoken

Bounds = tuple[float, float]


def refuse_outside(
    what: str, value: float, bounds: Bounds, unit: str, cure: str, of: str = ""
) -> None:
    """Refuse a value outside `bounds`, both ends allowed.

    Args:
        of: Whose value it is (a refrigerant's designation), if that must be told.
    Raises:
        ReadingError: The value is outside, or not a number.
    """
    low, high = bounds
    if not low <= value <= high:
        raise ReadingError(
            spoken(
                "{what} {value} is outside {low:g} to {high}. {cure}",
                what=_named(what, of),
                value=_shown(value, unit),
                low=low,
                high=_shown(high, unit),
                cure=spoken(cure),
            )
        )


def refuse_not_above(
    what: str, value: float, floor: float, unit: str, cure: str, of: str = ""
) -> None:
    """Refuse a value at or below `floor`.

    Raises:
        ReadingError: The value is not above the floor, or not a number.
    """
    if not value > floor:
        raise ReadingError(
            spoken(
                "{what} {value} must be above {floor}. {cure}",
                what=_named(what, of),
                value=_shown(value, unit),
                floor=_shown(floor, unit),
                cure=spoken(cure),
            )
        )


def refuse_below(what: str, value: float, floor: float, unit: str, cure: str, of: str = "") -> None:
    """Refuse a value below `floor`.

    Raises:
        ReadingError: The value is below the floor, or not a number.
    """
    if not value >= floor:
        raise ReadingError(
            spoken(
                "{what} {value} cannot be below {floor}. {cure}",
                what=_named(what, of),
                value=_shown(value, unit),
                floor=_shown(floor, unit),
                cure=spoken(cure),
            )
        )


def _named(what: str, of: str) -> str:
    return f"{spoken(what)} ({of})" if of else spoken(what)


def _shown(value: float, unit: str) -> str:
    return f"{value:.6g} {unit}".rstrip()
