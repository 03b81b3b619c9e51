"""A sample drawn and a witness's reading entered as typed, each refused where it means nothing."""

from __future__ import annotations

from commission.definitions.model import Field, Key
from commission.errors import ReadingError
from commission.language import spoken
from commission.project import WitnessDraw, WitnessReading
from commission.validation.entry import Understood, understand
from commission.validation.session import Session
from commission.validation.witnessing import USUAL_SHARE, population_of

WITNESSED = "witnessed reading"
"""What an undone step was."""


def draw_for(session: Session, unit_id: str, share: float = USUAL_SHARE) -> WitnessDraw:
    """Draw a sample over a unit's readings.

    Raises:
        ReadingError: There is no reading yet, or the share is impossible.
    """
    population = population_of(session.results(unit_id))
    with session.undoable(unit_id, WITNESSED, "witness_draw"):
        return session.project.draw_sample(
            unit_id,
            [(key.name, tuple(key.index)) for key in population],
            share,
            person_id=session.person_id,
        )


def enter_witnessed(
    session: Session,
    unit_id: str,
    key: Key,
    text: str,
    *,
    person_id: str,
    instrument_id: str = "",
) -> tuple[WitnessReading, Understood]:
    """Understand and store what a witness read, beside the reading in force; "" takes it out.

    Raises:
        ReadingError: It cannot be meant here, nothing is recorded there, nobody is named, or
            the witness is who recorded the reading.
        ProjectFileError: It could not be written; nothing is stored.
    """
    field = session.plan.entries.get(key.name)
    results = session.results(unit_id)
    recorded = results.reading(*key)
    if not isinstance(field, Field) or recorded is None or recorded.value is None:
        raise ReadingError(
            spoken("Nothing is recorded here, so there is nothing to witness. Record it first.")
        )
    if not person_id:
        raise ReadingError(spoken("Choose who witnesses first: a witness is a named person."))
    if person_id == recorded.person_id:
        raise ReadingError(
            spoken(
                "{label}: was recorded by the same person; a witness is somebody else. Choose "
                "another witness.",
                label=results.label(key),
            )
        )
    meant = understand(field, text, results.unit_system)
    if meant.not_applicable:
        raise ReadingError(
            spoken(
                "{label}: a witness reads a value. Leave it empty if it could not be read.",
                label=results.label(key),
            )
        )
    content = meant.content
    with session.undoable(unit_id, WITNESSED, "witness_reading", key=key):
        stored = session.project.record_witnessed(
            unit_id,
            *key,
            content if isinstance(content, float | str) else None,
            pass_name=recorded.pass_name,
            entered=text.strip(),
            instrument_id=instrument_id,
            person_id=person_id,
        )
    return stored, meant
