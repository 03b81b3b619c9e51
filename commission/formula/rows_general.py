"""Function rows: plain arithmetic, aggregates, presence."""

from __future__ import annotations

import math
from collections.abc import Sequence

from commission.engineering import electrical
from commission.errors import ReadingError
from commission.formula.declaration import Argument, Function, FunctionKind, takes
from commission.language import spoken, to_say

_ANY_NUMBER = "Any number."
_MATHEMATICS = "Mathematics (definition)"


def _square_root(value: float) -> float:
    if not value >= 0:
        raise ReadingError(
            spoken("√({value:.6g}) is no real number. Read its inputs again.", value=value)
        )
    return math.sqrt(value)


def _exponential(value: float) -> float:
    try:
        return math.exp(value)
    except OverflowError:
        raise ReadingError(
            spoken("exp({value:.6g}) is too large. Read its inputs again.", value=value)
        ) from None


def _logarithm(value: float) -> float:
    if not value > 0:
        raise ReadingError(
            spoken("ln({value:.6g}) does not exist. Read its inputs again.", value=value)
        )
    return math.log(value)


def _difference_percent(value: float, reference: float) -> float:
    if not reference > 0:
        raise ReadingError(
            spoken(
                "{value:.6g} cannot be compared with {reference:.6g}: what it is held against "
                "must be above 0. Read it again, with the unit running.",
                value=value,
                reference=reference,
            )
        )
    return 100 * (value - reference) / reference


def _mean(values: Sequence[float]) -> float:
    return math.fsum(values) / len(values)


def _known(value: object) -> bool:
    return value is not None and value != ""


ROWS: tuple[Function, ...] = (
    Function(
        name="abs",
        compute=abs,
        arguments=takes(x="any"),
        result="same",
        spreadsheet="ABS({0})",
        symbol="|{0}|",
        valid=_ANY_NUMBER,
        source=_MATHEMATICS,
    ),
    Function(
        name="sqrt",
        compute=_square_root,
        arguments=takes(x=""),
        result="",
        spreadsheet="SQRT({0})",
        symbol="√({0})",
        valid="0 or more.",
        source=_MATHEMATICS,
    ),
    Function(
        name="exp",
        compute=_exponential,
        arguments=takes(x=""),
        result="",
        spreadsheet="EXP({0})",
        symbol="exp({0})",
        valid="Up to 709.",
        source=_MATHEMATICS,
    ),
    Function(
        name="ln",
        compute=_logarithm,
        arguments=takes(x=""),
        result="",
        spreadsheet="LN({0})",
        symbol="ln({0})",
        valid="Above 0.",
        source=_MATHEMATICS,
    ),
    Function(
        name="min",
        compute=min,
        arguments=(Argument("a", "any"), Argument("b", "same")),
        result="same",
        spreadsheet="MIN({all})",
        symbol="min({all})",
        valid="Two or more numbers of one unit.",
        source=_MATHEMATICS,
        variadic=True,
    ),
    Function(
        name="max",
        compute=max,
        arguments=(Argument("a", "any"), Argument("b", "same")),
        result="same",
        spreadsheet="MAX({all})",
        symbol="max({all})",
        valid="Two or more numbers of one unit.",
        source=_MATHEMATICS,
        variadic=True,
    ),
    Function(
        name="difference_percent",
        compute=_difference_percent,
        arguments=(Argument("value", "any"), Argument("reference", "same")),
        result="%",
        spreadsheet="IF({1}>0,100*({0}-{1})/{1},NA())",
        symbol="100 × ({0} − {1}) / {1}",
        valid="Two numbers of one unit; the second above 0.",
        source="Definition",
    ),
    Function(
        name="known",
        compute=_known,
        arguments=takes(x="any"),
        result="flag",
        spreadsheet='({0}<>"")',
        symbol=to_say("known({0})"),
        valid="Any field or quantity.",
        source="Definition: true if there is a value",
        kind=FunctionKind.PRESENCE,
    ),
    Function(
        name="sum_of",
        compute=math.fsum,
        arguments=takes(x="any"),
        result="same",
        spreadsheet="SUM({0})",
        symbol="Σ({0})",
        valid="One or more numbers.",
        source=_MATHEMATICS,
        kind=FunctionKind.AGGREGATE,
        member_slope=lambda _: 1.0,
    ),
    Function(
        name="mean_of",
        compute=_mean,
        arguments=takes(x="any"),
        result="same",
        spreadsheet="AVERAGE({0})",
        symbol=to_say("mean({0})"),
        valid="One or more numbers.",
        source=_MATHEMATICS,
        kind=FunctionKind.AGGREGATE,
        member_slope=lambda count: 1.0 / count,
    ),
    Function(
        name="largest_of",
        compute=max,
        arguments=takes(x="any"),
        result="same",
        spreadsheet="MAX({0})",
        symbol="max({0})",
        valid="One or more numbers.",
        source=_MATHEMATICS,
        kind=FunctionKind.AGGREGATE,
    ),
    Function(
        name="smallest_of",
        compute=min,
        arguments=takes(x="any"),
        result="same",
        spreadsheet="MIN({0})",
        symbol="min({0})",
        valid="One or more numbers.",
        source=_MATHEMATICS,
        kind=FunctionKind.AGGREGATE,
    ),
    Function(
        name="count_of",
        compute=len,
        arguments=takes(x="any"),
        result="",
        spreadsheet="COUNT({0})",
        symbol="n({0})",
        valid="One or more numbers.",
        source=_MATHEMATICS,
        kind=FunctionKind.AGGREGATE,
    ),
    Function(
        name="imbalance_of",
        compute=electrical.imbalance_percent,
        arguments=takes(x="any"),
        result="%",
        spreadsheet=(
            "IF(AND(COUNT({0})>1,MIN({0})>=0,AVERAGE({0})>0),"
            "100*MAX(MAX({0})-AVERAGE({0}),AVERAGE({0})-MIN({0}))/AVERAGE({0}),NA())"
        ),
        symbol=to_say("100 × max|x − mean| / mean of ({0})"),
        valid="Two or more numbers, none negative, mean above 0; nothing rounded on the way.",
        source="NEMA MG 1, 12.45 and 14.36",
        kind=FunctionKind.AGGREGATE,
    ),
)
