"""A comparison as rows of text, for the terminal and for a report."""

from __future__ import annotations

from collections.abc import Sequence

from commission.archive.compare import ATTENTION, Compared, Comparison
from commission.formula.figures import figure, uncertainty_figure, with_unit
from commission.language import spoken, to_say
from commission.units import UNITS, convert, difference_scale, shown_unit

_HEADER = (
    to_say("Unit"),
    to_say("Finding"),
    to_say("Baseline"),
    to_say("Later"),
    to_say("Difference"),
    to_say("Uncertainty"),
    to_say("What"),
)
_CHANGED_HEADER = (
    to_say("Unit"),
    to_say("Baseline"),
    to_say("Later"),
    to_say("Check"),
    to_say("Why"),
)


def comparison_rows(
    comparison: Comparison, everything: bool = False
) -> tuple[Sequence[str], list[list[str]]]:
    """Return header and rows; without `everything` only drift, changes and what was not judged,
    for want of an uncertainty or because the conditions differ.

    A raw reading that goes into a quantity corrected to conditions is then left to that
    quantity. The last column is the widest.
    """
    header = [spoken(head) for head in _HEADER]
    shown = [
        value
        for value in comparison.values
        if everything or ((value.finding in ATTENTION or value.conditions) and not value.told_by)
    ]
    return header, [_row(value, comparison.unit_system) for value in shown]


def verdict_change_rows(comparison: Comparison) -> tuple[Sequence[str], list[list[str]]]:
    """Return header and one row for each verdict that is another one now."""
    rows = [
        [c.tag, spoken(c.baseline), spoken(c.later), c.label, c.sentence]
        for c in comparison.verdict_changes
    ]
    return [spoken(head) for head in _CHANGED_HEADER], rows


def _row(value: Compared, system: str) -> list[str]:
    uncertainty = ""
    if value.uncertainty is not None:
        uncertainty = (
            f"±{uncertainty_figure(abs(_as_difference(value.uncertainty, value, system)))}"
        )
    difference = ""
    if value.difference is not None:
        shown = figure(_as_difference(value.difference, value, system), _decimals(value, system))
        difference = shown if shown.startswith("−") else f"+{shown}"
    return [
        value.tag or spoken("Project"),
        spoken(value.finding),
        _shown(value.baseline, value, system),
        _shown(value.later, value, system),
        difference,
        uncertainty,
        spoken(
            "{label} (rests on {conditions})",
            label=value.label,
            conditions=", ".join(value.conditions),
        )
        if value.conditions
        else value.label,
    ]


def difference_words(value: Compared, system: str) -> str:
    """Return a difference with its unit and uncertainty: "−6.0 ±2.6 psig"; "" without one."""
    _, _, _, _, difference, uncertainty, _ = _row(value, system)
    unit = value.unit if value.unit not in UNITS else shown_unit(value.unit, system)
    return " ".join(filter(None, (difference, uncertainty, unit))) if difference else ""


def _shown(content: float | str | None, value: Compared, system: str) -> str:
    if content is None or isinstance(content, str):
        return spoken(content or "")
    if value.unit not in UNITS:  # of a form with units that this program does not know
        return with_unit(content, value.unit, value.decimals)
    target = shown_unit(value.unit, system)
    return with_unit(convert(content, value.unit, target), target, _decimals(value, system))


def _as_difference(number: float, value: Compared, system: str) -> float:
    if value.unit not in UNITS:
        return number
    return number * difference_scale(value.unit, shown_unit(value.unit, system))


def _decimals(value: Compared, system: str) -> int | None:
    same = value.unit not in UNITS or shown_unit(value.unit, system) == value.unit
    return value.decimals if same else None
