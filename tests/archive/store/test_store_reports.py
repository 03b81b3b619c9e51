"""The store's reports: every value that stands apart, and every visit, in words and drawn."""

from __future__ import annotations

import copy
import random
from pathlib import Path
from typing import Any

import pikepdf
import pytest
from pypdf import PdfReader

from commission.__main__ import main
from commission.archive.store import Store, add_record
from commission.drawing.shapes import Text
from commission.drawing.visits import VisitPoint, visits_figure
from tests.archive.store.conftest import one_unit, saved, sister

UNITS = 12


@pytest.fixture
def store(demo_content: dict[str, Any], tmp_path: Path) -> Path:
    """Twelve units of one model, one with a superheat thrice as high; RTU-1 visited thrice."""
    path = tmp_path / "portfolio.rtustore"
    dice, base = random.Random(11), one_unit(demo_content, "RTU-1")
    with Store.open(str(path), read_only=False) as opened:
        for number in range(UNITS):
            made = sister(base, number, dice)
            for row in made["quantities"]:
                if row["name"] == "superheat_f" and number == 5:
                    row["value"] *= 3
            add_record(opened, saved(made, tmp_path / f"{number}.record.json"))
        for year in ("2028", "2030"):
            later = copy.deepcopy(sister(base, 1, dice))
            later["project"]["revision"] += int(year)
            for row in later["readings"]:
                row["at"] = row["at"].replace("2026-", f"{year}-")
            add_record(opened, saved(later, tmp_path / f"{year}.record.json"))
    return path


def words_of(path: Path) -> str:
    return "\n".join(page.extract_text() for page in PdfReader(path).pages)


def test_what_stands_apart_is_reported(store: Path, tmp_path: Path, capsys: Any) -> None:
    pdf = tmp_path / "apart.pdf"
    asked = ["store", "outliers", "--store", str(store), "--name", "superheat_f"]
    assert main([*asked, "--pdf", str(pdf)]) == 1
    assert f"{pdf}: report written." in capsys.readouterr().out
    told = words_of(pdf)
    for words in ("Values that stand apart", "RTU-5", "S-00005", "superheat_f", "1.3.5.17"):
        assert words in told
    assert "RTU-7" not in told
    with pikepdf.open(pdf) as opened:
        assert "/StructTreeRoot" in opened.Root


def test_a_unit_s_visits_are_reported(store: Path, tmp_path: Path) -> None:
    pdf = tmp_path / "visits.pdf"
    asked = ["store", "history", "--store", str(store), "--unit", "RTU-1", "--serial", "S-00001"]
    assert main([*asked, "--name", "superheat_f", "--pdf", str(pdf)]) == 0
    told = words_of(pdf)
    assert "RTU-1 over its visits" in told
    for year in ("2026", "2028", "2030"):
        assert f"{year}-09-" in told
    assert "3 visits" in told and "Suction superheat" in told and "±" in told
    again = tmp_path / "again.pdf"
    assert main([*asked, "--name", "superheat_f", "--pdf", str(again)]) == 0
    assert again.read_bytes() == pdf.read_bytes()  # no clock is read


def test_a_chart_of_visits_tells_all_of_them() -> None:
    points = [
        VisitPoint(2026.25, 10.0, 1.5, "2026-07-01 10.0 Δ°F ±1.5"),
        VisitPoint(2031.25, 12.0, None, "2031-04-01 12.0 Δ°F"),
    ]
    drawing = visits_figure(points, 400, "Superheat", "Δ°F")
    assert drawing.width == 400
    words = {shape.text for shape in drawing.shapes if isinstance(shape, Text)}
    assert {"2028", "2030"} <= words
    assert "2026-07-01 10.0 Δ°F ±1.5; 2031-04-01 12.0 Δ°F" in drawing.description
