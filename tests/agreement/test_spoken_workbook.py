"""A workbook in another language computes what it computes in English, and comes home.

LibreOffice is the oracle of the formulas, as in `test_workbook_agreement`: here it tells that each
text that a formula compares or gives is the one that the cells hold.
"""

from __future__ import annotations

import re
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
from commission.validation.session import Session
from commission.validation.verdict import Outcome
from commission.workbook import words
from commission.workbook.book import FIXED_SHEETS, FURTHER_SHEETS, META
from commission.workbook.read_back import read_back
from commission.workbook.read_back_rows import Standing
from commission.workbook.volumes import write_workbooks
from workbook.test_read_back import as_ods

OTHERS = [code for code in languages() if code != ENGLISH]
TAG = "RTU-4"  # a heat pump with a stop, a typed table and deficiencies
FORM = load_form()
NAMED = [name for name in (*FIXED_SHEETS, *FURTHER_SHEETS) if name != META]


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


def test_its_sheets_are_called_in_its_language(written: tuple[str, Path]) -> None:
    """And each sheet that a formula, a list or a name refers to is there."""
    code, path = written
    book = openpyxl.load_workbook(path)
    assert META in book.sheetnames
    assert {said_in(code, name) for name in NAMED[:6]} <= set(book.sheetnames)
    english = {name for name in NAMED if said_in(code, name) != name}
    assert english == set(NAMED)
    assert not english & set(book.sheetnames)
    referred = {
        title
        for sheet in book
        for row in sheet.iter_rows()
        for cell in row
        if isinstance(cell.value, str) and cell.value.startswith("=")
        for title in re.findall(r"'([^']+)'!", cell.value)
    }
    referred |= {title for name in book.defined_names.values() for title, _ in name.destinations}
    for sheet in book:
        for rule in sheet.data_validations.dataValidation:
            referred |= set(re.findall(r"'([^']+)'!", rule.formula1 or ""))
    assert said_in(code, "Stops") in referred
    assert said_in(code, "Lists") in referred
    assert referred <= set(book.sheetnames)


@pytest.mark.parametrize("code", OTHERS)
def test_each_fixed_sheet_has_a_name_that_a_spreadsheet_takes(code: str) -> None:
    """At most 31 characters, none of []:*?/\\, no apostrophe at an end (ECMA-376, from memory)."""
    names = [said_in(code, name) for name in NAMED]
    assert len({name.casefold() for name in names}) == len(names)
    for name in names:
        assert 0 < len(name) <= 31
        assert not set(name) & set("[]:*?/\\'")


def test_one_with_english_tabs_comes_home_too(
    demo: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Before its fixed sheets were called in its language, a workbook's cells were."""
    code, path = OTHERS[0], tmp_path / "older.xlsx"
    said = words.spoken
    monkeypatch.setattr(words, "spoken", lambda text: text if text in NAMED else said(text))
    with speaking(code), ProjectFile.open(demo, read_only=True) as project:
        chosen = [unit for unit in project.units() if unit.tag == TAG]
        write_workbooks(project, translated(FORM, code), path, chosen=chosen)
    monkeypatch.undo()
    assert set(NAMED[:6]) <= set(openpyxl.load_workbook(path, read_only=True).sheetnames)
    for spoken_here in (code, ENGLISH):
        with speaking(spoken_here), ProjectFile.open(demo, read_only=True) as project:
            review = read_back(project, translated(FORM, spoken_here), path)
        assert [(row.place, row.sentence) for row in review.to_settle] == []
        assert not review.remarks


def test_an_unchanged_one_has_nothing_to_settle(written: tuple[str, Path], demo: Path) -> None:
    """In the language it was written in, and in English: the file says which it is in."""
    for code in (written[0], ENGLISH):
        with speaking(code), ProjectFile.open(demo, read_only=True) as project:
            review = read_back(project, translated(FORM, code), written[1])
        assert [(row.place, row.sentence) for row in review.to_settle] == []
        assert not review.remarks


@pytest.mark.recalculation
def test_one_saved_by_another_spreadsheet_program_comes_home(
    written: tuple[str, Path], demo: Path, tmp_path: Path
) -> None:
    saved = as_ods(written[1], tmp_path)
    for code in (written[0], ENGLISH):
        with speaking(code), ProjectFile.open(demo, read_only=True) as project:
            review = read_back(project, translated(FORM, code), saved)
        assert len(review.rows) > 500
        assert [(row.place, row.sentence) for row in review.to_settle] == []


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


@pytest.mark.recalculation
@pytest.mark.parametrize("code", OTHERS)
def test_a_rule_that_is_called_otherwise_is_found_in_its_table(code: str, tmp_path: Path) -> None:
    """The log-linear places of 6 points on a diameter, as ISO 3966 prints them."""
    project = tmp_path / "round.rtuproject"
    answers = {
        "traverse_made": "yes",
        "traverse_duct": "round",
        "traverse_rule": "log-linear",
        "traverse_diameter_in": "10",
        "traverse_lines": "2",
        "traverse_points": "6",
    }
    with Session.create(project, FORM, "Depot") as session:
        unit = session.add_unit("RTU-1")
        for name, text in answers.items():
            session.enter(unit.id, name, (), text)
    path = tmp_path / "round.xlsx"
    with speaking(code), ProjectFile.open(project, read_only=True) as opened:
        write_workbooks(opened, translated(FORM, code), path)
    sheets = Recalculated(path, tmp_path)
    assert sheets.named("u1_traverse_rule") == said_in(code, "log-linear")
    found = [sheets.named(f"u1_point_position_in_{number}") for number in range(1, 7)]
    places = [0.32, 1.35, 3.21, 6.79, 8.65, 9.68]
    assert found == pytest.approx(places, abs=0.005)
