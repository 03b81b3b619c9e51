"""Uncertainty as live formulas: instrument terms are cells, sensitivities are constants.

The expanded uncertainty of a reading is k u of its instrument; that of a result adds its
readings' by instrument with sign, then in quadrature (GUM, first order).
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from itertools import groupby

from commission.definitions.model import Field, Key
from commission.validation.calculation import accuracy_scale
from commission.workbook.addresses import Cell, joined_ranges
from commission.workbook.book import FACTOR_NAME, Book
from commission.workbook.layout import Page

_FEW_IN_A_GRID = 40
_CANCELLED, _MOST_THAT_CANCEL = "1E-8", 6
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
    scale = accuracy_scale(instrument.unit, book.plan.entries[key.name].unit)
    return f"{of_reading}/100", constant if scale == 1.0 else f"{_constant(scale)}*{constant}"


def _of_result(book: Book, page: Page, key: Key) -> str | None:
    by_instrument: dict[str, dict[Key, float]] = {}
    for reading, slope in page.results.calculation.sensitivities(key).items():
        instrument = page.results.calculation.given[reading].instrument
        by_instrument.setdefault(instrument, {})[reading] = slope
    if not by_instrument:
        return None
    sums = [_sum(book, page, *group) for group in by_instrument.items()]
    return f"ABS({sums[0]})" if len(sums) == 1 else f"SQRT(SUMSQ({','.join(sums)}))"


def _sum(book: Book, page: Page, instrument: str, slopes: Mapping[Key, float]) -> str:
    """Return the signed sum of one instrument's contributions, 0 where they cancel.

    What is left of a cancelled error is rounding of the slopes (`uncertainty.budget`); only
    a few readings can cancel so closely, and many would make the formula too long.
    """
    total = _added(book, page, instrument, slopes)
    one_sign = len({slope > 0 for slope in slopes.values()}) == 1
    if one_sign or len(slopes) > _MOST_THAT_CANCEL:
        return total
    sizes = {reading: abs(slope) for reading, slope in slopes.items()}
    gross = _added(book, page, instrument, sizes)
    return f"IF(ABS({total})>{_CANCELLED}*({gross}),{total},0)"


def _added(book: Book, page: Page, instrument: str, slopes: Mapping[Key, float]) -> str:
    return "+".join(_contributions(book, page, instrument, slopes)).replace("+-", "-")


def _contributions(
    book: Book, page: Page, instrument: str, slopes: Mapping[Key, float]
) -> Iterator[str]:
    """Yield what one instrument's readings add, those of a grid together."""
    grids: dict[str, dict[Cell, float]] = {}
    for reading, slope in slopes.items():
        owner, key = book.owned(page, reading)
        uncertainty = book.addresses.further(owner, key, "uncertainty")
        cell = book.addresses.cell(owner, key)
        if uncertainty is not None:
            yield f"{_constant(slope)}*N({uncertainty})"
        elif cell is not None:
            grids.setdefault(reading.name, {})[cell] = slope
    for name, grid in grids.items():
        percent, constant = _terms(book, Key(name), instrument)
        total = _constant(sum(grid.values()))
        read = "+".join(_weighed_lines(grid))
        yield f"{FACTOR_NAME}*({percent}*({read})+{constant}*{total})/SQRT(3)"


def _weighed_lines(grid: Mapping[Cell, float]) -> Iterator[str]:
    """Yield, row by row, the sum of sensitivity times size over the cells of a grid."""
    ordered = sorted(grid)
    digits = 15 if len(grid) <= _FEW_IN_A_GRID else 12  # so that a formula holds a long traverse
    for _, row in groupby(ordered, key=lambda cell: (cell.sheet, cell.row)):
        line = list(row)
        if len(line) == line[-1].column - line[0].column + 1:
            constants = ",".join(f"{grid[cell]:.{digits}G}" for cell in line)
            yield f"SUMPRODUCT({{{constants}}},ABS({joined_ranges(line)}))"
        else:
            yield "+".join(f"{grid[cell]:.{digits}G}*ABS({cell.absolute})" for cell in line)


def _constant(value: float) -> str:
    return f"{value:.15G}"
