"""What a store of many records tells is said in the language asked for, also as PDF."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from pathlib import Path

import pytest
from pypdf import PdfReader

from archive.store.test_store_reports import store as store  # a fixture
from commission.__main__ import main
from commission.units import UNITS
from tests.spoken_marks import CODE, speak_marks, strangers

NAMES = ("RTU", "commission")


def read(path: Path) -> str:
    return "\n".join(page.extract_text() for page in PdfReader(path).pages)


def typed_into(store: Path) -> Iterator[str]:
    """Yield what people typed that a store shows: sites, tags, models, titles."""
    with sqlite3.connect(store) as base:
        for row in base.execute("select tag, make, model, serial from unit"):
            yield from filter(None, row)
            yield " ".join(filter(None, row[1:3]))
        for row in base.execute("select site, title from record"):
            yield from filter(None, row)


@pytest.mark.parametrize(
    "asked",
    [["outliers"], ["history", "--unit", "RTU-1", "--serial", "S-00001"]],
    ids=["outliers", "history"],
)
def test_what_a_store_tells_is_said(
    asked: list[str],
    store: Path,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    pdf = tmp_path / "told.pdf"
    monkeypatch.setenv("COLUMNS", "100000")
    speak_marks(monkeypatch)
    capsys.readouterr()
    words = ["store", *asked, "--store", str(store), "--name", "superheat_f", "--pdf", str(pdf)]
    main([*words, "--language", CODE])
    printed = capsys.readouterr()
    data = [*words, store.name, *typed_into(store)]
    assert len(printed.out) > 200
    for text in (printed.out + printed.err, read(pdf)):
        found = strangers(text, data, [*UNITS, *NAMES])
        assert not found, found
