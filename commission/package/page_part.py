"""One page of one unit: its tables, what was found, shown work, what is not there and why."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from reportlab.platypus import Flowable

from commission.definitions.model import Key, Quantity, Section
from commission.formula.evaluate import State
from commission.formula.work import WorkLine
from commission.package.flowables import Heading, Work, gap, kept, named, words, work_room
from commission.package.look import BOLD, NOTE, REGULAR, STATE_COLOURS, TABLE_SIZE
from commission.package.page_tables import page_tables
from commission.package.page_values import PageValues
from commission.package.tables import Cell, Column, DataTable, Row
from commission.package.turnover import Part, Turnover
from commission.package.typesetting import width_of
from commission.package.wording import (
    check_label,
    gravity,
    state_mark,
    verdict_colour,
    verdict_mark,
)
from commission.validation.report import sentence
from commission.validation.results import SectionState, UnitResults
from commission.validation.verdict import Outcome, Verdict

_MOST_WORKED_MEMBERS = 6
_WORKED_OF_MANY = 2
_SETTLED = (Outcome.PASS, Outcome.NOT_APPLICABLE)


def page_flowables(turnover: Turnover, part: Part, section: Section) -> list[Flowable]:
    """Return everything of one page, its heading first."""
    state = turnover.state_of(part.results, section)
    heading = Heading(
        section.title,
        2,
        key=part.page_key(section),
        aside=state_mark(state),
        aside_colour=STATE_COLOURS[state],
    )
    body = [*_blocked(part.results, section), *_tables(turnover, part, section)]
    body += _findings(turnover, part, section)
    body += list(_remarks(part, section))
    body += _work(turnover, part.results, section)
    if not body:
        body = [words("Nothing was recorded on this page.", NOTE)]
    flowables = _kept_with_heading(turnover.width, heading, body)
    return [*flowables, gap(0.5)]


def _kept_with_heading(width: float, heading: Heading, body: list[Flowable]) -> list[Flowable]:
    first = next(
        (place for place, flowable in enumerate(body) if isinstance(flowable, DataTable)), 0
    )
    return [*kept(width, heading, *body[: first + 1]), *body[first + 1 :]]


def _blocked(results: UnitResults, section: Section) -> list[Flowable]:
    blocking = results.blocking(section)
    if not blocking:
        return []
    names = "; ".join(f"{check_label(results, v)} ({v.outcome})" for v in blocking)
    return [named("Not to be done before:", f"{names}.")]


def _tables(turnover: Turnover, part: Part, section: Section) -> list[Flowable]:
    flowables: list[Flowable] = []
    for caption, table in page_tables(PageValues(turnover, part, section)):
        if caption:
            flowables += kept(turnover.width, Heading(caption, 3), table)
        else:
            flowables.append(table)
    return flowables


# -- what was found --------------------------------------------------------------------


def speaks(verdict: Verdict) -> bool:
    """Return whether a verdict's sentence is printed: all that is not a plain pass."""
    if verdict.outcome is Outcome.PASS:
        return verdict.near_limit
    return verdict.outcome in (Outcome.FAIL, Outcome.INCONCLUSIVE)


def _findings(turnover: Turnover, part: Part, section: Section) -> list[Flowable]:
    results = part.results
    found = sorted((v for v in results.verdicts(section) if speaks(v)), key=gravity)
    if not found:
        return []
    columns = [Column("Verdict", 80), Column("What", 150), Column("Why, and what to do", 286)]
    rows = []
    for verdict in found:
        cure = verdict.check.cure if gravity(verdict) < 4 else ""
        told = sentence(results, verdict)
        rows.append(
            Row(
                [
                    Cell(verdict_mark(verdict), BOLD, verdict_colour(verdict)),
                    check_label(results, verdict),
                    f"{told} {cure}".rstrip(),
                ],
                key=part.verdict_key(verdict),
            )
        )
    return kept(turnover.width, Heading("Findings", 3), DataTable(columns, rows))


# -- what is not there, and where limits come from ---------------------------------------


def _remarks(part: Part, section: Section) -> Iterator[Flowable]:
    results = part.results
    lists = (
        ("Put right since it was found:", _put_right(part, section)),
        ("Not applicable:", _not_applicable(results, section)),
        ("Not recorded:", _unread(results, section, required=True)),
        ("Not recorded, not required:", _unread(results, section, required=False)),
        ("Not known for want of readings:", _unknown(results, section)),
        ("Not judged yet:", _not_judged(results, section)),
        ("Limits from:", _origins(results, section)),
        ("Notes with readings:", _notes(part, section)),
    )
    for name, items in lists:
        if items:
            yield named(name, "; ".join(items) + ".")


def _put_right(part: Part, section: Section) -> list[str]:
    """Return what the first pass failed and the last one passes, with the first sentence."""
    if len(part.passes) < 2:
        return []
    first = part.passes[0][1]
    found = []
    for verdict in part.results.verdicts(section):
        before = first.verdict(verdict.check.name, verdict.index)
        if verdict.outcome is Outcome.PASS and before.outcome is Outcome.FAIL:
            label = check_label(part.results, verdict)
            found.append(f"{label}: {before.sentence.rstrip('.')}")
    return found


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


def _not_applicable(results: UnitResults, section: Section) -> list[str]:
    found = []
    for field in section.fields:
        reasons: dict[str, list[tuple[int, ...]]] = {}
        for member in _members_in(results, field.name, State.NOT_APPLICABLE):
            reasons.setdefault(results.value(field.name, member).reason, []).append(member)
        found += [f"{_labels(results, field.name, m)}: {why}" for why, m in reasons.items()]
    return found


def _unread(results: UnitResults, section: Section, required: bool) -> list[str]:
    return [
        _labels(results, field.name, members)
        for field in section.fields
        if field.required is required
        for members in (_members_in(results, field.name, State.MISSING),)
        if members
    ]


def _unknown(results: UnitResults, section: Section) -> list[str]:
    if results.state(section) is SectionState.EMPTY:
        return []
    return [
        _labels(results, quantity.name, members)
        for quantity in section.quantities
        for members in (_members_in(results, quantity.name, State.MISSING),)
        if members
    ]


def _not_judged(results: UnitResults, section: Section) -> list[str]:
    """Return the checks of known values that have no limit yet, with what is to be entered."""
    found: dict[str, None] = {}
    for verdict in results.verdicts(section):
        if verdict.outcome is Outcome.MISSING and verdict.value.state is State.KNOWN:
            told = verdict.sentence.rstrip(".")
            found[f"{check_label(results, verdict)}: {told[:1].lower()}{told[1:]}"] = None
    return list(found)


def _origins(results: UnitResults, section: Section) -> list[str]:
    origins: dict[str, dict[str, None]] = {}
    for verdict in results.verdicts(section):
        if verdict.limit.origin and verdict.outcome not in (
            Outcome.NOT_APPLICABLE,
            Outcome.MISSING,
        ):
            origins.setdefault(verdict.limit.origin, {})[verdict.check.label] = None
    return [f"{', '.join(labels)} – {origin}" for origin, labels in origins.items()]


def _notes(part: Part, section: Section) -> list[str]:
    """Return the notes written with readings, those of earlier passes too."""
    found: dict[str, None] = {}
    for field in section.fields:
        for member in part.results.asked_members(field.name):
            label = part.results.label(Key(field.name, member))
            for _, results in part.passes:
                reading = results.reading(field.name, member)
                if reading is not None and reading.note:
                    found[f"{label}: {reading.note.rstrip('.')}"] = None
    return list(found)


# -- shown work --------------------------------------------------------------------------


def _work(turnover: Turnover, results: UnitResults, section: Section) -> list[Flowable]:
    works: list[Flowable] = []
    for quantity in section.quantities:
        if not quantity.text:
            works += _quantity_work(turnover, results, quantity)
    if not works:
        return []
    title = "Shown work" if results.unit_system == "IP" else "Shown work, in IP units"
    return [*kept(turnover.width, Heading(title, 3), works[0]), *works[1:]]


def _quantity_work(turnover: Turnover, results: UnitResults, quantity: Quantity) -> list[Flowable]:
    members = [m for m in results.asked_members(quantity.name) if results.work(quantity.name, m)]
    if not members:
        return []
    few = members if len(members) <= _MOST_WORKED_MEMBERS else members[:_WORKED_OF_MANY]
    lines: list[str] = []
    formula = ""
    for member in few:
        work = results.work(quantity.name, member)
        assert work is not None
        # Without a symbol of its own the quantity's label stands at the left already.
        own = f"{work.symbol} = " if quantity.symbol else ""
        opening = own + work.symbols
        if opening not in (formula, work.result):
            lines.append(opening)
            formula = opening
        name = results.member_label(quantity.name, member)
        line = _in_numbers(results, Key(quantity.name, member), work)
        lines.append(f"{name}:  {line}" if name else f"= {line}")
    if len(few) < len(members):
        lines.append(f"… and {len(members) - len(few)} more in the same way")
    joined = " ".join(lines)
    if members == [()] and width_of(joined, REGULAR, TABLE_SIZE) < work_room(turnover.width):
        lines = [joined]
    return [Work(quantity.label, lines, quantity.source)]


def _in_numbers(results: UnitResults, key: Key, work: WorkLine) -> str:
    """Return the line with the numbers; in an SI project the conversion is its last step."""
    parts = [work.numbers] if work.numbers != work.result else []
    parts.append(work.result)
    shown = results.shown(key.name, key.index)
    if shown != work.result:
        parts.append(shown)
    return " = ".join(parts)
