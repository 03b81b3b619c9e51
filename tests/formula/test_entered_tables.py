"""Tables that a person types: LibreOffice reads them as Python does, edges and gaps included."""

from __future__ import annotations

import math
import random
from dataclasses import dataclass, field
from pathlib import Path

import openpyxl
import pytest
import xlsxwriter
from xlsxwriter.utility import xl_range_abs, xl_rowcol_to_cell

from commission.engineering.chart import Chart
from commission.errors import CommissionError, FormulaError
from commission.formula.dimensions import TableSort, fits, measure_of, sort_of
from commission.formula.evaluate import State, evaluate, known
from commission.formula.excel import OUT_OF_RANGE, value_formula
from commission.formula.functions import FUNCTIONS
from commission.formula.parse import parse, unparse
from commission.formula.tree import Call, names_in
from commission.formula.work import written
from recalculation import recalculate
from tests.formula.trees import scope_of

FAN = Chart(
    rows=(1600.0, 2000.0, 2400.0, 2800.0),
    columns=(0.2, 0.4, 0.6, 0.8),
    body=(
        (610.0, 700.0, 790.0, None),
        (680.0, 755.0, 835.0, 905.0),
        (760.0, 825.0, 895.0, 960.0),
        (None, 900.0, 965.0, 1025.0),
    ),
)
ONE_ROW = Chart((95.0,), (60.0, 65.0, 70.0), ((8.0, 12.5, 20.0),))
ONE_COLUMN = Chart((60.0, 70.0), (95.0,), ((8.0,), (20.0,)))
PRESSURES = Chart(
    (-20.0, 0.0, 20.0, 40.0, 60.0), (), ((12.1,), (30.5,), (57.0,), (93.0,), (140.0,))
)
FALLING = Chart((0.0, 1.0, 2.0), (5.0, 10.0), ((30.0, 28.0), (20.0, 15.0), (9.0, 4.0)))
BENT = Chart((1.0, 2.0, 3.0), (1.0, 2.0), ((5.0, 1.0), (7.0, 2.0), (6.0, 3.0)))
HOLED = Chart((1.0, 2.0, 3.0, 4.0), (), ((1.0,), (None,), (3.0,), (4.0,)))
FLAT = Chart((1.0, 2.0, 3.0), (), ((1.0,), (1.0,), (2.0,)))
CHARTS = (FAN, ONE_ROW, ONE_COLUMN, PRESSURES, FALLING, BENT, HOLED, FLAT)
DRAWN = 12


@dataclass
class Sheet:
    """One case: its arguments in a row, the table as a block, steps to the right."""

    worksheet: xlsxwriter.worksheet.Worksheet
    row: int
    table: str
    used: int = 10
    texts: list[str] = field(default_factory=list)

    def cell(self, name: str) -> str | None:
        return {"t": self.table, "a": f"$B${self.row + 1}", "b": f"$C${self.row + 1}"}[name]

    def is_text(self, name: str) -> bool:
        return name == "t"

    def step(self, call: Call, at: int, formula: str) -> str:
        assert FUNCTIONS[call.function].steps[at]
        self.worksheet.write_formula(self.row, self.used, f"={formula}")
        self.used += 1
        self.texts.append(formula)
        return xl_rowcol_to_cell(self.row, self.used - 1, True, True)


def _cases() -> list[tuple[int, str, tuple[float, ...]]]:
    source = random.Random(20261125)
    cases = []
    for number, chart in enumerate(CHARTS):
        values = [v for line in chart.body for v in line if v is not None]
        spans = {"from_table": chart.rows, "row_from_table": tuple(values)}
        for function, span in spans.items():
            nodes = [*sorted(set(span)), min(span) - 1, max(span) + 1]
            nodes += [source.uniform(min(span), max(span)) for _ in range(DRAWN)]
            across = [*chart.columns, *(source.uniform(0, 1) for _ in chart.columns)]
            if len(chart.columns) > 1:
                across += [source.uniform(chart.columns[0], chart.columns[-1]) for _ in range(3)]
            for node in nodes:
                cases += [(number, function, (node, at)) for at in across] or [
                    (number, function, (node,))
                ]
    return cases


def _block(book: xlsxwriter.Workbook, name: str, chart: Chart) -> None:
    """Write a table with two spare rows and a spare column, as a workbook of ours has it."""
    sheet = book.add_worksheet(name)
    for row, at in enumerate(chart.rows, start=2):
        sheet.write_number(row, 1, at)
        for column, value in enumerate(chart.body[row - 2], start=2):
            if value is not None:
                sheet.write_number(row, column, value)
    for column, at in enumerate(chart.columns, start=2):
        sheet.write_number(1, column, at)
    down, across = len(chart.rows) + 3, len(chart.columns) + 2 if chart.columns else 2
    sheet.write_string(0, 0, "there")
    book.define_name(f"{name}", f"={name}!$A$1")
    book.define_name(f"{name}_rows", f"={name}!{xl_range_abs(2, 1, down, 1)}")
    book.define_name(f"{name}_columns", f"={name}!{xl_range_abs(1, 2, 1, across)}")
    for body in (f"{name}_body", f"{name}_body_typed"):
        book.define_name(body, f"={name}!{xl_range_abs(2, 2, down, across)}")


@pytest.mark.recalculation
def test_spreadsheet_reads_tables_as_python_does(tmp_path: Path) -> None:
    cases = _cases()
    book = xlsxwriter.Workbook(str(tmp_path / "tables.xlsx"), {"strings_to_formulas": False})
    sheet = book.add_worksheet("Cases")
    for row, (number, function, arguments) in enumerate(cases):
        sheet.write_row(row, 1, arguments)
        call = f"2 * {function}(t, a{', b' if len(arguments) > 1 else ''})"
        formula = value_formula(parse(call), Sheet(sheet, row, f"u1_t{number}"))
        sheet.write_formula(row, 0, f"={formula}", value=-1)
    for number, chart in enumerate(CHARTS):
        _block(book, f"u1_t{number}", chart)
    book.close()
    result = recalculate(tmp_path / "tables.xlsx", tmp_path / "out")
    found = openpyxl.load_workbook(result, data_only=True)["Cases"]
    faults, kinds = [], set()
    for row, (number, function, arguments) in enumerate(cases, start=1):
        shown = found.cell(row, 1).value
        try:
            compute = FUNCTIONS[function].compute
            expected = 2 * compute(CHARTS[number].to_text(), *arguments)
        except CommissionError:
            expected = None
        kinds.add((number, function, expected is None))
        alike = (
            shown == OUT_OF_RANGE
            if expected is None
            else isinstance(shown, int | float) and math.isclose(shown, expected, rel_tol=1e-9)
        )
        if not alike:
            faults.append((number, function, arguments, expected, shown))
        steps = _steps(function, CHARTS[number].to_text(), arguments) if expected else []
        cells = [found.cell(row, 11 + at).value for at in range(len(steps))]
        faults += [
            (number, function, arguments, step, cell)
            for step, cell in zip(steps, cells, strict=True)
            if not (isinstance(cell, int | float) and math.isclose(step, cell, abs_tol=1e-9))
        ]
    assert not faults, faults[:5]
    assert len(kinds) >= 2 * len(CHARTS), kinds  # values and refusals were both met


def _steps(function: str, text: str, arguments: tuple[float, ...]) -> list[float]:
    return [float(step.compute(text, *arguments)) for step in FUNCTIONS[function].steps]


def test_a_table_that_is_not_asked_makes_no_steps() -> None:
    class Elsewhere(Sheet):
        def cell(self, name: str) -> str | None:
            return None if name == "t" else "$B$1"

    book = xlsxwriter.Workbook("unused.xlsx")
    there = Elsewhere(book.add_worksheet(), 0, "u1_t")
    assert value_formula(parse("from_table(t, a) if a > 1 else a"), there).count("n/a") >= 1
    assert there.texts == []


SORTS = {
    "t": TableSort("cfm", "in. w.c.", "rpm"),
    "p": TableSort("°F", None, "psig"),
    "a": measure_of("cfm"),
    "b": measure_of("in. w.c."),
    "n": measure_of("rpm"),
}


def test_units_follow_from_the_tables_declaration() -> None:
    speed = sort_of(parse("from_table(t, a, b)"), SORTS.__getitem__)
    airflow = sort_of(parse("row_from_table(t, n, b)"), SORTS.__getitem__)
    assert fits(speed, "rpm", text=False) == ""
    assert fits(airflow, "cfm", text=False) == ""
    assert "rpm" in fits(speed, "cfm", text=False)


@pytest.mark.parametrize(
    ("formula", "words"),
    [
        ("from_table(t, b, a)", "needs something in 'cfm'"),
        ("from_table(t, a)", "has columns"),
        ("from_table(p, 40, b)", "has no columns"),
        ("from_table(a, a, b)", "field of kind table"),
        ("row_from_table(t, a, b)", "needs something in 'rpm'"),
        ("t + 1", "a table where a number is needed"),
    ],
)
def test_a_table_is_not_misread(formula: str, words: str) -> None:
    with pytest.raises(FormulaError, match=words):
        sort_of(parse(formula), SORTS.__getitem__)


@pytest.mark.parametrize("text", ["from_table(t)", "from_table(1 + 2, 3)", "number_of(1)"])
def test_calls_that_cannot_be_are_refused(text: str) -> None:
    with pytest.raises(FormulaError):
        parse(text)


def test_out_of_range_says_the_span() -> None:
    scope = scope_of(t=known(FAN.to_text()), a=3000.0, b=0.4)
    value = evaluate(parse("from_table(t, a, b)"), scope)
    assert value.state is State.FAULT
    assert "1600 to 2800" in value.reason
    assert evaluate(parse("from_table(t, a, b)"), scope_of(a=1.0, b=1.0)).state is State.MISSING


def test_number_of_names_a_repeat_and_no_value() -> None:
    tree = parse("2 * number_of(line)")
    assert names_in(tree) == ()
    assert parse(unparse(tree)) == tree
    assert written(tree, {"number_of line": "3"}.__getitem__, lambda _: []) == "2 × 3"
