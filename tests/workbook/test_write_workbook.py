from __future__ import annotations

import errno
import re
import zipfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from openpyxl import load_workbook
from openpyxl.utils import FORMULAE

from commission.definitions.model import Form
from commission.errors import OutputError
from commission.project import ProjectFile
from commission.validation.site import SiteResults, site_results
from commission.workbook import write_workbook
from commission.workbook.appearance import ENTRY_FILL
from workbook.sample_site import new_project
from workbook.test_addresses import CELL_LIKE

Site = Callable[[], SiteResults]
# Fills with a meaning of their own in handover sheets (COBie); entry cells must not look so.
COBIE_FILLS = {"FFFF99", "FFCC99", "CC99FF", "CCFFCC", "C0C0C0", "E7E6E6", "D9E1F2"}


def named(book: Any, name: str) -> Any:
    sheet, cell = book.defined_names[name].attr_text.rsplit("!", 1)
    return book[sheet.strip("'")][cell.replace("$", "")]


def formulas(book: Any) -> list[Any]:
    return [cell for ws in book for row in ws.iter_rows() for cell in row if cell.data_type == "f"]


@pytest.fixture
def path(tmp_path: Path, site: Site) -> Path:
    return write_workbook(site(), tmp_path / "site.xlsx")


def fixed(cell: Any) -> str:
    """Return where a cell is as formulas name it, so that sorting and insertion are told apart."""
    return f"${cell.column_letter}${cell.row}"


def test_sheets(path: Path) -> None:
    book = load_workbook(path)
    assert book.sheetnames == [
        "Summary", "How to use", "Pages", "Stops", "Site", "RTU-1 Setup", "RTU-1 Cooling",
        "RTU-2 Setup", "RTU-2 Cooling", "Deficiencies", "Instruments", "People",
        "Ref Saturation dew", "_meta",
    ]  # fmt: skip
    assert book["_meta"].sheet_state == "hidden"


def test_values_are_readings_and_formulas_carry_their_values(path: Path, site: Site) -> None:
    live, now = load_workbook(path), load_workbook(path, data_only=True)
    results = site().units[0]
    assert named(live, "u1_suction_psig_2").value == 118.5
    formula = named(live, "u1_superheat_f_2").value
    assert "u1_suction_line_f_2-u1_suction_dew_f_2" in formula
    assert named(now, "u1_superheat_f_2").value == results.value("superheat_f", (2,)).content
    assert named(now, "u1_superheat_f_2_uncertainty").value == pytest.approx(
        results.expanded("superheat_f", (2,)), rel=1e-12
    )
    assert named(now, "u1_superheat_safe_1").value == "pass"
    assert named(now, "u1_superheat_in_range_1").value == "missing"
    assert named(now, "u1_superheat_safe_1_low").value == 2
    assert named(live, "u1_point_velocity_fpm_2_3").value is not None


def test_a_formula_of_project_and_unit_names_both(path: Path) -> None:
    text = named(load_workbook(path), "u1_suction_dew_f_1").value
    assert "u1_suction_psig_1+p_barometer_psia" in text
    assert "ref_saturation_dew_body" in text


def test_aggregates_take_ranges(path: Path) -> None:
    text = named(load_workbook(path), "u1_mean_velocity_fpm").value
    assert re.search(r"AVERAGE\('RTU-1 Cooling'!\$B\$\d+:\$D\$\d+\)", text)


def test_names_never_look_like_a_cell(path: Path) -> None:
    book = load_workbook(path)
    assert len(book.defined_names) > 50
    assert not [name for name in book.defined_names if CELL_LIKE.match(name)]


def test_only_functions_that_every_common_spreadsheet_has(path: Path) -> None:
    texts = [re.sub(r'"[^"]*"', "", cell.value) for cell in formulas(load_workbook(path))]
    used = {name for text in texts for name in re.findall(r"([A-Z][A-Z0-9.]*)\(", text)}
    assert used
    assert used <= set(FORMULAE)
    assert max(map(len, texts)) < 8_192


def test_nothing_missing_reads_as_zero(path: Path) -> None:
    now = load_workbook(path, data_only=True)
    for name in ("u2_suction_psig_1", "u2_superheat_f_1"):
        assert name not in now.defined_names  # no circuits yet, so no such row
    assert named(now, "u2_mean_velocity_fpm").value is None
    assert named(now, "u2_amps_balanced").value == "missing"


def test_not_applicable_with_its_reason(project: ProjectFile, site: Site, tmp_path: Path) -> None:
    unit = project.units()[0]
    project.record(unit.id, "suction_psig", (1,), None, not_applicable="no port fitted")
    now = load_workbook(write_workbook(site(), tmp_path / "x.xlsx"), data_only=True)
    cell = named(now, "u1_suction_psig_1")
    assert cell.value == "n/a"
    assert any("no port fitted" in str(other.value) for other in now[cell.parent.title][cell.row])
    assert named(now, "u1_superheat_f_1").value == "n/a"
    assert named(now, "u1_superheat_safe_1").value == "not applicable"


def test_rows_that_an_answer_can_bring_in_are_there(
    project: ProjectFile, site: Site, tmp_path: Path
) -> None:
    project.record("", "barometer_read_psia", (), None)
    now = load_workbook(write_workbook(site(), tmp_path / "x.xlsx"), data_only=True)
    assert named(now, "p_barometer_read_psia").value is None
    assert named(now, "p_barometer_change_psi").value == "n/a"
    assert named(now, "p_barometer_psia").value == pytest.approx(12.13, abs=0.05)


def test_a_page_that_the_configuration_does_not_have_is_not_there(path: Path) -> None:
    assert not [name for name in load_workbook(path).sheetnames if "Gas" in name]


@pytest.mark.parametrize(
    "text", ["=1+1", "+1+1", "-1+1", "@SUM(1)", "http://example.org", "12.5", "{=1}", "TRUE",
             "=HYPERLINK(\"http://x\")", "\t=1", "_x0041_", "&P &&"]
)  # fmt: skip
def test_what_a_person_types_stays_text(
    text: str, project: ProjectFile, site: Site, tmp_path: Path
) -> None:
    unit = project.units()[0]
    project.record("", "site_name", (), text)
    project.record(unit.id, "remark", (), text, note=text)
    project.set_setting("title", text)
    project.add_person(text)
    project.add_deficiency(unit.id, text, requirement=text)
    project.rename_unit(unit.id, text)
    written = write_workbook(site(), tmp_path / "x.xlsx")
    book, now = load_workbook(written), load_workbook(written, data_only=True)
    for name in ("p_site_name", "u1_remark"):
        assert named(book, name).data_type == "s"
        assert named(now, name).value == text
    known = {cell.coordinate for cell in formulas(book)}
    assert known
    assert not [cell for cell in formulas(book) if cell.value.strip("=") == text.strip("=")]
    assert not [link for ws in book for link in ws._hyperlinks if link.target]


def test_only_entry_cells_can_be_typed_in(path: Path) -> None:
    book = load_workbook(path)
    for sheet in book:
        assert sheet.protection.sheet, sheet.title
        assert not sheet.protection.password
    assert not named(book, "u1_suction_psig_1").protection.locked
    assert not named(book, "u1_superheat_in_range_1_low").protection.locked
    assert not named(book, "decision_rule").protection.locked
    assert not named(book, "instrument_1_plus_minus").protection.locked
    assert named(book, "u1_superheat_f_1").protection.locked
    assert named(book, "u1_superheat_safe_1").protection.locked
    assert named(book, "u1_circuits").protection.locked  # decides which rows there are
    unlocked = [c for c in formulas(book) if not c.protection.locked]
    assert {c.coordinate for c in unlocked} == {
        named(book, n).coordinate for n in ("u1_superheat_safe_1_low", "u1_superheat_safe_2_low",
        "u1_amps_balanced_high", "u1_velocity_as_designed_tolerance_percent",
        "u2_amps_balanced_high", "u2_velocity_as_designed_tolerance_percent")
    }  # fmt: skip


def test_entry_cells_do_not_wear_another_standards_colour() -> None:
    assert ENTRY_FILL.lstrip("#").upper() not in COBIE_FILLS


def test_entry_cells_say_how_and_refuse_the_impossible(path: Path) -> None:
    book = load_workbook(path)
    cell = named(book, "u1_suction_psig_1")
    rules = [
        rule
        for rule in cell.parent.data_validations.dataValidation
        if cell.coordinate in rule.sqref
    ]
    assert len(rules) == 1
    assert rules[0].prompt == "At the suction service port."
    at = cell.coordinate
    assert rules[0].formula1 == f'OR({at}="n/a",AND(ISNUMBER({at}),{at}>=-14.7,{at}<=800.0))'
    assert "from -14.7 to 800 psig" in rules[0].error
    refrigerant = named(book, "u1_refrigerant")
    lists = [
        rule.formula1
        for rule in refrigerant.parent.data_validations.dataValidation
        if refrigerant.coordinate in rule.sqref
    ]
    assert lists == ['"R-410A,R-32,n/a"']
    assert refrigerant.number_format == "@"


def test_prints_as_a_field_form(path: Path) -> None:
    sheet = load_workbook(path)["RTU-1 Cooling"]
    assert sheet.page_setup.orientation == "landscape"
    assert str(sheet.page_setup.paperSize) == sheet.PAPERSIZE_LETTER
    assert sheet.sheet_properties.pageSetUpPr.fitToPage
    assert sheet.page_setup.fitToWidth in (None, 1)  # one page wide is what is meant by absence
    assert sheet.page_setup.fitToHeight == 0
    assert sheet.row_breaks.brk
    assert sheet.print_title_rows == "$1:$3"
    assert "Test site" in sheet.oddHeader.left.text
    assert "RTU-1" in sheet.oddHeader.right.text
    assert "&P of &N" in sheet.oddFooter.right.text.replace("&[Page]", "&P").replace(
        "&[Pages]", "&N"
    )
    texts = [str(cell.value) for row in sheet.iter_rows(max_row=6) for cell in row]
    assert "At steady full load." in texts
    assert "Caution: Hot pipes burn." in texts


def test_summary_counts_and_stops(project: ProjectFile, site: Site, tmp_path: Path) -> None:
    unit = project.units()[0]
    project.record(unit.id, "lockout_applied", (), "not done")
    project.add_override(
        unit.id, "lockout_applied_done", person_name="R. Vale", reason="bench test"
    )
    now = load_workbook(write_workbook(site(), tmp_path / "x.xlsx"), data_only=True)
    rows = [[cell.value for cell in row] for row in now["Summary"].iter_rows()]
    progress = site().units[0].progress().outcomes
    line = next(row for row in rows if row[0] == "RTU-1" and isinstance(row[1], int | float))
    assert line[1:5] == [
        progress.get(word, 0) for word in ("pass", "fail", "inconclusive", "missing")
    ]
    assert line[5] == 1
    assert any("R. Vale: bench test" in map(str, row) for row in rows)
    assert "Lockout applied" in [
        row[3].value for row in now["Stops"].iter_rows() if row[0].value == 1
    ]
    waiting = [cell.value for row in now["RTU-1 Cooling"].iter_rows() for cell in row]
    assert "clear" in waiting  # a named person has gone past the stop


def test_tells_whose_it_is(path: Path, site: Site) -> None:
    book = load_workbook(path)
    said = {row[0].value: row[1].value for row in book["_meta"].iter_rows()}
    project, form = site().project, site().form
    assert said["project_uuid"] == project.uuid
    assert said["revision"] == str(project.revision)
    assert (said["form_id"], said["form_hash"]) == (form.id, form.content_hash)
    assert said["schema"] == "1"
    assert said["u1"].startswith("RTU-1 (")
    custom = {prop.name: prop.value for prop in book.custom_doc_props.props}
    assert custom["project_uuid"] == project.uuid
    assert book.properties.created.isoformat() == "2026-09-14T15:00:00"


def test_one_state_of_the_project_gives_the_same_bytes(site: Site, tmp_path: Path) -> None:
    first = write_workbook(site(), tmp_path / "a.xlsx").read_bytes()
    assert write_workbook(site(), tmp_path / "b.xlsx").read_bytes() == first


def test_progress_counts_to_its_total(site: Site, tmp_path: Path) -> None:
    told: list[tuple[int, int, str]] = []
    write_workbook(site(), tmp_path / "a.xlsx", lambda *step: told.append(step))
    done = [step[0] for step in told]
    assert done == sorted(done)
    assert told[-1][0] == told[-1][1]
    assert {"Summary", "RTU-1 Cooling", "Saving RTU-1 Cooling"} <= {step[2] for step in told}


class CancelledError(Exception):
    """What a listener raises to stop the writing."""


@pytest.mark.parametrize("at", ["RTU-1 Cooling", "Saving RTU-1 Cooling", "done"])
def test_cancelling_leaves_what_was_there(at: str, site: Site, tmp_path: Path) -> None:
    target = tmp_path / "a.xlsx"
    target.write_bytes(b"kept")

    def listener(done: int, total: int, what: str) -> None:
        if what == at:
            raise CancelledError

    before = set(tmp_path.iterdir())
    with pytest.raises(CancelledError):
        write_workbook(site(), target, listener)
    assert target.read_bytes() == b"kept"
    assert set(tmp_path.iterdir()) == before


def test_a_folder_that_is_not_there(site: Site, tmp_path: Path) -> None:
    with pytest.raises(OutputError, match=r"a\.xlsx: the workbook cannot be written.*Choose"):
        write_workbook(site(), tmp_path / "nowhere" / "a.xlsx")


def test_a_full_disk(site: Site, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(*_: object, **__: object) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(zipfile.ZipFile, "write", full)
    before = set(tmp_path.iterdir())
    with pytest.raises(OutputError, match=r"No space left on device.*make room"):
        write_workbook(site(), tmp_path / "a.xlsx")
    assert set(tmp_path.iterdir()) == before


def test_in_si_the_conversion_is_a_cell(project: ProjectFile, site: Site, tmp_path: Path) -> None:
    project.set_setting("unit_system", "SI")
    written = write_workbook(site(), tmp_path / "x.xlsx")
    live, now = load_workbook(written), load_workbook(written, data_only=True)
    entry = named(now, "u1_suction_psig_1_shown")
    assert entry.value == pytest.approx(118.5 * 6.894757293168361, rel=1e-12)  # psi in kPa, exact
    assert not entry.protection.locked
    assert f"ISNUMBER({fixed(entry)})" in named(live, "u1_suction_psig_1").value
    assert named(now, "u1_suction_psig_1").value == 118.5
    shown, computed = (named(now, f"u1_superheat_f_1{end}").value for end in ("_shown", ""))
    assert shown == pytest.approx(computed * 5 / 9, rel=1e-12)
    heads = [cell.value for cell in now["RTU-1 Cooling"][3]]
    assert {
        "As formulas read it", "Low or target, form's unit", "± U, form's unit"
    } <= set(heads)  # fmt: skip


def test_in_si_limits_uncertainties_and_grids_are_si(
    project: ProjectFile, site: Site, tmp_path: Path
) -> None:
    project.set_setting("unit_system", "SI")
    unit = project.units()[0]
    project.set_limit(unit.id, "superheat_in_range", (1,), {"low": 9, "high": 18}, origin="sheet")
    written = write_workbook(site(), tmp_path / "x.xlsx")
    live, now = load_workbook(written), load_workbook(written, data_only=True)
    limit = named(live, "u1_superheat_in_range_1_high_shown")
    assert limit.value == pytest.approx(10, rel=1e-12)  # 18 Δ°F are 10 K
    assert not limit.protection.locked
    assert fixed(limit) in named(live, "u1_superheat_in_range_1_high").value
    assert named(now, "u1_superheat_in_range_1_high").value == 18
    uncertainty = named(now, "u1_superheat_f_1_uncertainty")
    row = [cell.value for cell in now[uncertainty.parent.title][uncertainty.row]]
    assert any(
        value == pytest.approx(uncertainty.value * 5 / 9)
        for value in row
        if isinstance(value, float)
    )
    point = named(now, "u1_point_velocity_fpm_1_1_shown")
    assert point.value == pytest.approx(
        named(now, "u1_point_velocity_fpm_1_1").value * 0.00508, rel=1e-12
    )  # 1 fpm is 0.00508 m/s, exact
    assert not point.protection.locked


def test_a_project_without_units(form: Form, tmp_path: Path) -> None:
    with new_project(tmp_path / "empty.rtuproject", form) as project:
        book = load_workbook(write_workbook(site_results(project, form), tmp_path / "x.xlsx"))
    assert "Site" in book.sheetnames
    assert not [name for name in book.sheetnames if name.startswith("RTU")]


def test_an_uncertainty_too_long_for_a_formula_says_so(
    site: Site, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("commission.workbook.page_cells.LONGEST_FORMULA", 100)
    book = load_workbook(write_workbook(site(), tmp_path / "x.xlsx"))
    cell = named(book, "u1_superheat_f_1_uncertainty")
    assert cell.data_type == "n"
    assert "as exported" in str(book[cell.parent.title][cell.row][-1].value)


def test_as_found_stays_beside_as_left(project: ProjectFile, site: Site, tmp_path: Path) -> None:
    unit = project.units()[0]
    person = project.add_person("R. Vale")
    project.record(unit.id, "suction_psig", (1,), 121.0, pass_name="as left", person_id=person.id,
                   entered="834.3 kPa", note="after a charge of 8 oz")  # fmt: skip
    now = load_workbook(write_workbook(site(), tmp_path / "x.xlsx"), data_only=True)
    cell = named(now, "u1_suction_psig_1")
    assert cell.value == 121.0
    words = str(now[cell.parent.title][cell.row][-1].value)
    assert words.startswith("as left, R. Vale, 2026-09-14 15:00")
    assert "Typed: 834.3 kPa" in words
    assert "after a charge of 8 oz" in words
    assert "As found: 118.5 psig." in words
