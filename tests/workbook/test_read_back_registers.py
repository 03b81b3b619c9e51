"""Deficiencies, instruments, people, notes and edited formulas come home too."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from openpyxl import load_workbook

from commission.definitions.model import Form
from commission.project import ProjectFile
from commission.validation.session import Session
from commission.validation.site import SiteResults
from commission.workbook import write_workbook
from commission.workbook.read_back_accept import accept
from commission.workbook.read_back_formulas import (
    canonical,
    from_open_document,
    is_alike,
    with_names,
)
from commission.workbook.read_back_rows import Review, ReviewRow, Standing
from workbook.at_work import read_back

FIRST = 5


@pytest.fixture
def path(tmp_path: Path, project: ProjectFile, site: Callable[[], SiteResults]) -> Path:
    unit = project.units()[0].id
    project.add_person("A. Sample", company="Example Mechanical")
    project.add_deficiency(unit, "Belt is loose.", owner="Mechanical")
    project.add_deficiency("", "Roof hatch has no chain.", due="2026-10-01")
    return write_workbook(site(), tmp_path / "site.xlsx")


def edited(path: Path, edit: Callable[[Any], None]) -> Path:
    book = load_workbook(path)
    edit(book)
    target = path.with_name("edited.xlsx")
    book.save(target)
    return target


def line(sheet: Any, row: int, values: dict[str, Any]) -> None:
    heads = {cell.value: cell.column for cell in sheet[FIRST - 1]}
    for head, value in values.items():
        sheet.cell(row, heads[head]).value = value


def settled(review: Review) -> dict[tuple[str, str], ReviewRow]:
    return {(row.label, row.attribute): row for row in review.to_settle}


def test_what_was_changed_and_added_is_found_and_entered(
    path: Path, project: ProjectFile, form: Form
) -> None:
    def edit(book: Any) -> None:
        log = book["Deficiencies"]
        line(log, FIRST, {"Status": "corrected", "Correction": "=tightened"})
        log.cell(FIRST, 8).data_type = "s"
        line(log, FIRST + 3, {"Unit": "rtu-1", "What is wrong": "No label.", "Status": "open"})
        line(book["People"], FIRST + 1, {"Name": "B. Sample", "Role": "Witness"})
        line(book["Instruments"], FIRST, {"Serial": 1234, "% of reading": 0.75})

    review = read_back(project, form, edited(path, edit))
    assert {row.standing for row in review.to_settle} == {Standing.CHANGED}
    assert len(review.to_settle) == 6
    with_person = Session(project, form)
    done = accept(with_person, review, review.changed)
    assert not done.refused
    first, _, added = project.deficiencies()
    assert (first.status, first.correction, first.owner) == (
        "corrected",
        "=tightened",
        "Mechanical",
    )
    assert (added.unit_id, added.description) == (project.units()[0].id, "No label.")
    assert project.people()[-1].role == "Witness"
    instrument = project.instruments()[0]
    assert (instrument.serial, instrument.percent_of_reading) == ("1234", 0.75)
    assert not read_back(project, form, path.with_name("edited.xlsx")).to_settle


def test_whatever_was_accepted_is_undone_and_put_again(
    path: Path, project: ProjectFile, form: Form
) -> None:
    def edit(book: Any) -> None:
        log = book["Deficiencies"]
        line(log, FIRST, {"Status": "corrected"})
        line(log, FIRST + 3, {"Unit": "RTU-1", "What is wrong": "No label.", "Status": "open"})
        line(book["People"], FIRST + 1, {"Name": "B. Sample", "Role": "Witness"})
        line(book["Instruments"], FIRST, {"% of reading": 0.75})
        sheet, place = book.defined_names["u1_suction_psig_1"].attr_text.rsplit("!", 1)
        cell = book[sheet.strip("'")][place.replace("$", "")]
        cell.value = 123.0
        heads = {head.value: head.column for head in cell.parent[3] if head.value}
        cell.parent.cell(cell.row, heads["How it is known, as exported"]).value = "gauge was cold"
        sheet, place = book.defined_names["coverage_factor"].attr_text.rsplit("!", 1)
        book[sheet.strip("'")][place.replace("$", "")].value = 3

    def stands() -> tuple[object, ...]:
        reading = session.results(unit).reading("suction_psig", (1,))
        assert reading is not None
        budget = session.results(unit).expanded("superheat_f", (1,))
        return (
            [(one.status, one.description) for one in project.deficiencies()],
            [(one.name, one.role) for one in project.people()],
            [one.percent_of_reading for one in project.instruments()],
            (reading.value, reading.note, project.setting("coverage_factor"), budget),
        )

    session, unit = Session(project, form), project.units()[0].id
    before = stands()
    review = read_back(project, form, edited(path, edit))
    assert not accept(session, review, review.changed).refused
    after = stands()
    assert all(one != other for one, other in zip(before, after, strict=True))
    steps = 0
    while session.undo():
        steps += 1
    assert steps >= len(review.changed)
    assert stands() == before
    while session.redo():
        pass
    assert stands() == after


def test_faults_are_told_and_nothing_of_them_entered(
    path: Path, project: ProjectFile, form: Form
) -> None:
    def edit(book: Any) -> None:
        log = book["Deficiencies"]
        line(log, FIRST, {"Status": "nearly", "What is wrong": None})
        line(log, FIRST + 1, {"No.": 1})
        line(log, FIRST + 3, {"Unit": "RTU-99", "What is wrong": "Lost."})
        line(book["Instruments"], FIRST, {"% of reading": -1, "Make": "=1+1"})

    review = read_back(project, form, edited(path, edit))
    assert not [row for row in review.to_settle if row.acceptable]
    said = " ".join(row.sentence for row in review.to_settle)
    for words in ("more than one line", "its line is gone", "tag of no unit", "no accuracy",
                  "holds the formula =1+1"):  # fmt: skip
        assert words in said


def test_sorted_lines_and_moved_columns_change_nothing(
    path: Path, project: ProjectFile, form: Form
) -> None:
    def edit(book: Any) -> None:
        log = book["Deficiencies"]
        for column in range(1, log.max_column + 1):
            one, two = log.cell(FIRST, column), log.cell(FIRST + 1, column)
            one.value, two.value = two.value, one.value
        for row in range(FIRST - 1, FIRST + 2):
            one, two = log.cell(row, 4), log.cell(row, 8)
            one.value, two.value = two.value, one.value

    assert not read_back(project, form, edited(path, edit)).to_settle


def test_the_project_has_gone_on_is_a_conflict(
    path: Path, project: ProjectFile, form: Form
) -> None:
    def edit(book: Any) -> None:
        line(book["Deficiencies"], FIRST, {"Owner": "Electrical"})

    file = edited(path, edit)
    project.update_deficiency(project.deficiencies()[0].id, owner="Controls")
    (row,) = read_back(project, form, file).to_settle
    assert (row.standing, row.was, row.in_file, row.now) == (
        Standing.CONFLICT, "Mechanical", "Electrical", "Controls",
    )  # fmt: skip


def test_a_note_beside_a_reading_is_kept_with_it(
    path: Path, project: ProjectFile, form: Form
) -> None:
    def edit(book: Any) -> None:
        sheet = book["RTU-1 Cooling"]
        _, cell = book.defined_names["u1_suction_psig_1"].attr_text.rsplit("!", 1)
        row = int(cell.rsplit("$", 1)[1])
        head = next(c.column for c in sheet[3] if c.value == "How it is known, as exported")
        sheet.cell(row, head).value = f"{sheet.cell(row, head).value}\ngauge was cold"

    file = edited(path, edit)
    review = read_back(project, form, file)
    (row,) = review.to_settle
    assert (row.what, row.entry) == ("note", "gauge was cold")
    unit = project.units()[0].id
    before = project.readings(unit)["suction_psig", (1,)]
    accept(Session(project, form), review, [row])
    after = project.readings(unit)["suction_psig", (1,)]
    assert (after.note, after.value, after.source) == ("gauge was cold", before.value, "workbook")
    assert not read_back(project, form, file).to_settle


def test_a_reason_beside_a_row_of_a_grid_is_that_of_what_was_typed(
    project: ProjectFile, site: Callable[[], SiteResults], form: Form, tmp_path: Path
) -> None:
    unit = project.units()[0].id
    project.record(unit, "point_velocity_fpm", (1, 1), None, not_applicable="bolt in the way")
    path = write_workbook(site(), tmp_path / "grid.xlsx")

    def edit(book: Any) -> None:
        sheet, cell = book.defined_names["u1_point_velocity_fpm_1_2"].attr_text.rsplit("!", 1)
        typed = book[sheet.strip("'")][cell.replace("$", "")]
        typed.value = "n/a"
        head = next(c.column for c in typed.parent[3] if c.value == "How it is known, as exported")
        typed.parent.cell(typed.row, head).value = "no ladder"

    review = read_back(project, form, edited(path, edit))
    rows = {row.name: row for row in review.to_settle}
    assert set(rows) == {"u1_point_velocity_fpm_1_2"}
    assert rows["u1_point_velocity_fpm_1_2"].entry == "n/a no ladder"


@pytest.mark.parametrize(
    ("sent", "returned", "same"),
    [
        # As a program with 18 decimals wrote what we sent with 15 digits: a half, either way.
        ("A*-6.07917050032825E-11", "A*-0.000000000060791705", True),
        ("A*1.22593935003579E-10", "A*0.000000000122593935", True),
        ("A>1E-8*2.00000000001916", "A>0.00000001*2.00000000001916", True),
        ("A*-6.07917050032825E-11", "A*-0.000000000060792705", False),
        ("A*0.333333333333333", "A*0.333333333433333", False),
        ("A*1.5", "A*B", False),
    ],
)
def test_numbers_are_alike_as_far_as_their_digits_go(sent: str, returned: str, same: bool) -> None:
    def no_name(_sheet: str, _cell: str) -> str:
        return ""

    assert is_alike(canonical(sent, no_name), canonical(returned, no_name)) is same


def test_a_formula_typed_over_and_one_edited_are_both_told(
    path: Path, project: ProjectFile, form: Form
) -> None:
    def edit(book: Any) -> None:
        for name, change in (
            ("u1_superheat_f_1", lambda _text: 12),
            ("u1_superheat_f_2", lambda text: text.replace("-", "+", 1)),
            ("u1_mean_velocity_fpm", lambda text: text.replace("AVERAGE", "MAX")),
        ):
            sheet, cell = book.defined_names[name].attr_text.rsplit("!", 1)
            place = book[sheet.strip("'")][cell.replace("$", "")]
            place.value = change(place.value)

    review = read_back(project, form, edited(path, edit))
    found = {row.name: row for row in review.to_settle}
    assert set(found) == {"u1_superheat_f_1", "u1_superheat_f_2", "u1_mean_velocity_fpm"}
    assert {row.standing for row in found.values()} == {Standing.OVERWRITTEN}
    assert "typed over by 12" in found["u1_superheat_f_1"].sentence
    assert "edited to =" in found["u1_superheat_f_2"].sentence


def test_formulas_are_alike_however_a_program_writes_them() -> None:
    def no_name(_sheet: str, _cell: str) -> str:
        return ""

    def name(sheet: str, cell: str) -> str:
        return {("It's", "B9"): "u1_a_1", ("It's", "B11"): "u1_a_3"}.get((sheet, cell), "")

    sent = with_names(
        "IF(FALSE,\"it's; A1\",SUM('Old'!$B$5:$B$7)*0.216249070766171)",
        "Old",
        {("Old", "B5"): "u1_a_1", ("Old", "B7"): "u1_a_3"},
    )
    assert "[u1_a_1:u1_a_3]" in sent
    office = from_open_document(
        "of:=IF(FALSE();\"it's; A1\"; sum([$'It''s'.$B$9:.$B$11])*0.2162490707661710)"
    )
    assert office == "IF(FALSE(),\"it's; A1\", sum('It''s'!$B$9:$B$11)*0.2162490707661710)"
    assert canonical(sent, no_name) == canonical(office, name)
    for other in (office.replace("B$11", "B$10"), office.replace("it's; A1", "it's; A2"),
                  office.replace("0.216", "0.217"), office.replace("sum", "max")):  # fmt: skip
        assert canonical(sent, no_name) != canonical(other, name)
