"""The column of words beside a value: who read it and when, its work, why a verdict fell so."""

from __future__ import annotations

import re

from commission.definitions.model import Field, Key
from commission.formula.evaluate import State
from commission.language import spoken
from commission.project import Reading
from commission.validation.results import UnitResults
from commission.validation.sentences import pass_words
from commission.validation.verdict import Outcome, Verdict
from commission.workbook.book import Book
from commission.workbook.layout import Page


def remark(book: Book, page: Page, key: Key) -> str:
    """Return how a value is known: its reading, its work, or what it waits for."""
    entry = book.plan.entries[key.name]
    if isinstance(entry, Field):
        return _of_reading(book, page, key, entry)
    value = page.results.value(*key)
    if value.state is State.KNOWN:
        work = page.results.work(*key)
        source = getattr(entry, "source", "")
        return "\n".join(part for part in (str(work or ""), source) if part)
    if value.state is State.MISSING:
        return spoken("Waits for: {reason}.", reason=value.reason) if value.reason else ""
    return f"{value.reason}." if value.reason and value.reason[-1] not in ".!?" else value.reason


def _of_reading(book: Book, page: Page, key: Key, field: Field) -> str:
    value = page.results.value(*key)
    reading = page.results.reading(*key)
    if not page.results.relevant(*key):
        return spoken("Not asked with the answers so far.")
    if reading is None or reading.is_unread:
        return field.how
    parts = [provenance(book, reading)]
    if value.state is State.NOT_APPLICABLE:
        parts.append(spoken("Not applicable: {reason}.", reason=value.reason))
    if isinstance(reading.value, float) and re.search(r"[^\W\d_]", reading.entered):
        parts.append(spoken("Typed: {entered}", entered=reading.entered))  # in a unit of its own
    if reading.note:
        parts.append(reading.note)
    before = _before(book, page, key, reading)
    return "\n".join(part for part in (*parts, before) if part)


def provenance(book: Book, reading: Reading) -> str:
    """Return "as left, K. Name, 2026-09-14 10:05" for a reading."""
    person = book.people.get(reading.person_id)
    when = reading.at[:16].replace("T", " ")
    name = person.name if person is not None else ""
    return ", ".join(part for part in (pass_words(reading.pass_name), name, when) if part)


def _before(book: Book, page: Page, key: Key, reading: Reading) -> str:
    """Return what was found, where a later pass has replaced it by something else."""
    owner, _ = book.owned(page, key)
    found = book.as_found.get(owner, {}).get((key.name, key.index))
    if found is None or found.id == reading.id or found.value == reading.value:
        return ""
    if found.not_applicable:
        return spoken("As found: n/a, {not_applicable}.", not_applicable=found.not_applicable)
    if found.value is None:
        return ""
    return spoken("As found: {shown}.", shown=_shown(page.results, key, found.value))


def _shown(results: UnitResults, key: Key, value: float | str) -> str:
    if isinstance(value, str):
        return value
    entry = results.calculation.plan.entries[key.name]
    return results.shown_number(value, entry.unit, entry.decimals)


def verdict_remark(results: UnitResults, verdict: Verdict) -> str:
    """Return why a verdict is not a plain pass, and what to do."""
    plain = (Outcome.PASS, Outcome.NOT_APPLICABLE, Outcome.MISSING)
    without_limit = verdict.outcome is Outcome.MISSING and verdict.value.state is State.KNOWN
    telling = verdict.outcome not in plain or verdict.near_limit or without_limit
    parts = [verdict.sentence] if telling else []
    if verdict.outcome is Outcome.FAIL and verdict.check.cure:
        parts.append(verdict.check.cure)
    override = results.override_of(verdict)
    if override is not None:
        parts.append(
            spoken(
                "Gone past by {person_name}: {reason}",
                person_name=override.person_name,
                reason=override.reason,
            )
        )
    return "\n".join(parts)
