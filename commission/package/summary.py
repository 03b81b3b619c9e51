"""One page for the owner: for each unit what was proved, what failed, what is open."""

from __future__ import annotations

from reportlab.platypus import Flowable

from commission.language import spoken, to_say
from commission.package.flowables import Heading, words
from commission.package.look import ALARM, BODY, BOLD, DOUBT, GOOD, NOTE
from commission.package.tables import Cell, Column, DataTable, Row
from commission.package.turnover import Turnover
from commission.package.wording import counted, is_failure, some_of
from commission.validation.results import SectionState, UnitResults
from commission.validation.verdict import Outcome

KEY = "summary"
TITLE = to_say("Summary for the owner")
_MOST_NAMED, _MOST_SEEN = 5, 2
_INTRO = to_say(
    "Each unit was checked page by page: before power, running, and in each sequence it has. "
    "A check holds one reading or one computed value to a limit taken from the unit's own "
    "literature, its rating plate, the design or common practice. In full means that every "
    "check of that stage of the work passed; failed names what must be put right; open names "
    "what nobody has proved yet."
)
_ATTENTION = (SectionState.MISSING, SectionState.EMPTY, SectionState.BLOCKED)


def summary(turnover: Turnover) -> list[Flowable]:
    """Return the summary: a few sentences and one table."""
    columns = [
        Column(spoken("Unit"), 40),
        Column(spoken("Standing"), 78),
        Column(spoken("Proved"), 126),
        Column(spoken("Failed"), 156),
        Column(spoken("Open"), 116),
    ]
    rows = [_row(turnover, results) for results in turnover.units]
    deficiencies = [d for d in turnover.project.deficiencies() if turnover.covers(d.unit_id)]
    waiting = sum(deficiency.status == "open" for deficiency in deficiencies)
    log = spoken(
        "The deficiency log holds {entries}, {count} of them open. Everything named here is told "
        "in full, with its numbers, on the pages that follow.",
        entries=counted(len(deficiencies), "entry", "entries"),
        count=waiting or spoken("none"),
    )
    return [
        Heading(spoken(TITLE), 1, KEY),
        words(spoken(_INTRO), BODY),
        DataTable(columns, rows) if rows else words(spoken("No unit has been added yet."), BODY),
        words(log, NOTE),
    ]


def standing(turnover: Turnover, results: UnitResults) -> tuple[str, object]:
    """Return how a unit stands as a whole, in words, and its ink."""
    verdicts = turnover.verdicts_of(results)
    stops = [verdict for verdict in verdicts if verdict.stops]
    freed = [stop for stop in stops if results.override_of(stop) is not None]
    failures = sum(is_failure(verdict) for verdict in verdicts)
    failures += sum(fact.is_failure for fact in turnover.trend_facts(results))
    outcomes = {verdict.outcome for verdict in verdicts}
    if len(freed) < len(stops):
        left = counted(len(stops) - len(freed), "stop", "stops")
        return spoken("Do not run: {stops}", stops=left), ALARM
    if freed:
        passed = counted(len(freed), "stop", "stops")
        return spoken("{stops} passed over by decision", stops=passed), ALARM
    if failures:
        wrong = counted(failures, "failure", "failures")
        return spoken("To be put right: {failures}", failures=wrong), ALARM
    if Outcome.INCONCLUSIVE in outcomes:
        return spoken("Not decided"), DOUBT
    states = {turnover.state_of(results, s) for s in turnover.sections_of(results)}
    if Outcome.MISSING in outcomes or states & set(_ATTENTION):
        return spoken("Nothing failed; not finished"), DOUBT
    return spoken("All checks passed"), GOOD


def _row(turnover: Turnover, results: UnitResults) -> Row:
    words_, colour = standing(turnover, results)
    return Row(
        [
            Cell(results.tag, BOLD),
            Cell(words_, BOLD, colour),
            _proved(turnover, results) or spoken("Nothing yet"),
            _failed(turnover, results) or spoken("Nothing"),
            _open(turnover, results) or spoken("Nothing"),
        ]
    )


def _proved(turnover: Turnover, results: UnitResults) -> str:
    passed = sum(v.outcome is Outcome.PASS for v in turnover.verdicts_of(results))
    whole, partly = _stages(turnover, results)
    told = [spoken("{checks} passed.", checks=counted(passed, "check", "checks"))]
    if whole:
        told.append(spoken("In full: {stages}.", stages=", ".join(whole)))
    if partly:
        told.append(spoken("In part: {stages}.", stages=", ".join(partly)))
    return " ".join(told)


def _stages(turnover: Turnover, results: UnitResults) -> tuple[list[str], list[str]]:
    """Return the stages of the work of which every page is proved, and those of some pages."""
    pages: dict[str, list[bool]] = {}
    for section in turnover.sections_of(results):
        if section.checks:
            done = turnover.state_of(results, section) is SectionState.DONE
            pages.setdefault(section.stage or section.title, []).append(done)
    whole = [stage.lower() for stage, done in pages.items() if all(done)]
    partly = [stage.lower() for stage, done in pages.items() if any(done) and not all(done)]
    return whole, partly


def _failed(turnover: Turnover, results: UnitResults) -> str:
    failed = sorted(
        (v for v in turnover.verdicts_of(results) if is_failure(v)), key=lambda v: not v.stops
    )
    names = [
        spoken("{check} (stop)", check=v.check.label) if v.stops else v.check.label for v in failed
    ]
    told = [some_of(names, _MOST_NAMED)]
    seen = [fact.finding.title for fact in turnover.trend_facts(results) if fact.is_failure]
    if seen:
        told.append(spoken("Trend log: {findings}", findings=some_of(seen, _MOST_SEEN)))
    return "\n".join(filter(None, told))


def _open(turnover: Turnover, results: UnitResults) -> str:
    parts = []
    undecided = [v for v in turnover.verdicts_of(results) if v.outcome is Outcome.INCONCLUSIVE]
    if undecided:
        names = some_of((v.check.label for v in undecided), 3)
        parts.append(spoken("Not decided: {names}", names=names))
    unsure = [f.finding.title for f in turnover.trend_facts(results) if f.gravity == 2]
    if unsure:
        names = some_of(unsure, _MOST_SEEN)
        parts.append(spoken("Not decided by the trend log: {names}", names=names))
    by_state: dict[SectionState, list[str]] = {}
    for section in turnover.sections_of(results):
        by_state.setdefault(turnover.state_of(results, section), []).append(section.title)
    for state, name in (
        (SectionState.BLOCKED, spoken("Waiting for a stop")),
        (SectionState.EMPTY, spoken("Not started")),
        (SectionState.MISSING, spoken("Begun")),
    ):
        if state in by_state:
            parts.append(f"{name}: {some_of(by_state[state], 4)}")
    return "\n".join(parts)
