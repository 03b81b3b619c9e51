"""Spreadsheet text of random formulas, recalculated by LibreOffice, gives Python's value."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

import openpyxl
import pytest
import xlsxwriter
from hypothesis import strategies as st

from commission.formula.evaluate import State, Value, evaluate
from commission.formula.excel import (
    NOT_APPLICABLE,
    condition_formula,
    quoted,
    value_formula,
)
from commission.formula.parse import parse, unparse
from commission.formula.tree import Node
from recalculation import recalculate
from tests.formula.trees import (
    CONDITIONS,
    NUMBER_FORMULAS,
    NUMBER_NAMES,
    RELEVANCE,
    REPEATED_NAMES,
    TEXT_FORMULAS,
    TEXT_NAMES,
    VALUES,
    Values,
    drawn,
    scope_of,
)

CASES_OF_A_KIND = 150
FIRST_MEMBER = {"r": 10, "q": 20}


@dataclass(frozen=True)
class Row:
    """References into one row of the test sheet."""

    number: int
    counts: Mapping[str, int]
    absent: frozenset[str] = frozenset()

    def cell(self, name: str) -> str | None:
        if name in self.absent:
            return None
        return _address(self.number, (*NUMBER_NAMES, *TEXT_NAMES).index(name))

    def cells(self, name: str) -> tuple[str, int] | None:
        if name in self.absent:
            return None
        first, count = FIRST_MEMBER[name], self.counts[name]
        if count == 3:  # two runs, as a workbook may have them
            split = (_address(self.number, first), _address(self.number, first + 1))
            return f"{split[0]}:{split[1]},{_address(self.number, first + 2)}", 3
        last = _address(self.number, first + max(count, 1) - 1)
        return (f"{_address(self.number, first)}:{last}", count) if count else ("", 0)

    def is_text(self, name: str) -> bool:
        return name in TEXT_NAMES


def _address(row: int, column: int) -> str:
    return xlsxwriter.utility.xl_rowcol_to_cell(row, column)


@dataclass(frozen=True)
class Case:
    formula: Node
    when: Node | None
    values: Values

    def expected(self) -> float | str:
        if self.when is not None and evaluate(self.when, self.values).content is not True:
            return NOT_APPLICABLE
        return shown(evaluate(self.formula, self.values))


def shown(value: Value) -> float | str:
    """Return what a cell holds for a value."""
    if value.state is State.KNOWN:
        assert isinstance(value.content, float | str)
        return value.content
    return {State.MISSING: "", State.NOT_APPLICABLE: "n/a", State.FAULT: "out of range"}[
        value.state
    ]


def write(path: Path, cases: Sequence[Case]) -> None:
    book = xlsxwriter.Workbook(str(path))
    sheet = book.add_worksheet()
    for number, case in enumerate(cases):
        singles = [case.values.single[name] for name in (*NUMBER_NAMES, *TEXT_NAMES)]
        for column, value in enumerate(singles):
            sheet.write(number, column, shown(value))
        for name in REPEATED_NAMES:
            for place, value in enumerate(case.values.many[name]):
                sheet.write(number, FIRST_MEMBER[name] + place, shown(value))
        row = Row(number, {name: len(part) for name, part in case.values.many.items()})
        text = value_formula(case.formula, row, case.when)
        sheet.write_formula(number, 30, "=" + text, None, "WRONG")
        if case.when is not None:
            when = condition_formula(case.when, row)
            sheet.write_formula(number, 31, f'=IF({when},"yes","no")', None, "WRONG")
    book.close()


def agrees(found: object, expected: float | str) -> bool:
    if isinstance(expected, float):
        if not isinstance(found, int | float) or isinstance(found, bool):
            return False
        # 1e-9 relative; absolute because a spreadsheet calls 3e-17 nought in a difference.
        return found == pytest.approx(expected, rel=1e-9, abs=1e-10)
    return ("" if found is None else found) == expected


@pytest.mark.recalculation
def test_random_formulas_agree_with_the_spreadsheet(tmp_path: Path) -> None:
    formulas = NUMBER_FORMULAS | TEXT_FORMULAS
    cases = drawn(st.builds(Case, formulas, st.none() | RELEVANCE, VALUES), CASES_OF_A_KIND * 2)
    cases += drawn(st.builds(Case, NUMBER_FORMULAS, st.none(), VALUES), CASES_OF_A_KIND)
    cases += drawn(st.builds(Case, st.just(parse("1")), CONDITIONS, VALUES), CASES_OF_A_KIND)
    assert len(cases) > 3 * CASES_OF_A_KIND
    write(tmp_path / "formulas.xlsx", cases)
    result = openpyxl.load_workbook(
        recalculate(tmp_path / "formulas.xlsx", tmp_path / "out"), data_only=True
    ).worksheets[0]
    wrong = []
    for number, case in enumerate(cases):
        found, expected = result.cell(number + 1, 31).value, case.expected()
        if not agrees(found, expected):
            row = Row(number, {name: len(part) for name, part in case.values.many.items()})
            wrong.append(
                f"{unparse(case.formula)} when {case.when and unparse(case.when)}\n"
                f"  with {case.values}\n  sheet {found!r}, Python {expected!r}\n"
                f"  ={value_formula(case.formula, row, case.when)}"
            )
        if case.when is not None:
            holds = evaluate(case.when, case.values).content is True
            if result.cell(number + 1, 32).value != ("yes" if holds else "no"):
                wrong.append(f"when {unparse(case.when)}\n  with {case.values}\n  Python {holds}")
    assert not wrong, f"{len(wrong)} of {len(cases)} differ:\n" + "\n".join(wrong[:5])
    kinds = {type(case.expected()) for case in cases} | {
        case.expected() for case in cases if isinstance(case.expected(), str)
    }
    assert {float, "", "n/a", "out of range"} <= kinds  # every kind of outcome was met


ROW = Row(0, {"r": 3, "q": 0})


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("-a ** 2", "-(A1^2)"),
        ("(-a) ** 2", "(-A1)^2"),
        ("a - (b - c)", "A1-(B1-C1)"),
        ("a - b - c", "A1-B1-C1"),
        ("a * b / c", "A1*B1/C1"),
        ("a * (b + 2.5)", "A1*(B1+2.5)"),
        ("a / 1e-7", "A1/1E-07"),
        ("mean_of(r)", "AVERAGE(K1:L1,M1)"),
    ],
)
def test_the_text_reads_as_a_person_would_write_it(text: str, expected: str) -> None:
    assert f"IFERROR({expected}," in value_formula(parse(text), ROW)


def test_a_name_that_is_not_asked_makes_the_cell_not_applicable() -> None:
    row = Row(0, {"r": 3, "q": 0}, frozenset({"b", "q"}))
    assert value_formula(parse("a + b"), row) == '"n/a"'
    assert value_formula(parse("sum_of(q)"), row) == '"n/a"'
    assert value_formula(parse("a if known(b) else 14.7"), row).startswith("IF(FALSE,")


def test_quotes_in_a_text_cannot_end_it() -> None:
    assert quoted('19" duct') == '"19"" duct"'
    assert value_formula(parse("""'x"&A9&"y'"""), ROW).count('""') == 2


def test_an_unread_input_of_an_aggregate_is_counted() -> None:
    assert "COUNT(K1:L1,M1)<3" in value_formula(parse("sum_of(r)"), ROW)
    assert value_formula(parse("sum_of(q)"), ROW) == '""'
    assert evaluate(parse("sum_of(q)"), scope_of(q=[])).state is State.MISSING
