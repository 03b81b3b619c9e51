"""Each text on the sheets of a workbook is said in its language, or was typed by a person."""

from __future__ import annotations

from pathlib import Path

import openpyxl
import pytest

from commission.definitions.load import load_form
from commission.definitions.translated import translated
from commission.engineering.refrigerant import REFRIGERANTS
from commission.language import speaking
from commission.project import ProjectFile
from commission.project.scenario import project_from_scenario
from commission.resources import demo_units_folder
from commission.units import UNITS
from commission.workbook.volumes import write_workbooks
from tests.spoken_marks import CODE, speak_marks, stored_texts, unsaid

TAG = "RTU-4"
NAMES = ("commission", "CoolProp", "min", "max", "tbubble")
# Kinds of instruments and models as a person typed them.
TYPED = ("Stopwatch",)


def test_what_stands_on_the_sheets_is_said_or_was_typed(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    form = load_form()
    demo = tmp_path / "demo.rtuproject"
    project_from_scenario(demo_units_folder(), demo, form).close()
    speak_marks(monkeypatch)
    with speaking(CODE), ProjectFile.open(demo, read_only=True) as project:
        chosen = [unit for unit in project.units() if unit.tag == TAG]
        kinds = [one.kind for one in project.instruments()]
        path = write_workbooks(
            project, translated(form, CODE), tmp_path / "said.xlsx", chosen=chosen
        ).path
    book = openpyxl.load_workbook(path, data_only=True)
    shown = {
        cell.value: f"{sheet.title}!{cell.coordinate}"
        for sheet in book
        if sheet.sheet_state == "visible"
        for row in sheet.iter_rows()
        for cell in row
        # A look-up is named by the form file's own formula.
        if isinstance(cell.value, str) and "from_table(" not in cell.value
    }
    assert len(shown) > 1_000
    symbols = [str(getattr(entry, "symbol", "") or "") for entry in form.by_name.values()]
    words = [*UNITS, *NAMES, *symbols, *(symbol.replace("_", "") for symbol in symbols)]
    data = [*stored_texts(demo), *kinds, *TYPED, *REFRIGERANTS, *book.sheetnames, form.id]
    left = {text: shown[text] for text in unsaid(shown, data, words)}
    told = [f"{place}: {text[:300]!r}" for text, place in left.items()]
    assert not told, f"{len(told)} texts were not said:\n" + "\n".join(told[:200])
