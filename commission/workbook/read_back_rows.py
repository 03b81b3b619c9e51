"""What a read-back finds: one row for each cell, with its state and a sentence."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from commission.definitions.model import Key
from commission.formula.evaluate import Content
from commission.language import to_say


class Standing(StrEnum):
    """How a cell of a returned workbook stands to its export and to the project now."""

    UNCHANGED = to_say("unchanged")
    TAKEN = to_say("taken")
    CHANGED = to_say("changed")
    CONFLICT = to_say("conflict")
    OVERWRITTEN = to_say("overwritten")
    FORMULA = to_say("formula")
    NOT_UNDERSTOOD = to_say("not clear")
    LOST = to_say("lost")
    UNKNOWN = to_say("unknown")
    NOTE = "note"


_SETTLED = frozenset({Standing.UNCHANGED, Standing.TAKEN, Standing.NOTE})
_ACCEPTABLE = frozenset({Standing.CHANGED, Standing.CONFLICT})

ORIGIN = "origin"
NOTE = "note"


@dataclass(frozen=True, slots=True)
class ReviewRow:
    """One cell: where it stands, what it held at export, in the file, in the project now.

    `what` is "reading" (a typed table is one), "note" (to a reading), a part of a limit,
    "origin", "setting" (its name is `name`), "deficiency", "instrument", "person", or "" for a
    computed cell. `entry` is what is entered if the row is
    accepted: typed text for a reading, a number or None (taken away) for a part, the words for
    an origin or a note, one value of a record. `now_content` (a limit's part, a record's value)
    and `now_id` (the reading in force) tell whether the project has gone on since. `note` goes
    with a reading that was typed. `record` is the id of a deficiency, instrument or person,
    `attribute` which of its values it is; a line that was added has `values` instead.
    """

    standing: Standing
    place: str
    name: str
    unit_id: str
    tag: str
    key: Key
    what: str
    label: str
    was: str
    now: str
    in_file: str
    sentence: str
    entry: Content | None = None
    now_content: Content | None = None
    now_id: str = ""
    note: str = ""
    record: str = ""
    attribute: str = ""
    values: tuple[tuple[str, Content], ...] = ()

    @property
    def to_settle(self) -> bool:
        """Whether a person has to decide or do something."""
        return self.standing not in _SETTLED

    @property
    def acceptable(self) -> bool:
        """Whether the file's value can be entered into the project as it is."""
        return self.standing in _ACCEPTABLE


@dataclass(frozen=True, slots=True)
class Review:
    """A returned workbook set beside its project.

    `remarks` say what holds for the whole file (foreign, stale, links not read). Of a
    `foreign` file no cell is compared.
    """

    path: str
    rows: tuple[ReviewRow, ...]
    remarks: tuple[str, ...] = ()
    foreign: bool = False

    @property
    def to_settle(self) -> tuple[ReviewRow, ...]:
        """The rows that a person has to decide on."""
        return tuple(row for row in self.rows if row.to_settle)

    @property
    def changed(self) -> tuple[ReviewRow, ...]:
        """The rows that only the file has changed, which can be accepted together."""
        return tuple(row for row in self.rows if row.standing is Standing.CHANGED)
