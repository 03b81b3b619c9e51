"""Shown work as it would be written by hand."""

from __future__ import annotations

import pytest

from builders import By, calculation_of, form_of
from commission.formula.parse import parse
from commission.formula.work import WorkLine, written
from commission.validation.results import UnitResults

VALUES = {"a": "5 °F", "b": "−4 °F", "x": "3", "y": "2 ft"}


def numbers(text: str) -> str:
    return written(parse(text), VALUES.__getitem__, lambda name: ["460 V", "467 V", "450 V"])


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("a - b", "5 °F − (−4 °F)"),
        ("b - a", "(−4 °F) − 5 °F"),
        ("x * (a - b)", "3 × (5 °F − (−4 °F))"),
        ("x - (x - x)", "3 − (3 − 3)"),
        ("x - x - x", "3 − 3 − 3"),
        ("x / (x * x)", "3 / (3 × 3)"),
        ("x + x * x", "3 + 3 × 3"),
        ("(x + x) * x", "(3 + 3) × 3"),
        ("y ** 2", "(2 ft)^2"),
        ("x ** 2", "3^2"),
        ("(x ** x) ** 2", "(3^3)^2"),
        ("-x", "−3"),
        ("-(x + x)", "−(3 + 3)"),
        ("x * -x", "3 × (−3)"),
        ("(-x) ** 2", "(−3)^2"),
        ("60 * x", "60 × 3"),
        ("1055.05585 * x", "1055.05585 × 3"),
        ("12345678 * x", "12,345,678 × 3"),
        ("sqrt(x / 2)", "√(3 / 2)"),
        ("mean_of(x)", "mean(460 V, 467 V, 450 V)"),
        ("x / tons_from_btuh(y)", "3 / (2 ft / 12,000)"),
        ("x - tons_from_btuh(y)", "3 − 2 ft / 12,000"),
        ("kw_from_btuh(tons_from_btuh(x))", "(3 / 12,000) / 3412.14"),
        ("tons_from_btuh(x) ** 2", "(3 / 12,000)^2"),
    ],
)
def test_numbers_are_written_out(text: str, expected: str) -> None:
    assert numbers(text) == expected


def test_a_long_list_is_shortened_and_says_how_many() -> None:
    many = [str(number) for number in range(1, 26)]
    shown = written(parse("sum_of(x)"), VALUES.__getitem__, lambda name: many)
    assert shown == "Σ(1, 2, 3, … 25; 25 values)"


def test_a_line_joins_its_parts() -> None:
    assert str(WorkLine("SH", "a − b", "5 − 4", "1 Δ°F")) == "SH = a − b = 5 − 4 = 1 Δ°F"
    assert str(WorkLine("SH", "", "5", "5")) == "SH = 5 = 5"


PAGE = """
[[field]]
name = "suction_line_f"
label = "Suction line"
unit = "°F"
symbol = "t_s"
decimals = 1
[[field]]
name = "suction_dew_f"
label = "Saturated suction"
unit = "°F"
decimals = 1
[[quantity]]
name = "superheat_f"
label = "Suction superheat"
unit = "Δ°F"
symbol = "SH"
decimals = 1
formula = "suction_line_f - suction_dew_f if suction_line_f > 0 else 0"
source = "Definition"
"""


def test_a_quantity_shows_the_branch_in_use_with_symbols_and_units() -> None:
    form = form_of(PAGE)
    calculation = calculation_of(form, {"suction_line_f": 52.24, "suction_dew_f": 40})
    line = UnitResults(calculation, unit_id="u").work("superheat_f")
    assert str(line) == "SH = t_s − saturated suction = 52.2 °F − 40.0 °F = 12.2 Δ°F"


def test_nothing_is_shown_for_what_has_no_value() -> None:
    calculation = calculation_of(form_of(PAGE), {"suction_line_f": By("none", 50)})
    assert UnitResults(calculation, unit_id="u").work("superheat_f") is None
