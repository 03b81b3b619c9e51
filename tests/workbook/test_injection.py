"""Texts that a spreadsheet could take for a formula stay texts, on the way in and out."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable
from pathlib import Path

import pytest
from hypothesis import example, given
from hypothesis import strategies as st
from openpyxl import load_workbook

from commission.archive.files import csv_cell, plain_text, write_csv
from commission.definitions.load import load_form
from commission.definitions.model import Form
from commission.errors import ReadingError
from commission.project import ProjectFile
from commission.validation.session import Session
from commission.validation.site import SiteResults
from commission.workbook import write_workbook
from commission.workbook.read_back_rows import Standing
from commission.workbook.schedule_table import read_schedule
from commission.workbook.schedule_units import understand_schedule
from workbook.at_work import read_back

Site = Callable[[], SiteResults]
# A formula, a link, a command of another program, each sign a formula can begin with.
HOSTILE = (
    "=1+1", "+1+1", "-1+1", "@SUM(1,1)", '=HYPERLINK("http://example.org","x")',
    "=cmd|' /C calc'!A0", "\t=1+1", "\r=1+1", "'=1+1", "=1+1\nsecond line", "%0A=1+1",
)  # fmt: skip
CONTROLS = ("bell\x07", "nul\x00x", "esc\x1b[31m", "end\x7f", "back\x08")


@pytest.mark.parametrize("text", HOSTILE)
def test_a_csv_cell_is_no_formula_and_its_text_comes_back(text: str, tmp_path: Path) -> None:
    path = tmp_path / "x.csv"
    write_csv(path, "test", [[text, -1.5, None, "plain"]])
    with path.open(encoding="utf-8-sig", newline="") as stream:
        (row,) = csv.reader(stream)
    assert not row[0].startswith(("=", "+", "-", "@", "\t", "\r"))
    assert plain_text(row[0]) == text
    assert row[1:] == ["-1.5", "", "plain"]  # a number below zero is one still


@given(st.text(st.sampled_from("=+-@'\";|,\t\r\n ab1"), max_size=12))
@example('x;=cmd|" /C calc"!A0')
@example('x;"=1+1"')
def test_nor_where_cells_are_parted_at_another_sign(text: str) -> None:
    cell = csv_cell(text)
    assert plain_text(cell) == text
    line = io.StringIO()
    csv.writer(line).writerow(["RTU-1", cell, "plain"])
    for sign in ",;\t|":
        for row in csv.reader(io.StringIO(line.getvalue(), newline=""), delimiter=sign):
            assert not [part for part in row if part.startswith(("=", "+", "-", "@"))]


@pytest.mark.parametrize("text", [*HOSTILE, "bad\ufffe"])
def test_a_text_goes_out_and_comes_home_as_it_was(
    text: str, project: ProjectFile, site: Site, form: Form, tmp_path: Path
) -> None:
    unit = project.units()[0]
    project.record(unit.id, "remark", (), text, note=text)
    project.record(unit.id, "suction_psig", (1,), None, not_applicable=text)
    written = write_workbook(site(), tmp_path / "x.xlsx")
    book = load_workbook(written)
    sheet, place = book.defined_names["u1_remark"].attr_text.rsplit("!", 1)
    cell = book[sheet.strip("'")][place.replace("$", "")]
    assert cell.data_type == "s"
    review = read_back(project, form, written)
    assert not review.to_settle, [(row.name, row.sentence) for row in review.to_settle]


@pytest.mark.parametrize("text", CONTROLS)
def test_a_control_character_never_gets_into_a_project(text: str, project: ProjectFile) -> None:
    with pytest.raises(ReadingError, match="cannot be printed or stored"):
        project.record(project.units()[0].id, "remark", (), text)


def test_a_formula_typed_for_a_text_is_never_taken(
    project: ProjectFile, site: Site, form: Form, tmp_path: Path
) -> None:
    book = load_workbook(write_workbook(site(), tmp_path / "x.xlsx"))
    sheet, place = book.defined_names["u1_remark"].attr_text.rsplit("!", 1)
    book[sheet.strip("'")][place.replace("$", "")].value = '=HYPERLINK("http://example.org")'
    book.save(tmp_path / "y.xlsx")
    (row,) = read_back(project, form, tmp_path / "y.xlsx").to_settle
    assert (row.standing, row.acceptable) == (Standing.FORMULA, False)


@pytest.mark.parametrize("text", ["=1+1", "@SUM(1)", "+5", "-5"])
def test_a_schedule_brings_texts_in_and_they_leave_as_texts(text: str, tmp_path: Path) -> None:
    shipped = load_form()
    path = tmp_path / "schedule.csv"
    with path.open("w", encoding="utf-8", newline="") as stream:
        csv.writer(stream).writerows([["Mark", "CFM", "MCA (A)"], [text, "4000", "41.2"],
                                      ["RTU-2", "3500", "39"]])  # fmt: skip
    with Session.create(tmp_path / "s.rtuproject", shipped, "Job") as session:
        schedule = understand_schedule(read_schedule(path, shipped), shipped)
        tags = [unit.tag for unit in schedule.units]
        assert text in tags
        session.add_unit(text)
        book = load_workbook(write_workbook(session.site(), tmp_path / "s.xlsx"))
    cells = [c for sheet in book for row in sheet.iter_rows() for c in row if c.value == text]
    assert cells
    assert {cell.data_type for cell in cells} == {"s"}
