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
    "literature, its rating plate, the design or common practice. Proved means every check of "
    "that page passed; failed names what must be put right; open names what nobody has proved yet."
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
    rows = [_row(results) for results in turnover.units]
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


def standing(results: UnitResults) -> tuple[str, object]:
    """Return how a unit stands as a whole, in words, and its ink."""
    stops = results.stops()
    freed = [stop for stop in stops if results.override_of(stop) is not None]
    verdicts = list(results.verdicts())
    failures = sum(is_failure(verdict) for verdict in verdicts)
    outcomes = results.progress().outcomes
    if len(freed) < len(stops):
        return f"Do not run: {counted(len(stops) - len(freed), 'stop')}", ALARM
    if freed:
        return f"{counted(len(freed), 'stop')} passed over by decision", ALARM
    if failures:
        return f"To be put right: {counted(failures, 'failure')}", ALARM
    if outcomes.get(Outcome.INCONCLUSIVE):
        return "Not decided", DOUBT
    states = {results.state(section) for section in results.sections()}
    if outcomes.get(Outcome.MISSING) or states & set(_ATTENTION):
        return "Nothing failed; not finished", DOUBT
    return "All checks passed", GOOD


def _row(results: UnitResults) -> Row:
    words_, colour = standing(results)
    return Row(
        [
            Cell(results.tag, BOLD),
            Cell(words_, BOLD, colour),
            _proved(results) or "Nothing yet",
            _failed(results) or "Nothing",
            _open(results) or "Nothing",
        ]
    )


def _proved(results: UnitResults) -> str:
    done = [
        section.title
        for section in results.sections()
        if results.state(section) is SectionState.DONE
        and results.progress(section).outcomes.get(Outcome.PASS)
    ]
    passed = results.progress().outcomes.get(Outcome.PASS, 0)
    told = f"{counted(passed, 'check')} passed. "
    return told + (f"In full: {some_of(done, 8)}" if done else "No page in full.")


def _failed(results: UnitResults) -> str:
    failed = sorted((v for v in results.verdicts() if is_failure(v)), key=lambda v: not v.stops)
    return some_of(
        (f"{v.check.label} (stop)" if v.stops else v.check.label for v in failed), _MOST_NAMED
    )


def _open(results: UnitResults) -> str:
    parts = []
    undecided = [v for v in results.verdicts() if v.outcome is Outcome.INCONCLUSIVE]
    if undecided:
        parts.append(f"Not decided: {some_of((v.check.label for v in undecided), 3)}")
    by_state: dict[SectionState, list[str]] = {}
    for section in results.sections():
        by_state.setdefault(results.state(section), []).append(section.title)
    for state, name in (
        (SectionState.BLOCKED, "Waiting for a stop"),
        (SectionState.EMPTY, "Not started"),
        (SectionState.MISSING, "Begun"),
    ):
        if state in by_state:
            parts.append(f"{name}: {some_of(by_state[state], 4)}")
    return "\n".join(parts)
