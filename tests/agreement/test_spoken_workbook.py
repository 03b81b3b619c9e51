"""A workbook in another language computes what it computes in English, and comes home.

LibreOffice is the oracle of the formulas, as in `test_workbook_agreement`: here it tells that each
text that a formula compares or gives is the one that the cells hold.
"""

from __future__ import annotations

from pathlib import Path

import openpyxl
import pytest

from agreement.test_workbook_agreement import Recalculated
from commission.definitions.load import load_form
from commission.definitions.translated import translated
from commission.language import ENGLISH, languages, said_in, speaking
from commission.project import ProjectFile
from commission.project.scenario import project_from_scenario
from commission.resources import demo_units_folder
from commission.validation.verdict import Outcome
from commission.workbook.read_back import read_back
from commission.workbook.read_back_rows import Standing
from commission.workbook.volumes import write_workbooks

OTHERS = [code for code in languages() if code != ENGLISH]
TAG = "RTU-4"  # a heat pump with a stop, a typed table and deficiencies
FORM = load_form()


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("demo") / "demo.rtuproject"
    project_from_scenario(demo_units_folder(), path, FORM).close()
    return path


@pytest.fixture(scope="module", params=OTHERS)
def written(
    request: pytest.FixtureRequest, demo: Path, tmp_path_factory: pytest.TempPathFactory
) -> tuple[str, Path]:
    code = str(request.param)
    path = tmp_path_factory.mktemp("spoken") / "spoken.xlsx"
    with speaking(code), ProjectFile.open(demo, read_only=True) as project:
        chosen = [unit for unit in project.units() if unit.tag == TAG]
        write_workbooks(project, translated(FORM, code), path, chosen=chosen)
    return code, path


@pytest.mark.recalculation
def test_each_formula_gives_the_words_that_were_written(
    written: tuple[str, Path], tmp_path: Path
) -> None:
    count, wrong = Recalculated(written[1], tmp_path).cached_differences()
    assert count > 1_500
    assert wrong == []


def test_verdicts_choices_and_heads_are_said(written: tuple[str, Path]) -> None:
    code, path = written
    book = openpyxl.load_workbook(path, data_only=True)
    shown = (sheet for sheet in book if sheet.sheet_state == "visible")
    held = {str(cell.value) for sheet in shown for row in sheet.iter_rows() for cell in row}
    for word in (Outcome.PASS, Outcome.FAIL, "yes", "done"):
        assert said_in(code, word) in held
        assert str(word) not in held or said_in(code, word) == str(word)
    assert said_in(code, "How it is known, as exported") in held


def test_an_unchanged_one_has_nothing_to_settle(written: tuple[str, Path], demo: Path) -> None:
    """In the language it was written in, and in English: the file says which it is in."""
    for code in (written[0], ENGLISH):
        with speaking(code), ProjectFile.open(demo, read_only=True) as project:
            review = read_back(project, translated(FORM, code), written[1])
        assert [(row.place, row.sentence) for row in review.to_settle] == []
        assert not review.remarks


def test_a_choice_typed_in_its_language_is_taken(
    written: tuple[str, Path], demo: Path, tmp_path: Path
) -> None:
    code, path = written
    book = openpyxl.load_workbook(path)
    names = ("u1_economizer_takes_call_shown", "u1_economizer_takes_call")
    name = next(one for one in names if one in book.defined_names)
    sheet, place = next(iter(book.defined_names[name].destinations))
    cell = book[sheet][place.replace("$", "")]
    typed = said_in(code, "no" if cell.value == said_in(code, "yes") else "yes")
    cell.value = typed
    edited = tmp_path / "edited.xlsx"
    book.save(edited)
    with speaking(code), ProjectFile.open(demo, read_only=True) as project:
        review = read_back(project, translated(FORM, code), edited)
    changed = [row for row in review.rows if row.standing is Standing.CHANGED]
    assert [row.key.name for row in changed] == ["economizer_takes_call"]
    assert changed[0].entry in ("yes", "no")
    assert changed[0].in_file == typed


@pytest.mark.parametrize("code", OTHERS)
def test_no_two_choices_of_a_field_are_said_alike(code: str) -> None:
    """Else a formula, and a reading that comes home, could not tell them apart."""
    for entry in FORM.by_name.values():
        choices = getattr(entry, "choices", ())
        assert len({said_in(code, choice).casefold() for choice in choices}) == len(choices)
