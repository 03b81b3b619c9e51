from __future__ import annotations

import re

import pytest

from commission.definitions.model import Key
from commission.workbook.addresses import (
    Addresses,
    Cell,
    column_letters,
    joined_ranges,
    readable_name,
)

# What a spreadsheet takes for a cell: letters up to XFD with a row, or the R1C1 way.
CELL_LIKE = re.compile(r"^([A-Za-z]{1,3}[0-9]+|[Rr][0-9]*([Cc][0-9]*)?|[Cc][0-9]*)$")


@pytest.mark.parametrize(
    ("column", "letters"), [(0, "A"), (25, "Z"), (26, "AA"), (701, "ZZ"), (702, "AAA")]
)
def test_column_letters(column: int, letters: str) -> None:
    assert column_letters(column) == letters


@pytest.mark.parametrize(
    ("owner", "key", "name"),
    [
        (1, Key("suction_psig", (2,)), "u1_suction_psig_2"),
        (12, Key("velocity_fpm", (3, 4)), "u12_velocity_fpm_3_4"),
        (0, Key("elevation_ft"), "p_elevation_ft"),
        (1, Key("a"), "u1_a"),
        (1, Key("r1"), "u1_r1"),
    ],
)
def test_names_read_like_the_form_and_never_like_a_cell(owner: int, key: Key, name: str) -> None:
    assert readable_name(owner, key) == name
    assert not CELL_LIKE.match(name)


def test_two_keys_never_share_a_name() -> None:
    addresses = Addresses()
    first = addresses.add_value(1, Key("leg_1"), Cell("S", 1, 1))
    second = addresses.add_value(1, Key("leg", (1,)), Cell("S", 2, 1))
    third = addresses.add_further(1, Key("leg"), "1", Cell("S", 3, 1))
    assert len({first, second, third}) == 3
    assert addresses.value(1, Key("leg", (1,))) == second
    assert addresses.further(1, Key("leg"), "1") == third


def test_names_that_differ_in_case_alone_are_the_same_to_a_spreadsheet() -> None:
    addresses = Addresses()
    assert addresses.claim("u1_x", Cell("S", 1, 1)) != addresses.claim("U1_X", Cell("S", 2, 1))


@pytest.mark.parametrize(
    ("cells", "text"),
    [
        ([], ""),
        ([(4, 1)], "'S'!$B$5"),
        ([(4, 1), (5, 1), (6, 1)], "'S'!$B$5:$B$7"),
        ([(6, 1), (4, 1), (5, 1)], "'S'!$B$5:$B$7"),
        ([(4, 1), (6, 1)], "'S'!$B$5,'S'!$B$7"),
        ([(4, 1), (4, 2), (4, 3)], "'S'!$B$5:$D$5"),
        ([(4, 1), (5, 1), (4, 2), (5, 2)], "'S'!$B$5:$C$6"),
        ([(4, 1), (5, 1), (9, 1)], "'S'!$B$5:$B$6,'S'!$B$10"),
    ],
)
def test_runs_of_cells_become_ranges(cells: list[tuple[int, int]], text: str) -> None:
    assert joined_ranges(Cell("S", *place) for place in cells) == text
