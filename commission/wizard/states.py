"""What a verdict or a page's state is called, and which icon and colour go with the word."""

from __future__ import annotations

from commission.definitions.model import Severity
from commission.language import spoken
from commission.validation.results import Progress, SectionState
from commission.validation.verdict import Outcome, Verdict
from commission.wizard.sign import STOP_SIGN, Sign

OUTCOMES = {
    Outcome.PASS: Sign("pass", "pass", "done"),
    Outcome.FAIL: Sign("fail", "fail", "fail"),
    Outcome.INCONCLUSIVE: Sign("inconclusive", "inconclusive", "inconclusive"),
    Outcome.MISSING: Sign("missing", "missing", "missing"),
    Outcome.NOT_APPLICABLE: Sign("not_applicable", "n/a", "missing"),
}
NOTED = Sign("note", "note", "note")

_SECTIONS = {
    SectionState.STOPPED: STOP_SIGN,
    SectionState.BLOCKED: Sign("stop", "blocked", "inconclusive"),
    SectionState.FAILING: Sign("fail", "fail", "fail"),
    SectionState.INCONCLUSIVE: Sign("inconclusive", "inconclusive", "inconclusive"),
    SectionState.MISSING: Sign("partial", "begun", "missing"),
    SectionState.EMPTY: Sign("empty", spoken("to do"), "missing"),
    SectionState.DONE: Sign("done", "done", "done"),
    SectionState.NOT_APPLICABLE: Sign("not_applicable", "n/a", "missing"),
}
GRAVEST_FIRST = tuple(SectionState)


def sign_of(verdict: Verdict) -> Sign:
    """Return how a verdict is shown; a failed stop is STOP, a failed note is a note."""
    if verdict.stops:
        return STOP_SIGN
    if verdict.outcome is Outcome.FAIL and verdict.check.severity is Severity.NOTE:
        return NOTED
    return OUTCOMES[verdict.outcome]


def sign_of_state(state: SectionState) -> Sign:
    """Return how a page's state is shown."""
    return _SECTIONS[state]


def counted(progress: Progress) -> str:
    """Return a page's counts in words: "1 stop, 2 fail, 3 of 8 read"."""
    outcomes = progress.outcomes
    failing = outcomes.get(Outcome.FAIL, 0) - progress.stops
    parts = [
        f"{progress.stops} stop" if progress.stops else "",
        f"{failing} fail" if failing > 0 else "",
        f"{outcomes.get(Outcome.INCONCLUSIVE, 0)} inconclusive"
        if outcomes.get(Outcome.INCONCLUSIVE)
        else "",
        f"{progress.answered} of {progress.asked} read" if progress.unanswered else "",
    ]
    said = [part for part in parts if part]
    if said:
        return ", ".join(said)
    waiting = outcomes.get(Outcome.MISSING, 0)
    if waiting:
        return f"{waiting} not judged yet"
    return f"{progress.answered} read" if progress.answered else ""
