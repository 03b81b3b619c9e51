from __future__ import annotations

import pytest

from commission.errors import OutputError
from commission.workbook.texts import (
    LONGEST_CELL,
    cell_text,
    header_text,
    lines_needed,
    shortened,
    tab_name,
)


def test_control_characters_stay_visible() -> None:
    assert cell_text("a\x00b\x1bc\ud800d\ufffee") == "a�b�c�d�e"
    assert cell_text("tab\tand\nline") == "tab\tand\nline"


def test_a_text_too_long_for_a_cell_is_refused_not_cut() -> None:
    assert cell_text("x" * LONGEST_CELL) == "x" * LONGEST_CELL
    with pytest.raises(OutputError, match=r"RTU-1 Notes: a text of 32,768 characters.*Shorten"):
        cell_text("x" * (LONGEST_CELL + 1), "RTU-1 Notes")
    with pytest.raises(OutputError):  # a character outside the basic plane counts twice
        cell_text("\U0001f525" * 16_384)


def test_shortening_shows() -> None:
    assert shortened("a  b\nc", 9) == "a b c"
    assert shortened("abcdefghij", 5) == "abcd…"


def test_an_ampersand_in_a_header_is_no_code() -> None:
    assert header_text("Smith & Daughter &P") == "Smith && Daughter &&P"


@pytest.mark.parametrize(
    ("tag", "section", "tab"),
    [
        ("RTU-1", "electrical_supply", "RTU-1 Electrical supply"),
        ("", "project", "Project"),
        ("RTU/1:a", "gas", "RTU-1-a Gas"),
        ("O'Neil, east", "gas", "O-Neil- east Gas"),
        ("a very long tag indeed", "functional_electric_heat", "a very long ta Functional"),
        ("", "history", "History 2"),
        ("RTU-1", "Before power: electrical", "RTU-1 Before power electrical"),
        ("RTU-1", "Before power: the electrical side", "RTU-1 The electrical side"),
    ],
)
def test_tabs(tag: str, section: str, tab: str) -> None:
    assert tab_name(tag, section, set()) == tab


def test_tabs_are_unique_whatever_their_case() -> None:
    taken: set[str] = set()
    names = [tab_name(tag, "gas", taken) for tag in ("RTU-1", "rtu-1", "RTU/1")]
    assert names == ["RTU-1 Gas", "rtu-1 Gas 2", "RTU-1 Gas 3"]


def test_lines_needed() -> None:
    assert lines_needed("", 10) == 0
    assert lines_needed("abc", 10) == 1
    assert lines_needed("abc\ndef", 10) == 2
    assert lines_needed("x" * 25, 10) == 3
