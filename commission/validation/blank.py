"""A site as it is before the work on the roof: what is known beforehand, nothing measured.

Known beforehand is what stands on the pages of the form's first stage (job, nameplate,
design) and, on any page, what decides which pages and rows there are. Limits stay too: they
come from the literature. Everything else is as unread.
"""

from __future__ import annotations

from dataclasses import replace

from commission.definitions.model import Field, Level, Quantity
from commission.formula.evaluate import State
from commission.formula.tree import names_in
from commission.validation.calculation import Calculation
from commission.validation.plan import Plan
from commission.validation.results import UnitResults
from commission.validation.site import SiteResults


def blank_site(site: SiteResults) -> SiteResults:
    """Return the results of a site with all that is measured on the roof left unread."""
    pages, units = blank_results(site.pages), tuple(map(blank_results, site.units))
    return replace(site, pages=pages, units=units)


def blank_results(results: UnitResults) -> UnitResults:
    """Return one unit's results with only what is known before the work."""
    known = known_beforehand(results.calculation.plan)
    old = results.calculation
    calculation = Calculation(
        old.plan,
        given={key: given for key, given in old.given.items() if key.name in known},
        limits=dict(old.limits),
        instruments=old.instruments,
        decision=old.decision,
    )
    readings = {
        key: reading for key, reading in (results.readings or {}).items() if key.name in known
    }
    return replace(results, calculation=calculation, readings=readings, overrides=())


def known_beforehand(plan: Plan) -> frozenset[str]:
    """Return the names of the fields whose answers a blank workbook keeps."""
    first = plan.form.sections[0].stage if plan.form.sections else ""
    return frozenset(
        name
        for name, entry in plan.entries.items()
        if isinstance(entry, Field)
        and (name in plan.structural or plan.form.section_by_name[entry.section].stage == first)
    )


def counting_names(plan: Plan) -> frozenset[str]:
    """Return the fields that decide how many members a repeat has."""
    waiting = {name for repeat in plan.form.repeats.values() for name in names_in(repeat.count)}
    found: set[str] = set()
    while waiting:
        entry = plan.entries[waiting.pop()]
        if isinstance(entry, Field):
            found.add(entry.name)
        elif isinstance(entry, Quantity):
            waiting |= set(names_in(entry.formula))
    return frozenset(found)


def unanswered_counts(results: UnitResults) -> list[str]:
    """Return the labels of unanswered questions that decide how many rows there are.

    Also those that only an answer still open would ask.
    """
    plan = results.calculation.plan
    level = Level.UNIT if results.unit_id else Level.PROJECT
    counting = counting_names(plan)
    fields = [
        field
        for section in plan.form.sections
        if section.level is level
        for field in section.fields
        if field.name in counting and not field.repeat
    ]
    return [field.label for field in fields if _is_open(results, field)]


def _is_open(results: UnitResults, field: Field) -> bool:
    if results.relevant(field.name):
        return results.value(field.name).state is State.MISSING
    page = results.form.section_by_name[field.section].when
    names = {name for tree in (page, field.when) if tree is not None for name in names_in(tree)}
    return any(results.value(name).state is State.MISSING for name in names)
