"""Typed tables and the decision rule, edited in a returned workbook, come home."""

from __future__ import annotations

import shutil
import subprocess
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from openpyxl import load_workbook

from commission.definitions.load import load_form
from commission.definitions.model import Form
from commission.engineering.chart import from_text
from commission.validation.session import Session
from commission.workbook import write_workbook
from commission.workbook.read_back_accept import accept
from commission.workbook.read_back_rows import Review, ReviewRow, Standing
from workbook.at_work import read_back
from workbook.tables_form import CHART, FAN, HOLED, write_tables_form

NAME = "u1_fan_speed_table_body_typed"


@pytest.fixture(scope="module")
def form(tmp_path_factory: pytest.TempPathFactory) -> Form:
    return load_form(write_tables_form(tmp_path_factory.mktemp("tables_form")))


@pytest.fixture(params=["IP", "SI"])
def session(request: pytest.FixtureRequest, form: Form, tmp_path: Path) -> Iterator[Session]:
    with Session.create(tmp_path / "t.rtuproject", form, "Small job") as made:
        unit = made.add_unit("RTU-1")
        made.enter(unit.id, "fan_speed_table", (), FAN)
        made.enter(unit.id, "chart_table", (), CHART)
        made.enter(unit.id, "holed_table", (), HOLED)
        made.project.set_setting("unit_system", request.param)
        made.refresh()
        yield made


@pytest.fixture
def path(session: Session, tmp_path: Path) -> Path:
    return write_workbook(session.site(), tmp_path / "t.xlsx")


def sheet_of(book: Any, name: str = NAME) -> Any:
    return book[book.defined_names[name].attr_text.rsplit("!", 1)[0].strip("'")]


def edited(path: Path, edit: Callable[[Any], None]) -> Path:
    book = load_workbook(path)
    edit(book)
    target = path.with_name("edited.xlsx")
    book.save(target)
    return target


def the_table(review: Review, name: str = NAME) -> ReviewRow:
    return next(row for row in review.rows if row.name == name)


def kept(session: Session, name: str = "fan_speed_table") -> Any:
    unit = session.project.units()[0]
    content = session.results(unit.id).value(name).content
    return from_text(str(content)) if content else None


def test_tables_left_alone_are_unchanged(session: Session, form: Form, path: Path) -> None:
    review = read_back(session.project, form, path)
    assert not review.to_settle
    tables = [row for row in review.rows if row.name.endswith("_body_typed")]
    assert [row.standing for row in tables] == [Standing.UNCHANGED] * 4
    assert the_table(review).in_file == "3 rows × 3 columns"


def test_a_value_and_a_new_line_are_found_and_entered(
    session: Session, form: Form, path: Path
) -> None:
    def edit(book: Any) -> None:
        sheet = sheet_of(book)
        assert sheet["C8"].value == 800  # rpm, the same in SI
        sheet["C8"].value = 812
        airflow, step = sheet["A9"].value, sheet["A9"].value - sheet["A8"].value
        for place, value in {"A10": airflow + step, "C10": 1010, "D10": 1100}.items():
            sheet[place].value = value

    row = the_table(read_back(session.project, form, edited(path, edit)))
    assert row.standing is Standing.CHANGED
    assert "800 at export, 812 in the file" in row.sentence
    assert row.sentence.startswith("row ") and "added" in row.sentence
    assert (row.was, row.in_file) == ("3 rows × 3 columns", "4 rows × 3 columns")
    review = read_back(session.project, form, path.with_name("edited.xlsx"))
    taken = accept(session, review, review.changed)
    assert not taken.refused
    table = kept(session)
    assert table.rows == pytest.approx((1600, 2000, 2400, 2800))
    assert table.columns == pytest.approx((0.2, 0.4, 0.6))
    assert table.body[1] == (700, 812, 900)
    assert table.body[3] == (None, 1010, 1100)
    reading = session.results(session.project.units()[0].id).reading("fan_speed_table")
    assert reading is not None and reading.source == "workbook"
    again = read_back(session.project, form, path.with_name("edited.xlsx"))
    assert the_table(again).standing is Standing.TAKEN


def test_a_table_typed_into_an_empty_sheet_comes_in(
    session: Session, form: Form, path: Path
) -> None:
    name = "u1_empty_table_body_typed"

    def edit(book: Any) -> None:
        sheet = sheet_of(book, name)
        for at, (airflow, speed) in enumerate(((800, 500), (1000, "n"), (1200, 700))):
            sheet.cell(7 + at, 1).value = airflow
            sheet.cell(7 + at, 2).value = speed

    row = the_table(read_back(session.project, form, edited(path, edit)), name)
    assert row.standing is Standing.NOT_UNDERSTOOD
    assert "row 1000: 'n' is not a number" in row.sentence

    def mended(book: Any) -> None:
        edit(book)
        sheet_of(book, name)["B8"].value = "600,5"

    review = read_back(session.project, form, edited(path, mended))
    assert the_table(review, name).sentence.startswith("empty at export, 3 rows in the file")
    assert not accept(session, review, review.changed).refused
    table = kept(session, "empty_table")
    assert [line[0] for line in table.body] == [500, 600.5, 700]


def test_what_is_no_number_is_told_with_its_place(session: Session, form: Form, path: Path) -> None:
    cases: dict[str, tuple[Any, Standing, str]] = {
        "formula": ("=B7+1", Standing.FORMULA, "=B7+1"),
        "words": ("about 800", Standing.NOT_UNDERSTOOD, "'about 800' is not a number"),
    }
    for content, standing, words in cases.values():

        def edit(book: Any, content: Any = content) -> None:
            sheet_of(book)["B8"].value = content

        row = the_table(read_back(session.project, form, edited(path, edit)))
        assert (row.standing, words in row.sentence) == (standing, True)


def test_a_line_typed_below_the_block_is_read(session: Session, form: Form, path: Path) -> None:
    def edit(book: Any) -> None:
        sheet = sheet_of(book)
        body = book.defined_names[NAME].attr_text.rsplit("$", 1)
        last = int(body[1])
        step = sheet["A9"].value - sheet["A8"].value
        for row in range(10, last + 2):
            sheet.cell(row, 1).value = sheet.cell(row - 1, 1).value + step
            sheet.cell(row, 2).value = 900 + row

    row = the_table(read_back(session.project, form, edited(path, edit)))
    assert row.standing is Standing.CHANGED
    rows = int(row.in_file.split()[0])
    assert rows == len(range(7, 7 + rows)) > 12


def test_both_sides_changed_is_a_conflict(session: Session, form: Form, path: Path) -> None:
    unit = session.project.units()[0]
    session.project.set_setting("unit_system", "IP")
    session.refresh()
    session.enter(unit.id, "fan_speed_table", (), FAN.replace("2400\t800", "2400\t805"))

    def edit(book: Any) -> None:
        sheet_of(book)["C8"].value = 812

    row = the_table(read_back(session.project, form, edited(path, edit)))
    assert row.standing is Standing.CONFLICT
    assert "not what was exported" in row.sentence
    # A person decides for the file: its units may be others than the project's by now.
    review = read_back(session.project, form, path.with_name("edited.xlsx"))
    assert not accept(session, review, [the_table(review)]).refused
    table = kept(session)
    assert table.rows == pytest.approx((1600, 2000, 2400))
    assert (table.body[1][1], table.body[2][0]) == (812, 800)


def test_an_emptied_and_a_deleted_table(session: Session, form: Form, path: Path) -> None:
    def emptied(book: Any) -> None:
        sheet = sheet_of(book)
        for row in sheet["A7:D9"]:
            for cell in row:
                cell.value = None
        for cell in sheet["B6:D6"][0]:
            cell.value = None

    review = read_back(session.project, form, edited(path, emptied))
    assert the_table(review).sentence == "3 rows × 3 columns at export, empty in the file."
    assert not accept(session, review, review.changed).refused
    assert kept(session) is None

    def deleted(book: Any) -> None:
        book.defined_names[NAME].attr_text = "#REF!"

    row = the_table(read_back(session.project, form, edited(path, deleted)))
    assert row.standing is Standing.LOST
    assert "deleted" in row.sentence


@pytest.mark.recalculation
@pytest.mark.parametrize("kind", ["xlsx", "ods"])
def test_a_trip_through_another_program_changes_no_table(
    session: Session, form: Form, path: Path, tmp_path: Path, kind: str
) -> None:
    def edit(book: Any) -> None:
        sheet = sheet_of(book)
        sheet["C8"].value = 812
        was, sheet.title = sheet.title, "Fan data"
        for named in book.defined_names.values():  # as a spreadsheet does it by itself
            named.attr_text = named.attr_text.replace(f"'{was}'!", "'Fan data'!")

    done = through_office(edited(path, edit), tmp_path / kind, kind)
    review = read_back(session.project, form, done)
    assert [row.name for row in review.to_settle] == [NAME]
    assert "800 at export, 812 in the file" in the_table(review).sentence
    assert not review.remarks


def through_office(path: Path, folder: Path, kind: str) -> Path:
    office = shutil.which("soffice")
    assert office is not None
    profile = f"-env:UserInstallation=file://{folder}/profile"
    command = [office, profile, "--headless", "--convert-to", kind, "--outdir", str(folder)]
    subprocess.run([*command, str(path)], check=True, capture_output=True, timeout=300)
    return folder / f"{path.stem}.{kind}"


# -- how verdicts are taken ---------------------------------------------------------------


def setting(path: Path, name: str, value: Any) -> Path:
    def edit(book: Any) -> None:
        sheet, cell = book.defined_names[name].attr_text.rsplit("!", 1)
        book[sheet.strip("'")][cell.replace("$", "")].value = value

    return edited(path, edit)


def test_rule_and_factor_come_home(session: Session, form: Form, path: Path) -> None:
    project = session.project
    for name, value, now in (
        ("decision_rule", "Guarded acceptance", "guarded acceptance"),
        ("coverage_factor", "2,5", 2.5),
    ):
        review = read_back(project, form, setting(path, name, value))
        assert [row.name for row in review.changed] == [name]
        assert not accept(session, review, review.changed).refused
        assert project.setting(name) == now
        again = read_back(project, form, path.with_name("edited.xlsx"))
        assert the_table(again, name).standing is Standing.TAKEN
    decision = session.results(project.units()[0].id).calculation.decision
    assert (str(decision.rule), decision.coverage_factor) == ("guarded acceptance", 2.5)


@pytest.mark.parametrize(
    ("name", "value", "words"),
    [
        ("decision_rule", "lenient", "is none of simple acceptance"),
        ("decision_rule", None, "is none of simple acceptance"),
        ("coverage_factor", 9, "a number from 1 to 4"),
        ("coverage_factor", "about 2", "is not a number"),
        ("coverage_factor", None, "is not a number"),
        ("coverage_factor", "=1+1", "holds the formula =1+1"),
    ],
)
def test_a_setting_that_cannot_be_is_told(
    session: Session, form: Form, path: Path, name: str, value: Any, words: str
) -> None:
    row = the_table(read_back(session.project, form, setting(path, name, value)), name)
    assert row.to_settle and not row.acceptable
    assert words in row.sentence


def test_a_setting_changed_on_both_sides_is_a_conflict(
    session: Session, form: Form, path: Path
) -> None:
    session.project.set_setting("coverage_factor", 3.0)
    review = read_back(session.project, form, setting(path, "coverage_factor", 2.5))
    row = the_table(review, "coverage_factor")
    assert row.standing is Standing.CONFLICT
    session.project.set_setting("coverage_factor", 3.5)
    (refused,) = accept(session, review, [row]).refused
    assert "changed since" in refused[1]
