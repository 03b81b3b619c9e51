"""Undo and redo at the window: what was taken back, in words, and who has to draw it anew."""

from __future__ import annotations

from typing import TYPE_CHECKING

from commission.errors import CommissionError
from commission.language import spoken, to_say
from commission.validation.noting import NOTE
from commission.validation.session import BOOK, LIMIT, OVERRIDE, Entered

if TYPE_CHECKING:
    from commission.wizard.document import Document

DEFICIENCY, PHOTO, WITNESSED = "deficiency", "photo", "witnessed reading"
SETTING, INSTRUMENT, PERSON = "setting", "instrument", "person"

_UNDONE = to_say("Undone: {name} is {shown}.")
_PUT_AGAIN = to_say("Put again: {name} is {shown}.")
_SUBJECTS = {
    LIMIT: to_say("the limit of {name}"),
    OVERRIDE: to_say("going on in spite of {name}"),
    BOOK: to_say("what was taken from the limits book"),
    DEFICIENCY: to_say("the change in the list of deficiencies"),
    PHOTO: to_say("the change of a photo ({name})"),
    WITNESSED: to_say("the witnessed reading of {name}"),
    NOTE: to_say("the note on {name}"),
    SETTING: to_say("the change of a setting"),
    INSTRUMENT: to_say("the change in the list of instruments"),
    PERSON: to_say("the change in the list of people"),
}


def undone(document: Document) -> Entered | None:
    """Take back the last entry; return it, so that the window can go there."""
    return _step(document, backwards=True)


def redone(document: Document) -> Entered | None:
    """Put the last undone entry again."""
    return _step(document, backwards=False)


def _step(document: Document, *, backwards: bool) -> Entered | None:
    session = document.session
    try:
        entered = session.undo() if backwards else session.redo()
    except CommissionError as error:
        document.said.emit(str(error), True)
        return None
    if entered is None:
        nothing = spoken("Nothing to undo.") if backwards else spoken("Nothing to redo.")
        document.said.emit(nothing, False)
        return None
    if entered.subject:
        _tell_rows(document, entered, backwards)
    else:
        document.passes.forget()  # what was taken back may belong to an earlier pass
        shown = document.said_text(entered.unit_id, entered.key) or spoken("empty")
        words = _UNDONE if backwards else _PUT_AGAIN
        document.said.emit(spoken(words, name=_name(document, entered), shown=shown), False)
        document.recomputed.emit(entered.unit_id, entered.changed)
        document.committed.emit(entered.unit_id, entered.changed)
    return entered


def _tell_rows(document: Document, entered: Entered, backwards: bool) -> None:
    """Draw anew whatever may differ, then say what was done."""
    document.replaced.emit()
    if entered.subject == DEFICIENCY:
        document.deficiencies_changed.emit()
    if entered.subject == PHOTO:
        document.photos_changed.emit(entered.unit_id)
    what = spoken(_SUBJECTS[entered.subject], name=_name(document, entered))
    words = to_say("Undone: {what}.") if backwards else to_say("Put again: {what}.")
    document.said.emit(spoken(words, what=what), False)


def _name(document: Document, entered: Entered) -> str:
    tag = document.tag(entered.unit_id)
    if entered.key.name not in document.session.plan.entries:
        return tag
    return f"{tag}, {document.results(entered.unit_id).label(entered.key)}"
