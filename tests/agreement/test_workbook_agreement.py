"""The workbook, recalculated hard by LibreOffice, says what Python says, cell by cell.

LibreOffice is the oracle: it computes every formula anew, trusting no cached value.
"""

from __future__ import annotations

import random
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import pytest
from openpyxl import load_workbook

from commission.definitions.load import load_form
from commission.definitions.model import Check, Field, Form, Key, Kind, Level
from commission.formula.evaluate import State, Value
from commission.project import ProjectFile
from commission.project.scenario import project_from_scenario
from commission.resources import demo_units_folder
from commission.validation.results import UnitResults
from commission.validation.site import SiteResults, site_results
from commission.workbook import write_workbook
from commission.workbook.addresses import readable_name
from commission.workbook.relevance import fixed_names
from recalculation import recalculate
from workbook.sample_site import fill, new_project
from workbook.small_form import ANSWERS, small_form

pytestmark = pytest.mark.recalculation

RELATIVE = 1e-9  # both compute in double precision from the same tables
# Readings by one instrument that cancel leave rounding noise; it is compared absolutely.
ABSOLUTE = 1e-9


def same(first: Any, second: Any) -> bool:
    """Whether two cell contents are one; an empty cell and an empty text are."""
    first, second = ("" if content is None else content for content in (first, second))
    if isinstance(first, int | float) and isinstance(second, int | float):
        return first == pytest.approx(second, rel=RELATIVE, abs=ABSOLUTE)
    return bool(first == second)


@dataclass
class Recalculated:
    """A workbook as written (formulas, cached values) and as LibreOffice computes it."""

    written: Path
    folder: Path

    def __post_init__(self) -> None:
        self.live = load_workbook(self.written)
        self.computed = load_workbook(
            recalculate(self.written, self.folder / "recalculated"), data_only=True
        )

    def named(self, name: str) -> Any:
        """What a named cell holds after recalculation; KeyError where there is none."""
        sheet, cell = self.live.defined_names[name].attr_text.rsplit("!", 1)
        return self.computed[sheet.strip("'")][cell.replace("$", "")].value

    def cached_differences(self) -> tuple[int, list[str]]:
        """How many formula cells there are, and those whose cached value is not the computed."""
        cached = load_workbook(self.written, data_only=True)
        count, wrong = 0, []
        for sheet in self.live:
            for row in sheet.iter_rows():
                for cell in row:
                    if cell.data_type != "f":
                        continue
                    count += 1
                    was = cached[sheet.title][cell.coordinate].value
                    now = self.computed[sheet.title][cell.coordinate].value
                    if not same(was, now):
                        wrong.append(f"{sheet.title}!{cell.coordinate}: {was!r}, computed {now!r}")
        return count, wrong


def expected(value: Value) -> Any:
    """What a cell holds for a value."""
    words = {State.NOT_APPLICABLE: "n/a", State.FAULT: "out of range", State.MISSING: ""}
    return words.get(value.state, value.content)


def differences(site: SiteResults, sheets: Recalculated) -> tuple[int, list[str]]:
    """How many named results and verdicts were compared with Python, and those that differ."""
    count, wrong = 0, []
    for owner, results in enumerate(site.everything()):
        for key, content in _contents(results):
            name = readable_name(owner, key)
            if name not in sheets.live.defined_names:
                continue
            count += 1
            if not same(content, sheets.named(name)):
                wrong.append(f"{name}: Python {content!r}, sheet {sheets.named(name)!r}")
    return count, wrong


def _contents(results: UnitResults) -> Iterator[tuple[Key, Any]]:
    level = Level.UNIT if results.unit_id else Level.PROJECT
    for section in results.form.sections:
        if section.level is not level:
            continue
        for entry in section.entries:
            for index in results.members(entry.name):
                if isinstance(entry, Check):
                    yield Key(entry.name, index), str(results.verdict(entry.name, index).outcome)
                else:
                    value = results.value(entry.name, index)
                    if isinstance(entry, Field) and entry.kind is Kind.TABLE:
                        # Its own cell says how much is typed; the table stands on a sheet.
                        value = replace(value, content=results.shown(entry.name, index))
                    yield Key(entry.name, index), expected(value)


def asked(results: UnitResults) -> int:
    """How many results and verdicts Python has for what is asked."""
    return sum(
        len(results.asked_members(entry.name))
        for section in results.sections()
        for entry in section.entries
    )


# -- the demo site -----------------------------------------------------------------------


@pytest.fixture(scope="module")
def form() -> Form:
    return load_form()


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("agreement")


@pytest.fixture(scope="module")
def demo(folder: Path, form: Form) -> Iterator[ProjectFile]:
    with project_from_scenario(demo_units_folder(), folder / "demo.rtuproject", form) as project:
        yield project


@pytest.fixture(scope="module")
def demo_site(demo: ProjectFile, form: Form) -> SiteResults:
    return site_results(demo, form)


@pytest.fixture(scope="module")
def demo_sheets(folder: Path, demo_site: SiteResults) -> Recalculated:
    return Recalculated(write_workbook(demo_site, folder / "demo.xlsx"), folder)


@pytest.mark.slow
def test_every_cached_value_of_the_demo_site_is_what_the_formula_gives(
    demo_sheets: Recalculated,
) -> None:
    count, wrong = demo_sheets.cached_differences()
    assert not wrong, "\n".join(wrong[:20])
    assert count > 5_000


@pytest.mark.slow
def test_every_result_and_verdict_of_the_demo_site_is_pythons(
    demo_site: SiteResults, demo_sheets: Recalculated
) -> None:
    count, wrong = differences(demo_site, demo_sheets)
    assert not wrong, "\n".join(wrong[:20])
    assert count >= sum(asked(results) for results in demo_site.everything())


@pytest.mark.slow
def test_every_uncertainty_of_the_demo_site_is_pythons(
    demo_site: SiteResults, demo_sheets: Recalculated
) -> None:
    count = 0
    for owner, results in enumerate(demo_site.everything()):
        for key in list(results.calculation.values):
            name = f"{readable_name(owner, key)}_uncertainty"
            if name in demo_sheets.live.defined_names:
                count += 1
                assert same(results.expanded(*key), demo_sheets.named(name)), name
    assert count > 500


@pytest.mark.slow
def test_readings_edited_in_the_sheet_give_what_python_gives(
    demo: ProjectFile, demo_sheets: Recalculated, form: Form, folder: Path
) -> None:
    copy = folder / "edited.rtuproject"
    demo.save_copy(copy)
    book = load_workbook(demo_sheets.written)
    with ProjectFile.open(copy) as project:
        site = site_results(project, form)
        edits = sum(
            _edit(project, book, owner, results) for owner, results in enumerate(site.everything())
        )
        project.set_setting("decision_rule", "simple acceptance")
        _set(book, "decision_rule", "simple acceptance")
        written = folder / "edited.xlsx"
        book.save(written)
        sheets = Recalculated(written, folder)
        count, wrong = differences(site_results(project, form), sheets)
    assert edits > 150
    assert not wrong, "\n".join(wrong[:20])
    assert count > 3_000


def _edit(project: ProjectFile, book: Any, owner: int, results: UnitResults) -> int:
    """Move, clear or mark as not applicable some of a unit's numbers, in both places."""
    source = random.Random(owner)
    fixed = fixed_names(results.calculation.plan)
    count = 0
    for key, field in _numbers_read(results):
        if field.name in fixed or source.random() > 0.25:
            continue
        name, number = readable_name(owner, key), results.value(*key).number
        assert number is not None
        kind = source.choice(["move", "move", "move", "clear", "n/a"])
        content: Any = None
        if kind == "move":
            content = (
                number + 1 if field.kind is Kind.INTEGER else number * source.uniform(0.9, 1.1)
            )
        reason = "left out for the test" if kind == "n/a" else ""
        project.record(results.unit_id, *key, content, not_applicable=reason, pass_name="retest 1")
        _set(book, name, "n/a" if reason else content)
        count += 1
    return count


def _numbers_read(results: UnitResults) -> Iterator[tuple[Key, Field]]:
    for section in results.sections():
        for field in section.fields:
            for index in results.asked_members(field.name):
                if results.value(field.name, index).number is not None:
                    yield Key(field.name, index), field


def _set(book: Any, name: str, content: Any) -> None:
    sheet, cell = book.defined_names[name].attr_text.rsplit("!", 1)
    book[sheet.strip("'")][cell.replace("$", "")].value = content


# -- other sites ---------------------------------------------------------------------------


def test_a_full_unit_in_si_agrees(tmp_path: Path, form: Form) -> None:
    with new_project(tmp_path / "si.rtuproject", form) as project:
        project.set_setting("unit_system", "SI")
        project.set_setting("decision_rule", "guarded acceptance")
        fill(project, form, "", {"site_elevation_ft": 5200})
        unit = project.add_unit("RTU-1")
        fill(
            project, form, unit.id, {"heat_type": "gas", "phases": "3", "metering": "fixed orifice"}
        )
        project.add_unit("RTU-2, blank")
        site = site_results(project, form)
        sheets = Recalculated(write_workbook(site, tmp_path / "si.xlsx"), tmp_path)
        count, wrong = sheets.cached_differences()
        assert not wrong, "\n".join(wrong[:20])
        assert count > 1_000
        count, wrong = differences(site, sheets)
        assert not wrong, "\n".join(wrong[:20])


def test_instrument_terms_rule_and_factor_are_live(tmp_path: Path) -> None:
    form = small_form(tmp_path / "form")
    with new_project(tmp_path / "site.rtuproject", form) as project:
        fill(project, form, "", ANSWERS)
        unit = project.add_unit("RTU-1")
        fill(project, form, unit.id, ANSWERS)
        before = site_results(project, form).units[0].value("superheat_f", (1,)).number
        assert before is not None
        parts = {"low": before - 9, "high": before + 0.3}  # nearer than the uncertainty
        project.set_limit(unit.id, "superheat_in_range", (), parts, origin="test", confirmed=False)
        book = load_workbook(write_workbook(site_results(project, form), tmp_path / "a.xlsx"))
        for number, instrument in enumerate(project.instruments(), start=1):
            terms = {"plus_minus": 0.7, "percent_of_reading": 1.5}
            terms |= {"repeatability": 0.3, "resolution": 0.2}
            project.update_instrument(instrument.id, **terms)
            for term, value in terms.items():
                _set(book, f"instrument_{number}_{term}", value)
        project.set_setting("decision_rule", "guarded acceptance")
        project.set_setting("coverage_factor", 3.0)
        _set(book, "decision_rule", "guarded acceptance")
        _set(book, "coverage_factor", 3.0)
        book.save(tmp_path / "b.xlsx")
        site = site_results(project, form)
        sheets = Recalculated(tmp_path / "b.xlsx", tmp_path)
        _, wrong = differences(site, sheets)
        assert not wrong, "\n".join(wrong)
        results = site.units[0]
        assert str(results.verdict("superheat_in_range", (1,)).outcome) == "inconclusive"
        for name in ("superheat_f", "suction_psig", "suction_dew_f"):
            live = sheets.named(f"u1_{name}_1_uncertainty")
            assert live == pytest.approx(results.expanded(name, (1,)), rel=1e-9)
        mean = sheets.named("u1_mean_velocity_fpm_uncertainty")
        assert mean == pytest.approx(results.expanded("mean_velocity_fpm"), rel=1e-9)


def test_an_answer_in_the_sheet_brings_rows_alive(tmp_path: Path) -> None:
    form = small_form(tmp_path / "form")
    with new_project(tmp_path / "site.rtuproject", form) as project:
        fill(project, form, "", ANSWERS)
        project.record("", "barometer_read_psia", (), None)
        unit = project.add_unit("RTU-1")
        fill(project, form, unit.id, ANSWERS)
        written = write_workbook(site_results(project, form), tmp_path / "a.xlsx")
        book = load_workbook(written)
        _set(book, "p_barometer_read_psia", 12.4)
        book.save(written)
        project.record("", "barometer_read_psia", (), 12.4)
        site = site_results(project, form)
        sheets = Recalculated(written, tmp_path)
        _, wrong = differences(site, sheets)
        assert not wrong, "\n".join(wrong)
        assert sheets.named("p_barometer_psia") == 12.4
        assert sheets.named("p_barometer_change_psi") == pytest.approx(
            site.pages.value("barometer_change_psi").number, rel=RELATIVE
        )


def test_the_comparison_can_fail(tmp_path: Path) -> None:
    form = small_form(tmp_path / "form")
    with new_project(tmp_path / "site.rtuproject", form) as project:
        fill(project, form, "", ANSWERS)
        unit = project.add_unit("RTU-1")
        fill(project, form, unit.id, ANSWERS)
        site = site_results(project, form)
        written = write_workbook(site, tmp_path / "a.xlsx")
        book = load_workbook(written)
        _set(book, "u1_suction_psig_1", 60.0)
        book.save(written)
        _, wrong = differences(site, Recalculated(written, tmp_path))
    assert any(line.startswith("u1_superheat_f_1:") for line in wrong)
    assert any(line.startswith("u1_suction_dew_f_1:") for line in wrong)
    assert not any(line.startswith("u1_superheat_f_2:") for line in wrong)
