"""Uncertainty as live formulas: instrument terms are cells, sensitivities are constants.

The expanded uncertainty of a reading is k u of its instrument; that of a result adds what its
readings share by instrument with sign, and then in quadrature with what each reading has of
its own: repeatability and resolution (GUM, first order).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping
from itertools import groupby

from commission.definitions.model import Field, Key
from commission.project.registers import ACCURACY_TERMS
from commission.validation.calculation import accuracy_scale
from commission.workbook.addresses import Cell, joined_ranges
from commission.workbook.book import FACTOR_NAME, Book
from commission.workbook.layout import Page

_FEW_IN_A_GRID = 40
_CANCELLED, _MOST_THAT_CANCEL = "1E-8", 6


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
    shared = _shared_by(book, given.instrument, _scale(book, key, given.instrument))
    own = _own_by(book, given.instrument, {key: 1.0})
    return f"SQRT(SUMSQ({shared(f'ABS({name})', '1')},{own}))"


def _scale(book: Book, key: Key, instrument_id: str) -> float:
    """Return how many units of a field one unit of the instrument's terms is."""
    _, instrument = book.instruments[instrument_id]
    return accuracy_scale(instrument.unit, book.plan.entries[key.name].unit)


def _terms(book: Book, instrument_id: str) -> Mapping[str, str]:
    number, _ = book.instruments[instrument_id]
    return {term: instrument_name(number, term) for term in ACCURACY_TERMS}


def _shared_by(book: Book, instrument_id: str, scale: float) -> Callable[[str, str], str]:
    """Return what writes k u of an instrument's shared error.

    Its two texts are the sum of sensitivity times size of the readings, and the sum of the
    sensitivities.
    """
    term = _terms(book, instrument_id)
    constant = f"({term['percent_of_span']}/100*{term['span']}+{term['plus_minus']})"
    constant = constant if scale == 1.0 else f"{_constant(scale)}*{constant}"

    def written(sizes: str, slopes: str) -> str:
        by_reading = f"{term['percent_of_reading']}/100*({sizes})"
        return f"{FACTOR_NAME}*({by_reading}+{constant}*{slopes})/SQRT(3)"

    return written


def _own_by(book: Book, instrument_id: str, slopes: Mapping[Key, float]) -> str:
    """Return the root of the sum of squares of what each reading has of its own, times k."""
    term = _terms(book, instrument_id)
    scaled = (slope * _scale(book, key, instrument_id) for key, slope in slopes.items())
    variance = f"{term['repeatability']}^2/3+{term['resolution']}^2/12"
    return f"{FACTOR_NAME}*{_constant(math.hypot(*scaled))}*SQRT({variance})"


def _of_result(book: Book, page: Page, key: Key) -> str | None:
    by_instrument: dict[str, dict[Key, float]] = {}
    for reading, slope in page.results.calculation.sensitivities(key).items():
        instrument = page.results.calculation.given[reading].instrument
        by_instrument.setdefault(instrument, {})[reading] = slope
    if not by_instrument:
        return None
    shared = [_shared(book, page, *group) for group in by_instrument.items()]
    own = [_own_by(book, *group) for group in by_instrument.items()]
    return f"SQRT(SUMSQ({','.join([*shared, *own])}))"


def _shared(book: Book, page: Page, instrument: str, slopes: Mapping[Key, float]) -> str:
    """Return the signed sum of one instrument's shared contributions, 0 where they cancel.

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
    return "+".join(_contributions(book, page, instrument, slopes)).replace("+-", "-") or "0"


def _contributions(
    book: Book, page: Page, instrument: str, slopes: Mapping[Key, float]
) -> Iterator[str]:
    """Yield what one instrument's readings add, those of one scale or of a grid together."""
    grids: dict[str, dict[Cell, float]] = {}
    single: dict[float, dict[str, float]] = {}
    for reading, slope in slopes.items():
        owner, key = book.owned(page, reading)
        name, cell = book.addresses.value(owner, key), book.addresses.cell(owner, key)
        if book.addresses.further(owner, key, "uncertainty") is not None and name is not None:
            single.setdefault(_scale(book, key, instrument), {})[name] = slope
        elif cell is not None:
            grids.setdefault(reading.name, {})[cell] = slope
    for scale, named in single.items():
        sizes = "+".join(f"{_constant(slope)}*ABS(N({name}))" for name, slope in named.items())
        yield _shared_by(book, instrument, scale)(sizes, _constant(math.fsum(named.values())))
    for name, grid in grids.items():
        scale = _scale(book, Key(name), instrument)
        sizes = "+".join(_weighed_lines(grid))
        yield _shared_by(book, instrument, scale)(sizes, _constant(math.fsum(grid.values())))


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
