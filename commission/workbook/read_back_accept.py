"""What a read-back found, entered into the project: readings one by one, limits as a whole."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass

from commission.definitions.model import Key
from commission.errors import CommissionError, IncomingFileError
from commission.language import spoken, to_say
from commission.project import AS_FOUND, pass_rank
from commission.validation.noting import note_on, write_note
from commission.validation.session import Session
from commission.validation.site import PROJECT
from commission.workbook.read_back_exported import READING, SETTING
from commission.workbook.read_back_limits import entered_limit
from commission.workbook.read_back_lines import KINDS, enter_line
from commission.workbook.read_back_readings import same
from commission.workbook.read_back_rows import NOTE, ORIGIN, Review, ReviewRow
from commission.workbook.read_back_settings import enter_setting

ONE_BY_ONE = frozenset({READING, NOTE, SETTING}) | KINDS
"""What rows are about that are entered each by itself; the parts of a limit go together."""

LASTING = frozenset({SETTING, "instrument"})
"""What every result rests on, and not only the reading that it stands beside."""

_NOTHING = to_say("there is nothing in it that could be entered.")
_MEANWHILE = to_say("the project has changed since the file was compared. Read it back again.")


@dataclass(frozen=True, slots=True)
class Accepted:
    """What was entered, and what could not be, each with the reason."""

    entered: tuple[ReviewRow, ...]
    refused: tuple[tuple[ReviewRow, str], ...]


def accept(session: Session, review: Review, rows: Iterable[ReviewRow]) -> Accepted:
    """Enter rows of a review into the project, with the source "workbook".

    A reading goes into the pass that holds it now, or into the session's if that is later, and
    keeps its instrument. What the project refuses is returned with the reason; all else is
    entered.

    Raises:
        IncomingFileError: The review is of another project's workbook.
        ProjectFileError: The project cannot be written to.
    """
    if review.foreign:
        raise IncomingFileError(
            spoken(
                "{path}: belongs to another project; nothing of it can be entered here.",
                path=review.path,
            )
        )
    chosen = list(rows)
    accepting = _Accepting(session)
    source, pass_name = session.source, session.pass_name
    session.source = "workbook"
    try:
        for row in chosen:
            if row.what in ONE_BY_ONE:
                accepting.one(row, [row])
        limits: dict[tuple[str, Key], list[ReviewRow]] = defaultdict(list)
        for row in chosen:
            if row.what and row.what not in ONE_BY_ONE:
                limits[row.unit_id, row.key].append(row)
        for together in limits.values():
            accepting.one(together[0], together)
    finally:
        session.source, session.pass_name = source, pass_name
        if any(row.what in LASTING for row in accepting.entered):
            session.refresh()
    accepting.refused += [(row, spoken(_NOTHING)) for row in chosen if not row.what]
    return Accepted(tuple(accepting.entered), tuple(accepting.refused))


class _Accepting:
    def __init__(self, session: Session) -> None:
        self.session = session
        self.pass_name = session.pass_name
        self.entered: list[ReviewRow] = []
        self.refused: list[tuple[ReviewRow, str]] = []

    def one(self, first: ReviewRow, rows: list[ReviewRow]) -> None:
        """Enter one reading, or the parts of one limit together."""
        if not all(row.acceptable for row in rows):
            self.refused += [(row, spoken(_NOTHING)) for row in rows]
            return
        try:
            reason = self._entered(first, rows)
        except CommissionError as fault:
            if self.session.project.read_only:
                raise
            reason = str(fault)
        if reason:
            self.refused += [(row, reason) for row in rows]
        else:
            self.entered += rows

    def _entered(self, first: ReviewRow, rows: list[ReviewRow]) -> str:
        session = self.session
        if first.what == READING:
            return self._reading(first)
        if first.what == NOTE:
            return self._note(first)
        if first.what == SETTING:
            with session.undoable(PROJECT, SETTING, "setting"):
                return enter_setting(session.project, first)
        if first.what in KINDS:
            with session.undoable(PROJECT, first.what, first.what):
                return enter_line(session.project, first)
        return self._limit(first, rows)

    def _reading(self, row: ReviewRow) -> str:
        session, key = self.session, row.key
        results = session.results(row.unit_id)
        standing = results.reading(*key)
        if (standing.id if standing is not None else "") != row.now_id:
            return spoken(_MEANWHILE)
        passes = [self.pass_name, standing.pass_name if standing is not None else AS_FOUND]
        session.pass_name = max(passes, key=pass_rank)
        instrument = standing.instrument_id if standing is not None else ""
        session.enter(row.unit_id, key.name, key.index, str(row.entry or ""), instrument)
        if row.note:
            self._add_note(row.unit_id, row.key, row.note)
        return ""

    def _note(self, row: ReviewRow) -> str:
        standing = self.session.results(row.unit_id).reading(*row.key)
        if (standing.id if standing is not None else "") != row.now_id:
            return spoken(_MEANWHILE)
        self._add_note(row.unit_id, row.key, str(row.entry))
        return ""

    def _add_note(self, unit_id: str, key: Key, note: str) -> None:
        """Add a note to the reading in force, which is recorded once more with it."""
        before = note_on(self.session, unit_id, key)
        lines = "\n".join(part for part in (before, note) if part)
        write_note(self.session, unit_id, key, lines)

    def _limit(self, first: ReviewRow, rows: list[ReviewRow]) -> str:
        session, key = self.session, first.key
        given = entered_limit(session.results(first.unit_id), key)
        parts = dict(given.parts) if given is not None else {}
        origin = given.origin if given is not None else ""
        for row in rows:
            if row.what == ORIGIN:
                origin = str(row.entry)
                continue
            if not same(row.now_content, parts.get(row.what)):
                return spoken(_MEANWHILE)
            if row.entry is None:
                parts.pop(row.what, None)
            elif isinstance(row.entry, float):
                parts[row.what] = row.entry
        if parts:
            session.set_limit(first.unit_id, key.name, key.index, parts, origin)
        else:
            session.clear_limit(first.unit_id, key.name, key.index)
        return ""
