"""Errors are sentences: place, rule, cure; and they keep their class on the way out."""

from __future__ import annotations

import pytest

from commission.errors import (
    CommissionError,
    FormError,
    FormulaError,
    OutputError,
    ProjectFileError,
    ReadingError,
    UnitError,
)
from commission.language import near_miss

KINDS = [FormError, FormulaError, OutputError, ProjectFileError, ReadingError, UnitError]


@pytest.mark.parametrize("kind", KINDS)
def test_every_error_has_one_root_and_takes_its_place_in_front(
    kind: type[CommissionError],
) -> None:
    placed = kind("the rule. The cure.").at("cooling.toml")
    assert type(placed) is kind
    assert isinstance(placed, CommissionError)
    assert str(placed) == "cooling.toml: the rule. The cure."


def test_a_form_error_holds_all_its_faults_and_shows_each_on_a_line() -> None:
    error = FormError(["first", "second"])
    assert error.faults == ("first", "second")
    assert str(error).splitlines() == ["first", "second"]
    assert FormError("only").faults == ("only",)


def test_a_form_error_keeps_its_faults_apart_when_it_gets_a_place() -> None:
    assert FormError(["first", "second"]).at("forms").faults == ("forms: first", "forms: second")


@pytest.mark.parametrize(
    ("word", "hint"),
    [
        ("suction_tmp_f", " Did you mean 'suction_temp_f'?"),
        ("discharge", ""),
        ("", ""),
    ],
)
def test_a_near_miss_is_named_and_a_far_one_is_not(word: str, hint: str) -> None:
    assert near_miss(word, ["suction_temp_f", "oil_level"]) == hint
