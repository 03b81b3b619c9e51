"""What the results add to a record: fields, quantities and verdicts as plain rows."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from commission.archive.vocabulary import (
    UnitCode,
    is_condition,
    is_requirement,
    role_fields,
    tags,
    unit_code,
)
from commission.definitions.model import Check, Entry, Field, Form, Kind, Quantity
from commission.formula.parse import unparse
from commission.formula.tree import names_in
from commission.project import Instrument, Reading
from commission.units import UNITS
from commission.validation.report import sentence
from commission.validation.results import UnitResults
from commission.validation.site import SiteResults, measuring_from
from commission.validation.verdict import Verdict

Record = dict[str, Any]


def field_row(form: Form, entry: Field | Quantity) -> Record:
    """Return what a field or quantity is, so that the record can be read without the form."""
    code, meaning = code_of(entry), tags(entry.name)
    return {
        "name": entry.name,
        "label": entry.label,
        "kind": "quantity" if isinstance(entry, Quantity) else str(entry.kind),
        "section": entry.section,
        "section_title": form.section_by_name[entry.section].title,
        "level": str(form.section_by_name[entry.section].level),
        "repeat": list(entry.repeat),
        "unit": entry.unit,
        "unit_qudt": code.qudt,
        "unit_ucum": code.ucum,
        "unit_reference": code.reference,
        "decimals": entry.decimals,
        "symbol": entry.symbol,
        "formula": unparse(entry.formula) if isinstance(entry, Quantity) else "",
        "inputs": list(names_in(entry.formula)) if isinstance(entry, Quantity) else [],
        "source": entry.source if isinstance(entry, Quantity) else "",
        "condition": is_condition(entry.name),
        "requirement": is_requirement(entry.section),
        "haystack_tags": meaning.haystack,
        "brick_class": meaning.brick,
    }


def code_of(entry: Field | Quantity | None) -> UnitCode:
    """Return an entry's unit in the open vocabularies; empty for what holds no number."""
    numeric = isinstance(entry, Quantity) and not entry.text
    if isinstance(entry, Field):
        numeric = entry.kind in (Kind.NUMBER, Kind.INTEGER)
    return unit_code(entry.unit) if entry is not None and numeric else UnitCode()


def member_label(form: Form, entry: Entry | None, index: tuple[int, ...]) -> str:
    """Return "Circuit 2" or "Compressor 1 · L2"; the bare numbers if the form has changed."""
    if entry is None or len(entry.repeat) != len(index):
        return " · ".join(map(str, index))
    labels = (
        form.repeats[repeat].member_label(number)
        for repeat, number in zip(entry.repeat, index, strict=True)
    )
    return " · ".join(labels)


def reading_uncertainty(
    entry: Entry | None, reading: Reading | float | str | None, instrument: Instrument | None
) -> float | None:
    """Return the standard uncertainty (k = 1) of one reading by its instrument's accuracy.

    None without an instrument or a number. Source: JCGM 100:2008 4.3.7.
    """
    value = reading.value if isinstance(reading, Reading) else reading
    if instrument is None or entry is None or not isinstance(value, float):
        return None
    measuring = measuring_from(instrument)
    given, wanted = UNITS.get(measuring.unit), UNITS.get(entry.unit)
    alike = given and wanted and measuring.unit and given.dimension == wanted.dimension
    scale = given.scale / wanted.scale if given and wanted and alike else 1.0
    return measuring.accuracy.standard_uncertainty(value, scale)


def quantity_rows(results: UnitResults) -> Iterator[Record]:
    """Yield every computed quantity that the configuration has, known or not."""
    factor = results.calculation.decision.coverage_factor
    for section in results.sections():
        for quantity in section.quantities:
            meaning, code = tags(quantity.name), code_of(quantity)
            for index in results.asked_members(quantity.name):
                value = results.value(quantity.name, index)
                expanded = results.expanded(quantity.name, index)
                yield {
                    "unit_id": results.unit_id,
                    "tag": results.tag,
                    "name": quantity.name,
                    "index": list(index),
                    "label": quantity.label,
                    "member": results.member_label(quantity.name, index),
                    "value": value.content,
                    "state": str(value.state),
                    "reason": value.reason,
                    "unit": quantity.unit,
                    "unit_qudt": code.qudt,
                    "unit_ucum": code.ucum,
                    "u": None if expanded is None else expanded / factor,
                    "expanded_uncertainty": expanded,
                    "haystack_tags": meaning.haystack,
                    "brick_class": meaning.brick,
                }


def verdict_rows(results: UnitResults) -> Iterator[Record]:
    """Yield every verdict with the limit applied and the sentence that says why."""
    for verdict in results.verdicts():
        yield _verdict_row(results, verdict)


def _verdict_row(results: UnitResults, verdict: Verdict) -> Record:
    check: Check = verdict.check
    override = results.override_of(verdict)
    return {
        "unit_id": results.unit_id,
        "tag": results.tag,
        "check": check.name,
        "index": list(verdict.index),
        "label": check.label,
        "member": results.member_label(check.name, verdict.index),
        "judges": check.judges,
        "limit": str(check.limit),
        "limit_parts": {part: value.content for part, value in verdict.limit.parts.items()},
        "expected": check.expected,
        "unit": check.unit,
        "origin": verdict.limit.origin,
        "default_limit": verdict.limit.is_default,
        "confirmed": verdict.limit.confirmed,
        "severity": str(check.severity),
        "outcome": str(verdict.outcome),
        "stop": verdict.stops,
        "margin": verdict.margin,
        "expanded_uncertainty": verdict.expanded,
        "sentence": sentence(results, verdict),
        "overridden_by": override.person_name if override else "",
        "override_reason": override.reason if override else "",
    }


def identity_row(site: SiteResults, results: UnitResults) -> Record:
    """Return by what a unit is known again: serial number, make, model ... by role.

    A role whose field the form does not have, or that is not read, is "".
    """
    plan = results.calculation.plan
    found = {
        role: str(results.value(name).content or "")
        for role, name in role_fields().items()
        if name in plan.entries and not plan.entries[name].repeat
    }
    texts = {role: found.get(role, "") for role in ("serial", "make", "model", "area_served")}
    return {"unit_id": results.unit_id, "tag": results.tag, **texts}


def in_force(site: SiteResults) -> frozenset[str]:
    """Return the ids of the readings that count now, of removed units too."""
    project = site.project
    owners = ["", *(unit.id for unit in (*project.units(), *project.units(removed=True)))]
    return frozenset(r.id for owner in owners for r in project.readings(owner).values())


def entry_of(site: SiteResults, name: str) -> Field | Quantity | None:
    """Return a field or quantity by name, or None if this form has none."""
    entry = site.form.by_name.get(name)
    return entry if isinstance(entry, Field | Quantity) else None
