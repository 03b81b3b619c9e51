"""Uncertainty as live formulas: instrument terms are cells, sensitivities are constants.

The expanded uncertainty of a reading is k u of its instrument; that of a result adds its
readings' by instrument with sign, then in quadrature (GUM, first order).
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from commission.definitions.model import Field, Key
from commission.units import UNITS
from commission.workbook.addresses import Cell, joined_ranges
from commission.workbook.book import FACTOR_NAME, Book
from commission.workbook.layout import Page

ACCURACY_TERMS = ("percent_of_reading", "percent_of_span", "span", "plus_minus")


def instrument_name(number: int, term: str) -> str:
    """Return the defined name of one accuracy term of an instrument."""
    return f"instrument_{number}_{term}"


def uncertainty_formula(book: Book, page: Page, key: Key) -> str | None:
    """Return the formula of the expanded uncertainty of a value, or None where none is known."""
    entry = book.plan.entries[key.name]
    name = book.value_name(page, key)
    if isinstance(entry, Field):
        inner = _of_reading(book, page, key, name or "")
    else:
        inner = _of_result(book, page, key)
    return f'IF(ISNUMBER({name}),IFERROR({inner},""),"")' if inner and name else None


def _of_reading(book: Book, page: Page, key: Key, name: str) -> str | None:
    given = page.results.calculation.given.get(key)
    if given is None or given.instrument not in book.instruments:
        return None
    percent, constant = _terms(book, key, given.instrument)
    return f"{FACTOR_NAME}*({percent}*ABS({name})+{constant})/SQRT(3)"


def _terms(book: Book, key: Key, instrument_id: str) -> tuple[str, str]:
    """Return an instrument's share of the reading and its constant, in the reading's unit."""
    number, instrument = book.instruments[instrument_id]
    of_reading, of_span, span, plus_minus = (
        instrument_name(number, term) for term in ACCURACY_TERMS
    )
    constant = f"({of_span}/100*{span}+{plus_minus})"
    scale = _as_difference(instrument.unit, book.plan.entries[key.name].unit)
    return f"{of_reading}/100", constant if scale == 1.0 else f"{_constant(scale)}*{constant}"


def _as_difference(source: str, target: str) -> float:
    """Return how many `target` one `source` is as a difference; 1 where they are unlike."""
    given, wanted = UNITS.get(source), UNITS.get(target)
    if not source or given is None or wanted is None or given.dimension != wanted.dimension:
        return 1.0
    return abs(given.scale / wanted.scale)


def _of_result(book: Book, page: Page, key: Key) -> str | None:
    by_instrument: dict[str, dict[Key, float]] = {}
    for reading, slope in page.results.calculation.sensitivities(key).items():
        instrument = page.results.calculation.given[reading].instrument
        by_instrument.setdefault(instrument, {})[reading] = slope
    if not by_instrument:
        return None
    sums = [
        "+".join(_contributions(book, page, instrument, slopes)).replace("+-", "-")
        for instrument, slopes in by_instrument.items()
    ]
    return f"ABS({sums[0]})" if len(sums) == 1 else f"SQRT(SUMSQ({','.join(sums)}))"


def _contributions(
    book: Book, page: Page, instrument: str, slopes: Mapping[Key, float]
) -> Iterator[str]:
    """Yield what one instrument's readings add, those of a grid a line at a time."""
    lines: dict[tuple[str, str, int], dict[Cell, float]] = {}
    for reading, slope in slopes.items():
        owner, key = book.owned(page, reading)
        uncertainty = book.addresses.further(owner, key, "uncertainty")
        cell = book.addresses.cell(owner, key)
        if uncertainty is not None:
            yield f"{_constant(slope)}*N({uncertainty})"
        elif cell is not None:
            lines.setdefault((reading.name, cell.sheet, cell.row), {})[cell] = slope
    for (name, _, _), line in lines.items():
        percent, constant = _terms(book, Key(name), instrument)
        total = _constant(sum(line.values()))
        read = _weighed(line)
        yield f"{FACTOR_NAME}*({percent}*{read}+{constant}*{total})/SQRT(3)"


def _weighed(line: Mapping[Cell, float]) -> str:
    """Return the sum of sensitivity times size over cells of one row of a grid."""
    ordered = sorted(line)
    if len(ordered) == ordered[-1].column - ordered[0].column + 1:
        constants = ",".join(_constant(line[cell]) for cell in ordered)
        return f"SUMPRODUCT({{{constants}}},ABS({joined_ranges(ordered)}))"
    terms = (f"{_constant(line[cell])}*ABS({cell.absolute})" for cell in ordered)
    return f"({'+'.join(terms)})"


def _constant(value: float) -> str:
    return f"{value:.15G}"
