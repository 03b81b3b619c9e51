"""The shown work of a page: each quantity's formula in symbols, in numbers, and its result."""

from __future__ import annotations

from collections.abc import Sequence

from reportlab.platypus import Flowable

from commission.definitions.model import Key, Quantity, Section
from commission.formula.work import WorkLine, written
from commission.language import spoken
from commission.package.flowables import Heading, kept
from commission.package.formula_shape import Glyphs, Row, Shape, is_tall, shape_of
from commission.package.turnover import Turnover
from commission.package.work_flowable import Line, Work, works_abreast
from commission.validation.results import UnitResults

_MOST_WORKED_MEMBERS = 6
_WORKED_OF_MANY = 2


def shown_work(turnover: Turnover, results: UnitResults, section: Section) -> list[Flowable]:
    """Return the shown work of a page under its heading, or nothing."""
    works: list[Work] = []
    for quantity in section.quantities:
        if not quantity.text:
            works += _quantity_work(results, quantity)
    if not works:
        return []
    title = (
        spoken("Shown work") if results.unit_system == "IP" else spoken("Shown work, in IP units")
    )
    first, *further = works_abreast(turnover.width, works)
    return [*kept(turnover.width, Heading(title, 3), first), *further]


def _quantity_work(results: UnitResults, quantity: Quantity) -> list[Work]:
    members = [m for m in results.asked_members(quantity.name) if results.work(quantity.name, m)]
    if not members:
        return []
    few = members if len(members) <= _MOST_WORKED_MEMBERS else members[:_WORKED_OF_MANY]
    lines: list[Line] = []
    formula = ""
    for member in few:
        key = Key(quantity.name, member)
        work = results.work(*key)
        assert work is not None
        symbols, numbers = results.worked(key, shape_of) or (None, None)
        # Without a symbol of its own the quantity's label stands at the left already.
        own = f"{work.symbol} = " if quantity.symbol else ""
        opening = own + work.symbols
        if opening not in (formula, work.result):
            lines.append(_line(opening, own, symbols))
            formula = opening
        name = results.member_label(quantity.name, member)
        lines.append(_in_numbers(results, key, work, f"{name}:  " if name else "= ", numbers))
    if len(few) < len(members):
        lines.append(
            Line(spoken("… and {count} more in the same way", count=len(members) - len(few)))
        )
    joined = _joined(lines) if members == [()] and len(lines) > 1 else None
    return [Work(quantity.label, lines, quantity.source, joined)]


def _line(text: str, before: str, shape: Shape | None, after: str = "") -> Line:
    """Return a line of work; one that needs no fraction, root or power stays plain text."""
    if shape is None or not is_tall(shape):
        return Line(text)
    parts = (Glyphs(before), shape, Glyphs(after))
    return Line(text, Row(tuple(p for p in parts if not isinstance(p, Glyphs) or p.text)))


def _in_numbers(
    results: UnitResults, key: Key, work: WorkLine, opening: str, numbers: Shape | None
) -> Line:
    """Return the line with the numbers; in an SI project the conversion is its last step."""
    parts = [work.numbers] if work.numbers != work.result else []
    parts.append(work.result)
    shown = results.shown(key.name, key.index)
    if not f"= {work.result}".endswith(f"= {shown}"):  # the result may be converted already
        parts.append(shown)
    text = opening + " = ".join(parts)
    if work.numbers == work.result:
        return Line(text)
    if numbers is None or not is_tall(numbers):
        return Line(text)
    _, plainly = results.worked(key, written) or ("", "")
    aside = work.numbers.removeprefix(plainly)  # between which values of a table it reads
    return _line(text, opening, numbers, " = ".join([aside, *parts[1:]]))


def _joined(lines: Sequence[Line]) -> Line:
    text = " ".join(line.text for line in lines)
    if all(line.shape is None for line in lines):
        return Line(text)
    parts: list[Shape] = []
    for line in lines:
        parts += [Glyphs(" ")] * bool(parts) + [line.shape or Glyphs(line.text)]
    return Line(text, Row(tuple(parts)))
