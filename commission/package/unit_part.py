"""The pages of one unit, or of the project itself, after a page that says how they stand."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from reportlab.platypus import Flowable

from commission.definitions.model import Section
from commission.language import spoken, to_say
from commission.package.flowables import Heading, Then, new_page, words
from commission.package.functional_part import functional_flowables
from commission.package.look import BODY, STATE_COLOURS
from commission.package.page_part import page_flowables
from commission.package.tables import Cell, Column, DataTable, Row
from commission.package.trend_part import trend_flowables
from commission.package.turnover import Part, Turnover
from commission.package.wording import counted, listed, state_mark
from commission.validation.results import UnitResults
from commission.validation.sentences import pass_words
from commission.validation.verdict import Outcome

Told = Callable[[str], None]

_NOT_ENTERED = to_say("{readings}; passes: {passes}.")
_ENTERED = to_say("{readings}, entered {when}; passes: {passes}.")
_ENTERED_BY = to_say("{readings}, entered {when} by {people}; passes: {passes}.")


def unit_part(turnover: Turnover, results: UnitResults, told: Told) -> Iterator[Flowable]:
    """Yield a part: its opening, then each page, made only when its turn comes.

    `told` is called with what is being set, once for each page of the form.
    """
    part = turnover.part_with_passes(results)
    yield from new_page(part.title)
    yield Heading(part.title, 1, part.key)
    yield words(_opening(turnover, part), BODY)
    sections = turnover.sections_of(results)
    if sections:
        yield _standing(turnover, part)
    for section in sections:
        yield Then(_page(turnover, part, section, told))
    yield Then(lambda: list(trend_flowables(turnover, part, told)))
    yield Then(lambda: functional_flowables(turnover, part))


def _page(
    turnover: Turnover, part: Part, section: Section, told: Told
) -> Callable[[], list[Flowable]]:
    def make() -> list[Flowable]:
        told(f"{part.title}: {section.title}")
        return page_flowables(turnover, part, section)

    return make


def _opening(turnover: Turnover, part: Part) -> str:
    passes = listed([pass_words(name) for name, _ in part.passes])
    readings = part.results.readings or {}
    own = [r for r in readings.values() if r.unit_id == part.results.unit_id and not r.is_unread]
    days = sorted({reading.at[:10] for reading in own})
    when = days[0] if days else ""
    if len(days) > 1:
        when = spoken("{first} to {last}", first=days[0], last=days[-1])
    people = dict.fromkeys(
        turnover.people[r.person_id].name for r in own if r.person_id in turnover.people
    )
    words_ = _ENTERED_BY if people else _ENTERED if days else _NOT_ENTERED
    told = spoken(
        words_,
        readings=counted(len(own), "reading", "readings"),
        when=when,
        people=listed(list(people)),
        passes=passes,
    )
    if len(part.passes) > 1:
        told += " " + spoken("A blank in a later column means that nothing changed.")
    return told[:1].upper() + told[1:]


def _standing(turnover: Turnover, part: Part) -> DataTable:
    columns = [
        Column(spoken("Page of the form"), 180),
        Column(spoken("State"), 100),
        Column(spoken("Passed"), 40, "right"),
        Column(spoken("Failed"), 40, "right"),
        Column(spoken("Inconcl."), 48, "right"),
        Column(spoken("Missing"), 48, "right"),
        Column(spoken("Unread"), 44, "right"),
        Column(spoken("Page"), 36, "right"),
    ]
    outcomes = (Outcome.PASS, Outcome.FAIL, Outcome.INCONCLUSIVE, Outcome.MISSING)
    rows = []
    for section in turnover.sections_of(part.results):
        state = turnover.state_of(part.results, section)
        progress = part.results.progress(section)
        counts = [str(progress.outcomes.get(outcome, 0) or "·") for outcome in outcomes]
        rows.append(
            Row(
                [
                    section.title,
                    Cell(state_mark(state), colour=STATE_COLOURS[state]),
                    *counts,
                    str(progress.unanswered or "·"),
                    Cell(page_of=part.page_key(section)),
                ]
            )
        )
    return DataTable(columns, rows, leading=8.6, pad=1.0)
