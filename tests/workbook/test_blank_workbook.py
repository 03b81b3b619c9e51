"""The blank field workbook: nothing measured in it, all that may follow drawn; it comes home."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from openpyxl import load_workbook

from commission.definitions.load import load_form
from commission.definitions.model import Field, Form, Kind
from commission.errors import OutputError
from commission.formula.evaluate import State
from commission.project import ProjectFile
from commission.validation.blank import blank_site, known_beforehand, unanswered_counts
from commission.validation.session import Session
from commission.validation.site import SiteResults, site_results
from commission.workbook import write_workbook
from commission.workbook.read_back import read_back
from commission.workbook.read_back_accept import accept
from workbook.sample_site import new_project

Site = Callable[[], SiteResults]
# What decides pages and rows of one small unit of the shipped form, but for how outdoor air is
# found, which a person decides on the roof.
CONFIGURATION: dict[str, float | str] = {
    "phases": "3", "cooling_stages": 1.0, "circuits": 1.0, "compressors": 1.0,
    "metering": "thermostatic valve", "indoor_fans": 1.0, "fan_speeds": 1.0,
    "condenser_fans": 1.0, "heat_type": "none", "economizer": "none",
    "outdoor_damper": "manual, fixed", "relief": "none", "design_airflow_cfm": 2000.0,
    "traverse_made": "yes", "traverse_lines": 2.0, "traverse_points": 3.0,
}  # fmt: skip


def typed_in(book: Any, name: str) -> Any:
    """Return the cell to type in, which is not the one that formulas read if it has two."""
    return named(book, f"{name}_shown" if f"{name}_shown" in book.defined_names else name)


def named(book: Any, name: str) -> Any:
    sheet, cell = book.defined_names[name].attr_text.rsplit("!", 1)
    return book[sheet.strip("'")][cell.replace("$", "")]


@pytest.fixture(scope="module")
def shipped() -> Form:
    return load_form()


@pytest.fixture
def unit(shipped: Form, tmp_path: Path) -> Any:
    with new_project(tmp_path / "job.rtuproject", shipped) as project:
        made = project.add_unit("RTU-1")
        for name, answer in CONFIGURATION.items():
            project.record(made.id, name, (), answer)
        yield project, made.id


def test_what_is_measured_is_empty_and_what_is_known_stays(
    unit: tuple[ProjectFile, str], shipped: Form, tmp_path: Path
) -> None:
    project, unit_id = unit
    project.record(unit_id, "supply_static_inwc", (), 0.8)
    site = site_results(project, shipped)
    blank = blank_site(site).units[0]
    assert blank.value("supply_static_inwc").state is State.MISSING
    assert blank.value("design_airflow_cfm").number == 2000
    assert site.units[0].value("supply_static_inwc").number == 0.8
    book = load_workbook(write_workbook(site, tmp_path / "x.xlsx", blank=True))
    assert named(book, "u1_supply_static_inwc").value is None
    assert named(book, "u1_design_airflow_cfm").value == 2000


def test_an_open_answer_has_all_its_pages_and_can_be_typed(
    unit: tuple[ProjectFile, str], shipped: Form, tmp_path: Path
) -> None:
    project, _ = unit
    site = site_results(project, shipped)
    plain = load_workbook(write_workbook(site, tmp_path / "plain.xlsx"))
    blank = load_workbook(write_workbook(site, tmp_path / "blank.xlsx", blank=True))
    assert named(plain, "u1_outdoor_air_method").protection.locked
    assert "u1_mixed_air_f_1" not in plain.defined_names
    assert not named(blank, "u1_outdoor_air_method").protection.locked
    assert named(blank, "u1_circuits").protection.locked
    assert not named(blank, "u1_mixed_air_f_1_shown").protection.locked
    assert "u1_outdoor_air_method" in named(blank, "u1_mixed_air_f_1").value


def test_a_filled_in_blank_comes_home(
    unit: tuple[ProjectFile, str], shipped: Form, tmp_path: Path
) -> None:
    project, unit_id = unit
    path = write_workbook(site_results(project, shipped), tmp_path / "b.xlsx", blank=True)
    project.close()
    book = load_workbook(path)
    named(book, "u1_outdoor_air_method").value = "temperatures"
    named(book, "u1_mixed_air_f_1_shown").value = 71.5
    named(book, "u1_traverse_reads").value = "velocity"
    for line in (1, 2):
        for point in (1, 2, 3):
            cell = typed_in(book, f"u1_point_velocity_read_fpm_{line}_{point}")
            cell.value = 900 + 10 * line + point
    typed_in(book, "u1_supply_static_inwc").value = 0.8
    book.save(path)
    with Session.open(tmp_path / "job.rtuproject", shipped) as session:
        review = read_back(session.project, shipped, path)
        assert len(review.changed) == len(review.to_settle) == 10
        assert not accept(session, review, review.changed).refused
        results = session.results(unit_id)
        assert results.value("mixed_air_f", (1,)).number == 71.5
        assert results.value("point_velocity_read_fpm", (2, 3)).number == 923
        assert results.relevant("mixed_air_f", (1,))
        assert results.value("supply_static_inwc").number == 0.8


def test_questions_that_keep_rows_out_are_named(shipped: Form, tmp_path: Path) -> None:
    with new_project(tmp_path / "job.rtuproject", shipped) as project:
        project.add_unit("RTU-1")
        waiting = unanswered_counts(site_results(project, shipped).units[0])
    assert "Refrigerant circuits" in waiting
    assert "Cooling stages" in waiting


def test_only_known_beforehand_is_kept(shipped: Form) -> None:
    from commission.validation.plan import Plan

    known = known_beforehand(Plan(shipped))
    first = shipped.sections[0].stage
    measured = [
        field.name
        for section in shipped.sections
        for field in section.fields
        if section.stage != first and field.kind in (Kind.NUMBER, Kind.ITEM)
    ]
    assert len(measured) > 200
    assert not known & set(measured)
    assert isinstance(shipped.by_name["circuits"], Field)
    assert "circuits" in known


@pytest.mark.parametrize(("paper", "code"), [("letter", "1"), ("a4", "9"), ("", "1")])
def test_paper(paper: str, code: str, site: Site, tmp_path: Path) -> None:
    book = load_workbook(write_workbook(site(), tmp_path / "x.xlsx", blank=True, paper=paper))
    assert {str(sheet.page_setup.paperSize) for sheet in book if sheet.title[0] != "_"} <= {
        code, "None"
    }  # fmt: skip
    assert str(book["RTU-1 Cooling"].page_setup.paperSize) == code


def test_no_such_paper(site: Site, tmp_path: Path) -> None:
    with pytest.raises(OutputError, match="Choose letter or a4"):
        write_workbook(site(), tmp_path / "x.xlsx", paper="foolscap")
