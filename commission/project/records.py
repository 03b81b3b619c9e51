"""What a project holds, as frozen records: readings, limits, people, instruments and the rest.

Every record is a view of one committed row. A changed record is a further row under the
same `id` (people, instruments, units ...) or a further row that names the one it supersedes
(readings, limits); nothing is overwritten.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any

from commission.errors import ReadingError
from commission.language import spoken

Index = tuple[int, ...]
Value = float | str | None

AS_FOUND = "as found"
AS_LEFT = "as left"
PROJECT_LEVEL = ""
"""The `unit_id` of what belongs to the project and not to one unit."""

LIMIT_PARTS = ("low", "high", "target", "tolerance", "tolerance_percent")
SIGNATURE_ROLES = ("recorded", "witnessed", "accepted")
HASH_OF_READINGS = "readings"
HASH_OF_DECISIONS = "readings, limits and overrides"
HASH_KINDS = (HASH_OF_READINGS, HASH_OF_DECISIONS)
"""What the hash of a signature is over; the last is what signing does now."""
DEFICIENCY_STATUSES = ("open", "corrected", "accepted", "deferred", "withdrawn")

_RETEST = re.compile(r"retest ([1-9][0-9]{0,3})")


def pass_words(pass_name: str) -> str:
    """Return the name of a pass ("as found", "retest 2") in the language spoken here."""
    word, _, number = pass_name.partition(" ")
    if word == "retest" and number:
        return spoken("retest {number}", number=number)
    return spoken(pass_name)


def pass_rank(pass_name: str) -> int:
    """Return the place of a pass in time: as found 0, as left 1, retest 1 is 2 ...

    Raises:
        ReadingError: the text names no pass.
    """
    if pass_name in (AS_FOUND, AS_LEFT):
        return (AS_FOUND, AS_LEFT).index(pass_name)
    if match := _RETEST.fullmatch(pass_name):
        return 1 + int(match[1])
    raise ReadingError(
        spoken(
            "Pass '{pass_name}': a pass is 'as found', 'as left' or 'retest 1', 'retest 2' "
            "... Choose one of these.",
            pass_name=pass_name,
        )
    )


@dataclass(frozen=True, slots=True)
class Reading:
    """One entered value of one field in one pass.

    `value` None with `not_applicable` "" is a clearing: the field reads as unread.
    `entered` is what was typed, with its unit if that is not the field's own. `at` is ISO
    8601 with offset. `supersedes` is the id of the reading of the same pass it replaces.
    `withdrawn` takes the field out of this pass again, so an earlier pass shows through.
    """

    id: str
    unit_id: str
    name: str
    index: Index
    value: Value
    not_applicable: str
    pass_name: str
    entered: str
    note: str
    instrument_id: str
    person_id: str
    at: str
    source: str
    supersedes: str
    withdrawn: bool = False

    @property
    def is_unread(self) -> bool:
        """Whether the field counts as not read: neither a value nor a reason for none."""
        return self.value is None and not self.not_applicable


@dataclass(frozen=True, slots=True)
class Entered:
    """A reading to be recorded; the file adds id, time and what it supersedes."""

    unit_id: str
    name: str
    index: Index = ()
    value: Value = None
    not_applicable: str = ""
    pass_name: str = AS_FOUND
    entered: str = ""
    note: str = ""
    instrument_id: str = ""
    person_id: str = ""
    source: str = "window"


@dataclass(frozen=True, slots=True)
class Limit:
    """What a check is held to in one unit; `index` () stands for all members.

    `parts` holds low, high, target, tolerance, tolerance_percent as far as entered;
    `origin` the document, page and date; `confirmed` with no parts is a default that a
    person has confirmed as it stands.
    """

    id: str
    unit_id: str
    check: str
    index: Index
    parts: Mapping[str, float]
    origin: str
    confirmed: bool
    person_id: str
    at: str
    supersedes: str


@dataclass(frozen=True, slots=True)
class Unit:
    """One rooftop unit, known by its tag; `order` counts from 1 through the project."""

    id: str
    tag: str
    order: int


@dataclass(frozen=True, slots=True)
class Person:
    """Somebody who recorded, witnessed or accepted."""

    id: str
    name: str
    company: str = ""
    role: str = ""
    licence: str = ""
    email: str = ""


@dataclass(frozen=True, slots=True)
class Instrument:
    """An instrument and its accuracy: % of reading + % of span + plus or minus, in `unit`.

    `span`, `repeatability` (plus or minus, anew for every reading) and `resolution` (smallest
    step shown) are in `unit`; the calibration dates are ISO dates or "".
    """

    id: str
    kind: str
    make: str = ""
    model: str = ""
    serial: str = ""
    range_text: str = ""
    span: float | None = None
    percent_of_reading: float = 0.0
    percent_of_span: float = 0.0
    plus_minus: float = 0.0
    unit: str = ""
    calibrated_on: str = ""
    calibration_due: str = ""
    repeatability: float = 0.0
    resolution: float = 0.0


@dataclass(frozen=True, slots=True)
class Deficiency:
    """Something wrong that somebody must put right; `number` counts through the project."""

    id: str
    unit_id: str
    number: int
    check: str = ""
    index: Index = ()
    requirement: str = ""
    description: str = ""
    owner: str = ""
    due: str = ""
    correction: str = ""
    corrected_on: str = ""
    retest: str = ""
    status: str = "open"
    at: str = ""
    person_id: str = ""


@dataclass(frozen=True, slots=True)
class Override:
    """A person's decision, by name and reason, to go on past a stop."""

    id: str
    unit_id: str
    check: str
    index: Index
    person_name: str
    reason: str
    at: str


@dataclass(frozen=True, slots=True)
class Photo:
    """A photo of a unit or of one field; `data` (JPEG bytes) is read when asked for."""

    id: str
    unit_id: str
    name: str
    index: Index
    caption: str
    media_type: str
    at: str
    sha256: str
    read_data: Callable[[], bytes] = field(repr=False, compare=False)

    @property
    def data(self) -> bytes:
        """The picture's bytes, read from the file now."""
        return self.read_data()


@dataclass(frozen=True, slots=True)
class TrendRecord:
    """A trend log of a unit: how its file was read, its facts, and what was found, as plain data.

    `data` (the packed samples) is read when asked for.
    """

    id: str
    unit_id: str
    name: str
    file_sha256: str
    read_as: Mapping[str, Any]
    facts: Mapping[str, Any]
    findings: tuple[Mapping[str, Any], ...]
    at: str
    sha256: str
    read_data: Callable[[], bytes] = field(repr=False, compare=False)

    @property
    def data(self) -> bytes:
        """The packed samples, read from the file now."""
        return self.read_data()


@dataclass(frozen=True, slots=True)
class TrendLimit:
    """A limit typed for judging a unit's logs, and where it comes from."""

    name: str
    value: float
    origin: str
    person_id: str = ""


@dataclass(frozen=True, slots=True)
class Signature:
    """Who stands for a section ("" = the whole unit), and for what (its hash).

    `hash_kind` says what the hash is over, one of `HASH_KINDS`.
    """

    id: str
    unit_id: str
    section: str
    role: str
    person_id: str
    printed_name: str
    statement: str
    at: str
    readings_hash: str
    hash_kind: str = HASH_OF_READINGS
