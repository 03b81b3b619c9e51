"""Deficiencies, instruments and people as they went out, and the lines that came back.

A line is known by its number, so it may be sorted or moved; a column by its head; the sheet
by the defined name on its first head. What went out stands on the hidden sheet.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from commission.formula.evaluate import Content
from commission.language import said_in, to_say
from commission.project import DEFICIENCY_STATUSES
from commission.workbook.book import DEFICIENCIES, INSTRUMENTS, PEOPLE, Book
from commission.workbook.incoming_tables import CellValue, IncomingSheet, shown
from commission.workbook.read_back_exported import meta_changed
from commission.workbook.sheet import Sheet
from commission.workbook.texts import cell_text
from commission.workbook.words import meant_by

REGISTERS_NAME = "exported_registers"
SIGNATURES_NAME = "signature_heads"
NUMBER_HEAD = "No."
UNIT_HEAD = "Unit"
PROJECT_UNIT = "Project"
_HEAD = ("register", "number", "id", "attribute", "held")


@dataclass(frozen=True, slots=True)
class RegisterColumns:
    """One register: its sheet, the columns a hand may type in, and what a line must have."""

    kind: str
    sheet: str
    called: str
    columns: Mapping[str, str]
    needed: str
    numbers: frozenset[str] = frozenset()

    @property
    def heads_name(self) -> str:
        """The defined name of the first head."""
        return f"{self.kind}_heads"

    def head_of(self, attribute: str) -> str:
        """Return the head of the column of an attribute."""
        return next(head for head, name in self.columns.items() if name == attribute)


REGISTERS = (
    RegisterColumns(
        "deficiency",
        DEFICIENCIES,
        to_say("Deficiency"),
        {
            "Requirement": "requirement", "What is wrong": "description", "Owner": "owner",
            "Due": "due", "Correction": "correction", "Corrected on": "corrected_on",
            "Retest": "retest", "Status": "status",
        },
        "description",
    ),
    RegisterColumns(
        "instrument",
        INSTRUMENTS,
        to_say("Instrument"),
        {
            "Kind": "kind", "Make": "make", "Model": "model", "Serial": "serial",
            "Range": "range_text", "% of reading": "percent_of_reading",
            "% of span": "percent_of_span", "Span": "span", "± constant": "plus_minus",
            "Repeats ±": "repeatability", "Resolution": "resolution", "Unit": "unit",
            "Calibrated on": "calibrated_on", "Due": "calibration_due",
        },
        "kind",
        frozenset(
            ("percent_of_reading", "percent_of_span", "span", "plus_minus", "repeatability",
             "resolution")
        ),
    ),
    RegisterColumns(
        "person",
        PEOPLE,
        to_say("Person"),
        {
            "Name": "name", "Company": "company", "Role": "role", "Licence": "licence",
            "E-mail": "email",
        },
        "name",
    ),
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class SentLine:
    """A record as it was sent out."""

    kind: str
    number: int
    id: str
    held: Mapping[str, Content]


@dataclass(frozen=True, slots=True)
class ReturnedLine:
    """A line of a register as it came back; `number` is None for one that has none."""

    kind: str
    place: str
    number: int | None
    unit: str
    holds: Mapping[str, CellValue]


def records_of(project: Any, kind: str) -> list[Any]:
    """Return the records of a register as the project holds them."""
    listed: dict[str, Callable[[], list[Any]]] = {
        "deficiency": project.deficiencies,
        "instrument": project.instruments,
        "person": project.people,
    }
    return listed[kind]()


def attribute_of(record: Any, attribute: str) -> Content | None:
    """Return one value of a record as a cell holds it, None for nothing."""
    value = getattr(record, attribute)
    if isinstance(value, int | float):
        return float(value)
    return cell_text(value) if value else None


# -- on the way out ----------------------------------------------------------------------


def sent_lines(book: Book) -> Iterator[SentLine]:
    """Yield every record of a book's registers, numbered as its sheet numbers them."""
    project = book.site.project
    for register in REGISTERS:
        listed = records_of(project, register.kind)
        if register.kind == "deficiency":
            listed = book.deficiencies()
        for place, record in enumerate(listed, start=1):
            number = getattr(record, "number", place)
            values = ((name, attribute_of(record, name)) for name in register.columns.values())
            held = {name: value for name, value in values if value is not None}
            yield SentLine(register.kind, number, record.id, held)


def write_sent(sheet: Sheet, first_column: int, lines: Iterable[SentLine]) -> tuple[int, int]:
    """Write lines on the hidden sheet, a row for each value; return its last row and column."""
    worksheet, plain = sheet.worksheet, sheet.style("plain_text")
    for place, text in enumerate(_HEAD, start=first_column):
        worksheet.write_string(0, place, text, plain)
    number = 0
    for line in lines:
        for attribute, held in (("", None), *line.held.items()):
            number += 1
            worksheet.write_string(number, first_column, line.kind, plain)
            worksheet.write_number(number, first_column + 1, line.number, plain)
            worksheet.write_string(number, first_column + 2, line.id, plain)
            worksheet.write_string(number, first_column + 3, attribute or "-", plain)
            if isinstance(held, str):
                worksheet.write_string(number, first_column + 4, held, plain)
            elif held is not None:
                worksheet.write_number(number, first_column + 4, held, plain)
    return number, first_column + len(_HEAD) - 1


# -- on the way back ---------------------------------------------------------------------


def read_sent(rows: Sequence[Sequence[CellValue | None]]) -> list[SentLine]:
    """Return the lines of the range `REGISTERS_NAME`, its head first.

    Raises:
        IncomingFileError: The hidden sheet is not as it was written.
    """
    found: dict[tuple[str, int, str], dict[str, Content]] = {}
    if not rows or tuple(rows[0]) != _HEAD:
        raise meta_changed()
    try:
        for kind, number, record, attribute, held in rows[1:]:
            line = found.setdefault((str(kind), int(_a_number(number)), str(record)), {})
            if held is not None:
                line[str(attribute)] = held if isinstance(held, float) else shown(held)
    except (TypeError, ValueError, OverflowError):
        raise meta_changed() from None
    return [SentLine(*known, held) for known, held in found.items()]


def _a_number(value: CellValue | None) -> float:
    if not isinstance(value, float):
        raise TypeError
    return value


def _in_english(attribute: str, value: CellValue, code: str) -> CellValue:
    """Return a value of a record with a status in the word that is kept."""
    is_word = attribute == "status" and isinstance(value, str)
    return meant_by(str(value), DEFICIENCY_STATUSES, code) if is_word else value


def returned_lines(
    register: RegisterColumns, sheet: IncomingSheet, head_row: int, end_row: int, code: str
) -> list[ReturnedLine]:
    """Return the filled lines below the heads of a register.

    Args:
        code: The language that the heads and statuses are in.
        end_row: The first row below that is not the register's.
    """
    heads = {
        str(value): column
        for column, value in sorted(sheet.rows.get(head_row, {}).items(), reverse=True)
    }
    lines = []
    for row in sorted(number for number in sheet.rows if head_row < number < end_row):
        cells = sheet.rows[row]
        holds = {
            attribute: _in_english(attribute, cells[heads[said]], code)
            for head, attribute in register.columns.items()
            if (said := said_in(code, head)) in heads and heads[said] in cells
        }
        number = cells.get(heads.get(said_in(code, NUMBER_HEAD), 0))
        known = int(number) if isinstance(number, float) and number.is_integer() else None
        unit = (
            cells.get(heads.get(said_in(code, UNIT_HEAD), 0))
            if register.kind == "deficiency"
            else None
        )
        if holds or known is not None:
            place = f"{sheet.title}!{row}"
            text = "" if unit is None else meant_by(shown(unit), (PROJECT_UNIT,), code)
            lines.append(ReturnedLine(register.kind, place, known, text, holds))
    return lines
