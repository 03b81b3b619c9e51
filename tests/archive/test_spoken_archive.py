"""What two records compared tell is said in the language asked for, also as PDF."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from pypdf import PdfReader

from archive.test_compare import later_record
from commission.__main__ import main
from commission.archive.compare import compare_records
from commission.archive.labels import said_label
from commission.definitions.model import Form
from commission.language import speaking
from commission.units import UNITS
from tests.spoken_marks import CODE, speak_marks, strangers

# A verdict's reason stands as the record has it.
NAMES = ("RTU", "commission")


def read(path: Path) -> str:
    return "\n".join(page.extract_text() for page in PdfReader(path).pages)


def test_a_comparison_is_said(
    demo_record: Path,
    later_copy: Path,
    shipped_form: Form,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    changes: dict[Any, Any] = {
        ("suction_psig", (1,)): -60.0,
        ("visit_outdoor_f", ()): 9.0,
        ("economizer", ()): "none",
        ("nameplate_mca_a", ()): 5.0,
    }
    later = later_record(later_copy, shipped_form, changes)
    reasons = [change.sentence for change in compare_records(demo_record, later).verdict_changes]
    assert reasons
    pdf = tmp_path / "drift.pdf"
    monkeypatch.setenv("COLUMNS", "100000")
    speak_marks(monkeypatch)
    capsys.readouterr()
    words = ["compare", str(demo_record), str(later), "--all", "--pdf", str(pdf)]
    main([*words, "--language", CODE])
    printed = capsys.readouterr()
    data = [*words, *reasons, "Larkspur Yard, rooftop units 1 to 6"]
    found = strangers(printed.out + printed.err, data, [*UNITS, *NAMES])
    assert len(printed.out) > 100_000
    assert not found, found
    in_report = strangers(read(pdf), data, [*UNITS, *NAMES, *" ".join(reasons).split()])
    assert not in_report, in_report


def test_a_member_is_said_as_form_files_say_it() -> None:
    with speaking("es"):
        assert said_label("Suction pressure", "Circuit 2") == "Presión de succión, Circuito 2"
        assert said_label("Suction pressure", "") == "Presión de succión"
        assert said_label("Compressor amps", "Compressor 1 · L2").endswith(", Compresor 1 · L2")
        assert said_label("Of a form of one's own", "Coil 3") == "Of a form of one's own, Coil 3"
    assert said_label("Suction pressure", "Circuit 2") == "Suction pressure, Circuit 2"
