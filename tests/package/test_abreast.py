"""Columns side by side: order of reading, heights, and when two abreast are chosen."""

from __future__ import annotations

import pytest

from commission.package.abreast import BETWEEN, Abreast, half
from commission.package.document import register_faces
from commission.package.flowables import Heading, words
from commission.package.tables import Column, DataTable, Row
from commission.package.work_flowable import Line, Work, works_abreast

WIDTH = 516.0


@pytest.fixture(autouse=True)
def faces() -> None:
    register_faces()


def work(label: str, *lines: str) -> Work:
    return Work(label, [Line(text) for text in lines], "Definition")


def test_two_columns_and_the_gap_fill_the_width() -> None:
    assert 2 * half(WIDTH) + BETWEEN == WIDTH


def test_height_is_that_of_the_higher_stack_set_alone() -> None:
    stacks = [[words("One line.")], [Heading("Heading", 3), words("Two. " * 60)]]
    beside = Abreast(stacks)
    _, height = beside.wrap(WIDTH, 0)
    heading, text = Heading("Heading", 3), words("Two. " * 60)
    alone = heading.wrap(half(WIDTH), 0)[1] + text.wrap(half(WIDTH), 10_000)[1]
    alone += max(heading.getSpaceAfter(), text.getSpaceBefore())
    assert height == pytest.approx(alone)
    assert beside.split(WIDTH, height / 2) == []


def test_short_works_go_two_abreast_in_their_order() -> None:
    works = [work(f"Quantity {n}", "a − b", "= 3 °F − 1 °F = 2 Δ°F") for n in range(5)]
    placed = works_abreast(WIDTH, works)
    assert [type(one) for one in placed] == [Abreast, Abreast, Work]
    stacks = [stack for one in placed[:2] for stack in one.stacks]  # type: ignore[attr-defined]
    assert [stack[0].label for stack in stacks] == [w.label for w in works[:4]]


def test_works_whose_lines_would_break_too_often_stay_in_the_whole_width() -> None:
    long = " + ".join(f"quantity number {n}" for n in range(20))
    works = [work("Sum", long, f"= {long}"), work("Short", "a")]
    assert works_abreast(WIDTH, works) == works


def test_a_work_in_one_line_takes_it_only_where_it_fits() -> None:
    parts = [Line("q = a + b"), Line("= 1 + 2 = 3")]
    one = Work("Label", parts, "", Line("q = a + b = 1 + 2 = 3"))
    wide = one.wrap(300, 0)[1]
    assert one.wrap(80, 0)[1] > wide


def table(*texts: str) -> DataTable:
    return DataTable([Column("Name", 400), Column("Value", 116, "right")], [Row(texts)])


def test_a_table_is_narrowed_to_what_its_words_need_or_not_at_all() -> None:
    narrow = table("Line 1", "597").narrowed(half(WIDTH))
    assert narrow is not None
    assert narrow.wrap(half(WIDTH), 0)[1] == table("Line 1", "597").wrap(WIDTH, 0)[1]
    assert sum(column.share for column in narrow.columns) == pytest.approx(half(WIDTH))
    assert table("A name of many words " * 4, "597").narrowed(half(WIDTH)) is None
