"""What two records compared tell is said in the language asked for, also as PDF."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from pypdf import PdfReader

from archive.test_compare import later_record
from commission.__main__ import main
from commission.archive.compare import _Side, _why, compare_records
from commission.archive.labels import said_label
from commission.archive.rebuild import read_record
from commission.definitions.model import Form
from commission.language import speaking
from commission.units import UNITS
from tests.spoken_marks import CODE, speak_marks, strangers

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
    assert compare_records(demo_record, later).verdict_changes
    pdf = tmp_path / "drift.pdf"
    monkeypatch.setenv("COLUMNS", "100000")
    speak_marks(monkeypatch)
    capsys.readouterr()
    words = ["compare", str(demo_record), str(later), "--all", "--pdf", str(pdf)]
    main([*words, "--language", CODE])
    printed = capsys.readouterr()
    data = [*words, "Larkspur Yard, rooftop units 1 to 6"]
    found = strangers(printed.out + printed.err, data, [*UNITS, *NAMES])
    assert len(printed.out) > 100_000
    assert not found, found
    in_report = strangers(read(pdf), data, [*UNITS, *NAMES])
    assert not in_report, in_report


def test_a_member_is_said_as_form_files_say_it() -> None:
    with speaking("es"):
        assert said_label("Suction pressure", "Circuit 2") == "Presión de succión, Circuito 2"
        assert said_label("Suction pressure", "") == "Presión de succión"
        assert said_label("Compressor amps", "Compressor 1 · L2").endswith(", Compresor 1 · L2")
        assert said_label("Of a form of one's own", "Coil 3") == "Of a form of one's own, Coil 3"
    assert said_label("Suction pressure", "Circuit 2") == "Suction pressure, Circuit 2"


def test_a_reason_is_said_anew_where_the_record_s_numbers_give_it(demo_record: Path) -> None:
    """The oracle is the record: judged from its own numbers, nearly all sentences come again."""
    record = read_record(demo_record)
    side = _Side(record)
    again, others = [], []
    with speaking(CODE):
        for row in record["verdicts"]:
            if row["outcome"] in ("pass", "fail") and not row["overridden_by"]:
                said = _why(row, side, record["project"])
                (again if said != row["sentence"] else others).append(said)
    assert len(again) > 1_000
    assert not others, others[:5]
    for english in (" is below ", " is at most ", "Default limit", "common practice", "published"):
        assert not any(english in said for said in again)


def test_a_reason_of_another_program_stands_as_it_is(demo_record: Path) -> None:
    record = read_record(demo_record)
    row = next(row for row in record["verdicts"] if row["outcome"] == "fail")
    with speaking(CODE):
        assert _why(row | {"sentence": "Too low."}, _Side(record), record["project"]) == "Too low."
