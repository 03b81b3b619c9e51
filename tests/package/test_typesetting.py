"""Lines of shown work: a number and its unit are not parted (SI Brochure, 9th ed., 5.4.3)."""

from __future__ import annotations

import re
from itertools import pairwise

import pytest

from commission.package.look import REGULAR, TABLE_SIZE, register_faces
from commission.package.typesetting import broken, broken_work, read_on, width_of
from commission.units import UNITS

WORK = (
    "U = 100 % × (3.38 % + 12.5 in. w.c. × 2 A_1) / 4,800 Btu/h = 0.07 Δ°F = 1.25 lb/ft³ + "
    "2 h_1 × 208 V = 3.38 %"
)


@pytest.fixture(autouse=True)
def _fonts() -> None:
    register_faces()


def lines_of(text: str, width: float) -> list[str]:
    return ["".join(run.text for run in line) for line in broken_work(text, TABLE_SIZE, width)]


@pytest.mark.parametrize("width", range(70, 400, 10))
def test_no_line_begins_with_the_unit_of_the_number_before(width: int) -> None:
    lines = lines_of(WORK, float(width))
    assert " ".join(lines) == WORK.replace("_", "")  # what stands low has no sign of it
    for before, after in pairwise(lines):
        if re.search(r"\d$", before):
            assert not any(re.match(rf"{re.escape(code)}(?!\w)", after) for code in UNITS if code)
        assert not re.search(r"\d in\.$", before)


@pytest.mark.parametrize("width", range(70, 400, 10))
def test_each_line_fits(width: int) -> None:
    for line in lines_of(WORK.replace("_1", ""), float(width)):
        assert width_of(line, REGULAR, TABLE_SIZE) <= width


def test_each_unit_stays_with_its_number() -> None:
    for code in filter(None, UNITS):
        room = width_of(f"1.25 {code}", REGULAR, TABLE_SIZE) + 0.1
        assert f"1.25 {code}" in lines_of(f"x = 1.25 {code}", room), code


def test_a_symbol_after_a_number_is_no_unit() -> None:
    room = width_of("2 h_suction", REGULAR, TABLE_SIZE) - 0.1  # before its end is set low
    assert broken("2 h_suction", REGULAR, TABLE_SIZE, room) == ("2", "h_suction")


def test_in_a_column_too_narrow_for_both_the_unit_stands_below() -> None:
    room = width_of("4,800", REGULAR, TABLE_SIZE) + 0.1
    assert broken("4,800 A", REGULAR, TABLE_SIZE, room) == ("4,800", "A")
    assert broken("is 4,800 A", REGULAR, TABLE_SIZE, 1.5 * room) == ("is", "4,800 A")


def test_a_broken_text_reads_on_as_it_was() -> None:
    text = "Not above 5 %, that is 0.42 in. w.c.\nat 4,800 cfm"
    for width in range(20, 200, 10):
        lines = broken(text, REGULAR, TABLE_SIZE, float(width))
        assert "".join(read_on(text, lines)) == text.replace("\n", " ")
