"""What was not tested, and why: for each unit what is left open, left out or does not exist."""

from __future__ import annotations

from collections.abc import Iterator

from reportlab.platypus import Flowable

from commission.definitions.model import Level
from commission.language import spoken, to_say
from commission.package.flowables import Heading, words
from commission.package.left_open import not_applicable, not_judged, unread
from commission.package.look import BODY, BOLD
from commission.package.tables import Cell, Column, DataTable, Row
from commission.package.turnover import Turnover
from commission.package.wording import check_label, counted
from commission.validation.results import SectionState, UnitResults

KEY = "not-tested"
TITLE = to_say("What was not tested, and why")
_INTRO = to_say(
    "Nothing here has passed. A page that waits for a stop is done when the stop is put right; a "
    "reading not recorded and a limit not entered are still owed; what was marked not applicable "
    "has the reason that was given; a part that a unit does not have is named so that nobody "
    "looks for it."
)
_MOST_NAMED = 12
_Told = tuple[str, str, str]  # what kind it is, what it is, why


def not_tested(turnover: Turnover) -> list[Flowable]:
    """Return one table, a group of rows for each unit."""
    flowables: list[Flowable] = [Heading(spoken(TITLE), 1, KEY)]
    rows: list[Row] = []
    for results in turnover.everything:
        found = list(_told_of(turnover, results))
        if found:
            title = results.tag or spoken("Project")
            key = turnover.part(results).key
            rows.append(Row([Cell(title, BOLD, span=3, goes_to=key)], group=True))
            rows += [Row([kind, what, why]) for kind, what, why in found]
    if not rows:
        return [
            *flowables,
            words(spoken("Everything that the form asks was recorded and judged."), BODY),
        ]
    columns = [
        Column(spoken("Left open"), 92),
        Column(spoken("What"), 236),
        Column(spoken("Why"), 188),
    ]
    return [*flowables, words(spoken(_INTRO), BODY), DataTable(columns, rows)]


def _told_of(turnover: Turnover, results: UnitResults) -> Iterator[_Told]:
    pages = turnover.sections_of(results)
    for section in pages:
        state = turnover.state_of(results, section)
        owed = unread(results, section, required=True)
        if state is SectionState.BLOCKED:
            stops = "; ".join(check_label(results, v) for v in results.blocking(section))
            yield spoken("Waits for a stop"), section.title, stops
        elif state is SectionState.EMPTY and owed:
            asked = counted(len(owed), "thing", "things")
            why = spoken("None of {things} asked is recorded.", things=asked)
            yield spoken("Not begun"), section.title, why
        elif owed:
            why = spoken("Asked, and not answered.")
            yield spoken("Not recorded"), f"{section.title}: {_some(owed)}", why
        for label, why in not_judged(results, section):
            yield spoken("No limit"), f"{section.title}: {label}", why
        for label, why in not_applicable(results, section):
            yield spoken("Not applicable"), f"{section.title}: {label}", why
    yield from _absent(turnover, results)


def _absent(turnover: Turnover, results: UnitResults) -> Iterator[_Told]:
    """Yield the pages for parts that the unit's configuration does not have."""
    own = {section.name for section in turnover.sections_of(results)}
    absent = [
        section.title
        for section in turnover.site.form.sections
        if section.level == _level_of(results) and section.name not in own
    ]
    if absent:
        why = spoken("The unit's configuration does not have it.")
        yield spoken("No such part"), "; ".join(absent), why


def _level_of(results: UnitResults) -> Level:
    return Level.UNIT if results.unit_id else Level.PROJECT


def _some(labels: list[str]) -> str:
    shown = "; ".join(labels[:_MOST_NAMED])
    more = len(labels) - _MOST_NAMED
    if more <= 0:
        return shown
    return spoken("{shown}; and {count} more, named on the page", shown=shown, count=more)
