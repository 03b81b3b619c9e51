"""What a formula measures, worked out without any reading.

Each part of a tree gets a measure: dimension, scale and datum (see `commission.units`), or
it is a text or a condition. Sums and comparisons need one measure on both sides; products
combine; a literal factor other than 1 makes the scale unknown, since it may convert.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace

from commission.errors import FormulaError
from commission.formula.functions import FUNCTIONS, FunctionKind
from commission.formula.parse import unparse
from commission.formula.tree import (
    Arithmetic,
    Call,
    Choice,
    Comparison,
    Logic,
    Name,
    Negative,
    Node,
    Not,
    Number,
    Text,
)
from commission.language import spoken, to_say
from commission.units import PLAIN, UNITS, Dimension, unit


@dataclass(frozen=True, slots=True)
class Measure:
    """What a number measures; `scale` is None where a literal factor may have converted."""

    dimension: Dimension = PLAIN
    scale: float | None = 1.0
    datum: int = 0
    literal: bool = False


@dataclass(frozen=True, slots=True)
class TextSort:
    """A text."""


@dataclass(frozen=True, slots=True)
class Condition:
    """True or false."""


@dataclass(frozen=True, slots=True)
class TableSort:
    """A table that a person types, with the units of its directions and of its values."""

    rows: str
    columns: str | None
    body: str


_ADDS = to_say("'{part}' adds {second} to {first}.")
_TAKES = to_say("'{part}' takes {second} from {first}.")
_COLUMNS = to_say("'{part}': the table has columns; name as many directions.")
_NO_COLUMNS = to_say("'{part}': the table has no columns; name as many directions.")

Sort = Measure | TextSort | Condition | TableSort
SortOf = Callable[[str], Sort]


def measure_of(code: str) -> Measure:
    """Return the measure of a value in the unit `code`."""
    found = unit(code)
    return Measure(found.dimension, found.scale, found.datum)


def sort_of(node: Node, names: SortOf) -> Sort:
    """Return what a formula gives.

    Raises:
        FormulaError: Two things of different kinds are added, compared or passed.
    """
    match node:
        case Number():
            return Measure(literal=True)
        case Text():
            return TextSort()
        case Name(name):
            return names(name)
        case Negative(operand):
            return _difference_only(operand, names)
        case Arithmetic(("+" | "-"), _, _):
            return _sum(node, names)
        case Arithmetic(("*" | "/"), _, _):
            return _product(node, names)
        case Arithmetic():
            return _power(node, names)
        case Comparison(_, left, right):
            return _comparison(node, sort_of(left, names), sort_of(right, names))
        case Not(operand):
            _condition(operand, names)
            return Condition()
        case Logic(_, operands):
            for operand in operands:
                _condition(operand, names)
            return Condition()
        case Choice(condition, then, otherwise):
            _condition(condition, names)
            first, second = sort_of(then, names), sort_of(otherwise, names)
            _alike(first, second, node)
            return second if isinstance(first, Measure) and first.literal else first
        case Call():
            return _call(node, names)


def fits(sort: Sort, code: str, text: bool) -> str:
    """Return "" if a formula's sort fits its declared unit, else what is wrong."""
    if text or not isinstance(sort, Measure):
        if text and isinstance(sort, TextSort):
            return ""
        declared_as = spoken("text") if text else f"'{code or spoken('plain numbers')}'"
        return spoken("gives {given}, declared {wanted}", given=_named(sort), wanted=declared_as)
    declared = measure_of(code)
    if sort.literal or _same(sort, declared):
        return ""
    return spoken("gives {given}, declared {wanted}", given=_named(sort), wanted=f"'{code}'")


def _named(sort: Sort) -> str:
    if isinstance(sort, TableSort):
        return spoken("a table")
    if not isinstance(sort, Measure):
        return spoken("a text") if isinstance(sort, TextSort) else spoken("a condition")
    for known in UNITS.values():
        same_kind = (known.dimension, known.datum) == (sort.dimension, sort.datum)
        if same_kind and (sort.scale is None or math.isclose(known.scale, sort.scale)):
            return spoken("something in '{unit}'", unit=known.code or spoken("plain numbers"))
    return spoken(
        "no known unit (dimension {dimension}, scale {scale}, datum {datum})",
        dimension=sort.dimension,
        scale=sort.scale,
        datum=sort.datum,
    )


def _same(first: Measure, second: Measure) -> bool:
    if first.dimension != second.dimension or first.datum != second.datum:
        return False
    if first.scale is None or second.scale is None:
        return True
    return math.isclose(first.scale, second.scale, rel_tol=1e-6)


def _alike(first: Sort, second: Sort, node: Node) -> None:
    if isinstance(first, Measure) and isinstance(second, Measure):
        if first.literal or second.literal or _same(first, second):
            return
    elif type(first) is type(second):
        return
    raise FormulaError(
        spoken(
            "'{part}' sets {first} against {second}; they must be alike.",
            part=unparse(node),
            first=_named(first),
            second=_named(second),
        )
    )


def _comparison(node: Comparison, left: Sort, right: Sort) -> Condition:
    _alike(left, right, node)
    if node.operator not in ("==", "!=") and not isinstance(left, Measure):
        raise FormulaError(
            spoken(
                "'{part}' puts {what} in order; use == or != here.",
                part=unparse(node),
                what=_named(left),
            )
        )
    return Condition()


def _number(node: Node, names: SortOf) -> Measure:
    sort = sort_of(node, names)
    if not isinstance(sort, Measure):
        raise FormulaError(
            spoken(
                "'{part}' is {what} where a number is needed.",
                part=unparse(node),
                what=_named(sort),
            )
        )
    return sort


def _condition(node: Node, names: SortOf) -> None:
    sort = sort_of(node, names)
    if not isinstance(sort, Condition):
        raise FormulaError(
            spoken(
                "'{part}' is {what} where a condition is needed.",
                part=unparse(node),
                what=_named(sort),
            )
        )


def _difference_only(node: Node, names: SortOf) -> Measure:
    measure = _number(node, names)
    if measure.datum:
        raise FormulaError(
            spoken("'{part}' is counted from a zero point; it has no minus.", part=unparse(node))
        )
    return measure


def _sum(node: Arithmetic, names: SortOf) -> Measure:
    left, right = _number(node.left, names), _number(node.right, names)
    if left.literal and right.literal:
        return left
    if left.literal or right.literal:
        measured = right if left.literal else left
        if node.operator == "-" and left.literal and measured.datum:
            raise FormulaError(
                spoken("'{part}' takes a point away from a plain number.", part=unparse(node))
            )
        return measured
    datum = left.datum + right.datum if node.operator == "+" else left.datum - right.datum
    scales = (left.scale, right.scale)
    one_scale = None in scales or math.isclose(*(s or 0.0 for s in scales), rel_tol=1e-6)
    if left.dimension != right.dimension or not one_scale or datum not in (0, 1):
        rule = _ADDS if node.operator == "+" else _TAKES
        raise FormulaError(
            spoken(rule, part=unparse(node), second=_named(right), first=_named(left))
        )
    return Measure(left.dimension, left.scale if right.scale is not None else None, datum)


def _product(node: Arithmetic, names: SortOf) -> Measure:
    left, right = _number(node.left, names), _number(node.right, names)
    for part, measure in ((node.left, left), (node.right, right)):
        if measure.datum and measure.dimension[3]:
            raise FormulaError(
                spoken(
                    "'{part}' is a temperature on a scale; multiply differences only.",
                    part=unparse(part),
                )
            )
    sign = 1 if node.operator == "*" else -1
    pairs = zip(left.dimension, right.dimension, strict=True)
    dimension = tuple(first + sign * second for first, second in pairs)
    if left.literal and right.literal:
        return Measure(literal=True)
    one = Number(1.0)
    converts = (left.literal and node.left != one) or (right.literal and node.right != one)
    if converts or left.scale is None or right.scale is None:
        return Measure(dimension, None)
    return Measure(dimension, left.scale * right.scale**sign)


def _power(node: Arithmetic, names: SortOf) -> Measure:
    base = _number(node.left, names)
    if base.datum and base.dimension[3]:
        raise FormulaError(
            spoken(
                "'{part}' is a temperature on a scale; it has no powers.", part=unparse(node.left)
            )
        )
    exponent = _literal_exponent(node.right)
    if exponent is None:
        if base.dimension != PLAIN or _number(node.right, names).dimension != PLAIN:
            raise FormulaError(
                spoken("'{part}': such a power needs plain numbers.", part=unparse(node))
            )
        return Measure(PLAIN, None)
    scale = None if base.scale is None else base.scale**exponent
    dimension = tuple(power * exponent for power in base.dimension)
    return Measure(dimension, scale, literal=base.literal)


def _literal_exponent(node: Node) -> float | None:
    match node:
        case Number(value):
            return value
        case Negative(Number(value)):
            return -value
        case _:
            return None


def _call(node: Call, names: SortOf) -> Sort:
    function = FUNCTIONS[node.function]
    if function.kind is FunctionKind.PRESENCE:
        return Condition()
    if function.kind is FunctionKind.ENTERED:
        return _read_from_table(node, names)
    sorts = [sort_of(argument, names) for argument in node.arguments]
    measured = (sort for sort in sorts if isinstance(sort, Measure) and not sort.literal)
    first = next(measured, sorts[0])
    for position, (argument, sort) in enumerate(zip(node.arguments, sorts, strict=True)):
        wanted = function.arguments[min(position, len(function.arguments) - 1)].unit
        _passed(node, argument, sort, wanted, first)
    if function.result == "same":
        return first
    if function.result == "text":
        return TextSort()
    return measure_of(function.result)


def _read_from_table(node: Call, names: SortOf) -> Measure:
    function = FUNCTIONS[node.function]
    table = sort_of(node.arguments[0], names)
    if not isinstance(table, TableSort):
        raise FormulaError(
            spoken(
                "'{part}' is {what}; {function} needs a field of kind table.",
                part=unparse(node.arguments[0]),
                what=_named(table),
                function=node.function,
            )
        )
    if (len(node.arguments) == len(function.arguments)) is (table.columns is None):
        rule = _NO_COLUMNS if table.columns is None else _COLUMNS
        raise FormulaError(spoken(rule, part=unparse(node)))
    codes = {"rows": table.rows, "columns": table.columns or "", "body": table.body}
    for argument, wanted in zip(node.arguments[1:], function.arguments[1:], strict=False):
        measure = measure_of(codes[wanted.unit])
        _passed(node, argument, sort_of(argument, names), codes[wanted.unit], measure)
    return measure_of(codes[function.result])


def _passed(node: Call, argument: Node, sort: Sort, wanted: str, first: Sort) -> None:
    if wanted == "any":
        if not isinstance(sort, Measure):
            raise FormulaError(
                spoken("'{part}' is {what}, no number.", part=unparse(argument), what=_named(sort))
            )
        return
    if wanted in ("text", "repeat"):
        expected: Sort = TextSort()
    elif wanted == "same":
        expected = first
    else:
        expected = measure_of("" if wanted == "plain" else wanted)
    if isinstance(sort, Measure) and isinstance(expected, Measure):
        loose = replace(sort, scale=None) if sort.literal else sort
        if sort.literal or expected.literal or _same(loose, expected):
            return
    elif type(sort) is type(expected):
        return
    raise FormulaError(
        spoken(
            "'{part}' passes {given} to {function}, which needs {wanted}.",
            part=unparse(argument),
            given=_named(sort),
            function=node.function,
            wanted=_named(expected),
        )
    )
