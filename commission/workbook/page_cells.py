"""The cells of one row of a page: value, uncertainty, instrument, limit, verdict."""

from __future__ import annotations

from dataclasses import dataclass

from commission.definitions.model import (
    Check,
    Field,
    Key,
    Kind,
    LimitKind,
    Quantity,
    Severity,
)
from commission.formula.evaluate import State, Value
from commission.formula.excel import NOT_APPLICABLE, quoted, value_formula
from commission.formula.graph import Index
from commission.language import spoken, to_say
from commission.units import UNITS, convert, difference_scale
from commission.validation.verdict import AppliedLimit, VerdictCells, verdict_formula
from commission.workbook.addresses import Cell, column_letters
from commission.workbook.appearance import number_format, uncertainty_format
from commission.workbook.book import (
    FORM_PART_COLUMNS,
    PART_COLUMNS,
    RULE_NAME,
    Book,
    condition_text,
)
from commission.workbook.entry_cells import write_entry
from commission.workbook.layout import Column, Page, is_numeric
from commission.workbook.limit_units import form_unit_of, limit_in_unit, shown_unit_of
from commission.workbook.remarks import verdict_remark
from commission.workbook.sheet import LONGEST_FORMULA, Cached, Sheet, cached
from commission.workbook.typed_tables import write_state
from commission.workbook.uncertainty_cells import uncertainty_formula
from commission.workbook.words import in_words

_GRAVE = {Severity.STOP: to_say("STOP"), Severity.NOTE: to_say("Note")}
_KIND_WORDS = {
    LimitKind.RANGE: to_say("low to high"),
    LimitKind.AT_MOST: to_say("at most"),
    LimitKind.AT_LEAST: to_say("at least"),
}


@dataclass(frozen=True, slots=True)
class PageCells:
    """Writes what stands in the columns of a page's rows."""

    book: Book
    page: Page
    sheet: Sheet

    def _at(self, column: Column) -> int:
        return self.page.columns[column]

    # -- values ----------------------------------------------------------------------

    def value(self, number: int, entry: Field | Quantity, key: Key) -> None:
        """Write a reading to be typed, or a result as a live formula, with its unit."""
        if isinstance(entry, Field) and entry.kind is Kind.TABLE:
            write_state(self.book, self.page, self.sheet, (number, self._at(Column.VALUE)), key)
            return
        shown = self.page.results.shown_unit(entry.name)
        if shown:
            self.sheet.text(number, self._at(Column.UNIT), shown, "unit")
        working = 0
        if self.page.has_working(key):
            working = self._at(Column.FORM_VALUE)
            if shown != entry.unit:
                self.sheet.text(number, self._at(Column.FORM_UNIT), entry.unit, "unit")
        self._value_at((number, self._at(Column.VALUE)), working, entry, key)

    def grid_value(self, number: int, column: int, key: Key) -> None:
        """Write one value of a grid, beside the page also its working cell if it has one."""
        entry = self.book.plan.entries[key.name]
        assert isinstance(entry, Field | Quantity)
        working = self.page.grid_column(column) if self.page.has_working(key) else 0
        self._value_at((number, column), working, entry, key)

    def _value_at(
        self, place: tuple[int, int], working: int, entry: Field | Quantity, key: Key
    ) -> None:
        """Write a value; with a column for its working cell, one of the two is computed."""
        if isinstance(entry, Quantity):
            if working:
                self._result(place[0], working, entry, key)
                self._result_shown(place, entry, key)
            else:
                self._result(*place, entry, key)
            return
        shown = self.page.results.shown_unit(entry.name)
        write_entry(self.book, self.page, self.sheet, place, key, shown)
        if working:
            self._working_reading(place, working, entry, key)

    def _working_reading(
        self, place: tuple[int, int], working: int, entry: Field, key: Key
    ) -> None:
        """Write what formulas read of a typed cell: in the form's unit, "n/a" if not asked."""
        cell = Cell(self.page.sheet, *place).local
        shown = self.page.results.shown_unit(entry.name)
        value = self.page.results.value(*key)
        formula = f'IF({cell}="","",{cell})'
        if shown != entry.unit:
            formula = conversion(cell, shown, entry.unit)
        if self.page.relevance.gated(key):
            references = self.book.references(self.page, key)
            condition = condition_text(self.page.section, entry.when, references)
            formula = f"IF({condition},{formula},{quoted(NOT_APPLICABLE)})"
            self.sheet.unasked(place, f"${column_letters(working)}{place[0] + 1}")
        decimals = number_format(value.number, entry.decimals) if is_numeric(entry) else ""
        self.sheet.formula(place[0], working, formula, cached(value), "number", decimals)

    def _result_shown(self, place: tuple[int, int], entry: Quantity, key: Key) -> None:
        shown = self.page.results.shown_unit(entry.name)
        name = self.book.value_name(self.page, key) or ""
        now = _in_unit(self.page.results.value(*key), entry.unit, shown)
        style = number_format(now if isinstance(now, float) else None, None)
        formula = conversion(name, entry.unit, shown)
        self.sheet.formula(*place, formula, now, "result", style)

    def _result(self, number: int, column: int, quantity: Quantity, key: Key) -> None:
        section = self.page.section
        references = self.book.references(self.page, key)
        formula = value_formula(quantity.formula, references)
        condition = condition_text(section, quantity.when, references)
        if condition:
            formula = f"IF({condition},{formula},{quoted(NOT_APPLICABLE)})"
        value = self.page.results.value(*key)
        style = "result_text" if quantity.text else "result"
        shown = "" if quantity.text else number_format(value.number, quantity.decimals)
        self.sheet.formula(number, column, formula, cached(value), style, shown)

    def uncertainty(self, number: int, key: Key) -> str:
        """Write the expanded uncertainty of a value as a live formula; return words on it."""
        owner, _ = self.book.owned(self.page, key)
        if self.book.addresses.further(owner, key, "uncertainty") is None:
            return ""
        expanded = self.page.results.expanded(*key)
        formula = uncertainty_formula(self.book, self.page, key)
        if formula is None or expanded is None:
            return ""
        entry = self.book.plan.entries[key.name]
        other = self.page.shows_other(entry)
        place = (number, self._at(Column.FORM_UNCERTAINTY if other else Column.UNCERTAINTY))
        if other:
            self._uncertainty_shown(number, key, entry.unit, expanded)
        if len(formula) > LONGEST_FORMULA:
            self.sheet.number(*place, expanded, "number", uncertainty_format(expanded))
            return to_say("± U as exported: it rests on too many readings for one formula.")
        self.sheet.formula(*place, formula, expanded, "number", uncertainty_format(expanded))
        return ""

    def _uncertainty_shown(self, number: int, key: Key, unit: str, expanded: float) -> None:
        """Write a ± U in the shown unit, which is a difference on its scale."""
        name = self.book.addresses.further(*self.book.owned(self.page, key), "uncertainty")
        scale = difference_scale(unit, self.page.results.shown_unit(key.name))
        formula = f'IF(ISNUMBER({name}),{name}*{_number(scale)},"")'
        now = expanded * scale
        place = (number, self._at(Column.UNCERTAINTY))
        self.sheet.formula(*place, formula, now, "number", uncertainty_format(now))

    def instrument(self, number: int, key: Key) -> None:
        """Write which instrument read a value, or which kind should."""
        entry = self.book.plan.entries[key.name]
        reading = self.page.results.reading(*key)
        if not isinstance(entry, Field) or Column.INSTRUMENT not in self.page.columns:
            return
        text = f"({entry.instrument})" if entry.instrument else ""
        if reading is not None and reading.instrument_id in self.book.instruments:
            place, instrument = self.book.instruments[reading.instrument_id]
            text = f"No. {place}, {instrument.kind}"
        self.sheet.text(number, self._at(Column.INSTRUMENT), text, "small")

    # -- limits and verdicts -----------------------------------------------------------

    def judged(self, number: int, check: Check, index: Index) -> None:
        """Write the value that a check judges, where it stands in a row of its own."""
        key = Key(check.judges, index)
        name = self.book.value_name(self.page, key) or ""
        value = self.page.results.value(*key)
        unit = self.page.results.shown_unit(check.judges)
        entry = self.book.plan.entries[key.name]
        other = self.page.shows_other(entry)
        if unit:
            self.sheet.text(number, self._at(Column.UNIT), unit, "unit")
        formula = f'IF({name}="","",{name})' if not other else conversion(name, entry.unit, unit)
        now = _in_unit(value, entry.unit, unit) if other else cached(value)
        shown = ""
        if is_numeric(entry):
            decimals = None if other else check.decimals
            shown = number_format(now if isinstance(now, float) else None, decimals)
        self.sheet.formula(number, self._at(Column.VALUE), formula, now, "result", shown)

    def check(self, number: int, check: Check, index: Index, label: str) -> str:
        """Write limit and verdict of a check; return the words on its outcome."""
        key = Key(check.name, index)
        verdict = self.page.results.verdict(*key)
        parts = {part: self._part(number, check, key, part, verdict.limit) for part in check.parts}
        if check.parts:
            self.sheet.text(number, self._at(Column.ORIGIN), _origin(verdict.limit), "entry_small")
        wanted = _requirement(check, label)
        self.sheet.text(number, self._at(Column.REQUIREMENT), wanted, "small")
        self._verdict(number, check, key, parts)
        return verdict_remark(self.page.results, verdict)

    def _verdict(self, number: int, check: Check, key: Key, parts: dict[str, str]) -> None:
        owner, judged = self.book.owned(self.page, Key(check.judges, key.index))
        references = self.book.references(self.page, key)
        expanded = self.book.addresses.further(owner, judged, "uncertainty") or ""
        cells = VerdictCells(
            self.book.value_name(self.page, judged) or '""', parts, expanded, RULE_NAME
        )
        condition = condition_text(self.page.section, check.when, references)
        formula = verdict_formula(check, cells, condition)
        outcome = str(self.page.results.verdict(*key).outcome)
        self.sheet.formula(number, self._at(Column.VERDICT), formula, outcome, "verdict")

    def _part(self, number: int, check: Check, key: Key, part: str, limit: AppliedLimit) -> str:
        """Write one part of a limit: what was entered, or the default as a live formula.

        Where the page shows another unit than the form's, the shown cell is the one to type
        in and the form's, which verdicts read, is computed from it.
        """
        column = PART_COLUMNS[part]
        place = (number, self._at(column))
        system = self.page.results.unit_system
        units = form_unit_of(check, part), shown_unit_of(check, part, system)
        value = limit.parts[part]
        turned = units[0] != units[1]
        now = cached(value)
        if turned and isinstance(now, float):
            now = limit_in_unit(part, now, *units)
        shown = number_format(now if isinstance(now, float) else None,
                              None if turned else check.decimals)  # fmt: skip
        self._part_to_type(place, check, key, part, (now, shown))
        name = self.book.addresses.further(self.page.owner, key, part) or ""
        if turned:
            cell = Cell(self.page.sheet, *place).local
            formula = conversion(cell, units[1], units[0], is_difference=part == "tolerance")
            decimals = number_format(value.number, check.decimals)
            at = (number, self._at(FORM_PART_COLUMNS[column]))
            self.sheet.formula(*at, formula, cached(value), "number", decimals)
        return name

    def _part_to_type(
        self, place: tuple[int, int], check: Check, key: Key, part: str, now: tuple[Cached, str]
    ) -> None:
        tree, (content, shown) = getattr(check, part), now
        limits = self.page.results.calculation.limits
        given = limits.get(key) or limits.get(Key(key.name))
        if given is not None and part in given.parts:
            assert isinstance(content, float)
            self.sheet.number(*place, content, "entry", shown)
        elif tree is not None:
            formula = value_formula(tree, self.book.references(self.page, key))
            system = self.page.results.unit_system
            units = form_unit_of(check, part), shown_unit_of(check, part, system)
            if units[0] != units[1]:
                formula = conversion(f"({formula})", *units, is_difference=part == "tolerance")
            self.sheet.formula(*place, formula, content, "entry", shown)
        else:
            self.sheet.worksheet.write_blank(*place, None, self.sheet.style("entry", shown))


def _requirement(check: Check, label: str) -> str:
    """Return what a check asks in words: its own name where it differs, kind, severity."""
    if check.limit is LimitKind.IS:
        kind = spoken("must be '{expected}'", expected=in_words(check.expected))
    elif check.limit is LimitKind.TARGET:
        kind = spoken("target ± tolerance") + (
            spoken(" in %") if "tolerance_percent" in check.parts else ""
        )
    else:
        kind = spoken(_KIND_WORDS[check.limit])
    words = kind if check.label.casefold() == label.casefold() else f"{check.label}: {kind}"
    grave = _GRAVE.get(check.severity, "")
    grave = f"{spoken(grave)}. " if grave else ""
    return grave + words[:1].upper() + words[1:]


def _origin(limit: AppliedLimit) -> str:
    mark = ""
    if limit.is_default:
        mark = spoken(" (default, not confirmed)")
    elif limit.confirmed:
        mark = spoken(" (confirmed)")
    return f"{limit.origin}{mark}".strip()


def conversion(cell: str, source: str, target: str, is_difference: bool = False) -> str:
    """Return the formula of a cell's number in another unit; words pass as they are."""
    given, wanted = UNITS[source], UNITS[target]
    factor, shift = given.scale / wanted.scale, (given.offset - wanted.offset) / wanted.scale
    moved = f"{cell}*{_number(factor)}"
    if shift and not is_difference:
        moved += f"+{_number(shift)}"
    return f'IF(ISNUMBER({cell}),{moved},IF({cell}="","",{cell}))'


def _number(value: float) -> str:
    text = repr(value).upper()
    return f"({text})" if value < 0 else text


def _in_unit(value: Value, source: str, target: str) -> float | str:
    if value.state is State.KNOWN and value.number is not None:
        return convert(value.number, source, target)
    return cached(value)
