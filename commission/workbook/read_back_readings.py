"""A returned entry cell against its export and the project now."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Any

from commission.definitions.model import Field, Key
from commission.errors import CommissionError
from commission.formula.evaluate import Content, alike
from commission.formula.excel import NOT_APPLICABLE
from commission.formula.figures import figure
from commission.language import spoken
from commission.units import convert, shown_unit
from commission.validation.entry import Understood, understand
from commission.validation.results import UnitResults
from commission.workbook.entry_cells import stored_value
from commission.workbook.read_back_cells import Holds, ReturnedCell, one_line
from commission.workbook.read_back_exported import ExportedCell, entry_content
from commission.workbook.read_back_rows import NOTE, ReviewRow, Standing

_KEPT_BY_ALL = 1e-14


@dataclass(frozen=True, slots=True)
class Target:
    """What a row of the review is about: whose entry, and how it is called."""

    exported: ExportedCell
    results: UnitResults
    label: str

    def about(self, what: str) -> Target:
        """Return the target of a row on something else of the same cell."""
        return replace(self, exported=replace(self.exported, what=what))

    def row(self, standing: Standing, place: str, sentence: str, **more: Any) -> ReviewRow:
        """Return a row of the review about this cell."""
        exported = self.exported
        shown = {"was": "", "now": "", "in_file": ""} | more
        return ReviewRow(
            standing=standing,
            place=place,
            name=exported.name,
            unit_id=self.results.unit_id,
            tag=self.results.tag,
            key=exported.key,
            what=exported.what,
            label=self.label,
            sentence=sentence,
            **shown,
        )


def same(first: Content | None, second: Content | None) -> bool:
    """Return whether two cells hold the same: numbers to 14 digits, texts but for white space."""
    if isinstance(first, str) and isinstance(second, str):
        return one_line(first) == one_line(second)
    if first is None or second is None:
        return not first and not second and first != 0.0 and second != 0.0
    if isinstance(first, float) and isinstance(second, float):
        # Some spreadsheets keep 15 digits, so a converted number comes back up to 5e-15 off.
        return math.isclose(first, second, rel_tol=_KEPT_BY_ALL)
    return first == second


def compare_reading(target: Target, field: Field, cell: ReturnedCell) -> ReviewRow:
    """Return how a returned reading stands."""
    exported, results = target.exported, target.results
    now = entry_content(field, stored_value(results, exported.key), exported.unit)
    reading = results.reading(*exported.key)
    shown = {
        "was": _shown(field, exported.held, exported.unit),
        "now": _shown(field, now, exported.unit),
        "in_file": _shown(field, cell.text, ""),
        "now_id": reading.id if reading is not None else "",
    }
    if cell.holds is Holds.FORMULA:
        words = spoken(
            "holds the formula {value}; type the number that was read.", value=cell.text[:80]
        )
        return target.row(Standing.FORMULA, cell.place, words, **shown)
    if cell.holds is Holds.OTHER:
        words = spoken("holds {value}, which is no reading.", value=cell.text[:80])
        return target.row(Standing.NOT_UNDERSTOOD, cell.place, words, **shown)
    if same(cell.content, exported.held):
        return _unchanged(target, cell, shown)
    return _changed(target, field, cell, shown, now)


def _unchanged(target: Target, cell: ReturnedCell, shown: dict[str, Any]) -> ReviewRow:
    """A cell as exported; a reason or note may have been written beside it."""
    written = _written_beside(target.exported, cell)
    if not written:
        return target.row(Standing.UNCHANGED, cell.place, "", **shown)
    reading = target.results.reading(*target.exported.key)
    if cell.content == NOT_APPLICABLE and reading is not None and reading.not_applicable:
        if one_line(reading.not_applicable) == one_line(written):
            return target.row(Standing.TAKEN, cell.place, "", **shown)
        words = spoken("another reason for n/a: '{written}'.", written=written)
        entry = f"{NOT_APPLICABLE} {written}"
        return target.row(Standing.CHANGED, cell.place, words, **shown, entry=entry)
    if reading is not None and one_line(written) in one_line(reading.note):
        return target.row(
            Standing.TAKEN, cell.place, spoken("the project holds its note already."), **shown
        )
    words = spoken("a note beside it: '{written}'.", written=written)
    about = Target(replace(target.exported, what=NOTE), target.results, target.label)
    shown |= {"was": "", "now": reading.note if reading is not None else "", "in_file": written}
    return about.row(Standing.CHANGED, cell.place, words, **shown, entry=written)


def _written_beside(exported: ExportedCell, cell: ReturnedCell) -> str:
    """Return what a hand added to, or put in place of, the text beside a reading."""
    before, after = one_line(exported.beside), one_line(cell.beside)
    if not after or after == before:
        return ""
    if before and after.startswith(before):
        return after.removeprefix(before).strip(" ;,.:-–")
    known = {one_line(line) for line in exported.beside.splitlines()}
    lines = (one_line(line) for line in cell.beside.splitlines())
    return "\n".join(line for line in lines if line and line not in known)


def _changed(
    target: Target,
    field: Field,
    cell: ReturnedCell,
    shown: dict[str, Any],
    now: Content | None,
) -> ReviewRow:
    exported = target.exported
    text, note = cell.text, _written_beside(exported, cell)
    if one_line(text).casefold() == NOT_APPLICABLE:
        text, note = f"{NOT_APPLICABLE} {note}".strip(), ""
    try:
        meant = understand(field, text, _system(field, exported.unit))
    except CommissionError as fault:
        words = f"'{text}': {str(fault).removeprefix(f'{field.label}: ')}"
        return target.row(Standing.NOT_UNDERSTOOD, cell.place, words, **shown)
    content = _in_cell(field, meant, exported.unit)
    if same(content, exported.held):
        return target.row(Standing.UNCHANGED, cell.place, "", **shown)
    if same(content, now) or same(content, _stored(target, field)):
        return target.row(
            Standing.TAKEN, cell.place, spoken("the project holds it already."), **shown
        )
    entry = _as_typed(field, meant, text, target)
    in_file = _shown(field, content, exported.unit)
    if meant.not_applicable:
        in_file = f"{NOT_APPLICABLE} ({meant.not_applicable})"
    standing, words = _decided(exported, now, shown, in_file)
    remarks = "; ".join(part for part in (meant.remark, meant.warning) if part)
    asked = target.results.relevant(*exported.key)
    unasked = "" if asked else spoken("It is not asked with the answers so far.")
    noted = spoken("With a note: '{note}'.", note=note) if note else ""
    sentence = " ".join(part for part in (words, remarks, unasked, noted) if part)
    shown |= {"in_file": in_file}
    return target.row(standing, cell.place, sentence, **shown, entry=entry, note=note)


def _stored(target: Target, field: Field) -> Content | None:
    """Return what the project keeps for a field that its answers do not ask, as in a cell."""
    reading = target.results.reading(*target.exported.key)
    if reading is None or reading.is_unread:
        return target.exported.held  # which the file's content is known to differ from
    if reading.not_applicable:
        return NOT_APPLICABLE
    if isinstance(reading.value, float):
        return convert(reading.value, field.unit, target.exported.unit)
    return reading.value


def _decided(
    exported: ExportedCell, now: Content | None, shown: dict[str, Any], in_file: str
) -> tuple[Standing, str]:
    was, here = shown["was"] or spoken("empty"), in_file or spoken("empty")
    if same(exported.held, now):
        return Standing.CHANGED, spoken("{was} at export, {here} in the file.", was=was, here=here)
    return (
        Standing.CONFLICT,
        spoken(
            "{was} at export, {here} in the file, but {now} in the project now.",
            was=was,
            here=here,
            now=shown["now"] or spoken("empty"),
        ),
    )


def _system(field: Field, unit: str) -> str:
    """Return the unit system in which a number without a unit is in the cell's unit."""
    return "IP" if unit == field.unit else "SI"


def _in_cell(field: Field, meant: Understood, unit: str) -> Content | None:
    if meant.not_applicable:
        return NOT_APPLICABLE
    if isinstance(meant.content, float):
        return convert(meant.content, field.unit, unit)
    return meant.content


def _as_typed(field: Field, meant: Understood, text: str, target: Target) -> str:
    """Return the text to enter: as typed, or with its unit where the project shows another."""
    shown = shown_unit(field.unit, target.results.unit_system)
    if isinstance(meant.content, float) and shown != target.exported.unit:
        return f"{meant.content!r} {field.unit}".strip()
    return text


def _shown(field: Field, content: Content | None, unit: str) -> str:
    """Return a content as a person reads it, a choice in the language spoken here."""
    if content is None:
        return ""
    if isinstance(content, str):
        return spoken(content) if content in field.choices else content
    return f"{_digits(content)} {unit}".strip()


def _digits(number: float) -> str:
    """Return a number with all that tells it from another, unless that is only the last bits."""
    return figure(number) if alike(float(f"{number:.4g}"), number) else f"{number:.10g}"


def label_of(results: UnitResults, key: Key) -> str:
    """Return what an entry of one member is called, such as "Suction pressure · Circuit 2"."""
    entry = results.calculation.plan.entries[key.name]
    try:
        member = results.member_label(key.name, key.index)
    except ValueError:  # the form asks it with other repeats now
        member = ""
    return " · ".join(part for part in (entry.label, member) if part)
