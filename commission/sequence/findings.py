"""What one rule found in a log, and the table of findings for the terminal."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from commission.definitions.model import Severity
from commission.language import spoken, to_say
from commission.validation.verdict import Outcome


@dataclass(frozen=True, slots=True)
class Finding:
    """One rule (one member of it) judged over a whole log.

    Attributes:
        member: Number of the repeated part, or 0.
        count: Failing events or stretches (undecided ones where the verdict is inconclusive).
        first_moment, worst_moment: By the file's clock, or "" where nothing is wrong.
        rows: (first, last) sample of each failing stretch, counted from 0, in order.
        lines: The same stretches as lines of the file, counted from 1.
        limit: The limit in words, and whether it is a default.
        signals: Columns the rule read, for a plot.
        needed_interval_s: Sampling that would settle an inconclusive verdict, or None.
    """

    rule: str
    title: str
    member: int
    severity: Severity
    outcome: Outcome
    sentence: str
    limit: str
    source: str
    cure: str = ""
    count: int = 0
    first_moment: str = ""
    worst_moment: str = ""
    rows: tuple[tuple[int, int], ...] = ()
    lines: tuple[tuple[int, int], ...] = ()
    worst_row: int = -1
    signals: tuple[str, ...] = ()
    needed_interval_s: float | None = None

    @property
    def stops(self) -> bool:
        """Whether the work must not go on past this."""
        return self.outcome is Outcome.FAIL and self.severity is Severity.STOP

    @property
    def is_deficiency(self) -> bool:
        """Whether somebody must put it right."""
        return self.outcome is Outcome.FAIL and self.severity is not Severity.NOTE


TREND_HEADER = (
    to_say("verdict"),
    to_say("rule"),
    to_say("what the log shows"),
    to_say("count"),
    to_say("first"),
    to_say("worst"),
    to_say("lines"),
)
_ORDER = (
    Outcome.FAIL, Outcome.INCONCLUSIVE, Outcome.MISSING, Outcome.PASS, Outcome.NOT_APPLICABLE
)  # fmt: skip
_SEVERITIES = (Severity.STOP, Severity.FAIL, Severity.NOTE)


def trend_rows(findings: Sequence[Finding]) -> tuple[tuple[str, ...], list[tuple[str, ...]]]:
    """Return the header and rows of the findings, worst first; column 2 may be wrapped."""
    return tuple(map(spoken, TREND_HEADER)), [_row(found) for found in worst_first(findings)]


def worst_first(findings: Iterable[Finding]) -> list[Finding]:
    """Return findings in the order in which a person should see them."""

    def rank(found: Finding) -> tuple[int, int, str, int]:
        severity = _SEVERITIES.index(found.severity)
        return _ORDER.index(found.outcome), severity, found.rule, found.member

    return sorted(findings, key=rank)


def _row(found: Finding) -> tuple[str, ...]:
    verdict = str(found.outcome)
    if found.outcome is Outcome.FAIL:
        verdict = {Severity.STOP: "stop", Severity.FAIL: "fail", Severity.NOTE: "note"}[
            found.severity
        ]
    return (
        spoken(verdict),
        found.title,
        found.sentence,
        str(found.count) if found.count else "",
        found.first_moment,
        found.worst_moment,
        said_lines(found.lines),
    )


def said_lines(lines: Sequence[tuple[int, int]], most: int = 3) -> str:
    """Return lines of a file in words, the first few of many: "12-40, 77 and 3 more"."""
    shown = [str(first) if first == last else f"{first}-{last}" for first, last in lines[:most]]
    more = len(lines) - most
    return ", ".join(shown) + (spoken(" and {more} more", more=more) if more > 0 else "")


def said_seconds(seconds: float) -> str:
    """Return a duration in words: "42 s", "3 min 20 s", "2 h 5 min"."""
    if seconds < 0:
        return f"−{said_seconds(-seconds)}"
    if seconds < 120:
        return f"{seconds:.3g} s"
    whole = round(seconds)
    if whole < 7_200:
        minutes, rest = divmod(whole, 60)
        return (
            spoken("{minutes} min {rest} s", minutes=minutes, rest=rest)
            if rest
            else spoken("{minutes} min", minutes=minutes)
        )
    hours, minutes = divmod(round(seconds / 60), 60)
    return (
        spoken("{hours} h {minutes} min", hours=hours, minutes=minutes) if minutes else f"{hours} h"
    )
