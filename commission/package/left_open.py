"""What a page does not hold, and why: not applicable, not recorded, not known, not judged."""

from __future__ import annotations

from collections.abc import Sequence

from commission.definitions.model import Section
from commission.formula.evaluate import State
from commission.package.wording import check_label
from commission.validation.results import SectionState, UnitResults
from commission.validation.verdict import Outcome


def _labels(results: UnitResults, name: str, members: Sequence[tuple[int, ...]]) -> str:
    """Return a label, with the members it stands for if not all of them."""
    label = results.calculation.plan.entries[name].label
    if not members or members == [()]:
        return label
    if len(members) == len(results.asked_members(name)):
        return label
    return f"{label} ({', '.join(results.member_label(name, member) for member in members)})"


def _members_in(results: UnitResults, name: str, state: State) -> list[tuple[int, ...]]:
    return [m for m in results.asked_members(name) if results.value(name, m).state is state]


def not_applicable(results: UnitResults, section: Section) -> list[tuple[str, str]]:
    """Return what somebody marked not applicable as (label, reason)."""
    found: list[tuple[str, str]] = []
    for field in section.fields:
        reasons: dict[str, list[tuple[int, ...]]] = {}
        for member in _members_in(results, field.name, State.NOT_APPLICABLE):
            reasons.setdefault(results.value(field.name, member).reason, []).append(member)
        found += [(_labels(results, field.name, m), why) for why, m in reasons.items()]
    return found


def unread(results: UnitResults, section: Section, required: bool) -> list[str]:
    """Return the labels of what nobody has recorded."""
    return [
        _labels(results, field.name, members)
        for field in section.fields
        if field.required is required
        for members in (_members_in(results, field.name, State.MISSING),)
        if members
    ]


def unknown(results: UnitResults, section: Section) -> list[str]:
    """Return the quantities that lack a reading, of a page that has been begun."""
    if results.state(section) is SectionState.EMPTY:
        return []
    return [
        _labels(results, quantity.name, members)
        for quantity in section.quantities
        for members in (_members_in(results, quantity.name, State.MISSING),)
        if members
    ]


def not_judged(results: UnitResults, section: Section) -> list[tuple[str, str]]:
    """Return the checks of known values without a limit as (label, what is to be entered)."""
    found: dict[tuple[str, str], None] = {}
    for verdict in results.verdicts(section):
        if verdict.outcome is Outcome.MISSING and verdict.value.state is State.KNOWN:
            found[check_label(results, verdict), verdict.sentence.rstrip(".")] = None
    return list(found)
