"""Cells to be typed in: what they hold now, what they accept, and what they tell the hand."""

from __future__ import annotations

from typing import Any

from commission.definitions.model import Field, Key, Kind
from commission.formula.evaluate import MISSING, State, Value, known
from commission.formula.excel import NOT_APPLICABLE, quoted
from commission.language import spoken
from commission.units import convert
from commission.validation.results import UnitResults
from commission.workbook.addresses import column_letters
from commission.workbook.appearance import number_format
from commission.workbook.book import LISTS, Book
from commission.workbook.layout import Page, is_numeric
from commission.workbook.sheet import Sheet
from commission.workbook.texts import LONGEST_PROMPT, LONGEST_PROMPT_TITLE, shortened
from commission.workbook.words import in_words, tab


def write_entry(
    book: Book, page: Page, sheet: Sheet, place: tuple[int, int], key: Key, unit: str
) -> None:
    """Write the entry cell of a field, its content shown in `unit`, ready to be typed over."""
    field = book.plan.entries[key.name]
    assert isinstance(field, Field)
    value = stored_value(page.results, key)
    fixed = field.name in page.relevance.fixed
    _write_content(sheet, place, field, value, unit, fixed)
    if not fixed:
        options = validation(book, field, place, unit)
        sheet.choices(*place, options)


def stored_value(results: UnitResults, key: Key) -> Value:
    """Return what was read for a field, also while the answers do not ask for it."""
    if results.relevant(*key):
        return results.value(*key)
    given = results.calculation.given.get(key)
    if given is None:
        return MISSING
    if given.not_applicable:
        return Value(State.NOT_APPLICABLE, reason=given.not_applicable)
    return MISSING if given.content is None else known(given.content)


def _write_content(
    sheet: Sheet, place: tuple[int, int], field: Field, value: Value, unit: str, fixed: bool
) -> None:
    number = value.number
    if is_numeric(field):
        style = "fixed_number" if fixed else "entry"
        shown = None if number is None else convert(number, field.unit, unit)
        decimals = field.decimals if unit == field.unit else None
        if field.kind is Kind.INTEGER:
            decimals = 0
        if value.state is State.NOT_APPLICABLE:
            sheet.text(*place, NOT_APPLICABLE, style)
        elif shown is None:
            made = sheet.style(style, number_format(None, decimals))
            sheet.worksheet.write_blank(*place, None, made)
        else:
            sheet.number(*place, shown, style, number_format(shown, decimals))
        return
    style = "fixed" if fixed else "entry_text"
    content = NOT_APPLICABLE if value.state is State.NOT_APPLICABLE else value.content
    text = str(content) if content is not None else ""
    sheet.text(*place, in_words(text) if field.choices else text, style)


def validation(book: Book, field: Field, place: tuple[int, int], unit: str) -> dict[str, Any]:
    """Return the data validation of a field's cell: what it accepts, and its how-to text."""
    options: dict[str, Any] = {"validate": "any"}
    refusal = ""
    if field.choices:
        options = {"validate": "list", "source": _source(book, field.choices)}
        refusal = spoken(
            "One of: {choices}; or n/a with the reason beside it.",
            choices=", ".join(map(in_words, field.choices)),
        )
    elif is_numeric(field):
        options, refusal = _number_rule(field, place, unit)
    how = " ".join(part for part in (field.how, field.caution) if part)
    if how:
        options |= {
            "input_title": shortened(field.label, LONGEST_PROMPT_TITLE),
            "input_message": shortened(how, LONGEST_PROMPT),
        }
    if refusal:
        options |= {
            "error_title": spoken("Not as asked"),
            "error_message": shortened(refusal, LONGEST_PROMPT),
        }
    return options


def _number_rule(field: Field, place: tuple[int, int], unit: str) -> tuple[dict[str, Any], str]:
    cell = f"{column_letters(place[1])}{place[0] + 1}"
    tests = [f"ISNUMBER({cell})"]
    refusal = spoken("A number")
    if field.kind is Kind.INTEGER:
        tests.append(f"{cell}=INT({cell})")
        refusal = spoken("A whole number")
    if field.possible is not None:
        low, high = (convert(bound, field.unit, unit) for bound in field.possible)
        tests += [f"{cell}>={low!r}", f"{cell}<={high!r}"]
        refusal += spoken(
            " from {low:.6g} to {high:.6g} {unit}", low=low, high=high, unit=unit
        ).rstrip()
    rule = f"=OR({cell}={quoted(NOT_APPLICABLE)},AND({','.join(tests)}))"
    return {"validate": "custom", "value": rule}, spoken(
        "{refusal}; or n/a with the reason beside it.", refusal=refusal
    )


def _source(book: Book, choices: tuple[str, ...]) -> list[str] | str:
    """Return a list written in place, or its range on the sheet of lists if it is too long."""
    options = (*map(in_words, choices), NOT_APPLICABLE)
    if len(",".join(options)) <= LONGEST_PROMPT and not any("," in text for text in options):
        return list(options)
    if options not in book.lists:
        column = column_letters(len(book.lists))
        book.lists[options] = f"='{tab(LISTS)}'!${column}$2:${column}${len(options) + 1}"
    return book.lists[options]
