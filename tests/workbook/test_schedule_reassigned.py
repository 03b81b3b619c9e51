"""A schedule's column taken as something else by a person's word: its field, member and unit."""

from __future__ import annotations

import pytest

from commission.definitions.load import load_form
from commission.definitions.model import Form
from commission.errors import ReadingError
from commission.workbook.schedule_match import TAG, UNMATCHED, Matched, match_heads, reassigned


@pytest.fixture(scope="module")
def form() -> Form:
    return load_form()


def by_number(columns: tuple[Matched, ...], number: int) -> Matched:
    return next(one for one in columns if one.column == number)


@pytest.mark.parametrize(
    ("head", "below", "unit"),
    [
        ("Net sensible and latent (tons)", "", "tons"),  # in brackets
        ("Net", "MBH", "MBH"),  # in the row of units below the heads
        ("Net", "", "Btu/h"),  # the form's own where nothing is told
        ("Net (cfm)", "", "Btu/h"),  # a unit that cannot be meant is none
    ],
)
def test_unit_is_what_the_head_or_the_row_below_says(
    form: Form, head: str, below: str, unit: str
) -> None:
    columns = match_heads(["Mark", head], form, ["", below])
    assert by_number(tuple(columns), 2).field == UNMATCHED
    taken = by_number(reassigned(columns, 2, form, "rated_cooling_btuh"), 2)
    assert (taken.field, taken.member) == ("rated_cooling_btuh", 0)
    # The trade's unit of a capacity on drawings stands in the shipped words.
    assert taken.unit == (unit if unit != "Btu/h" else _usual(form))


def _usual(form: Form) -> str:
    from commission.workbook.schedule_match import schedule_words

    column = next(
        (one for one in schedule_words()["column"] if one["field"] == "rated_cooling_btuh"), {}
    )
    entry = form.by_name["rated_cooling_btuh"]
    return str(column.get("unit", entry.unit))  # type: ignore[union-attr]


def test_member_is_kept_and_the_column_before_is_not_read_any_more(form: Form) -> None:
    columns = match_heads(["Mark", "RLA 1", "RLA 2", "Other"], form)
    taken = reassigned(columns, 4, form, "compressor_rla_a", 2)
    assert (by_number(taken, 4).field, by_number(taken, 4).member) == ("compressor_rla_a", 2)
    assert by_number(taken, 3).field == UNMATCHED
    assert by_number(taken, 2).member == 1
    assert [one.head for one in taken] == [one.head for one in columns]


def test_a_schedule_keeps_a_column_of_tags(form: Form) -> None:
    columns = match_heads(["Mark", "MCA", "Name"], form)
    with pytest.raises(ReadingError, match="must hold the units' tags"):
        reassigned(columns, 1, form, UNMATCHED)
    moved = reassigned(columns, 3, form, TAG)
    assert [one.field == TAG for one in moved] == [False, False, True]
