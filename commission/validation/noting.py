"""A note on a reading: the reading is recorded once more, with what a person says of it.

Value, pass, instrument and whoever read it stay as they were; notes are no part of what a
signature covers.
"""

from __future__ import annotations

from dataclasses import replace

from commission.definitions.model import Field, Key, Level
from commission.errors import ReadingError
from commission.language import spoken
from commission.project import Reading
from commission.validation.session import Session
from commission.validation.site import PROJECT

NOTE = "note"
"""What an undone step was, where it was a note."""


def note_on(session: Session, unit_id: str, key: Key) -> str:
    """Return the note of the reading in force; "" where there is none."""
    standing = session.results(unit_id).reading(*key)
    return standing.note if standing is not None else ""


def write_note(session: Session, unit_id: str, key: Key, note: str) -> Reading | None:
    """Write, change or (with "") take away the note of a reading; None where it says that already.

    A field that is not read may have a note as well: why it could not be read, say.

    Raises:
        ReadingError: it is no field.
        ProjectFileError: the note was not kept.
    """
    field = session.plan.entries.get(key.name)
    if not isinstance(field, Field):
        raise ReadingError(spoken("A note belongs to a field; '{name}' is none.", name=key.name))
    note = note.strip()
    if note == note_on(session, unit_id, key):
        return None
    is_project = session.form.section_by_name[field.section].level is Level.PROJECT
    owner = PROJECT if is_project else unit_id
    standing = session.results(unit_id).reading(*key)
    with session.undoable(owner, NOTE, "reading", key=key):
        noted = _recorded(session, owner, unit_id, key, note)
    if standing is not None:
        noted = replace(noted, at=standing.at)  # as the file tells it: when it was read
    if is_project:
        session.forget(PROJECT)  # every unit holds the project's readings
    results = session.results(unit_id)
    if isinstance(results.readings, dict):
        results.readings[key] = noted
    return noted


def _recorded(session: Session, owner: str, unit_id: str, key: Key, note: str) -> Reading:
    standing = session.results(unit_id).reading(*key)
    if standing is None:
        return session.project.record(
            owner,
            key.name,
            key.index,
            pass_name=session.pass_name,
            note=note,
            person_id=session.person_id,
            source=session.source,
        )
    project, noting = session.project, session.project.person_id
    if not standing.person_id:
        project.person_id = ""  # a note does not make its writer answer for the reading
    try:
        return project.record(
            owner,
            key.name,
            key.index,
            standing.value,
            not_applicable=standing.not_applicable,
            pass_name=standing.pass_name,
            entered=standing.entered,
            note=note,
            instrument_id=standing.instrument_id,
            person_id=standing.person_id,
            source=session.source,
        )
    finally:
        project.person_id = noting
