"""Where the tip of the tube goes: one point of a traverse at a time, by rule and number."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from commission.engineering.airflow import (
    LOG_LINEAR,
    LOG_TCHEBYCHEFF,
    equal_area_positions_rectangular,
    equal_area_positions_round,
    log_linear_positions,
    log_tchebycheff_positions,
)
from commission.errors import ReadingError
from commission.language import listed, near_miss, spoken, to_say

MOST_POINTS = 12
# Positions by rule and count, for a look-up; equal areas need none.
POSITIONS: Mapping[tuple[str, int], tuple[float, ...]] = MappingProxyType(
    {("log-Tchebycheff", count): row for count, row in LOG_TCHEBYCHEFF.items()}
    | {("log-linear", count): row for count, row in LOG_LINEAR.items()}
)


def rectangular_position(rule: str, lines: float, number: float) -> float:
    """Return where line `number` of a rectangular duct lies, as a share of the side.

    Args:
        rule: "log-Tchebycheff" or "equal area".
        lines: Lines across the side: 5, 6 or 7 by log-Tchebycheff, 1 to 12 of equal area.
        number: 1 for the line nearest the wall from which is measured.
    Raises:
        ReadingError: Another rule or count, or a number outside it.
    Source: ISO 3966 and ASHRAE 111.
    """
    count = _whole(to_say("lines"), lines)
    if rule == "log-Tchebycheff":
        return _picked(log_tchebycheff_positions(count), number)
    if rule == "equal area":
        return _picked(equal_area_positions_rectangular(count), number)
    raise _wrong_rule(rule, "rectangular", ("log-Tchebycheff", "equal area"))


def round_position(rule: str, points: float, number: float) -> float:
    """Return where point `number` of a round duct lies, as a share of the diameter.

    Args:
        rule: "log-linear" or "equal area" (rings).
        points: Points on the diameter: 4, 6, 8 or 10 by log-linear, an even count up to 12
            of equal rings.
        number: 1 for the point nearest the wall from which is measured.
    Raises:
        ReadingError: Another rule or count, or a number outside it.
    Source: ISO 3966; AMCA 203.
    """
    count = _whole(to_say("points"), points)
    if rule == "log-linear":
        return _picked(log_linear_positions(count), number)
    if rule == "equal area":
        if count % 2:
            raise ReadingError(
                spoken(
                    "{count} points on a diameter cannot be two a ring. Choose an even number.",
                    count=count,
                )
            )
        return _picked(equal_area_positions_round(count // 2), number)
    raise _wrong_rule(rule, "round", ("log-linear", "equal area"))


def _whole(what: str, count: float) -> int:
    if not (1 <= count <= MOST_POINTS and count == int(count)):
        raise ReadingError(
            spoken(
                "{count:.6g} {what} cannot be traversed. Enter a whole number from 1 to "
                "{most_points}.",
                count=count,
                what=spoken(what),
                most_points=MOST_POINTS,
            )
        )
    return int(count)


def _picked(positions: tuple[float, ...], number: float) -> float:
    if not (1 <= number <= len(positions) and number == int(number)):
        raise ReadingError(
            spoken(
                "Number {number:.6g} is not one of the {count} places of this traverse. Take a "
                "whole number from 1 to {count}.",
                number=number,
                count=len(positions),
            )
        )
    return positions[int(number) - 1]


def _wrong_rule(rule: str, duct: str, rules: tuple[str, ...]) -> ReadingError:
    return ReadingError(
        spoken(
            "'{rule}' gives no positions for a {duct} duct; choose {rules}.{hint}",
            rule=spoken(rule),
            duct=spoken(duct),
            rules=listed(map(spoken, rules), "or"),
            hint=near_miss(rule, rules),
        )
    )
