"""Returned limits: each part against its export and the project now, with its origin."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

from commission.definitions.model import Check, Key
from commission.errors import CommissionError, ReadingError
from commission.language import languages, said_in, spoken, to_say
from commission.units import recognised
from commission.validation.calculation import GivenLimit
from commission.validation.entry import parse_number
from commission.validation.results import UnitResults
from commission.workbook.limit_units import form_unit_of, limit_in_unit
from commission.workbook.read_back_cells import Holds, ReturnedCell, one_line
from commission.workbook.read_back_exported import ExportedCell
from commission.workbook.read_back_readings import Target, same
from commission.workbook.read_back_rows import ORIGIN, ReviewRow, Standing

_MARKS = (to_say(" (default, not confirmed)"), to_say(" (confirmed)"))
_CHANGING = (Standing.CHANGED, Standing.CONFLICT)


def entered_limit(results: UnitResults, key: Key) -> GivenLimit | None:
    """Return the limit a person entered for one member, or for all of them."""
    limits = results.calculation.limits
    return limits.get(key) or limits.get(Key(key.name))


def compare_limit(check: Check, parts: Sequence[tuple[Target, ReturnedCell]]) -> list[ReviewRow]:
    """Return how the parts of one check's limit stand, and its origin if that was changed."""
    rows = [_part(check, target, cell) for target, cell in parts]
    target, cell = parts[0]
    origin = _new_origin(target, cell)
    given = entered_limit(target.results, target.exported.key)
    changing = any(row.standing in _CHANGING for row in rows)
    if changing and not origin and (given is None or not given.origin):
        return [_without_origin(row) for row in rows]
    if origin:
        rows.append(_origin_row(target, cell, origin, given, changing))
    return rows


def _part(check: Check, target: Target, cell: ReturnedCell) -> ReviewRow:
    exported = target.exported
    given = entered_limit(target.results, exported.key)
    now = given.parts.get(exported.what) if given is not None else None
    now_shown = _in_cell(check, exported, now)
    default = (
        spoken("the default") if getattr(check, exported.what) is not None else spoken("no limit")
    )
    was_default = spoken("the default") if exported.is_formula else spoken("no limit")
    shown = {
        "was": _shown(exported.held, was_default),
        "now": _shown(now_shown, default),
        "in_file": cell.text,
    }
    if cell.holds is Holds.FORMULA:
        if exported.is_formula and cell.edited:
            words = spoken(
                "the formula of its default was edited to {value}; type a limit.",
                value=cell.text[:80],
            )
            return target.row(Standing.OVERWRITTEN, cell.place, words, **shown)
        if exported.is_formula:
            return target.row(Standing.UNCHANGED, cell.place, "", **shown)
        words = spoken("holds the formula {value}; type the limit itself.", value=cell.text[:80])
        return target.row(Standing.FORMULA, cell.place, words, **shown)
    if cell.holds is Holds.NOTHING and exported.is_formula:
        words = spoken(
            "the formula of its default was deleted; type a limit, or leave it as it is."
        )
        return target.row(Standing.OVERWRITTEN, cell.place, words, **shown)
    try:
        number = _number(exported, cell)
    except CommissionError as fault:
        return target.row(Standing.NOT_UNDERSTOOD, cell.place, f"'{cell.text}': {fault}", **shown)
    if not exported.is_formula and same(number, exported.held):
        return target.row(Standing.UNCHANGED, cell.place, "", **shown)
    entry = _in_form(check, exported, number)
    if number is not None and same(number, now_shown):
        return target.row(
            Standing.TAKEN, cell.place, spoken("the project holds it already."), **shown
        )
    conflict = not same(now_shown, exported.held)
    in_file = _shown(number, spoken("taken away"))
    words = spoken("{was} at export, {in_file} in the file", was=shown["was"], in_file=in_file)
    words += spoken(", but {now} in the project now.", now=shown["now"]) if conflict else "."
    standing = Standing.CONFLICT if conflict else Standing.CHANGED
    return target.row(
        standing, cell.place, words, **shown | {"in_file": in_file}, entry=entry, now_content=now
    )


def _shown(number: object, otherwise: str) -> str:
    return f"{number:.10g}" if isinstance(number, float) else otherwise


def _in_form(check: Check, exported: ExportedCell, number: float | None) -> float | None:
    """Return a number of a limit's cell in the form's unit."""
    if number is None:
        return None
    unit = form_unit_of(check, exported.what)
    return limit_in_unit(exported.what, number, exported.unit or unit, unit)


def _in_cell(check: Check, exported: ExportedCell, number: float | None) -> float | None:
    """Return a number in the form's unit as the limit's cell shows it."""
    unit = form_unit_of(check, exported.what)
    shown = exported.unit or unit
    return None if number is None else limit_in_unit(exported.what, number, unit, shown)


def _number(exported: ExportedCell, cell: ReturnedCell) -> float | None:
    if cell.holds is Holds.NOTHING:
        return None
    if cell.number is not None and math.isfinite(cell.number):
        return cell.number
    number, suffix, _ = parse_number(cell.text)
    if suffix and exported.unit not in (suffix, recognised(suffix)):
        raise ReadingError(
            spoken(
                "a limit is in {unit} here. Type it without a unit.",
                unit=exported.unit or spoken("plain figures"),
            )
        )
    return number


def _new_origin(target: Target, cell: ReturnedCell) -> str:
    """Return the words of an origin that was changed in the file, else ""."""
    before, after = one_line(target.exported.beside), one_line(cell.beside)
    if not after or after == before:
        return ""
    marks = (said_in(code, mark) for code in languages() for mark in _MARKS)
    for mark in marks:
        after = after.removesuffix(mark)
    return after


def _without_origin(row: ReviewRow) -> ReviewRow:
    if row.standing not in _CHANGING:
        return row
    words = spoken(
        "{sentence} Write beside it where the limit comes from (document, page, date).",
        sentence=row.sentence,
    )
    return replace(row, standing=Standing.NOT_UNDERSTOOD, sentence=words, entry=None)


def _origin_row(
    target: Target, cell: ReturnedCell, origin: str, given: GivenLimit | None, changing: bool
) -> ReviewRow:
    now = given.origin if given is not None else ""
    about = Target(replace(target.exported, what=ORIGIN), target.results, target.label)
    shown = {"was": target.exported.beside, "now": now, "in_file": origin}
    if one_line(now) == origin:
        return about.row(
            Standing.TAKEN, cell.place, spoken("the project holds it already."), **shown
        )
    if given is None and not changing:
        words = spoken(
            "says where a limit comes from ('{origin}'), but no limit was typed.", origin=origin
        )
        return about.row(Standing.NOT_UNDERSTOOD, cell.place, words, **shown)
    words = spoken("where the limit comes from: '{origin}'.", origin=origin)
    return about.row(Standing.CHANGED, cell.place, words, **shown, entry=origin)
