"""Trend logs in the package: facts, findings with limits, plots, judged as the window does."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from commission.definitions.model import Form
from commission.language import speaking, spoken
from commission.package import write_package
from commission.package.figures_part import LAID_FOR
from commission.package.trend_part import MOST_PLOTS, TITLE, trend_flowables
from commission.package.turnover import turnover
from commission.project import ProjectFile
from commission.sequence.configuration import Configuration, configuration_of
from commission.sequence.simulated_unit import simulate_one
from commission.sequence.trend_deficiency import deficiency_made_of
from commission.sequence.trend_log import TrendLog
from commission.sequence.trend_plot import finding_drawing
from commission.sequence.trend_reading import FileReading
from commission.sequence.trend_shelf import deficiency_texts, judged, keep_log
from commission.validation.site import SiteResults, site_results
from commission.validation.verdict import Outcome
from package.reading_pdf import outline, page_texts, run_together, told_by
from package.set_flowables import drawings_of


@pytest.fixture(scope="module")
def day() -> TrendLog:
    log = simulate_one(Configuration(compressors=2), "compressor_without_fan", step_s=5.0)
    return replace(log, source="roof 1.csv", zone="America/Denver")


def keep(project: ProjectFile, form: Form, log: TrendLog) -> SiteResults:
    site = site_results(project, form)
    unit = site.units[0]
    keep_log(project, unit.unit_id, judged(log, unit, project), FileReading(), "ab" * 32)
    return site


def test_facts_findings_limits_and_lines_stand_in_the_package(
    small_project: ProjectFile, small_form: Form, day: TrendLog, tmp_path: Path
) -> None:
    site = keep(small_project, small_form, day)
    path = write_package(site, tmp_path / "with.pdf")
    whole = "".join(told_by(path))
    for words in (
        "Trend logs", "roof 1.csv", f"{len(day.moments):,}, usually every 5 s", "America/Denver",
        "SHA-256 abababab", "Compressor only with the indoor fan", "ran with no indoor fan",
        "default, common practice", "To do: Interlock the compressor with the fan",
        "Lines ", "Rules that pass", "Not judged, for want of",
    ):  # fmt: skip
        assert run_together(words) in whole, words
    assert "Trend logs" in [title for _, title, _ in outline(path)]


def test_window_and_package_draw_the_same_shapes(
    small_project: ProjectFile, small_form: Form, day: TrendLog
) -> None:
    site = keep(small_project, small_form, day)
    matter = turnover(site, None)
    part = matter.part(site.units[0])
    made = list(trend_flowables(matter, part, lambda _what: None))
    drawings = [flowable.drawing for flowable in drawings_of(made)]
    shown = judged(day, site.units[0], small_project)
    failed = [f for f in shown.findings if f.outcome is Outcome.FAIL and f.rows]
    assert len(drawings) == 1 + min(len(failed), MOST_PLOTS)
    configuration = configuration_of(site.units[0].calculation)
    for finding in failed[:MOST_PLOTS]:
        own = finding_drawing(day, finding, configuration, LAID_FOR, matter.unit_system)
        assert own in drawings
    assert all(drawing.description for drawing in drawings)


def test_a_limit_changed_after_reading_counts_in_the_package(
    small_project: ProjectFile, small_form: Form, day: TrendLog, tmp_path: Path
) -> None:
    site = keep(small_project, small_form, day)
    unit_id = site.units[0].unit_id
    small_project.set_trend_limit(unit_id, "grace_s", 7_200, "Agreed with the owner")
    path = write_package(site_results(small_project, small_form), tmp_path / "changed.pdf")
    whole = "".join(told_by(path))
    assert run_together("7200 s (entered, Agreed with the owner)") in whole
    assert run_together("ran with no indoor fan") not in whole


def test_coarse_sampling_stands_as_inconclusive_with_what_would_do(
    small_project: ProjectFile, small_form: Form, day: TrendLog, tmp_path: Path
) -> None:
    some = slice(0, None, 36)
    joined = np.ones(len(day.moments[some]), bool)
    joined[0] = False
    columns = {name: column[some] for name, column in day.columns.items()}
    coarse = replace(day, moments=day.moments[some], joined=joined, lines=day.lines[some],
                     columns=columns)  # fmt: skip
    site = keep(small_project, small_form, coarse)
    path = write_package(site, tmp_path / "coarse.pdf")
    whole = "".join(told_by(path))
    assert run_together("◇ inconclusive") in whole
    assert run_together("Sampling every") in whole


def test_a_project_without_logs_has_no_such_part(
    small_project: ProjectFile, small_form: Form, tmp_path: Path
) -> None:
    path = write_package(site_results(small_project, small_form), tmp_path / "without.pdf")
    assert "Trend logs" not in "\n".join(page_texts(path))


def test_samples_that_cannot_be_read_are_told_and_the_package_goes_on(
    small_project: ProjectFile, small_form: Form, tmp_path: Path
) -> None:
    site = site_results(small_project, small_form)
    small_project.add_trend_log(
        site.units[0].unit_id, "odd.csv", b"odd", read_as={}, facts={}, findings=[]
    )
    path = write_package(site, tmp_path / "odd.pdf")
    whole = "".join(told_by(path))
    assert run_together("This log could not be judged: The samples of a trend log") in whole


def test_the_same_project_gives_the_same_bytes(
    small_project: ProjectFile, small_form: Form, day: TrendLog, tmp_path: Path
) -> None:
    site = keep(small_project, small_form, day)
    first = write_package(site, tmp_path / "a.pdf").read_bytes()
    assert write_package(site, tmp_path / "b.pdf").read_bytes() == first


def test_a_failing_finding_stands_on_the_first_pages(
    small_project: ProjectFile, small_form: Form, day: TrendLog, tmp_path: Path
) -> None:
    """Cover, summary for the owner, contents and the list of failures know of the log."""
    site = keep(small_project, small_form, day)
    failed = [f for f in judged(day, site.units[0], small_project).findings if f.is_deficiency]
    assert len(failed) > 2
    path = write_package(site, tmp_path / "with.pdf")
    texts = page_texts(path)
    assert f"Trend logs show {len(failed)} failures more." in texts[0]
    assert "Trend log: " in texts[1]
    trend_page = next(page for _, title, page in outline(path) if title == TITLE)
    assert re.search(rf"Trend logs +{trend_page}\b", texts[2])
    opening = "Stops, failures and undecided results\n"
    begins = next(number for number, text in enumerate(texts) if opening in text)
    told = told_by(path)[begins]
    assert f"Besidethemstand{len([*attended(day, site, small_project)])}findings" in told
    for finding in failed:
        assert run_together(finding.title) in told
    assert "Trendlogroof1.csv" in told


def attended(day: TrendLog, site: SiteResults, project: ProjectFile) -> list[str]:
    wanted = (Outcome.FAIL, Outcome.INCONCLUSIVE)
    return [f.title for f in judged(day, site.units[0], project).findings if f.outcome in wanted]


def test_a_package_without_logs_says_nothing_of_them(small_package: Path) -> None:
    whole = "".join(told_by(small_package))
    assert "Trendlog" not in whole


@pytest.mark.parametrize("code", ["en", "es"])
def test_a_finding_made_into_a_deficiency_points_to_it(
    small_project: ProjectFile, small_form: Form, day: TrendLog, tmp_path: Path, code: str
) -> None:
    """Written in English, it is found whatever language the package speaks."""
    site = keep(small_project, small_form, day)
    shown = judged(day, site.units[0], small_project)
    record = small_project.trend_logs()[0]
    failed = [f for f in shown.findings if f.is_deficiency]
    unit_id = site.units[0].unit_id
    made = small_project.add_deficiency(unit_id, **deficiency_texts(failed[-1], record))
    known = small_project.deficiencies(unit_id)
    with speaking(code):
        findings = judged(day, site.units[0], small_project).findings
        found = {f.rule: deficiency_made_of(f, record.name, known) for f in findings}
        assert {rule: one.number for rule, one in found.items() if one} == {
            failed[-1].rule: made.number
        }
        path = write_package(site_results(small_project, small_form), tmp_path / "made.pdf")
        words = spoken(
            "Deficiency {number} is made of it ({status}).",
            number=made.number,
            status=spoken(made.status),
        )
    whole = "".join(told_by(path))
    assert whole.count(run_together(words)) == 2  # among the first pages, and on the unit's
    assert deficiency_made_of(failed[-1], "another.csv", known) is None
