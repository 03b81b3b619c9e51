"""A workbook edited by hand comes home: what changed is found, and entered when accepted."""

from __future__ import annotations

import shutil
import subprocess
from argparse import Namespace
from collections.abc import Callable
from datetime import datetime
from pathlib import Path
from typing import Any

import pytest
from openpyxl import load_workbook

from builders import write_form
from commission.commands.reading_back import readback
from commission.definitions.load import load_form
from commission.definitions.model import Form
from commission.errors import IncomingFileError
from commission.project import ProjectFile
from commission.validation.session import Session
from commission.validation.site import SiteResults, site_results
from commission.workbook import write_workbook
from commission.workbook.read_back_accept import accept
from commission.workbook.read_back_rows import Review, ReviewRow, Standing
from recalculation import recalculate
from workbook.at_work import read_back
from workbook.sample_site import new_project

Edit = Callable[[Any], None]


@pytest.fixture
def path(tmp_path: Path, site: Callable[[], SiteResults]) -> Path:
    return write_workbook(site(), tmp_path / "site.xlsx")


def place(book: Any, name: str) -> Any:
    sheet, cell = book.defined_names[name].attr_text.rsplit("!", 1)
    return book[sheet.strip("'")][cell.replace("$", "")]


def edited(path: Path, values: dict[str, Any], further: Edit | None = None) -> Path:
    """Save the workbook with other contents in named cells, as a hand would leave it."""
    book = load_workbook(path)
    for name, value in values.items():
        place(book, name).value = value
    if further is not None:
        further(book)
    target = path.with_name("edited.xlsx")
    book.save(target)
    return target


def beside(book: Any, name: str, head: str, text: str) -> None:
    cell = place(book, name)
    heads = {item.value: item.column for item in cell.parent[3]}
    cell.parent.cell(cell.row, heads[head]).value = text


def by_name(review: Review) -> dict[str, ReviewRow]:
    return {row.name: row for row in review.to_settle}


def opened(project: ProjectFile, form: Form) -> Session:
    return Session(project, form)


def test_nothing_changed_is_nothing_to_settle(path: Path, project: ProjectFile, form: Form) -> None:
    review = read_back(project, form, path)
    assert not review.to_settle
    assert not review.remarks
    assert {row.standing for row in review.rows} == {Standing.UNCHANGED}
    readings = [row for row in review.rows if row.what == "reading"]
    asked = [
        results.members(field.name)
        for results in site_results(project, form).everything()
        for section in results.sections()
        for field in section.fields
    ]
    assert len(readings) == sum(map(len, asked)) > 30


def test_saving_by_another_writer_changes_nothing(
    path: Path, project: ProjectFile, form: Form
) -> None:
    assert not read_back(project, form, edited(path, {})).to_settle


def test_each_kind_of_edit(path: Path, project: ProjectFile, form: Form) -> None:
    def reason(book: Any) -> None:
        beside(book, "u1_suction_line_f_2", "How it is known, as exported", "no port fitted")

    file = edited(
        path,
        {
            "u1_suction_psig_1": 121.25,
            "u1_suction_psig_2": "119,5",
            "u1_suction_line_f_1": "11.5 °C",
            "u1_suction_line_f_2": "n/a",
            "u1_refrigerant": "r-32",
            "u1_leg_amps_a_1": "about forty",
            "u1_leg_amps_a_2": 900,
            "u1_leg_amps_a_3": "=20+1",
            "u1_point_velocity_fpm_2_1": "n/a",
            "u1_point_velocity_fpm_1_2": None,
            "u1_remark": "Belt changed.",
            "u1_read_on": datetime(2026, 9, 16),
            "p_elevation_ft": 5300,
        },
        reason,
    )
    rows = by_name(read_back(project, form, file))
    standings = {name: row.standing for name, row in rows.items()}
    assert standings == {
        "u1_suction_psig_1": Standing.CHANGED,
        "u1_suction_psig_2": Standing.CHANGED,
        "u1_suction_line_f_1": Standing.CHANGED,
        "u1_suction_line_f_2": Standing.CHANGED,
        "u1_refrigerant": Standing.CHANGED,
        "u1_leg_amps_a_1": Standing.NOT_UNDERSTOOD,
        "u1_leg_amps_a_2": Standing.NOT_UNDERSTOOD,
        "u1_leg_amps_a_3": Standing.FORMULA,
        "u1_point_velocity_fpm_2_1": Standing.NOT_UNDERSTOOD,
        "u1_point_velocity_fpm_1_2": Standing.CHANGED,
        "u1_remark": Standing.CHANGED,
        "u1_read_on": Standing.CHANGED,
        "p_elevation_ft": Standing.CHANGED,
    }
    assert "'about forty'" in rows["u1_leg_amps_a_1"].sentence
    assert "between 0 and 500" in rows["u1_leg_amps_a_2"].sentence
    assert "=20+1" in rows["u1_leg_amps_a_3"].sentence
    assert "reason" in rows["u1_point_velocity_fpm_2_1"].sentence
    assert rows["u1_suction_psig_1"].label == "Suction pressure · Circuit 1"
    assert (rows["u1_suction_psig_1"].was, rows["u1_suction_psig_1"].tag) == ("118.5 psig", "RTU-1")


def test_accepted_rows_are_in_the_project_with_their_source(
    path: Path, project: ProjectFile, form: Form
) -> None:
    def reason(book: Any) -> None:
        beside(book, "u1_suction_line_f_2", "How it is known, as exported", "no port fitted")

    unit = project.units()[0].id
    instrument = project.readings(unit)["suction_psig", (1,)].instrument_id
    file = edited(
        path,
        {
            "u1_suction_psig_1": 121.25,
            "u1_suction_psig_2": "119,5",
            "u1_suction_line_f_2": "n/a",
            "u1_read_on": datetime(2026, 9, 16),
            "u1_point_velocity_fpm_1_2": None,
        },
        reason,
    )
    session = opened(project, form)
    session.person_id = project.add_person("A. Reader").id
    review = read_back(project, form, file)
    done = accept(session, review, review.changed)
    assert (len(done.entered), done.refused) == (5, ())
    now = project.readings(unit)
    assert now["suction_psig", (1,)].value == 121.25
    assert now["suction_psig", (2,)].value == 119.5
    assert now["suction_psig", (2,)].entered == "119,5"
    assert now["suction_line_f", (2,)].not_applicable == "no port fitted"
    assert now["read_on", ()].value == "2026-09-16"
    assert now["point_velocity_fpm", (1, 2)].is_unread
    entered = now["suction_psig", (1,)]
    assert (entered.source, entered.person_id) == ("workbook", session.person_id)
    assert entered.instrument_id == instrument != ""
    assert (session.source, session.pass_name) == ("window", "as found")
    again = read_back(project, form, file)
    assert not again.to_settle
    assert sum(row.standing is Standing.TAKEN for row in again.rows) >= 4


def test_a_later_pass_is_not_hidden_behind_an_earlier(
    path: Path, project: ProjectFile, form: Form, site: Callable[[], SiteResults]
) -> None:
    unit = project.units()[0].id
    project.record(unit, "suction_psig", (1,), 117.0, pass_name="as left")
    file = edited(write_workbook(site(), path), {"u1_suction_psig_1": 116})
    review = read_back(project, form, file)
    accept(opened(project, form), review, review.changed)
    reading = project.readings(unit)["suction_psig", (1,)]
    assert (reading.value, reading.pass_name) == (116.0, "as left")


def test_changed_on_both_sides_is_a_conflict(path: Path, project: ProjectFile, form: Form) -> None:
    unit = project.units()[0].id
    file = edited(path, {"u1_suction_psig_1": 121, "u1_suction_psig_2": 125})
    project.record(unit, "suction_psig", (1,), 130.0)
    project.record(unit, "suction_psig", (2,), 125.0)
    project.record(unit, "suction_line_f", (1,), 55.0)
    review = read_back(project, form, file)
    (row,) = review.to_settle
    assert (row.standing, row.name) == (Standing.CONFLICT, "u1_suction_psig_1")
    assert (row.was, row.in_file, row.now) == ("118.5 psig", "121 psig", "130 psig")
    assert "revision" in review.remarks[0]
    assert review.changed == ()
    assert accept(opened(project, form), review, [row]).entered == (row,)
    assert project.readings(unit)["suction_psig", (1,)].value == 121.0


def test_what_the_project_got_meanwhile_is_not_entered_over(
    path: Path, project: ProjectFile, form: Form
) -> None:
    unit = project.units()[0].id
    review = read_back(project, form, edited(path, {"u1_suction_psig_1": 121}))
    project.record(unit, "suction_psig", (1,), 130.0)
    done = accept(opened(project, form), review, review.changed)
    assert done.entered == ()
    assert "changed since" in done.refused[0][1]
    assert project.readings(unit)["suction_psig", (1,)].value == 130.0


def test_results_typed_over_are_named_and_never_entered(
    path: Path, project: ProjectFile, form: Form
) -> None:
    file = edited(path, {"u1_superheat_f_1": 12, "u1_superheat_safe_2": "pass"})
    review = read_back(project, form, file)
    rows = by_name(review)
    assert {row.standing for row in rows.values()} == {Standing.OVERWRITTEN}
    assert set(rows) == {"u1_superheat_f_1", "u1_superheat_safe_2"}
    revision = project.revision
    done = accept(opened(project, form), review, review.rows)
    assert not done.entered
    assert project.revision == revision


def test_rows_inserted_sheets_renamed_and_notes(
    path: Path, project: ProjectFile, form: Form
) -> None:
    def rearrange(book: Any) -> None:
        beside(book, "u1_suction_psig_1", "How it is known, as exported", "gauge was cold")
        book["RTU-1 Cooling"].title = "It's ours"
        for name, defined in book.defined_names.items():
            text = defined.attr_text.replace("'RTU-1 Cooling'!", "'It''s ours'!")
            defined.attr_text = text
            if name == "u1_suction_psig_2":
                defined.attr_text = "'It''s ours'!$B$80"
        sheet = book["It's ours"]
        sheet["A80"], sheet["B80"] = "Suction pressure", 99
        for cell in (cell for tab in book.worksheets for row in tab for cell in row):
            if cell.data_type == "f":  # as every spreadsheet program does
                cell.value = cell.value.replace("'RTU-1 Cooling'!", "'It''s ours'!")

    review = read_back(project, form, edited(path, {}, rearrange))
    note, moved = review.to_settle
    assert (moved.name, moved.in_file, moved.place) == (
        "u1_suction_psig_2", "99 psig", "It's ours!B80",
    )  # fmt: skip
    assert (note.name, note.what, note.entry) == ("u1_suction_psig_1", "note", "gauge was cold")


def test_sorted_rows_are_followed_or_refused(path: Path, project: ProjectFile, form: Form) -> None:
    def swap(book: Any, *names: str) -> None:
        """Exchange two rows as sorting does: the contents move, the names stay."""
        first, second = (place(book, name) for name in names)
        sheet = first.parent
        for column in range(1, sheet.max_column + 1):
            one, two = sheet.cell(first.row, column), sheet.cell(second.row, column)
            one.value, two.value = two.value, one.value

    def on_setup(book: Any) -> None:
        place(book, "u1_heat").value = "gas"
        swap(book, "u1_heat", "u1_refrigerant")

    review = read_back(project, form, edited(path, {}, on_setup))
    assert {(row.name, row.in_file) for row in review.to_settle} == {("u1_heat", "gas")}

    def on_cooling(book: Any) -> None:
        swap(book, "u1_suction_psig_1", "u1_suction_line_f_2")

    rows = by_name(read_back(project, form, edited(path, {}, on_cooling)))
    assert {rows[name].standing for name in ("u1_suction_psig_1", "u1_suction_psig_2")} == {
        Standing.LOST
    }
    assert not any(row.acceptable for row in rows.values())


def test_names_lost_and_names_unknown(path: Path, project: ProjectFile, form: Form) -> None:
    def spoil(book: Any) -> None:
        from openpyxl.workbook.defined_name import DefinedName

        del book.defined_names["u1_suction_psig_1"]
        book.defined_names["u1_suction_psig_2"].attr_text = "'RTU-1 Cooling'!#REF!"
        book.defined_names["u1_made_up_3"] = DefinedName("u1_made_up_3", attr_text="Summary!$A$1")

    rows = by_name(read_back(project, form, edited(path, {}, spoil)))
    assert {name: row.standing for name, row in rows.items()} == {
        "u1_suction_psig_1": Standing.LOST,
        "u1_suction_psig_2": Standing.LOST,
        "u1_made_up_3": Standing.UNKNOWN,
    }


def test_what_is_no_longer_asked_is_told_only_if_typed_in(
    path: Path, project: ProjectFile, form: Form
) -> None:
    file = edited(path, {"u1_suction_psig_2": 111})
    project.record(project.units()[0].id, "circuits", (), 1.0)
    (row,) = read_back(project, form, file).to_settle
    assert (row.name, row.standing) == ("u1_suction_psig_2", Standing.UNKNOWN)


WHEN_READ = """
[section]
name = "belt"
title = "Belt"
[[field]]
name = "belt_fitted"
label = "Belt fitted"
kind = "yes_no"
[[field]]
name = "belt_tension_lb"
label = "Belt tension"
unit = "lb"
when = "belt_fitted == 'yes'"
"""


def test_what_is_not_asked_so_far_is_entered_once(tmp_path: Path) -> None:
    (tmp_path / "form").mkdir()
    form = load_form(write_form(tmp_path / "form", {"belt.toml": WHEN_READ}, ""))
    with new_project(tmp_path / "belt.rtuproject", form) as project:
        unit = project.add_unit("RTU-1").id
        project.record(unit, "belt_fitted", (), "no")
        path = write_workbook(site_results(project, form), tmp_path / "belt.xlsx")
        file = edited(path, {"u1_belt_tension_lb_shown": 12})
        review = read_back(project, form, file)
        (row,) = review.to_settle
        assert (row.was, row.in_file) == ("", "12 lb")
        assert "not asked with the answers so far" in row.sentence
        accept(opened(project, form), review, [row])
        assert project.readings(unit)["belt_tension_lb", ()].value == 12.0
        assert not read_back(project, form, file).to_settle


# -- limits ------------------------------------------------------------------------------


def test_a_limit_needs_its_origin_and_is_entered_with_it(
    path: Path, project: ProjectFile, form: Form
) -> None:
    values = {"u1_superheat_in_range_1_low": 8, "u1_superheat_in_range_1_high": "14,5"}
    bare = by_name(read_back(project, form, edited(path, values)))
    assert {row.standing for row in bare.values()} == {Standing.NOT_UNDERSTOOD}
    assert "where the limit comes from" in bare["u1_superheat_in_range_1_low"].sentence

    def origin(book: Any) -> None:
        name = "u1_superheat_in_range_1_low"
        beside(book, name, "Where the limit comes from", "Unit literature, page 12")

    file = edited(path, values, origin)
    review = read_back(project, form, file)
    done = accept(opened(project, form), review, review.changed)
    assert (len(done.entered), done.refused) == (3, ())
    limit = project.limits(project.units()[0].id)["superheat_in_range", (1,)]
    assert dict(limit.parts) == {"low": 8.0, "high": 14.5}
    assert limit.origin == "Unit literature, page 12"
    assert not read_back(project, form, file).to_settle


def test_a_default_typed_over_deleted_or_left(
    path: Path, project: ProjectFile, form: Form, site: Callable[[], SiteResults]
) -> None:
    unit = project.units()[0].id
    project.set_limit(unit, "superheat_safe", (2,), {"low": 4.0}, origin="Letter of 3 May")
    write_workbook(site(), path)
    file = edited(path, {"u1_amps_balanced_high": None, "u1_superheat_safe_2_low": 5})
    review = read_back(project, form, file)
    assert {name: row.standing for name, row in by_name(review).items()} == {
        "u1_amps_balanced_high": Standing.OVERWRITTEN,
        "u1_superheat_safe_2_low": Standing.CHANGED,
    }
    accept(opened(project, form), review, review.changed)
    limit = project.limits(unit)["superheat_safe", (2,)]
    assert (dict(limit.parts), limit.origin) == ({"low": 5.0}, "Letter of 3 May")


def test_a_limit_taken_away(
    path: Path, project: ProjectFile, form: Form, site: Callable[[], SiteResults]
) -> None:
    unit = project.units()[0].id
    project.set_limit(unit, "superheat_safe", (2,), {"low": 4.0}, origin="Letter of 3 May")
    write_workbook(site(), path)
    review = read_back(project, form, edited(path, {"u1_superheat_safe_2_low": None}))
    (row,) = review.to_settle
    assert (row.standing, row.in_file) == (Standing.CHANGED, "taken away")
    accept(opened(project, form), review, [row])
    assert ("superheat_safe", (2,)) not in project.limits(unit)


# -- units of another system, other files ---------------------------------------------------


def test_metric_cells(
    path: Path, project: ProjectFile, form: Form, site: Callable[[], SiteResults]
) -> None:
    unit = project.units()[0].id
    project.set_setting("unit_system", "SI")
    write_workbook(site(), path)
    assert not read_back(project, form, path).to_settle
    file = edited(path, {"u1_suction_line_f_1_shown": 10, "u1_suction_psig_1": 7})
    review = read_back(project, form, file)
    rows = by_name(review)
    assert rows["u1_suction_line_f_1_shown"].in_file == "10 °C"
    assert rows["u1_suction_psig_1"].standing is Standing.OVERWRITTEN
    project.set_setting("unit_system", "IP")
    review = read_back(project, form, file)
    accept(opened(project, form), review, review.changed)
    assert project.readings(unit)["suction_line_f", (1,)].value == pytest.approx(50.0, rel=1e-12)


def test_foreign_workbooks_say_whose_they_are(path: Path, tmp_path: Path, form: Form) -> None:
    with ProjectFile.create(
        tmp_path / "other.rtuproject",
        form_id=form.id,
        form_version=form.version,
        form_hash=form.content_hash,
        title="Another site",
    ) as other:
        review = read_back(other, form, path)
        assert review.foreign
        assert "another project ('Test site'), not to 'Another site'" in review.remarks[0]
        assert review.rows == ()
        with pytest.raises(IncomingFileError, match="another project"):
            accept(Session(other, form), review, review.rows)


def test_a_workbook_newer_than_the_project_says_so(
    path: Path, project: ProjectFile, form: Form, tmp_path: Path
) -> None:
    with new_project(tmp_path / "again.rtuproject", form) as older:
        assert older.uuid == project.uuid
        review = read_back(older, form, path)
    assert any("older copy" in remark for remark in review.remarks)


def test_other_spreadsheets_are_refused(tmp_path: Path, project: ProjectFile, form: Form) -> None:
    from openpyxl import Workbook

    Workbook().save(tmp_path / "plain.xlsx")
    with pytest.raises(IncomingFileError, match="no workbook of a project"):
        read_back(project, form, tmp_path / "plain.xlsx")


def test_a_changed_hidden_sheet_is_refused(path: Path, project: ProjectFile, form: Form) -> None:
    def spoil(book: Any) -> None:
        book["_meta"]["D1"] = "nom"

    with pytest.raises(IncomingFileError, match="hidden sheet"):
        read_back(project, form, edited(path, {}, spoil))


def test_made_up_places_end_in_a_sentence(path: Path, project: ProjectFile, form: Form) -> None:
    def spoil(book: Any) -> None:
        book.defined_names["u1_suction_psig_1"].attr_text = "'RTU-1 Cooling'!$B$0"
        book.defined_names["u1_suction_psig_2"].attr_text = "'RTU-1 Cooling'!$ZZZ$9999999"
        rows = {row[0].value: row[1] for row in book["_meta"].iter_rows()}
        rows["revision"].value = "9" * 5_000

    review = read_back(project, form, edited(path, {}, spoil))
    assert {name: row.standing for name, row in by_name(review).items()} == {
        "u1_suction_psig_1": Standing.LOST,
        "u1_suction_psig_2": Standing.LOST,
    }


# -- through another spreadsheet program -----------------------------------------------------


def as_ods(path: Path, folder: Path) -> Path:
    office = shutil.which("soffice") or shutil.which("libreoffice")
    assert office is not None, "LibreOffice is needed: install libreoffice-calc"
    command = [
        office, f"-env:UserInstallation={(folder / 'profile').resolve().as_uri()}", "--headless",
        "--norestore", "--convert-to", "ods", "--outdir", str(folder), str(path),
    ]  # fmt: skip
    subprocess.run(command, check=True, capture_output=True, timeout=300)
    return folder / f"{path.stem}.ods"


@pytest.mark.parametrize("by_ods", [False, True])
def test_a_trip_through_libreoffice(
    path: Path, project: ProjectFile, form: Form, tmp_path: Path, by_ods: bool
) -> None:
    def insert(book: Any) -> None:
        beside(book, "u1_suction_line_f_2", "How it is known, as exported", "no port fitted")
        book["_meta"].sheet_state = "hidden"

    values = {"u1_suction_psig_1": 121.25, "u1_suction_psig_2": "119,5", "u1_suction_line_f_2":
              "n/a", "u1_superheat_f_1": 12, "u1_remark": "Two lines\nof text."}  # fmt: skip
    for file, wanted in ((path, set()), (edited(path, values, insert), set(values))):
        folder = tmp_path / f"back {file.stem}"
        folder.mkdir()
        sent = as_ods(file, folder) if by_ods else file
        review = read_back(project, form, recalculate(sent, folder / "again"))
        assert {row.name for row in review.to_settle} == wanted
        assert not review.remarks
    standings = {row.name: row.standing for row in review.to_settle}
    assert standings.pop("u1_superheat_f_1") is Standing.OVERWRITTEN
    assert set(standings.values()) == {Standing.CHANGED}
    done = accept(opened(project, form), review, review.changed)
    assert len(done.entered) == 4
    now = project.readings(project.units()[0].id)
    assert now["suction_psig", (1,)].value == 121.25
    assert now["remark", ()].value == "Two lines\nof text."


# -- the command ---------------------------------------------------------------------------


def test_the_command_compares_then_accepts(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    form, file = load_form(), tmp_path / "job.rtuproject"
    with Session.create(file, form, "Job") as session:
        session.add_unit("RTU-1")
        path = write_workbook(session.site(), tmp_path / "job.xlsx")
    name, text = next(
        (row.name, "Written by hand")
        for row in _review(file, form, path).rows
        if row.what == "reading" and form.by_name[row.key.name].kind == "text"
    )

    def run(workbook: Path, accepting: bool = False) -> tuple[int, str]:
        options = Namespace(file=file, workbook=workbook, accept=accepting)
        return readback(options), capsys.readouterr().out

    assert run(path) == (0, f"{len(_review(file, form, path).rows)} cells compared, nothing to "
                         "settle.\n")  # fmt: skip
    returned = edited(path, {name: text})
    code, said = run(returned)
    assert (code, "changed" in said, "1 to settle" in said) == (1, True, True)
    code, said = run(returned, accepting=True)
    assert (code, "1 entered from the workbook." in said) == (0, True)
    assert run(returned)[0] == 0


def _review(file: Path, form: Form, path: Path) -> Review:
    with ProjectFile.open(file, read_only=True) as project:
        return read_back(project, form, path)
