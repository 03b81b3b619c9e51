"""A made-up site in which every asked field of a form is answered, for tests of outputs.

The numbers are midpoints of what is plausible, not a real unit's: they exercise formulas.
"""

from __future__ import annotations

import random
from collections.abc import Mapping
from datetime import UTC, datetime
from itertools import count
from pathlib import Path

from commission.definitions.model import Field, Form, Key, Kind, Level
from commission.project import Entered, ProjectFile
from commission.validation.plan import Plan
from commission.validation.results import UnitResults
from commission.validation.site import unit_results

Answers = Mapping[str, float | str]
_MOMENT = datetime(2026, 9, 14, 15, 0, tzinfo=UTC)


def fixed_ids() -> object:
    """Return a source of ids that is the same each time."""
    numbers = count(1)
    return lambda: f"00000000-0000-4000-8000-{next(numbers):012d}"


def new_project(path: Path, form: Form, title: str = "Test site") -> ProjectFile:
    """Return a new project file whose ids and times are always the same."""
    return ProjectFile.create(
        path,
        form_id=form.id,
        form_version=form.version,
        form_hash=form.content_hash,
        title=title,
        clock=lambda: _MOMENT,
        new_id=fixed_ids(),
    )


def fill(project: ProjectFile, form: Form, unit_id: str, answers: Answers, seed: int = 1) -> None:
    """Answer every field that a unit (or, for "", the project) is asked, until none is left."""
    plan, source = Plan(form), random.Random(seed)
    instruments = {item.kind: item.id for item in project.instruments()}
    unit = next((unit for unit in project.units() if unit.id == unit_id), None)
    for _ in range(12):
        results = unit_results(project, plan, unit)
        waiting = [key for key in _asked(results) if results.reading(*key) is None]
        if not waiting:
            return
        for key in waiting:
            field = plan.entries[key.name]
            assert isinstance(field, Field)
            if field.instrument and field.instrument not in instruments:
                instruments[field.instrument] = _instrument(project, field)
        project.record_many(
            Entered(
                unit_id,
                key.name,
                key.index,
                _answer(plan.entries[key.name], answers, source),
                instrument_id=instruments.get(plan.entries[key.name].instrument, ""),
            )
            for key in waiting
        )


def _asked(results: UnitResults) -> list[Key]:
    level = Level.UNIT if results.unit_id else Level.PROJECT
    return [
        Key(field.name, index)
        for section in results.form.sections
        if section.level is level
        for field in section.fields
        for index in results.asked_members(field.name)
    ]


def _instrument(project: ProjectFile, field: Field) -> str:
    made = project.add_instrument(
        field.instrument,
        serial=f"S-{field.instrument}",
        percent_of_reading=0.5,
        percent_of_span=0.1,
        span=100.0,
        plus_minus=0.2,
        unit=field.unit,
        calibrated_on="2026-01-10",
        calibration_due="2027-01-10",
    )
    return made.id


def small_table(field: Field) -> str:
    """Return a small table whose values rise, so that it can be read either way round."""
    low, high = field.possible or (0.0, 100.0)
    values = [low + (high - low) * share for share in (0.2, 0.4, 0.6)]
    heads = "/\t0.5\t1.5\n" if field.columns else ""
    wide = 2 if field.columns else 1
    rows = enumerate(values, start=1)
    return heads + "\n".join("\t".join([str(at * 50), *[str(v)] * wide]) for at, v in rows)


def _answer(field: Field, answers: Answers, source: random.Random) -> float | str:
    if field.name in answers:
        answer = answers[field.name]
        return float(answer) if isinstance(answer, int) else answer
    if field.choices:
        return field.choices[0]
    if field.kind is Kind.DATE:
        return "2026-09-14"
    if field.kind is Kind.TIME:
        return "10:15"
    if field.kind is Kind.TABLE:
        return small_table(field)
    if field.kind not in (Kind.NUMBER, Kind.INTEGER):
        return f"{field.label}, as seen"
    low, high = field.plausible or field.possible or (1.0, 10.0)
    if field.kind is Kind.INTEGER:
        return float(max(min(2.0, high), low))
    return round(low + (high - low) * source.uniform(0.3, 0.6), 3)
