"""Dew and bubble curves built from a property library, failures bridged smoothly.

Works on plain numbers: where they come from is `refrigerant`'s business.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence

from commission.errors import CommissionError
from commission.language import spoken

RANKINE_AT_ZERO_F = 459.67
FIRST_F, LAST_F = -40, 155
MARGIN_F = 8  # points computed past the end so that a failure there can be bridged
JUMP = 2e-5  # in ln p: about 0.001 °F
SIDE = 3  # points each side that carry a bridge

Point = tuple[int, float]


def curve(log_pressure: Callable[[float], float | None], last_f: int) -> list[float]:
    """Return ln(psia) at every whole °F from -40 to `last_f`.

    Args:
        log_pressure: ln(psia) at a temperature in °F, or None where it cannot be computed.
        last_f: Last temperature of the curve, °F.
    Raises:
        CommissionError: So much cannot be computed that a bridge has no footing.
    """
    span = range(FIRST_F, last_f + MARGIN_F + 1)
    computed = {at: value for at in span if (value := log_pressure(at)) is not None}
    sound = without_jumps(computed)
    return [sound[at] if at in sound else bridged(sound, at) for at in range(FIRST_F, last_f + 1)]


def without_jumps(computed: Mapping[int, float]) -> dict[int, float]:
    """Return the points without those that stand off the curve through their neighbours.

    The worst goes first, so that a good point beside a bad one is kept.
    """
    sound = dict(computed)
    while True:
        offsets = {at: abs(bridged(sound, at) - value) for at, value in _inner(sound)}
        worst = max(offsets, key=lambda at: offsets[at])
        if offsets[worst] <= JUMP:
            return sound
        del sound[worst]


def _inner(points: Mapping[int, float]) -> Sequence[Point]:
    return sorted(points.items())[SIDE:-SIDE]


def bridged(points: Mapping[int, float], temperature_f: int) -> float:
    """Return ln p at a temperature from the points around it, smooth in 1/T.

    Lagrange's polynomial through the nearest three points on each side; vapour pressure is
    almost straight in ln p against 1/T, so a gap of several degrees costs next to nothing.

    Raises:
        CommissionError: Fewer than three points on one side.
    """
    below = sorted(at for at in points if at < temperature_f)[-SIDE:]
    above = sorted(at for at in points if at > temperature_f)[:SIDE]
    if min(len(below), len(above)) < SIDE:
        raise CommissionError(
            spoken(
                "Saturation at {temperature_f} °F has fewer than {side} sound points on one "
                "side. Shorten the curve.",
                temperature_f=temperature_f,
                side=SIDE,
            )
        )
    knots = [(1 / (at + RANKINE_AT_ZERO_F), points[at]) for at in (*below, *above)]
    x = 1 / (temperature_f + RANKINE_AT_ZERO_F)
    return math.fsum(
        value * math.prod((x - other) / (knot - other) for other, _ in knots if other != knot)
        for knot, value in knots
    )
