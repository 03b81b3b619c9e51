"""One page for the owner: for each unit what was proved, what failed, what is open."""

from __future__ import annotations

from reportlab.platypus import Flowable

from commission.package.flowables import Heading, words
from commission.package.look import ALARM, BODY, BOLD, DOUBT, GOOD, NOTE
from commission.package.tables import Cell, Column, DataTable, Row
from commission.package.turnover import Turnover
from commission.package.wording import counted, is_failure, some_of
from commission.validation.results import SectionState, UnitResults
from commission.validation.verdict import Outcome

KEY = "summary"
TITLE = "Summary for the owner"
_MOST_NAMED = 6
_INTRO = (
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
        Column("Unit", 52),
        Column("Standing", 84),
        Column("Proved", 128),
        Column("Failed", 136),
        Column("Open", 116),
    ]
    rows = [_row(turnover, results) for results in turnover.units]
    deficiencies = [d for d in turnover.project.deficiencies() if turnover.covers(d.unit_id)]
    waiting = sum(deficiency.status == "open" for deficiency in deficiencies)
    log = (
        f"The deficiency log holds {counted(len(deficiencies), 'entry', 'entries')}, "
        f"{waiting or 'none'} of them open. Everything named here is told in full, with its "
        "numbers, on the pages that follow."
    )
    return [
        Heading(TITLE, 1, KEY),
        words(_INTRO, BODY),
        DataTable(columns, rows) if rows else words("No unit has been added yet.", BODY),
        words(log, NOTE),
    ]


def standing(turnover: Turnover, results: UnitResults) -> tuple[str, object]:
    """Return how a unit stands as a whole, in words, and its ink."""
    verdicts = turnover.verdicts_of(results)
    stops = [verdict for verdict in verdicts if verdict.stops]
    freed = [stop for stop in stops if results.override_of(stop) is not None]
    failures = sum(is_failure(verdict) for verdict in verdicts)
    outcomes = {verdict.outcome for verdict in verdicts}
    if len(freed) < len(stops):
        return f"Do not run: {counted(len(stops) - len(freed), 'stop')}", ALARM
    if freed:
        return f"{counted(len(freed), 'stop')} passed over by decision", ALARM
    if failures:
        return f"To be put right: {counted(failures, 'failure')}", ALARM
    if Outcome.INCONCLUSIVE in outcomes:
        return "Not decided", DOUBT
    states = {turnover.state_of(results, s) for s in turnover.sections_of(results)}
    if Outcome.MISSING in outcomes or states & set(_ATTENTION):
        return "Nothing failed; not finished", DOUBT
    return "All checks passed", GOOD


def _row(turnover: Turnover, results: UnitResults) -> Row:
    words_, colour = standing(turnover, results)
    return Row(
        [
            Cell(results.tag, BOLD),
            Cell(words_, BOLD, colour),
            _proved(turnover, results) or "Nothing yet",
            _failed(turnover, results) or "Nothing",
            _open(turnover, results) or "Nothing",
        ]
    )


def _proved(turnover: Turnover, results: UnitResults) -> str:
    passed = sum(v.outcome is Outcome.PASS for v in turnover.verdicts_of(results))
    whole, partly = _stages(turnover, results)
    told = [f"{counted(passed, 'check')} passed."]
    if whole:
        told.append(f"In full: {', '.join(whole)}.")
    if partly:
        told.append(f"In part: {', '.join(partly)}.")
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
    return some_of(
        (f"{v.check.label} (stop)" if v.stops else v.check.label for v in failed), _MOST_NAMED
    )


def _open(turnover: Turnover, results: UnitResults) -> str:
    parts = []
    undecided = [v for v in turnover.verdicts_of(results) if v.outcome is Outcome.INCONCLUSIVE]
    if undecided:
        parts.append(f"Not decided: {some_of((v.check.label for v in undecided), 3)}")
    by_state: dict[SectionState, list[str]] = {}
    for section in turnover.sections_of(results):
        by_state.setdefault(turnover.state_of(results, section), []).append(section.title)
    for state, name in (
        (SectionState.BLOCKED, "Waiting for a stop"),
        (SectionState.EMPTY, "Not started"),
        (SectionState.MISSING, "Begun"),
    ):
        if state in by_state:
            parts.append(f"{name}: {some_of(by_state[state], 4)}")
    return "\n".join(parts)
