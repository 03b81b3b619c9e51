"""Function rows: tables that a person typed from the literature, and members' own numbers.

In a spreadsheet a typed table is three ranges: `<name>_rows` (down), `<name>_columns` (across)
and `<name>_body`, in the form's units. `<name>_body_typed` is where its values are typed: a cell
is empty if it is empty there (a formula's cell never is). Each look-up shows its working in
cells of its own (`Step`): which lines, which values, how far between them.
"""

from __future__ import annotations

from collections.abc import Callable
from itertools import pairwise

from commission.engineering.chart import Place, from_text
from commission.errors import ReadingError
from commission.formula.declaration import Argument, Function, FunctionKind, Step, takes
from commission.formula.tree import NUMBER_OF
from commission.language import spoken, to_say

_VALID = (
    "Inside the table and not next to a corner that it leaves empty; never read beyond its ends."
)


def _read(table: str, row: float, column: float | None = None) -> float:
    return from_text(table).read(row, column)


def _row_at(table: str, value: float, column: float | None = None) -> float:
    return from_text(table).row_at(value, column)


def _line(lines: str, at: str) -> str:
    """Return which line lies at or just below a value; an error outside the lines."""
    inside = f"AND({at}>=MIN({lines}),{at}<=MAX({lines}))"
    return f"IF({inside},MATCH(MAX({at},MIN({lines})),{lines},1),NA())"


def _next(lines: str, at: str, low: str) -> str:
    return f"IF(INDEX({lines},{low})<{at},{low}+1,{low})"


def _share(lines: str, at: str, low: str, high: str) -> str:
    here, there = f"INDEX({lines},{low})", f"INDEX({lines},{high})"
    return f"IF({high}={low},{low}*0,({at}-{here})/({there}-{here}))"


def _corner(row: str, column: str) -> str:
    typed = f"INDEX({{0}}_body_typed,{row},{column})"
    return f"IF(ISNUMBER({typed}),INDEX({{0}}_body,{row},{column}),NA())"


def _down(pick: Callable[[Place], float]) -> Callable[..., float]:
    def compute(table: str, row: float, _: float | None = None) -> float:
        return pick(from_text(table).down(row))

    return compute


def _across(pick: Callable[[Place], float]) -> Callable[..., float]:
    def compute(table: str, _: float, column: float | None = None) -> float:
        return pick(from_text(table).across(column))

    return compute


def _value(below: bool, right: bool) -> Callable[..., float]:
    def compute(table: str, row: float, column: float | None = None) -> float:
        chart = from_text(table)
        down, across = chart.down(row), chart.across(column)
        line, head = down.high if below else down.low, across.high if right else across.low
        value = chart.body[line][head]
        if value is None:
            raise ReadingError(spoken("The table leaves this corner empty."))
        return value

    return compute


def _count(counts: Callable[[float, float, float], bool]) -> Callable[..., float]:
    """Return how many filled neighbours down the column are so: (here, below, value)."""

    def compute(table: str, value: float, column: float | None = None) -> float:
        chart = from_text(table)
        down = chart.profile(chart.across(column))
        pairs = [pair for pair in pairwise(down) if None not in pair]
        return sum(counts(here or 0.0, below or 0.0, value) for here, below in pairs)

    return compute


def _filled(table: str, _: float, column: float | None = None) -> float:
    chart = from_text(table)
    return sum(value is not None for value in chart.profile(chart.across(column)))


def _shares(pick: Callable[[float, float, float], float]) -> Callable[..., float]:
    """Return the sum over all hits of one side's part: (row, row below, share below)."""

    def compute(table: str, value: float, column: float | None = None) -> float:
        chart = from_text(table)
        down = chart.profile(chart.across(column))
        total = 0.0
        for line, (here, below) in enumerate(pairwise(down)):
            if here is None or below is None:
                continue
            if min(here, below) <= value <= max(here, below):
                share = (value - here) / (below - here) if below != here else 0.0
                total += pick(chart.rows[line], chart.rows[line + 1], share)
        return total

    return compute


_ROWS, _COLUMNS = "{0}_rows", "{0}_columns"
_COLUMN_STEPS = (
    Step("j", "Column at or below", _line(_COLUMNS, "{2}"), _across(lambda p: p.low + 1), "1"),
    Step(
        "j2", "Column above", _next(_COLUMNS, "{2}", "{j}"), _across(lambda p: p.high + 1), "{j}*1"
    ),
    Step(
        "cs",
        "Share across",
        _share(_COLUMNS, "{2}", "{j}", "{j2}"),
        _across(lambda p: p.share),
        "{j}*0",
    ),
)
_READ_STEPS = (
    Step("i", "Row at or below", _line(_ROWS, "{1}"), _down(lambda p: p.low + 1)),
    Step("i2", "Row above", _next(_ROWS, "{1}", "{i}"), _down(lambda p: p.high + 1)),
    Step("rs", "Share down", _share(_ROWS, "{1}", "{i}", "{i2}"), _down(lambda p: p.share)),
    *_COLUMN_STEPS,
    Step("low_left", "Value: row below, column below", _corner("{i}", "{j}"), _value(False, False)),
    Step(
        "low_right", "Value: row below, column above", _corner("{i}", "{j2}"), _value(False, True)
    ),
    Step(
        "high_left", "Value: row above, column below", _corner("{i2}", "{j}"), _value(True, False)
    ),
    Step(
        "high_right", "Value: row above, column above", _corner("{i2}", "{j2}"), _value(True, True)
    ),
)
_READ_TEXT = (
    "((1-{rs})*((1-{cs})*{low_left}+{cs}*{low_right})"
    "+{rs}*((1-{cs})*{high_left}+{cs}*{high_right}))"
)


def _run(first: str, last: str, column: str, body: str = "{0}_body") -> str:
    return f"INDEX({body},{first},{column}):INDEX({body},{last},{column})"


def _profile(first: str, last: str) -> str:
    """Return the values down the place between two columns, as an array."""
    left, right = _run(first, last, "{j}"), _run(first, last, "{j2}")
    return f"((1-{{cs}})*{left}+{{cs}}*{right})"


def _there(first: str, last: str) -> str:
    typed = "{0}_body_typed"
    left, right = (_run(first, last, column, typed) for column in ("{j}", "{j2}"))
    return f"ISNUMBER({left})*ISNUMBER({right})"


_LAST = "ROWS({0}_body)"
_UPPER, _LOWER = ("1", f"{_LAST}-1"), ("2", _LAST)
_HERE, _BELOW = _profile(*_UPPER), _profile(*_LOWER)
_BOTH = f"{_there(*_UPPER)}*{_there(*_LOWER)}"
_HIT = f"(({_HERE}<={{1}})*({{1}}<={_BELOW})+({_BELOW}<={{1}})*({{1}}<={_HERE})>0)*{_BOTH}"
_TOP = f"INDEX({{0}}_rows,1):INDEX({{0}}_rows,{_LAST}-1)"
_NEXT_TOP = f"INDEX({{0}}_rows,2):INDEX({{0}}_rows,{_LAST})"
_MEASURE = f"({_BELOW}-{_HERE}+({_BELOW}={_HERE}))"
_BY = f"({{1}}-{_HERE})/{_MEASURE}"
_ROW_STEPS = (
    *_COLUMN_STEPS,
    Step("filled", "Rows filled", f"SUMPRODUCT({_there('1', 'ROWS({0}_body)')})", _filled),
    Step("pairs", "Neighbours", f"SUMPRODUCT({_BOTH})", _count(lambda *_: True)),
    Step(
        "rising",
        "of which rise",
        f"SUMPRODUCT({_BOTH}*({_HERE}<{_BELOW}))",
        _count(lambda here, below, _: here < below),
    ),
    Step(
        "falling",
        "of which fall",
        f"SUMPRODUCT({_BOTH}*({_HERE}>{_BELOW}))",
        _count(lambda here, below, _: here > below),
    ),
    Step(
        "hits",
        "Neighbours that hold the value",
        f"SUMPRODUCT({_HIT})",
        _count(lambda *of: min(of[:2]) <= of[2] <= max(of[:2])),
    ),
    # The rows stand as ranges of their own in SUMPRODUCT, which passes over the texts ("") of
    # those left empty.
    Step(
        "above",
        "Rows above, by share",
        f"SUMPRODUCT({_HIT}*(1-{_BY}),{_TOP})",
        _shares(lambda row, _, share: (1 - share) * row),
    ),
    Step(
        "below",
        "Rows below, by share",
        f"SUMPRODUCT({_HIT}*{_BY},{_NEXT_TOP})",
        _shares(lambda _, row, share: share * row),
    ),
)
# A value on a line is hit from both sides, at one and the same row.
_ROW_TEXT = (
    "IF(AND({pairs}>0,{pairs}={filled}-1,OR({rising}={pairs},{falling}={pairs})),"
    "({above}+{below})/{hits},NA())"
)

ROWS: tuple[Function, ...] = (
    Function(
        name="from_table",
        compute=_read,
        arguments=(Argument("table", "table"), *takes(row="rows", column="columns")),
        result="body",
        spreadsheet=_READ_TEXT,
        symbol=to_say("{0} at {rest}"),
        valid=_VALID,
        source="Linear interpolation in each direction (bilinear): Press et al., Numerical "
        "Recipes, 3rd ed., section 3.6",
        kind=FunctionKind.ENTERED,
        optional=1,
        steps=_READ_STEPS,
    ),
    Function(
        name="row_from_table",
        compute=_row_at,
        arguments=(Argument("table", "table"), *takes(value="body", column="columns")),
        result="rows",
        spreadsheet=_ROW_TEXT,
        symbol=to_say("row of {0} at {rest}"),
        valid=f"{_VALID} The values must all rise, or all fall, from row to row.",
        source="The same interpolation solved for the row",
        kind=FunctionKind.ENTERED,
        optional=1,
        steps=_ROW_STEPS,
    ),
    Function(
        name=NUMBER_OF,
        compute=float,
        arguments=takes(repeat="repeat"),
        result="",
        spreadsheet="{0}",
        symbol="{0}",
        valid="A repeat of the entry in which it stands.",
        source="Definition: 1 for the first member",
        kind=FunctionKind.MEMBER,
    ),
)
