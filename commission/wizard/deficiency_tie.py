"""What a deficiency can belong to: the readings and verdicts of a unit, by their names."""

from __future__ import annotations

from commission.definitions.model import Check, Field, Key
from commission.language import spoken
from commission.wizard.document import Document


def tie_data(key: Key) -> str:
    """Return a key as a choice's data: "supply_v 1"."""
    return " ".join((key.name, *map(str, key.index)))


def tied_key(data: str) -> Key:
    """Return the key of a choice's data; Key("") for none."""
    name, *index = data.split() or [""]
    return Key(name, tuple(map(int, index)))


def tie_choices(document: Document, unit_id: str, tied: str = "") -> list[tuple[str, str]]:
    """Return (words, data) of every reading and verdict that is asked, in the form's order.

    Words are the name with its member and page; a verdict says that it is one, since it may
    be called as what it judges. What is `tied` already stays, though it be asked no more.
    """
    results = document.results(unit_id)
    found = []
    for section in results.sections():
        entries: list[Field | Check] = [*section.fields, *section.checks]
        for entry in entries:
            for index in results.asked_members(entry.name):
                key = Key(entry.name, index)
                name, page = results.label(key), section.title
                words = (
                    spoken("{name} (verdict), {page}", name=name, page=page)
                    if isinstance(entry, Check)
                    else f"{name}, {page}"
                )
                found.append((words, tie_data(key)))
    if tied and tied not in [data for _, data in found]:
        key = tied_key(tied)
        known = key.name in document.session.plan.entries
        name = results.label(key) if known else key.name
        found.append((spoken("{name} (not asked now)", name=name), tied))
    return found
