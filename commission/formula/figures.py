"""Numbers as people read them. Rounding happens here, for showing, and nowhere else."""

from __future__ import annotations

import math


def figure(value: float, decimals: int | None = None) -> str:
    """Return a number as shown: fixed decimals, or four significant figures if None."""
    if decimals is None:
        decimals = _decimals_for(value)
    rounded = round(value, decimals)
    shown = f"{0.0 if rounded == 0 else rounded:,.{max(decimals, 0)}f}"
    return shown.replace("-", "−")


def _decimals_for(value: float) -> int:
    if value == 0 or (value.is_integer() and abs(value) < 1e6):
        return 0
    return min(max(3 - math.floor(math.log10(abs(value))), 0), 8)


def with_unit(value: float, unit: str, decimals: int | None = None) -> str:
    """Return a number with its unit, such as "12.2 Δ°F" or "3.4 %"."""
    return f"{figure(value, decimals)} {unit}".rstrip()


def told_apart(first: float, second: float, decimals: int | None, most: int = 8) -> tuple[str, str]:
    """Return two different numbers with enough decimals that they read differently."""
    places = _decimals_for(first) if decimals is None else decimals
    while figure(first, places) == figure(second, places) and first != second and places < most:
        places += 1
    return figure(first, places), figure(second, places)


def uncertainty_figure(expanded: float) -> str:
    """Return an uncertainty with two significant figures (GUM 7.2.6)."""
    if not expanded:
        return "0"
    return figure(expanded, 1 - math.floor(math.log10(abs(expanded))))


def ended(sentence: str) -> str:
    """Return a sentence with its full stop, one only: units such as "in. w.c." bring theirs."""
    return sentence if sentence.endswith(".") else f"{sentence}."
