"""A computed value in words: with its uncertainty, and how it was worked out."""

from __future__ import annotations

from commission.definitions.model import Key, Quantity
from commission.formula.evaluate import State
from commission.formula.figures import uncertainty_figure
from commission.language import spoken
from commission.units import convert
from commission.validation.results import UnitResults


def value_words(results: UnitResults, key: Key) -> tuple[str, str]:
    """Return a quantity's value with its uncertainty, and the role of its label."""
    value = results.value(*key)
    if value.state is State.MISSING:
        if value.reason:
            return spoken("needs {reason}", reason=value.reason), "muted"
        return spoken("not known yet"), "muted"
    if value.state is State.NOT_APPLICABLE:
        return f"n/a: {value.reason}", "muted"
    if value.state is State.FAULT:
        return value.reason or spoken("out of range"), "error"
    text = results.shown(*key)
    return f"{text}{plus_minus(results, key)}", "value"


def plus_minus(results: UnitResults, key: Key) -> str:
    """Return "  ± 0.4 Δ°F" where an instrument is named, or ""."""
    expanded = results.expanded(*key)
    if not expanded:
        return ""
    unit = results.calculation.plan.entries[key.name].unit
    shown = results.shown_unit(key.name)
    # An uncertainty is a difference: °F to °C is a step of 5/9, without the offset.
    steps = {"°F": "Δ°F", "°C": "K"}
    scaled = convert(expanded, steps.get(unit, unit), steps.get(shown, shown)) if unit else expanded
    return f"  ± {uncertainty_figure(scaled)} {steps.get(shown, shown)}".rstrip()


def work_words(results: UnitResults, key: Key, quantity: Quantity) -> str:
    """Return the shown work, the source, and what dominates the uncertainty."""
    work = results.work(*key)
    lines = [str(work) if work is not None else spoken("Not worked out yet.")]
    if quantity.source:
        lines.append(spoken("Source: {source}", source=quantity.source))
    dominating = results.dominating_reading(*key)
    if dominating is not None:
        name = results.label(dominating)
        lines.append(spoken("Its uncertainty comes most from: {name}", name=name))
    return "\n".join(lines)
