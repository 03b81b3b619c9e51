"""Entries of the limits book in words: numbers in the units shown, origin, who and when."""

from __future__ import annotations

from commission.definitions.model import Check, Field, Key
from commission.engineering.chart import from_text
from commission.errors import CommissionError
from commission.language import spoken, to_say
from commission.project.limits_book import BookEntry
from commission.units import convert, shown_unit
from commission.validation.known_limits import Offer, Standing
from commission.validation.table_entry import size_of
from commission.wizard.document import Document

_PARTS = {
    "low": to_say("at least {value}"),
    "high": to_say("at most {value}"),
    "target": to_say("target {value}"),
    "tolerance": to_say("tolerance ± {value}"),
    "tolerance_percent": to_say("tolerance ± {value}"),
}


def name_of(document: Document, unit_id: str, entry: BookEntry) -> str:
    """Return what an entry is a limit or a table of."""
    asked = document.session.plan.entries.get(entry.name)
    if asked is None:
        return entry.name
    results = document.results(unit_id)
    if entry.index and entry.index in results.members(entry.name):
        return results.label(Key(entry.name, entry.index))
    return asked.label


def numbers_of(document: Document, unit_id: str, entry: BookEntry) -> str:
    """Return an entry's limit, or the size of its table."""
    asked = document.session.plan.entries.get(entry.name)
    if entry.kind == "table":
        try:
            return size_of(from_text(entry.table))
        except CommissionError:
            return spoken("a table that cannot be read")
    system = document.results(unit_id).unit_system
    parts = [
        spoken(words, value=_shown(asked, entry, part, entry.parts[part], system))
        for part, words in _PARTS.items()
        if part in entry.parts
    ]
    return ", ".join(parts)


def _shown(asked: object, entry: BookEntry, part: str, value: float, system: str) -> str:
    unit = "%" if part == "tolerance_percent" else entry.unit
    if part == "tolerance" and unit == "°F":
        unit = "Δ°F"
    if unit and part != "tolerance_percent" and isinstance(asked, Check | Field):
        shown = shown_unit(unit, system)
        value, unit = convert(value, unit, shown), shown
    return f"{value:.6g} {unit}".strip()


def whence(entry: BookEntry) -> str:
    """Return where an entry comes from, and when it was entered, by whom and for which unit."""
    told = spoken("{origin}; entered {day}", origin=entry.origin, day=entry.entered_on)
    if entry.entered_by:
        told = spoken("{told} by {name}", told=told, name=entry.entered_by)
    return f"{told} ({entry.source})" if entry.source else told


def standing_words(document: Document, unit_id: str, offer: Offer) -> str:
    """Return what counts in the unit now, beside what the book offers."""
    words = spoken(str(offer.standing))
    if offer.standing is not Standing.DIFFERS or offer.entry.kind == "table":
        return words
    limits = document.session.project.limits(unit_id)
    own = limits.get((offer.entry.name, offer.entry.index))
    if own is None:
        return words
    here = BookEntry(
        offer.entry.model, "limit", own.check, own.index, offer.entry.unit, dict(own.parts)
    )
    numbers = numbers_of(document, unit_id, here)
    return f"{words}: {numbers} ({own.origin})" if own.origin else f"{words}: {numbers}"
