"""Tables as a kind of field, and members' own numbers: declared strictly."""

from __future__ import annotations

from pathlib import Path

import pytest

from commission.definitions.load import load_form
from commission.errors import FormError

TOP = """
id = "t"
version = "1"
title = "T"
sections = ["a.toml"]
[[repeat]]
name = "line"
label = "Line {n}"
count = 3
maximum = 5
[[repeat]]
name = "point"
label = "Point {n}"
count = 2
maximum = 5
"""
TABLE = """
[[field]]
name = "fan_table"
label = "Fan table"
kind = "table"
rows = {label = "Airflow", unit = "cfm"}
columns = {label = "Static", unit = "in. w.c."}
body = {label = "Speed", unit = "rpm"}
"""


def _load(folder: Path, text: str) -> None:
    (folder / "rooftop_unit.toml").write_text(TOP, encoding="utf-8")
    page = f'[section]\nname = "a"\ntitle = "A"\n{text}'
    (folder / "a.toml").write_text(page, encoding="utf-8")
    load_form(folder)


def _quantity(formula: str, unit: str, extra: str = "") -> str:
    return (
        f'[[quantity]]\nname = "q"\nlabel = "Q"\nunit = "{unit}"\nsource = "s"\n'
        f'formula = "{formula}"\n{extra}'
    )


def test_a_table_and_a_members_number_are_accepted(tmp_path: Path) -> None:
    _load(tmp_path, TABLE + _quantity("from_table(fan_table, 1000, 0.5)", "rpm"))
    _load(tmp_path, _quantity("2 * number_of(line)", "", 'repeat = ["line", "point"]'))


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (TABLE.replace('body = {label = "Speed", unit = "rpm"}', ""), "a table needs 'body'"),
        (TABLE.replace("rpm", "rpn"), "rpn"),
        (TABLE.replace("label = ", "lable = ", 2), "lable"),
        (TABLE + 'unit = "cfm"', "Give it in 'body'"),
        (TABLE + 'repeat = "line"', "a table is asked once"),
        (TABLE + "plausible = [1, 2]", "no 'plausible'"),
        (TABLE.replace('kind = "table"', 'kind = "text"'), "'rows' belongs to kind 'table'"),
        (TABLE + _quantity("from_table(fan_table, 1000, 0.5)", "cfm"), "declared 'cfm'"),
        (TABLE + _quantity("row_from_table(fan_table, 1000)", "cfm"), "has columns"),
        (TABLE + _quantity("fan_table", "cfm"), "a table"),
        (_quantity("number_of(line)", ""), "which has no repeat"),
        (_quantity("number_of(lime)", "", 'repeat = "line"'), "Did you mean 'line'"),
        (
            TABLE + '[[check]]\nname = "c"\nlabel = "C"\njudges = "fan_table"\nlimit = "range"\n',
            "is a table; judge a quantity",
        ),
    ],
)
def test_what_is_wrong_is_said(tmp_path: Path, text: str, words: str) -> None:
    with pytest.raises(FormError) as raised:
        _load(tmp_path, text)
    assert words in str(raised.value)
