"""Formula text and tree: there and back, and everything else refused with its reason."""

from __future__ import annotations

import sys
import time

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from commission.errors import FormulaError
from commission.formula.parse import parse, unparse
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
    names_in,
)
from tests.formula.trees import FORMULAS


@settings(max_examples=400)
@given(FORMULAS)
def test_the_text_of_a_tree_parses_to_the_same_tree(tree: Node) -> None:
    assert parse(unparse(tree)) == tree


@pytest.mark.parametrize(
    ("text", "tree"),
    [
        ("a + b * 2", Arithmetic("+", Name("a"), Arithmetic("*", Name("b"), Number(2.0)))),
        ("-a ** 2", Negative(Arithmetic("**", Name("a"), Number(2.0)))),
        ("(-a) ** 2", Arithmetic("**", Negative(Name("a")), Number(2.0))),
        ("a ** b ** 2", Arithmetic("**", Name("a"), Arithmetic("**", Name("b"), Number(2.0)))),
        ("a - b - c", Arithmetic("-", Arithmetic("-", Name("a"), Name("b")), Name("c"))),
        ("+a", Name("a")),
        ("known(a)", Call("known", (Name("a"),))),
        ("not a == 'x'", Not(Comparison("==", Name("a"), Text("x")))),
        (
            "1 < a <= 2",
            Logic(
                "and",
                (
                    Comparison("<", Number(1.0), Name("a")),
                    Comparison("<=", Name("a"), Number(2.0)),
                ),
            ),
        ),
        (
            "a if c else b if d else 3",
            Choice(Name("c"), Name("a"), Choice(Name("d"), Name("b"), Number(3.0))),
        ),
        (
            "(a if c else b) if d else 3",
            Choice(Name("d"), Choice(Name("c"), Name("a"), Name("b")), Number(3.0)),
        ),
        ("  a  ", Name("a")),
        ("max(a, b, 3)", Call("max", (Name("a"), Name("b"), Number(3.0)))),
    ],
)
def test_precedence_is_that_of_python(text: str, tree: Node) -> None:
    assert parse(text) == tree


@pytest.mark.parametrize(
    "text",
    [
        "(a ** b) ** c", "a ** b ** c", "(-a) ** b", "-a ** b", "a ** -b", "a - (b - c)",
        "a / (b / c)", "a / b / c", "-(a + b)", "(a or b) and c", "not (a and b)", "(not a) == b",
        "(a == b) == c", "(a if b else c) if d else e", "a if b else c if d else e",
        "'it''s'", '"it\'s"', "1e300", "1e15", "0.1",
    ],
)  # fmt: skip
def test_brackets_are_kept_where_they_matter(text: str) -> None:
    assert parse(unparse(parse(text))) == parse(text)


def test_names_are_listed_once_in_order_of_first_use() -> None:
    assert names_in(parse("b + a * b if known(c) else a")) == ("c", "b", "a")


REFUSED = [
    ("", "is not a formula"),
    ("a +", "is not a formula"),
    ("a b", "is not a formula"),
    ("a = 2", "is not a formula"),
    ("import os", "is not a formula"),
    ("a; b", "is not a formula"),
    ("a.real", "'a.real' cannot stand in a formula"),
    ("a[0]", "'a[0]' cannot stand in a formula"),
    ("[a, b]", "'[a, b]' cannot stand in a formula"),
    ("(a, b)", "'(a, b)' cannot stand in a formula"),
    ("{'a': 1}", "cannot stand in a formula"),
    ("lambda: 1", "'lambda: 1' cannot stand in a formula"),
    ("[x for x in a]", "'[x for x in a]' cannot stand in a formula"),
    ("(x for x in a)", "cannot stand in a formula"),
    ("f'{a}'", "cannot stand in a formula"),
    ("b'a'", "cannot stand in a formula"),
    ("1j", "'1j' cannot stand in a formula"),
    ("None", "'None' cannot stand in a formula"),
    ("...", "cannot stand in a formula"),
    ("True", "'True' cannot stand in a formula; compare with 'yes'"),
    ("(a := 3)", "cannot stand in a formula"),
    ("await a", "cannot stand in a formula"),
    ("a // b", "'a // b' cannot stand in a formula"),
    ("a % b", "'a % b' cannot stand in a formula"),
    ("a @ b", "'a @ b' cannot stand in a formula"),
    ("a << 2", "'a << 2' cannot stand in a formula"),
    ("a & b", "'a & b' cannot stand in a formula"),
    ("~a", "'~a' cannot stand in a formula"),
    ("a in b", "'a in b' cannot stand in a formula"),
    ("a is b", "'a is b' cannot stand in a formula"),
    ("max(*a, b)", "'*a' cannot stand in a formula"),
    ("open('x')", "'open' is not a function"),
    ("__import__('os')", "'__import__' is not a function"),
    ("eval('1')", "'eval' is not a function"),
    ("abs.__call__(1)", "'abs.__call__(1)' is not a plain call of a function"),
    ("(lambda: 1)()", "is not a plain call of a function"),
    ("abs(x=1)", "'abs(x=1)' is not a plain call of a function"),
    ("abs(**a)", "is not a plain call of a function"),
    ("sum_off(a)", "'sum_off' is not a function. Did you mean 'sum_of'?"),
    ("sqrt()", "'sqrt()': sqrt takes 1 argument (x), 0 given"),
    ("sqrt(a, b)", "'sqrt(a, b)': sqrt takes 1 argument (x), 2 given"),
    ("max(a)", "'max(a)': max takes 2 arguments (a, b), 1 given"),
    ("velocity_fpm(a)", "velocity_fpm takes 2 arguments (velocity_pressure, density), 1 given"),
    ("number_of(3)", "'number_of(3)' needs the name of a repeat"),
    ("number_of(a + b)", "'number_of(a + b)' needs the name of a repeat"),
    ("from_table(3, a)", "from_table needs the name of a table field first"),
    ("row_from_table(a + b, c)", "row_from_table needs the name of a table field first"),
    ("from_table(a)", "from_table takes 2 to 3 arguments"),
    ("1 + (a if b else c)", "'a if b else c': a choice can only be the outermost part"),
    ("abs(a if b else c)", "Make it a quantity of its own"),
    ("a if (b if c else d) else e", "a choice can only be the outermost part"),
    ("1e400", "a number is too large"),
    ("9" * 400, "a number is too large"),
    ("a\0", "is not a formula"),
]


@pytest.mark.parametrize(("text", "message"), REFUSED)
def test_what_is_no_formula_is_refused_with_the_part_at_fault(text: str, message: str) -> None:
    with pytest.raises(FormulaError) as caught:
        parse(text)
    assert message in str(caught.value)


def test_nothing_in_a_formula_is_ever_run(monkeypatch: pytest.MonkeyPatch) -> None:
    ran: list[str] = []
    sys.addaudithook(lambda event, _: ran.append(event) if event in WATCHED else None)
    for text in ("__import__('os').system('true')", "open('/etc/hostname')", "exec('1')"):
        with pytest.raises(FormulaError):
            parse(text)
    assert ran == []


WATCHED = {"open", "exec", "import", "os.system", "subprocess.Popen"}


@pytest.mark.parametrize(
    "text",
    [
        "(" * 1000 + "a" + ")" * 1000,
        "(" * 150 + "a" + ")" * 150 + ".b",
        "abs(" * 90 + "a" + ")" * 90,
        "-" * 3000 + "a",
        "not " * 900 + "a",
        "+".join("a" * 1500),
        "**".join("a" * 1200),
        "a" + ".b" * 1500,
        "a" + "[0]" * 1000,
        " if a else ".join("b" * 300),
        "(" * 90 + " if a else b) if a else b" * 10,
        "a" * 4001,
        "abs(" * 900,
        "'" + "x" * 5000 + "'",
    ],
)
def test_monsters_are_refused_at_once_with_a_sentence(text: str) -> None:
    began = time.perf_counter()
    with pytest.raises(FormulaError):
        parse(text)
    # Not a speed test: a parse that hangs would take minutes, this takes milliseconds.
    assert time.perf_counter() - began < 5


@given(st.text(max_size=60))
def test_any_text_is_a_tree_or_a_formula_error(text: str) -> None:
    try:
        tree = parse(text)
    except FormulaError:
        return  # any other exception fails the test
    assert parse(unparse(tree)) == tree


def test_a_sum_of_many_terms_is_told_to_break_up() -> None:
    with pytest.raises(FormulaError, match="Break it into quantities"):
        parse("+".join("a" * 100))


def test_choices_in_one_another_stay_within_what_a_spreadsheet_can_nest() -> None:
    parse("a" + " if b else a" * 12)
    with pytest.raises(FormulaError, match="more than 12 choices"):
        parse("a" + " if b else a" * 13)
