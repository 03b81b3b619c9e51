"""The limits book: kept whole, shared as a file, strict on what comes in, conflicts shown."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from commission.errors import IncomingFileError, OutputError
from commission.project.limits_book import BookEntry, LimitsBook, ModelKey, read_shared

MODEL = ModelKey("Example Air", "EX-120 B")
HEAT = BookEntry(
    MODEL,
    "limit",
    "rise_in_range",
    (),
    unit="Δ°F",
    parts={"low": 30.0, "high": 60.0},
    origin="Installation sheet, page 4",
    entered_on="2026-09-14",
    entered_by="Ada Rowan",
    source="Specimen yard, RTU-1",
    source_id="project/unit",
)
CHART = BookEntry(
    MODEL,
    "table",
    "chart_table",
    (1,),
    unit="°F||Δ°F",
    table="85\t8\n95\t9",
    origin="Service sheet, page 2",
    entered_on="2026-09-14",
)


@pytest.fixture
def book(tmp_path: Path) -> LimitsBook:
    return LimitsBook(tmp_path / "config" / "limits_book.json")


def test_what_is_kept_comes_back(book: LimitsBook) -> None:
    assert book.entries() == []
    assert book.keep("project/unit", [HEAT, replace(CHART, source_id="project/unit")]) == 2
    assert LimitsBook(book.path).entries() == [HEAT, replace(CHART, source_id="project/unit")]
    assert book.models() == [MODEL]


def test_a_model_is_one_whatever_its_case_and_blanks(book: LimitsBook) -> None:
    book.keep("project/unit", [HEAT])
    assert book.entries(ModelKey("EXAMPLE  AIR", "ex-120B")) == [HEAT]
    assert book.entries(ModelKey("Example Air", "EX-121 B")) == []


def test_a_correction_replaces_and_a_withdrawal_leaves(book: LimitsBook) -> None:
    book.keep("project/unit", [HEAT])
    corrected = replace(HEAT, parts={"low": 35.0, "high": 60.0})
    book.keep("project/unit", [corrected])
    assert book.entries() == [corrected]
    book.keep("project/unit", [])
    assert book.entries() == []


def test_the_same_from_another_unit_keeps_its_first_source(book: LimitsBook) -> None:
    book.keep("project/unit", [HEAT])
    assert book.keep("project/other", [replace(HEAT, source_id="project/other")]) == 0
    assert book.entries() == [HEAT]


def test_two_origins_stand_side_by_side(book: LimitsBook) -> None:
    other = replace(HEAT, origin="Newer sheet, page 5", parts={"high": 55.0}, source_id="b")
    book.keep("project/unit", [HEAT])
    book.keep("b", [other])
    assert book.entries() == [HEAT, other]


def test_shared_and_taken_in_elsewhere(book: LimitsBook, tmp_path: Path) -> None:
    book.keep("project/unit", [HEAT])
    shared = tmp_path / "mine.limits.json"
    assert book.share(shared) == 1
    assert "project/unit" not in shared.read_text(encoding="utf-8")
    theirs = LimitsBook(tmp_path / "theirs.json")
    joined = theirs.take_in(read_shared(shared))
    assert (joined.added, joined.known, joined.conflicts) == (1, 0, ())
    assert theirs.take_in(read_shared(shared)).known == 1
    assert theirs.entries() == [replace(HEAT, source_id="")]


def test_a_disagreement_is_shown_and_not_taken(book: LimitsBook) -> None:
    book.keep("project/unit", [HEAT])
    theirs = replace(HEAT, parts={"low": 25.0, "high": 60.0}, source_id="")
    joined = book.take_in([theirs])
    assert joined.conflicts == ((HEAT, theirs),)
    assert book.entries() == [HEAT]
    book.put(theirs)
    assert book.entries() == [theirs]


def test_nothing_to_share_is_said(book: LimitsBook, tmp_path: Path) -> None:
    with pytest.raises(OutputError, match="holds nothing"):
        book.share(tmp_path / "none.json")
    assert not (tmp_path / "none.json").exists()


def test_a_model_is_forgotten(book: LimitsBook) -> None:
    other = replace(HEAT, model=ModelKey("Example Air", "EX-200"))
    book.keep("project/unit", [HEAT, other])
    assert book.forget(MODEL) == 1
    assert book.entries() == [other]


def rows_of(path: Path) -> list[dict[str, object]]:
    rows: list[dict[str, object]] = json.loads(path.read_text(encoding="utf-8"))["entries"]
    return rows


def write_rows(path: Path, rows: object) -> None:
    content = {"format": "rooftop unit limits book", "version": 1, "entries": rows}
    path.write_text(json.dumps(content), encoding="utf-8")


FAULTS = {
    "no part": {"parts": {}},
    "a strange part": {"parts": {"lowest": 1.0}},
    "crossed": {"parts": {"low": 70.0, "high": 60.0}},
    "text as number": {"parts": {"low": "30"}},
    "yes as number": {"parts": {"low": True}},
    "negative tolerance": {"parts": {"tolerance": -1.0}},
    "no origin": {"origin": " "},
    "no model": {"model": ""},
    "no date": {"entered_on": "yesterday"},
    "strange kind": {"kind": "curve"},
    "index from nought": {"index": [0]},
    "index of texts": {"index": ["1"]},
    "a table in a limit": {"table": "1\t2"},
    "control character": {"origin": "page\x004"},
    "half a pair": {"name": "x\ud800"},
    "a strange column": {"colour": "red"},
}


@pytest.mark.parametrize("change", FAULTS.values(), ids=FAULTS.keys())
def test_each_fault_is_refused_with_its_place(
    book: LimitsBook, tmp_path: Path, change: dict[str, object]
) -> None:
    book.keep("a", [HEAT, CHART])
    rows = rows_of(book.path)
    rows[0] |= change
    shared = tmp_path / "shared.json"
    write_rows(shared, rows)
    with pytest.raises(IncomingFileError, match="entry 1: "):
        read_shared(shared)


def test_all_faults_are_told_at_once(book: LimitsBook, tmp_path: Path) -> None:
    book.keep("a", [HEAT, CHART])
    rows = rows_of(book.path)
    rows[0] |= {"origin": "", "make": ""}
    del rows[1]["table"]
    shared = tmp_path / "shared.json"
    write_rows(shared, [*rows, "nonsense"])
    with pytest.raises(IncomingFileError) as caught:
        read_shared(shared)
    lines = str(caught.value).splitlines()
    assert [line.split(": ")[1] for line in lines] == ["entry 1", "entry 1", "entry 2", "entry 3"]


@pytest.mark.parametrize(
    "text",
    ["", "[]", "{", '{"format": "other"}', "NaN", "[" * 100_000, '{"format": 1, "version": 1}'],
)
def test_no_limits_book_is_refused(tmp_path: Path, text: str) -> None:
    path = tmp_path / "foreign.json"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(IncomingFileError, match=r"foreign\.json"):
        read_shared(path)


def test_a_newer_book_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "newer.json"
    content = {"format": "rooftop unit limits book", "version": 2, "entries": []}
    path.write_text(json.dumps(content), encoding="utf-8")
    with pytest.raises(IncomingFileError, match="newer program"):
        read_shared(path)


def test_a_damaged_book_is_never_written_over(book: LimitsBook) -> None:
    book.path.parent.mkdir()
    book.path.write_text("{cut", encoding="utf-8")
    for act in (lambda: book.keep("a", [HEAT]), lambda: book.take_in([HEAT])):
        with pytest.raises(IncomingFileError):
            act()
    assert book.path.read_text(encoding="utf-8") == "{cut"


def test_a_book_that_cannot_be_written_says_so(tmp_path: Path) -> None:
    (tmp_path / "config").write_text("a file, not a folder", encoding="utf-8")
    with pytest.raises((OutputError, IncomingFileError), match="limits book"):
        LimitsBook(tmp_path / "config" / "book.json").keep("a", [HEAT])
    assert [path.name for path in tmp_path.iterdir()] == ["config"]


TEXT = st.text(st.characters(exclude_categories=["Cs", "Cc"]), min_size=1, max_size=30).filter(
    lambda text: text.strip()
)
NUMBER = st.floats(-1e9, 1e9)


@settings(max_examples=60, deadline=None)
@given(TEXT, TEXT, TEXT, NUMBER, st.lists(st.integers(1, 99), max_size=2))
def test_any_entry_comes_back_the_same(
    tmp_path_factory: pytest.TempPathFactory,
    make: str,
    name: str,
    origin: str,
    number: float,
    index: list[int],
) -> None:
    book = LimitsBook(tmp_path_factory.mktemp("book") / "book.json")
    entry = replace(
        HEAT,
        model=ModelKey(make, "M"),
        name=name,
        index=tuple(index),
        parts={"low": number},
        origin=origin,
    )
    book.keep("a", [entry])
    assert book.entries() == [entry]
    book.share(book.path.with_suffix(".shared"))
    assert read_shared(book.path.with_suffix(".shared")) == [replace(entry, source_id="")]
