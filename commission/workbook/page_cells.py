"""The cells of one row of a page: value, uncertainty, instrument, limit, verdict."""

from __future__ import annotations

from dataclasses import dataclass

from commission.definitions.model import Check, Field, Key, LimitKind, Quantity, Severity
from commission.formula.evaluate import State, Value
from commission.formula.excel import NOT_APPLICABLE, quoted, value_formula
from commission.formula.graph import Index
from commission.units import UNITS, convert
from commission.validation.verdict import AppliedLimit, VerdictCells, verdict_formula
from commission.workbook.addresses import column_letters
from commission.workbook.appearance import number_format, uncertainty_format
from commission.workbook.book import PART_COLUMNS, RULE_NAME, Book, condition_text
from commission.workbook.entry_cells import write_entry
from commission.workbook.layout import Column, Page, is_numeric
from commission.workbook.remarks import verdict_remark
from commission.workbook.sheet import LONGEST_FORMULA, Sheet, cached
from commission.workbook.uncertainty_cells import uncertainty_formula

_KIND_WORDS = {
    LimitKind.RANGE: "low to high",
    LimitKind.AT_MOST: "at most",
    LimitKind.AT_LEAST: "at least",
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
        shown = self.page.results.shown_unit(entry.name)
        if shown:
            self.sheet.text(number, self._at(Column.UNIT), shown, "unit")
        if shown != entry.unit:
            self._converted(number, entry, key, shown)
        elif isinstance(entry, Field):
            place = (number, self._at(Column.VALUE))
            write_entry(self.book, self.page, self.sheet, place, key, shown)
        else:
            self._result(number, self._at(Column.VALUE), entry, key)

    def grid_value(self, number: int, column: int, key: Key) -> None:
        """Write one value of a grid, in the form's unit."""
        entry = self.book.plan.entries[key.name]
        if isinstance(entry, Field):
            write_entry(self.book, self.page, self.sheet, (number, column), key, entry.unit)
        elif isinstance(entry, Quantity):
            self._result(number, column, entry, key)

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

    def _converted(self, number: int, entry: Field | Quantity, key: Key, shown: str) -> None:
        """Write a value in the person's unit, and beside it in the form's: one of them computed."""
        in_form, in_shown = self._at(Column.FORM_VALUE), self._at(Column.VALUE)
        value = self.page.results.value(*key)
        decimals = number_format(value.number, entry.decimals)
        self.sheet.text(number, self._at(Column.FORM_UNIT), entry.unit, "unit")
        if isinstance(entry, Field):
            write_entry(self.book, self.page, self.sheet, (number, in_shown), key, shown)
            formula = _conversion(f"{column_letters(in_shown)}{number + 1}", shown, entry.unit)
            self.sheet.formula(number, in_form, formula, cached(value), "number", decimals)
            return
        self._result(number, in_form, entry, key)
        formula = _conversion(self.book.value_name(self.page, key) or "", entry.unit, shown)
        now = _in_unit(value, entry.unit, shown)
        style = number_format(now if isinstance(now, float) else None, None)
        self.sheet.formula(number, in_shown, formula, now, "result", style)

    def uncertainty(self, number: int, key: Key) -> str:
        """Write the expanded uncertainty of a value as a live formula; return words on it."""
        owner, _ = self.book.owned(self.page, key)
        if self.book.addresses.further(owner, key, "uncertainty") is None:
            return ""
        expanded = self.page.results.expanded(*key)
        formula = uncertainty_formula(self.book, self.page, key)
        if formula is None or expanded is None:
            return ""
        place, shown = (number, self._at(Column.UNCERTAINTY)), uncertainty_format(expanded)
        if len(formula) > LONGEST_FORMULA:
            self.sheet.number(*place, expanded, "number", shown)
            return "± U as exported: it rests on too many readings for one formula."
        self.sheet.formula(*place, formula, expanded, "number", shown)
        return ""

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
        name = self.book.value_name(self.page, key)
        value = self.page.results.value(*key)
        if check.unit:
            self.sheet.text(number, self._at(Column.UNIT), check.unit, "unit")
        entry = self.book.plan.entries[key.name]
        shown = number_format(value.number, check.decimals) if is_numeric(entry) else ""
        formula = f'IF({name}="","",{name})'
        self.sheet.formula(number, self._at(Column.VALUE), formula, cached(value), "result", shown)

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
        """Write one part of a limit: what was entered, or the default as a live formula."""
        place = (number, self._at(PART_COLUMNS[part]))
        value = limit.parts[part]
        shown = number_format(value.number, check.decimals)
        tree = getattr(check, part)
        entered = self.page.results.calculation.limits
        given = entered.get(key) or entered.get(Key(key.name))
        if given is not None and part in given.parts:
            self.sheet.number(*place, given.parts[part], "entry", shown)
        elif tree is not None:
            formula = value_formula(tree, self.book.references(self.page, key))
            self.sheet.formula(*place, formula, cached(value), "entry", shown)
        else:
            self.sheet.worksheet.write_blank(*place, None, self.sheet.style("entry", shown))
        return self.book.addresses.further(self.page.owner, key, part) or ""


def _requirement(check: Check, label: str) -> str:
    """Return what a check asks in words: its own name where it differs, kind, severity."""
    if check.limit is LimitKind.IS:
        kind = f"must be '{check.expected}'"
    elif check.limit is LimitKind.TARGET:
        kind = "target ± tolerance" + (" in %" if "tolerance_percent" in check.parts else "")
    else:
        kind = _KIND_WORDS[check.limit]
    words = kind if check.label.casefold() == label.casefold() else f"{check.label}: {kind}"
    grave = {Severity.STOP: "STOP. ", Severity.NOTE: "Note. "}.get(check.severity, "")
    return grave + words[:1].upper() + words[1:]


def _origin(limit: AppliedLimit) -> str:
    mark = ""
    if limit.is_default:
        mark = " (default, not confirmed)"
    elif limit.confirmed:
        mark = " (confirmed)"
    return f"{limit.origin}{mark}".strip()


def _conversion(cell: str, source: str, target: str) -> str:
    """Return the formula of a cell's number in another unit; words pass as they are."""
    given, wanted = UNITS[source], UNITS[target]
    factor, shift = given.scale / wanted.scale, (given.offset - wanted.offset) / wanted.scale
    moved = f"{cell}*{_number(factor)}" + (f"+{_number(shift)}" if shift else "")
    return f'IF(ISNUMBER({cell}),{moved},IF({cell}="","",{cell}))'


def _number(value: float) -> str:
    text = repr(value).upper()
    return f"({text})" if value < 0 else text


def _in_unit(value: Value, source: str, target: str) -> float | str:
    if value.state is State.KNOWN and value.number is not None:
        return convert(value.number, source, target)
    return cached(value)
