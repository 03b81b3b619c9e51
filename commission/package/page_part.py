"""One page of one unit: its tables, what was found, shown work, what is not there and why."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from reportlab.platypus import Flowable

from commission.definitions.model import Key, Section
from commission.language import spoken
from commission.package.abreast import Abreast, half
from commission.package.figures_part import figure_stacks, figures_beside
from commission.package.flowables import Heading, gap, kept, named, words
from commission.package.left_open import not_applicable, not_judged, unknown, unread
from commission.package.look import BOLD, NOTE, STATE_COLOURS
from commission.package.page_tables import page_tables
from commission.package.page_values import PageValues
from commission.package.shown_work import shown_work
from commission.package.tables import Cell, Column, DataTable, Row
from commission.package.turnover import Part, Turnover
from commission.package.wording import (
    check_label,
    gravity,
    state_mark,
    verdict_colour,
    verdict_mark,
)
from commission.validation.report import sentence
from commission.validation.results import UnitResults
from commission.validation.verdict import Outcome, Verdict

_SETTLED = (Outcome.PASS, Outcome.NOT_APPLICABLE)
_MUCH = 0.8  # tables abreast must be lower by this share
_MOST_ABREAST = 240.0  # points; a higher pair could leave a third of a page empty before it


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
    stacks = figure_stacks(turnover, part.results, section)
    body += figures_beside(turnover.width, stacks, list(_remarks(part, section)))
    if turnover.with_work:
        body += shown_work(turnover, part.results, section)
    if not body:
        body = [words(spoken("Nothing was recorded on this page."), NOTE)]
    flowables = _kept_with_heading(turnover.width, heading, body)
    return [*flowables, gap(0.5)]


def _kept_with_heading(width: float, heading: Heading, body: list[Flowable]) -> list[Flowable]:
    first = next(
        (n for n, flowable in enumerate(body) if isinstance(flowable, DataTable | Abreast)), 0
    )
    return [*kept(width, heading, *body[: first + 1]), *body[first + 1 :]]


def _blocked(results: UnitResults, section: Section) -> list[Flowable]:
    blocking = results.blocking(section)
    if not blocking:
        return []
    names = "; ".join(f"{check_label(results, v)} ({spoken(v.outcome)})" for v in blocking)
    return [named(spoken("Not to be done before:"), f"{names}.")]


def _tables(turnover: Turnover, part: Part, section: Section) -> list[Flowable]:
    """Return the tables of a page in the order of the form, small ones two abreast."""
    waiting = list(page_tables(PageValues(turnover, part, section)))
    flowables: list[Flowable] = []
    while waiting:
        pair = _abreast(turnover.width, waiting[:2])
        if pair is not None:
            flowables.append(pair)
            del waiting[:2]
            continue
        caption, table = waiting.pop(0)
        if caption:
            flowables += kept(turnover.width, Heading(caption, 3), table)
        else:
            flowables.append(table)
    return flowables


def _abreast(width: float, pair: Sequence[tuple[str, DataTable]]) -> Abreast | None:
    """Return two tables side by side if neither breaks a line for it and it is much lower."""
    narrow = [table.narrowed(half(width)) for _, table in pair]
    if len(pair) < 2 or None in narrow:
        return None
    stacks: list[list[Flowable]] = [
        [Heading(caption, 3), table] if caption else [table]
        for (caption, _), table in zip(pair, narrow, strict=True)
    ]
    beside = Abreast(stacks)
    beneath = sum(flowable.wrap(width, 0)[1] for stack in stacks for flowable in stack)
    height = beside.wrap(width, 0)[1]
    return beside if height < min(_MUCH * beneath, _MOST_ABREAST) else None


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
    columns = [
        Column(spoken("Verdict"), 80),
        Column(spoken("What"), 150),
        Column(spoken("Why, and what to do"), 286),
    ]
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
    return kept(turnover.width, Heading(spoken("Findings"), 3), DataTable(columns, rows))


# -- what is not there, and where limits come from ---------------------------------------


def _remarks(part: Part, section: Section) -> Iterator[Flowable]:
    results = part.results
    lists = (
        (spoken("Put right since it was found:"), _put_right(part, section)),
        (
            spoken("Not applicable:"),
            [f"{label}: {why}" for label, why in not_applicable(results, section)],
        ),
        (spoken("Not recorded:"), unread(results, section, required=True)),
        (spoken("Not recorded, not required:"), unread(results, section, required=False)),
        (spoken("Not known for want of readings:"), unknown(results, section)),
        (
            spoken("Not judged yet:"),
            [f"{label}: {why[:1].lower()}{why[1:]}" for label, why in not_judged(results, section)],
        ),
        (spoken("Limits from:"), _origins(results, section)),
        (spoken("Notes with readings:"), _notes(part, section)),
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
