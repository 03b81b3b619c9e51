"""A report of tables and drawings: archival, whole, the same bytes each time."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import pikepdf
import pytest
from pypdf import PdfReader

from commission.drawing.drift import DriftRow, drift_figure
from commission.errors import OutputError
from commission.package.report import (
    Report,
    ReportFigure,
    ReportTable,
    report_width,
    write_report,
)


def report(rows: int = 3) -> Report:
    drawing = drift_figure([DriftRow("Superheat <b>", "+1 Δ°F", 1.5)], report_width("IP"), "Drift")
    return Report(
        title="Comparison & more",
        subject="Test",
        facts=[("Baseline", "2026"), ("Later", "2028")],
        summary=["Two values drifted."],
        parts=[
            ReportFigure("Figure", drawing, "What is seen."),
            ReportTable(
                "Rows",
                ("Unit", "Finding", "What"),
                (0, 100, 416),
                [(f"RTU-{n // 50}", "drift", f"value {n} <i>") for n in range(rows)],
                grouped=True,
            ),
            ReportTable("Nothing", ("A", "B"), (1, 1), [], "No row."),
        ],
        notes=["A note."],
        program="test",
        moment=datetime(2028, 8, 2, tzinfo=UTC),
    )


def test_every_row_is_in_it(tmp_path: Path) -> None:
    path = write_report(report(300), tmp_path / "r.pdf")
    pages = PdfReader(path).pages
    text = "\n".join(page.extract_text() for page in pages)
    assert len(pages) > 4
    assert all(f"value {number} <i>" in text for number in range(300))
    for words in ("Comparison & more", "Superheat <b>", "No row.", "A note.", "RTU-5", "2028"):
        assert words in text


def test_it_is_fit_for_archives_and_tagged(tmp_path: Path) -> None:
    path = write_report(report(), tmp_path / "r.pdf")
    with pikepdf.open(path) as pdf:
        assert "/StructTreeRoot" in pdf.Root and str(pdf.Root.Lang) == "en-US"
        with pdf.open_metadata() as told:
            assert told.pdfa_status == "3A"


def test_the_same_report_gives_the_same_bytes(tmp_path: Path) -> None:
    one, other = (write_report(report(), tmp_path / name).read_bytes() for name in "ab")
    assert one == other


def test_a_place_that_cannot_be_written_is_told(tmp_path: Path) -> None:
    with pytest.raises(OutputError, match="the report cannot be written"):
        write_report(report(), tmp_path / "absent" / "r.pdf")
    assert list(tmp_path.iterdir()) == []
