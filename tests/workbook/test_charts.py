"""Charts of the workbook: they draw the entry cells themselves, and never a word as a zero."""

from __future__ import annotations

import re
from collections.abc import Iterator
from itertools import combinations, groupby
from pathlib import Path
from typing import Any

import pytest
from openpyxl import load_workbook
from openpyxl.utils import range_boundaries

from commission.definitions.load import load_form
from commission.definitions.model import FigureKind, Form, Key
from commission.project import ProjectFile
from commission.validation.site import SiteResults, site_results
from commission.workbook import write_workbook
from commission.workbook.across_sheet import ACROSS, compared_keys
from commission.workbook.book import plan_book
from workbook.sample_site import fill, new_project

ANSWERS: dict[str, float | str] = {
    "phases": "3", "heat_type": "none", "economizer": "none", "traverse_made": "yes",
    "traverse_lines": 3.0, "traverse_points": 4.0, "traverse_rule": "equal area",
}  # fmt: skip


@pytest.fixture(scope="module")
def form() -> Form:
    return load_form()


@pytest.fixture(params=["IP", "SI"])
def project(request: pytest.FixtureRequest, form: Form, tmp_path: Path) -> Iterator[ProjectFile]:
    with new_project(tmp_path / "job.rtuproject", form) as made:
        made.set_setting("unit_system", request.param)
        fill(made, form, "", {"site_elevation_ft": 600.0})
        for number in (1, 2, 3):
            unit = made.add_unit(f"RTU-{number}")
            fill(made, form, unit.id, ANSWERS)
        yield made


def cells(book: Any, reference: str) -> list[Any]:
    """Return the contents of the cells that a chart refers to, areas one after another."""
    found = []
    for area in reference.strip("()").split(","):
        sheet, place = re.fullmatch(r"'?(.*?)'?!(.*)", area).groups()  # type: ignore[union-attr]
        left, top, right, bottom = range_boundaries(place.replace("$", ""))
        for row in book[sheet].iter_rows(top, bottom, left, right):
            found += [cell.value for cell in row]
    return found


def spans(chart: Any) -> tuple[int, int, int, int]:
    """Return the first and last row and column that a chart lies over."""
    start, end = chart.anchor._from, chart.anchor.to
    return start.row, end.row, start.col, end.col


def refer(book: Any, sheet: str) -> list[tuple[list[Any], list[Any]]]:
    """Return, chart by chart, what each series draws and along what."""
    return [
        (
            [cells(book, series.val.numRef.f) for series in chart.series],
            [cells(book, _along(series.cat)) for series in chart.series if series.cat is not None],
        )
        for chart in book[sheet]._charts
    ]


def _along(categories: Any) -> str:
    reference = categories.strRef or categories.multiLvlStrRef or categories.numRef
    return str(reference.f)


def test_a_page_draws_what_its_figures_name(
    project: ProjectFile, form: Form, tmp_path: Path
) -> None:
    site = site_results(project, form)
    now = load_workbook(write_workbook(site, tmp_path / "x.xlsx"), data_only=True)
    drawn = 0
    for page in plan_book(site).pages:
        charts, results = refer(now, page.sheet), page.results
        for figure in page.section.figures:
            if figure.kind is FigureKind.PRESSURE_PROFILE and not figure.repeat:
                names = [point.uses["static"] for point in figure.points]
                values = [results.value(name).number for name in names]
                if any(value is None for value in values):
                    continue
                series, along = charts.pop(0)
                shown = [_shown(results, Key(name)) for name in names]
                assert series == [pytest.approx(shown)]
                assert along == [[form.by_name[name].label for name in names]]
                drawn += 1
            elif figure.kind is FigureKind.TRAVERSE:
                velocity = figure.uses["velocity"]
                members = results.asked_members(velocity)
                if not members:
                    continue
                series, _ = charts.pop(0)
                lines = sorted({index[0] for index in members})
                assert series == [
                    pytest.approx(
                        [_shown(results, Key(velocity, i)) for i in members if i[0] == line]
                    )
                    for line in lines
                ]
                drawn += 1
        assert not charts
    assert drawn >= 2 * len(site.units)


def _shown(results: Any, key: Key) -> float:
    from commission.units import convert

    number = results.value(*key).number
    entry = results.form.by_name[key.name]
    return float(convert(number, entry.unit, results.shown_unit(key.name)))


def test_a_word_among_its_readings_leaves_a_chart_out(
    project: ProjectFile, form: Form, tmp_path: Path
) -> None:
    before = load_workbook(write_workbook(site_results(project, form), tmp_path / "x.xlsx"))
    page, name = _a_profile(site_results(project, form))
    unit = project.units()[0]
    project.record(unit.id, name, (), None, not_applicable="no port there")
    after = load_workbook(write_workbook(site_results(project, form), tmp_path / "y.xlsx"))
    assert len(after[page]._charts) == len(before[page]._charts) - 1


def _a_profile(site: SiteResults) -> tuple[str, str]:
    for page in plan_book(site).pages:
        for figure in page.section.figures:
            if figure.kind is FigureKind.PRESSURE_PROFILE and page.owner == 1:
                return page.sheet, figure.points[0].uses["static"]
    raise AssertionError("no page with a pressure profile")


def test_charts_stand_below_the_rows_and_apart(
    project: ProjectFile, form: Form, tmp_path: Path
) -> None:
    site = site_results(project, form)
    book = load_workbook(write_workbook(site, tmp_path / "x.xlsx"))
    last = {page.sheet: page.last_row for page in plan_book(site).pages}
    heads = [row[0].row for row in book[ACROSS].iter_rows(max_col=1) if row[0].value == "Unit"]
    last[ACROSS] = heads[-1] - 1 + len(site.units)
    count = 0
    for sheet in book:
        places = [spans(chart) for chart in sheet._charts]
        count += len(places)
        assert all(top > last[sheet.title] for top, *_ in places), sheet.title
        for first, second in combinations(places, 2):
            assert not _overlap(first, second), (sheet.title, first, second)
        if places and sheet.print_area:  # without one, all of a sheet is printed
            area = re.sub(r".*!", "", str(sheet.print_area)).replace("$", "")
            left, _, right, bottom = range_boundaries(area)
            assert left == 1 and bottom >= max(place[1] for place in places)
            assert right >= max(place[3] for place in places)
    assert count >= 2 * len(site.units) + 10


def _overlap(first: tuple[int, int, int, int], second: tuple[int, int, int, int]) -> bool:
    rows = first[0] < second[1] and second[0] < first[1]
    return rows and first[2] < second[3] and second[2] < first[3]


def test_across_units_each_bar_is_the_value_of_its_unit(
    project: ProjectFile, form: Form, tmp_path: Path
) -> None:
    unit = project.units()[1]
    site = site_results(project, form)
    key = compared_keys(plan_book(site))[0]
    for absent in _readings_of(site, key):
        project.record(unit.id, *absent, None)  # this value of RTU-2 is missing now
    site = site_results(project, form)
    keys = compared_keys(plan_book(site))
    groups = [list(members) for _, members in groupby(keys, lambda key: key.name)]
    now = load_workbook(write_workbook(site, tmp_path / "x.xlsx"), data_only=True)
    charts = refer(now, ACROSS)
    assert len(charts) == len(groups) > 3
    assert max(len(members) for members in groups) > 1  # two circuits in one chart
    assert [members[0].name for members in groups] == [
        name for name in form.across if name in {key.name for key in keys}
    ]
    gaps = 0
    for members, (series, along) in zip(groups, charts, strict=True):
        assert along == [[unit.tag for unit in site.units]] * len(members)
        for key, values in zip(members, series, strict=True):
            for results, value in zip(site.units, values, strict=True):
                known = key.index in results.members(key.name)
                if known and results.value(*key).number is not None:
                    assert value == pytest.approx(_shown(results, key))
                else:
                    assert value == "#N/A"  # a gap, not a bar of zero
                    gaps += 1
    assert gaps


def test_no_more_numbers_stand_side_by_side_than_can_be_read(
    project: ProjectFile, form: Form, tmp_path: Path
) -> None:
    site = site_results(project, form)
    keys = compared_keys(plan_book(site))
    book = load_workbook(write_workbook(site, tmp_path / "x.xlsx"))
    heads = [row for row in book[ACROSS].iter_rows() if row[0].value == "Unit"]
    named = [cell.value for row in heads for cell in row[1:] if cell.value]
    assert len(heads) > 1  # a second table below the first
    assert len(named) == len(keys)
    assert all(len([cell for cell in row if cell.value]) <= 16 for row in heads)
    for row in heads:  # each table tells its units again
        below = [book[ACROSS].cell(row[0].row + n, 1).value for n in range(1, 4)]
        assert below == [unit.tag for unit in site.units]


def _readings_of(site: SiteResults, key: Key) -> list[Key]:
    calculation = site.units[1].calculation
    return [
        given
        for given in calculation.given
        if calculation.given[given].content is not None
        and given.name not in calculation.plan.structural
        and key.name in calculation.plan.reached_from(given.name)
    ]


def test_one_unit_has_nothing_beside_it(form: Form, tmp_path: Path) -> None:
    with new_project(tmp_path / "job.rtuproject", form) as project:
        project.add_unit("RTU-1")
        book = load_workbook(write_workbook(site_results(project, form), tmp_path / "x.xlsx"))
    assert ACROSS not in book.sheetnames
