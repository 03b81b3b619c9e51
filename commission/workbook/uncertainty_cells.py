"""Uncertainty as live formulas: instrument terms are cells, sensitivities are constants.

The expanded uncertainty of a reading is k u of its instrument; that of a result adds its
readings' by instrument with sign, then in quadrature (GUM, first order).
"""

from __future__ import annotations

from collections.abc import Mapping

from commission.definitions.model import Field, Key
from commission.units import UNITS
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
        inner = _of_reading(book, page, key, entry, name or "")
    else:
        inner = _of_result(book, page, key)
    return f'IF(ISNUMBER({name}),{inner},"")' if inner and name else None


def _of_reading(book: Book, page: Page, key: Key, entry: Field, name: str) -> str | None:
    given = page.results.calculation.given.get(key)
    if given is None or given.instrument not in book.instruments:
        return None
    number, instrument = book.instruments[given.instrument]
    of_reading, of_span, span, plus_minus = (
        instrument_name(number, term) for term in ACCURACY_TERMS
    )
    constant = f"({of_span}/100*{span}+{plus_minus})"
    scale = _as_difference(instrument.unit, entry.unit)
    if scale != 1.0:
        constant = f"{scale!r}*{constant}".upper() if scale < 1e-4 else f"{scale!r}*{constant}"
    return f"{FACTOR_NAME}*({of_reading}/100*ABS({name})+{constant})/SQRT(3)"


def _as_difference(source: str, target: str) -> float:
    """Return how many `target` one `source` is as a difference; 1 where they are unlike."""
    given, wanted = UNITS.get(source), UNITS.get(target)
    if not source or given is None or wanted is None or given.dimension != wanted.dimension:
        return 1.0
    return abs(given.scale / wanted.scale)


def _of_result(book: Book, page: Page, key: Key) -> str | None:
    terms = _terms_by_instrument(book, page, page.results.calculation.sensitivities(key))
    if not terms:
        return None
    sums = ["+".join(parts).replace("+-", "-") for parts in terms.values()]
    if len(sums) == 1:
        return f"ABS({sums[0]})"
    return f"SQRT(SUMSQ({','.join(sums)}))"


def _terms_by_instrument(
    book: Book, page: Page, sensitivities: Mapping[Key, float]
) -> dict[str, list[str]]:
    terms: dict[str, list[str]] = {}
    for reading, slope in sensitivities.items():
        owner, key = book.owned(page, reading)
        cell = book.addresses.further(owner, key, "uncertainty")
        instrument = page.results.calculation.given[reading].instrument
        if cell is None:  # the reading stands in a grid: its instrument's terms in place
            entry = book.plan.entries[reading.name]
            assert isinstance(entry, Field)
            name = f"N({book.addresses.value(owner, key)})"
            expanded = f"({_of_reading(book, page, reading, entry, name)})"
        else:
            expanded = f"N({cell})"
        terms.setdefault(instrument, []).append(f"{_constant(slope)}*{expanded}")
    return terms


def _constant(value: float) -> str:
    return repr(value).upper()
