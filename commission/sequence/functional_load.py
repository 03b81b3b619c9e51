"""`sequence.toml` -> SequenceBook. Strict, and all faults at once, each with its near miss.

The file stands beside the form but is no page of it; it has its own content hash.
"""

from __future__ import annotations

import hashlib
import tomllib
from collections.abc import Iterator, Mapping
from itertools import pairwise
from pathlib import Path

from pydantic import ValidationError

from commission.definitions.model import Form, Section
from commission.definitions.shape_faults import broken_rule, unreadable
from commission.definitions.translated import said
from commission.errors import FormError, FormulaError
from commission.formula.parse import parse
from commission.formula.tree import Node
from commission.language import language, near_miss, spoken
from commission.resources import forms_folder
from commission.sequence.functional_meaning import check_sequence
from commission.sequence.functional_model import (
    LaneRow,
    LaneSpan,
    MarkRow,
    Part,
    SequenceBook,
    StepRow,
    TerminalRow,
    TestRow,
)
from commission.sequence.functional_schema import (
    PartTable,
    SequenceFile,
    StepTable,
    TerminalTable,
    TestTable,
)

SEQUENCE_FILE = "sequence.toml"


def load_sequence(form: Form, folder: Path | None = None) -> SequenceBook:
    """Return the functional tests that stand beside a form's files.

    Args:
        form: The form whose fields the tests mark.
        folder: Where its files lie; the shipped forms by default.
    Returns:
        An empty book where there is no such file, or where it belongs to another form.
    Raises:
        FormError: All faults at once.
    """
    path = (folder or forms_folder()) / SEQUENCE_FILE
    if not path.is_file():
        return SequenceBook()
    try:
        data = path.read_bytes()
        table = tomllib.loads(data.decode("utf-8"))
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError, RecursionError) as error:
        raise FormError(f"{SEQUENCE_FILE}: {unreadable(error)}") from None
    if isinstance(table.get("form"), str) and table["form"] != form.id:
        return SequenceBook()
    return read_sequence(form, table, hashlib.sha256(data).hexdigest())


def sequence_of(form: Form) -> SequenceBook:
    """Return the shipped tests of a form, in the language spoken here; each is read once."""
    if form.content_hash not in _books:
        _books[form.content_hash] = load_sequence(form)
    if (place := (form.content_hash, language())) not in _said:
        _said[place] = said(_books[form.content_hash], language())
    return _said[place]


def has_tests(form: Form, section: Section) -> bool:
    """Return whether functional tests begin at a page of the form."""
    return any(test.section == section.name for test in sequence_of(form).tests)


_books: dict[str, SequenceBook] = {}
_said: dict[tuple[str, str], SequenceBook] = {}


def read_sequence(form: Form, table: Mapping[str, object], content_hash: str = "") -> SequenceBook:
    """Return the book that a parsed file describes.

    Raises:
        FormError: All faults at once: unknown keys, fields, parts, repeats, terminals, pages.
    """
    try:
        file = SequenceFile.model_validate(table)
    except ValidationError as error:
        raise FormError(list(_shape_faults(table, error))) from None
    faults: list[str] = []
    book = SequenceBook(
        (
            *(_part(row, faults, False) for row in file.part),
            *(_part(row, faults, True) for row in file.protection),
        ),
        tuple(_terminal(row, faults) for row in file.terminal),
        tuple(_test(row, faults) for row in file.test),
        file.version,
        content_hash,
    )
    faults += check_sequence(form, book)
    if faults:
        raise FormError([f"{SEQUENCE_FILE}, {fault}" for fault in faults])
    return book


def _shape_faults(table: Mapping[str, object], error: ValidationError) -> Iterator[str]:
    for fault in error.errors(include_url=False):
        place = _place(table, fault["loc"])
        key = str(fault["loc"][-1])
        if fault["type"] == "extra_forbidden":
            rule = spoken("unknown key '{key}'.{hint}", key=key, hint=near_miss(key, _KEYS))
        elif fault["type"] == "missing":
            rule = spoken("'{key}' is missing; add it.", key=key)
        else:
            rule = f"{key}: {broken_rule(fault)}"
        yield f"{SEQUENCE_FILE}{place}: {rule}"


_KEYS = sorted(
    {"part", "protection", "terminal", "test", "form", "version"}
    | set(PartTable.model_fields)
    | set(TerminalTable.model_fields)
    | set(TestTable.model_fields)
    | set(StepTable.model_fields)
    | {"field", "event", "after", "moment", "on", "off", "spans"}
)


def _place(table: Mapping[str, object], location: tuple[int | str, ...]) -> str:
    """Return ", test gas_chain, step light" for where a fault stands."""
    words = ""
    at: object = table
    for part, following in pairwise(location):
        at = _inside(at, part)
        if isinstance(part, str) and isinstance(following, int):
            row = _inside(at, following)
            name = row.get("name") if isinstance(row, dict) else None
            words += f", {part} {name or following + 1}"
    return words


def _inside(at: object, part: int | str) -> object:
    if isinstance(at, list) and isinstance(part, int) and part < len(at):
        return at[part]
    return at.get(part) if isinstance(at, dict) else None


def _formula(text: str | None, place: str, faults: list[str]) -> Node | None:
    if text is None:
        return None
    try:
        return parse(text)
    except FormulaError as error:
        faults.append(f"{place}: when: {error}")
        return None


def _part(row: PartTable, faults: list[str], is_protection: bool) -> Part:
    place = f"{'protection' if is_protection else 'part'} {row.name}"
    return Part(row.name, row.label, _formula(row.when, place, faults), is_protection)


def _terminal(row: TerminalTable, faults: list[str]) -> TerminalRow:
    when = _formula(row.when, f"terminal {row.name}", faults)
    return TerminalRow(row.name, row.title, row.energises, row.note, row.repeat, when)


def _test(row: TestTable, faults: list[str]) -> TestRow:
    place = f"test {row.name}"
    return TestRow(
        row.name,
        row.title,
        row.section,
        row.proves,
        tuple(_step(step, f"{place}, step {step.name}", faults) for step in row.step),
        row.repeat,
        _formula(row.when, place, faults),
        row.cautions,
        tuple(
            LaneRow(
                lane.name,
                tuple(LaneSpan(one.on, one.off) for one in lane.spans),
                lane.part,
                lane.name,
            )
            for lane in row.lane
        ),
    )


def _step(row: StepTable, place: str, faults: list[str]) -> StepRow:
    marks = tuple(MarkRow(mark.field, mark.event, mark.after, mark.moment) for mark in row.marks)
    return StepRow(
        row.name,
        row.do,
        row.call,
        row.signals,
        row.run,
        row.rest,
        row.ordered,
        marks,
        row.danger,
        row.reset,
        _formula(row.when, place, faults),
    )
