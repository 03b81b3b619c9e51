"""First-order uncertainty by numeric perturbation (JCGM 100:2008, GUM, clause 5).

Each formula gives its sensitivities to its direct inputs by central difference; chained
through the graph they become sensitivities to the readings. Readings by one instrument
share its error of calibration, so these contributions are added with sign before squaring
(fully correlated), and two readings by one thermometer cancel in a difference. What differs
from one reading to the next (repeatability, resolution) is independent and cancels nowhere.
Different instruments are independent.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Generic, TypeVar

from commission.errors import CommissionError
from commission.language import spoken

Source = TypeVar("Source")
_STEP = 1e-6
_CANCELLED = 1e-8


def derivative(function: Callable[[float], float], at: float) -> float:
    """Return the central difference of `function`, one-sided where one side is impossible.

    Raises:
        ArithmeticError: The function can be computed on neither side.
    """
    step = _STEP * max(abs(at), 1e-2)
    above, below = _value(function, at + step), _value(function, at - step)
    here = _value(function, at) if above is None or below is None else None
    if above is not None and below is not None:
        return (above - below) / (2 * step)
    if above is not None and here is not None:
        return (above - here) / step
    if below is not None and here is not None:
        return (here - below) / step
    raise ArithmeticError(spoken("no value on either side of the reading"))


def _value(function: Callable[[float], float], at: float) -> float | None:
    try:
        return function(at)
    except (CommissionError, ArithmeticError, ValueError):
        return None


@dataclass(frozen=True, slots=True)
class Instrument:
    """An instrument's accuracy: percent of reading + percent of span + a constant.

    The sum is a half-width of equal likelihood, so its standard uncertainty is the sum
    divided by the square root of 3 (GUM 4.3.7); all readings by the instrument share it.

    `repeatability` is the half-width within which readings of one and the same thing scatter
    (GUM 4.3.7), `resolution` the smallest step shown (GUM F.2.2.1: step over the square root
    of 12); both, in the instrument's unit, are drawn anew for every reading.
    """

    percent_of_reading: float = 0.0
    percent_of_span: float = 0.0
    span: float = 0.0
    plus_minus: float = 0.0
    repeatability: float = 0.0
    resolution: float = 0.0

    def standard_uncertainty(self, reading: float, scale: float = 1.0) -> float:
        """Return u of a reading; `scale` is reading units in one unit of the instrument."""
        return math.hypot(self.shared_uncertainty(reading, scale), self.own_uncertainty(scale))

    def shared_uncertainty(self, reading: float, scale: float = 1.0) -> float:
        """Return the part of u that all readings by the instrument have in common."""
        by_reading = self.percent_of_reading / 100 * abs(reading)
        constant = self.percent_of_span / 100 * self.span + self.plus_minus
        return (by_reading + abs(scale) * constant) / math.sqrt(3)

    def own_uncertainty(self, scale: float = 1.0) -> float:
        """Return the part of u that is drawn anew for every reading."""
        by_reading = self.repeatability / math.sqrt(3)
        return abs(scale) * math.hypot(by_reading, self.resolution / math.sqrt(12))


@dataclass(frozen=True, slots=True)
class Budget(Generic[Source]):
    """Standard contributions by source, in the unit of the result.

    `contributions` are signed and shared by all readings of a source; `own` are the roots of
    the sum of squares of what each of its readings adds by itself.
    """

    contributions: Mapping[Source, float]
    own: Mapping[Source, float] = field(default_factory=dict)

    @property
    def standard(self) -> float:
        """Combined standard uncertainty."""
        parts = (*self.contributions.values(), *self.own.values())
        return math.sqrt(math.fsum(part * part for part in parts))

    def expanded(self, coverage_factor: float = 2.0) -> float:
        """Return the expanded uncertainty, coverage factor times the standard one."""
        return coverage_factor * self.standard

    def shares(self) -> dict[Source, float]:
        """Return each source's share of the variance, largest first; they add to 1."""
        total = self.standard**2
        if not total:
            return {}
        sources = dict.fromkeys((*self.contributions, *self.own))
        pairs = ((source, self._variance(source) / total) for source in sources)
        return dict(sorted(pairs, key=lambda pair: -pair[1]))

    def _variance(self, source: Source) -> float:
        return self.contributions.get(source, 0.0) ** 2 + self.own.get(source, 0.0) ** 2


def budget(
    sensitivities: Mapping[Source, float],
    uncertainties: Mapping[Source, float],
    instrument_of: Mapping[Source, str],
    own: Mapping[Source, float] | None = None,
) -> Budget[str]:
    """Return the budget by instrument of a result.

    `sensitivities`, `uncertainties` (the shared part) and `own` (what each reading has by
    itself; none if left out) are by reading; readings without an instrument in
    `instrument_of` count as exact.
    """
    contributions: dict[str, float] = {}
    gross: dict[str, float] = {}
    squares: dict[str, float] = {}
    for reading, sensitivity in sensitivities.items():
        if reading in instrument_of:
            source = instrument_of[reading]
            part = sensitivity * uncertainties[reading]
            contributions[source] = contributions.get(source, 0.0) + part
            gross[source] = gross.get(source, 0.0) + abs(part)
            if own and own.get(reading):
                squares[source] = squares.get(source, 0.0) + (sensitivity * own[reading]) ** 2
    # What is left of a cancelled error is rounding of the numeric slopes, not uncertainty.
    return Budget(
        {
            source: part if abs(part) > _CANCELLED * gross[source] else 0.0
            for source, part in contributions.items()
        },
        {source: math.sqrt(square) for source, square in squares.items()},
    )
