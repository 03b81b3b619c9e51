"""What a verdict or a page's state is called, and which icon and colour go with the word."""

from __future__ import annotations

from commission.definitions.model import Severity
from commission.language import spoken, to_say
from commission.project import Override
from commission.validation.results import Progress, SectionState
from commission.validation.verdict import Outcome, Verdict
from commission.wizard.sign import STOP_SIGN, Sign

OUTCOMES = {
    Outcome.PASS: Sign("pass", to_say("pass"), "done"),
    Outcome.FAIL: Sign("fail", to_say("fail"), "fail"),
    Outcome.INCONCLUSIVE: Sign("inconclusive", to_say("inconclusive"), "inconclusive"),
    Outcome.MISSING: Sign("missing", to_say("missing"), "missing"),
    Outcome.NOT_APPLICABLE: Sign("not_applicable", "n/a", "missing"),
}
NOTED = Sign("note", to_say("note"), "note")

_SECTIONS = {
    SectionState.STOPPED: STOP_SIGN,
    SectionState.BLOCKED: Sign("stop", to_say("blocked"), "inconclusive"),
    SectionState.FAILING: Sign("fail", to_say("fail"), "fail"),
    SectionState.INCONCLUSIVE: Sign("inconclusive", to_say("inconclusive"), "inconclusive"),
    SectionState.MISSING: Sign("partial", to_say("begun"), "missing"),
    SectionState.EMPTY: Sign("empty", to_say("to do"), "missing"),
    SectionState.DONE: Sign("done", to_say("done"), "done"),
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


def going_on(override: Override) -> str:
    """Say who goes on in spite of a stop, and why."""
    return spoken("{person} goes on: {reason}", person=override.person_name, reason=override.reason)


def counted(progress: Progress) -> str:
    """Return a page's counts in words: "1 stop, 2 fail, 3 of 8 read"."""
    outcomes = progress.outcomes
    failing = outcomes.get(Outcome.FAIL, 0) - progress.stops
    unsure = outcomes.get(Outcome.INCONCLUSIVE, 0)
    parts = [
        spoken("{count} stop", count=progress.stops) if progress.stops else "",
        spoken("{count} fail", count=failing) if failing > 0 else "",
        spoken("{count} inconclusive", count=unsure) if unsure else "",
        spoken("{answered} of {asked} read", answered=progress.answered, asked=progress.asked)
        if progress.unanswered
        else "",
    ]
    said = [part for part in parts if part]
    if said:
        return ", ".join(said)
    waiting = outcomes.get(Outcome.MISSING, 0)
    if waiting:
        return spoken("{count} not judged yet", count=waiting)
    return spoken("{count} read", count=progress.answered) if progress.answered else ""
