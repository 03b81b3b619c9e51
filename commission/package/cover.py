"""The first page: what this is, whether a stop was passed over, and exactly what made it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from reportlab.platypus import Flowable

from commission.definitions.model import Kind
from commission.formula.evaluate import State
from commission.language import spoken
from commission.package.cautions import DEFERRAL
from commission.package.flowables import Box, Heading, gap, words
from commission.package.look import (
    ALARM,
    BODY,
    BOLD,
    DOUBT,
    GOOD,
    LEAD,
    NOTE,
    OVERLINE,
    QUIET,
    TITLE,
)
from commission.package.tables import Cell, Column, DataTable, Row
from commission.package.turnover import Part, Turnover
from commission.package.wording import counted, is_failure, minute
from commission.validation.results import UnitResults
from commission.validation.verdict import Outcome

_IDENTIFYING = (Kind.TEXT, Kind.NOTE, Kind.DATE)


def cover(turnover: Turnover) -> list[Flowable]:
    """Return the cover; overrides stand on it before anything that could push them off."""
    count = len(turnover.units)
    return [
        gap(4),
        words(spoken("Turnover package"), OVERLINE),
        words(turnover.title, TITLE, is_title=True),
        words(turnover.site.form.title, LEAD),
        *([words(turnover.volume, BODY)] if turnover.volume else ()),
        gap(1),
        _counts(turnover),
        *_overrides(turnover),
        Heading(spoken("Project"), 3, outlined=False),
        DataTable([Column("", 150), Column("", 366)], _facts(turnover), header=False),
        Heading(counted(count, "unit covered", "units covered"), 3, outlined=False),
        _units(turnover.units),
        Heading(spoken("Made by"), 3, outlined=False),
        DataTable([Column("", 150), Column("", 366)], _identity(turnover), header=False),
        words(spoken(DEFERRAL), NOTE),
    ]


def _counts(turnover: Turnover) -> Box:
    verdicts = [verdict for _, verdict in turnover.verdicts]
    stops = sum(verdict.stops for verdict in verdicts)
    failures = sum(is_failure(verdict) for verdict in verdicts) - stops
    open_ones = sum(verdict.outcome is Outcome.INCONCLUSIVE for verdict in verdicts)
    passes = sum(verdict.outcome is Outcome.PASS for verdict in verdicts)
    missing = sum(verdict.outcome is Outcome.MISSING for verdict in verdicts)
    seen = [fact for _, fact in turnover.trends if fact.is_failure]
    colour = ALARM if stops or failures or seen else DOUBT if open_ones or missing else GOOD
    headline = ", ".join(
        (counted(stops, "stop", "stops"), counted(failures, "failure", "failures"))
    )
    rest = spoken(
        "{unsure}, {missing} not yet possible, {passed} passed.",
        unsure=counted(open_ones, "inconclusive result", "inconclusive results"),
        missing=counted(missing, "check", "checks"),
        passed=counted(passes, "check", "checks"),
    )
    lines = [(headline[0].upper() + headline[1:], True), (rest[0].upper() + rest[1:], False)]
    if seen:
        findings = counted(len(seen), "failure", "failures")
        lines.append((spoken("Trend logs show {findings} more.", findings=findings), False))
    return Box([*lines, *_not_to_run(turnover)], colour)


def _not_to_run(turnover: Turnover) -> list[tuple[str, bool]]:
    """Return the units with a stop that nobody has passed over."""
    tags = dict.fromkeys(
        part.results.tag or spoken("Project")
        for part, verdict in turnover.verdicts
        if verdict.stops and part.results.override_of(verdict) is None
    )
    return [(spoken("Do not run: {tags}.", tags=", ".join(tags)), True)] if tags else []


def _overrides(turnover: Turnover) -> list[Flowable]:
    rows = [*_override_rows(turnover), *_waiver_rows(turnover)]
    if not rows:
        return [words(spoken("No stop was passed over."), BODY)]
    columns = [
        Column(spoken("Unit"), 62),
        Column(spoken("Stop"), 168),
        Column(spoken("By, on"), 110),
        Column(spoken("Reason"), 176),
    ]
    title = counted(len(rows), "stop was passed over", "stops were passed over")
    return [
        Heading(title, 3, outlined=False),
        DataTable(columns, rows),
    ]


def _override_rows(turnover: Turnover) -> Iterator[Row]:
    for part, override in turnover.overrides():
        entry = turnover.site.form.by_name.get(override.check)
        label = entry.label if entry is not None else override.check
        by = f"{override.person_name}\n{minute(override.at)}"
        yield _passed_over(part, label, by, override.reason)


def _waiver_rows(turnover: Turnover) -> Iterator[Row]:
    """Yield the stops that somebody marked not applicable: they answer for it by name."""
    for results in turnover.everything:
        part = turnover.part(results)
        for verdict, readings in results.waivers():
            for reading in readings:
                person = turnover.people.get(reading.person_id)
                by = f"{person.name if person else spoken('nobody named')}\n{minute(reading.at)}"
                reason = spoken("Marked not applicable: {reason}", reason=reading.not_applicable)
                yield _passed_over(part, verdict.check.label, by, reason)


def _passed_over(part: Part, label: str, by: str, reason: str) -> Row:
    tag = Cell(part.results.tag or spoken("Project"), BOLD)
    return Row([tag, Cell(label, link=part.key), by, reason])


def _facts(turnover: Turnover) -> list[Row]:
    """Return what the project's own pages say of it in words: site, address, references."""
    pages = turnover.site.pages
    section = next(iter(turnover.sections_of(pages)), None)
    rows = []
    for field in section.fields if section is not None else ():
        value = pages.value(field.name)
        if field.kind in _IDENTIFYING and not field.repeat and value.state is State.KNOWN:
            rows.append(Row([Cell(field.label, colour=QUIET), pages.shown(field.name)]))
    return rows or [Row([Cell(spoken("Nothing recorded"), colour=QUIET), ""])]


def _units(units: Sequence[UnitResults]) -> DataTable:
    width = 6
    tags = [results.tag for results in units]
    rows = [
        Row(
            [Cell(tag, BOLD) for tag in tags[first : first + width]]
            + [""] * max(0, width - len(tags[first : first + width]))
        )
        for first in range(0, len(tags), width)
    ]
    return DataTable([Column("", 86)] * width, rows, header=False)


def _identity(turnover: Turnover) -> list[Row]:
    form, project = turnover.site.form, turnover.project
    facts = [
        (
            spoken("Form"),
            spoken("{form}, version {version}", form=form.id, version=form.version),
        ),
        (spoken("Form content"), form.content_hash),
        (spoken("Program"), turnover.program()),
        (spoken("Refrigerant properties"), turnover.property_source()),
        (
            spoken("Project file"),
            spoken("{file}, revision {number}", file=project.uuid, number=project.revision),
        ),
        (spoken("Last change of the project"), minute(turnover.last_change)),
    ]
    if turnover.unit_system != project.unit_system:
        told = spoken(
            "{shown}, converted for this package; the project was entered in {own}",
            shown=turnover.unit_system,
            own=project.unit_system,
        )
        facts.insert(0, (spoken("Units of measurement"), told))
    if project.form_hash and project.form_hash != form.content_hash:
        begun = spoken(
            "version {version}, {hash}", version=project.form_version, hash=project.form_hash
        )
        after = next(n for n, (name, _) in enumerate(facts) if name == spoken("Form content"))
        facts.insert(after + 1, (spoken("Form when begun"), begun))
    return [Row([Cell(name, colour=QUIET), text]) for name, text in facts]
