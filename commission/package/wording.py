"""Verdicts, states and counts in words, the same wherever they stand."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

from commission.definitions.model import Key, Severity
from commission.language import ENGLISH, language, spoken
from commission.package.look import (
    DOUBT,
    NOTE_GLYPH,
    OUTCOME_COLOURS,
    OUTCOME_GLYPHS,
    STATE_GLYPHS,
    STOP_GLYPH,
)
from commission.validation.report import word
from commission.validation.results import SectionState, UnitResults
from commission.validation.verdict import Outcome, Verdict


def verdict_mark(verdict: Verdict) -> str:
    """Return glyph and word of a verdict: "✓ pass", "⬣ STOP"."""
    return f"{verdict_glyph(verdict)} {word(verdict)}"


def verdict_glyph(verdict: Verdict) -> str:
    """Return the glyph of a verdict; a failed note has its own."""
    if verdict.stops:
        return STOP_GLYPH
    if is_note(verdict):
        return NOTE_GLYPH
    return OUTCOME_GLYPHS[verdict.outcome]


def verdict_colour(verdict: Verdict) -> Any:
    """Return the ink of a verdict; the glyph and the word say the same without it."""
    return DOUBT if is_note(verdict) else OUTCOME_COLOURS[verdict.outcome]


def state_mark(state: SectionState) -> str:
    """Return glyph and word of a page's state."""
    return f"{STATE_GLYPHS[state]} {spoken(state)}"


def is_note(verdict: Verdict) -> bool:
    """Return whether this failed check is only worth knowing."""
    return verdict.outcome is Outcome.FAIL and verdict.check.severity is Severity.NOTE


def is_failure(verdict: Verdict) -> bool:
    """Return whether this is a deficiency, a stop or not."""
    return verdict.outcome is Outcome.FAIL and not is_note(verdict)


def gravity(verdict: Verdict) -> int:
    """Return a place in the order stop, failure, inconclusive, note, the rest."""
    if verdict.stops:
        return 0
    if is_failure(verdict):
        return 1
    if verdict.outcome is Outcome.INCONCLUSIVE:
        return 2
    return 3 if is_note(verdict) else 4


def check_label(results: UnitResults, verdict: Verdict) -> str:
    """Return a check's label with its member."""
    return results.label(Key(verdict.check.name, verdict.index))


def counted(number: int, one: str, many: str) -> str:
    """Return "1 stop", "3 stops", "no stops"; the two nouns stand in the catalogue."""
    # "No" would have to agree with the noun in other languages; the figure need not.
    shown = "no" if not number and language() == ENGLISH else str(number)
    return f"{shown} {spoken(one if number == 1 else many)}"


def listed(items: Sequence[str]) -> str:
    """Return "a", "a and b", "a, b and c"."""
    if len(items) < 2:
        return "".join(items)
    return spoken("{several} and {last}", several=", ".join(items[:-1]), last=items[-1])


def some_of(items: Iterable[str], most: int) -> str:
    """Return items separated by semicolons, those past `most` counted."""
    unique = list(dict.fromkeys(items))
    shown = "; ".join(unique[:most])
    more = len(unique) - most
    return spoken("{shown}; and {count} more", shown=shown, count=more) if more > 0 else shown


def day(moment: str) -> str:
    """Return the date of an ISO moment, or "" ."""
    return moment[:10]


def minute(moment: str) -> str:
    """Return an ISO moment as date, time and offset without seconds."""
    if len(moment) < 16:
        return moment
    offset = moment[19:].lstrip(".0123456789")
    return f"{moment[:10]} {moment[11:16]} {offset}".rstrip()
