"""Witnessed readings: each unit's sample, and what the witness read beside the record."""

from __future__ import annotations

from collections.abc import Iterator

from reportlab.platypus import Flowable

from commission.language import spoken, to_say
from commission.package.flowables import Heading, words
from commission.package.look import ALARM, BODY, BOLD, DOUBT, INK, NOTE
from commission.package.tables import Cell, Column, DataTable, Row
from commission.package.turnover import Turnover
from commission.package.wording import minute
from commission.validation.results import UnitResults
from commission.validation.sentences import pass_words
from commission.validation.witnessing import (
    RULE,
    Agreement,
    Verification,
    Witnessed,
    everything,
    shown_difference,
    shown_value,
)

KEY = "witnessed"
TITLE = to_say("Witnessed readings")

# With a glyph, so that the colour is never alone.
_MARKS = {
    Agreement.AGREES: ("✓", INK),
    Agreement.DIFFERS: ("✗", ALARM),
    Agreement.UNDECIDED: ("?", DOUBT),
    Agreement.AWAITED: ("·", INK),
    Agreement.GONE: ("·", DOUBT),
}
_SEED = to_say(
    "Drawn by the seed {seed}; who has the project file or the archive record can draw it again."
)


def is_witnessed(turnover: Turnover) -> bool:
    """Return whether a sample was drawn or anything was witnessed in the units covered."""
    return next(everything(turnover.project, iter(turnover.everything)), None) is not None


def witnessed(turnover: Turnover) -> Iterator[Flowable]:
    """Yield each unit's sample, with what comes of comparing the two readings."""
    yield Heading(spoken(TITLE), 1, KEY)
    yield words(spoken(RULE), BODY)
    for results, found in everything(turnover.project, iter(turnover.everything)):
        title = results.tag or spoken("Project")
        yield Heading(title, 2, f"{KEY}-{results.unit_id}", outlined=False)
        yield words(found.sentence, BODY)
        if found.draw is not None:
            yield words(spoken(_SEED, seed=found.draw.seed), NOTE)
        yield _table(turnover, results, found)


def _table(turnover: Turnover, results: UnitResults, found: Verification) -> DataTable:
    columns = [
        Column(spoken("Reading"), 124),
        Column(spoken("Recorded"), 92),
        Column(spoken("Witnessed"), 98),
        Column(spoken("Difference"), 58, "right"),
        Column(spoken("At most"), 50, "right"),
        Column(spoken("Comes out as"), 94),
    ]
    return DataTable(columns, [_row(turnover, results, line) for line in found.lines])


def _row(turnover: Turnover, results: UnitResults, line: Witnessed) -> Row:
    name = results.label(line.key)
    if not line.in_sample:
        name += "\n" + spoken("(not of the sample)")
    glyph, ink = _MARKS[line.agreement]
    outcome = f"{glyph} {spoken(line.agreement)}"
    return Row(
        [
            name,
            _recorded(turnover, results, line),
            _read(turnover, results, line),
            shown_difference(results, line.key, line.difference),
            shown_difference(results, line.key, line.bound),
            Cell(f"{outcome}\n{line.why}" if line.why else outcome, BOLD, ink),
        ]
    )


def _recorded(turnover: Turnover, results: UnitResults, line: Witnessed) -> str:
    if line.recorded is None:
        return spoken("none")
    value = shown_value(results, line.key, line.recorded.value)
    value = f"{value}, {pass_words(line.recorded.pass_name)}"
    return _with_origin(turnover, value, line.recorded.person_id, line.recorded.instrument_id)


def _read(turnover: Turnover, results: UnitResults, line: Witnessed) -> str:
    if line.witnessed is None:
        return spoken("not yet")
    value = shown_value(results, line.key, line.witnessed.value)
    told = _with_origin(turnover, value, line.witnessed.person_id, line.witnessed.instrument_id)
    return f"{told}\n{minute(line.witnessed.at)}"


def _with_origin(turnover: Turnover, value: str, person_id: str, instrument_id: str) -> str:
    person = turnover.people.get(person_id)
    tag = turnover.instrument_tags.get(instrument_id, "")
    return "\n".join(
        filter(None, (value, ", ".join(filter(None, (person.name if person else "", tag)))))
    )
